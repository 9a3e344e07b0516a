"""Migrations: numbered SQL files, applied in order, each with its note in one transaction under the schema lock.

The files hold two placeholders, so that one text serves both engines: `{whole}` and `{strict}`. A file that was applied
must never be edited again: its checksum is kept and compared.
"""

import hashlib
from importlib import resources
from typing import Any

from bot.books.engines import Engine
from bot.books.errors import NotADayBook

_NOTES = "create table if not exists schema_changes (name text primary key, checksum text not null)"


def migrate(engine: Engine, execute: Any) -> list[str]:
    """Apply what is missing; returns the names of what was applied. Safe to start twice at once.

    Raises NotADayBook for books of a newer version and for an applied file that was edited.
    """
    execute(engine.begin)
    try:
        engine.lock_schema(execute)
        applied = _apply_missing(engine, execute)
        execute("commit")
    except BaseException:
        execute("rollback")
        raise
    return applied


def files() -> dict[str, str]:
    """The migrations by name, in order."""
    found = [each for each in resources.files(__name__).iterdir() if each.name.endswith(".sql")]
    return {
        each.name.removesuffix(".sql"): each.read_text(encoding="utf-8") for each in sorted(found, key=lambda f: f.name)
    }


def _apply_missing(engine: Engine, execute: Any) -> list[str]:
    known = files()
    _check_foreign(engine, execute)
    execute(_NOTES)
    noted = {row["name"]: row["checksum"] for row in execute("select name, checksum from schema_changes")}
    newer = sorted(noted.keys() - known.keys())
    if newer:
        raise NotADayBook(f"These books were written by a newer version ({newer[-1]}): install that version.")
    for name, text in known.items():
        checksum = hashlib.sha256(text.encode()).hexdigest()
        if noted.get(name, checksum) != checksum:
            raise NotADayBook(f"The migration {name} was edited after it was applied; put the released file back.")
        if name not in noted:
            _apply(engine, execute, name, text, checksum)
    return [name for name in known if name not in noted]


def _apply(engine: Engine, execute: Any, name: str, text: str, checksum: str) -> None:
    lines = "\n".join(line for line in text.splitlines() if not line.lstrip().startswith("--"))
    for statement in lines.format(**engine.types).split(";"):
        if statement.strip():
            execute(statement)
    note = engine.translated("insert into schema_changes (name, checksum) values (:name, :checksum)")
    execute(note, {"name": name, "checksum": checksum})


def _check_foreign(engine: Engine, execute: Any) -> None:
    """A SQLite file with tables of somebody else is left alone."""
    if engine.types["strict"] != "strict":
        return
    tables = {row["name"] for row in execute("select name from sqlite_master where type = 'table'")}
    if tables and "schema_changes" not in tables:
        raise NotADayBook(
            "This SQLite file holds other tables and is not a day-book. Set TAPPING_LOG_BOOKS to another file."
        )

"""Migrations: numbered SQL files, applied in order, each with its note in one transaction under the schema lock.

The files hold two placeholders, so that one text serves both engines: `{whole}` and `{strict}`. A file that was applied
must never be edited again: its checksum is kept and compared.
"""

import hashlib
from collections.abc import Mapping
from importlib import resources

from bot.books.engines import Engine, Session
from bot.books.errors import NotADayBook

_NOTES = "create table if not exists schema_changes (name text primary key, checksum text not null)"


def migrate(engine: Engine, session: Session, known: Mapping[str, str] | None = None) -> list[str]:
    """Apply what is missing; returns the names of what was applied. Safe to start twice at once.

    `known` are the migrations by name, ours if not given. Raises NotADayBook for a database of somebody else, for books
    of a newer version and for an applied file that was edited.
    """
    _refuse_foreign(engine, session)
    engine.prepare(session)
    known = files() if known is None else known
    if not _missing(noted(engine, session), known):
        return []  # without the lock, which a busy server may not leave to us for long
    session.execute(engine.begin)
    try:
        engine.lock_schema(session)
        session.execute(_NOTES)
        missing = _missing(noted(engine, session), known)
        for name in missing:
            _apply(engine, session, name, known[name])
        session.execute("commit")
    except BaseException:
        session.roll_back()
        raise
    return missing


def noted(engine: Engine, session: Session) -> dict[str, str]:
    """The migrations that were applied to these books, with their checksums; none where there is no day-book."""
    if "schema_changes" not in {row["name"] for row in session.execute(engine.tables)}:
        return {}
    rows = session.execute("select name, checksum from schema_changes order by name")
    return {row["name"]: row["checksum"] for row in rows}


def files() -> dict[str, str]:
    """The migrations by name, in order."""
    found = [each for each in resources.files(__name__).iterdir() if each.name.endswith(".sql")]
    return {
        each.name.removesuffix(".sql"): each.read_text(encoding="utf-8") for each in sorted(found, key=lambda f: f.name)
    }


def _refuse_foreign(engine: Engine, session: Session) -> None:
    """A database with tables of somebody else is left alone, and not changed in any way."""
    tables = {row["name"] for row in session.execute(engine.tables)} - {"schema_lock"}
    if tables and "schema_changes" not in tables:
        raise NotADayBook(
            "This database holds other tables and is not a day-book. Set TAPPING_LOG_BOOKS to a file or database of its own."
        )


def _missing(applied: Mapping[str, str], known: Mapping[str, str]) -> list[str]:
    """What is still to be applied. Raises NotADayBook for books of a newer version and for an edited file."""
    newer = sorted(applied.keys() - known.keys())
    if newer:
        raise NotADayBook(f"These books were written by a newer version ({newer[-1]}): install that version.")
    for name, text in known.items():
        if applied.get(name, _checksum(text)) != _checksum(text):
            raise NotADayBook(f"The migration {name} was edited after it was applied; put the released file back.")
    return [name for name in known if name not in applied]


def _apply(engine: Engine, session: Session, name: str, text: str) -> None:
    lines = "\n".join(line for line in text.splitlines() if not line.lstrip().startswith("--"))
    for statement in lines.format(**engine.types).split(";"):
        if statement.strip():
            session.execute(statement)
    note = engine.translated("insert into schema_changes (name, checksum) values (:name, :checksum)")
    session.execute(note, {"name": name, "checksum": _checksum(text)})


def _checksum(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()

"""`backup`, `restore`, `copy`: the whole books at one moment, kept, put back, or taken to another engine."""

import tempfile
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import closing, contextmanager, suppress
from pathlib import Path
from typing import Any

import click

from bot.books import Books, BooksError, Transaction, alarms, last_done
from bot.books.backup import Backup, back_up, save
from bot.books.engines import is_address, shown
from bot.books.migrations import files, noted
from bot.books.restore import Lost, NewerBooks, Restored, move, restore
from bot.books.store import engine_at, explained
from bot.books.tables import Measure
from bot.commands.common import JSON, BadInput, as_json, now, say_table, settings

#: So many backups are kept unless said otherwise: two weeks of daily ones.
KEPT = 14

REPLACE = click.option("--replace", is_flag=True, help="Even when the present books hold what the others do not.")


@click.command()
@click.option("--to", "folder", type=click.Path(path_type=Path), help="The folder, instead of that of the settings.")
@click.option(
    "--keep", type=click.IntRange(1, 10_000), default=KEPT, show_default=True, help="Backups that stay there."
)
@JSON
def backup(folder: Path | None, keep: int, plain_json: bool) -> None:
    """Write the books as they are at this moment to a file, check it, and remove the oldest backups.

    The server may go on. A file is only called a backup when it is whole: its pages and references were checked, and its
    counts and sums are those of the books. It is SQLite, also when the books are on PostgreSQL. It holds names and phone
    numbers: it can be read by its owner only; keep copies on another machine.

    \b
    Example:
      tapping-log backup --keep 30
    """
    chosen = settings()
    with _faults_said(), _failure_told(chosen.books):
        made = back_up(chosen.books, folder or chosen.backup_folder, now(), keep)
    with _faults_said():
        _note(chosen.books, lambda tx: last_done.note(tx, last_done.BACKUP, now()))
    if plain_json:
        removed = [str(each) for each in made.removed]
        click.echo(as_json({"file": str(made.file), "tables": _plain(made.measures), "removed": removed}))
    else:
        _say_backup(made)


@contextmanager
def _failure_told(where: str | Path) -> Iterator[None]:
    """A backup that fails is an alarm to the operators, where the books can still take it."""
    try:
        yield
    except BooksError as fault:
        line = f"The backup failed: {fault}"
        with suppress(BooksError):  # what is wrong with the books is said anyway
            _note(where, lambda tx: alarms.sound(tx, number="", kind="backup failed", line=line, at=now()))
        raise


def _note(where: str | Path, work: Callable[[Transaction], None]) -> None:
    """Write something down in books that are of this version; others are not migrated by a backup."""
    if isinstance(where, Path) and not where.is_file():
        return
    with closing(engine_at(where)) as engine:
        with engine.session() as session, explained(engine):
            current = list(noted(engine, session)) == list(files())
        if current:
            Books(engine).run_transaction(work)


def _say_backup(made: Backup) -> None:
    click.echo(f"{made.file} is written and checked: {_summed(made.measures)}.")
    if made.removed:
        click.echo(f"Older ones removed: {', '.join(each.name for each in made.removed)}.")


@click.command(name="restore")
@click.argument("file", type=click.Path(path_type=Path))
@REPLACE
@JSON
def restore_command(file: Path, replace: bool, plain_json: bool) -> None:
    """Put a backup in the place of the books, when it is whole and nothing would be lost.

    With SQLite stop the server first. Where the present books hold more than the backup, all that would be lost is told
    and nothing is done; with --replace the present books are kept as a file of their own beside the backups. Damaged
    books are moved aside. Texts that went out since the backup do not go out again.

    \b
    Example:
      tapping-log restore /var/lib/tapping-log/backups/books-20260315T023000.000000Z.sqlite
    """
    chosen = settings()
    with _faults_said():
        done = _or_told(
            lambda: restore(file, chosen.books, chosen.backup_folder, now(), replace_newer=replace), plain_json
        )
    _say_restored(done, shown(chosen.books), plain_json)


@click.command()
@click.option("--to", "target", required=True, metavar="URL", help="The other books: postgresql://..., or a file.")
@REPLACE
@JSON
def copy(target: str, replace: bool, plain_json: bool) -> None:
    """Copy the books to another engine, from SQLite to PostgreSQL or back, and check every table.

    The server may go on: the copy is of one moment, so it can be tried at any time. To move, stop the server, copy again,
    and set TAPPING_LOG_BOOKS to the other books. Never run `due` on a copy that was only tried: it would send what waits.

    \b
    Example:
      tapping-log copy --to postgresql://books@db.example.org/books
    """
    chosen = settings()
    where = target if is_address(target) else Path(target).expanduser()
    if str(where) == str(chosen.books):
        raise BadInput("These are the books themselves; name others.")
    with _faults_said(), tempfile.TemporaryDirectory(prefix="day-book-") as scratch:
        file = Path(scratch) / "books.sqlite"
        save(chosen.books, file)
        done = _or_told(lambda: move(file, where, chosen.backup_folder, now(), replace_newer=replace), plain_json)
    _say_restored(done, shown(where), plain_json)


def _or_told(work: Callable[[], Restored], plain_json: bool) -> Restored:
    """Do the work, or tell what would be lost and end with 1."""
    try:
        return work()
    except NewerBooks as newer:
        if plain_json:
            click.echo(as_json({"done": False, "lost": [_plain_lost(each) for each in newer.lost]}))
        else:
            _say_lost(newer.lost)
        raise click.ClickException(f"{newer} To do it all the same: --replace.") from newer


def _say_restored(done: Restored, where: str, plain_json: bool) -> None:
    if plain_json:
        about = {"done": True, "books": where, "tables": _plain(done.measures), "unsure": done.unsure}
        kept = None if done.kept is None else str(done.kept)
        click.echo(as_json(about | {"kept": kept, "lost": [_plain_lost(each) for each in done.lost]}))
        return
    _say_measures(done.measures)
    click.echo(f"Written to {where} and checked: {_summed(done.measures)}.")
    if done.lost:
        _say_lost(done.lost)
    if done.kept is not None:
        click.echo(f"The books that stood there are kept in {done.kept}; TAPPING_LOG_BOOKS shows them to any command.")
    if done.unsure:
        click.echo(
            f"{done.unsure} texts may or may not have gone out and are not sent: look at them with tapping-log messages."
        )


def _say_measures(measures: Mapping[str, Measure]) -> None:
    say_table(("Table", "Rows", "Sums"), [(name, str(each.rows), _figures(each)) for name, each in measures.items()])


def _figures(measure: Measure) -> str:
    counted = {**measure.sums, "characters": sum(measure.characters.values())}
    return " ".join(f"{column}={value}" for column, value in counted.items() if value)


def _say_lost(lost: Iterable[Lost]) -> None:
    rows: list[tuple[str, ...]] = [
        (each.table, str(len(each.missing)), str(each.differing), each.first or "", each.last or "") for each in lost
    ]
    say_table(("Present books", "Missing", "Differing", "First", "Last"), rows)


def _summed(measures: Mapping[str, Measure]) -> str:
    rows = sum(each.rows for each in measures.values())
    return (
        f"{measures['messages'].rows} texts, {measures['entries'].rows} entries, {rows} rows in {len(measures)} tables"
    )


def _plain(measures: Mapping[str, Measure]) -> dict[str, Any]:
    return {
        name: {"rows": each.rows, "sums": {**each.sums}, "characters": {**each.characters}}
        for name, each in measures.items()
    }


def _plain_lost(lost: Lost) -> dict[str, Any]:
    return {
        "table": lost.table,
        "missing": list(lost.missing),
        "differing": lost.differing,
        "first": lost.first,
        "last": lost.last,
    }


@contextmanager
def _faults_said() -> Iterator[None]:
    """What goes wrong with books or files ends the command with one line."""
    try:
        yield
    except (BooksError, OSError) as fault:
        raise click.ClickException(str(fault)) from fault

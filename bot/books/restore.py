"""Put books in the place of others: those of a backup, or of another engine. What would be lost is told before.

The books that are replaced are kept as a backup of their own. Nothing is replaced that holds more than what comes in its
place, unless that is asked for. A restore that breaks off leaves the books as they were: SQLite rolls the pages back,
PostgreSQL the transaction.
"""

import tempfile
from collections.abc import Iterator, Mapping, Sequence
from contextlib import closing, contextmanager
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path

from bot.books.backup import check_whole, make_private, save_session, synced
from bot.books.engines import Engine, Session, Table, is_address
from bot.books.errors import BadBackup, BooksDamaged, BooksError, BooksUnavailable, NotADayBook
from bot.books.holders import holders
from bot.books.sqlite import SqliteEngine
from bot.books.store import engine_at, explained, open_books
from bot.books.tables import DERIVED, Measure, fingerprint, measured, tables

#: What SQLite keeps beside a file while it is used.
BESIDE = ("-wal", "-shm", "-journal")


@dataclass(frozen=True)
class Lost:
    """What the present books hold of a table and the others do not: the keys of missing rows, and rows that differ."""

    table: str
    missing: tuple[str, ...]
    differing: int
    first: str | None = None
    last: str | None = None


@dataclass(frozen=True)
class Restored:
    """What was put in place, where the books that stood there are kept, what they held more, and texts left in doubt."""

    measures: Mapping[str, Measure]
    kept: Path | None
    lost: tuple[Lost, ...]
    unsure: int = 0


class NewerBooks(BooksError):
    """The present books hold what would be lost; `lost` says what."""

    def __init__(self, lost: tuple[Lost, ...]) -> None:
        rows = sum(len(each.missing) for each in lost)
        differing = sum(each.differing for each in lost)
        super().__init__(
            f"The present books hold {rows} rows that would be lost, and {differing} that differ. Nothing was changed."
        )
        self.lost = lost


def restore(file: Path, where: str | Path, kept_in: Path, at: datetime, *, replace_newer: bool = False) -> Restored:
    """Put a backup in the place of the books at `where`.

    Texts that went out since the backup stay in the outbox as they are, so that none goes out twice; those of which it is
    not known whether they went out are marked as unsure. Raises NewerBooks, and BooksError when the backup is not whole, the
    present books are in use (SQLite: stop the server) or cannot be read.
    """
    return _put(file, where, kept_in, at, replace_newer=replace_newer, settle=True)


def move(file: Path, where: str | Path, kept_in: Path, at: datetime, *, replace_newer: bool = False) -> Restored:
    """As `restore`, for books that go on in another place: texts that wait go on waiting."""
    return _put(file, where, kept_in, at, replace_newer=replace_newer, settle=False)


def _put(file: Path, where: str | Path, kept_in: Path, at: datetime, *, replace_newer: bool, settle: bool) -> Restored:
    _check_backup(file)
    with _said(), tempfile.TemporaryDirectory(prefix="day-book-", dir=_roomy(where)) as scratch:
        incoming = _current(file, Path(scratch) / "incoming.sqlite")
        with closing(incoming):
            aside = _moved_aside(where, at) if replace_newer else None
            open_books(where).close()
            with closing(engine_at(where)) as engine, engine.session() as session, explained(engine):
                keep = _Keeping(Path(scratch) / "present.sqlite", kept_in, at)
                done = _Replacement(engine, session, incoming, keep, replace_newer, settle).run()
    return replace(done, kept=aside or done.kept)


def _check_backup(file: Path) -> None:
    try:
        check_whole(file)
    except BooksDamaged as fault:
        raise BadBackup(f"{file} is damaged: take another backup. Nothing was changed.") from fault


@dataclass(frozen=True)
class _Keeping:
    """Where the present books are compared, and kept when they hold what is lost otherwise."""

    present: Path
    folder: Path
    at: datetime

    def keep(self) -> Path:
        """A file under a name that rotation leaves alone."""
        self.folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        kept = self.folder / f"before-restore-{self.at.astimezone(UTC):%Y%m%dT%H%M%S.%fZ}.sqlite"
        make_private(kept)
        with closing(SqliteEngine(self.present)) as engine, closing(SqliteEngine(kept)) as target:
            engine.copy_pages(target)
        synced(kept)
        synced(self.folder)
        return kept


@dataclass(frozen=True)
class _Replacement:
    """One replacement, with everybody else kept out of the present books until it is done."""

    engine: Engine
    session: Session
    incoming: SqliteEngine
    keeping: _Keeping
    replace_newer: bool
    settle: bool

    def run(self) -> Restored:
        """Compare, keep, write and check."""
        found = tables(self.incoming)
        if isinstance(self.engine, SqliteEngine):
            self.engine.keep_others_out(self.session, found)
            return self._put(found)
        for statement in self.engine.begin_filling:
            self.session.execute(statement)
        try:
            self.engine.keep_others_out(self.session, found)
            done = self._put(found)
            self.session.execute("commit")
        except BaseException:
            self.session.roll_back()
            raise
        return done

    def _put(self, found: tuple[Table, ...]) -> Restored:
        before = _unsure(self.incoming)
        lost, kept = self._settled(found)
        unsure, wanted = _unsure(self.incoming) - before, _content(self.incoming, found)
        self._write(found)
        if _content(self.session, found) != wanted:
            raise BadBackup("What was written is not what was to be written. Try again; the backup is whole.")
        return Restored(measured(self.session, found), kept, lost, unsure)

    def _settled(self, found: tuple[Table, ...]) -> tuple[tuple[Lost, ...], Path | None]:
        """What would be lost, and where it is kept; the outbox that comes in place knows what went out since."""
        if not any(each.rows for each in measured(self.session, found).values()):
            if self.settle:
                self.incoming.execute(_WAITING)
            return (), None
        make_private(self.keeping.present)
        save_session(self.engine, self.session, self.keeping.present)
        with _beside(self.incoming, self.keeping.present):
            lost = tuple(each for table in found if (each := _lost(self.incoming, table)) is not None)
            if lost and not self.replace_newer:
                raise NewerBooks(lost)
            kept = self.keeping.keep() if lost else None
            if self.settle:
                _settle_outbox(self.incoming, found)
        return lost, kept

    def _write(self, found: tuple[Table, ...]) -> None:
        if isinstance(self.engine, SqliteEngine):
            self.incoming.copy_pages(self.engine)
            return
        self.session.execute(f"truncate {', '.join((*(table.name for table in found), *sorted(DERIVED)))}")
        for table in found:
            self.session.fill(table, self.incoming.rows(table))


def _content(session: Session, found: tuple[Table, ...]) -> tuple[dict[str, Measure], list[int]]:
    """Counts, sums and the fingerprint of every table."""
    return measured(session, found), [fingerprint(session, table) for table in found]


def _current(file: Path, copy: Path) -> SqliteEngine:
    """A copy of the backup with the schema of this version; the backup itself stays as it is. Raises NotADayBook."""
    with closing(SqliteEngine(file)) as engine, closing(SqliteEngine(copy)) as target:
        engine.copy_pages(target)
    open_books(copy).close()
    incoming = SqliteEngine(copy)
    incoming.execute("pragma journal_mode = delete")
    return incoming


def _moved_aside(where: str | Path, at: datetime) -> Path | None:
    """Move damaged files out of the way; None where the present file can be used as it is."""
    if is_address(where) or not Path(where).exists():
        return None
    path = Path(where)
    try:
        check_whole(path)
    except BooksDamaged:
        pass
    except NotADayBook:
        return None  # told by whoever opens it next
    else:
        return None
    users = holders(path)
    if users:
        raise BooksUnavailable(f"The books {path} are open in process {users[0].id}: stop the server first.")
    aside = path.with_name(f"{path.stem}-damaged-{at.astimezone(UTC):%Y%m%dT%H%M%SZ}{path.suffix}")
    for suffix in ("", *BESIDE):
        beside = path.with_name(path.name + suffix)
        if beside.exists():
            beside.replace(aside.with_name(aside.name + suffix))
    synced(path.parent)
    return aside


@contextmanager
def _beside(engine: SqliteEngine, other: Path) -> Iterator[None]:
    """Another file can be asked about in the same statement, under the name `present`."""
    engine.execute("attach database :path as present", {"path": str(other)})
    try:
        yield
    finally:
        engine.execute("detach database present")


def _lost(session: Session, table: Table) -> Lost | None:
    """What `present` holds of a table and `main` does not."""
    same = " and ".join(f"i.{column} = p.{column}" for column in table.key)
    absent = f"from present.{table.name} p where not exists (select 1 from main.{table.name} i where {same})"
    key = " || ' ' || ".join(f"p.{column}" for column in table.key)
    missing = tuple(row["key"] for row in session.execute(f"select {key} as key {absent} order by 1"))
    listed = ", ".join(table.columns)
    rows = session.execute(
        f"select count(*) as n from (select {listed} from present.{table.name}"
        f" except select {listed} from main.{table.name})"
    )
    differing = int(rows[0]["n"]) - len(missing)
    if not missing and not differing:
        return None
    first, last = _span(session, table, absent)
    return Lost(table.name, missing, differing, first, last)


def _span(session: Session, table: Table, absent: str) -> tuple[str | None, str | None]:
    """The first and the last moment of missing rows, where a table has one."""
    moments = [
        each for each in ("arrived_at", "entered_at", "created_at", "set_at", "asked_at") if each in table.columns
    ]
    if not moments:
        return None, None
    row = session.execute(f"select min(p.{moments[0]}) as first, max(p.{moments[0]}) as last {absent}")[0]
    return row["first"], row["last"]


#: Of a text that only the present books know, and of one that only the backup knows, it is not certain whether it went out.
_DOUBT_OF_PRESENT = """
update present.outbox set state = 'unsure'
where state in ('new', 'sending') and id not in (select id from main.outbox)
"""
_DOUBT_OF_BACKUP = """
update main.outbox set state = 'unsure'
where state in ('new', 'sending') and id not in (select id from present.outbox)
"""
_WAITING = "update main.outbox set state = 'unsure' where state in ('new', 'sending')"


def _settle_outbox(session: Session, found: Sequence[Table]) -> None:
    """What went out, went out: the outbox of the present books is kept."""
    columns = ", ".join(next(table.columns for table in found if table.name == "outbox"))
    session.execute(_DOUBT_OF_BACKUP)
    session.execute(_DOUBT_OF_PRESENT)
    session.execute(f"insert or replace into main.outbox ({columns}) select {columns} from present.outbox")


def _unsure(session: Session) -> int:
    return int(session.execute("select count(*) as n from outbox where state = 'unsure'")[0]["n"])


def _roomy(where: str | Path) -> Path | None:
    """A folder that has room for books: that of the books themselves."""
    if is_address(where):
        return None
    Path(where).parent.mkdir(parents=True, exist_ok=True)
    return Path(where).parent


@contextmanager
def _said() -> Iterator[None]:
    try:
        yield
    except OSError as fault:
        raise BooksUnavailable(f"The books cannot be replaced: {fault}. Nothing was changed.") from fault

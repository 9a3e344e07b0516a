"""The books in one SQLite file: one connection for which threads queue, every commit synced to the disk.

SQLite knows one writer only and queues badly (measured: two processes on one file have tails twenty times longer than
one), so the threads of the one process take turns here. Where the disk is slow and many wait, some of them share one commit.
"""

import sqlite3
import threading
import time
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

from sqlite_utils import Database

from bot.books.engines import Session, Table, Values
from bot.books.errors import BooksDamaged, BooksError, BooksFull, BooksUnavailable, NotADayBook
from bot.books.turns import Turns, shut_gate

#: How long SQLite waits for another process to finish writing, and a thread for the other threads. The two together stay
#: under the ten seconds in which a carrier has to be answered.
BUSY_MS, TURN_SECONDS = 4_000, 4.0

#: How often a fresh file is switched to its write-ahead log: SQLite does not wait for other processes that do the same.
SWITCHES, SWITCH_PAUSE = 40, 0.05

#: One whose work is done waits for others as long as so many commits lately took: on a quick disk not at all, on a slow one
#: for some (measured with a sync of 5 and 10 ms: two are better than one).
COMMITS_WAITED = 2

#: What an error of SQLite means for us, by its primary code, and what to do. Other codes are faults of ours.
_MEANING: dict[int, tuple[type[BooksError], str]] = {
    sqlite3.SQLITE_FULL: (BooksFull, "No room left for {path}: make room on the disk. Nothing was entered."),
    sqlite3.SQLITE_NOTADB: (NotADayBook, "{path} is not a day-book. Set TAPPING_LOG_BOOKS to another file."),
    sqlite3.SQLITE_CORRUPT: (
        BooksDamaged,
        "The books {path} are damaged ({text}): stop the server, keep the file, put the last backup in its place (tapping-log restore).",
    ),
    sqlite3.SQLITE_BUSY: (
        BooksUnavailable,
        "The books {path} are kept by another process: let only one server use them. Nothing was entered.",
    ),
    sqlite3.SQLITE_READONLY: (
        BooksUnavailable,
        "The books {path} cannot be written: give the user that runs this the right to write the file and its folder.",
    ),
    sqlite3.SQLITE_CANTOPEN: (
        BooksUnavailable,
        "The books {path} cannot be opened: give the user that runs this the right to write the file and its folder.",
    ),
} | dict.fromkeys(
    (
        sqlite3.SQLITE_LOCKED,
        sqlite3.SQLITE_IOERR,
        sqlite3.SQLITE_PERM,
        sqlite3.SQLITE_AUTH,
        sqlite3.SQLITE_NOMEM,
        sqlite3.SQLITE_PROTOCOL,
        sqlite3.SQLITE_INTERRUPT,
    ),
    (BooksUnavailable, "The books {path} cannot be used now: {text}. Nothing was entered."),
)


class _Shared:
    """A transaction in which several do their work one after the other; each waits until all of it is on the disk."""

    def __init__(self, since: float) -> None:
        """`since` is when the first of them was done."""
        self.since = since
        self.error: BaseException | None = None
        self._gates: list[threading.Lock] = []

    def gate(self) -> threading.Lock:
        """Where one waits who has done his part."""
        self._gates.append(shut_gate())
        return self._gates[-1]

    def settle(self, error: BaseException | None = None) -> None:
        """It is committed, or lost by an error: all may go on."""
        self.error = error
        for gate in self._gates:
            gate.release()


class SqliteEngine:
    """One file, one connection, one queue.

    A text that is entered while others wait hands the open transaction on to the next of them instead of committing it, as long
    as it then waits no longer than some commits lately took (`patience` seconds, where given). Nobody is answered before the commit
    that holds his work. Each works within a savepoint, so that one who fails takes nothing of the others with him.
    """

    begin = "begin immediate"
    begin_reading: tuple[str, ...] = ("begin",)
    begin_filling: tuple[str, ...] = ("begin immediate", "pragma defer_foreign_keys = on")
    types: Mapping[str, str] = {"whole": "integer", "strict": "strict"}
    tables = "select name from sqlite_master where type = 'table'"

    def __init__(self, path: Path, patience: float | None = None) -> None:
        self.path = path
        self.turns = Turns()
        self._shared: _Shared | None = None
        self._patience, self._commit_seconds = patience, 0.0
        self._closed = False
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
            connection = sqlite3.connect(path, timeout=BUSY_MS / 1000, check_same_thread=False, isolation_level=None)
        except OSError as error:
            raise BooksUnavailable(f"The folder of {path} cannot be made: {error}") from error
        except sqlite3.Error as error:
            raise self.explained(error) from error
        self._database = Database(connection, execute_plugins=False)

    @contextmanager
    def session(self) -> Iterator[Session]:
        """The one connection, for one thread at a time."""
        self._take_turn()
        try:
            yield self
        finally:
            self.turns.leave()

    def _take_turn(self, *, joins: bool = False) -> None:
        if not self.turns.take(TURN_SECONDS, joins=joins):
            raise BooksUnavailable(f"The books {self.path} are busy. Nothing was entered.")
        if self._closed:
            self.turns.leave()
            raise BooksUnavailable(f"The books {self.path} are closed. Nothing was entered.")

    @contextmanager
    def writing(self, *, shared: bool = False) -> Iterator[Session]:
        """A transaction of its own, or, where it may be shared, one with those who wait."""
        if self.turns.is_within:
            raise sqlite3.OperationalError("a transaction within a transaction")
        self._take_turn(joins=shared)
        joined = self._shared  # stands open for one who joins, and for nobody else
        try:
            self.execute(self.begin if joined is None else "savepoint work")
            yield self
            if joined is not None:
                self.execute("release work")
        except BaseException as error:
            if joined is None:
                self._leave_after(self.roll_back)
            else:
                self._end_turn(joined if self._undone(joined, error) else None)
            raise
        mine = joined or _Shared(time.monotonic())
        gate = mine.gate()
        self._end_turn(mine, may_wait=shared)
        gate.acquire()
        if mine.error is not None:
            raise self._lost(mine.error) from mine.error

    def _undone(self, joined: _Shared, error: BaseException) -> bool:
        """Take back what one did who failed; whether what the others did is still there. After some errors, a full disk for one,
        SQLite has taken back all of it.
        """
        if self._database.conn.in_transaction:
            with suppress(sqlite3.Error):
                self.execute("rollback to work")
                self.execute("release work")
                return True
        self._shared = None
        try:
            self.roll_back()
        finally:
            joined.settle(error)
        return False

    def _end_turn(self, done: _Shared | None, *, may_wait: bool = True) -> None:
        """Hand an open transaction on to the next one, or commit it and leave."""
        if done is None:
            self.turns.leave()
            return
        patience = COMMITS_WAITED * self._commit_seconds if self._patience is None else self._patience
        self._shared = done
        if may_wait and time.monotonic() - done.since < patience and self.turns.pass_on():
            return
        self._shared = None
        self._leave_after(lambda: self._commit(done))

    def _leave_after(self, last: Callable[[], None]) -> None:
        try:
            last()
        finally:
            self.turns.leave()

    def _commit(self, done: _Shared) -> None:
        """Make it last; whoever took part learns whether it does."""
        begun = time.monotonic()
        error: Exception | None = BooksUnavailable(f"Writing the books {self.path} was broken off.")
        try:
            self.execute("commit")
            error = None
            self._commit_seconds = (3 * self._commit_seconds + time.monotonic() - begun) / 4
        except sqlite3.Error as fault:
            error = fault
            self.roll_back()
        finally:
            done.settle(error)

    def _lost(self, error: BaseException) -> BaseException:
        """What one is told whose work was not committed: an error of his own for each."""
        ours = self.explained(error) if isinstance(error, Exception) else error
        return BooksUnavailable(f"The books {self.path} cannot be written: {error}.") if ours is error else ours

    def execute(self, sql: str, values: Values | None = None) -> list[dict[str, Any]]:
        """Run a statement; the session is the engine itself, as there is one connection."""
        cursor = self._database.conn.execute(sql, values or {})
        if cursor.description is None:
            return []
        names = [column[0] for column in cursor.description]
        return [dict(zip(names, row, strict=True)) for row in cursor.fetchall()]

    def rows(self, table: Table) -> Iterator[tuple[Any, ...]]:
        """Rows as they are read; nothing else may be done meanwhile."""
        yield from self._database.execute(f"select {', '.join(table.columns)} from {table.name}")

    def fill(self, table: Table, rows: Iterable[tuple[Any, ...]]) -> None:
        """Within a transaction that looks at references when it ends."""
        places = ", ".join("?" * len(table.columns))
        statement = f"insert into {table.name} ({', '.join(table.columns)}) values ({places})"
        self._database.conn.executemany(statement, rows)

    def copy_pages(self, target: "SqliteEngine") -> None:
        """All pages in one go, so that writers do not make it begin again; the target becomes what this is, or stays as it was.

        Within a transaction that has read something, the pages are those of that moment.
        """
        self._database.conn.backup(target._database.conn)

    def roll_back(self) -> None:
        """SQLite ends the transaction itself after some errors, a full disk for one."""
        if self._database.conn.in_transaction:
            self._database.execute("rollback")

    def prepare(self, session: Session) -> None:
        """Settings of the connection, and of the file at its first opening. Raises BooksUnavailable."""
        for pragma in (f"busy_timeout = {BUSY_MS}", "synchronous = full", "foreign_keys = on"):
            session.execute(f"pragma {pragma}")
        if self._switched(session) != "wal":
            raise BooksUnavailable(f"The books {self.path} must lie on a disk of this machine, not on a network share.")

    def _switched(self, session: Session) -> str:
        for _ in range(SWITCHES - 1):
            try:
                return str(session.execute("pragma journal_mode = wal")[0]["journal_mode"])
            except sqlite3.OperationalError as error:
                if _primary_code(error) != sqlite3.SQLITE_BUSY:
                    raise
            time.sleep(SWITCH_PAUSE)
        return str(session.execute("pragma journal_mode = wal")[0]["journal_mode"])

    def lock_schema(self, session: Session) -> None:
        """`begin immediate` has locked the whole file already."""

    def keep_others_out(self, session: Session, tables: Iterable[Table]) -> None:
        """The write-ahead log can be left only by the last connection, so that leaving it finds even idle ones."""
        if not self._left_log(session):
            raise BooksUnavailable(
                f"The books {self.path} are open in another process: stop the server (systemctl stop tapping-log) first."
            )
        for step in ("pragma locking_mode = exclusive", "begin exclusive", "commit"):  # kept until the file is closed
            session.execute(step)

    def _left_log(self, session: Session) -> bool:
        try:
            return str(session.execute("pragma journal_mode = delete")[0]["journal_mode"]) == "delete"
        except sqlite3.OperationalError as error:
            if _primary_code(error) != sqlite3.SQLITE_BUSY:
                raise
        return False

    def translated(self, sql: str) -> str:
        """The statements are written in SQLite's way."""
        return sql

    def size(self) -> int:
        """The file with its write-ahead log, which is gone while no connection is open."""
        try:
            return sum(each.stat().st_size for each in (self.path, self._log_file) if each.exists())
        except OSError as error:
            raise BooksUnavailable(f"The books {self.path} cannot be looked at: {error.strerror}.") from error

    @property
    def _log_file(self) -> Path:
        return self.path.with_name(f"{self.path.name}-wal")

    def is_busy(self, error: BaseException | None) -> bool:
        """Never: a transaction has its lock from the start, and has waited for it already."""
        return False

    def explained(self, error: Exception) -> Exception:
        code = _primary_code(error)
        if code not in _MEANING:
            return error
        kind, advice = _MEANING[code]
        return kind(advice.format(path=self.path, text=error))

    def close(self) -> None:
        """Wait for the transaction that runs, then close the file."""
        with self.turns.turn(threading.TIMEOUT_MAX), suppress(sqlite3.Error):
            self._closed = True
            self._database.close()


def _primary_code(error: Exception) -> int:
    """The low byte of SQLite's extended code; 0 for an error that carries none."""
    return int(getattr(error, "sqlite_errorcode", None) or 0) & 0xFF

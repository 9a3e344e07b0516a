"""The two engines that can hold the books: one SQLite file by default, PostgreSQL when one machine is outgrown.

An engine opens connections and differs from the other in a handful of attributes. SQLite has one connection behind a
lock, since it knows one writer only and queues badly (measured: two processes on one file have tails twenty times
longer than one).
"""

import re
import sqlite3
import threading
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any, Protocol

from sqlite_utils import Database

from bot.books.errors import BooksFull, BooksUnavailable, NotADayBook

#: How long SQLite waits for another process to finish writing, and a thread for the other threads. The two together stay
#: under the ten seconds in which a carrier has to be answered.
BUSY_MS, TURN_SECONDS = 4_000, 4.0


class Engine(Protocol):
    """What the books need of an engine."""

    begin: str
    types: Mapping[str, str]

    def connection(self) -> Any:
        """A context manager that yields `execute(sql, values) -> rows as dicts`; only one at a time for SQLite."""

    def lock_schema(self, execute: Any) -> None:
        """Keep every other process from migrating until the transaction ends."""

    def translated(self, sql: str) -> str:
        """A statement with the engine's way of naming parameters."""

    def is_busy(self, error: Exception) -> bool:
        """Whether the whole transaction should simply be tried again."""

    def explained(self, error: Exception) -> Exception:
        """The error of ours for an error of the engine's."""

    def close(self) -> None:
        """Close every connection."""


class SqliteEngine:
    """One file, one connection, one lock."""

    begin = "begin immediate"
    types: Mapping[str, str] = {"whole": "integer", "strict": "strict"}

    def __init__(self, path: Path) -> None:
        self.path = path
        self._lock = threading.RLock()
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
            connection = sqlite3.connect(path, timeout=BUSY_MS / 1000, check_same_thread=False, isolation_level=None)
            self._database = Database(connection, execute_plugins=False)
            for pragma in (
                f"busy_timeout = {BUSY_MS}",
                "journal_mode = wal",
                "synchronous = full",
                "foreign_keys = on",
            ):
                self._database.execute(f"pragma {pragma}").fetchall()
        except (sqlite3.Error, OSError) as error:
            raise self.explained(error) from error

    @contextmanager
    def connection(self) -> Iterator[Any]:
        """The one connection, for one thread at a time."""
        if not self._lock.acquire(timeout=TURN_SECONDS):
            raise BooksUnavailable(f"The books {self.path} are busy. Nothing was entered.")
        try:
            yield self._execute
        finally:
            self._lock.release()

    def _execute(self, sql: str, values: Mapping[str, Any] | None = None) -> list[dict[str, Any]]:
        cursor = self._database.conn.execute(sql, values or {})
        if cursor.description is None:
            return []
        names = [column[0] for column in cursor.description]
        return [dict(zip(names, row, strict=True)) for row in cursor.fetchall()]

    def lock_schema(self, execute: Any) -> None:
        """`begin immediate` has locked the whole file already."""

    def translated(self, sql: str) -> str:
        return sql

    def is_busy(self, error: Exception) -> bool:
        """Never: a transaction has its lock from the start, and has waited for it already."""
        return False

    def explained(self, error: Exception) -> Exception:
        text = str(error)
        if isinstance(error, sqlite3.DatabaseError) and "not a database" in text:
            return NotADayBook(f"{self.path} is not a day-book. Set TAPPING_LOG_BOOKS to another file.")
        if isinstance(error, sqlite3.Error) and "full" in text:
            return BooksFull(f"No room left for {self.path}: make room on the disk. Nothing was entered.")
        if isinstance(error, sqlite3.Error | OSError):
            return BooksUnavailable(f"The books {self.path} cannot be used now: {text}. Nothing was entered.")
        return error

    def close(self) -> None:
        with self._lock, suppress(sqlite3.Error):
            self._database.conn.close()


_PARAMETER = re.compile(r"(?<![:\w]):(\w+)")


class PostgresEngine:
    """A database server, with a pool of connections."""

    begin = "begin"
    types: Mapping[str, str] = {"whole": "bigint", "strict": ""}

    def __init__(self, address: str) -> None:
        try:
            import psycopg
            from psycopg.rows import dict_row
            from psycopg_pool import ConnectionPool
        except ImportError as error:
            raise BooksUnavailable("PostgreSQL needs more packages: pip install 'tapping-log[postgres]'") from error
        self._errors = psycopg
        self._pool = ConnectionPool(
            address, min_size=1, max_size=8, kwargs={"row_factory": dict_row, "autocommit": True}
        )
        try:
            self._pool.wait(timeout=10)
        except Exception as error:
            self._pool.close()
            raise BooksUnavailable(f"The books on PostgreSQL cannot be reached: {error}") from error

    @contextmanager
    def connection(self) -> Iterator[Any]:
        with self._pool.connection() as connection:

            def execute(sql: str, values: Mapping[str, Any] | None = None) -> list[dict[str, Any]]:
                cursor = connection.execute(sql, values)
                return [dict(row) for row in cursor.fetchall()] if cursor.description else []

            yield execute

    def lock_schema(self, execute: Any) -> None:
        execute("create table if not exists schema_lock (id text primary key)")
        execute("lock table schema_lock in exclusive mode")

    def translated(self, sql: str) -> str:
        return _PARAMETER.sub(r"%(\1)s", sql.replace("%", "%%"))

    def is_busy(self, error: Exception) -> bool:
        return getattr(error, "sqlstate", None) in ("40001", "40P01")

    def explained(self, error: Exception) -> Exception:
        if getattr(error, "sqlstate", None) == "53100":
            return BooksFull("No room left on the database server. Nothing was entered.")
        if isinstance(error, self._errors.OperationalError):
            return BooksUnavailable(f"The books on PostgreSQL cannot be used now: {error}. Nothing was entered.")
        return error

    def close(self) -> None:
        self._pool.close()

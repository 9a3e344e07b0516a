"""The books in PostgreSQL, or in what speaks its protocol: many processes on many machines share one database.

Nothing is used in daily work that distributed engines lack: no sequences, advisory locks, table locks, triggers or notices. A
transaction that they turn down (serialization, deadlock) is done again as a whole.
"""

import re
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager, suppress
from typing import Any

import psycopg
from psycopg.rows import dict_row
from psycopg_pool import ConnectionPool, PoolTimeout

from bot.books.engines import Session, Table, Values
from bot.books.errors import BooksDamaged, BooksFull, BooksUnavailable, NotADayBook

#: Connections of one process, and how long a thread waits for one of them, seconds.
CONNECTIONS, TURN_SECONDS = 8, 4.0

#: How long a statement waits for a lock, and how long it may take in all: together with the wait for a connection they stay
#: under the ten seconds in which a carrier has to be answered.
LOCK_MS, STATEMENT_MS = 3_000, 5_000

#: How long a restore waits for those who read or write.
FILL_LOCK_MS = 20_000

#: How the driver connects; a server that has vanished is noticed.
_REACH: dict[str, Any] = {"connect_timeout": 4, "tcp_user_timeout": 8_000}

_PARAMETER = re.compile(r"(?<![:\w]):(\w+)")
_TRY_AGAIN = frozenset({"40001", "40P01"})  # serialization_failure, deadlock_detected
_MADE_AT_ONCE = (psycopg.errors.UniqueViolation, psycopg.errors.DuplicateTable)


class _Session:
    """One connection of the pool."""

    def __init__(self, connection: psycopg.Connection[dict[str, Any]]) -> None:
        self._connection = connection

    def execute(self, sql: str, values: Values | None = None) -> list[dict[str, Any]]:
        """Run a statement with `%(name)s` parameters."""
        cursor = self._connection.execute(sql.encode(), values)
        return cursor.fetchall() if cursor.description else []

    def rows(self, table: Table) -> Iterator[tuple[Any, ...]]:
        """Rows as they come from the server."""
        with self._connection.cursor() as cursor, cursor.copy(f"copy {_listed(table)} to stdout".encode()) as copy:
            copy.set_types(["int8" if column in table.whole else "text" for column in table.columns])
            yield from copy.rows()

    def fill(self, table: Table, rows: Iterable[tuple[Any, ...]]) -> None:
        """In one statement: references are looked at when it ends."""
        with self._connection.cursor() as cursor, cursor.copy(f"copy {_listed(table)} from stdin".encode()) as copy:
            for row in rows:
                copy.write_row(row)

    def roll_back(self) -> None:
        """A connection that is gone has nothing to roll back."""
        with suppress(psycopg.OperationalError):
            self._connection.rollback()


class PostgresEngine:
    """A database server behind a pool of connections."""

    begin = "begin"
    begin_reading: tuple[str, ...] = (
        "begin isolation level repeatable read read only",
        "set local statement_timeout = 0",
    )
    begin_filling: tuple[str, ...] = (
        "begin",
        "set local statement_timeout = 0",
        f"set local lock_timeout = {FILL_LOCK_MS}",
    )
    types: Mapping[str, str] = {"whole": "bigint", "strict": ""}
    tables = "select table_name as name from information_schema.tables where table_schema = current_schema()"

    def __init__(self, address: str) -> None:
        try:
            psycopg.connect(address, **_REACH).close()  # says at once what is wrong; the pool would only wait
        except psycopg.Error as error:
            raise BooksUnavailable(f"The books on PostgreSQL cannot be reached: {str(error).strip()}") from error
        self._pool: ConnectionPool[psycopg.Connection[dict[str, Any]]] = ConnectionPool(
            address,
            kwargs={"row_factory": dict_row, "autocommit": True, **_REACH},
            min_size=1,
            max_size=CONNECTIONS,
            timeout=TURN_SECONDS,
            configure=_configure,
            check=ConnectionPool.check_connection,
            open=True,
        )

    @contextmanager
    def session(self) -> Iterator[Session]:
        """A connection that answers, from the pool."""
        try:
            connection = self._pool.getconn()
        except psycopg.OperationalError as error:
            raise self.explained(error) from error
        try:
            yield _Session(connection)
        finally:
            self._pool.putconn(connection)

    @contextmanager
    def writing(self, *, shared: bool = False) -> Iterator[Session]:
        """A transaction of its own: the server itself syncs once for several that commit at the same time."""
        with self.session() as session:
            try:
                session.execute(self.begin)
                yield session
                session.execute("commit")
            except BaseException:
                session.roll_back()
                raise

    def prepare(self, session: Session) -> None:
        """Make the table whose one row is the lock of the schema; several processes may do so at once."""
        with suppress(*_MADE_AT_ONCE):
            session.execute("create table if not exists schema_lock (id text primary key)")
        session.execute("insert into schema_lock (id) values ('schema') on conflict (id) do nothing")

    def lock_schema(self, session: Session) -> None:
        """An update locks its row until the transaction ends."""
        session.execute("update schema_lock set id = id where id = 'schema'")

    def keep_others_out(self, session: Session, tables: Iterable[Table]) -> None:
        """Table locks, which engines that only speak PostgreSQL's protocol may lack: restoring is for PostgreSQL itself."""
        session.execute(f"lock table {', '.join(table.name for table in tables)} in exclusive mode")

    def translated(self, sql: str) -> str:
        """`:name` as `%(name)s`, with `%` doubled."""
        return _PARAMETER.sub(r"%(\1)s", sql.replace("%", "%%"))

    def size(self) -> int:
        """By a function of PostgreSQL itself, which other engines with its protocol may lack."""
        with self.session() as session:
            try:
                return int(session.execute("select pg_database_size(current_database()) as bytes")[0]["bytes"])
            except psycopg.Error as error:
                raise BooksUnavailable(f"The size of the books on PostgreSQL cannot be read: {error}") from error

    def is_busy(self, error: BaseException | None) -> bool:
        return getattr(error, "sqlstate", None) in _TRY_AGAIN

    def explained(self, error: Exception) -> Exception:
        state = str(getattr(error, "sqlstate", None) or "")
        if isinstance(error, psycopg.errors.DiskFull):
            return BooksFull("No room left on the database server. Nothing was entered.")
        if state.startswith("XX"):
            return BooksDamaged(f"The books on PostgreSQL are damaged ({error}): see the server's log.")
        if isinstance(error, psycopg.errors.InsufficientPrivilege):
            return NotADayBook(f"The user of the database may not keep the books ({error}): make it their owner.")
        if isinstance(error, psycopg.errors.ReadOnlySqlTransaction):
            return BooksUnavailable("The database server takes no writing now (a standby?). Nothing was entered.")
        if isinstance(error, PoolTimeout):
            return BooksUnavailable("The books on PostgreSQL are busy or cannot be reached. Nothing was entered.")
        if isinstance(error, psycopg.OperationalError):
            # A connection that breaks at the commit leaves it open whether the commit was made; the same text, delivered
            # again, is recognized by its id.
            return BooksUnavailable(f"The books on PostgreSQL cannot be used now: {str(error).strip()}. Try again.")
        return error

    def close(self) -> None:
        """Close every connection."""
        self._pool.close()


def _listed(table: Table) -> str:
    return f"{table.name} ({', '.join(table.columns)})"


def _configure(connection: psycopg.Connection[Any]) -> None:
    connection.execute(f"set lock_timeout = {LOCK_MS}")
    connection.execute(f"set statement_timeout = {STATEMENT_MS}")

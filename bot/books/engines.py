"""What the books need of an engine: SQLite for one machine, PostgreSQL when it is outgrown.

The two differ in a handful of attributes; everything else (schema, statements, rules) is the same text for both.
"""

import re
from collections.abc import Iterable, Iterator, Mapping
from contextlib import AbstractContextManager
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Protocol

Values = Mapping[str, Any]

_ADDRESS = re.compile(r"^postgres(ql)?://")
_PASSWORD = re.compile(r"(?<=://)([^/@?]*?):[^/@?]*@|(?<=[?&]password=)[^&]*")


def is_address(where: str | Path) -> bool:
    """Whether books lie in PostgreSQL (`postgresql://...`), not in a file."""
    return bool(_ADDRESS.match(str(where)))


def shown(where: str | Path) -> str:
    """A file or an address as it may be shown and logged: without the password."""
    if not is_address(where):
        return str(where)
    return _PASSWORD.sub(lambda found: f"{found[1]}:***@" if found[1] is not None else "***", str(where))


@dataclass(frozen=True)
class Table:
    """A table of the day-book: its columns, which of them hold whole numbers (all others hold text), and its key."""

    name: str
    columns: tuple[str, ...]
    whole: frozenset[str]
    key: tuple[str, ...]


class Session(Protocol):
    """A connection that belongs to one thread for the time being."""

    def execute(self, sql: str, values: Values | None = None) -> list[dict[str, Any]]:
        """Run one statement in the engine's own way of naming parameters; rows as dicts."""

    def rows(self, table: Table) -> Iterator[tuple[Any, ...]]:
        """Every row of a table, in the order of its columns."""

    def fill(self, table: Table, rows: Iterable[tuple[Any, ...]]) -> None:
        """Put rows into a table; one may refer to another that comes after it."""

    def roll_back(self) -> None:
        """End the transaction, if one is open, without a trace; quiet when the connection is gone."""


class Engine(Protocol):
    """How one kind of database opens, begins, names parameters and explains its errors."""

    #: The statement that begins a transaction that writes.
    begin: str
    #: The statements that begin a transaction which sees one moment of the books, however long it reads.
    begin_reading: tuple[str, ...]
    #: The statements that begin one which writes however many rows.
    begin_filling: tuple[str, ...]
    #: What the placeholders of the migrations stand for: `whole` (64 bits) and `strict` (suffix of a table).
    types: Mapping[str, str]
    #: A query for the names of all tables.
    tables: str

    def session(self) -> AbstractContextManager[Session]:
        """A connection for this thread. Raises BooksUnavailable when there is none in time."""

    def writing(self, *, shared: bool = False) -> AbstractContextManager[Session]:
        """A transaction that is committed when the block ends well and leaves no trace when it does not.

        One that may be `shared` is short, and may be committed together with others that wait; the block's end waits for that.
        """

    def prepare(self, session: Session) -> None:
        """What is done once at opening, before the schema is looked after."""

    def lock_schema(self, session: Session) -> None:
        """Keep every other process from migrating until the transaction ends."""

    def keep_others_out(self, session: Session, tables: Iterable[Table]) -> None:
        """Nobody else writes until the session ends. Raises BooksUnavailable when somebody does not let go."""

    def translated(self, sql: str) -> str:
        """A statement with the engine's way of naming parameters."""

    def size(self) -> int:
        """Bytes that the books take on the disk. Raises BooksUnavailable."""

    def is_busy(self, error: BaseException | None) -> bool:
        """Whether another transaction was in the way, so that the whole may simply be done again."""

    def explained(self, error: Exception) -> Exception:
        """The error of ours for an error of the engine's; any other error as it is."""

    def close(self) -> None:
        """Close every connection."""

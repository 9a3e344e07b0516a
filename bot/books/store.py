"""The books: opened, migrated, and worked on one whole transaction at a time."""

import random
import time
from collections.abc import Callable, Hashable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Any, TypeVar

from bot.books.convert import storable
from bot.books.engines import Engine, Session, is_address
from bot.books.errors import BooksError, BooksUnavailable
from bot.books.migrations import migrate
from bot.books.sqlite import SqliteEngine
from bot.books.statements import statements

Result = TypeVar("Result")
Tracer = Callable[[str, Mapping[str, Any]], None]

#: How often a transaction is tried again that another one was in the way of, and the first pause in seconds.
TRIES, FIRST_PAUSE = 6, 0.02


class Transaction:
    """An open transaction: runs named statements."""

    def __init__(self, session: Session, prepared: Mapping[str, tuple[str, bool]], tracer: Tracer | None) -> None:
        self._session = session
        self._prepared = prepared
        self._tracer = tracer
        self._remembered: dict[Hashable, Any] = {}

    def run(self, name: str, /, **values: Any) -> list[dict[str, Any]]:
        """Run the statement of that name and return its rows. What no database can hold is replaced (`storable`)."""
        if self._tracer is not None:
            self._tracer(name, values)
        kept = {each: storable(value) if isinstance(value, str) else value for each, value in values.items()}
        sql, only_reads = self._prepared[name]
        if not only_reads:
            self._remembered.clear()
        return self._session.execute(sql, kept)

    def remembered(self, about: Hashable, read: Callable[[], Result]) -> Result:
        """What was read in this transaction under that name; read again once something has been written since.

        What is given is shared by all who ask by that name.
        """
        if about not in self._remembered:
            self._remembered[about] = read()
        found: Result = self._remembered[about]
        return found

    def beat(self, heart: str) -> None:
        """Count that something was done; whatever is counted by a heart of its own."""
        self.run("beat", id=heart)

    def beats(self, heart: str) -> int:
        """How often something was done over these books."""
        rows = self.run("beats", id=heart)
        return int(rows[0]["beats"]) if rows else 0


class Books:
    """The day-book of one cooperative or country. `tracer` sees every statement (for tests and profiles)."""

    def __init__(self, engine: Engine, tracer: Tracer | None = None) -> None:
        self.engine = engine
        self._prepared = {
            name: (engine.translated(sql), sql.startswith("select")) for name, sql in statements().items()
        }
        self.tracer = tracer

    @contextmanager
    def transaction(self) -> Iterator[Transaction]:
        """A transaction that commits when the block ends well and leaves no trace when it does not.

        Raises BooksUnavailable (BooksFull) when the books cannot be read or written.
        """
        with self._writing(shared=False) as tx:
            yield tx

    @contextmanager
    def _writing(self, *, shared: bool) -> Iterator[Transaction]:
        with explained(self.engine), self.engine.writing(shared=shared) as session:
            yield Transaction(session, self._prepared, self.tracer)

    @contextmanager
    def reading(self) -> Iterator[Transaction]:
        """A transaction that only reads: it sees one moment of the books, and neither waits for writers nor stops them."""
        with self.engine.session() as session, explained(self.engine):
            for statement in self.engine.begin_reading:
                session.execute(statement)
            try:
                yield Transaction(session, self._prepared, self.tracer)
            finally:
                session.roll_back()

    def run_transaction(self, work: Callable[[Transaction], Result]) -> Result:
        """Do the work in a transaction; where another one was in its way the whole is done again.

        It is to be short: others may have to wait for it before they are answered, since it may be committed with theirs.
        """

        def whole() -> Result:
            with self._writing(shared=True) as tx:
                return work(tx)

        return _again_while_busy(self.engine, whole)

    def check(self) -> None:
        """Read and write once. Raises BooksUnavailable when either is not possible."""
        with self.transaction() as tx:
            tx.run("ping")
            tx.beat("books")

    def close(self) -> None:
        """Close every connection."""
        self.engine.close()


def open_books(where: str | Path) -> Books:
    """Open the books, making or migrating them as needed.

    `where` is a file, or the address of a PostgreSQL database (`postgresql://...`). Raises NotADayBook for a file that
    is something else or was written by a newer version, BooksUnavailable when it cannot be opened.
    """
    engine = engine_at(where)

    def prepare() -> None:
        with engine.session() as session, explained(engine):
            migrate(engine, session)

    try:
        _again_while_busy(engine, prepare)
    except BaseException:
        engine.close()
        raise
    return Books(engine)


def engine_at(where: str | Path) -> Engine:
    """The engine for a file or an address, not yet prepared. Raises BooksUnavailable."""
    if not is_address(where):
        return SqliteEngine(Path(where))
    try:
        from bot.books.postgres import PostgresEngine
    except ImportError as error:
        raise BooksUnavailable("PostgreSQL needs more packages: pip install 'tapping-log[postgres]'") from error
    return PostgresEngine(str(where))


def _again_while_busy(engine: Engine, work: Callable[[], Result]) -> Result:
    """Do the work, again after a growing pause while another transaction is in its way."""
    for attempt in range(TRIES - 1):
        try:
            return work()
        except Exception as error:
            if not (engine.is_busy(error) or engine.is_busy(error.__cause__)):
                raise
        time.sleep(FIRST_PAUSE * 2**attempt * random.uniform(0.5, 1.5))  # so that two do not meet again
    return work()


@contextmanager
def explained(engine: Engine, only: type[BooksError] = BooksError) -> Iterator[None]:
    """Errors of the engine leave as errors of ours (`only` of that kind; others are left to whom they concern)."""
    try:
        yield
    except Exception as error:
        ours = engine.explained(error)
        if ours is error or not isinstance(ours, only):
            raise
        raise ours from error

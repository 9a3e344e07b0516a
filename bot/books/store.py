"""The books: opened, migrated, and worked on one whole transaction at a time."""

import re
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Any, TypeVar

from bot.books.engines import Engine, PostgresEngine, SqliteEngine
from bot.books.migrations import migrate
from bot.books.statements import statements

Result = TypeVar("Result")
Tracer = Callable[[str, Mapping[str, Any]], None]

#: How often a transaction is tried again that another one was in the way of, and the first pause in seconds.
TRIES, FIRST_PAUSE = 6, 0.02

_POSTGRES = re.compile(r"^postgres(ql)?://")


class Transaction:
    """An open transaction: runs named statements."""

    def __init__(self, execute: Any, translated: Mapping[str, str], tracer: Tracer | None) -> None:
        self._execute = execute
        self._translated = translated
        self._tracer = tracer

    def run(self, name: str, /, **values: Any) -> list[dict[str, Any]]:
        """Run the statement of that name and return its rows."""
        if self._tracer is not None:
            self._tracer(name, values)
        rows: list[dict[str, Any]] = self._execute(self._translated[name], values)
        return rows


class Books:
    """The day-book of one cooperative or country. `tracer` sees every statement (for tests and profiles)."""

    def __init__(self, engine: Engine, tracer: Tracer | None = None) -> None:
        self._engine = engine
        self._translated = {name: engine.translated(sql) for name, sql in statements().items()}
        self.tracer = tracer

    @contextmanager
    def transaction(self) -> Iterator[Transaction]:
        """A transaction that commits when the block ends well and leaves no trace when it does not.

        Raises BooksUnavailable (BooksFull) when the books cannot be read or written.
        """
        with self._engine.connection() as execute:
            self._guarded(execute, self._engine.begin)
            try:
                yield Transaction(execute, self._translated, self.tracer)
                execute("commit")
            except BaseException as error:
                self._roll_back(execute)
                explained = self._engine.explained(error) if isinstance(error, Exception) else error
                if explained is error:
                    raise
                raise explained from error

    def run_transaction(self, work: Callable[[Transaction], Result]) -> Result:
        """Do the work in a transaction; where another one was in its way the whole is done again."""
        for attempt in range(TRIES):
            try:
                with self.transaction() as tx:
                    return work(tx)
            except Exception as error:
                cause = error.__cause__ if isinstance(error.__cause__, Exception) else error
                if attempt == TRIES - 1 or not self._engine.is_busy(cause):
                    raise
            time.sleep(FIRST_PAUSE * 2**attempt)
        raise AssertionError("not reached")

    def check(self) -> None:
        """Read and write once. Raises BooksUnavailable when either is not possible."""
        with self.transaction() as tx:
            tx.run("ping")
            tx.run("touch", id="")

    def close(self) -> None:
        """Close every connection."""
        self._engine.close()

    def _guarded(self, execute: Any, sql: str) -> None:
        try:
            execute(sql)
        except Exception as error:
            raise self._engine.explained(error) from error

    def _roll_back(self, execute: Any) -> None:
        try:
            execute("rollback")
        except Exception as error:
            if self._engine.explained(error) is error and "no transaction" not in str(error):
                raise


def open_books(where: str | Path) -> Books:
    """Open the books, making or migrating them as needed.

    `where` is a file, or the address of a PostgreSQL database (`postgresql://...`). Raises NotADayBook for a file that
    is something else or was written by a newer version, BooksUnavailable when it cannot be opened.
    """
    engine: Engine = PostgresEngine(str(where)) if _POSTGRES.match(str(where)) else SqliteEngine(Path(where))
    try:
        with engine.connection() as execute:
            migrate(engine, execute)
    except Exception as error:
        engine.close()
        explained = engine.explained(error)
        if explained is error:
            raise
        raise explained from error
    return Books(engine)

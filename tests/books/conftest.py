"""Books on both engines: every test that takes `books` or `where` runs on SQLite and on PostgreSQL."""

import importlib.util
import os
from collections.abc import Iterator
from itertools import count
from pathlib import Path

import pytest

from bot.books import Books, open_books
from tests.books.postgres_server import ServerMissing, address, programs, running_server

_schemas = count(1)


@pytest.fixture(scope="session")
def server() -> Iterator[str]:
    """The socket's folder of a PostgreSQL server that lives as long as the tests.

    A machine without one skips these tests and says how to install it; with CI=true it fails.
    """
    try:
        programs()
        if importlib.util.find_spec("psycopg_pool") is None:
            raise ServerMissing("The packages for PostgreSQL are missing: pip install 'tapping-log[postgres]'")
    except ServerMissing as missing:
        (pytest.fail if os.environ.get("CI") == "true" else pytest.skip)(str(missing))
    with running_server() as folder:
        yield folder


@pytest.fixture
def postgres(server: str) -> str:
    """The address of an empty schema."""
    import psycopg

    name = f"books_{next(_schemas)}"
    with psycopg.connect(address(server, "public"), autocommit=True) as connection:
        connection.execute(f"create schema {name}".encode())
    return address(server, name)


@pytest.fixture(params=["sqlite", "postgresql"])
def where(request: pytest.FixtureRequest, tmp_path: Path) -> str:
    """Where empty books can be made."""
    return str(tmp_path / "books.sqlite") if request.param == "sqlite" else request.getfixturevalue("postgres")


@pytest.fixture
def books(where: str) -> Iterator[Books]:
    """Empty books."""
    opened = open_books(where)
    yield opened
    opened.close()

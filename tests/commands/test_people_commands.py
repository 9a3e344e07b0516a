"""What the operator does about a person: block, unblock, reset a PIN, export, forget."""

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from bot.books import open_books, people, pins
from bot.books.model import Person
from bot.cli import main
from tests.books import made


@pytest.fixture
def where(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    path = tmp_path / "books.sqlite"
    monkeypatch.setenv("TAPPING_LOG_BOOKS", str(path))
    books = open_books(path)
    made.with_a_line(books)
    books.close()
    return path


def run(*arguments: str, given: str = "") -> Result:
    return CliRunner().invoke(main, ["people", *arguments], input=given)


def tobin(where: Path) -> Person | None:
    books = open_books(where)
    with books.transaction() as tx:
        found = people.person_by_number(tx, made.TOBIN)
    books.close()
    return found


def test_a_phone_is_blocked_and_unblocked(where: Path) -> None:
    assert run("block", made.TOBIN).output == "Tobin is blocked.\n"
    assert tobin(where).blocked_at is not None  # type: ignore[union-attr]
    assert "blocked" in run().output
    assert run("unblock", made.TOBIN).output == "Tobin is not blocked.\n"
    assert tobin(where).blocked_at is None  # type: ignore[union-attr]


def test_a_pin_is_reset(where: Path) -> None:
    person = tobin(where)
    assert person is not None
    books = open_books(where)
    with books.transaction() as tx:
        pins.choose(tx, person.id, pins.hashed("4821"), made.NOW)

    assert run("reset-pin", made.TOBIN).exit_code == 0
    with books.transaction() as tx:
        assert not pins.of(tx, person.id).chosen
    books.close()


def test_a_person_is_exported_as_json(where: Path) -> None:
    found = json.loads(run("export", made.TOBIN).output)

    assert found["person"]["name"] == "Tobin"
    assert len(found["entries"]) == 1


def test_a_person_is_forgotten_once_it_is_confirmed(where: Path) -> None:
    assert run("forget", made.TOBIN, given="n\n").exit_code == 1
    assert tobin(where) is not None
    assert "stand under Person" in run("forget", made.TOBIN, given="y\n").output
    assert tobin(where) is None


def test_a_person_is_forgotten_without_a_question_where_wanted(where: Path) -> None:
    assert run("forget", made.TOBIN, "--yes").exit_code == 0
    assert tobin(where) is None


@pytest.mark.parametrize("command", ["block", "unblock", "reset-pin", "export", "forget"])
def test_a_number_that_nobody_has_is_one_line(where: Path, command: str) -> None:
    ended = run(command, "+447700900555")

    assert ended.exit_code == 2
    assert "Nobody has the number" in ended.output
    assert len(ended.output.splitlines()) == 1

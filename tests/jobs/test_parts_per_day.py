"""A cap on the parts of a day: texts wait for the next one, and the operator is told each time."""

from collections.abc import Iterator
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from click.testing import CliRunner

from bot.books import Books, alarms, open_books, outbox
from bot.cli import main
from bot.jobs import run_due
from bot.talk.exchange import Delivery, Fate
from tests.books import made

NOW = datetime(2026, 3, 18, 3, 30, tzinfo=UTC)


@pytest.fixture
def where(tmp_path: Path) -> Path:
    return tmp_path / "books.sqlite"


@pytest.fixture
def books(where: Path) -> Iterator[Books]:
    with closing(open_books(where)) as opened:
        with opened.transaction() as tx:
            for n in range(5):
                made.a_waiting_text(tx, f"key {n}", parts=2, due_at=NOW, created_at=NOW)
        yield opened


def sent(books: Books, at: datetime, cap: int) -> tuple[int, tuple[str, ...]]:
    done = run_due(books, at, lambda waiting: Delivery(Fate.SENT, waiting.id), parts_per_day=cap)
    return done.sent, done.alarms


def test_without_a_cap_all_goes_out(books: Books) -> None:
    assert sent(books, NOW, 0) == (5, ())


def test_texts_wait_once_the_parts_of_the_day_have_gone_out(books: Books) -> None:
    first, (line,) = sent(books, NOW, 5)

    assert first == 3  # 2 + 2 + 2 parts: the third reaches the cap
    assert "6 parts went out today" in line
    assert "2 texts wait" in line
    assert sent(books, NOW + timedelta(hours=1), 5) == (0, (line,))
    assert sent(books, NOW + timedelta(days=1), 5) == (2, ())


def test_answers_count_too(books: Books) -> None:
    with books.transaction() as tx:
        made.a_text(tx)
        tx.run("close_message", id="m1", person_id=None, kind="answered", reply="x", parts=4)

    assert sent(books, NOW, 5)[0] == 1


def test_nothing_waiting_is_no_alarm(books: Books) -> None:
    sent(books, NOW, 0)

    assert sent(books, NOW, 5) == (0, ())


def test_an_alarm_is_told_once(books: Books) -> None:
    with books.transaction() as tx:
        for _ in range(3):
            alarms.sound(tx, number=made.TOBIN, kind="loop", line="a machine", at=NOW)

    assert run_due(books, NOW, None).alarms == ("a machine",)
    assert run_due(books, NOW, None).alarms == ()


def test_the_command_says_so_and_ends_with_1(books: Books, where: Path) -> None:
    environment = {
        "TAPPING_LOG_BOOKS": str(where),
        "TAPPING_LOG_DEMONSTRATION": "yes",
        "TAPPING_LOG_PARTS_PER_DAY": "1",
    }
    ended = CliRunner().invoke(main, ["due"], env=environment)

    assert ended.exit_code == 1
    assert "TAPPING_LOG_PARTS_PER_DAY is 1: 4 texts wait" in ended.stderr
    with books.transaction() as tx:
        assert outbox.waiting_count(tx) == 4

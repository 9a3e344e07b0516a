"""What is due: one summary for each owner and week, and each waiting text sent once."""

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from bot.books import Books, gateways, open_books, outbox
from bot.demonstration import fill
from bot.jobs import SILENT, TRY_AGAIN, run_due, sound_silent
from bot.talk.exchange import Delivery, Fate

NOW = datetime(2026, 3, 16, 2, 0, tzinfo=UTC)


@pytest.fixture
def books(tmp_path: Path) -> Books:
    books = open_books(tmp_path / "books.sqlite")
    fill(books, NOW)
    run_due(books, NOW, lambda waiting: Delivery(Fate.SENT, waiting.id))
    return books


def test_a_summary_is_written_once_however_often_the_job_runs(books: Books) -> None:
    later = NOW + timedelta(days=7)

    assert run_due(books, later, None).written == 3
    assert run_due(books, later + timedelta(minutes=1), None).written == 0


def test_a_text_that_went_out_is_not_sent_again(books: Books) -> None:
    sent: list[str] = []

    def send(waiting):
        sent.append(waiting.id)
        return Delivery(Fate.SENT, "SM1")

    run_due(books, NOW + timedelta(days=7), send)
    run_due(books, NOW + timedelta(days=7, minutes=5), send)

    assert len(sent) == 3
    assert len(set(sent)) == len(sent)


def test_a_text_that_no_carrier_takes_is_given_up_after_its_tries(books: Books) -> None:
    now = NOW + timedelta(days=7)
    for pause in (timedelta(0), *TRY_AGAIN, timedelta(0)):
        now += pause
        last = run_due(books, now, lambda _waiting: Delivery(Fate.LATER, code="30003"))

    assert (last.sent, last.later) == (0, 0)
    with books.transaction() as tx:
        assert outbox.waiting_count(tx) == 0


def test_a_text_left_on_its_way_by_a_crash_is_not_sent_again_and_a_person_is_told(books: Books) -> None:
    now = NOW + timedelta(days=7)
    run_due(books, now, None)
    with books.transaction() as tx:
        assert outbox.claim(tx, now) is not None  # the program ends here

    again = run_due(books, now + timedelta(hours=1), lambda waiting: Delivery(Fate.SENT, waiting.id))

    assert (again.sent, again.unsure) == (2, 1)
    assert "may or may not" in again.alarms[0]


def test_a_gateway_that_does_not_call_any_more_is_told_of_once_a_day(books: Books) -> None:
    def told(at: datetime) -> list[str]:
        books.run_transaction(lambda tx: sound_silent(tx, ["office"], at))
        return [each for each in run_due(books, at, None).alarms if "office" in each]

    with books.transaction() as tx:
        gateways.note_call(tx, "office", "a" * 16, at=NOW)

    assert told(NOW + SILENT) == []
    assert len(told(NOW + SILENT + timedelta(minutes=1))) == 1
    assert told(NOW + SILENT + timedelta(minutes=2)) == []
    assert len(told(NOW + SILENT + timedelta(days=1))) == 1

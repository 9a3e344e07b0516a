"""A carrier that takes its time or hangs, a clock that was far ahead for a while, and texts that come a day late."""

import http.server
import threading
import time
from collections.abc import Iterator
from contextlib import closing
from datetime import UTC, datetime, timedelta
from itertools import count
from pathlib import Path

import pytest
import requests

from bot.books import Books, entries, farms, open_books, outbox
from bot.books.model import Waiting
from bot.carriers.practice import text_as
from bot.jobs import MOST_IN_DOUBT, run_due
from bot.talk.answer import answer
from bot.talk.exchange import Delivery, Fate, Incoming, Kind
from tests.faults import house

NOW = datetime(2026, 3, 18, 3, 30, tzinfo=UTC)
TAPPER, COLLECTOR = house.number(0, house.TAPPER), house.number(0, house.COLLECTOR)
TAKEN = Delivery(Fate.SENT, "x")


@pytest.fixture
def books(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Books]:
    monkeypatch.setattr(house, "FARMS", 2)
    with closing(open_books(tmp_path / "books.sqlite")) as opened:
        house.furnish(opened)
        yield opened


def takes(books: Books, times: int, at: datetime = NOW) -> None:
    """Each puts two texts into the outbox."""
    for n in range(times):
        text_as(books, COLLECTOR, f"took {12 + n} sheets 6.{n} kg", at + timedelta(minutes=n))


def states(books: Books) -> dict[str, int]:
    with books.reading() as tx:
        return {state: n for state, (n, _) in outbox.not_settled(tx).items()}


# A slow carrier


def test_a_carrier_that_hangs_leaves_few_texts_in_doubt_and_all_others_waiting(books: Books) -> None:
    takes(books, 6)
    done = run_due(books, NOW + timedelta(hours=1), lambda _waiting: Delivery(Fate.UNSURE, code="ReadTimeout"))

    assert done.unsure == MOST_IN_DOUBT
    assert states(books) == {"new": 12 - MOST_IN_DOUBT, "unsure": MOST_IN_DOUBT}
    assert [alarm for alarm in done.alarms if "wait for the next run" in alarm]


def test_what_waited_goes_out_when_the_carrier_answers_again(books: Books) -> None:
    takes(books, 6)
    run_due(books, NOW + timedelta(hours=1), lambda _waiting: Delivery(Fate.UNSURE, code="ReadTimeout"))
    done = run_due(books, NOW + timedelta(hours=1, minutes=1), lambda _waiting: TAKEN)

    assert done.sent == 12 - MOST_IN_DOUBT
    assert not [alarm for alarm in done.alarms if "wait for the next run" in alarm]


def test_one_text_in_doubt_among_others_stops_nothing(books: Books) -> None:
    takes(books, 6)
    turn = count()
    fates = (Fate.UNSURE, Fate.SENT, Fate.SENT)
    done = run_due(books, NOW + timedelta(hours=1), lambda _waiting: Delivery(fates[next(turn) % 3], "x"))

    assert (done.sent, done.unsure) == (8, 4)


def test_a_run_ends_in_time_however_slow_the_carrier_is(books: Books) -> None:
    """So that it is not cut off by its service in the middle of a text, which nobody then knows the fate of."""
    takes(books, 6)
    spent: list[float] = []

    def slow(_waiting: Waiting) -> Delivery:
        spent.append(7.5)
        return TAKEN

    done = run_due(books, NOW + timedelta(hours=1), slow, goes_on=lambda: sum(spent) < 30)

    assert done.sent == 4
    assert states(books) == {"new": 8}


class _Hangs(http.server.BaseHTTPRequestHandler):
    def do_POST(self) -> None:
        time.sleep(3)

    def log_message(self, *args: object) -> None:
        """Quiet."""


def test_a_real_server_that_hangs_costs_a_run_its_patience_twice_and_no_more(books: Books) -> None:
    takes(books, 4)
    server = http.server.ThreadingHTTPServer(("127.0.0.1", 0), _Hangs)
    server.daemon_threads = True
    threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.05}, daemon=True).start()

    def send(waiting: Waiting) -> Delivery:
        try:
            requests.post(f"http://127.0.0.1:{server.server_address[1]}/", data=waiting.text.encode(), timeout=0.2)
        except requests.ReadTimeout as fault:
            return Delivery(Fate.UNSURE, code=type(fault).__name__)
        return TAKEN

    begun = time.monotonic()
    done = run_due(books, NOW + timedelta(hours=1), send)
    took = time.monotonic() - begun
    server.shutdown()
    server.server_close()

    assert done.unsure == MOST_IN_DOUBT
    assert took < 2.5


# A clock that was ahead


@pytest.mark.parametrize("ahead", [timedelta(hours=2), timedelta(days=1), timedelta(days=400)])
def test_texts_that_were_put_while_the_clock_was_ahead_go_out_once_it_is_set_right(
    books: Books, ahead: timedelta
) -> None:
    takes(books, 1, NOW + ahead)
    sent: list[str] = []

    def send(waiting: Waiting) -> Delivery:
        sent.append(waiting.id)
        return TAKEN

    for minutes in range(5):
        run_due(books, NOW + timedelta(minutes=minutes), send)

    assert len(sent) == len(set(sent)) == 2


def test_a_text_of_a_clock_that_was_ahead_keeps_its_pauses_when_the_carrier_does_not_take_it(books: Books) -> None:
    takes(books, 1, NOW + timedelta(days=400))
    tries: list[str] = []

    def send(waiting: Waiting) -> Delivery:
        tries.append(waiting.id)
        return Delivery(Fate.LATER, code="30003")

    run_due(books, NOW, send)
    run_due(books, NOW + timedelta(minutes=1), send)

    assert len(tries) == 2


def test_a_text_that_had_to_go_out_by_an_hour_of_a_wrong_day_is_given_up(books: Books) -> None:
    ahead = NOW + timedelta(days=400)
    with books.transaction() as tx:
        end = ahead + timedelta(hours=5)
        outbox.put(tx, to=TAPPER, text="x", parts=1, because=None, due_at=ahead, created_at=ahead, not_after=end)
    done = run_due(books, NOW, lambda _waiting: TAKEN)

    assert done.sent == 0
    assert states(books) == {}


def test_a_text_for_another_try_is_not_hurried_by_that(books: Books) -> None:
    takes(books, 1)
    run_due(books, NOW + timedelta(minutes=1), lambda _waiting: Delivery(Fate.LATER, code="30003"))
    done = run_due(books, NOW + timedelta(minutes=2), lambda _waiting: TAKEN)

    assert done.sent == 0
    assert states(books) == {"new": 2}


# Texts a day late


def late(books: Books, body: str, sent: datetime, message_id: str) -> Kind:
    """A text that a carrier hands over now, and that was sent before."""
    incoming = Incoming(message_id, TAPPER, body, at=sent, arrived=NOW, carrier="gateway")
    return answer(books, incoming, NOW).kind


def days(books: Books) -> list[tuple[str | None, str, int]]:
    with books.reading() as tx:
        found = entries.standing(tx, farms.all_farms(tx)[0].id)
        return sorted((each.record.block, str(each.record.day), int(each.record.litres or 0)) for each in found)


def test_a_text_that_comes_a_day_late_is_entered_for_the_day_on_which_it_was_sent(books: Books) -> None:
    assert late(books, "block 3 18 litres", NOW - timedelta(days=1), "a") is Kind.ENTERED
    assert text_as(books, TAPPER, "block 3 16 litres", NOW).kind is Kind.ENTERED

    assert days(books) == [("3", "2026-03-17", 18), ("3", "2026-03-18", 16)]


def test_a_late_text_after_the_one_that_followed_it_takes_nothing_from_that(books: Books) -> None:
    text_as(books, TAPPER, "block 3 16 litres", NOW)
    assert late(books, "block 3 18 litres", NOW - timedelta(days=1), "a") is Kind.ENTERED
    assert late(books, "yesterday block 4 12 litres", NOW - timedelta(days=1), "b") is Kind.ENTERED

    assert days(books) == [("3", "2026-03-17", 18), ("3", "2026-03-18", 16), ("4", "2026-03-16", 12)]


def test_a_late_text_delivered_three_times_and_out_of_order_is_entered_once(books: Books) -> None:
    for sent, body, name in ((1, "block 4 12 litres", "b"), (2, "block 3 18 litres", "a")) * 3:
        late(books, body, NOW - timedelta(days=sent), name)

    assert days(books) == [("3", "2026-03-16", 18), ("4", "2026-03-17", 12)]

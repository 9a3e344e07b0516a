"""The figures for the operator: what they count, who gets them, and that nothing of anybody is in them."""

import re
from collections.abc import Callable, Iterator
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from flask import Flask
from prometheus_client.parser import text_string_to_metric_families
from twilio.request_validator import RequestValidator
from werkzeug.test import TestResponse

from bot.app import create_app
from bot.books import Books, BooksUnavailable, open_books, outbox
from bot.books.model import Waiting
from bot.jobs import run_due
from bot.settings import Settings
from bot.talk.exchange import Delivery, Fate
from tests.books.conftest import postgres, server, where
from tests.faults import house

__all__ = ["postgres", "server", "where"]

NOW = datetime(2026, 3, 18, 3, 30, tzinfo=UTC)
TOKEN, PUBLIC, KEY = "a-token-for-the-test", "https://bot.example.org", "a-key-for-the-figures"
BEARER = {"Authorization": f"Bearer {KEY}"}
TAPPER, OWNER, COLLECTOR = (house.number(0, role) for role in (house.TAPPER, house.OWNER, house.COLLECTOR))


class Place:
    """Books with two farms, the application over them, and a clock that can be set."""

    def __init__(self, books: Books) -> None:
        self.books, self.now, self.ids = books, NOW, iter(range(1, 10_000))
        self.settings = Settings(Path("unused"), public_url=PUBLIC, twilio_auth_token=TOKEN, metrics_key=KEY)
        self.app: Flask = create_app(self.settings, books, lambda: self.now)

    def text(self, body: str, number: str = TAPPER, message_id: str | None = None) -> int:
        form = {"MessageSid": message_id or f"SM{next(self.ids)}", "From": number, "To": "+447700900999", "Body": body}
        signature = RequestValidator(TOKEN).compute_signature(f"{PUBLIC}/carrier/twilio", form)
        headers = {"X-Twilio-Signature": signature}
        return self.app.test_client().post("/carrier/twilio", data=form, headers=headers).status_code

    def page(self) -> TestResponse:
        return self.app.test_client().get("/metrics", headers=BEARER)

    def figures(self) -> dict[str, float]:
        """Every figure as `name{label=value}`, without our prefix."""
        found = {}
        for family in text_string_to_metric_families(self.page().get_data(as_text=True)):
            for sample in family.samples:
                labels = ",".join(f"{name}={value}" for name, value in sorted(sample.labels.items()))
                name = sample.name.removeprefix("tapping_log_")
                found[f"{name}{{{labels}}}" if labels else name] = sample.value
        return found


@pytest.fixture
def place(where: str, monkeypatch: pytest.MonkeyPatch) -> Iterator[Place]:
    monkeypatch.setattr(house, "FARMS", 2)
    with closing(open_books(where)) as books:
        house.furnish(books)
        yield Place(books)


@pytest.fixture
def place_in_a_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Place]:
    monkeypatch.setattr(house, "FARMS", 2)
    with closing(open_books(tmp_path / "books.sqlite")) as books:
        house.furnish(books)
        yield Place(books)


def test_texts_are_counted_by_what_became_of_them(place: Place) -> None:
    place.text("block 3 18 litres")
    place.text("block 4 120")
    place.text("12")
    place.text("hello", number="+447700900888")
    place.text("block 3 18 litres", message_id="again")
    place.text("block 3 18 litres", message_id="again")

    found = place.figures()
    counted = {name: n for name, n in found.items() if name.startswith("messages_total")}
    assert counted["messages_total{carrier=twilio,outcome=repeat}"] == 1
    assert counted["messages_total{carrier=twilio,outcome=entered}"] >= 2
    assert counted["messages_total{carrier=twilio,outcome=asked}"] >= 1
    assert sum(counted.values()) == found["answer_seconds_count"] == 6
    assert 0 < found["answer_seconds_sum"] < 60


def test_what_waits_for_others_is_counted_with_how_long_it_is_overdue(place: Place) -> None:
    assert place.figures()["outbox_oldest_seconds"] == 0
    place.text("took 12 sheets 6.2 kg", number=COLLECTOR)
    place.now = NOW + timedelta(seconds=90)

    found = place.figures()
    assert found["outbox_texts{state=new}"] == found["outbox_due_texts"] == 2
    assert found["outbox_oldest_seconds"] == 90
    assert found["parts_today{kind=to_others}"] == 0


def test_parts_of_a_day_are_counted_by_kind_and_begin_anew_at_midnight(place: Place) -> None:
    place.text("took 12 sheets 6.2 kg", number=COLLECTOR)
    sent: list[Waiting] = []

    def send(waiting: Waiting) -> Delivery:
        sent.append(waiting)
        return Delivery(Fate.SENT, "x")

    run_due(place.books, NOW, send)
    parts = sum(each.parts for each in sent)
    found = place.figures()
    place.now = NOW + timedelta(days=1)

    assert found["parts_today{kind=to_others}"] == parts >= 2
    assert found["parts_today{kind=answer}"] >= 1
    assert found["outbox_texts{state=new}"] == 0
    assert place.figures()["parts_today{kind=answer}"] == 0


def test_texts_that_went_out_are_counted_by_what_is_known_of_them(place: Place) -> None:
    place.text("took 12 sheets 6.2 kg", number=COLLECTOR)
    run_due(place.books, NOW, lambda waiting: Delivery(Fate.SENT, waiting.id))
    with place.books.transaction() as tx:
        first = outbox.listing(tx, NOW - timedelta(days=1), NOW + timedelta(days=1))[0]
        outbox.delivered(tx, first.id, at=NOW)

    found = place.figures()
    fates = {fate: found[f"sent_today{{fate={fate}}}"] for fate in ("delivered", "taken", "failed")}
    assert fates == {"delivered": 1, "taken": 1, "failed": 0}


def test_runs_of_due_are_counted_so_that_a_timer_that_stopped_is_seen(place: Place) -> None:
    assert place.figures()["due_runs_total"] == 0
    for _ in range(3):
        run_due(place.books, NOW, None)

    assert place.figures()["due_runs_total"] == 3


def test_alarms_are_counted_also_after_they_were_told(place: Place) -> None:
    for _ in range(8):
        place.text("acid for 22 l?")
    untold = place.figures()["alarms_untold"]
    run_due(place.books, NOW, None)

    found = place.figures()
    assert untold == 1
    assert found["alarms_untold"] == 0
    assert found["alarms_today{kind=loop}"] == 1


def test_the_size_of_the_books_is_that_on_the_disk(place_in_a_file: Place, tmp_path: Path) -> None:
    found = place_in_a_file.figures()["books_bytes"]

    assert found == sum(each.stat().st_size for each in tmp_path.iterdir() if not each.name.endswith("-shm"))


def test_postgresql_tells_its_size_too(place: Place) -> None:
    assert place.figures()["books_bytes"] > 100_000


def test_calls_are_counted_by_place_and_status_and_never_by_address(place: Place) -> None:
    client = place.app.test_client()
    client.post("/carrier/twilio", data={"From": TAPPER})
    client.get("/farm/WyJhIl0.secret/pay")
    client.get(f"/nowhere/{TAPPER}")

    found = place.figures()
    assert found["responses_total{place=twilio,status=403}"] == 1
    assert found["responses_total{place=none,status=404}"] == 1
    assert "secret" not in place.page().get_data(as_text=True)


def test_no_number_name_or_text_is_among_the_figures(place: Place) -> None:
    for body in ("block 3 18 litres", "hello", "took 12 sheets 6.2 kg", "<script>", "pin 482193"):
        for number in (TAPPER, OWNER, COLLECTOR, "+447700900888"):
            place.text(body, number=number)
    run_due(place.books, NOW, None)

    page = place.page().get_data(as_text=True)
    assert not re.search(r"\+?4477009\d+|Farm \d|Tapper|litres|sheets|script|482193", page)


def test_books_that_cannot_be_read_are_a_figure_and_no_fault(place: Place, monkeypatch: pytest.MonkeyPatch) -> None:
    place.text("block 3 18 litres")

    def gone(**_: bool) -> None:
        raise BooksUnavailable("gone")

    monkeypatch.setattr(place.books.engine, "session", gone)
    monkeypatch.setattr(place.books.engine, "writing", gone)
    assert place.text("block 4 18 litres") == 503

    found = place.figures()
    assert found["books_up"] == 0
    assert found["messages_total{carrier=twilio,outcome=unavailable}"] == 1
    assert found["messages_total{carrier=twilio,outcome=entered}"] == 1
    assert "outbox_due_texts" not in found


def test_the_page_is_in_the_form_that_collectors_ask_for(place_in_a_file: Place) -> None:
    got = place_in_a_file.page()

    assert got.status_code == 200
    assert got.content_type.startswith("text/plain")
    assert place_in_a_file.figures()["books_up"] == 1


@pytest.mark.parametrize(
    "headers",
    [
        {},
        {"Authorization": ""},
        {"Authorization": KEY},
        {"Authorization": f"Basic {KEY}"},
        {"Authorization": f"Bearer {KEY[:-1]}"},
        {"Authorization": f"Bearer {KEY}x"},
        {"Authorization": "Bearer \u00e9"},
        {"X-Forwarded-For": "127.0.0.1"},
    ],
)
def test_without_the_key_nobody_gets_a_figure(place_in_a_file: Place, headers: dict[str, str]) -> None:
    got = place_in_a_file.app.test_client().get("/metrics", headers=headers)

    assert got.status_code == 401
    assert "tapping_log" not in got.get_data(as_text=True)


def test_where_no_key_is_set_there_is_no_such_page(tmp_path: Path) -> None:
    with closing(open_books(tmp_path / "books.sqlite")) as books:
        client = create_app(Settings(tmp_path / "books.sqlite"), books, lambda: NOW).test_client()

        assert client.get("/metrics", headers={"Authorization": "Bearer None"}).status_code == 404


@pytest.mark.parametrize("made", [lambda place: place.text("block 3 18 litres"), lambda place: place.page()])
def test_figures_change_no_answer(place: Place, made: Callable[[Place], object]) -> None:
    first = place.app.test_client().get("/health").get_json()
    place.page()

    assert place.app.test_client().get("/health").get_json() == first

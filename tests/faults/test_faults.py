"""Faults beside kills: damage and lost rights while serving, a clock that jumps, nonsense of a carrier, broken languages."""

import os
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path

import pytest
import responses
from flask import Flask
from twilio.request_validator import RequestValidator

from bot.app import create_app
from bot.books import Books, entries, farms, messages, open_books, outbox
from bot.books.model import Waiting
from bot.carriers.practice import text_as
from bot.carriers.twilio_sender import TwilioSender
from bot.jobs import run_due
from bot.settings import Settings
from bot.speech import catalogue
from bot.talk.exchange import Delivery, Fate, Kind
from tests.faults import house

NOW = datetime(2026, 3, 18, 3, 30, tzinfo=UTC)
TOKEN, PUBLIC = "a-token-for-the-test", "https://bot.example.org"


@pytest.fixture
def path(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setattr(house, "FARMS", 2)
    path = tmp_path / "books.sqlite"
    with closing(open_books(path)) as books:
        house.furnish(books)
    return path


@contextmanager
def app_over(path: Path) -> Iterator[Flask]:
    settings = Settings(books=path, public_url=PUBLIC, twilio_auth_token=TOKEN)
    with closing(open_books(path)) as books:
        yield create_app(settings, books, lambda: NOW)


def status_of(app: Flask, n: int = 1, text: str = "block 3 18 litres") -> int:
    form = {"MessageSid": f"SM{n}", "From": house.number(0, house.TAPPER), "To": "+447700900999", "Body": text}
    signature = RequestValidator(TOKEN).compute_signature(f"{PUBLIC}/carrier/twilio", form)
    return app.test_client().post("/carrier/twilio", data=form, headers={"X-Twilio-Signature": signature}).status_code


def test_a_page_that_is_damaged_gives_the_carrier_a_status_that_makes_it_try_again(path: Path) -> None:
    with closing(sqlite3.connect(path)) as raw:
        raw.execute("pragma journal_mode = delete")
        page = raw.execute("select rootpage from sqlite_master where name = 'messages'").fetchone()[0]
    with path.open("r+b") as file:
        file.seek((page - 1) * 4096)
        file.write(os.urandom(4096))

    with app_over(path) as app:
        assert status_of(app) == 503
        assert app.test_client().get("/health").status_code == 200  # that page is not looked at; `check` looks at all


def test_books_that_become_read_only_give_such_a_status_too(path: Path) -> None:
    with app_over(path) as app, closing(open_books(path)) as books:
        with books.engine.session() as session:
            session.execute("pragma query_only = on")
        read_only = create_app(Settings(books=path, public_url=PUBLIC, twilio_auth_token=TOKEN), books, lambda: NOW)

        assert status_of(read_only) == 503
        assert read_only.test_client().get("/health").status_code == 503
        assert status_of(app) == 200  # the same text, delivered again where they can be written


def standing(books: Books) -> list[tuple]:
    with books.reading() as tx:
        farm = farms.all_farms(tx)[0]
        return [(each.record.block, each.record.day, each.record.litres) for each in entries.standing(tx, farm.id)]


def test_a_clock_that_jumps_back_loses_and_doubles_nothing(path: Path) -> None:
    tapper = house.number(0, house.TAPPER)
    with closing(open_books(path)) as books:
        first = text_as(books, tapper, "block 3 18 litres", NOW, message_id="a")
        second = text_as(books, tapper, "block 4 16 litres", NOW - timedelta(minutes=90), message_id="b")
        again = text_as(books, tapper, "block 3 18 litres", NOW - timedelta(minutes=95), message_id="a")
        fixed = text_as(books, tapper, "block 4 was 17 not 16", NOW - timedelta(minutes=80), message_id="c")

        assert (first.kind, second.kind, fixed.kind) == (Kind.ENTERED, Kind.ENTERED, Kind.CHANGED)
        assert again.repeat
        assert sorted((block, int(litres)) for block, _, litres in standing(books)) == [("3", 18), ("4", 17)]


def test_a_question_that_was_asked_before_the_clock_jumped_back_can_be_answered(path: Path) -> None:
    tapper = house.number(0, house.TAPPER)
    with closing(open_books(path)) as books:
        assert text_as(books, tapper, "block 5 120", NOW).kind is Kind.ASKED
        assert text_as(books, tapper, "12", NOW - timedelta(minutes=30)).kind is Kind.ENTERED


@pytest.mark.parametrize("jump", [timedelta(days=-1), timedelta(days=1), timedelta(days=400)])
def test_a_clock_that_jumps_and_is_set_right_sends_no_summary_twice(path: Path, jump: timedelta) -> None:
    sent: list[str] = []

    def send(waiting: Waiting) -> Delivery:
        sent.append(f"{waiting.to} {waiting.key}")
        return Delivery(Fate.SENT, "x")

    with closing(open_books(path)) as books:
        text_as(books, house.number(0, house.TAPPER), "block 3 18 litres", NOW)
        for hours in range(0, 8 * 24, 6):
            run_due(books, NOW + timedelta(hours=hours), send)
            run_due(books, NOW + timedelta(hours=hours) + jump, send)
            run_due(books, NOW + timedelta(hours=hours), send)

    assert sent
    assert len(set(sent)) == len(sent)


def test_a_text_that_waits_when_the_clock_jumps_back_is_sent_once_and_does_not_wait_for_that_time(path: Path) -> None:
    sent: list[str] = []

    def send(waiting: Waiting) -> Delivery:
        sent.append(waiting.id)
        return Delivery(Fate.SENT, "x")

    with closing(open_books(path)) as books:
        text_as(books, house.number(0, house.COLLECTOR), "took 12 sheets 6.2 kg", NOW)
        run_due(books, NOW - timedelta(hours=1), send)
        assert len(sent) == 2

        for minutes in range(3):
            run_due(books, NOW + timedelta(minutes=minutes), send)
        with books.reading() as tx:
            states = {each.state for each in outbox.listing(tx, NOW - timedelta(days=1), NOW + timedelta(days=1))}

    assert len(sent) == len(set(sent)) == 2
    assert states == {"sent"}


@pytest.mark.parametrize("zone_hours", [-11, 0, 14])
def test_the_zone_of_the_machine_changes_no_day(path: Path, zone_hours: int) -> None:
    """23:50 of the 17th in Bangkok, whatever the machine's own zone is."""
    at = datetime(2026, 3, 17, 16, 50, tzinfo=UTC).astimezone(timezone(timedelta(hours=zone_hours)))
    with closing(open_books(path)) as books:
        text_as(books, house.number(0, house.TAPPER), "block 3 18 litres", at)

        assert [day.isoformat() for _, day, _ in standing(books)] == ["2026-03-17"]


@pytest.mark.parametrize(
    ("body", "status"),
    [("<html>ok</html>", 200), ("", 201), ("[]", 201), ("null", 201), ("{}", 201), ('{"sid": null}', 201)],
)
def test_a_yes_of_the_carrier_that_makes_no_sense_leaves_a_text_in_doubt_and_the_others_go_on(
    path: Path, body: str, status: int
) -> None:
    account = "AC" + "0" * 32
    settings = Settings(books=path, twilio_account_sid=account, twilio_auth_token="12345", twilio_from="+15005550006")
    url = f"https://api.twilio.com/2010-04-01/Accounts/{account}/Messages.json"
    with closing(open_books(path)) as books, responses.RequestsMock() as carrier:
        text_as(books, house.number(0, house.COLLECTOR), "took 12 sheets 6.2 kg", NOW)
        carrier.post(url, body=body, status=status)
        carrier.post(url, json={"sid": "SM1"}, status=201)

        done = run_due(books, NOW, TwilioSender(settings))

    assert (done.sent, done.unsure) == (1, 1)


@pytest.mark.parametrize(
    ("broken", "says"),
    [
        (b"garbage\n", "not of the form"),
        (b"\xff\xfe\x00", "not of the form"),
        (b"", "no sentences"),
        (b'msgid "{n} litres"\nmsgstr "{m} litres"\n', "places for values differ"),
        (b'msgid "{n} litres"\nmsgstr "{n litres"\n', "places for values differ"),
        (b'msgid "{n} litres"\nmsgstr "litres"\n', "places for values differ"),
    ],
)
def test_a_broken_language_is_found_before_anybody_is_answered_in_it(broken: bytes, says: str) -> None:
    (fault,) = catalogue.faults_in(broken, "fr")

    assert says in fault


def test_the_languages_of_the_package_are_sound() -> None:
    assert catalogue.faults() == []


def test_a_text_is_stored_with_its_answer_in_every_case(path: Path) -> None:
    with app_over(path) as app:
        for n, text in enumerate(["", " ", "\0", "?" * 2000, "block 3 18 litres", "ตัดยาง", "😀" * 300]):
            assert status_of(app, n, text) == 200
    with closing(open_books(path)) as books, books.reading() as tx:
        assert [each for each in messages.latest_from(tx, house.number(0, house.TAPPER), 99) if each.kind is None] == []

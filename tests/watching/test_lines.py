"""The log: one JSON object a line, one line a text, with its id, times and outcome, and no words unless a setting asks."""

import io
import json
import logging
from collections.abc import Iterator
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from twilio.request_validator import RequestValidator

from bot.app import create_app
from bot.books import Books, open_books
from bot.discretion import Discreet
from bot.settings import Settings
from tests.faults import house

NOW = datetime(2026, 3, 18, 3, 30, tzinfo=UTC)
TOKEN, PUBLIC = "a-token-for-the-test", "https://bot.example.org"
TAPPER, OWNER, COLLECTOR = (house.number(0, role) for role in (house.TAPPER, house.OWNER, house.COLLECTOR))


class Log:
    """What is written to the log while it is open."""

    def __init__(self) -> None:
        self.out = io.StringIO()
        self.handler = logging.StreamHandler(self.out)
        self.handler.setFormatter(Discreet())

    def texts(self) -> list[dict[str, Any]]:
        """The lines about texts."""
        lines = [json.loads(line) for line in self.out.getvalue().splitlines()]
        return [line for line in lines if line["says"] == "text"]


@pytest.fixture
def log() -> Iterator[Log]:
    kept, root = Log(), logging.getLogger()
    level = root.level
    root.addHandler(kept.handler)
    root.setLevel(logging.INFO)
    yield kept
    root.removeHandler(kept.handler)
    root.setLevel(level)


@pytest.fixture
def books(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Books]:
    monkeypatch.setattr(house, "FARMS", 1)
    with closing(open_books(tmp_path / "books.sqlite")) as opened:
        house.furnish(opened)
        yield opened


def text(books: Books, body: str, number: str = TAPPER, message_id: str = "SM1", *, shows: bool = False) -> int:
    settings = Settings(Path("unused"), public_url=PUBLIC, twilio_auth_token=TOKEN, log_texts=shows)
    form = {"MessageSid": message_id, "From": number, "To": "+447700900999", "Body": body}
    signature = RequestValidator(TOKEN).compute_signature(f"{PUBLIC}/carrier/twilio", form)
    client = create_app(settings, books, lambda: NOW).test_client()
    return client.post("/carrier/twilio", data=form, headers={"X-Twilio-Signature": signature}).status_code


def test_a_text_is_one_line_with_id_times_and_outcome(books: Books, log: Log) -> None:
    text(books, "took 12 sheets 6.2 kg", number=COLLECTOR)

    (line,) = log.texts()
    assert line["id"] == "SM1"
    assert line["from"] == f"{COLLECTOR[:5]}...{COLLECTOR[-3:]}"
    assert line["outcome"] == "entered"
    assert datetime.fromisoformat(line["sent_at"]) == datetime.fromisoformat(line["arrived_at"]) == NOW
    assert 0 < line["ms"] < 60_000
    assert (line["carrier"], line["to_others"]) == ("twilio", 2)
    assert line["parts"] >= 1


def test_a_repeat_is_said_to_be_one(books: Books, log: Log) -> None:
    text(books, "block 3 18 litres")
    text(books, "block 3 18 litres")

    assert [line["outcome"] for line in log.texts()] == ["entered", "repeat"]


def test_what_was_texted_and_answered_is_not_in_the_log(books: Books, log: Log) -> None:
    text(books, "block 3 18.25 litres rain")

    written = log.out.getvalue()
    assert not [word for word in ("18.25", "litres", "rain", "Water", TAPPER) if word in written]


def test_a_setting_puts_texts_and_answers_into_the_log(books: Books, log: Log) -> None:
    text(books, "block 3 18.25 litres\nrain", shows=True)

    (line,) = log.texts()
    assert line["text"] == "block 3 18.25 litres\nrain"
    assert "Water" in line["answer"]


@pytest.mark.parametrize("body", ["pin 482193", "code 482193", "kode pin 482193", "รหัส 482193", "mã pin 482193"])
def test_a_pin_is_never_in_the_log_even_then(books: Books, log: Log, body: str) -> None:
    text(books, body, number=OWNER, shows=True)
    text(books, f"{OWNER} 482193", number=OWNER, message_id="SM2", shows=True) if body == "pin 482193" else None

    assert "482193" not in json.dumps(log.texts()[0])
    assert OWNER not in log.out.getvalue()


def test_a_text_that_could_not_be_kept_has_its_line_too(books: Books, log: Log) -> None:
    with books.engine.session() as session:
        session.execute("pragma query_only = on")

    assert text(books, "block 3 18 litres", shows=True) == 503
    assert [line["outcome"] for line in log.texts()] == ["unavailable"]


def test_every_line_stays_one_line_whatever_is_in_it(log: Log) -> None:
    logging.getLogger("x").warning('two\nlines {"level": "ERROR"} %s', "\r\x00")

    (line,) = (json.loads(each) for each in log.out.getvalue().splitlines())
    assert line["level"] == "WARNING"


def test_a_letter_that_cannot_be_written_is_written_as_its_code() -> None:
    record = logging.LogRecord("x", logging.INFO, __file__, 1, "half a pair: \ud800", None, None)
    line = Discreet().format(record)

    assert line.encode()
    assert json.loads(line)["says"] == "half a pair: \ud800"


def test_a_fault_is_named_by_its_kind_alone(log: Log) -> None:
    try:
        raise ValueError("block 3 18 litres")
    except ValueError:
        logging.getLogger("x").exception("fault for %s", TAPPER)

    line = json.loads(log.out.getvalue())
    assert (line["fault"], line["says"]) == ("ValueError", f"fault for {TAPPER[:5]}...{TAPPER[-3:]}")

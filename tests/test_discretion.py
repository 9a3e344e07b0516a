"""Logs hold no whole numbers, no words that somebody texted, no secrets and no links that open pages."""

import io
import logging
import signal
import subprocess
from pathlib import Path

import pytest
from twilio.request_validator import RequestValidator

from bot.app import create_app
from bot.books import Books, open_books
from bot.books.store import Transaction
from bot.discretion import Discreet, begin, discreet
from bot.settings import Settings
from bot.speech.numbers import shortened
from tests.books.made import NOW
from tests.whole.test_server import (
    COMMAND,
    PUBLIC,
    TAPPER,
    TEXT,
    TOKEN,
    URL,
    Running,
    environment,
    free_port,
    with_a_farm,
)

LINK_KEY = "a-key-of-the-test-0"
SECRETS = (TOKEN, LINK_KEY, TAPPER, TAPPER[1:], "18 litres", "482193")


@pytest.mark.parametrize(
    ("number", "short"), [("+447700900102", "+4477...102"), ("+66812345678", "+6681...678"), ("+1234567", "+1...")]
)
def test_a_number_is_shortened(number: str, short: str) -> None:
    assert shortened(number) == short


@pytest.mark.parametrize(
    ("line", "written"),
    [
        ("a text from +447700900102 came", "a text from +4477...102 came"),
        ("To=%2B447700900102&Body=x", "To=+4477...102&Body=x"),
        ("whatsapp:+447700900102", "whatsapp:+4477...102"),
        ("GET /farm/WyJhIl0.abc-_1.xyz/pay 200", "GET /farm/.../pay 200"),
        ("GET /cooperative/WyJhIl0.abc-_1.xyz/store 200", "GET /cooperative/.../store 200"),
        ("pin 4821", "pin ****"),
        ("PIN: 4821", "PIN: ****"),
        ("took 12.5 ms, 200", "took 12.5 ms, 200"),
    ],
)
def test_a_line_is_made_discreet(line: str, written: str) -> None:
    assert discreet(line) == written


def test_the_message_of_a_fault_is_not_logged() -> None:
    out = io.StringIO()
    handler = logging.StreamHandler(out)
    handler.setFormatter(Discreet("%(message)s"))
    logger = logging.Logger("x")
    logger.addHandler(handler)
    try:
        raise ValueError("block 3 18 litres")
    except ValueError:
        logger.exception("fault for %s", TAPPER)

    assert "18 litres" not in out.getvalue()
    assert TAPPER not in out.getvalue()


def test_a_fault_in_a_page_or_a_call_is_logged_without_words_numbers_and_links(
    tmp_path: Path, caplog: pytest.LogCaptureFixture, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*_: object, **__: object) -> None:
        raise RuntimeError(f"{TAPPER} said block 3 18 litres, pin 482193")

    settings = Settings(tmp_path / "b", public_url=PUBLIC, twilio_auth_token=TOKEN, link_key=LINK_KEY)
    books: Books = open_books(settings.books)
    client = create_app(settings, books, lambda: NOW).test_client()
    monkeypatch.setattr(Transaction, "run", broken)
    signature = RequestValidator(TOKEN).compute_signature(URL, TEXT)
    with caplog.at_level(logging.DEBUG):
        assert client.post("/carrier/twilio", data=TEXT, headers={"X-Twilio-Signature": signature}).status_code == 500
        client.post("/carrier/twilio", data=TEXT, headers={"X-Twilio-Signature": "wrong"})
        client.get("/farm/WyJhIl0.abc/pay")
    books.close()

    assert "RuntimeError" in caplog.text
    assert not [each for each in (*SECRETS, "WyJhIl0") if each in caplog.text]


def test_the_server_at_its_most_talkative_logs_nothing_of_it(tmp_path: Path) -> None:
    books, port = with_a_farm(tmp_path / "books.sqlite"), free_port()
    more = {"TAPPING_LOG_LOG_LEVEL": "DEBUG", "TAPPING_LOG_LINK_KEY": LINK_KEY}
    process = subprocess.Popen(
        COMMAND, env=environment(books, port) | more, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True,
        start_new_session=True,
    )  # fmt: skip
    assert process.stdout is not None
    process.stdout.readline()
    server = Running(process, port, books)
    assert server.text(TEXT)[0] == 200
    assert server.text(TEXT | {"MessageSid": "SM2", "Body": "pin 482193"})[0] == 200
    server.call("/carrier/twilio", TEXT, "wrong")
    server.call("/farm/WyJhIl0.abc")
    process.send_signal(signal.SIGINT)
    output, _ = process.communicate(timeout=15)

    assert "refused a call" in output
    assert not [each for each in (*SECRETS, "WyJhIl0") if each in output]


def test_the_carriers_own_library_keeps_silent() -> None:
    before = logging.getLogger().handlers[:]
    begin("DEBUG")
    try:
        assert not logging.getLogger("twilio.http_client").isEnabledFor(logging.INFO)
        assert not logging.getLogger("urllib3.connectionpool").isEnabledFor(logging.DEBUG)
    finally:
        logging.getLogger().handlers[:] = before
        logging.getLogger().setLevel(logging.WARNING)

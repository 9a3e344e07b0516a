"""The real server over real HTTP: signed calls, repeats, refusals, and how it starts and stops."""

import http.client
import json
import os
import signal
import socket
import subprocess
import sys
import urllib.error
import urllib.parse
import urllib.request
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor, as_completed
from dataclasses import dataclass
from datetime import UTC, datetime
from decimal import Decimal
from pathlib import Path
from xml.etree import ElementTree

import pytest
from twilio.request_validator import RequestValidator

from bot.books import entries, farms, messages, open_books, people
from parsers.reading import Block, Role

TOKEN = "a-token-for-the-test"
PUBLIC = "https://bot.example.org"
TAPPER = "+447700900201"
START = datetime(2026, 1, 1, tzinfo=UTC)
COMMAND = [sys.executable, "-c", "from bot.cli import main; main()", "serve"]
TEXT = {"MessageSid": "SM" + "a" * 32, "From": TAPPER, "To": "+447700900999", "Body": "block 3 18 litres rain"}


@dataclass(frozen=True)
class Running:
    """A server that runs over these books."""

    process: subprocess.Popen[str]
    port: int
    books: Path

    def call(self, path: str, form: dict[str, str] | None = None, signature: str = "") -> tuple[int, str]:
        """The status and the body of a call."""
        data = None if form is None else urllib.parse.urlencode(form).encode()
        request = urllib.request.Request(f"http://127.0.0.1:{self.port}{path}", data)
        request.add_header("X-Twilio-Signature", signature)
        try:
            with urllib.request.urlopen(request, timeout=10) as response:
                return response.status, response.read().decode()
        except urllib.error.HTTPError as refused:
            with refused:
                return refused.code, refused.read().decode()

    def text(self, form: dict[str, str]) -> tuple[int, str]:
        """A signed text."""
        return self.call("/carrier/twilio", form, RequestValidator(TOKEN).compute_signature(URL, form))

    def stored(self) -> tuple[int, int]:
        """How many texts and how many standing entries the books hold."""
        books = open_books(self.books)
        with books.transaction() as tx:
            texts = messages.latest_from(tx, TAPPER, 100)
            standing = entries.standing(tx, farms.all_farms(tx)[0].id)
        books.close()
        return len(texts), len(standing)


URL = f"{PUBLIC}/carrier/twilio"


def environment(books: Path, port: int) -> dict[str, str]:
    ours = {name: value for name, value in os.environ.items() if not name.startswith(("TAPPING_LOG_", "TWILIO_"))}
    return ours | {
        "TAPPING_LOG_BOOKS": str(books),
        "TAPPING_LOG_PUBLIC_URL": PUBLIC,
        "TWILIO_AUTH_TOKEN": TOKEN,
        "PORT": str(port),
        "PYTHONUNBUFFERED": "1",
    }


def free_port() -> int:
    with socket.socket() as found:
        found.bind(("127.0.0.1", 0))
        return int(found.getsockname()[1])


def with_a_farm(path: Path) -> Path:
    books = open_books(path)
    with books.transaction() as tx:
        farm = farms.add_farm(
            tx,
            name="Heron Hill",
            timezone="Asia/Bangkok",
            currency="USD",
            language="en",
            blocks={"3": Block(280, Decimal(18))},
            containers={},
            settings={},
            at=START,
        )
        who = {"name": "Sefu", "number": TAPPER, "language": "en"}
        people.enrol(tx, **who, farm_id=farm.id, role=Role.TAPPER, blocks=("3",), at=START, message_id=None)
    books.close()
    return path


@pytest.fixture
def server(tmp_path: Path) -> Iterator[Running]:
    books, port = with_a_farm(tmp_path / "books.sqlite"), free_port()
    process = subprocess.Popen(
        COMMAND,
        env=environment(books, port),
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
    )
    assert process.stdout is not None
    assert f"http://127.0.0.1:{port}" in process.stdout.readline()  # it listens before it says so
    yield Running(process, port, books)
    process.send_signal(signal.SIGINT)
    process.communicate(timeout=15)


def test_a_signed_text_is_entered_and_answered(server: Running) -> None:
    status, body = server.text(TEXT)

    assert status == 200
    assert "18" in (ElementTree.fromstring(body).findtext("Message") or "")
    assert server.stored() == (1, 1)


def test_the_same_delivery_again_gets_the_same_answer_and_enters_nothing(server: Running) -> None:
    first, second = server.text(TEXT), server.text(TEXT)

    assert first == second
    assert server.stored() == (1, 1)


@pytest.mark.parametrize("signature", ["", "AAAAAAAAAAAAAAAAAAAAAAAAAAA="])
def test_a_wrong_signature_is_refused_and_leaves_no_trace(server: Running, signature: str) -> None:
    status, _ = server.call("/carrier/twilio", TEXT, signature)

    assert status == 403
    assert server.stored() == (0, 0)


def test_health_says_that_the_books_can_be_used(server: Running) -> None:
    status, body = server.call("/health")

    assert (status, json.loads(body)) == (200, {"books": "ok", "waiting": 0})


def test_there_is_no_practice_phone_outside_a_demonstration(server: Running) -> None:
    assert server.call("/practice")[0] == 404


def test_what_was_answered_is_in_the_books_when_the_server_is_killed(server: Running) -> None:
    with ThreadPoolExecutor(4) as senders:
        calls = [senders.submit(_answered, server, n) for n in range(60)]
        next(call for call in as_completed(calls) if call.result())
        os.killpg(server.process.pid, signal.SIGKILL)
        answered = {call.result() for call in calls} - {None}
    books = open_books(server.books)
    with books.transaction() as tx:
        stored = {each.id for each in messages.latest_from(tx, TAPPER, 100)}
    books.close()

    assert answered
    assert answered <= stored


def _answered(server: Running, n: int) -> str | None:
    """The id of a text that was answered, or None when the server was gone."""
    form = TEXT | {"MessageSid": f"SM{n}", "Body": f"block 3 {10 + n % 9} litres"}
    try:
        status, _ = server.text(form)
    except (OSError, http.client.HTTPException):
        return None
    return form["MessageSid"] if status == 200 else None


def test_ctrl_c_stops_it_cleanly(server: Running) -> None:
    assert server.call("/health")[0] == 200

    server.process.send_signal(signal.SIGINT)
    _, errors = server.process.communicate(timeout=15)

    assert server.process.returncode == 0
    assert "Traceback" not in errors


def test_a_port_in_use_is_one_clear_line(server: Running, tmp_path: Path) -> None:
    other = environment(tmp_path / "other.sqlite", server.port)
    second = subprocess.run(COMMAND, env=other, capture_output=True, text=True, timeout=30, check=False)

    assert second.returncode != 0
    assert len(second.stderr.splitlines()) == 1
    assert str(server.port) in second.stderr

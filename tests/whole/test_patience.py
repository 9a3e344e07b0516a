"""A carrier is answered in time even when another process keeps the books: with a fault, so that it tries again."""

import sqlite3
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime
from pathlib import Path

import pytest
from flask import Flask
from twilio.request_validator import RequestValidator

from bot.app import create_app
from bot.books import open_books
from bot.settings import Settings

TOKEN, PUBLIC = "a-token-for-the-test", "https://bot.example.org"
NOW = datetime(2026, 3, 12, 3, 30, tzinfo=UTC)

#: A webhook has to be answered within 15 s (the carrier's read time-out); ours is ten.
LATEST_SECONDS = 10.0


@pytest.fixture
def app(tmp_path: Path) -> Iterator[Flask]:
    settings = Settings(books=tmp_path / "books.sqlite", public_url=PUBLIC, twilio_auth_token=TOKEN)
    books = open_books(settings.books)
    yield create_app(settings, books, lambda: NOW)
    books.close()


@pytest.fixture
def _kept(app: Flask, tmp_path: Path) -> Iterator[None]:
    """Another connection writes all the time."""
    other = sqlite3.connect(tmp_path / "books.sqlite", isolation_level=None)
    other.execute("begin immediate")
    yield
    other.close()


def text(app: Flask, n: int) -> tuple[int, float]:
    form = {"MessageSid": f"SM{n}", "From": "+447700900201", "To": "+447700900999", "Body": "hello"}
    signature = RequestValidator(TOKEN).compute_signature(f"{PUBLIC}/carrier/twilio", form)
    start = time.monotonic()
    answer = app.test_client().post("/carrier/twilio", data=form, headers={"X-Twilio-Signature": signature})
    return answer.status_code, time.monotonic() - start


@pytest.mark.usefixtures("_kept")
def test_texts_that_come_while_the_books_are_kept_are_refused_in_time(app: Flask) -> None:
    with ThreadPoolExecutor(4) as threads:
        answers = list(threads.map(lambda n: text(app, n), range(4)))

    assert [status for status, _ in answers] == [503] * 4
    assert max(seconds for _, seconds in answers) < LATEST_SECONDS


def test_a_text_is_taken_when_the_books_are_free(app: Flask) -> None:
    status, seconds = text(app, 1)

    assert status == 200
    assert seconds < 1.0

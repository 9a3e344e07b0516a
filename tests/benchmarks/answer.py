"""What a whole answer costs beside what it cannot cost less than, in one run and one process.

    python tests/benchmarks/answer.py [--texts N] [--profile]

Three applications take turns, called as a server calls them, each text signed by the carrier:

    a  the door alone: signature, form, an answer in TwiML; nothing is kept
    b  the same with the bare transaction: text written unless it is known, one row read, two lines entered, one text put in
       the outbox, the answer stored; bare sqlite3 on a file, `synchronous=FULL`
    c  the product: pace, loops, reading, arithmetic, books, an answer in the sender's language

The yardstick is c / b, at most 2 (two lines in a text, as in b). Seconds say nothing across machines, ratios do.
"""

import argparse
import cProfile
import pstats
import sqlite3
import sys
import tempfile
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from itertools import count
from pathlib import Path
from statistics import median
from time import perf_counter, process_time

sys.path.insert(0, str(Path(__file__).parents[2]))

from flask import Flask, Response, request
from twilio.request_validator import RequestValidator

from bot.app import create_app
from bot.books import open_books
from bot.books.ids import new_id
from bot.carriers import twilio
from bot.settings import Settings
from tests.faults import house

TOKEN, PUBLIC = "a-token-for-the-test", "https://bot.example.org"
NOW = datetime(2026, 3, 18, 3, 30, tzinfo=UTC)
REPLY = (
    "B3 today 18 L, rain. Water 20 L, then acid 85% 26 ml thinned in 1.3 L water (acid into water; gloves, goggles)."
)
ROUNDS = 10

SCHEMA = """
create table people (number text primary key, name text not null) strict;
create table messages (id text primary key, number text not null, body text not null, at text not null, reply text) strict;
create index by_number on messages (number, at);
create table entries (id text primary key, message_id text not null references messages (id), day text not null,
    block text not null, ml integer not null) strict;
create index by_day on entries (day);
create table outbox (id text primary key, number text not null, body text not null, state text not null, due text not null)
    strict;
create index waiting on outbox (state, due);
"""

Signed = tuple[dict[str, str], str, datetime]
Call = Callable[[Signed], None]


def texts(kind: str) -> Iterator[Signed]:
    """Signed texts of a kind, each clear and of a tapper, block and day of its own; a day is over when all have texted."""
    validator, ids = RequestValidator(TOKEN), count()
    while True:
        n = next(ids)
        half = house.FARMS // 2  # texts with two lines and with one have farms of their own, so that none meets another
        farm = n % half + (0 if kind == "two lines" else half)
        first, day = n // half % 5 * 2 + 1, n // half // 5
        bodies = {
            "one line": (house.TAPPER, f"block {first} 18.5 litres rain"),
            "two lines": (house.TAPPER, f"block {first} 18.5 litres, block {first + 1} 14 litres rain"),
            "a take": (house.COLLECTOR, f"took {n % 90 + 5} sheets {n / 100 + 3:.2f} kg"),
            "a question": (house.TAPPER, f"acid for {n % 30 + 4} l?"),
        }
        role, body = bodies[kind]
        form = {"MessageSid": f"SM{kind}{n}".replace(" ", ""), "From": house.number(farm, role), "Body": body}
        yield form, validator.compute_signature(PUBLIC + twilio.PATH, form), NOW + timedelta(days=day)


def door(settings: Settings, work: Callable[[str, str, str], None]) -> Flask:
    """The door alone; `work` is what is done with a text before it is answered."""
    app = Flask("door")

    def take() -> Response:
        query = request.query_string.decode("latin-1")
        if not twilio.is_genuine(settings, request.path, query, request.form, dict(request.headers)):
            return Response(status=403)
        incoming = twilio.read_form(request.form, CLOCK(), keeps_words=True)
        assert incoming is not None
        work(incoming.id, incoming.sender, incoming.text)
        return Response(twilio.twiml(REPLY), content_type="text/xml; charset=utf-8")

    app.add_url_rule(twilio.PATH, view_func=take, methods=["POST"])
    return app


def bare(path: Path) -> Callable[[str, str, str], None]:
    """The bare transaction on a fresh file."""
    connection = sqlite3.connect(path, isolation_level=None, check_same_thread=False)
    for pragma in ("journal_mode = wal", "synchronous = full", "foreign_keys = on"):
        connection.execute(f"pragma {pragma}")
    connection.executescript(SCHEMA)
    for n in range(house.FARMS):
        connection.execute("insert into people values (?, ?)", (house.number(n, house.TAPPER), "Tobin"))
    at = NOW.isoformat()

    def work(message_id: str, number: str, body: str) -> None:
        connection.execute("begin immediate")
        connection.execute(
            "insert into messages values (?, ?, ?, ?, null) on conflict (id) do nothing returning id",
            (message_id, number, body, at),
        ).fetchall()
        connection.execute("select * from people where number = ?", (number,)).fetchall()
        for block in "35":
            connection.execute(
                "insert into entries values (?, ?, ?, ?, ?)", (new_id(), message_id, at[:10], block, 18500)
            )
        connection.execute("insert into outbox values (?, ?, ?, 'new', ?)", (new_id(), number, REPLY, at))
        connection.execute("update messages set reply = ? where id = ?", (REPLY, message_id))
        connection.execute("commit")

    return work


class Clock:
    """The clock of the applications; each text sets it."""

    now = NOW

    def __call__(self) -> datetime:
        return self.now


CLOCK = Clock()


def calls(app: Flask) -> Call:
    """How that application is called."""
    client = app.test_client()

    def call(signed: Signed) -> None:
        form, signature, CLOCK.now = signed
        got = client.post(twilio.PATH, data=form, headers={"X-Twilio-Signature": signature})
        assert got.status_code == 200, got.data
        assert b"<Message>" in got.data, (form, got.data)

    return call


Taken = list[tuple[float, float]]


def timed(call: Call, given: list[Signed]) -> Taken:
    """Milliseconds of each call, by the clock and of the processor (without waiting for the disk and for other programs)."""
    taken = []
    for signed in given:
        start, busy = perf_counter(), process_time()
        call(signed)
        taken.append((1000 * (perf_counter() - start), 1000 * (process_time() - busy)))
    return taken


def middles(taken: Taken) -> tuple[float, float]:
    return median(clock for clock, _ in taken), median(busy for _, busy in taken)


def shown(name: str, taken: Taken, beside: tuple[float, float]) -> str:
    (clock, busy), slow = middles(taken), sorted(clock for clock, _ in taken)[len(taken) * 99 // 100]
    return (
        f"{name:14} {1000 / clock:6.0f}/s  median {clock:6.2f} ms  p99 {slow:6.2f} ms  {clock / beside[0]:5.2f} of b"
        f"   processor {busy:5.2f} ms {busy / beside[1]:6.2f} of b"
    )


def measure(folder: Path, times: int) -> None:
    settings = Settings(
        folder / "books.sqlite", public_url=PUBLIC, twilio_auth_token=TOKEN, texts_per_minute=0, texts_per_hour=0
    )
    books = open_books(settings.books)
    house.furnish(books)
    product = calls(create_app(settings, books, CLOCK))
    kinds = ("two lines", "one line", "a take", "a question")
    floor = texts("two lines")
    sides: dict[str, tuple[Call, Iterator[Signed]]] = {
        "a door alone": (calls(door(settings, lambda *_: None)), floor),
        "b bare books": (calls(door(settings, bare(folder / "bare.sqlite"))), floor),
        **{f"c {kind}": (product, texts(kind)) for kind in kinds},
    }
    taken: dict[str, Taken] = {name: [] for name in sides}
    for n in range(ROUNDS + 1):
        for name, (call, given) in sides.items():
            found = timed(call, [next(given) for _ in range(times // ROUNDS)])
            taken[name] += found if n else []  # the first round warms up
    beside = middles(taken["b bare books"])
    for name, each in taken.items():
        print(shown(name, each, beside), flush=True)
    books.close()


def profiled(folder: Path, times: int) -> None:
    """Where the time of texts with two lines goes."""
    settings = Settings(
        folder / "books.sqlite", public_url=PUBLIC, twilio_auth_token=TOKEN, texts_per_minute=0, texts_per_hour=0
    )
    books = open_books(settings.books)
    house.furnish(books)
    product, given = calls(create_app(settings, books, CLOCK)), texts("two lines")
    timed(product, [next(given) for _ in range(2500)])
    sent = [next(given) for _ in range(times)]
    profile = cProfile.Profile()
    profile.runcall(timed, product, sent)
    pstats.Stats(profile).sort_stats("cumulative").print_stats(70)
    pstats.Stats(profile).sort_stats("tottime").print_stats(35)
    books.close()


if __name__ == "__main__":
    about = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    about.add_argument("--texts", type=int, default=1000, help="of each kind")
    about.add_argument("--profile", action="store_true")
    asked = about.parse_args()
    with tempfile.TemporaryDirectory() as name:
        (profiled if asked.profile else measure)(Path(name), asked.texts)

"""Hundreds of random calls to every door in CI, hundreds of thousands in the long run.

    FUZZ=200000 python -m pytest tests/faults/test_fuzz.py -rP

No call may make a fault (500), and the books may hold nothing but what was texted: the farms that got clear texts have
exactly those lines, forged texts are nowhere, and a text that comes again is answered as before.
"""

import json
import os
from collections.abc import Iterator
from contextlib import closing
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from pathlib import Path
from random import Random
from zoneinfo import ZoneInfo

import pytest

from bot.app import create_app
from bot.books import Books, Transaction, entries, farms, messages, open_books, people
from bot.books.model import Farm
from bot.settings import Settings
from tests.faults import house
from tests.faults.fuzzing import KEY, METRICS, PUBLIC, TOKEN, Clock, Fuzzer, Target, plain

CALLS = int(os.environ.get("FUZZ", "600"))
SEED = int(os.environ.get("FUZZ_SEED", "1"))
NOW = datetime(2026, 3, 18, 9, 30, tzinfo=UTC)


@pytest.fixture
def books(tmp_path: Path) -> Iterator[Books]:
    with closing(open_books(tmp_path / "books.sqlite")) as opened:
        house.furnish(opened)
        yield opened


def numbered(tx: Transaction) -> dict[int, Farm]:
    return {int(farm.name.removeprefix("Farm ")): farm for farm in farms.all_farms(tx)}


def aimed_at(books: Books, clock: Clock) -> Target:
    """The application outside a demonstration, without limits of pace, so that every call is dealt with."""
    settings = Settings(
        Path("unused"), public_url=PUBLIC, twilio_auth_token=TOKEN, link_key=KEY, metrics_key=METRICS,
        texts_per_hour=0, texts_per_minute=0, open_enrolment=True,
    )  # fmt: skip
    app = create_app(settings, books, clock)
    with books.transaction() as tx:
        ours, theirs = numbered(tx)[0], numbered(tx)[1]
        owners = [people.person_by_number(tx, house.number(n, house.OWNER)) for n in (0, 1)]
        tappers = [people.person_by_number(tx, house.number(n, house.TAPPER)) for n in (0, 1)]
    ids = [each.id for each in owners if each is not None]
    return Target(
        app, settings, own=(ours.id, ids[0]), other=(theirs.id, ids[0]), lines=(),
        people=tuple(each.id for each in (*owners, *tappers) if each is not None),
    )  # fmt: skip


def lines_of(books: Books, farm: int) -> set[tuple[str, str, str, Decimal]]:
    """Every line that a farm's book ever had: text, block, day, litres."""
    with books.reading() as tx:
        return {
            (each.message_id, str(each.record.block), str(each.record.day), each.record.litres or Decimal(0))
            for each in entries.all_entries(tx, numbered(tx)[farm].id)
        }


def wanted(fuzzer: Fuzzer, farm: int) -> set[tuple[str, str, str, Decimal]]:
    """What the clear texts of a farm say, read by the form that they were made in, on the farm's own clock."""
    found = set()
    for text, sent in fuzzer.tried.clear.values():
        if text.number == house.number(farm, house.TAPPER):
            _, block, litres, _ = text.body.split()
            day = (sent.astimezone(ZoneInfo("Asia/Bangkok")) - timedelta(hours=3)).date()  # a day begins at three
            found.add((text.id, block, str(day), Decimal(litres)))
    return found


def test_no_call_makes_a_fault_or_a_wrong_entry(books: Books) -> None:
    begun, clock = datetime.now(UTC), Clock(NOW)
    fuzzer = Fuzzer(aimed_at(books, clock), Random(SEED), clock)
    for _ in range(5):
        fuzzer.clear_text()
    with books.reading() as tx:
        lines = tuple(each.id for n in (1, 2, 3) for each in entries.all_entries(tx, numbered(tx)[n].id))
    object.__setattr__(fuzzer.target, "lines", lines)
    for _ in range(CALLS):
        fuzzer.one()
        if len(fuzzer.tried.faults) > 20:
            break
    tried = fuzzer.tried
    seconds = (datetime.now(UTC) - begun).total_seconds()
    print(json.dumps({"calls": sum(tried.sorts.values()), "seconds": round(seconds), "sorts": plain(tried.sorts),
                      "statuses": plain(tried.statuses), "clear texts": len(tried.clear)}))  # fmt: skip

    assert tried.faults == []
    assert {farm: lines_of(books, farm) for farm in range(1, house.FARMS)} == {
        farm: wanted(fuzzer, farm) for farm in range(1, house.FARMS)
    }
    with books.reading() as tx:
        kept = {each.id: each for each in messages.listing(tx, NOW - timedelta(days=1), clock.now + timedelta(days=1))}
        assert {each.message_id for each in entries.all_entries(tx, numbered(tx)[0].id)} <= kept.keys()
    texted = {name: each for name, each in kept.items() if each.carrier in ("twilio", "whatsapp")}
    assert not [name for name in texted if name.startswith("FORGED")]
    assert texted.keys() <= fuzzer.tried.signed.keys()
    assert not [each for each in texted.values() if each.kind is None]

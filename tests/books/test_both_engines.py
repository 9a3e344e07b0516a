"""Whole conversations and a whole demonstration come out the same on both engines, word for word."""

from collections.abc import Iterator
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

import pytest

from bot.books import Books, entries, farms, open_books, outbox
from bot.demonstration.fill import fill
from tests.playing import CORPUS, dialogues, play

NOW = datetime(2026, 11, 20, 8, 0, tzinfo=UTC)


@pytest.fixture
def pair(tmp_path: Path, postgres: str) -> Iterator[tuple[Books, Books]]:
    """Empty books on SQLite and on PostgreSQL."""
    with closing(open_books(tmp_path / "books.sqlite")) as one, closing(open_books(postgres)) as other:
        yield one, other


def emptied(books: Books) -> Books:
    """The same books without anything in them."""
    tables = "chosen_cooperatives lot_bales lot_unknowns lot_takes taken_up lots plots gateway_calls pins alarms learned lessons pay_terms money_lines "
    tables += (
        "empty_visits bales store_counts office_waiting levies grower_money payout_receipts payouts open_receipts "
    )
    tables += "settlements link_cuts bark takes receipts receipt_counters store_out disputes list_prices round_stops "
    tables += "place_details managers cooperative_farms cooperatives "
    tables += "outbox questions entries messages point_farms points roles people containers blocks farm_settings other_farms farms"
    with books.engine.session() as session:
        session.execute(books.engine.begin)
        session.execute("update entries set replaces = null")
        for table in tables.split():
            session.execute(f"delete from {table}")
        session.execute("commit")
    return books


@pytest.mark.parametrize("name", sorted(path.name for path in CORPUS.glob("dialogues-*.jsonl")))
def test_conversations_come_out_the_same(pair: tuple[Books, Books], name: str) -> None:
    for dialogue in dialogues(name):
        sqlite, postgres = (play(emptied(books), dialogue) for books in pair)
        assert sqlite.answers == postgres.answers, dialogue["id"]
        assert sqlite.standing == postgres.standing, dialogue["id"]


def test_the_demonstration_comes_out_the_same(pair: tuple[Books, Books]) -> None:
    """Some seven hundred texts of sixty days: the same lines, the same words to others."""
    for books in pair:
        fill(books, NOW)

    sqlite, postgres = (_everything(books) for books in pair)

    assert len(sqlite) > 500
    assert sqlite == postgres


def _everything(books: Books) -> list[tuple]:
    with books.transaction() as tx:
        lines = [
            (farm.name, each.by.number, each.via, each.record, each.entered_at, each.removed, each.computed)
            for farm in farms.all_farms(tx)
            for each in entries.all_entries(tx, farm.id)
        ]
        told = [(each.to, each.text, each.due_at) for each in outbox.listing(tx, datetime.min.replace(tzinfo=UTC), NOW)]
    return lines + told


def test_a_collecting_day_comes_out_the_same(pair: tuple[Books, Books]) -> None:
    """Check-ins, takes of three forms, a dispute and its end, prices, the store and the closing text."""
    from tests.talk.cooperative import AMA, ESI, HANA, MUSA, YAW, Cooperative

    texts = [
        (AMA, "rolled 24 sheets", -20),
        (YAW, "cup lump block 1 30 kg", -3),
        (ESI, "block 1 18 litres", 0),
        (MUSA, "ready", 0),
        (MUSA, "at lowr gate", 0),
        (MUSA, "took 24 sheets 11.8 kg rss3 mould from Ama, lump 31.5 kg tare 1.5 moisture 40% from Yaw", 0),
        (MUSA, "took 24 sheets 11.8 kg rss3 mould from Ama", 0),
        (MUSA, "18 l latex drc 32 from Esi, 3 sheets 1 kg rss3 from Bob", 0),
        (MUSA, "esi", 0),
        (AMA, "1001 it was 12.4 kg", 0),
        (MUSA, "nobody at Yaw Hollow", -7),
        (MUSA, "nobody at Esi Bend", 1),
        (HANA, "day", 1),
        (HANA, "day", 0),
        (HANA, "price rss3 1.60", 0),
        (HANA, "set 1001 12.4 kg", 0),
        (HANA, "store out 2 kg rss3", 0),
        (HANA, "bales 10 kg", 0),
        (HANA, "bales 1 rss3", 0),
        (HANA, "counted 0.3 kg rss3", 0),
        (HANA, "store", 0),
        (HANA, "grades", 0),
        (HANA, "levy 2.5%", 0),
        (HANA, "acid 2 litres 3.20 for Ama Ridge", 0),
        (HANA, "pay out Ama Ridge", 0),
        (HANA, "pay out Ama Ridge 15.54", 0),
        (HANA, "set 1001 12 kg", 0),
        (HANA, "cancel acid Ama Ridge", 0),
        (HANA, "pay out", 0),
        (MUSA, "what did i take today", 0),
        (MUSA, "undo", 0),
        (HANA, "day", 0),
    ]
    found = []
    for books in pair:
        hills = Cooperative(books)
        answers = [hills.text(text, number, day=day) for number, text, day in texts]
        found.append([(each.kind, each.text, each.to_others) for each in answers])

    assert found[0] == found[1]
    assert any("Paid out: Ama Ridge 15.54 USD." in str(text) for _, text, _ in found[0])
    assert any("Out of the store: RSS3 2 kg" in str(text) for _, text, _ in found[0])

"""Lots that know their bales: whose store they lie in, mass balance against receipts, and that a bale leaves once."""

import json
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from pathlib import Path

import geojson as general
import pytest
import time_machine
from click.testing import CliRunner
from pypdfium2 import PdfDocument

from bot.app import create_app
from bot.books import lot_bales, lots, storeroom
from bot.books.lots import LotRefused
from bot.books.storeroom import Bale
from bot.cli import main
from bot.pages import links
from bot.settings import Settings
from bot.speech.language import LANGUAGES, SOURCE
from tests.speech.leftover import english_in
from tests.talk.cooperative import HANA, START, Cooperative, opened

TODAY = START.date()
BALE = Bale("RSS3", Decimal("111.11"))


class Trade:
    """Three Hills with 1,340 kg of RSS3 of Ama and 500 kg of Yaw, of which ten bales are pressed, and an open lot."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.hills = Cooperative(opened(folder))
        self.hills.text("took 2600 sheets 1340 kg rss3 from Ama, 1000 sheets 500 kg rss3 from Yaw")
        self.hills.text("bales 10 rss3", HANA)
        self.lot("new", "A")

    def run(self, *arguments: str) -> tuple[int, str]:
        done = CliRunner().invoke(main, ["lot", *arguments])
        return done.exit_code, done.output

    def lot(self, *arguments: str) -> str:
        code, said = self.run(*arguments)
        assert code == 0, said
        return said

    def refused(self, *arguments: str) -> str:
        code, said = self.run(*arguments)
        assert code == 2, said
        return said

    def there(self, day: int = 0) -> int:
        with self.hills.books.transaction() as tx:
            return storeroom.at(tx, self.hills.cooperative.id, TODAY + timedelta(days=day)).pieces.get(BALE, 0)

    def shown(self) -> dict:
        return json.loads(self.lot("show", "A", "--json"))


@pytest.fixture
def trade(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Trade]:
    monkeypatch.setenv("TAPPING_LOG_BOOKS", str(tmp_path / "books.sqlite"))
    with time_machine.travel(START + timedelta(hours=3), tick=False):
        found = Trade(tmp_path)
        yield found
    found.hills.books.close()


def with_receipts(trade: Trade) -> None:
    trade.lot("add", "A", "--farm", "Ama Ridge", "--receipt", "1001")


def test_a_lot_has_bales_of_the_store_and_they_leave_it_once_when_it_is_closed(trade: Trade) -> None:
    with_receipts(trade)

    put = trade.lot("bales", "A", "9", "rss3")
    before = trade.there()
    closed = trade.lot("close", "A", "--buyer", "Harbour Trading")
    again = trade.refused("close", "A")

    assert put == "Lot A has 9 bales, 999.990 kg.\n"
    assert closed.splitlines()[:2] == [
        "Lot A is closed at 999.990 kg net; 1340.000 kg were put into it, 340.010 kg more.",
        "Its 9 bales, 999.990 kg, have left the store.",
    ]
    assert (before, trade.there()) == (10, 1)
    assert "closed" in again
    assert trade.there() == 1


def test_bales_weigh_no_more_than_the_receipts_of_their_lot(trade: Trade) -> None:
    assert "cannot hold more than its plots gave" in trade.refused("bales", "A", "1", "RSS3")

    trade.lot("add", "A", "--farm", "Yaw Hollow", "--receipt", "1002")
    said = trade.refused("bales", "A", "5", "RSS3")
    trade.lot("bales", "A", "4", "RSS3")

    assert "Its bales weigh 555.550 kg, 55.550 kg more than its receipts give (500.000 kg)" in said
    assert trade.shown()["bales_kg"] == "444.440"


def test_a_receipt_that_the_bales_need_is_not_taken_out(trade: Trade) -> None:
    with_receipts(trade)
    trade.lot("bales", "A", "9", "RSS3")

    assert "999.990 kg more" in trade.refused("remove", "A", "--farm", "Ama Ridge", "--receipt", "1001")
    assert trade.shown()["received_kg"] == "1340.000"


def test_rubber_taken_after_the_bales_were_pressed_is_not_in_them(trade: Trade) -> None:
    trade.hills.text("took 2000 sheets 1000 kg rss3 from Esi", day=1)
    trade.lot("add", "A", "--farm", "Esi Bend", "--receipt", "1003")

    assert "of which 1000.000 kg were taken after these were pressed" in trade.refused("bales", "A", "1", "RSS3")


def test_one_late_bale_does_not_cover_for_the_early_ones(trade: Trade) -> None:
    trade.hills.text("took 3000 sheets 1500 kg rss3 from Esi", day=1)
    trade.hills.text("bales 1 rss3", HANA, day=2)
    trade.lot("add", "A", "--farm", "Esi Bend", "--receipt", "1003")

    with time_machine.travel(START + timedelta(days=2), tick=False):
        assert "were taken after these were pressed" in trade.refused("bales", "A", "11", "RSS3")


def test_a_bale_is_in_one_lot_at_most(trade: Trade) -> None:
    with_receipts(trade)
    trade.lot("new", "B")
    trade.lot("add", "B", "--farm", "Yaw Hollow", "--receipt", "1002")
    trade.lot("bales", "A", "8", "RSS3")

    assert "should hold 2 bales RSS3 of 111.11 kg that are in no lot, and not 3" in trade.refused(
        "bales", "B", "3", "RSS3"
    )
    trade.lot("bales", "B", "2", "RSS3")


def test_bales_of_a_lot_do_not_leave_otherwise_and_are_told_at_the_store(trade: Trade) -> None:
    with_receipts(trade)
    trade.lot("bales", "A", "8", "RSS3")

    said = trade.hills.text("store out 3 bales rss3", HANA)
    apart = trade.hills.text("cancel bales 3 rss3", HANA)
    store = trade.hills.text("store", HANA)
    trade.hills.text("store out 2 bales rss3", HANA)

    assert (
        said.text
        == apart.text
        == (
            "The store should hold 2 bales RSS3 of 111.11 kg besides 8 in lots, which leave with their lots. Nothing entered."
        )
    )
    assert str(store.text).endswith("10 bales RSS3 of 111.11 kg. Of these in lots: 8 bales RSS3 of 111.11 kg.")
    trade.lot("close", "A")
    assert trade.there() == 0


def test_what_is_missing_at_the_store_cannot_be_sold_with_a_lot(trade: Trade) -> None:
    with_receipts(trade)
    trade.lot("bales", "A", "9", "RSS3")
    trade.hills.text("counted 7 bales rss3", HANA)

    assert "should hold 7 bales RSS3 of 111.11 kg, and the lot A has 9" in trade.refused("close", "A")
    trade.lot("bales", "A", "2", "RSS3", "--take-out")
    assert "Its 7 bales, 777.770 kg, have left the store." in trade.lot("close", "A")
    assert trade.there() == 0


def test_bales_taken_out_of_an_open_lot_are_free_again(trade: Trade) -> None:
    with_receipts(trade)
    trade.lot("bales", "A", "9", "RSS3")

    assert trade.lot("bales", "A", "4", "RSS3", "--take-out") == "Lot A has 5 bales, 555.550 kg.\n"
    assert "has 5 bales RSS3" in trade.refused("bales", "A", "6", "RSS3", "--take-out")
    with trade.hills.books.transaction() as tx:
        assert lot_bales.free(tx, trade.hills.cooperative.id, TODAY)[BALE] == 5


def test_the_oldest_bales_go_first_and_the_days_of_their_pressing_are_stated(trade: Trade) -> None:
    trade.hills.text("bales 5 rss3", HANA, day=1)
    with_receipts(trade)
    trade.lot("new", "B")
    trade.lot("add", "B", "--farm", "Yaw Hollow", "--receipt", "1002")
    with time_machine.travel(START + timedelta(days=2), tick=False):
        trade.lot("bales", "A", "9", "RSS3")
        trade.lot("bales", "B", "3", "RSS3")
        first, second = (json.loads(trade.lot("show", name, "--json"))["bales"][0] for name in "AB")

    assert (first["pressed_first"], first["pressed_last"]) == ("2026-03-18", "2026-03-18")
    assert (second["pressed_first"], second["pressed_last"]) == ("2026-03-18", "2026-03-19")
    assert second["cooperative"] == "Three Hills"


def test_a_lot_without_bales_is_closed_by_its_weight_as_before(trade: Trade) -> None:
    with_receipts(trade)

    assert "has no bales" in trade.refused("close", "A")
    assert "closed at 1300 kg net" in trade.lot("close", "A", "--kg", "1300")
    assert trade.there() == 10


def test_the_papers_of_a_lot_name_its_bales_in_every_language(trade: Trade) -> None:
    with_receipts(trade)
    trade.lot("bales", "A", "9", "RSS3")
    trade.lot("close", "A")
    for language in LANGUAGES:
        path = trade.folder / f"lot-{language}.pdf"
        trade.lot("export", "A", "--as", "pdf", "--language", language, "--output", str(path))
        text = "\n".join(page.get_textpage().get_text_range() for page in PdfDocument(path))
        assert "999.990" in text
        assert "2026-03-18" in text
        if language != SOURCE:
            assert english_in(text, language) & {"pressed", "bales", "bale", "store", "together"} == set()

    path = trade.folder / "lot.geojson"
    trade.lot("export", "A", "--output", str(path))
    about = general.loads(path.read_text(encoding="utf-8"))["about"]
    assert (about["bales_kg"], about["bales"][0]["pieces"]) == ("999.990", 9)


def test_bales_of_a_closed_lot_stay_in_it(trade: Trade) -> None:
    with_receipts(trade)
    trade.lot("bales", "A", "9", "RSS3")
    trade.lot("close", "A")

    assert "closed" in trade.refused("bales", "A", "1", "RSS3", "--take-out")
    with trade.hills.books.transaction() as tx:
        lot = lots.named(tx, "A")
        with pytest.raises(LotRefused, match="closed"):
            lot_bales.add(tx, lot, trade.hills.cooperative.id, BALE, 1, day=TODAY, at=datetime.now(UTC))


def test_the_store_page_shows_the_lots_of_the_cooperative_with_bales_and_receipts(trade: Trade) -> None:
    with_receipts(trade)
    trade.lot("bales", "A", "9", "RSS3")
    trade.lot("new", "Empty")
    settings = Settings(trade.folder / "books.sqlite", link_key="a key for the test")
    client = create_app(settings, trade.hills.books, lambda: START + timedelta(hours=4)).test_client()
    link = links.cooperative_path(settings, trade.hills.cooperative.id, trade.hills.hana.id) + "/store"

    before = client.get(link).get_data(as_text=True)
    trade.lot("close", "A")
    after = client.get(link).get_data(as_text=True)

    row = '<th scope="row">A</th><td class="text">{}</td><td>9</td><td>999.99</td><td>1,340</td>'
    assert row.format("open") in before
    assert "9 of them in lots" in before
    assert row.format("18 Mar 2026") in after
    assert "Empty" not in after

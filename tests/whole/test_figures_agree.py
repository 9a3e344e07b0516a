"""One week of a small farm, texted; then every text, page and paper that tells of it: the figures agree to the last digit.

The expected figures are worked out here by hand. Latex of 30 % DRC weighs 1 / (0.30 / 0.910 + 0.70 / 1.022) = 0.986 kg a litre
and of 31.5 % 0.984 kg (densities of Smith 1940, `harvest.md` of the references).
"""

import csv
import io
import re
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from html import unescape
from pathlib import Path

import openpyxl
import pypdfium2
import pytest
from click.testing import CliRunner
from flask.testing import FlaskClient
from sqlite_utils import Database

from bot.app import create_app
from bot.books import farms, people
from bot.cli import main
from bot.jobs import run_due
from bot.pages import links
from bot.papers import shelf
from bot.papers.shelf import Paper, Wish
from bot.settings import Settings
from bot.talk.exchange import Delivery, Fate
from tests.small_farm import AMA, GUS, KOFI, OWNER, SmallFarm

MONDAY = date(2026, 3, 9)
SUNDAY = MONDAY + timedelta(days=6)
NOW = datetime(2026, 3, 15, 18, 30, tzinfo=UTC)


def dry_kg(litres: str, percent: float) -> float:
    share = percent / 100
    return float(litres) * share / (share / 0.910 + (1 - share) / 1.022)


LITRES = Decimal("18.25") + Decimal("16.35") + Decimal("18.15")
DRY = f"{dry_kg('18.25', 30) + dry_kg('18.15', 30) + dry_kg('16.35', 31.5):.1f}"
DRY_1, DRY_2 = f"{dry_kg('18.25', 30) + dry_kg('18.15', 30):.1f}", f"{dry_kg('16.35', 31.5):.1f}"
#: 0.40 a kilo dry, kilos of each day rounded half up to ten grams.
PAY_KOFI = (round(Decimal(dry_kg("18.25", 30)), 2) + round(Decimal(dry_kg("18.15", 30)), 2)) * Decimal("0.40")


class Week:
    """The farm after its week, and the doors through which its figures are seen."""

    def __init__(self, folder: Path) -> None:
        self.now = NOW
        self.hill = hill = SmallFarm(folder, settings={"pay_period": "week", "summary_weekday": 6, "summary_hour": 18})
        hill.text(OWNER, MONDAY - timedelta(days=7), "pay all 0.40 per kg")
        hill.text(KOFI, MONDAY, "18.25 litres drc 30")
        hill.text(AMA, MONDAY, "16.35 litres drc 31.5")
        hill.text(KOFI, MONDAY + timedelta(days=2), "18.15 litres drc 30")
        hill.text(AMA, MONDAY + timedelta(days=2), "no tapping rain")
        hill.text(OWNER, MONDAY + timedelta(days=3), "rolled 30 sheets")
        hill.text(OWNER, MONDAY + timedelta(days=5), "14 dry sheets 8.85 kg")
        hill.text(GUS, SUNDAY, "Hill Farm 12 sheets 7.45 kg rss3 1.55")
        hill.text(KOFI, SUNDAY, "lump 3.35 kg")
        self.settings = Settings(folder / "books.sqlite", link_key="a key of the test", public_url="http://localhost")
        self.client: FlaskClient = create_app(self.settings, hill.books, lambda: self.now).test_client()
        with hill.books.transaction() as tx:
            self.ids = {number: people.person_by_number(tx, number) for number in (OWNER, KOFI)}

    def page(self, path: str = "") -> str:
        """A page as words, without its pictures."""
        owner = self.ids[OWNER]
        assert owner is not None
        got = self.client.get(links.path(self.settings, self.hill.farm.id, owner.id) + path)
        assert got.status_code == 200, path
        shown = re.sub(r"<svg.*?</svg>", "", got.get_data(as_text=True), flags=re.DOTALL)
        return " ".join(unescape(re.sub(r"<[^>]+>", " ", shown)).split())

    def paper(self, paper: Paper, kind: str) -> bytes:
        with self.hill.books.transaction() as tx:
            farm = farms.farm(tx, self.hill.farm.id)
            wish = Wish(paper, kind, first=date(2026, 3, 1), last=date(2026, 3, 31))
            write = shelf.gather(tx, farm, wish, NOW)
        return write().content

    def rows(self, paper: Paper) -> list[dict[str, str]]:
        return list(csv.DictReader(io.StringIO(self.paper(paper, "csv").decode("utf-8-sig"))))


@pytest.fixture
def week(tmp_path: Path) -> Week:
    return Week(tmp_path)


def test_litres_and_dry_weight_are_the_same_on_every_text_page_and_paper(week: Week) -> None:
    told: dict[str, str] = {}
    run_due(week.hill.books, NOW, lambda waiting: told.update({waiting.to: waiting.text}) or Delivery(Fate.SENT, "x"))
    asked = week.hill.said(OWNER, SUNDAY, "week", 18)

    assert f"{LITRES} L" in told[OWNER]
    assert f"{DRY} kg dry" in told[OWNER]
    assert f"{LITRES} L (week before 0), {DRY} kg dry" in asked
    assert f"B1 36.4 L {DRY_1} kg (0.0), B2 16.35 L {DRY_2} kg" in asked
    shown = week.page()
    assert f"B1 36.4 0 {DRY_1} 0.0 B2 16.35 0 {DRY_2} 0.0 All blocks {LITRES} 0 {DRY} 0.0" in shown
    assert f"{LITRES} L of latex, about {DRY} kg dry" in week.page("/chain")
    assert f"Litres 36.4 Dry kg expected {DRY_1}" in week.page(f"/tapper/{week.ids[KOFI].id}")  # type: ignore[union-attr]
    assert all(f" {each} " in week.page("/block/1") for each in ("18.25", "18.15"))
    crop = {row["Block"]: row for row in week.rows(Paper.CROP)}
    assert [Decimal(crop[each]["Latex measured (L)"]) for each in ("B1", "B2")] == [Decimal("36.4"), Decimal("16.35")]
    assert [crop[each]["Dry rubber expected (kg)"] for each in ("B1", "B2")] == [DRY_1, DRY_2]
    year = week.rows(Paper.YEAR)[0]
    assert (Decimal(year["Latex measured (L)"]), year["Dry rubber expected (kg)"]) == (LITRES, DRY)
    text = pypdfium2.PdfDocument(week.paper(Paper.MONTH, "pdf"))[0].get_textpage().get_text_range()
    assert f"Together {LITRES} 0 {DRY} 30 3.35 7.45" in " ".join(text.split())
    month = week.rows(Paper.MONTH)
    assert sum(Decimal(row["Latex measured (L)"] or 0) for row in month) == LITRES
    book = openpyxl.load_workbook(io.BytesIO(week.paper(Paper.CROP, "xlsx"))).active
    assert book is not None
    assert {Decimal(str(cell)) for row in book.iter_rows(min_row=2, values_only=True) for cell in row[3:4]} == {
        Decimal("36.4"),
        Decimal("16.35"),
    }


def test_the_commands_and_the_whole_books_tell_the_same(week: Week, tmp_path: Path, monkeypatch) -> None:  # type: ignore[no-untyped-def]
    monkeypatch.setenv("TAPPING_LOG_BOOKS", str(tmp_path / "books.sqlite"))
    said = CliRunner().invoke(main, ["week", "--farm", "Hill Farm", "--of", SUNDAY.isoformat()])
    (tmp_path / "whole.sqlite").write_bytes(week.paper(Paper.BOOKS, "sqlite"))
    sums = next(
        Database(tmp_path / "whole.sqlite").query(
            "select round(sum(litres), 3) as litres, round(sum(dry_kg_expected), 1) as dry from day_book where what = 'latex'"
        )
    )

    assert f"{LITRES} L (week before 0), {DRY} kg dry" in said.output
    assert (Decimal(str(sums["litres"])), f"{sums['dry']:.1f}") == (LITRES, DRY)


def test_sheets_sales_rain_and_lump_are_the_same_everywhere(week: Week) -> None:
    asked, shown = week.hill.said(OWNER, SUNDAY, "week", 18), week.page()

    assert "30 sheets rolled (0), sold 7.45 kg (0), rain took 1 block-day (0)." in asked
    for words in (
        "Sheets rolled 30 (0)",
        "Dry sheets 14 (0)",
        "Lump, kg 3.35 (0)",
        "Sheets collected 12 (0)",
        "Collected, kg 7.45 (0)",
        "Block-days lost to rain 1 (0)",
        "dry 14 sheets, 8.85 kg",
        "B1 lump 3.35 kg",
    ):
        assert words in shown, words
    assert "11.55 USD" in week.page("/chain")  # 7.45 kg at 1.55 are 11.5475
    year = week.rows(Paper.YEAR)[0]
    assert [year[each] for each in ("Sheets rolled", "Dry sheets", "Dry sheets (kg)", "Lump (kg)")] == [
        "30", "14", "8.85", "3.35"
    ]  # fmt: skip
    assert [year[each] for each in ("Collected (kg)", "Block-days lost to rain")] == ["7.45", "1"]
    taken = week.rows(Paper.COLLECTIONS)[0]
    assert (taken["Weight (kg)"], taken["Amount (USD)"]) == ("7.45", "11.55")
    assert "rain" not in week.page("/block/1").split("Sheets weighed")[0]  # Ama's rain is of her block
    assert "rain" in week.page("/block/2")


def test_pay_is_the_same_asked_on_the_page_settled_and_on_paper(week: Week) -> None:
    monday = SUNDAY + timedelta(days=1)
    due = week.hill.said(OWNER, monday, "pay due?")
    total = re.search(r"settle (\d+\.\d+)", due)
    assert total is not None, due
    kofi = f"{PAY_KOFI:.2f}"

    assert f"Kofi {kofi}" in due
    week.now += timedelta(days=1)
    assert kofi in week.page("/pay")
    week.hill.text(OWNER, monday, f"settle {total[1]}")
    told: dict[str, str] = {}
    run_due(week.hill.books, week.now, lambda out: told.update({out.to: out.text}) or Delivery(Fate.SENT, "x"))
    paid = {row["Name"]: row for row in week.rows(Paper.PAY)}

    assert kofi in told[KOFI]
    assert paid["Kofi"]["Paid (USD)"] == kofi

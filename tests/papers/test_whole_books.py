"""The whole books as one SQLite file: this farm alone, and what general tools make of it."""

import re
import sqlite3
from decimal import Decimal
from pathlib import Path

import pytest
from click.testing import CliRunner
from sqlite_utils import Database
from sqlite_utils.cli import cli

from bot.books import entries, farms, messages, plots, wages
from bot.papers.shelf import Paper, Wish
from bot.rubber.geojson import point
from bot.week.figures import gather
from tests.papers.conftest import MONDAY, NOW, House, latex

README = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")
SECTION = README.partition("## The whole books\n")[2].partition("\n## ")[0]

#: Every query of the section: `sqlite-utils FILE "select ..." OPTIONS`, over several lines in its quotes.
QUERIES = re.findall(r'^sqlite-utils \S+ "(.+?)" ?(--\w+)?$', SECTION, re.MULTILINE | re.DOTALL)


@pytest.fixture
def file(filled: House, tmp_path: Path) -> Path:
    path = tmp_path / "ironwood-bend-books.sqlite"
    path.write_bytes(filled.paper(Wish(Paper.BOOKS)).content)
    return path


def test_there_is_one_row_for_an_entry_and_none_of_another_farm(file: Path) -> None:
    database = Database(file)

    assert set(database.table_names()) == {
        "farm", "settings", "blocks", "plots", "containers", "people", "entries", "pay_terms", "money", "settlements", "bark",
        "payouts", "payout_lines", "due",
    }  # fmt: skip
    assert database.table("entries").count == 12  # 10 that stand, one corrected, one taken out
    assert [row["name"] for row in database.query("select name from farm")] == ["Heron Hill"]
    assert 777 not in {row["litres"] for row in database.query("select litres from entries")}
    assert {row["name"] for row in database.query("select name from people")} == {"=HYPERLINK(1)", "Ines", "Mara"}
    assert b"Far Meadow" not in file.read_bytes()
    assert b"Bruno" not in file.read_bytes()


def test_plots_stand_with_their_coordinates_as_they_were_written(house: House, tmp_path: Path) -> None:
    with house.books.transaction() as tx:
        for farm in (house.farm, house.other):
            block = farms.blocks(tx, farm.id)["3"].id
            plots.add(tx, farm.id, block, f"of {farm.name}", point("7.120000", "100.500000"), 12_500, at=NOW)
    path = tmp_path / "copy.sqlite"
    path.write_bytes(house.paper(Wish(Paper.BOOKS)).content)

    (row,) = Database(path).query("select * from plots")

    assert (row["block"], row["name"], row["hectares"]) == ("3", "of Heron Hill", 1.25)
    assert (row["latitude"], row["longitude"]) == ("7.120000", "100.500000")
    assert row["geojson"] == '{"type": "Point", "coordinates": [100.500000, 7.120000]}'


def test_the_file_is_sound(file: Path) -> None:
    connection = sqlite3.connect(file)
    assert connection.execute("pragma integrity_check").fetchall() == [("ok",)]
    connection.close()


def test_what_stands_adds_up_to_the_figures_of_the_week(filled: House, file: Path) -> None:
    with filled.books.transaction() as tx:
        span = gather(tx, filled.farm, MONDAY, MONDAY.replace(day=15))
    (row,) = Database(file).query(
        "select sum(litres) as litres, sum(dry_kg_expected) as dry from day_book where what = 'latex' and day >= '2026-03-09'"
    )

    assert Decimal(str(row["litres"])) == span.total.litres
    assert row["dry"] == pytest.approx(span.total.dry_kg)


def test_a_corrected_line_names_the_line_that_took_its_place(file: Path) -> None:
    (wrong,) = Database(file).query(
        "select old.state, new.litres from entries old join entries new on new.id = old.replaced_by where old.litres = 180"
    )

    assert wrong == {"state": "corrected", "litres": 18.0}


def test_a_text_that_told_of_two_farms_is_left_out(house: House) -> None:
    mine = house.enter(latex(MONDAY, "18"))
    with house.books.transaction() as tx:
        entries.enter(
            tx,
            farm_id=house.other.id,
            message_id=mine.message_id,
            by=house.collector,
            via=None,
            record=latex(MONDAY, "20"),
            entered_at=NOW,
        )
    house.enter(latex(MONDAY, "19", "5"))

    with house.books.transaction() as tx:
        assert list(messages.texts_of_farm_alone(tx, house.farm.id).values()) == ["Heron Hill: latex"]


def test_an_empty_farm_has_its_tables_too(house: House, tmp_path: Path) -> None:
    path = tmp_path / "empty.sqlite"
    path.write_bytes(house.paper(Wish(Paper.BOOKS)).content)

    assert list(Database(path).query("select * from day_book")) == []


def test_what_was_paid_is_in_the_file_and_in_the_table_to_the_last_unit(filled: House, tmp_path: Path) -> None:
    with filled.books.transaction() as tx:
        wages.set_terms(tx, filled.farm.id, None, MONDAY, {"per_kilo": "0.40"}, at=NOW, message_id=None)
        about = {"day": MONDAY, "kind": "advance", "amount": Decimal(2), "note": "boots", "at": NOW, "message_id": None}
        wages.add_money(tx, filled.farm.id, filled.tapper.id, **about)
        wages.settle(
            tx,
            filled.farm.id,
            filled.tapper.id,
            first=MONDAY,
            last=MONDAY.replace(day=15),
            slip=[("by the kilo", "13.77 kg dry x 0.40", "5.51")],
            earned=Decimal("5.51"),
            recovered=Decimal("2"),
            paid=Decimal("3.51"),
            owed=Decimal(0),
            at=NOW,
            message_id=None,
        )
    path = tmp_path / "paid.sqlite"
    path.write_bytes(filled.paper(Wish(Paper.BOOKS)).content)
    (kept,) = Database(path).query("select * from settlements")
    _, row = filled.paper(Wish(Paper.PAY, "csv", MONDAY, MONDAY)).content.decode("utf-8-sig").splitlines()

    assert (kept["earned"], kept["paid"], kept["how"]) == (5.51, 3.51, "by the kilo 13.77 kg dry x 0.40 = 5.51")
    assert [each["note"] for each in Database(path).query("select note from money")] == ["boots"]
    assert [each["terms"] for each in Database(path).query("select terms from pay_terms")] == ['{"per_kilo": "0.40"}']
    assert row.split(",")[1:8] == [
        "2026-03-09", "2026-03-15", "by the kilo 13.77 kg dry x 0.40 = 5.51", "5.51", "2.00", "3.51", "0.00"
    ]  # fmt: skip


def test_the_readme_shows_three_queries() -> None:
    assert len(QUERIES) == 3


@pytest.mark.parametrize(
    ("query", "expected"), list(zip([query for query, _ in QUERIES], ["12.25", "180", "14.96"], strict=False))
)
def test_a_query_of_the_readme_answers(file: Path, query: str, expected: str) -> None:
    result = CliRunner().invoke(cli, ["query", str(file), query, "--table"])

    assert result.exit_code == 0, result.output
    assert expected in result.output

"""The tables hold what the books hold: added up by hand, and equal to what the owner's page says."""

import csv
import io
from datetime import date, timedelta
from decimal import Decimal

import openpyxl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bot.pages.week import look_at
from bot.papers.crop import crop_by_block
from bot.papers.delimited import csv_of, harmless
from bot.papers.shelf import Paper, Wish
from bot.papers.table import Column, Table
from bot.papers.workbook import LONGEST_NAME, xlsx_of
from bot.speech.language import tongue
from tests.papers.conftest import FORMULA, MONDAY, NOW, House, latex

MARCH = {"first": date(2026, 3, 1), "last": date(2026, 3, 31)}


def rows_of(house: House, wish: Wish) -> list[dict[str, str]]:
    text = house.paper(wish).content.decode("utf-8-sig")
    return list(csv.DictReader(io.StringIO(text, newline="")))


def sheet_of(house: House, wish: Wish) -> list[tuple]:
    book = openpyxl.load_workbook(io.BytesIO(house.paper(wish).content))
    return list(book.active.iter_rows(values_only=True))


def test_the_crop_of_a_month_is_what_the_lines_add_up_to(filled: House) -> None:
    rows = rows_of(filled, Wish(Paper.CROP, "csv", **MARCH))

    assert [list(row.values()) for row in rows] == [
        ["2026-03", "B3", "2", "30.5", "0", "9.8"],  # 18 + 12.5 L; 5.79 + 4.02 kg
        ["2026-03", "B5", "1", "12.25", "0", "4.0"],
    ]


def test_the_year_leaves_out_months_before_and_after_and_ends_with_the_whole(filled: House) -> None:
    rows = rows_of(filled, Wish(Paper.YEAR, "csv", first=date(2026, 7, 1)))

    assert [row["Month"] for row in rows] == ["2026-02", "2026-03", "Together"]
    assert list(rows[1].values())[1:] == [
        "2", "42.75", "0", "13.8", "12", "11", "5.4", "1.5", "24", "11.70", "14.96", "2"
    ]  # fmt: skip
    assert rows[2]["Latex measured (L)"] == "62.75"
    assert rows[2]["Dry rubber expected (kg)"] == "20.2"  # 6.44 + 5.79 + 4.02 + 3.96 = 20.21


def test_a_take_is_worth_its_weight_times_its_price_to_the_currencys_last_unit(filled: House) -> None:
    first, second = rows_of(filled, Wish(Paper.COLLECTIONS, "csv"))

    assert (first["Receipt"], first["Collector"], first["Amount (USD)"]) == ("101", "Mara", "14.96")  # 14.9575
    assert (second["Receipt"], second["Price (USD/kg)"], second["Amount (USD)"]) == ("102", "", "")


def test_the_day_book_shows_what_was_corrected_and_what_was_taken_out(filled: House) -> None:
    rows = rows_of(filled, Wish(Paper.DAY_BOOK, "csv", first=MONDAY, last=date(2026, 3, 10)))
    by_litres = {row["Volume (L)"]: row for row in rows if row["Volume (L)"]}

    wrong, right, gone = by_litres["180"], by_litres["18"], by_litres["99"]
    assert (wrong["State"], wrong["Now"]) == ("corrected", "B3 18 L, rain")
    assert (right["State"], right["Corrects line"], right["Remarks"]) == ("stands", wrong["Line"], "rain")
    assert (gone["State"], gone["Now"], gone["Changed (Asia/Bangkok)"]) == ("taken out", "", "2026-03-12 18:30")
    assert "777" not in by_litres


def test_a_line_moved_to_a_day_outside_tells_where_it_went(filled: House) -> None:
    first = filled.enter(latex(date(2026, 3, 2), "16"))
    filled.enter(latex(date(2026, 2, 28), "16"), replaces=first.id)

    (row,) = rows_of(filled, Wish(Paper.DAY_BOOK, "csv", first=date(2026, 3, 1), last=date(2026, 3, 3)))
    assert (row["State"], row["Now"]) == ("corrected", "2026-02-28: B3 16 L")


def test_the_month_by_days_says_rain(filled: House) -> None:
    rows = rows_of(filled, Wish(Paper.MONTH, "csv", first=date(2026, 3, 5)))

    assert len(rows) == 31
    assert list(rows[8].values()) == ["2026-03-09", "18", "", "5.8", "12", "", "", "rain"]
    assert list(rows[10].values()) == ["2026-03-11", "", "", "", "", "", "9.65", "rain"]


def test_the_figures_of_a_week_are_those_of_the_owners_page(filled: House) -> None:
    with filled.books.transaction() as tx:
        seen = look_at(tx, filled.farm.id, filled.owner.id, MONDAY, NOW, 0)
        table = crop_by_block(tx, filled.farm, tongue("en"), MONDAY, MONDAY + timedelta(days=6))

    english = tongue("en")
    assert [(row.name, row.litres, row.dry) for row in seen.rows] == [
        (block, english.measured(litres), english.fixed(dry, 1)) for _, block, _, litres, _, dry in table.rows
    ]
    total = rows_of(filled, Wish(Paper.YEAR, "csv", first=MONDAY))[1]
    others = dict(seen.others)
    assert Decimal(others["Collected, kg"].split()[0]) == Decimal(total["Collected (kg)"])
    assert others["Sheets rolled"].split()[0] == total["Sheets rolled"]
    assert others["Block-days lost to rain"].split()[0] == total["Block-days lost to rain"]


def test_numbers_days_and_moments_keep_their_kind_in_a_workbook(filled: House) -> None:
    head, *rows = sheet_of(filled, Wish(Paper.DAY_BOOK, "xlsx", first=date(2026, 3, 10), last=date(2026, 3, 10)))
    first = dict(zip(head, rows[0], strict=True))

    assert first["Day"].isoformat() == "2026-03-10T00:00:00"
    assert first["Volume (L)"] == 12.5
    assert first["Entered (Asia/Bangkok)"].isoformat() == "2026-03-12T17:30:00"


def test_a_name_that_is_a_formula_stays_a_text(filled: House) -> None:
    wish = {"first": MONDAY, "last": MONDAY}
    book = openpyxl.load_workbook(io.BytesIO(filled.paper(Wish(Paper.DAY_BOOK, "xlsx", **wish)).content))
    cells = [cell for row in book.active.iter_rows() for cell in row]

    assert [cell.data_type for cell in cells if cell.value == FORMULA] == ["s"] * 3
    assert {cell.data_type for cell in cells} <= {"s", "n", "d"}
    assert {row["Whose work"] for row in rows_of(filled, Wish(Paper.DAY_BOOK, "csv", **wish))} == {"'" + FORMULA}


@pytest.mark.parametrize(
    "text", ["=1+1", "+1", "-1", "@SUM(1)", "\t=1", "\r=1", "\n=1", "  =1", "＝1", "+447700900501"]
)  # the first characters that OWASP's page on CSV injection names, and their full width
def test_a_text_that_would_begin_a_formula_gets_an_apostrophe(text: str) -> None:
    assert harmless(text) == "'" + text


@given(st.lists(st.text(max_size=20), min_size=1, max_size=5))
@settings(max_examples=50, deadline=None)
def test_every_text_comes_back_from_both_files_as_a_text(texts: list[str]) -> None:
    clean = [text.encode("utf-8", "ignore").decode() for text in texts]
    table = Table("Any", (Column("Words"),), tuple((text,) for text in clean))

    (_, *lines) = list(csv.reader(io.StringIO(csv_of(table).decode("utf-8-sig"), newline="")))
    assert [line[0] if line else "" for line in lines] == [harmless(text) for text in clean]
    book = openpyxl.load_workbook(io.BytesIO(xlsx_of([table], NOW)))
    assert {cell.data_type for row in book.active.iter_rows() for cell in row} <= {"s", "n"}
    assert not any(isinstance(row[0], int | float) for row in book.active.iter_rows(values_only=True))


def test_negative_and_small_numbers_are_written_plainly() -> None:
    table = Table("N", (Column("Kilos", "kg"),), ((Decimal("-1.50"),), (Decimal("1E+3"),), (Decimal("0.00001"),)))

    assert csv_of(table).decode("utf-8-sig").splitlines() == ["Kilos (kg)", "-1.50", "1000", "0.00001"]
    (_, *rows) = openpyxl.load_workbook(io.BytesIO(xlsx_of([table], NOW))).active.iter_rows(values_only=True)
    assert rows == [(-1.5,), (1000,), (0.00001,)]


def test_sheets_with_long_or_forbidden_names_keep_names_that_the_format_allows() -> None:
    long = Table("a/b:c*d?" * 9, (Column("X"),), ())
    names = openpyxl.load_workbook(io.BytesIO(xlsx_of([long, long], NOW))).sheetnames

    assert len(set(names)) == 2
    assert all(len(name) <= LONGEST_NAME and not set(name) & set("[]:*?/\\") for name in names)


def test_a_row_of_another_length_is_refused() -> None:
    with pytest.raises(ValueError, match="one cell for each column"):
        Table("T", (Column("A"), Column("B")), ((1,),))


@pytest.mark.parametrize("language", ["en", "fr", "id", "th", "vi", "es"])
@pytest.mark.parametrize("paper", [Paper.DAY_BOOK, Paper.CROP, Paper.COLLECTIONS, Paper.PAY, Paper.YEAR, Paper.MONTH])
def test_figures_are_the_same_in_every_language(filled: House, paper: Paper, language: str) -> None:
    def figures(code: str) -> list[list[object]]:
        (_, *rows) = sheet_of(filled, Wish(paper, "xlsx", language=code))
        return [[cell for cell in row if not isinstance(cell, str)] for row in rows]

    assert figures(language) == figures("en")

"""Printed papers: opened with PDFium, read back as text and looked at as pictures."""

from dataclasses import replace
from datetime import date, datetime
from zoneinfo import ZoneInfo

import pypdfium2
import pytest
from PIL import ImageChops

import parsers
from bot.carriers.practice import text_as
from bot.papers.card import Card, card_pdf, cards, examples
from bot.papers.ink import SIZES, Ink
from bot.papers.month_page import MOST_BLOCKS, MonthPaper, month_pdf
from bot.papers.refusal import PaperRefused
from bot.papers.shelf import Paper, Wish
from bot.speech.language import LANGUAGES, tongue
from parsers.reading import Block, Intent, Role, Setting, What
from tests.papers.conftest import MONDAY, NOW, House, latex

A_POINT = 25.4 / 72


def opened(content: bytes) -> pypdfium2.PdfDocument:
    return pypdfium2.PdfDocument(content)


def words(page: pypdfium2.PdfPage) -> str:
    return " ".join(page.get_textpage().get_text_bounded().split())


def ink_box(page: pypdfium2.PdfPage) -> tuple[float, float, float, float]:
    """Left, top, right and bottom of all that is not white, in mm."""
    scale = 2
    grey = page.render(scale=scale).to_pil().convert("L").point(lambda value: 255 * (value < 250))
    return tuple(side / scale * A_POINT for side in grey.getbbox())


@pytest.mark.parametrize("size", ["a4", "a5"])
@pytest.mark.parametrize("language", LANGUAGES)
def test_a_month_is_one_page_of_its_size_with_nothing_at_its_edges(filled: House, size: str, language: str) -> None:
    pdf = opened(filled.paper(Wish(Paper.MONTH, first=MONDAY, size=size, language=language)).content)

    assert len(pdf) == 1
    width, height = (side * A_POINT for side in pdf[0].get_size())
    assert (width, height) == pytest.approx(SIZES[size], abs=0.2)
    left, top, right, bottom = ink_box(pdf[0])
    assert min(left, top, width - right, height - bottom) > 5
    assert "42.75" in words(pdf[0]) or "42,75" in words(pdf[0])


def test_the_page_of_a_month_has_the_figures_of_the_tables(filled: House) -> None:
    text = words(opened(filled.paper(Wish(Paper.MONTH, first=MONDAY)).content)[0])

    assert "Heron Hill" in text
    assert "March 2026" in text
    assert "Together 42.75 0 13.8 12 1.5 11.7" in text  # litres, kg weighed, dry kg, sheets, lump, collected
    assert "B3 2 30.5 9.8" in text
    assert "B5 1 12.25 4.0" in text
    assert "Amount (USD) 14.96" in text
    assert "Block-days lost to rain 2" in text
    assert "Lines changed later 2" in text
    assert "Owner: name, day, signature" in text


def test_several_months_are_a_page_each(filled: House) -> None:
    pdf = opened(filled.paper(Wish(Paper.MONTH, first=date(2026, 2, 10), last=date(2026, 4, 1))).content)

    assert ["February" in words(page) for page in pdf] == [True, False, False]
    assert len(pdf) == 3


def test_more_blocks_than_the_page_has_room_for_share_the_last_line(house: House) -> None:
    for n in range(MOST_BLOCKS + 4):
        house.enter(latex(MONDAY, "10", f"N{n}"), dry_kg=3.0)

    pdf = opened(house.paper(Wish(Paper.MONTH, first=MONDAY)).content)
    assert "7 others 7 70 21.0" in words(pdf[0])  # 3, 5 and N0 to N14 stand alone; N15 to N21 gave 10 L and 3 kg each
    assert ink_box(pdf[0])[3] < SIZES["a4"][1] - 5


def test_a_long_name_is_cut_with_dots_and_stays_on_the_page() -> None:
    row = ("W" * 60, "1", "2", "3")
    paper = MonthPaper(
        "A farm with a name " * 9, "May", ("H",) * 8, (("d",) * 8,), ("t",) * 8, ("b",) * 4, (row,), (), (), ()
    )
    page = opened(month_pdf([paper], "a5", NOW))[0]

    assert "…" in words(page)
    assert ink_box(page)[2] < SIZES["a5"][0] - 5


def test_the_cards_are_one_a6_page_a_language(filled: House) -> None:
    pdf = opened(filled.paper(Wish(Paper.CARD, number="+44 7700 900500")).content)

    assert len(pdf) == len(LANGUAGES)
    for page in pdf:
        width, height = (side * A_POINT for side in page.get_size())
        assert (width, height) == pytest.approx(SIZES["a6"], abs=0.2)
        left, top, right, bottom = ink_box(page)
        assert min(left, top, width - right, height - bottom) > 4
        assert bottom > height * 0.8
        assert "+44 7700 900500" in words(page)
        assert "C138" in words(page)


def test_the_answer_on_the_card_is_the_one_that_the_bot_gives(house: House) -> None:
    given = text_as(house.books, "+447700900501", "block 3 18 litres rain", NOW, message_id="card").text or ""
    text = words(opened(house.paper(Wish(Paper.CARD, languages=("en",))).content)[0])

    assert "ml thinned in" in given
    assert given.split("Nothing")[0].strip() in text
    assert "use the figures of your own answer, not these" in text


def test_the_card_names_the_farms_own_acid(house: House) -> None:
    house.set(acid="acetic", acid_strength_percent=80)

    assert "acid 80%" in words(opened(house.paper(Wish(Paper.CARD, languages=("en",))).content)[0])


def test_the_card_of_a_farm_that_gets_no_dose_says_so(house: House) -> None:
    farm = replace(house.farm, settings=replace(house.farm.settings, acid="sulphuric"))  # as an older version let it be
    with house.books.transaction() as tx:
        (found,) = cards(tx, farm, ["en"], None, MONDAY)

    assert "No dose for sulphuric acid" in found.answer
    assert "thinned in" not in found.answer


@pytest.mark.parametrize("language", LANGUAGES)
def test_what_the_card_tells_to_text_is_read_as_it_says(language: str) -> None:
    now = datetime(2026, 3, 12, 11, tzinfo=ZoneInfo("Asia/Bangkok")).replace(tzinfo=None)
    setting = Setting({"3": Block(280, None), "5": Block(300, None)}, Role.TAPPER, ("3", "5"), language, now)

    read = [parsers.read(each.text, setting) for each in examples(tongue(language), "3")]
    assert [each.intent for each in read] == [
        Intent.LOG, Intent.LOG, Intent.LOG, Intent.FIX, Intent.DOSE, Intent.WEEK
    ]  # fmt: skip
    assert [record.what for each in read[:3] for record in each.records] == [
        What.LATEX, What.NO_TAPPING, What.SHEETS_ROLLED
    ]  # fmt: skip
    assert (read[0].records[0].litres, read[0].records[0].rain) == (18, True)


def test_a_card_that_does_not_fit_is_refused(house: House) -> None:
    long = Card("x", "y", "z", (), "w", "word " * 900, "o", (), "t", ())
    with pytest.raises(PaperRefused, match="shorter name"):
        card_pdf([long], NOW)


def test_thai_is_drawn_the_same_beside_latin_letters_as_alone() -> None:
    """Sara am after a tone mark is taken apart and put in order by HarfBuzz only where it knows that the text is Thai."""
    with Ink("a6", "", NOW) as ink:
        ink.add_page()
        ink.use("", 12)
        ink.put_line("น้ำ", 50, 10, 20)
        ink.put_line("L น้ำ", 50 - ink.get_string_width("L "), 30, 40)
        page = opened(ink.finished())[0]

    picture = page.render(scale=4).to_pil().convert("L")
    alone, beside = (
        picture.crop(tuple(round(4 * side / A_POINT) for side in (50, top, 60, top + 7))) for top in (10, 30)
    )
    assert alone.getextrema()[0] < 50
    assert sum(ImageChops.difference(alone, beside).histogram()[100:]) < 5


def test_a_line_of_text_is_broken_at_spaces_alone() -> None:
    with Ink("a6", "", NOW) as ink:
        ink.add_page()
        ink.use("", 10)

        assert ink.height_of("ยางแห้งที่คาด", 5) == pytest.approx(ink.line_mm)
        assert ink.height_of("one two", 8) == pytest.approx(2 * ink.line_mm)

"""Asking what stands now: the year, the store, tomorrow, bark; in each language."""

from datetime import date, timedelta
from pathlib import Path

import pytest

from bot.talk.exchange import Kind
from tests.small_farm import AMA, KOFI, OWNER, SmallFarm

DAY = date(2026, 3, 16)

ASKED = {
    "en": ("stock?", "what is due tomorrow?", "this year?", "block 1 bark 42 cm", "bark of block 1?"),
    "fr": ("stock ?", "demain ?", "cette année ?", "bloc 1 écorce 42 cm", "écorce bloc 1 ?"),
    "id": ("stok?", "besok apa saja?", "tahun ini?", "blok 1 kulit 42 cm", "kulit blok 1?"),
    "th": ("สต็อก?", "พรุ่งนี้มีอะไรบ้าง", "ปีนี้?", "แปลง 1 เปลือก 42 ซม", "เปลือกแปลง 1?"),
    "vi": ("tồn kho?", "ngày mai có gì?", "năm nay?", "lô 1 vỏ 42 cm", "vỏ lô 1?"),
    "es": ("existencias?", "¿qué hay mañana?", "¿este año?", "lote 1 corteza 42 cm", "¿corteza lote 1?"),
}


@pytest.fixture
def hill(tmp_path: Path) -> SmallFarm:
    return SmallFarm(tmp_path)


@pytest.mark.parametrize("language", ASKED)
def test_an_owner_asks_in_his_language_and_is_answered(tmp_path: Path, language: str) -> None:
    settings = {"tapping": "S/2 d2", "tapping_from": "2026-03-15"}
    hill = SmallFarm(tmp_path, language=language, settings=settings)
    hill.text(KOFI, DAY, "18 L")
    stock, tomorrow, year, bark, asked = ASKED[language]

    assert "0" not in hill.said(OWNER, DAY, stock)  # nothing waits, and no acid was counted
    assert "A" in hill.said(OWNER, DAY, tomorrow)  # d2 from the 15th: task A on the 17th
    assert "18 L" in hill.said(OWNER, DAY, year)
    assert "42 cm" in hill.said(OWNER, DAY, bark).replace("ซม", "cm")
    assert "42" in hill.said(OWNER, DAY, asked)


def test_the_store_is_told_with_sheets_that_wait_that_dry_and_the_acid_that_is_left(hill: SmallFarm) -> None:
    hill.text(KOFI, DAY - timedelta(days=30), "20 litres drc 30")
    hill.text(OWNER, DAY - timedelta(days=30), "rolled 12 sheets")
    hill.text(OWNER, DAY - timedelta(days=1), "rolled 10 sheets")
    hill.text(OWNER, DAY - timedelta(days=2), "acid left 1 litre")
    hill.text(KOFI, DAY, "20 litres drc 30")

    said = hill.said(OWNER, DAY, "stock?")

    assert "12 sheets waiting" in said
    assert "10 sheets still drying" in said
    # 20 L at 30 % hold 5.915 kg dry and want 26 ml of acid: 1 L less 26 ml is 1.0 L.
    assert "Acid about 1 L. Enough for about 37 days." in said


def test_tomorrow_names_the_task_the_sheets_that_are_dry_and_pay_that_is_due(tmp_path: Path) -> None:
    hill = SmallFarm(tmp_path, settings={"tapping": "S/2 d3", "tapping_from": "2026-03-14", "pay_period": "week"})
    hill.text(OWNER, DAY - timedelta(days=12), "pay all 0.40 per kg")
    first = hill.said(OWNER, DAY, "tomorrow?")  # the 17th: A is tapped again

    assert first.startswith("Tue 17 Mar: tapping, task A.")
    assert "Pay to settle: 9-15 Mar." in first


def test_a_day_on_which_no_task_is_tapped_is_said(tmp_path: Path) -> None:
    hill = SmallFarm(tmp_path, settings={"tapping": "S/2 d2 6d/7", "tapping_from": "2026-03-09", "rest_weekday": 1})

    assert hill.said(OWNER, DAY, "tomorrow?").startswith("Tue 17 Mar: no tapping.")


def test_a_farm_without_a_system_is_told_so(hill: SmallFarm) -> None:
    assert hill.said(OWNER, DAY, "tomorrow?").startswith("Tue 17 Mar: no tapping system is set.")


def test_the_year_is_told_against_the_year_before_and_not_against_a_week(hill: SmallFarm) -> None:
    hill.text(KOFI, date(2025, 1, 5), "10 litres drc 30")
    hill.text(KOFI, date(2025, 3, 20), "11 litres drc 30")  # later in the year than today
    hill.text(KOFI, date(2026, 1, 5), "18 litres drc 30")
    hill.text(KOFI, date(2026, 3, 10), "19 litres drc 30")

    assert hill.said(OWNER, DAY, "this year?").startswith("Hill Farm 1 Jan-16 Mar 2026: 37 L (a year ago 10), ")
    assert hill.said(OWNER, DAY, "last year?").startswith("Hill Farm 1 Jan-31 Dec 2025: 21 L, ")


def test_a_tapper_measures_the_bark_of_his_own_block_only(hill: SmallFarm) -> None:
    assert hill.text(KOFI, DAY, "bark 42 cm").kind is Kind.ENTERED
    assert hill.text(KOFI, DAY, "block 2 bark 42 cm").kind is Kind.REFUSED
    assert hill.text(AMA, DAY, "bark of block 1?").text != hill.text(KOFI, DAY, "bark of block 1?").text


def test_bark_is_reckoned_by_the_tappings_in_the_book_and_by_two_measures(hill: SmallFarm) -> None:
    first = DAY - timedelta(days=40)
    # 1.5 mm square to a cut of 30 degrees is 1.732 mm down the trunk: 420 mm are 242 tappings.
    assert hill.said(KOFI, first, "bark 42 cm") == "B1 today: 42 cm of bark left. About 242 tappings at 1.7 mm."
    for n in range(1, 11):
        hill.text(KOFI, first + timedelta(days=2 * n), "18 litres")

    # Ten tappings of 1.732 mm: 402.7 mm are 232 tappings.
    assert "about 40.3 cm of bark left (42 on 4 Feb). About 232 tappings at 1.7 mm" in hill.said(KOFI, DAY, "bark?")
    # Measured: 20 mm in ten tappings are 2.0 mm each: 400 mm are 200 tappings.
    assert "40 cm of bark left. About 200 tappings at 2.0 mm" in hill.said(KOFI, DAY, "bark 40 cm")


def test_a_new_panel_begins_anew(hill: SmallFarm) -> None:
    first = DAY - timedelta(days=40)
    hill.text(KOFI, first, "bark 2 cm")
    for n in range(1, 11):
        hill.text(KOFI, first + timedelta(days=2 * n), "18 litres")

    assert "About 577 tappings at 1.7 mm" in hill.said(KOFI, DAY, "panel BO-2 bark 100 cm")


@pytest.mark.parametrize("words", ["bark 42 cm", "block 1 bark 42 cm block 2 bark 30 cm"])
def test_bark_of_an_unclear_block_is_asked_for_and_not_entered(hill: SmallFarm, words: str) -> None:
    got = hill.text(OWNER, DAY, words)

    assert got.kind is Kind.ASKED
    assert "No bark was measured yet" in hill.said(OWNER, DAY, "bark?")


def test_a_height_that_no_panel_has_is_refused(hill: SmallFarm) -> None:
    assert hill.text(KOFI, DAY, "bark 420 cm").kind is Kind.REFUSED


def test_centimetres_are_never_entered_as_latex(hill: SmallFarm) -> None:
    got = hill.text(KOFI, DAY, "block 1 42 cm")

    assert got.kind is not Kind.ENTERED


def test_the_tapping_of_the_day_of_a_measure_is_in_the_measure(hill: SmallFarm) -> None:
    hill.text(KOFI, DAY, "18 litres")
    hill.text(KOFI, DAY, "bark 42 cm")

    assert "about 42 cm of bark left (42 on 16 Mar). About 242 tappings" in hill.said(KOFI, DAY, "bark?")


def test_more_bark_than_before_is_a_new_panel_though_nobody_named_it(hill: SmallFarm) -> None:
    first = DAY - timedelta(days=40)
    hill.text(KOFI, first, "bark 2 cm")
    hill.text(KOFI, first + timedelta(days=1), "bark 100 cm")
    for n in range(1, 11):
        hill.text(KOFI, first + timedelta(days=2 * n), "18 litres")

    # Ten tappings from 100 to 98 cm are 2.0 mm each: 980 mm are 490 tappings.
    assert "98 cm of bark left. About 490 tappings at 2.0 mm" in hill.said(KOFI, DAY, "bark 98 cm")


def test_the_days_that_the_acid_lasts_are_of_what_is_left_whichever_way_it_is_asked(hill: SmallFarm) -> None:
    hill.text(OWNER, DAY - timedelta(days=10), "acid left 0.3 litre")
    for n in range(9, 0, -1):
        hill.text(KOFI, DAY - timedelta(days=n), "20 litres drc 30")  # 26 ml of acid a day

    # 300 ml less nine days of 26 ml are some 64 ml: two days.
    assert "about 2 days" in hill.said(OWNER, DAY, "stock?")
    assert "about 2 days" in hill.said(OWNER, DAY, "how much acid left?")

"""Reconciliation: each step against figures worked by hand, and gaps planted in simulated books."""

from collections.abc import Sequence
from datetime import date, timedelta
from decimal import Decimal

import pytest

from bot.books.model import Entry, Farm, FarmSettings
from bot.reckon import gaps
from bot.reckon.gaps import Row
from bot.reckon.weighed import By
from parsers.reading import Record, What
from tests.reckon.simulated_books import FIRST, NAME, Planted, a_book
from tests.reckon.test_chain import FIRST as START
from tests.reckon.test_chain import TOBIN, a_line, dry, rolled, taken

SETTINGS = FarmSettings(drying="smoke")


def farm(**settings: object) -> Farm:
    return Farm("f1", NAME, "UTC", "USD", "en", FarmSettings(**settings) if settings else SETTINGS)


def seen(standing: Sequence[Entry], first: int, last: int, of: Farm | None = None, start: date = START) -> gaps.Weights:
    return gaps.of_entries(standing, of or farm(), start + timedelta(days=first), start + timedelta(days=last))


def latex(n: int, day: int, kg: float, block: str = "1") -> Entry:
    """Latex of so many kilos dry: 3.2 kg in ten litres."""
    line = a_line(n, What.LATEX, day, block=block, litres=Decimal(str(round(kg / 0.32, 3))))
    return Entry(*[*vars(line).values()][:-1], {"dry_kg": kg, "dry_high_kg": kg * 1.15})


def steps(standing: Sequence[Entry], first: int, last: int, of: Farm | None = None) -> dict[str, Row]:
    found = seen(standing, first, last, of)
    return {row.name: row for row in (gaps.rolled(found), gaps.finished(found), gaps.taken(found))}


def test_latex_that_was_never_rolled_is_a_gap_of_its_dry_rubber() -> None:
    lines = [latex(1, 0, 6.0), rolled(2, 1, 12), latex(3, 2, 4.0), latex(4, 10, 6.0), rolled(5, 11, 12)]

    row = steps(lines, 0, 30)["Latex that was rolled"]

    assert (row.expected_kg, row.found_kg, row.gap_kg, row.count) == (16.0, 12.0, -4.0, 3)
    assert row.percent == pytest.approx(-25.0)
    assert (
        row.question
        == "Latex of 4.0 kg dry was not rolled by the book: sold as latex, left as lump, or is a text missing?"
    )


def test_latex_that_may_still_be_rolled_is_no_gap() -> None:
    assert steps([latex(1, 27, 6.0)], 0, 30)["Latex that was rolled"].count == 0


def test_sheets_that_have_long_been_dry_and_are_nowhere_are_a_gap() -> None:
    lines = [latex(1, 0, 6.0), rolled(2, 1, 12), dry(3, 8, 9, "4.5"), rolled(4, 28, 12)]

    row = steps(lines, 0, 30)["Rolled sheets that were weighed or still dry"]

    # 24 of half a kilo by the farm's own weighing; three are nowhere. Those of day 28 still dry.
    assert (row.expected_kg, row.found_kg, row.count) == (12.0, 10.5, 24)
    assert "About 3 sheets that should be dry" in row.question


def test_what_was_taken_is_held_against_the_weight_at_home() -> None:
    lines = []
    for n in range(4):
        day = 7 * n
        lines += [latex(10 * n, day, 12.0), rolled(10 * n + 1, day + 1, 24), dry(10 * n + 2, day + 4, 24, "12")]
        lines.append(taken(10 * n + 3, day + 5, 24, "11.4"))

    row = steps(lines, 0, 30)["Taken, by the weight at home"]

    # Each time 0.6 kg of 12 are missing; two balances of 2 % each: 0.331 kg a time, 0.662 in four: 3.6 deviations.
    error = (4 * ((0.02 * 12) ** 2 + (0.02 * 11.4) ** 2)) ** 0.5
    assert (row.expected_kg, row.found_kg) == pytest.approx((48, 45.6))
    assert row.deviations == pytest.approx(-2.4 / error)
    assert row.question.startswith("5.0 % less at the collector's balance than at home")


def test_a_farm_s_own_limits_decide_what_is_told() -> None:
    lines = [latex(1, 0, 6.0), rolled(2, 1, 12), latex(3, 2, 1.0), latex(4, 10, 6.0), rolled(5, 11, 12)]

    assert steps(lines, 0, 30)["Latex that was rolled"].told  # 1 of 13 kg: 7.7 %
    assert not steps(lines, 0, 30, farm(gap_percent=Decimal(8)))["Latex that was rolled"].told


def test_a_farm_without_weighings_has_nothing_to_ask() -> None:
    found = seen([latex(1, 0, 6.0), rolled(2, 1, 12)], 0, 3)

    for by in By:
        assert not any(row.told for row in gaps.by_key(found, by))


def asked(book_until: Sequence[Entry], day: int, by: By, of: Farm | None = None) -> list[Row]:
    """What is asked about the sixty days up to a day."""
    found = seen(book_until, day - 59, day, of, start=FIRST)
    return [row for row in gaps.by_key(found, by) if row.told]


def test_a_balance_that_reads_eight_percent_low_is_asked_about_and_what_it_weighed_is_told() -> None:
    books = [a_book(seed, Planted("balance", "Mara", 0.08, 75)) for seed in range(10)]

    found = [asked(book.until(129), 129, By.BALANCE)[:1] for book in books if book.home]

    assert len(found) >= 5
    for rows in found:
        (row,) = rows
        assert row.question.endswith("Hang the same weight on both.")
        assert abs(row.percent or 0) == pytest.approx(8, abs=4)
        assert row.found_kg == pytest.approx(row.expected_kg * (1 + (row.percent or 0) / 100))


def test_a_bucket_that_holds_less_than_the_book_says_shows_with_its_tapper_sooner_or_later() -> None:
    books = [a_book(seed, Planted("bucket", "Yaw", 0.25, 75)) for seed in range(12)]
    weighed = [book for book in books if book.home]

    found = sum(any(asked(book.until(day), day, By.TAPPER) for day in (119, 134, 149)) for book in weighed)

    assert len(weighed) >= 6
    assert found >= 0.7 * len(weighed)


def test_sheets_that_vanish_show_in_the_count() -> None:
    for seed in range(5):
        book = a_book(seed, Planted("lost", "", 0.08, 75))
        found = seen(book.until(149), 90, 149, start=FIRST)
        row = gaps.finished(found)
        before = gaps.finished(seen(book.until(74), 15, 74, start=FIRST))
        assert not before.told
        assert row.told
        assert (row.percent or 0) == pytest.approx(-8, abs=4)


def test_honest_farms_are_hardly_ever_asked() -> None:
    books = [a_book(seed) for seed in range(100, 112)]

    told = [
        (by, row.name)
        for book in books
        for day in (89, 119, 149)
        for by in (By.TAPPER, By.BLOCK, By.BALANCE, By.FARM)
        for row in asked(book.until(day), day, by)
    ]

    assert len(told) <= 3  # of 36 farm-months


def test_no_question_names_a_fault() -> None:
    rows = [Row("Ama", 100.0, 90.0, -4.0, 9, key="ama"), Row("Ama", 90.0, 100.0, 4.0, 9, key="ama")]

    for by, say in gaps._QUESTIONS.items():
        for row in rows:
            question = say(row)
            assert "?" in question, by
            assert not any(word in question.lower() for word in ("theft", "stole", "cheat", "fault", "wrong", "guilty"))


def test_farms_together_count_by_how_sure_each_is() -> None:
    sure = Row("Mara's balance", 100.0, 95.0, -5.0, 20, key="mara")  # 5 % with an error of 1 %
    vague = Row("Mara's balance", 50.0, 49.0, -0.5, 5, key="mara")  # 2 % with an error of 4 %
    nothing = Row("Mara's balance", 10.0, 10.0, None, 1, key="mara")

    (row,) = gaps.together([[sure], [vague], [nothing]], 2, 3)

    mean = (5 / 1 + 2 / 16) / (1 + 1 / 16)
    assert row.percent == pytest.approx(-mean)
    assert row.deviations == pytest.approx(-mean * (1 + 1 / 16) ** 0.5)
    assert (row.expected_kg, row.count, row.told) == (160.0, 26, True)
    assert "over 3 farms" in row.question


def test_a_reading_of_the_day_after_changes_nothing_before() -> None:
    book = a_book(3, Planted("balance", "Mara", 0.08, 75))
    late = Record(What.LATEX, FIRST + timedelta(days=140), "1", litres=Decimal(20), drc=Decimal(40))
    line = Entry("z", "f1", "z", TOBIN, None, late, book.entries[-1].entered_at, None, False, False, None)

    assert asked(book.until(119), 119, By.BALANCE) == asked([*book.until(119), line], 119, By.BALANCE)

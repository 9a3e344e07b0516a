"""What is unusual of late: since when, how soon, and that honest farms are hardly ever asked."""

from collections.abc import Sequence
from datetime import date, timedelta

from bot.books.model import Farm, FarmSettings
from bot.reckon import gaps
from bot.reckon.gaps import Row
from bot.reckon.lately import SPANS, beginnings, by_key_lately, finished_lately, steps_lately
from bot.reckon.weighed import By
from bot.speech.language import tongue
from bot.speech.said import said
from tests.reckon.simulated_books import FIRST, NAME, Planted, a_book
from tests.reckon.test_chain import FIRST as START
from tests.reckon.test_chain import dry, rolled

FARM = Farm("f1", NAME, "UTC", "USD", "en", FarmSettings())
BEGINS = 75
BUCKET = Planted("bucket", "Yaw", 0.25, BEGINS)


def seen(seed: int, planted: Planted, last: int) -> tuple[bool, gaps.Weights]:
    """Whether there is a balance at home, and the sixty days up to one."""
    book, day = a_book(seed, planted, 150), FIRST + timedelta(days=last)
    return book.home, gaps.of_entries(book.until(last), FARM, day - timedelta(days=59), day)


def told(rows: Sequence[Row]) -> list[Row]:
    return [row for row in rows if row.told]


def test_days_are_looked_at_from_their_first_and_from_later_ones() -> None:
    last = date(2026, 5, 31)

    found = beginnings(gaps.Days(FARM, last - timedelta(days=59), last))
    assert [(last - day).days + 1 for day in found] == [60, *sorted(SPANS, reverse=True)]
    assert [(last - day).days + 1 for day in beginnings(gaps.Days(FARM, last - timedelta(days=24), last))] == [
        25,
        21,
        14,
    ]


def test_a_bucket_that_holds_less_is_found_within_four_weeks() -> None:
    looked = [seen(seed, BUCKET, BEGINS + 28) for seed in range(12)]

    found = [any(row.key == "yaw" for row in told(by_key_lately(each, By.TAPPER))) for home, each in looked if home]

    assert len(found) >= 6
    assert sum(found) >= 0.7 * len(found)


def test_it_is_said_since_about_when_in_the_language_of_the_reader() -> None:
    rows = (
        told(by_key_lately(each, By.TAPPER)) for home, each in (seen(n, BUCKET, BEGINS + 28) for n in range(12)) if home
    )
    row = next(each for several in rows for each in several)

    assert row.since is not None
    assert abs((row.since - FIRST).days - (BEGINS + 8)) <= 10  # its first sheets come to the scale eight days later
    assert row.question.startswith(f"Since about {row.since}: Sheets of ")
    assert said(tongue("en"), row.question).startswith(f"Since about {tongue('en').date(row.since)}: ")
    assert said(tongue("fr"), row.question).startswith("Depuis le ")


def test_a_few_sheets_that_vanish_each_time_are_found_within_three_weeks() -> None:
    looked = [seen(seed, Planted("lost", "", 0.08, BEGINS), BEGINS + 21) for seed in range(8)]

    assert all(finished_lately(each).told for home, each in looked if home)
    assert not any(finished_lately(seen(seed, Planted(), BEGINS + 21)[1]).told for seed in range(8))


def test_many_sheets_that_are_gone_at_once_are_a_gap() -> None:
    counts = [14 + 7 * n % 11 for n in range(60)]
    book = [rolled(10 * n + 1, n, count) for n, count in enumerate(counts)]
    book += [dry(10 * n + 2, n + 7, count, str(count / 2)) for n, count in enumerate(counts) if n != 45]
    day = START + timedelta(days=62)

    row = finished_lately(gaps.of_entries(book, FARM, day - timedelta(days=29), day))

    assert row.told
    assert f"About {counts[45]} sheets that should be dry" in row.question


def test_trees_that_give_more_are_no_bucket() -> None:
    looked = [
        seen(seed, Planted("trees", "Yaw", -0.4, BEGINS), last)[1] for seed in range(12) for last in (96, 110, 124)
    ]

    assert sum(bool(told(by_key_lately(each, By.TAPPER))) for each in looked) <= 2  # of 36


def test_honest_farms_are_hardly_ever_asked() -> None:
    asked = [
        row
        for seed in range(100, 112)
        for last in (89, 119, 149)
        for rows in [[by_key_lately(each, by) for by in By] for _, each in (seen(seed, Planted(), last),)]
        for several in rows
        for row in told(several)
    ]

    assert len(asked) <= 2  # in 36 looks


def test_the_steps_are_those_of_named_days_but_for_what_is_told() -> None:
    _, each = seen(3, Planted(), 120)

    assert [row.name for row in steps_lately(each)] == [row.name for row in gaps.steps_there(each)]
    assert [row.expected_kg for row in steps_lately(each)] == [row.expected_kg for row in gaps.steps_there(each)]

"""Weighings are of the rollings whose counts they fit, whatever text is missing; and what the book tells wrongly is left out."""

from bot.reckon.aligned import aligned
from bot.reckon.chain import Weighing, follow
from bot.reckon.weighed import _odd_rollings, look_at
from tests.reckon.test_chain import FARM, dry, latex, rolled

#: Sheets rolled on each of thirty days.
COUNTS = [12 + 7 * n % 19 for n in range(30)]
LAG = 7


def lines(*, unsaid: int = -1, gone: int = 0) -> list:
    """Latex each day, rolled on the next, weighed a week after; the rolling of one day is not texted, some sheets are gone each time."""
    found = []
    for n, count in enumerate(COUNTS):
        found.append(latex(10 * n, n, count))  # a litre a sheet
        if n != unsaid:
            found.append(rolled(10 * n + 1, n + 1, count))
        found.append(dry(10 * n + 2, n + 1 + LAG, count - gone, str((count - gone) / 2)))
    return found


def days_apart(weighing: Weighing) -> set[int]:
    assert weighing.entry.record.day is not None
    return {(weighing.entry.record.day - each.rolling.day).days for each in weighing.sheets}


def test_where_every_text_came_it_is_as_first_in_first_out_has_it() -> None:
    chain = follow(lines(), FARM)

    assert aligned(chain) == chain.weighings


def test_after_a_rolling_that_nobody_texted_weighings_still_are_of_their_own() -> None:
    chain = follow(lines(unsaid=9), FARM)

    after = [
        each for each in chain.weighings if (each.entry.record.day or each.entry.record.day) > chain.rollings[12].day
    ]
    assert any(days_apart(each) != {LAG} for each in after)  # first in, first out is late for good

    found = aligned(chain)
    assert all(days_apart(each) == {LAG} for each in found[1:])
    assert len(found) == len(COUNTS) - 1  # the weighing of that rolling tells nothing


def test_sheets_that_are_gone_take_their_latex_with_them() -> None:
    found = aligned(follow(lines(gone=1), FARM))

    assert all(days_apart(each) == {LAG} for each in found[1:])
    assert [sum(sheets.count for sheets in each.sheets) for each in found] == [count - 1 for count in COUNTS]


def test_where_counts_do_not_fit_first_in_first_out_stands() -> None:
    # Six of whatever hangs, each third day: no time from rolling to the scale makes these counts fit.
    found = [latex(10 * n, n, count) for n, count in enumerate(COUNTS)]
    found += [rolled(10 * n + 1, n + 1, count) for n, count in enumerate(COUNTS)]
    found += [dry(10 * n + 2, n, 6, "3") for n in range(9, 31, 3)]
    chain = follow(found, FARM)

    assert aligned(chain) == chain.weighings


def odd(book: list) -> set[int]:
    """The days on which rollings were odd."""
    look = look_at(book, FARM, 33.0)
    return {int(key[1:]) // 10 for key in _odd_rollings(look)}


def test_a_rolling_of_which_latex_was_not_texted_is_odd() -> None:
    book = [latex(10 * n + 3, n, 14) for n in range(30)] + [latex(10 * n + 4, n, 14, "2") for n in range(30) if n != 12]
    book += [rolled(10 * n + 1, n + 1, 20) for n in range(30)]

    assert odd(book) == {12}


def test_a_bucket_that_changes_makes_no_rolling_odd() -> None:
    book = [latex(10 * n + 3, n, 15 if n < 15 else 19) for n in range(30)]
    book += [rolled(10 * n + 1, n + 1, 10) for n in range(30)]

    assert odd(book) == set()


def test_once_no_latex_waits_rollings_take_that_of_their_own_day_and_are_odd() -> None:
    book = [latex(10 * n + 3, n, 14) for n in range(30) if n not in (12, 15)]
    book += [rolled(10 * n + 1, n + 1, 10) for n in range(30) if n != 15]

    assert odd(book) == {12, 13}  # the next has none at all

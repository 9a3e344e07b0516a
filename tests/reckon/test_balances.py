"""All balances together, over simulated books of farms that share their collectors."""

from datetime import timedelta

from bot.books.model import Farm, FarmSettings
from bot.reckon import gaps
from bot.reckon.balances import AT_HOME, AtFarm, all_balances, all_balances_lately, at_farm
from bot.reckon.gaps import Row
from bot.reckon.lately import by_key_lately
from bot.reckon.weighed import By
from tests.reckon.simulated_books import FIRST, NAME, Planted, a_book

BEGINS, LAST = 75, 110
MARA = "mara"


def at(n: int, planted: Planted, last: int = LAST) -> AtFarm:
    """A farm's part of the sixty days up to a day; all farms have the same two collectors, each with one balance."""
    day = FIRST + timedelta(days=last)
    farm = Farm(f"f{n}", NAME, "UTC", "USD", "en", FarmSettings())
    book = a_book(n, planted, last + 1, scales={"Mara": 1.004, "Nuno": 0.996})
    return at_farm(gaps.of_entries(book.entries, farm, day - timedelta(days=59), day))


def cooperative(own: dict[int, Planted], others: Planted, last: int = LAST) -> list[AtFarm]:
    return [at(n, own.get(n, others), last) for n in range(12)]


LOW = Planted("balance", "Mara", 0.05, BEGINS)


def told(rows: list[Row]) -> set[str]:
    return {row.key for row in rows if row.told}


def test_a_collector_s_low_balance_is_found_in_two_weeks_from_his_farms_together() -> None:
    rows = all_balances_lately(cooperative({}, LOW, BEGINS + 15))

    assert told(rows) == {MARA}
    (mara,) = (row for row in rows if row.told)
    assert mara.percent is not None
    assert -7 < mara.percent < -3
    assert mara.question.startswith("Since about ")
    assert "?" in mara.question


def test_right_balances_are_not_asked_about() -> None:
    assert told(all_balances_lately(cooperative({}, Planted()))) == set()
    assert told(all_balances(cooperative({}, Planted()))) == set()


def test_a_low_balance_at_home_is_told_from_those_of_the_collectors() -> None:
    home = next(n for n in range(12) if at(n, Planted()).takes)

    rows = all_balances_lately(cooperative({home: Planted("balance", "home", 0.06, BEGINS)}, Planted()))

    assert told(rows) == {f"{AT_HOME}f{home}"}


def test_in_named_days_gaps_are_not_said_to_have_begun() -> None:
    rows = all_balances(cooperative({}, LOW))

    assert MARA in told(rows)
    assert not any(row.since for row in rows)


def test_collectors_whose_weighings_were_never_compared_stand_with_what_latex_let_expect() -> None:
    without = [each for n in range(12) if not (each := at(n, LOW)).takes]

    assert without
    assert {row.name for row in all_balances_lately(without)} >= {"Mara", "Nuno"}


def test_no_farms_have_no_balances() -> None:
    assert all_balances([]) == all_balances_lately([]) == []


def test_one_farm_s_own_book_tells_a_low_balance_at_home_since_about_when_it_began() -> None:
    found = 0
    for n in range(8):
        book = a_book(n, Planted("balance", "home", 0.08, BEGINS), 120)
        day = FIRST + timedelta(days=119)
        farm = Farm("f1", NAME, "UTC", "USD", "en", FarmSettings())
        rows = by_key_lately(gaps.of_entries(book.entries, farm, day - timedelta(days=59), day), By.BALANCE)
        if book.home:
            began = next((row.since for row in rows if row.told), None)
            found += began is not None and abs((began - FIRST).days - BEGINS) <= 10
    assert found >= 3

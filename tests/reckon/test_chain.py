"""Which latex sheets were made of, which were weighed and taken: first in, first out."""

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

from hypothesis import given
from hypothesis import strategies as st

from bot.books.model import Entry, Person
from bot.reckon.chain import Chain, follow
from parsers.reading import Record, What

FIRST = date(2026, 3, 2)
TOBIN = Person("p1", "+447700900102", "Tobin", "en")
FARM = "Reed Hollow"


def a_line(n: int, what: What, day: int, hour: int = 9, **fields: object) -> Entry:
    at = datetime(2026, 3, 2, hour, tzinfo=UTC) + timedelta(days=day)
    record = Record(what, FIRST + timedelta(days=day), **fields)  # type: ignore[arg-type]
    return Entry(f"e{n:03}", "f1", f"m{n}", TOBIN, None, record, at, None, False, False, None)


def latex(n: int, day: int, litres: int, block: str = "1") -> Entry:
    return a_line(n, What.LATEX, day, block=block, litres=Decimal(litres))


def rolled(n: int, day: int, count: int, block: str | None = None) -> Entry:
    return a_line(n, What.SHEETS_ROLLED, day, count=count, block=block)


def dry(n: int, day: int, count: int, kg: str) -> Entry:
    return a_line(n, What.SHEETS_DRY, day, count=count, kg=Decimal(kg))


def taken(n: int, day: int, sheets: int, kg: str, farm: str | None = None) -> Entry:
    return a_line(n, What.COLLECTED, day, sheets=sheets, kg=Decimal(kg), farm=farm)


def sources(chain: Chain) -> list[list[tuple[str, float]]]:
    return [[(part.entry.id, part.share) for part in rolling.latex] for rolling in chain.rollings]


def test_a_rolling_is_made_of_the_latex_of_the_days_before() -> None:
    chain = follow([latex(1, 0, 18), rolled(2, 1, 12), latex(3, 1, 20), rolled(4, 2, 13)], FARM)

    assert sources(chain) == [[("e001", 1.0)], [("e003", 1.0)]]


def test_where_nothing_waits_from_before_it_is_made_of_the_latex_of_its_day() -> None:
    chain = follow([latex(1, 0, 18), rolled(2, 0, 12), latex(3, 2, 20), rolled(4, 2, 13)], FARM)

    assert sources(chain) == [[("e001", 1.0)], [("e003", 1.0)]]


def test_two_rollings_of_a_day_share_its_latex_by_their_sheets() -> None:
    chain = follow([latex(1, 0, 18), rolled(2, 1, 9), rolled(3, 1, 3)], FARM)

    assert sources(chain) == [[("e001", 0.75)], [("e001", 0.25)]]


def test_latex_that_waited_too_long_was_not_rolled() -> None:
    assert sources(follow([latex(1, 0, 18), rolled(2, 5, 12)], FARM)) == [[]]


def test_a_rolling_that_names_a_block_takes_its_latex_only() -> None:
    chain = follow([latex(1, 0, 18, "1"), latex(2, 0, 14, "2"), rolled(3, 1, 9, block="2"), rolled(4, 1, 12)], FARM)

    assert sources(chain) == [[("e002", 1.0)], [("e001", 1.0)]]


def test_the_oldest_sheets_are_weighed_first_and_the_rest_hangs_on() -> None:
    chain = follow([latex(1, 0, 18), rolled(2, 1, 12), latex(3, 1, 18), rolled(4, 2, 12), dry(5, 8, 15, "7.4")], FARM)

    (weighing,) = chain.weighings
    assert [(each.rolling.entry.id, each.count) for each in weighing.sheets] == [("e002", 12), ("e004", 3)]
    assert [(each.rolling.entry.id, each.count) for each in chain.hanging] == [("e004", 9)]
    assert weighing.unknown == 0


def test_sheets_that_were_never_reported_as_rolled_are_told_apart() -> None:
    chain = follow([rolled(1, 0, 12), dry(2, 8, 15, "7.4")], FARM)

    assert chain.weighings[0].unknown == 3


def test_a_collector_takes_from_the_store_and_then_from_the_lines() -> None:
    chain = follow([rolled(1, 0, 12), rolled(2, 1, 12), dry(3, 8, 12, "6"), taken(4, 9, 20, "10")], FARM)

    assert [(each.rolling.entry.id, each.count) for each in chain.taken[0].sheets] == [("e001", 12), ("e002", 8)]
    assert chain.in_store == ()
    assert [each.count for each in chain.hanging] == [4]


def test_a_take_without_weighing_at_home_is_itself_the_weighing() -> None:
    chain = follow([latex(1, 0, 18), rolled(2, 1, 12), taken(3, 9, 12, "5.9")], FARM)

    assert [weighing.entry.id for weighing in chain.weighings] == ["e003"]


def test_takes_at_other_farms_are_left_out() -> None:
    chain = follow([rolled(1, 0, 12), taken(2, 9, 12, "6", farm="Otter Bend")], FARM)

    assert (chain.taken, [each.count for each in chain.hanging]) == ((), [12])


@given(
    st.lists(
        st.tuples(st.integers(0, 40), st.integers(1, 30), st.sampled_from(("rolled", "dry", "taken"))), max_size=25
    )
)
def test_no_sheet_is_lost_or_made(steps: list[tuple[int, int, str]]) -> None:
    make = {
        "rolled": lambda n, day, count: rolled(n, day, count),
        "dry": lambda n, day, count: dry(n, day, count, "5"),
        "taken": lambda n, day, count: taken(n, day, count, "5"),
    }
    chain = follow([make[kind](n, day, count) for n, (day, count, kind) in enumerate(steps)], FARM)

    everywhere = [*chain.hanging, *chain.in_store, *(each for take in chain.taken for each in take.sheets)]
    assert sum(each.count for each in everywhere) == sum(rolling.count for rolling in chain.rollings)

"""Pay by every system, mixtures of them, shared sales and advances."""

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from bot.rubber.money import MoneyError
from bot.rubber.pay import (
    Cost,
    Day,
    Norm,
    Pay,
    PayError,
    PerDay,
    PerHundredTrees,
    PerKilo,
    Share,
    Term,
    Work,
    pay,
    settle,
    share_sale,
    topped_up,
)

D = Decimal
WEEK = (Day(D("9.4"), 300), Day(D("12.1"), 310), Day(D("11.0"), 300))


def lines(work: Work, *terms: Term) -> list[tuple[str, str, Decimal]]:
    return [(line.label, line.rule, line.amount) for line in pay(work, terms, 2).lines]


def test_by_the_kilo() -> None:
    assert lines(Work(WEEK), PerKilo(D("1.15"))) == [("by the kilo", "32.5 kg dry x 1.15", D("37.38"))]


def test_by_the_trees() -> None:
    assert lines(Work(WEEK), PerHundredTrees(D(25))) == [("by trees", "9.1 x 100 trees x 25", D("227.50"))]


def test_by_the_day() -> None:
    assert lines(Work(WEEK), PerDay(D("12.50"))) == [("day's wage", "3 days x 12.50", D("37.50"))]


def test_days_below_the_kilos_asked_for_are_not_counted() -> None:
    assert lines(Work(WEEK), PerDay(D(2), "norm met", from_kg=D(11))) == [("norm met", "2 days x 2", D("4.00"))]


@pytest.mark.parametrize(("offered", "days"), [(4, 3), (5, 0)])
def test_attendance_is_paid_from_its_limit(offered: int, days: int) -> None:
    term = PerDay(D(1), "attendance", from_attendance_percent=D(75))

    assert pay(Work(WEEK, days_offered=offered), [term], 2).amount == days


def test_a_norm_counts_every_day_by_itself() -> None:
    assert lines(Work(WEEK), Norm(D("12.50"), D(11), D("0.90"))) == [
        ("norm of 11 kg", "3 days x 12.50", D("37.50")),
        ("above the norm", "1.1 kg dry x 0.90", D("0.99")),
    ]


def test_a_norm_may_be_paid_in_proportion_below() -> None:
    half = Work((Day(D("5.5")), Day(D(22))))

    assert pay(half, [Norm(D(10), D(11), D(1), "in proportion")], 2).amount == D("26.00")


def test_a_share_of_the_sale_with_costs_of_all_kinds() -> None:
    costs = (Cost("acid", D(40)), Cost("knife", D("4.50"), "tapper"), Cost("road", D(10), "owner"))
    work = Work(sales=D("2144.00"), costs=costs)

    assert lines(work, Share(Fraction(45, 100))) == [
        ("share of the sale", "9/20 of (2144.00 - 40.00) - 4.50", D("942.30")),
    ]


def test_a_wage_and_a_tenth_of_the_sale() -> None:
    terms = (PerDay(D(60)), Share(Fraction(1, 10)))

    assert pay(Work((Day(),), sales=D("80.55")), terms, 2).amount == D("68.06")


def test_a_share_below_nothing_is_owed() -> None:
    shares = share_sale(D(10), Fraction(1, 2), [Cost("fine", D(6), "tapper")], 2)

    assert (shares.tapper, shares.owner) == (D("-1.00"), D("5.00"))


money = st.decimals(0, 10**6, places=2)
costs = st.lists(st.builds(Cost, st.just("cost"), money, st.sampled_from(["before", "owner", "tapper"])), max_size=4)


@given(money, st.fractions(0, 1), costs)
def test_sides_and_costs_add_up_to_the_sale(sales: Decimal, share: Fraction, several: list[Cost]) -> None:
    assume(sum(cost.amount for cost in several if cost.borne == "before") <= sales)

    shares = share_sale(sales, share, several, 2)

    assert shares.tapper + shares.owner + sum((cost.amount for cost in several), D(0)) == sales


days = st.builds(Day, st.decimals(0, 100, places=3), st.integers(0, 800))
rates = st.decimals(0, 1000, places=3)
terms = st.one_of(
    st.builds(PerKilo, rates),
    st.builds(PerHundredTrees, rates),
    st.builds(PerDay, rates),
    st.builds(Norm, rates, st.decimals(1, 50, places=2), rates, st.sampled_from(["in full", "in proportion"])),
)


@given(st.lists(days, max_size=10), st.lists(terms, min_size=1, max_size=4), st.integers(0, 3))
def test_the_lines_of_pay_add_up(worked: list[Day], agreed: list[Term], exponent: int) -> None:
    found = pay(Work(tuple(worked)), agreed, exponent)

    assert sum((line.amount for line in found.lines), D(0)) == found.amount >= 0
    assert all(line.amount == line.amount.quantize(D(1).scaleb(-exponent)) for line in found.lines)


@given(days, rates, st.decimals(1, 50, places=2))
def test_more_rubber_never_pays_less(day: Day, rate: Decimal, norm: Decimal) -> None:
    more = Day(day.dry_kg + 1, day.trees)
    for term in (PerKilo(rate), Norm(rate, norm, rate), Norm(rate, norm, rate, "in proportion")):
        assert pay(Work((day,)), [term], 2).amount <= pay(Work((more,)), [term], 2).amount


def test_pay_is_lifted_to_a_guarantee() -> None:
    low = pay(Work(WEEK), [PerKilo(D(1))], 2)

    assert topped_up(low, D("350.00")).lines[-1].amount == D("317.50")
    assert topped_up(low, D("350.00")).amount == 350
    assert topped_up(low, D(30)) == topped_up(low, D("32.50")) == low
    assert topped_up(low, D("33.00")).amount == 33


def test_an_advance_is_taken_back_by_a_share_at_most() -> None:
    found = settle(D("100.05"), D("80.00"), 2, Fraction(1, 2))

    assert (found.recovered, found.paid, found.still_owed) == (D("50.03"), D("50.02"), D("29.97"))


@given(money, money, st.fractions(0, 1))
def test_an_advance_and_pay_add_up(earned: Decimal, owed: Decimal, most: Fraction) -> None:
    found = settle(earned, owed, 2, most)

    assert found.recovered + found.paid == earned
    assert found.recovered + found.still_owed == owed
    assert min(found.recovered, found.paid, found.still_owed) >= 0


@pytest.mark.parametrize(
    ("work", "agreed", "reason"),
    [
        (Work(), [], "no terms"),
        (Work((Day(D(-1)),)), [PerKilo(D(1))], "the kilos of a day"),
        (Work((Day(D(1), -3),)), [PerKilo(D(1))], "the trees of a day"),
        (Work((Day(D("NaN")),)), [PerKilo(D(1))], "the kilos of a day"),
        (Work(WEEK), [PerKilo(D(-1))], "a rate cannot be -1"),
        (Work(WEEK), [PerKilo(D("1e40"))], "a rate"),
        (Work(WEEK), [Norm(D(1), D(0), D(1))], "above 0 kg"),
        (Work(WEEK), [PerDay(D(1), from_attendance_percent=D(75))], "days offered"),
        (Work(WEEK, days_offered=2), [PerDay(D(1))], "3 days worked of 2"),
        (Work(sales=D(-1)), [Share(Fraction(1, 2))], "the sale"),
        (Work(sales=D(10), costs=(Cost("acid", D(11)),)), [Share(Fraction(1, 2))], "more than the sale"),
        (Work(sales=D(10), costs=(Cost("acid", D(-1)),)), [Share(Fraction(1, 2))], "the cost of acid"),
    ],
)
def test_work_and_terms_that_make_no_sense_are_refused(work: Work, agreed: list[Term], reason: str) -> None:
    with pytest.raises(PayError, match=reason):
        pay(work, agreed, 2)


def test_amounts_with_too_many_decimals_are_refused() -> None:
    with pytest.raises(MoneyError, match="more decimals"):
        share_sale(D("10.005"), Fraction(1, 2), [], 2)
    with pytest.raises(MoneyError, match="more decimals"):
        topped_up(Pay((), D(0), 0), D("0.5"))
    with pytest.raises(PayError, match="owed"):
        settle(D(1), D(-1), 2)

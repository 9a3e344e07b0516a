"""A pay-out adds up to the last unit, is never below nothing, and loses nothing from one to the next."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bot.rubber.money import MoneyError, minor_unit
from bot.rubber.payout import levies, pay_out

EXPONENTS = st.sampled_from([0, 2, 3])
UNITS = st.integers(-(10**9), 10**9)
ABOVE = st.integers(1, 10**9)


def in_units(units: list[int], exponent: int) -> list[Decimal]:
    return [unit * minor_unit(exponent) for unit in units]


@given(EXPONENTS, st.lists(UNITS), st.lists(UNITS), st.lists(UNITS), st.integers(0, 10**9))
def test_what_comes_in_less_what_comes_off_is_paid_or_carried(
    exponent: int, receipts: list[int], levy: list[int], off: list[int], brought: int
) -> None:
    given_ = [in_units(each, exponent) for each in (receipts, levy, off)]

    found = pay_out(*given_, brought * minor_unit(exponent), exponent)

    assert (
        sum(given_[0]) - sum(given_[1]) - sum(given_[2]) - brought * minor_unit(exponent) == found.paid - found.carried
    )
    assert found.paid >= 0
    assert found.carried >= 0
    assert not (found.paid and found.carried)


@given(EXPONENTS, st.lists(st.tuples(st.lists(ABOVE, max_size=5), st.lists(ABOVE, max_size=5)), max_size=8))
def test_pay_outs_one_after_the_other_come_to_all_receipts_less_all_deductions(
    exponent: int, season: list[tuple[list[int], list[int]]]
) -> None:
    """What one leaves is brought to the next: in the end all is paid but what is carried still."""
    paid = carried = Decimal(0)
    for receipts, off in season:
        found = pay_out(in_units(receipts, exponent), (), in_units(off, exponent), carried, exponent)
        paid, carried = paid + found.paid, found.carried

    came = sum((each for receipts, _ in season for each in in_units(receipts, exponent)), Decimal(0))
    went = sum((each for _, off in season for each in in_units(off, exponent)), Decimal(0))
    assert came - went == paid - carried


@given(EXPONENTS, UNITS, st.integers(0, 10_000))
def test_a_levy_is_rounded_once_to_within_half_a_unit(exponent: int, units: int, hundredths: int) -> None:
    amount, percent = units * minor_unit(exponent), Decimal(hundredths) / 100

    (levy,) = levies({percent: amount}, exponent).values()

    assert abs(levy - amount * percent / 100) <= minor_unit(exponent) / 2
    assert levy == levy.quantize(minor_unit(exponent))


def test_a_deduction_larger_than_what_is_due_is_carried() -> None:
    found = pay_out([Decimal("18.29")], [Decimal("0.37")], [Decimal("500.00")], Decimal(0), 2)

    assert (found.paid, found.carried) == (Decimal("0.00"), Decimal("482.08"))


@pytest.mark.parametrize("amount", [Decimal("0.001"), Decimal("NaN"), Decimal("Infinity"), Decimal(10) ** 16])
def test_no_amount_that_cannot_be_paid_is_taken(amount: Decimal) -> None:
    for amounts in (([amount], (), (), Decimal(0)), ((), (), [amount], Decimal(0)), ((), (), (), amount)):
        with pytest.raises(MoneyError):
            pay_out(*amounts, 2)


def test_nothing_that_is_left_can_be_below_nothing() -> None:
    with pytest.raises(MoneyError):
        pay_out((), (), (), Decimal(-1), 2)


@pytest.mark.parametrize("percent", [Decimal(-1), Decimal("100.01"), Decimal("NaN")])
def test_a_levy_lies_between_nothing_and_the_whole(percent: Decimal) -> None:
    with pytest.raises(MoneyError):
        levies({percent: Decimal(1)}, 2)

"""Money: rounding, and splits that lose nothing."""

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bot.rubber.money import MoneyError, minor_unit, rounded, share_of, split, two_ways, whole

D = Decimal

exponents = st.integers(0, 4)
units = st.integers(-(10**12), 10**12)
shares = st.fractions(0, 1)
weights = st.dictionaries(
    st.text("abcdefgh", min_size=1, max_size=3), st.one_of(st.integers(0, 10**6), shares), min_size=1, max_size=12
).filter(lambda by_name: any(by_name.values()))


def amount(minor_units: int, exponent: int) -> Decimal:
    return minor_units * minor_unit(exponent)


@given(units, weights, exponents)
def test_the_parts_of_a_split_add_up_to_the_amount(minor: int, by_name: dict[str, Fraction], exponent: int) -> None:
    parts = split(amount(minor, exponent), by_name, exponent)

    assert sum(parts.values(), D(0)) == amount(minor, exponent)


@given(units, weights, exponents)
def test_no_part_is_off_by_a_whole_minor_unit(minor: int, by_name: dict[str, Fraction], exponent: int) -> None:
    parts = split(amount(minor, exponent), by_name, exponent)
    total = sum(map(Fraction, by_name.values()))

    for name, weight in by_name.items():
        exact = Fraction(amount(minor, exponent)) * Fraction(weight) / total
        assert abs(Fraction(parts[name]) - exact) < Fraction(minor_unit(exponent))


@given(units, weights, exponents)
def test_whoever_has_no_share_gets_nothing(minor: int, by_name: dict[str, Fraction], exponent: int) -> None:
    parts = split(amount(minor, exponent), by_name, exponent)

    assert all(parts[name] == 0 for name, weight in by_name.items() if not weight)


@given(units, st.lists(st.integers(1, 1000), min_size=2, max_size=8), exponents)
def test_a_larger_weight_never_gets_less(minor: int, sizes: list[int], exponent: int) -> None:
    parts = split(abs(amount(minor, exponent)), dict(enumerate(sizes)), exponent)

    for one, size in enumerate(sizes):
        assert all(parts[one] <= parts[other] for other, larger in enumerate(sizes) if larger > size)


@given(units, shares, exponents)
def test_two_sides_add_up_and_lie_within_half_a_minor_unit(minor: int, share: Fraction, exponent: int) -> None:
    whole_amount = amount(minor, exponent)
    one, rest = two_ways(whole_amount, share, exponent)

    assert one + rest == whole_amount
    assert abs(Fraction(one) - Fraction(whole_amount) * share) <= Fraction(minor_unit(exponent)) / 2


@given(st.decimals(-(10**9), 10**9, places=6), exponents)
def test_rounding_moves_by_half_a_minor_unit_at_most(number: Decimal, exponent: int) -> None:
    assert abs(rounded(number, exponent) - number) <= minor_unit(exponent) / 2


def test_ties_go_to_whoever_stands_first() -> None:
    assert split(D("0.01"), {"owner": 1, "tapper": 1}, 2) == {"owner": D("0.01"), "tapper": D("0.00")}
    assert split(D(100), {"a": 1, "b": 1, "c": 1}, 0) == {"a": 34, "b": 33, "c": 33}


def test_halves_are_rounded_up() -> None:
    assert (rounded(D("0.125"), 2), rounded(D("0.5"), 0), rounded(D("-0.125"), 2)) == (D("0.13"), 1, D("-0.13"))


@pytest.mark.parametrize(
    ("text", "share"),
    [
        ("45%", Fraction(9, 20)),
        ("1/3", Fraction(1, 3)),
        ("45:55", Fraction(9, 20)),
        ("0.45", Fraction(9, 20)),
        (" 12.5 % ", Fraction(1, 8)),
        ("1", Fraction(1)),
    ],
)
def test_shares_as_people_write_them(text: str, share: Fraction) -> None:
    assert share_of(text) == share


@pytest.mark.parametrize("text", ["", "half", "45", "150%", "1/0", "0:0", "1e9", "45%3", "1/", "3:", "-1/2", "nan"])
def test_what_is_no_share_is_refused(text: str) -> None:
    with pytest.raises(MoneyError):
        share_of(text)


@pytest.mark.parametrize(
    "impossible",
    [
        lambda: minor_unit(5),
        lambda: minor_unit(-1),
        lambda: rounded(D("NaN"), 2),
        lambda: rounded(D("Infinity"), 2),
        lambda: rounded(D("1e30"), 2),
        lambda: whole(D("1.005"), 2),
        lambda: two_ways(D("0.005"), Fraction(1, 2), 2),
        lambda: two_ways(D(1), Fraction(3, 2), 2),
        lambda: split(D(1), {"a": 0}, 2),
        lambda: split(D(1), {"a": 2, "b": -1}, 2),
        lambda: split(D("0.001"), {"a": 1}, 2),
    ],
)
def test_impossible_money_is_refused(impossible) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(MoneyError):
        impossible()


def test_an_empty_split_is_refused() -> None:
    with pytest.raises(MoneyError):
        split(D(1), {}, 2)

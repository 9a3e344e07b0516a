"""Sales by weight, content and grade; reconciling field and factory."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bot.rubber.money import MoneyError
from bot.rubber.price_support import incentive
from bot.rubber.reconciling import apart, reconcile
from bot.rubber.selling import (
    Deduction,
    SaleError,
    bales,
    dry_kg,
    grade,
    latex_sale,
    lump_sale,
    price_by_content,
    price_of_grade,
    rebased_kg,
    sheet_sale,
)
from bot.rubber.selling_reference import SELLING, citation

D = Decimal


def test_a_sale_tells_how_it_was_worked_out() -> None:
    sale = latex_sale(D("17.7"), D("33.5"), D("1.55"), 2)

    assert (sale.brought_kg, sale.paid_kg, sale.amount) == (D("17.7"), D("5.930"), D("9.19"))
    assert sale.rule == "17.7 kg latex x 33.5% DRC = 5.930 kg x 1.55"
    assert [citation(source) for source in sale.sources] == ["keralafarmeronline.com, on the price of latex"]


def test_deductions_by_kilo_by_percent_and_by_sale() -> None:
    deductions = (
        Deduction("processing", D("0.10"), "kg"),
        Deduction("society", D("2.5"), "percent"),
        Deduction("road", D("1.50"), "sale"),
    )

    sale = lump_sale(D(40), D(50), D("3.00"), 2, deductions)

    assert sale.before == 60
    assert [line.amount for line in sale.deductions] == [D("2.00"), D("1.50"), D("1.50")]
    assert sale.amount == D("55.00")


def test_sheets_by_grade() -> None:
    prices = {"RSS3": D("1.55"), "RSS1": D("1.70")}

    sale = sheet_sale(D("11.8"), price_of_grade("rss 3", prices), 2)

    assert (sale.paid_kg, sale.amount) == (D("11.8"), D("18.29"))


def test_sheets_by_moisture() -> None:
    sale = sheet_sale(D(250), D("60.00"), 2, moisture_percent=D(7), contract_percent=D(3))

    assert (sale.paid_kg, sale.amount) == (D("239.691"), D("14381.46"))
    assert "7% moisture paid as 3%" in sale.rule


@pytest.mark.parametrize(
    ("text", "name"), [("RSS3", "RSS3"), ("rss 3", "RSS3"), ("RSS 1X", "RSS1X"), ("Rss-5", "RSS5")]
)
def test_grades_as_people_write_them(text: str, name: str) -> None:
    assert grade(text).name == name


weights = st.decimals(0, 10**5, places=2)
percents = st.decimals(0, 100, places=1)
prices = st.decimals(0, 10**4, places=2)


@given(weights, percents, prices, st.integers(0, 3))
def test_deductions_and_amount_add_up_to_the_sale(kg: Decimal, content: Decimal, price: Decimal, exponent: int) -> None:
    sale = lump_sale(kg, content, price, exponent, [Deduction("society", D("3.3"), "percent")])

    assert sale.amount + sum((line.amount for line in sale.deductions), D(0)) == sale.before
    assert 0 <= sale.amount <= sale.before


@given(weights, st.decimals(0, 99, places=1), st.decimals(0, 99, places=1))
def test_rebased_weights_hold_the_same_rubber(kg: Decimal, moisture: Decimal, contract: Decimal) -> None:
    rebased = rebased_kg(kg, moisture, contract)

    assert dry_kg(rebased, 100 - contract) == pytest.approx(dry_kg(kg, 100 - moisture), abs=D("0.0015"))


@given(weights, st.decimals("0.01", 10**3, places=2))
def test_bales_and_the_rest_add_up(kg: Decimal, bale: Decimal) -> None:
    number, rest = bales(kg, bale)

    assert number * bale + rest == kg
    assert 0 <= rest < bale


@given(st.dictionaries(st.integers(0, 20), st.decimals("0.001", 100, places=3), min_size=1), weights)
def test_adjusted_kilos_add_up_to_what_was_weighed(estimates: dict[int, Decimal], weighed: Decimal) -> None:
    assert sum(reconcile(estimates, weighed).adjusted_kg.values(), D(0)) == weighed


@pytest.mark.parametrize(("weighed", "flagged"), [("95.00", False), ("94.99", True), ("105.01", True)])
def test_a_batch_is_flagged_beyond_its_limit(weighed: str, flagged: bool) -> None:
    assert reconcile({"a": D(60), "b": D(40)}, D(weighed)).flagged == flagged


def test_limits_are_settings() -> None:
    assert reconcile({"a": D(100)}, D(98), limit_percent=1).flagged
    assert apart(D("5.4"), D(6)) == (D(-10), False)
    assert apart(D("5.3"), D(6))[1]
    assert not apart(D("5.3"), D(6), limit_percent=20)[1]


def test_constants_without_a_source_say_so() -> None:
    assert {SELLING[name].status for name in ("batch_flag", "tapper_flag")} == {"common practice, no source"}


@pytest.mark.parametrize(
    "impossible",
    [
        lambda: latex_sale(D(-1), D(30), D(1), 2),
        lambda: latex_sale(D(1), D(101), D(1), 2),
        lambda: latex_sale(D("NaN"), D(30), D(1), 2),
        lambda: latex_sale(D(1), D(30), D(-1), 2),
        lambda: latex_sale(D(1), D(30), D("1e40"), 2),
        lambda: latex_sale(D(1), D(30), D(1), 2, [Deduction("road", D(5), "sale")]),
        lambda: latex_sale(D(1), D(30), D(1), 2, [Deduction("road", D(-5), "sale")]),
        lambda: sheet_sale(D(1), D(1), 2, moisture_percent=D(7)),
        lambda: rebased_kg(D(1), D(3), D(100)),
        lambda: price_by_content(D(1), D(-1), 0),
        lambda: grade("best"),
        lambda: price_of_grade("RSS3", {}),
        lambda: bales(D(1), D(0)),
    ],
)
def test_impossible_sales_are_refused(impossible) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(SaleError):
        impossible()


def test_deductions_above_the_sale_are_told_with_both_sums() -> None:
    with pytest.raises(SaleError, match=r"deductions of 5\.00 are more than the sale of 0\.30"):
        latex_sale(D(1), D(30), D(1), 2, [Deduction("road", D(5), "sale")])


def test_reconciling_nothing_is_refused() -> None:
    with pytest.raises(MoneyError):
        reconcile({"a": D(0)}, D(1))
    with pytest.raises(MoneyError):
        apart(D(1), D(0))
    with pytest.raises(MoneyError):
        incentive(D(-1), D(1))

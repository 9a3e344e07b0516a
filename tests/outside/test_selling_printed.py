"""Selling and pay against published lists, agreements and news reports."""

from decimal import Decimal
from fractions import Fraction

import pint
import pytest

from bot.rubber.money import two_ways
from bot.rubber.pay import Cost, Day, Norm, Pay, PerDay, PerHundredTrees, Work, pay, share_sale
from bot.rubber.price_support import incentive
from bot.rubber.reconciling import miscredit_percent, reconcile
from bot.rubber.selling import Deduction, bales, dry_kg, latex_sale, lump_sale, price_by_content, rebased_kg, sheet_sale
from bot.rubber.selling_reference import value

D = Decimal


@pytest.mark.parametrize(
    ("dry", "list_1", "content", "list_2"),
    [
        (20432, 14302, 70, 13373),
        (20432, 12259, 60, 11462),
        (20432, 10216, 50, 9553),
        (20432, 8173, 40, 7642),
    ],
)
def test_slab_prices_are_linear_in_dry_content(dry: int, list_1: int, content: int, list_2: int) -> None:
    """South Sumatra plantation office, price lists of 22 February (dry 20,432 Rp) and 10 February 2021 (19,104 Rp).

    Printed. The second list is 1 Rp off exact halving at 50 %, so it is compared within 1 Rp.
    """
    assert price_by_content(D(dry), D(content), 0) == list_1
    assert abs(price_by_content(D(19104), D(content), 0) - list_2) <= 1


def test_lump_of_half_dry_content_is_paid_at_half_the_price() -> None:
    """wartabanjar.com, 30 December 2020: market 18,000 Rp, lump of about 50 % gives 9,000 Rp. Printed."""
    assert price_by_content(D(18000), D(50), 0) == 9000
    assert lump_sale(D(1), D(50), D(18000), 0).amount == 9000


def test_a_hundred_kilos_of_latex_at_thirty_percent_are_paid_as_thirty() -> None:
    """keralafarmeronline.com, on latex prices. Printed."""
    assert dry_kg(D(100), D(30)) == 30


def test_latex_at_a_thai_price() -> None:
    """Derived: 100 kg at 32 % at the Hat Yai price of 67.00 baht (Rubber Research Institute of Thailand bulletin)."""
    sale = latex_sale(D("100.0"), D(32), D("67.00"), 2)

    assert (sale.paid_kg, sale.amount) == (D("32.000"), D("2144.00"))


@pytest.mark.parametrize(
    ("tapper_share", "owner", "tapper"),
    [
        (Fraction(1, 2), "1072.00", "1072.00"),
        (Fraction(40, 100), "1286.40", "857.60"),
        (Fraction(45, 100), "1179.20", "964.80"),
        (Fraction(1, 3), "1429.33", "714.67"),
    ],
)
def test_usual_shares_of_a_sale(tapper_share: Fraction, owner: str, tapper: str) -> None:
    """Derived. Halves are printed for Songkhla (Somboonsuke et al. 2012), thirds for Riau; 60:40 and 55:45 are from
    memory, and only their arithmetic is checked.
    """
    assert two_ways(D("2144.00"), tapper_share, 2) == (D(tapper), D(owner))


def test_one_side_is_rounded_and_the_other_has_the_rest() -> None:
    """Derived: 45 % of 2,143.15 is 964.4175."""
    assert two_ways(D("2143.15"), Fraction(45, 100), 2) == (D("964.42"), D("1178.73"))


def test_costs_before_the_split() -> None:
    """Derived: 40.00 for acid off 2,144.00, then halves."""
    shares = share_sale(D("2144.00"), Fraction(1, 2), [Cost("acid", D("40.00"))], 2)

    assert (shares.split, shares.tapper, shares.owner) == (D("2104.00"), D("1052.00"), D("1052.00"))


def test_sheets_are_rebased_to_the_moisture_of_the_contract() -> None:
    """Derived, mass balance."""
    assert rebased_kg(D(100), D(5), D(0)) == D("95.000")
    assert rebased_kg(D(250), D(7), D(3)) == pytest.approx(D("239.69"), abs=D("0.005"))


def test_nine_bales_are_a_tonne() -> None:
    """Report on cooperatives in Chanthaburi, Thailand: bales of 111.11 kg, nine to the tonne. Printed."""
    assert bales(D(1000), D(str(value("bale_rss")))) == (9, D("0.01"))


@pytest.mark.parametrize(("bale", "number", "pallet"), [("33.333", 36, 1200), ("35", 36, 1260)])
def test_block_rubber_pallets(bale: str, number: int, pallet: int) -> None:
    """Vendors' pages: 36 bales of 33 1/3 kg are 1,200 kg, of 35 kg 1,260 kg. Printed."""
    assert bales(D(pallet), D(bale))[0] == number


@pytest.mark.parametrize(("name", "kilograms"), [("bale_most_lb", 113.5), ("bale_least_lb", 101.7)])
def test_bale_limits_in_pounds_are_those_in_kilograms(name: str, kilograms: float) -> None:
    """Green Book, packing rules: 250 lb (113.5 kg) and 224 lb (101.7 kg). Printed; converted by pint."""
    pounds = pint.UnitRegistry().Quantity(value(name), "pound")

    assert pounds.to("kg").magnitude == pytest.approx(kilograms, abs=0.15)


# Lembaga Getah Malaysia via Bernama, printed: trigger, average lump price, rates at 50 % and at 100 %, in RM a kg.
INCENTIVES = [
    ("3.00", "2.95", "0.05", "0.10"),
    ("3.00", "2.65", "0.35", "0.70"),
    ("3.00", "2.60", "0.40", "0.80"),
    ("3.00", "2.80", "0.20", "0.40"),
    ("3.00", "2.50", "0.50", "1.00"),
    ("3.00", "3.10", "0.00", "0.00"),
    ("3.00", "2.75", "0.25", "0.50"),
    ("3.00", "2.70", "0.30", "0.60"),
    ("2.50", "2.35", "0.15", "0.30"),
    ("2.50", "2.00", "0.50", "1.00"),
]


@pytest.mark.parametrize(("trigger", "average", "at_50", "at_100"), INCENTIVES)
def test_malaysian_incentive(trigger: str, average: str, at_50: str, at_100: str) -> None:
    """Months and regions of March 2023 to January 2026. Printed rates; the rule between them is an inference."""
    found = incentive(D(trigger), D(average))

    assert (found.at_50, found.at_100) == (D(at_50), D(at_100))
    assert found.active == (D(at_50) > 0)


def test_the_incentive_pays_the_same_rubber_the_same() -> None:
    """Derived: 120 kg of lump at 50 % hold 60 kg dry; June 2025, Peninsular."""
    rates = incentive(D("3.00"), D("2.80"))

    assert lump_sale(D(120), D(100), rates.at_50, 2).amount == lump_sale(D(120), D(50), rates.at_100, 2).amount == 24


def test_kerala_support_takes_nine_rupees_a_kilo_off_latex() -> None:
    """Hindu BusinessLine, 2022: reference price 170, growers who sell latex get 161. Printed; amounts derived."""
    processing = Deduction("processing", D(9), "kg")

    assert sheet_sale(D(100), D(170), 2).amount == 17000
    assert latex_sale(D(200), D(50), D(170), 2, [processing]).amount == 16100


def test_three_hundred_trees_at_25_rupees_a_hundred() -> None:
    """Derived from the rate of 132 of 200 tappers (Ushadevi & Jayachandran 2001, Kanjirappally)."""
    assert earned([Day(trees=300)], PerHundredTrees(D(25))).amount == D("75.00")


@pytest.mark.parametrize(("kg", "amount"), [(9, "12.50"), (11, "12.50"), (14, "15.20")])
def test_a_base_up_to_the_norm_and_a_rate_above(kg: int, amount: str) -> None:
    """MAPA-NUPW agreement, April 2003: RM 12.50 up to 11 kg dry a day. Printed; the rate above it (0.90) is made up."""
    assert earned([Day(D(kg))], Norm(D("12.50"), D(11), D("0.90"))).amount == D(amount)


def test_a_day_on_a_sri_lankan_estate() -> None:
    """Planters' Association of Ceylon 2016: 500 + 60 attendance (from 75 %) + 140 norm + 30 price share = 730. Printed.

    The agreement is for tea; its structure serves rubber too.
    """
    terms = (
        PerDay(D(500), "basic wage"),
        PerDay(D(60), "attendance", from_attendance_percent=D(75)),
        PerDay(D(140), "norm met", from_kg=D(18)),
        PerDay(D(30), "price share"),
    )

    assert pay(Work((Day(D(18)),), days_offered=1), terms, 2).amount == 730


def test_the_same_estate_three_years_later() -> None:
    """Planters' Association of Ceylon 2019: 700 + 50 = 750, and 40 for a kg above the norm. Printed."""
    terms = (PerDay(D(700)), PerDay(D(50), "price share"), Norm(D(0), D(18), D(40)))

    assert pay(Work((Day(D(18)),)), terms, 2).amount == 750
    assert pay(Work((Day(D(20)),)), terms, 2).amount == 830


@pytest.mark.parametrize(("own", "average", "percent"), [(37, 35, 6), (33, 35, -6), (38, 35, 9)])
def test_a_richer_latex_is_overpaid_by_three_percent_a_point(own: float, average: float, percent: float) -> None:
    """H. Fairfield Smith 1947, JRRIM Communication 263: 3 % for each point. Printed rule; figures derived."""
    assert miscredit_percent(own, average) == percent


def test_a_batch_is_shared_by_what_each_brought() -> None:
    """Derived: three tappers of 42.0 kg at 33 %, 38.5 kg at 31 % and 51.0 kg at 35 %, weighed dry 43.20 kg."""
    estimates = {"T1": dry_kg(D(42), D(33)), "T2": dry_kg(D("38.5"), D(31)), "T3": dry_kg(D(51), D(35))}

    found = reconcile(estimates, D("43.20"))

    assert found.estimated_kg == D("43.645")
    assert found.factor == pytest.approx(D("0.98980"), abs=D("0.00001"))
    assert found.difference_percent == pytest.approx(D("-1.02"), abs=D("0.005"))
    assert found.adjusted_kg == {"T1": D("13.72"), "T2": D("11.81"), "T3": D("17.67")}
    assert not found.flagged


def earned(days: list[Day], *terms: Norm | PerDay | PerHundredTrees) -> Pay:
    return pay(Work(tuple(days)), terms, 2)

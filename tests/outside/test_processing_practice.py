"""What growers do, as a cross-check: "common practice, no source" unless a source is named. None of it is an oracle."""

import pytest
from pint import UnitRegistry

from bot.rubber.coagulation import Setting, dose, setting_time
from bot.rubber.latex import dry_kg_from_litres
from bot.rubber.reference import value
from bot.rubber.sheets import rolling, thickness_mm

UNITS = UnitRegistry()


def test_equal_water_is_what_usual_latex_takes() -> None:
    """Common practice, no source: as much water as latex. It is right at 30 %, a fifth short at 33 %."""
    assert dose(10, 30).water_litres == pytest.approx(10, rel=0.02)
    assert dose(10, 33).water_litres == pytest.approx(12, rel=0.03)


def test_formic_acid_for_two_litres() -> None:
    """Common practice, no source: 2.5 to 3 ml of formic acid for two litres of latex."""
    assert 2.5 <= dose(2).acid_ml <= 3.0


def test_five_to_seven_hours_lie_between_the_published_same_day_and_next_day() -> None:
    """Common practice, no source: rolled five to seven hours after the acid."""
    assert setting_time(Setting.SAME_DAY).high_hours <= 5
    assert setting_time(Setting.NEXT_DAY).low_hours >= 7


def test_a_litre_gives_a_third_of_a_kilo() -> None:
    """Common practice, no source."""
    assert dry_kg_from_litres(1, value("drc_usual")) == pytest.approx(1 / 3, rel=0.05)


def test_the_thai_sheet_is_as_thick_as_it_weighs() -> None:
    """baanjomyut.com: 40-45 x 80-85 cm, 2.8-3.2 mm; spt-rubber.com: 0.75-0.85 kg. Two sources that agree (derived)."""
    assert 2.7 <= thickness_mm(0.8, 80, 40) <= 3.2
    assert rolling().dry_mm_low <= thickness_mm(0.85, 80, 40) <= rolling().dry_mm_high


@pytest.mark.parametrize(
    ("amount", "unit", "wanted", "into"),
    [
        (409.1, "litre", 90, "imperial_gallon"),
        (545.5, "litre", 120, "imperial_gallon"),
        (149.66, "gram/litre", 1.5, "pound/imperial_gallon"),
        (1359, "litre", 48, "foot**3"),
        (value("smoke_house_celsius"), "degC", 130, "degF"),
        (454.6, "milliliter", 16, "imperial_fluid_ounce"),
    ],
)
def test_imperial_measures_of_the_source_against_pint(amount: float, unit: str, wanted: float, into: str) -> None:
    """Morgan 1922 counts in imperial units; an estate tank of 12 x 4 x 1 ft holds 1359 L (p. 90)."""
    assert UNITS.Quantity(amount, unit).to(into).magnitude == pytest.approx(wanted, rel=1e-3)

"""Panels, bark and stimulation against figures in print and against plain trigonometry."""

import math
from datetime import date, timedelta
from fractions import Fraction

import pytest

from bot.rubber.calendar import tapping_calendar, tapping_days
from bot.rubber.notation import read
from bot.rubber.panel import bark_cm, bark_left, bark_use, cut_line, mm_allowed, panel_years, trees_needed, vertical_mm
from bot.rubber.stimulation import before_tappings, mixture
from bot.rubber.tapping_system import Panel


def test_half_of_a_girth_of_45_cm_is_22_5_cm() -> None:
    """gestaonocampo.com.br, types of tapping. Printed."""
    assert cut_line(45, 0.5, 30).girth_share_cm == 22.5


@pytest.mark.parametrize(
    ("girth", "fraction", "slope", "length", "drop"),
    [
        (50, 0.5, 30, 28.87, 14.43),
        (50, 0.5, 33, 29.81, 16.24),
        (50, 0.5, 35, 30.52, 17.51),
        (60, 0.25, 45, 21.21, 15.00),
    ],
)
def test_length_and_drop_of_the_cut(girth: float, fraction: float, slope: float, length: float, drop: float) -> None:
    """Derived, plain trigonometry; the sides close a right-angled triangle."""
    cut = cut_line(girth, fraction, slope)

    assert (cut.length_cm, cut.drop_cm) == pytest.approx((length, drop), abs=0.006)
    assert math.hypot(cut.girth_share_cm, cut.drop_cm) == pytest.approx(cut.length_cm)


@pytest.mark.parametrize(("slope", "vertical"), [(30, 1.73), (35, 1.83), (45, 2.12)])
def test_a_shaving_of_1_5_mm_takes_more_bark_down_a_sloping_cut(slope: float, vertical: float) -> None:
    """Derived, plain trigonometry."""
    assert vertical_mm(1.5, slope) == pytest.approx(vertical, abs=0.005)


def test_six_years_at_18_cm_leave_the_cut_at_22_cm() -> None:
    """Derived from the Vietnamese procedure of 2012 (18 cm a year at d3, opened at 1.3 m) and six years a panel."""
    assert panel_years(130, 22, 18) == 6
    assert bark_left(Panel("B", "O", 1), 130, 22, 22, 1.5).used_cm == 108


def test_half_a_year_of_overuse_shortens_a_panel() -> None:
    """Derived from six and four years a panel (J. Rubber Res. Inst. Sri Lanka 98); the height is from memory."""
    assert panel_years(120, 0, 20) == 6
    assert panel_years(120, 0, 30) == 4


def test_weekly_tapping_at_2_5_mm_uses_13_cm_a_year() -> None:
    """Derived from 52 tappings of 2.5 mm (Rubber Board India, news 990)."""
    assert bark_cm(52, 2.5) == 13.0


@pytest.mark.parametrize(("tappings", "most_mm", "year_cm"), [(104, 1.4, 14.56), (78, 1.6, 12.48)])
def test_chinese_limits_a_tapping_make_so_much_a_year(tappings: int, most_mm: float, year_cm: float) -> None:
    """Derived from the most a tapping may take by NY/T 1088-2006 (secondary copy)."""
    assert bark_cm(tappings, most_mm) == pytest.approx(year_cm)
    assert mm_allowed(year_cm, tappings) == pytest.approx(most_mm)


def test_a_vietnamese_year_keeps_to_its_limit() -> None:
    """Derived scenario: 18 cm at d3, 15.2 cm used, six weeks of two tappings of 1.5 mm left."""
    use = bark_use(15.2, 12, 1.5, 18)

    assert use.needed_cm == pytest.approx(1.8)
    assert use.total_cm == pytest.approx(17.0)
    assert use.kind == "within"


@pytest.mark.parametrize(("years", "panels", "total"), [(5, 4, 20), (7, 3, 21), (2, 4, 8), (4, 4, 16)])
def test_years_of_controlled_upward_tapping(years: float, panels: int, total: float) -> None:
    """Rubber Board text in naturalrubbercultivation.blogspot.com (copy): 20, 21 and 8 to 16 years. Printed.

    A panel of any height serves so many years; here 40 cm upward from 130 cm.
    """
    assert panels * panel_years(170, 130, 40 / years) == pytest.approx(total)


def test_sixty_percent_of_555_trees_are_333() -> None:
    """Indonesian extension leaflet (pdfcoffee.com, copy): 555 trees a hectare at 6 x 3 m, 60 % rule. Printed."""
    assert trees_needed(555, 60) == 333


@pytest.mark.parametrize(("percent", "parts"), [(Fraction(5, 2), 3), (5, 1)])
def test_ten_percent_stock_is_thinned(percent: Fraction, parts: int) -> None:
    """Rubber Board India, ManageCultivation 123: one part and three of oil for 2.5 %, one and one for 5 %. Printed."""
    found = mixture(10, percent, 1000)

    assert found.carrier_parts == parts
    assert found.carrier_g == pytest.approx(parts * found.stock_g)
    assert found.stock_g * 10 / 1000 == pytest.approx(float(percent))


def test_weekly_tapping_is_stimulated_72_hours_before_every_fifth() -> None:
    """Rubber Board India, news 990 (2016): tapped on Tuesdays, that is the Saturday before. Printed."""
    (system,) = read("S/2 d7").systems
    tuesday = date(2026, 3, 3)
    days = tapping_days(tapping_calendar(system, tuesday), tuesday, tuesday + timedelta(days=363))

    stimulated = before_tappings(days)

    assert stimulated[0] == date(2026, 3, 28)
    assert {day.strftime("%A") for day in stimulated} == {"Saturday"}
    assert len(days) == 52
    assert len(stimulated) in {10, 11}

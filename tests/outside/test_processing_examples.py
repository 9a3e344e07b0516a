"""Worked examples in print, and figures derived from print, against the arithmetic of processing.

"Printed": input and output both stand in the source. "Derived": the source gives the data or the formula, the sum is
ours. M is S. Morgan with H. P. Stevens, The Preparation of Plantation Rubber, London 1922 (gallons are imperial).
"""

import pytest

from bot.rubber import latex, lump, sheets
from bot.rubber.acids import (
    Acid,
    DoseRefused,
    acid_g_for_ammonia,
    acid_named,
    molar_mass,
    percent_wv_of_mixture,
    pure_g_per_ml,
    thinned_by_volume,
    working_solution,
)
from bot.rubber.coagulation import dose, water_by_volume_rule, water_to_target
from bot.rubber.hydrometer import grams_per_litre_undiluted
from bot.rubber.reference import value

GALLON = 4.54609
POUND_PER_GALLON = 99.776
GLACIAL = 1.0477


@pytest.mark.parametrize(("gallons", "solution_gallons"), [(90, 7.5), (120, 10)])
def test_printed_one_percent_acetic_for_standardised_latex(gallons: float, solution_gallons: float) -> None:
    """A1, A2. M p. 79, printed: 1 % acetic acid at 1 : 1200 for latex of 1 1/2 lb a gallon."""
    dry_kg = gallons * GALLON * 1.5 * POUND_PER_GALLON / 1000
    solution = working_solution(Acid.ACETIC, 100, dry_kg * value("acetic_per_kg"), 1 * GLACIAL)

    assert (solution.acid_ml + solution.water_ml) / 1000 / GALLON == pytest.approx(solution_gallons, rel=0.01)


def test_printed_the_same_acid_five_times_thinner_is_five_times_the_volume() -> None:
    """A3. M p. 76, printed: 1 gallon of 1 : 20, or 5 of 1 : 100, for 50 gallons."""
    strong, thin = (working_solution(Acid.ACETIC, 100, 225, percent) for percent in (5, 1))

    assert (thin.acid_ml + thin.water_ml) / (strong.acid_ml + strong.water_ml) == pytest.approx(5)


def test_printed_sixteen_ounces_a_gallon() -> None:
    """A4. M p. 77, printed: 1 gallon (160 fl oz) at 1 : 1000 takes 16 fl oz of 1 : 100."""
    acid, _water = thinned_by_volume(16, 100, 1)

    assert acid == pytest.approx(160 / 1000)


@pytest.mark.parametrize("target", [20, 18, 15, 12])
def test_printed_water_does_not_change_the_acid(target: float) -> None:
    """A5. M p. 77, printed: with 1 to 4 gallons of water the same 16 fl oz."""
    assert dose(10, 30, target_drc_percent=target).pure_acid_g == pytest.approx(dose(10, 30).pure_acid_g)


def test_printed_a_kerosene_tin_of_one_percent_acid() -> None:
    """A6. M p. 79, printed: about 6 1/2 fl oz in 640."""
    acid, _water = thinned_by_volume(640, 100, 1)

    assert acid == pytest.approx(6.5, abs=0.15)


def test_printed_acid_of_94_percent_thinned_to_4() -> None:
    """A7. Indonesian training slides on smoked sheet, printed: 500 L of 4 % from 94 % acid."""
    acid, water = thinned_by_volume(500, 94, 4)

    assert (round(acid, 2), round(water, 2)) == (21.28, 478.72)


def test_printed_a_pound_of_acetic_acid_sets_180_pounds() -> None:
    """A8. M p. 281, printed: 1 lb gives 180 lb dry. M counts acid by volume as if 1 g/ml, so 5 % stay open."""
    assert value("acetic_per_kg") == pytest.approx(1000 / 180, rel=0.05)


def test_printed_sulphuric_figures_get_no_dose() -> None:
    """A9. M p. 281 prints 300 lb for 1 lb of sulphuric acid, and warns of it: no dose is given."""
    with pytest.raises(DoseRefused, match="burns"):
        acid_named("sulphuric")


def test_printed_crepe_weighed_wet_and_dry() -> None:
    """A10 and B13. M p. 137, printed weights of twelve trays; derived: 20.06 % water, 1.251 times the weight."""
    wet, dry = 10 * 7.5 + 7 + 6.5, 10 * 6 + 5.75 + 5

    assert (wet, dry) == (88.5, 70.75)
    assert sheets.moisture_from_weights(wet, dry) == pytest.approx(20.06, abs=0.005)
    assert wet / dry == pytest.approx(1.251, abs=0.0005)


def test_printed_grades_of_a_crop() -> None:
    """A12. M p. 59, printed: 75 latex, 10 cup washings and lump, 9 tree scrap, 4 bark shavings, 2 earth."""
    rest = 10 + 9 + 4 + 2
    found = lump.share_of_crop(75, rest)

    assert 75 + rest == 100
    assert found is not None
    assert (found.percent, found.verdict) == (25, lump.Verdict.USUAL)


def test_printed_formic_acid_of_95_percent() -> None:
    """A13. laboratorynotes.com, printed: 1.22 g/ml (25 C, rounded), 1159.0 g/L, 25.18 mol/L."""
    assert pytest.approx(1159.0) == 1000 * 1.22 * 0.95
    assert 1159.0 / molar_mass(Acid.FORMIC) == pytest.approx(25.18, abs=0.005)
    assert 1000 * pure_g_per_ml(Acid.FORMIC, 95) == pytest.approx(1159.0, rel=0.01)


def test_printed_three_percent_recipe_is_really_stronger() -> None:
    """A14, B6. RAOT factory 5 prints 30 ml in 900 ml as "3 %"; derived: 3.2 % v/v, 3.5 % w/v (85 % acid: 3.3)."""
    assert pytest.approx(3.2, abs=0.05) == 100 * 30 / 930
    assert percent_wv_of_mixture(Acid.FORMIC, 90, 30, 900) == pytest.approx(3.5, abs=0.05)
    assert percent_wv_of_mixture(Acid.FORMIC, 85, 30, 900) == pytest.approx(3.3, abs=0.05)


def test_derived_drc_of_a_sample() -> None:
    """B1. UiTM AGR182: 15 g dry from 50 g, 45 kg latex. The question is printed, the answer is ours."""
    drc = latex.drc_by_drying(50, 15)

    assert drc == pytest.approx(30)
    assert latex.dry_kg_from_kg(45, drc) == pytest.approx(13.5)


@pytest.mark.parametrize(("drc", "density", "dry_kg"), [(30, 0.9856, 2.957), (35, 0.9798, 3.429)])
def test_derived_density_and_dry_weight_of_ten_litres(drc: float, density: float, dry_kg: float) -> None:
    """B2, B3. From the densities of Smith 1940."""
    assert latex.density_kg_per_litre(drc) == pytest.approx(density, abs=5e-5)
    assert latex.dry_kg_from_litres(10, drc) == pytest.approx(dry_kg, abs=5e-4)


@pytest.mark.parametrize(("density", "drc"), [(0.974, 40.0), (0.986, 29.7)])
def test_derived_published_specific_gravities_are_latex_of_30_to_40_percent(density: float, drc: float) -> None:
    """B4. Rubber Board India prints 0.974-0.986; by Smith 1940 that is the 30-40 % which others print."""
    assert latex.drc_from_density(density) == pytest.approx(drc, abs=0.05)


@pytest.mark.parametrize(
    ("drc", "density", "kg_per_litre"),
    [
        (20, 0.9974, 0.1995),
        (25, 0.9915, 0.2479),
        (28, 0.9880, 0.2766),
        (32, 0.9833, 0.3146),
        (33, 0.9821, 0.3241),
        (38, 0.9763, 0.3710),
        (40, 0.9740, 0.3896),
        (45, 0.9684, 0.4358),
    ],
)
def test_derived_table_of_density(drc: float, density: float, kg_per_litre: float) -> None:
    """Derived from Smith 1940."""
    assert latex.density_kg_per_litre(drc) == pytest.approx(density, abs=6e-5)
    assert latex.dry_kg_from_litres(1, drc) == pytest.approx(kg_per_litre, abs=6e-5)


WATER = [
    (100, 30, 15, 100.0, 98.96),
    (100, 32, 13, 146.15, 144.29),
    (10, 30, 12.5, 14.0, 13.85),
    (10, 35, 12.5, 18.0, 17.71),
    (4, 33, 12.5, 6.56, 6.47),
    (8, 36, 12.5, 15.04, 14.78),
]


@pytest.mark.parametrize(("litres", "drc", "target", "by_rule", "by_mass"), WATER)
def test_derived_water_by_the_printed_rule_and_by_mass(
    litres: float, drc: float, target: float, by_rule: float, by_mass: float
) -> None:
    """B5, B5b. V = (S - R) / R x A is printed (Sei Silau thesis); the cases, and the mass balance, are derived."""
    assert water_by_volume_rule(litres, drc, target) == pytest.approx(by_rule, abs=0.005)
    assert water_to_target(latex.kg_from_litres(litres, drc), drc, target) == pytest.approx(by_mass, abs=0.01)


def test_derived_the_printed_four_percent_is_4_85() -> None:
    """B7. 21.28 L of 94 % in 500 L is 4.85 g per 100 ml; a true 4 % m/m takes about 17.7 L."""
    assert percent_wv_of_mixture(Acid.FORMIC, 94, 21.28, 500 - 21.28) == pytest.approx(4.85, abs=0.02)
    pure_kg = 500 * 1.0078 * 0.04
    assert pure_kg / pure_g_per_ml(Acid.FORMIC, 94) == pytest.approx(17.7, abs=0.05)


def test_derived_a_litre_of_formic_acid_for_800_litres() -> None:
    """B8. Indonesian paper: 25 ml for 20 L. Its strength (90 %) and the latex (30 %) are assumed: a cross-check."""
    assert dose(20, 30, strength_percent=90).acid_ml == pytest.approx(25, rel=0.05)


@pytest.mark.parametrize(("drc", "mixed"), [(25, 12.5), (30, 14.9), (35, 17.4), (40, 19.8)])
def test_derived_equal_volumes_of_latex_and_water(drc: float, mixed: float) -> None:
    """B9. From the densities of Smith 1940 and of water."""
    assert latex.drc_of_mixture(1, drc, 1) == pytest.approx(mixed, abs=0.05)


@pytest.mark.parametrize(("drc", "mixed"), [(30, 17.9), (35, 20.9)])
def test_derived_three_of_latex_and_two_of_water(drc: float, mixed: float) -> None:
    """B10. From the same densities."""
    assert latex.drc_of_mixture(3, drc, 2) == pytest.approx(mixed, abs=0.05)


def test_derived_hydrometer_at_one_to_two() -> None:
    """B11. 120 g/L in 1 latex : 2 water, not corrected: 360 g/L of the latex, 1.80 kg in 5 L."""
    assert grams_per_litre_undiluted(120, 2) == 360
    assert 5 * grams_per_litre_undiluted(120, 2) / 1000 == pytest.approx(1.80)


def test_derived_sheet_from_wet_to_dry() -> None:
    """B12. 1.43 kg at 30 % w.b.: 1.00 kg bone dry, 1.006 at 0.5 %."""
    assert sheets.weight_at(1.43, 30) == pytest.approx(1.00, abs=0.005)
    assert sheets.weight_at(1.43, 30, 0.5) == pytest.approx(1.006, abs=0.001)


def test_derived_dry_basis_to_wet_basis() -> None:
    """B14. 45.8 % d.b. is 31.4 % w.b., 1.458 times the dry weight."""
    assert sheets.wet_basis(45.8) == pytest.approx(31.4, abs=0.05)
    assert 1 / sheets.weight_at(1, sheets.wet_basis(45.8)) == pytest.approx(1.458)


def test_derived_acid_that_ammonia_takes_up() -> None:
    """B15. 0.5 g NH3: 1.35 g formic acid, 1.25 ml of 90 %."""
    extra = acid_g_for_ammonia(Acid.FORMIC, 0.5)

    assert extra == pytest.approx(1.35, abs=0.005)
    assert extra / pure_g_per_ml(Acid.FORMIC, 90) == pytest.approx(1.25, abs=0.01)


def test_derived_latex_for_a_sheet() -> None:
    """B16. 0.8 kg dry from latex of 30 % (an assumption of spt-rubber.com): 2.667 kg, 2.71 L."""
    assert pytest.approx(2.667, abs=5e-4) == 0.8 / 0.30
    assert latex.litres_from_kg(0.8 / 0.30, 30) == pytest.approx(2.71, abs=0.005)


@pytest.mark.parametrize(("moisture", "dry_kg"), [(55, 4.5), (17, 8.3)])
def test_derived_dry_matter_of_cup_lump(moisture: float, dry_kg: float) -> None:
    """B17. Suchat 2014: ten kilos."""
    assert lump.dry_matter(10, moisture) == pytest.approx(dry_kg)


def test_derived_official_conversions_of_cup_lump_lie_a_factor_of_two_apart() -> None:
    """B18. Abdulatip & Boje 2022: 25 % is an official figure, 50 % that of other countries and near the measured."""
    assert (lump.dry_matter(10, 75), lump.dry_matter(10, 50)) == (2.5, 5.0)
    assert lump.dry_content(3).low < 50 < lump.dry_content(3).high
    assert lump.dry_content(1).low > 25


def test_a_tenfold_misprint_is_refused_as_a_rate() -> None:
    """A grower's account prints 5 g in 5 L, 200 ml a tray of 0.5 kg: 0.4 g a kilo, ten times below all others."""
    with pytest.raises(DoseRefused, match="per kg"):
        dose(18, acid_g_per_kg=0.4)

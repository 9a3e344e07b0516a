"""The registry of constants, cautions and explanations."""

from dataclasses import replace

import pytest

from bot.rubber import explain, reference, safety
from bot.rubber.acids import Acid, density_of_acid, thinned_by_volume
from bot.rubber.coagulation import Setting, dose
from bot.rubber.estimate import Latex, expect, refit
from bot.rubber.hydrometer import drc_by_hydrometer
from bot.rubber.reference import MEMORY, PUBLISHED, REFERENCE, REFERENCE_VERSION, SOURCES, TABLES, Constant
from tests.rubber.simulated_farms import FIRST

STATUSES = {"published", "derived", "common practice, no source", "from memory"}


@pytest.mark.parametrize("constant", REFERENCE.values(), ids=lambda each: each.name)
def test_every_constant_has_unit_source_and_status(constant: Constant) -> None:
    assert constant.unit
    assert constant.source
    assert constant.status in STATUSES


@pytest.mark.parametrize(
    "constant", [each for each in REFERENCE.values() if each.status == PUBLISHED], ids=lambda e: e.name
)
def test_a_published_constant_names_a_source_with_a_full_citation(constant: Constant) -> None:
    assert constant.source.partition(",")[0] in SOURCES


def test_a_constant_keeps_its_own_name() -> None:
    assert all(name == constant.name for name, constant in REFERENCE.items())


def test_tables_rise_and_are_not_read_beyond_their_ends() -> None:
    for table in TABLES.values():
        assert list(table.rows) == sorted(table.rows, key=lambda row: row[0])
        with pytest.raises(ValueError, match="outside"):
            reference.read_off(table, 100.5)


def test_a_citation_keeps_the_page() -> None:
    assert reference.citation("Morgan 1922, p. 79").endswith("London, 1922, p. 79")
    assert reference.citation("somebody") == "somebody"


def test_the_version_changes_with_the_values(monkeypatch: pytest.MonkeyPatch) -> None:
    changed = dict(REFERENCE) | {"target_drc": replace(REFERENCE["target_drc"], value=16.0)}
    monkeypatch.setattr(reference, "REFERENCE", changed)

    assert reference._version() != REFERENCE_VERSION


def test_an_unknown_constant_is_an_error() -> None:
    with pytest.raises(KeyError):
        reference.value("moon_phase")


@pytest.mark.parametrize(("acid", "strength"), [(Acid.FORMIC, 85), (Acid.FORMIC, 10), (Acid.ACETIC, 99)])
def test_acid_that_burns_is_said_to_burn(acid: Acid, strength: float) -> None:
    assert safety.caution_for(strength, acid) == ("acid", "acid-strength")


def test_a_one_percent_solution_gets_the_short_caution_only() -> None:
    assert safety.caution_for(1) == ("acid",)
    with pytest.raises(ValueError, match="0 to 100"):
        safety.hazard(Acid.FORMIC, 101)


def test_the_short_caution_tells_the_order_of_mixing() -> None:
    assert "Acid into water, never water into acid" in safety.CAUTIONS["acid"].text
    assert "label" in safety.CAUTIONS["acid"].text


def test_acid_help_covers_first_aid_storage_and_label() -> None:
    keys = [each.key for each in safety.ACID_HELP]

    assert len(keys) == len(set(keys))
    for needed in (
        "mixing",
        "wear",
        "eyes",
        "skin",
        "breathed",
        "swallowed",
        "spilled",
        "storage",
        "strength",
        "label",
    ):
        assert f"acid-{needed}" in keys


@pytest.mark.parametrize(
    "key", ["ammonia", "stimulant", "knife", "rollers", "smoke-house", "night", "lightning", "young"]
)
def test_every_other_danger_has_its_caution(key: str) -> None:
    caution = safety.CAUTIONS[key]

    assert caution.text
    assert caution.status in STATUSES
    assert caution.sources


def test_cautions_keep_to_plain_characters() -> None:
    for caution in (*safety.CAUTIONS.values(), *safety.ACID_HELP):
        assert caution.text.isascii()


def test_why_so_much_dry_rubber_can_be_worked_by_hand() -> None:
    found = explain.dry_weight(dose(18))
    litres, density, drc = (each.value for each in found.inputs)

    assert litres * density * drc / 100 == pytest.approx(found.value)
    assert found.sources == ("Smith 1940",)
    assert found.reference_version == REFERENCE_VERSION


def test_why_so_much_water_can_be_worked_by_hand() -> None:
    found = explain.water(dose(18))
    kg, drc, target, density, thinning = (each.value for each in found.inputs)

    assert kg * (drc / target - 1) / density == pytest.approx(found.value)
    assert 0 < thinning < found.value


@pytest.mark.parametrize("ammonia", [0, 0.5])
def test_why_so_much_acid_can_be_worked_by_hand(ammonia: float) -> None:
    found = explain.acid(dose(18, ready=Setting.SAME_DAY, ammonia_g_per_litre=ammonia))
    dry, rate, for_ammonia, pure = (each.value for each in found.inputs)

    assert (dry * rate + for_ammonia) / pure == pytest.approx(found.value)
    assert for_ammonia == pytest.approx(18 * ammonia * 46.03 / 17.03)
    assert explain.weakest_status(found) == "derived"


def test_why_an_estimate_tells_its_observations_and_range() -> None:
    found = explain.estimate(expect(refit([]), [Latex(FIRST, "3", 18)]))

    assert found.value == pytest.approx(33)
    assert [each.symbol for each in found.inputs] == ["usual", "observations", "low", "high"]
    assert explain.weakest_status(found) == "common practice, no source"


def test_why_a_hydrometer_gives_another_drc_than_it_shows() -> None:
    found = explain.hydrometer(drc_by_hydrometer(110, 2, 27), 110, 2)

    assert {each.symbol: each.value for each in found.inputs}["parts"] == 3
    assert found.sources


def test_acetic_limits_are_owned_up_to_be_from_memory() -> None:
    assert safety.hazard(Acid.ACETIC, 30).status == MEMORY


def test_thinning_to_a_stronger_acid_is_refused() -> None:
    with pytest.raises(ValueError, match="cannot be thinned"):
        thinned_by_volume(1, 4, 94)


def test_density_between_rows_lies_between_them() -> None:
    assert 1.0224 < density_of_acid(Acid.FORMIC, 15) < 1.0467

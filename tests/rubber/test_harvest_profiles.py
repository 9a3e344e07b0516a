"""National profiles: complete, marked, and open to a farm's own figures."""

import pytest

from bot.rubber.intensity import intensity
from bot.rubber.notation import read
from bot.rubber.profiles import NAMES, NEUTRAL, ProfileError, bark_limit, profile, read_profile, with_own
from bot.rubber.units import UNITS

FILE = """
name = "Somewhere"
[figures]
slope = { value = 31, unit = "degrees", source = "a book", status = "published" }
[choices]
area_unit = { value = "ha", source = "a book", status = "derived" }
[season]
weights = [1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1]
source = "a book"
status = "from memory"
"""


@pytest.mark.parametrize("code", NAMES)
def test_every_profile_has_every_figure_and_choice(code: str) -> None:
    neutral, country = profile(NEUTRAL), profile(code)

    assert set(neutral.figures) == set(country.figures)
    assert set(neutral.choices) == set(country.choices)


@pytest.mark.parametrize("code", NAMES)
def test_every_value_has_a_source_and_no_unknown_is_called_published(code: str) -> None:
    country = profile(code)

    for value in [*country.figures.values(), *country.choices.values()]:
        assert value.source
        assert not (value.source.startswith("no source") and value.status in {"published", "derived"})


@pytest.mark.parametrize("code", NAMES)
def test_units_and_systems_of_a_profile_are_known_ones(code: str) -> None:
    country = profile(code)
    (system,) = read(country.choice("tapping").value).systems

    assert {country.choice(f"{kind}_unit").value for kind in ("area", "volume", "weight", "bulk")} <= set(UNITS)
    assert intensity(system).nominal_percent > 0
    assert country.choice("recovery").value in {"none", "next day"}


@pytest.mark.parametrize("code", NAMES)
def test_figures_of_a_profile_are_sane(code: str) -> None:
    country = profile(code)
    figure = {name: found.value for name, found in country.figures.items()}

    assert figure["lowest_cut"] < figure["opening_height"] <= 200
    assert figure["yield_low"] < figure["yield_high"]
    assert figure["bark_d2"] >= figure["bark_d3"] >= figure["bark_d4"] >= figure["bark_d5"] >= figure["bark_d6"]
    assert 10 <= figure["target_drc"] <= 20
    assert sum(country.season.percent(month) for month in range(1, 13)) == pytest.approx(100)


def test_what_a_country_leaves_out_keeps_the_neutral_source() -> None:
    assert profile("india").figure("slope_up") == profile(NEUTRAL).figure("slope_up")
    assert profile("india").figure("opening_height") != profile(NEUTRAL).figure("opening_height")


def test_a_farms_own_figures_are_marked_as_its_own() -> None:
    own = with_own(profile("thailand"), {"opening_height": 140, "area_unit": "acre"})

    assert (own.figure("opening_height").value, own.figure("opening_height").status) == (140, "set by the farm")
    assert own.choice("area_unit").value == "acre"
    assert own.figure("opening_height").unit == "cm"
    assert profile("thailand").figure("opening_height").value == 150


def test_bark_limits_go_by_the_interval_of_tapping() -> None:
    assert bark_limit(profile("vietnam"), 4).value == 15
    with pytest.raises(ProfileError, match="every 1 days"):
        bark_limit(profile("vietnam"), 1)


@pytest.mark.parametrize(
    ("own", "reason"),
    [
        ({"opening_hight": 140}, '"opening_hight" is no choice'),
        ({"opening_height": "high"}, "has to be a number"),
        ({"opening_height": "nan"}, "has to be a number"),
    ],
)
def test_a_farms_figures_have_to_make_sense(own: dict[str, float | str], reason: str) -> None:
    with pytest.raises(ProfileError, match=reason):
        with_own(profile(NEUTRAL), own)


def test_names_that_are_not_there_are_refused_with_those_that_are() -> None:
    with pytest.raises(ProfileError, match="cote_d_ivoire, india"):
        profile("atlantis")
    with pytest.raises(ProfileError, match="target_drc, opening_height"):
        profile(NEUTRAL).figure("height")


def test_a_profile_is_read_from_text() -> None:
    found = read_profile("somewhere", FILE)

    assert found.figure("slope").value == 31
    assert found.season.status == "from memory"


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ('status = "published"', 'status = "certain"'),
        ('source = "a book", status = "derived"', 'status = "derived"'),
        ("value = 31", 'value = "steep"'),
        ("weights = [1,", "weights = ["),
        ('name = "Somewhere"', ""),
        ("[season]", "[season"),
    ],
)
def test_a_faulty_file_is_refused(old: str, new: str) -> None:
    assert old in FILE
    with pytest.raises(ProfileError, match='"somewhere" cannot be read'):
        read_profile("somewhere", FILE.replace(old, new))


def test_decimals_of_a_currency() -> None:
    assert profile("indonesia").currency_decimals == 0
    assert profile("india").currency_decimals == 2

"""A farm picks a country's usual figures and overrides what it likes."""

from decimal import Decimal

import pytest

from bot.books.farm_settings import UnknownSetting, checked, settings_of, usual_in
from bot.rubber.profiles import NAMES


def test_a_country_gives_what_the_farm_has_not_set() -> None:
    found = settings_of({"country": "thailand"})

    assert (found.target_drc_percent, found.sheet_dry_g) == (Decimal("16.5"), 800)


def test_what_the_farm_set_itself_stays_its_own() -> None:
    assert settings_of({"sheet_dry_g": 650, "country": "thailand"}).sheet_dry_g == 650


@pytest.mark.parametrize("country", NAMES)
def test_the_figures_of_every_country_are_ones_that_a_farm_may_set(country: str) -> None:
    for name, usual in usual_in(country).items():
        assert checked(name, usual) == usual


def test_a_farm_without_a_country_is_a_neutral_one() -> None:
    assert settings_of({}) == settings_of({"country": "neutral"})


@pytest.mark.parametrize(
    ("name", "given", "said"),
    [
        ("country", "atlantis", "cote_d_ivoire"),
        ("drying", "oven", "hot-air"),
        ("tapping", "twice a week", "S/2 d3"),
        ("tapping_from", "2 March", "2026-03-02"),
        ("rest_weekday", 7, "0 to 6"),
    ],
)
def test_what_cannot_be_is_refused_with_what_could(name: str, given: object, said: str) -> None:
    with pytest.raises(UnknownSetting, match=said):
        checked(name, given)


def test_a_notation_is_kept_in_the_style_of_2009() -> None:
    assert checked("tapping", "1/2S d/3 6d/7") == "S/2 d3 6d/7"

"""Cautions against the published limits and the safety card."""

import pytest

from bot.rubber.acids import Acid
from bot.rubber.safety import ACID_HELP, hazard


@pytest.mark.parametrize(
    ("percent", "hazard_class"),
    [
        (98, "Skin Corr. 1A"),
        (90, "Skin Corr. 1A"),
        (89.9, "Skin Corr. 1B"),
        (85, "Skin Corr. 1B"),
        (10, "Skin Corr. 1B"),
        (9.9, "Skin Irrit. 2, Eye Irrit. 2"),
        (7, "Skin Irrit. 2, Eye Irrit. 2"),
        (2, "Skin Irrit. 2, Eye Irrit. 2"),
        (1, ""),
    ],
)
def test_formic_acid_by_strength(percent: float, hazard_class: str) -> None:
    """CLP Annex VI, index 607-001-00-0, specific concentration limits. Printed."""
    assert hazard(Acid.FORMIC, percent).hazard_class == hazard_class
    assert hazard(Acid.FORMIC, percent).status == "published"


@pytest.mark.parametrize(
    ("key", "said"),
    [
        ("acid-eyes", "rinse"),
        ("acid-eyes", "several minutes"),
        ("acid-skin", "take off"),
        ("acid-breathed", "half upright"),
        ("acid-breathed", "hours later"),
        ("acid-swallowed", "do not bring on vomiting"),
        ("acid-wear", "face shield"),
        ("acid-wear", "No eating or smoking"),
    ],
)
def test_first_aid_says_what_the_card_says(key: str, said: str) -> None:
    """ICSC 0485, formic acid (ILO/WHO, 1997)."""
    caution = next(each for each in ACID_HELP if each.key == key)

    assert said in caution.text
    assert "ICSC 0485" in caution.sources

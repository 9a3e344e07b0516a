"""National profiles against the figures in print that they carry, and their currencies against CLDR."""

import pytest
from babel.numbers import get_currency_name, get_currency_precision

from bot.rubber.profiles import NAMES, profile

PRINTED = [
    ("india", "opening_height", 125, "Kerala Agricultural University"),
    ("india", "opening_girth", 50, "Kerala Agricultural University"),
    ("india", "girth_measured_at", 125, "Kerala Agricultural University"),
    ("india", "opening_share", 70, "Kerala Agricultural University"),
    ("india", "slope", 30, "Kerala Agricultural University"),
    ("india", "stimulant_percent", 2.5, "Rubber Board India, ManageCultivation 123"),
    ("sri_lanka", "slope", 30, "J. Rubber Research Institute of Sri Lanka 98"),
    ("sri_lanka", "trees_a_task", 300, "Daily News (Sri Lanka), 18 March 2008"),
    ("thailand", "opening_height", 150, "Department of Agricultural Extension (copy)"),
    ("thailand", "opening_girth", 50, "Department of Agricultural Extension (copy)"),
    ("thailand", "opening_share", 50, "Department of Agricultural Extension (copy)"),
    ("vietnam", "opening_height", 130, "technical procedure of 2012"),
    ("vietnam", "girth_measured_at", 100, "technical procedure of 2012"),
    ("vietnam", "slope", 34, "technical procedure of 2012"),
    ("vietnam", "bark_d3", 18, "technical procedure of 2012, articles 124-126"),
    ("vietnam", "bark_d4", 15, "technical procedure of 2012, articles 124-126"),
    ("vietnam", "bark_d5", 14, "later wording of the procedure"),
    ("vietnam", "bark_d6", 12, "later wording of the procedure"),
    ("malaysia", "yield_low", 1224, "Chan & Ong 2000"),
    ("malaysia", "yield_high", 1334, "Chan & Ong 2000"),
    ("indonesia", "opening_girth", 45, "extension leaflet (pdfcoffee.com, copy)"),
    ("indonesia", "opening_height", 130, "extension leaflet (pdfcoffee.com, copy)"),
    ("indonesia", "opening_share", 60, "extension leaflet (pdfcoffee.com, copy)"),
    ("indonesia", "trees_a_hectare", 555, "extension leaflet (pdfcoffee.com, copy)"),
    ("cote_d_ivoire", "trees_a_hectare", 510, "CNRA trials"),
    ("cote_d_ivoire", "stimulations_d4", 4, "Diarrassouba et al., GT 1 S/2 d4"),
]


@pytest.mark.parametrize(("code", "name", "printed"), [row[:3] for row in PRINTED])
def test_a_figure_is_the_printed_one_and_is_called_published(code: str, name: str, printed: float) -> None:
    figure = profile(code).figure(name)

    assert (figure.value, figure.status) == (printed, "published")


@pytest.mark.parametrize("code", NAMES)
def test_currencies_are_known_to_cldr(code: str) -> None:
    """Unicode CLDR by Babel. Rupiah lists are in whole rupiah, whatever CLDR says of their hundredths."""
    currency = profile(code).choice("currency").value

    assert get_currency_name(currency, locale="en") != currency
    if currency != "IDR":
        assert profile(code).currency_decimals == get_currency_precision(currency)

"""What a phone number's country tells of a farm: its clocks, its money and the usual figures of its trade.

Countries of numbers from phonenumbers (ITU-T E.164), currencies and zones from Unicode CLDR through Babel.
"""

from datetime import UTC, datetime
from functools import cache
from zoneinfo import ZoneInfo, available_timezones

import phonenumbers
from babel.core import get_global
from babel.numbers import get_territory_currencies

#: Countries for which the house has a profile of usual figures.
PROFILES = {
    "CI": "cote_d_ivoire",
    "ID": "indonesia",
    "IN": "india",
    "LK": "sri_lanka",
    "MY": "malaysia",
    "TH": "thailand",
    "VN": "vietnam",
}

#: Moments at which two zones must agree to be one clock: both halves of a year.
_MOMENTS = (datetime(2026, 1, 15, tzinfo=UTC), datetime(2026, 7, 15, tzinfo=UTC))


def region_of(number: str) -> str | None:
    """The country of a number, such as `TH`; None where its calling code belongs to none or is not known."""
    try:
        parsed = phonenumbers.parse(number, None)
    except phonenumbers.NumberParseException:
        return None
    calling_code = parsed.country_code or 0
    region = phonenumbers.region_code_for_number(parsed) or phonenumbers.region_code_for_country_code(calling_code)
    return region if region in phonenumbers.SUPPORTED_REGIONS and zones(region) and currency(region) else None


@cache
def zones(region: str) -> tuple[str, ...]:
    """One zone for each clock of a country, by name."""
    known = available_timezones()
    by_clock: dict[tuple[object, ...], str] = {}
    for zone in sorted(name for name, where in get_global("zone_territories").items() if where == region):
        if zone in known:
            by_clock.setdefault(tuple(each.astimezone(ZoneInfo(zone)).utcoffset() for each in _MOMENTS), zone)
    return tuple(by_clock.values())


def city(zone: str) -> str:
    """The city that a zone is called after."""
    return zone.rpartition("/")[2].replace("_", " ")


def currency(region: str) -> str | None:
    """The currency of a country today."""
    return next(iter(get_territory_currencies(region)), None)

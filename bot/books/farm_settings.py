"""What a farm's own settings may be, in one place for texts, files and pages.

The bounds are those within which `bot.rubber` gives a dose, so that no farm can be set to something that every text would
then be refused for.
"""

from collections.abc import Callable, Mapping
from dataclasses import fields
from datetime import date
from decimal import Decimal
from typing import Any

from bot.books.model import FarmSettings
from bot.rubber.acids import Acid
from bot.rubber.coagulation import Setting
from bot.rubber.drying import Method
from bot.rubber.notation import NotationError, read
from bot.rubber.notation_writing import write
from bot.rubber.profiles import NAMES as PROFILES
from bot.rubber.profiles import profile
from bot.rubber.reference import value

_CHOICES: Mapping[str, tuple[str, ...]] = {
    "acid": tuple(Acid),
    "ready": tuple(Setting),
    "country": PROFILES,
    "drying": tuple(Method),
    "pay_period": ("week", "fortnight", "month"),
}

#: Nobody is reminded from this hour of the evening to that of the morning. Common practice, no source.
QUIET_FROM, QUIET_UNTIL = 21, 6

#: The least and the most of each figure; units as in `FarmSettings`.
_BOUNDS: Mapping[str, tuple[float, float]] = {
    "acid_strength_percent": (10, 100),
    "target_drc_percent": (value("target_drc_low"), value("target_drc_high")),
    "drc_percent": (value("drc_accepted_low"), value("drc_accepted_high")),
    "sheet_dry_g": (100, 3000),
    "solution_percent": (0.4, value("working_solution_high")),
    "summary_weekday": (0, 6),
    "summary_hour": (0, 23),
    "pan_litres": (1, value("litres_accepted_high")),
    "rest_weekday": (0, 6),
    "reminder_hour": (QUIET_UNTIL, QUIET_FROM - 1),
    "gap_percent": (0, 50),
    "gap_unusual": (1, 10),
}
_WHOLE = frozenset({"sheet_dry_g", "summary_weekday", "summary_hour", "rest_weekday", "reminder_hour"})
_MAY_BE_UNSET = frozenset({"pan_litres", "rest_weekday", "tapping_from", "reminder_hour"})

NAMES: tuple[str, ...] = tuple(each.name for each in fields(FarmSettings))


class UnknownSetting(ValueError):
    """There is no such setting, or its value is not one that it may have."""


def checked(name: str, given: object) -> str | int | Decimal | None:
    """The value of a setting in its own kind. Raises UnknownSetting, which says what it may be."""
    if name not in NAMES:
        raise UnknownSetting(f"There is no setting {name}; there are {', '.join(sorted(NAMES))}.")
    if given is None and name in _MAY_BE_UNSET:
        return None
    if name in _CHOICES:
        return _one_of(name, given, _CHOICES[name])
    if name in _TEXTS:
        return _TEXTS[name](given)
    return _within(name, given, *_BOUNDS[name])


def bounds(name: str) -> tuple[float, float] | None:
    """The least and the most of a setting that is a number; None for any other."""
    return _BOUNDS.get(name)


def settings_of(values: Mapping[str, object]) -> FarmSettings:
    """The settings of a farm from what is stored; what is not stored is usual in its country."""
    known: dict[str, Any] = {name: _stored(name, given) for name, given in values.items() if name in NAMES}
    country = known.get("country")
    return FarmSettings(**({} if country is None else usual_in(country)) | known)


def usual_in(country: str) -> dict[str, Any]:
    """What a country's profile says of the settings that it knows."""
    usual = profile(country)
    return {
        "target_drc_percent": Decimal(str(usual.figure("target_drc").value)),
        "sheet_dry_g": round(usual.figure("sheet_dry").value * 1000),
    }


def _stored(name: str, given: Any) -> Any:
    """A stored value was checked when it came; a later version may have other bounds."""
    if given is None or name in _CHOICES or name in _TEXTS:
        return given
    return int(given) if name in _WHOLE else Decimal(str(given))


def _notation(given: object) -> str:
    text = str(given or "").strip()
    if not text:
        return ""
    try:
        return write(read(text))
    except NotationError as fault:
        raise UnknownSetting(f"The setting tapping is a notation such as S/2 d3 6d/7: {fault}") from fault


def _day(given: object) -> str:
    try:
        return date.fromisoformat(str(given)).isoformat()
    except ValueError as fault:
        raise UnknownSetting(f"The setting tapping_from is a day such as 2026-03-02, not {given!r}.") from fault


#: What collectors take.
FORMS = ("sheets", "latex", "lump")


def _sells(given: object) -> str:
    said = str(given or "").replace(",", " ").casefold().split()
    if not said or set(said) - set(FORMS):
        raise UnknownSetting(f"The setting sells is one or more of {', '.join(FORMS)}, not {given!r}.")
    return " ".join(each for each in FORMS if each in said)


_TEXTS: Mapping[str, Callable[[object], str]] = {"tapping": _notation, "tapping_from": _day, "sells": _sells}


def _one_of(name: str, given: object, choices: tuple[str, ...]) -> str:
    if given not in choices:
        raise UnknownSetting(f"The setting {name} is one of {', '.join(choices)}, not {given!r}.")
    return str(given)


def _within(name: str, given: object, low: float, high: float) -> int | Decimal:
    try:
        number = Decimal(str(given))
    except ArithmeticError:
        number = Decimal("NaN")
    whole = name in _WHOLE
    fits = number.is_finite() and low <= number <= high and (not whole or number == number.to_integral_value())
    if not fits or isinstance(given, bool):
        kind = "a whole number" if whole else "a number"
        raise UnknownSetting(f"The setting {name} is {kind} from {low:g} to {high:g}, not {given!r}.")
    return int(number) if whole else number

"""National profiles: the trade's usual figures by country, each with source and status, for a farm to pick and change.

A profile is a data file. What a country's file leaves out comes from the neutral one and keeps the neutral source, so
that it can be seen. Figures are numbers with a unit; choices are words.
"""

import math
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache
from importlib.resources import files
from types import MappingProxyType
from typing import Any, Literal, TypeVar, cast

from bot.rubber.projection import Shape
from bot.rubber.reference import DERIVED, MEMORY, PRACTICE, PUBLISHED, Status

NEUTRAL = "neutral"
NAMES: tuple[str, ...] = (
    "cote_d_ivoire",
    "india",
    "indonesia",
    "malaysia",
    "neutral",
    "sri_lanka",
    "thailand",
    "vietnam",
)
FROM_FARM: Literal["set by the farm"] = "set by the farm"

OwnStatus = Status | Literal["set by the farm"]
Item = TypeVar("Item")


class ProfileError(ValueError):
    """A profile, a figure or a choice that is not there or cannot be used."""


@dataclass(frozen=True)
class Figure:
    """A number of a profile: its unit, source and status."""

    name: str
    value: float
    unit: str
    source: str
    status: OwnStatus


@dataclass(frozen=True)
class Choice:
    """A word of a profile, such as a unit or a rule: its source and status."""

    name: str
    value: str
    source: str
    status: OwnStatus


@dataclass(frozen=True)
class Profile:
    """A country's figures, choices and season."""

    code: str
    name: str
    figures: Mapping[str, Figure]
    choices: Mapping[str, Choice]
    season: Shape

    @property
    def currency_decimals(self) -> int:
        """Decimals of the currency, for `money`.

        Raises ProfileError if the farm's own is no whole number.
        """
        return int(_number("currency_decimals", self.choice("currency_decimals").value))

    def figure(self, name: str) -> Figure:
        """The figure of that name.

        Raises ProfileError, with the names that there are, for any other.
        """
        if name not in self.figures:
            raise ProfileError(f'"{name}" is no figure of a profile; there are {", ".join(self.figures)}')
        return self.figures[name]

    def choice(self, name: str) -> Choice:
        """The choice of that name.

        Raises ProfileError, with the names that there are, for any other.
        """
        if name not in self.choices:
            raise ProfileError(f'"{name}" is no choice of a profile; there are {", ".join(self.choices)}')
        return self.choices[name]


@cache
def profile(code: str) -> Profile:
    """The profile of a country by its code (`india`, `cote_d_ivoire`), or `neutral`.

    Raises ProfileError, with the codes that there are, for any other.
    """
    if code not in NAMES:
        raise ProfileError(f'there is no profile "{code}"; there are {", ".join(NAMES)}')
    own = read_profile(code, (files(__package__) / f"{code}.toml").read_text("utf-8"))
    if code == NEUTRAL:
        return own
    neutral = profile(NEUTRAL)
    return replace(own, figures=_over(neutral.figures, own.figures), choices=_over(neutral.choices, own.choices))


def read_profile(code: str, text: str) -> Profile:
    """A profile from the text of its file, with nothing filled in.

    Raises ProfileError where the file is no TOML, lacks a part of a value, or has an unknown status.
    """
    try:
        data = tomllib.loads(text)
        figures = {
            name: Figure(name, float(row["value"]), row["unit"], *_origin(row)) for name, row in _part(data, "figures")
        }
        choices = {name: Choice(name, str(row["value"]), *_origin(row)) for name, row in _part(data, "choices")}
        season = Shape(data["name"], tuple(map(float, data["season"]["weights"])), *_origin(data["season"]))
    except (tomllib.TOMLDecodeError, KeyError, TypeError, ValueError) as error:
        raise ProfileError(f'the profile "{code}" cannot be read: {error}') from error
    return Profile(code, data["name"], MappingProxyType(figures), MappingProxyType(choices), season)


def with_own(base: Profile, own: Mapping[str, float | str]) -> Profile:
    """The profile with a farm's own figures and choices, marked as such: `{"slope": 33, "area_unit": "acre"}`.

    Raises ProfileError for a name that the profile does not have, or a word where a number is due.
    """
    figures, choices = dict(base.figures), dict(base.choices)
    origin: dict[str, Any] = {"source": "the farm", "status": FROM_FARM}
    for name, value in own.items():
        if name in figures:
            figures[name] = replace(figures[name], value=_number(name, value), **origin)
        else:
            choices[name] = replace(base.choice(name), value=str(value), **origin)
    return replace(base, figures=MappingProxyType(figures), choices=MappingProxyType(choices))


def bark_limit(base: Profile, every_days: int) -> Figure:
    """The bark limit (cm a year, vertical) for a tapping every so many days.

    Raises ProfileError where no limit is known (daily tapping, or less than weekly).
    """
    name = f"bark_d{every_days}"
    if name not in base.figures:
        raise ProfileError(f"no bark limit is known for a tapping every {every_days} days; give the farm's own")
    return base.figures[name]


def _number(name: str, value: float | str) -> float:
    try:
        number = float(value)
    except ValueError:
        number = math.nan
    if not 0 <= number < math.inf:
        raise ProfileError(f'{name} has to be a number of 0 or more, not "{value}"')
    return number


def _part(data: Mapping[str, Any], name: str) -> list[tuple[str, Any]]:
    return list(data.get(name, {}).items())


def _origin(row: Mapping[str, Any]) -> tuple[str, Status]:
    if row["status"] not in {PUBLISHED, DERIVED, PRACTICE, MEMORY}:
        raise ValueError(f'"{row["status"]}" is no status')
    return str(row["source"]), cast("Status", row["status"])


def _over(below: Mapping[str, Item], above: Mapping[str, Item]) -> Mapping[str, Item]:
    return MappingProxyType({**below, **above})

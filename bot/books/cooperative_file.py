"""A cooperative from a TOML file: its farms, managers, prices, places and rounds. Every fault names its line and the remedy."""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from pathlib import Path
from typing import Any
from zoneinfo import available_timezones

from babel.numbers import list_currencies

from bot.books.convert import folded
from bot.books.cooperatives import HEAVIEST_BALE_KG, LIGHTEST_BALE_KG
from bot.books.errors import BadFile
from bot.books.plans import LANGUAGES, check_one_name_a_number, number_of
from bot.books.toml_file import TomlFile, number

WEEKDAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
KEYS = frozenset(
    [
        "name",
        "timezone",
        "currency",
        "language",
        "region",
        "closing_hour",
        "bale_kg",
        "farms",
        "prices",
        "managers",
        "places",
        "rounds",
    ]
)
PERSON = frozenset({"name", "number", "language"})
TABLES = {
    "managers": PERSON,
    "places": frozenset({"number", "name", "farms", "opens", "closes"}),
    "rounds": PERSON | frozenset(WEEKDAYS),
}

#: When the collecting day is told where nothing else is said.
USUAL_HOUR = 19

_HOURS = re.compile(r"([01]?\d|2[0-3]):[0-5]\d")


@dataclass(frozen=True)
class Somebody:
    """A manager or collector, as the file says."""

    name: str
    number: str
    language: str
    where: str


@dataclass(frozen=True)
class PlacePlan:
    """A place, as the file says; hours as `06:00`, None for always."""

    name: str
    number: int
    farms: tuple[str, ...]
    opens: str | None
    closes: str | None
    where: str


@dataclass(frozen=True)
class RoundPlan:
    """A collector and the names of his places by weekday (Monday 0)."""

    collector: Somebody
    days: Mapping[int, tuple[str, ...]]


@dataclass(frozen=True)
class CooperativePlan:
    """A cooperative to add, as a file says."""

    name: str
    timezone: str
    currency: str
    language: str
    closing_hour: int
    bale_kg: Decimal | None
    farms: tuple[str, ...]
    prices: Mapping[str, Decimal]
    managers: tuple[Somebody, ...]
    places: tuple[PlacePlan, ...]
    rounds: tuple[RoundPlan, ...]


def read_cooperative_file(path: Path) -> CooperativePlan:
    """A cooperative's TOML file. Raises BadFile."""
    return _File(path).plan()


def hours(written: object) -> str | None:
    """An hour such as `06:00`; None for nothing. Raises ValueError."""
    text = str(written or "").strip()
    if not text:
        return None
    if not _HOURS.fullmatch(text):
        raise ValueError(f"{text} is no hour; write it like 06:00")
    return text.zfill(5)


def kind_of_price(written: str) -> str:
    """A line of a price list: a grade such as RSS3, or sheets, latex, lump. Raises ValueError."""
    kind = re.sub(r"[\s.-]", "", written)
    if kind.casefold() in ("sheets", "latex", "lump"):
        return kind.casefold()
    if re.fullmatch(r"[A-Za-z]{2,6}\d?[Xx]?", kind):
        return kind.upper()
    raise ValueError(f"{written!r} is neither a grade such as RSS3 nor sheets, latex or lump")


class _File(TomlFile):
    """A cooperative's file."""

    def plan(self) -> CooperativePlan:
        """All that the file says. Raises BadFile."""
        self.only(self.data, KEYS)
        language = self.one_of("language", LANGUAGES, "en")
        managers = tuple(self._person(each, "managers", n, language) for n, each in enumerate(self._tables("managers")))
        rounds = tuple(self._round(each, n, language) for n, each in enumerate(self._tables("rounds")))
        check_one_name_a_number([*managers, *(each.collector for each in rounds)])
        return CooperativePlan(
            name=self.written("name"),
            timezone=self.one_of("timezone", available_timezones()),
            currency=self.one_of("currency", list_currencies(), "USD"),
            language=language,
            closing_hour=self._hour(),
            bale_kg=self._bale(),
            farms=self._names(self.data.get("farms", []), "farms"),
            prices=self._prices(),
            managers=managers,
            places=tuple(self._place(each, n) for n, each in enumerate(self._tables("places"))),
            rounds=rounds,
        )

    def _hour(self) -> int:
        hour = self.data.get("closing_hour", USUAL_HOUR)
        if not isinstance(hour, int) or isinstance(hour, bool) or not 12 <= hour <= 23:
            raise self.fault(f"closing_hour is a whole hour from 12 to 23, not {hour!r}.", "closing_hour")
        return hour

    def _bale(self) -> Decimal | None:
        """What a bale weighs, kg; None where the file does not say it."""
        if "bale_kg" not in self.data:
            return None
        kg, given = number(self.data["bale_kg"]), self.data["bale_kg"]
        if not kg.is_finite() or not LIGHTEST_BALE_KG <= kg <= HEAVIEST_BALE_KG:
            low, high = LIGHTEST_BALE_KG, HEAVIEST_BALE_KG
            raise self.fault(f"bale_kg is what a bale weighs, {low} to {high} kg, not {given!r}.", "bale_kg")
        return kg

    def _tables(self, key: str) -> list[Mapping[str, Any]]:
        value = self.data.get(key, [])
        if not isinstance(value, list) or not all(isinstance(each, Mapping) for each in value):
            raise self.fault(f"write each of the {key} below a line [[{key}]].", key)
        for n, each in enumerate(value):
            self.only(each, TABLES[key], key, n)
        return value

    def _names(self, value: object, key: str, table: str = "", nth: int = 0) -> tuple[str, ...]:
        if not isinstance(value, list) or not all(isinstance(each, str) and each.strip() for each in value):
            raise self.fault(f'write {key} as {key} = ["Ironwood Bend", "Duskwater"].', key, table, nth)
        return tuple(each.strip() for each in value)

    def _prices(self) -> dict[str, Decimal]:
        table = self.data.get("prices", {})
        if not isinstance(table, Mapping):
            raise self.fault("prices must be a table [prices] with lines such as RSS3 = 1.55.", "prices")
        found = {}
        for key, value in table.items():
            price = number(value)
            try:
                kind = kind_of_price(key)
            except ValueError as fault:
                raise self.fault(f"{fault}.", key, "prices") from fault
            if not price.is_finite() or not price > 0:
                raise self.fault(f"the price of {key} must be a number above 0, not {value!r}.", key, "prices")
            found[kind] = price
        return found

    def _person(self, each: Mapping[str, Any], table: str, n: int, language: str) -> Somebody:
        where = self.where("", table, n)
        name = str(each.get("name") or "").strip()
        spoken = str(each.get("language") or language)
        if not name:
            raise BadFile(f"{where}: the name is missing.")
        if spoken not in LANGUAGES:
            raise BadFile(f"{where}: the language {spoken} is not one of {', '.join(LANGUAGES)}.")
        return Somebody(name, number_of(where, each.get("number"), self.data.get("region")), spoken, where)

    def _place(self, each: Mapping[str, Any], n: int) -> PlacePlan:
        name, number = str(each.get("name") or "").strip(), each.get("number")
        if not folded(name):
            raise self.fault('write a place as [[places]] with number = 1 and name = "Lower Gate".', "", "places", n)
        if not isinstance(number, int) or isinstance(number, bool) or not 0 < number < 10_000:
            raise self.fault(f"the number of {name} is a whole number from 1, not {number!r}.", "number", "places", n)
        try:
            opens, closes = hours(each.get("opens")), hours(each.get("closes"))
        except ValueError as fault:
            raise self.fault(f"{fault}.", "opens", "places", n) from fault
        names = self._names(each.get("farms", []), "farms", "places", n)
        return PlacePlan(name, number, names, opens, closes, self.where("name", "places", n))

    def _round(self, each: Mapping[str, Any], n: int, language: str) -> RoundPlan:
        days = {
            weekday: self._names(each[key], key, "rounds", n) for weekday, key in enumerate(WEEKDAYS) if key in each
        }
        return RoundPlan(self._person(each, "rounds", n, language), days)

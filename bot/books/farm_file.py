"""A farm from a TOML file. Every fault names its line and what to write there."""

import re
import tomllib
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping
from decimal import Decimal, InvalidOperation
from pathlib import Path
from typing import Any
from zoneinfo import available_timezones

import phonenumbers
from babel.numbers import list_currencies

from bot.books.convert import folded
from bot.books.errors import BadFile
from bot.books.farm_settings import UnknownSetting, checked
from bot.books.plans import LANGUAGES, FarmPlan, PersonPlan, check_blocks, check_one_name_a_number, person_plan
from parsers.reading import Block

KEYS = frozenset(
    [
        "name",
        "timezone",
        "currency",
        "language",
        "region",
        "other_farms",
        "settings",
        "blocks",
        "containers",
        "people",
        "points",
    ]
)
PERSON_KEYS = frozenset({"name", "number", "role", "blocks", "language", "lang"})
EXAMPLES = {"timezone": "Asia/Bangkok", "currency": "USD", "language": "en", "region": "GB"}

#: The most that a figure of a farm may be: litres of a day or a container, trees of a block.
MOST = 100_000

_HEADER = re.compile(r"\[+\s*(.+?)\s*\]+")


def read_farm_file(path: Path) -> FarmPlan:
    """A farm's TOML file. Raises BadFile."""
    return _File(path).plan()


class _File:
    """The file that is read: its data, and its text for the numbers of lines."""

    def __init__(self, path: Path) -> None:
        self.name = path.name
        try:
            self.text = path.read_text(encoding="utf-8-sig")
            self.data: dict[str, Any] = tomllib.loads(self.text)
        except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
            raise BadFile(f"{path.name} cannot be read: {error}") from error

    def plan(self) -> FarmPlan:
        self._only(self.data, KEYS)
        blocks = self._blocks()
        language = self._one_of("language", LANGUAGES, "en")
        return FarmPlan(
            name=self._text("name"),
            timezone=self._one_of("timezone", available_timezones()),
            currency=self._one_of("currency", list_currencies(), "USD"),
            language=language,
            blocks=blocks,
            containers=self._containers(),
            settings=self._settings(),
            other_farms=tuple(str(each) for each in self._list("other_farms")),
            people=self._people(language, blocks),
            points=tuple(self._point(n, each) for n, each in enumerate(self._list("points"))),
        )

    def fault(self, message: str, key: str, table: str = "", nth: int = 0) -> BadFile:
        """The error for a key of the nth table of that name."""
        return BadFile(f"{self._where(key, table, nth)}: {message}")

    def _where(self, key: str, table: str = "", nth: int = 0) -> str:
        line = line_of(self.text, key, table, nth)
        return self.name if line is None else f"{self.name}, line {line}"

    def _only(self, found: Mapping[str, Any], allowed: Iterable[str], table: str = "", nth: int = 0) -> None:
        for key in found:
            if key not in allowed:
                raise self.fault(f"there is no key {key}; use {', '.join(sorted(allowed))}.", key, table, nth)

    def _text(self, key: str) -> str:
        value = self.data.get(key)
        if not isinstance(value, str) or not value.strip():
            raise self.fault(f'{key} is missing; write {key} = "{EXAMPLES.get(key, "...")}" at the top.', key)
        return value.strip()

    def _one_of(self, key: str, allowed: Iterable[str], usual: str | None = None) -> str:
        value = usual if usual is not None and key not in self.data else self._text(key)
        if value not in set(allowed):
            raise self.fault(f'{key} {value!r} is not known; write one such as {key} = "{EXAMPLES[key]}".', key)
        return value

    def _table(self, key: str) -> Mapping[str, Any]:
        value = self.data.get(key, {})
        if not isinstance(value, Mapping):
            raise self.fault(f"{key} must be a table, for example [{key}].", key)
        return value

    def _list(self, key: str) -> list[Any]:
        value = self.data.get(key, [])
        if not isinstance(value, list):
            shape = f'{key} = ["Far Side"]' if key == "other_farms" else f"[[{key}]]"
            raise self.fault(f"write {key} as {shape}.", key)
        return value

    def _blocks(self) -> dict[str, Block]:
        return self._named("blocks", self._block)

    def _block(self, name: str, value: Any) -> Block:
        if not isinstance(value, Mapping) or value.keys() - {"trees", "usual_litres", "hectares"}:
            raise self.fault(f"write a block as {name} = {{ trees = 280, usual_litres = 16 }}.", name, "blocks")
        trees, usual = value.get("trees"), value.get("usual_litres")
        if trees is not None and (not isinstance(trees, int) or isinstance(trees, bool) or not 0 < trees <= MOST):
            raise self.fault(f"trees of {name} must be a whole number from 1 to {MOST}, not {trees!r}.", name, "blocks")
        area = value.get("hectares")
        return Block(
            trees,
            None if usual is None else self._litres(name, usual, "blocks"),
            None if area is None else self._amount(name, area, "blocks", "hectares"),
        )

    def _containers(self) -> dict[str, Decimal]:
        return self._named("containers", lambda name, value: self._litres(name, value, "containers"))

    def _litres(self, name: str, value: Any, table: str) -> Decimal:
        return self._amount(name, value, table, "litres")

    def _amount(self, name: str, value: Any, table: str, what: str) -> Decimal:
        try:
            number = Decimal("NaN") if isinstance(value, bool) else Decimal(str(value))
        except InvalidOperation:
            number = Decimal("NaN")
        if not (number.is_finite() and 0 < number <= MOST):
            raise self.fault(f"the {what} of {name} must be a number more than 0, not {value!r}.", name, table)
        return number

    def _named(self, table: str, made: Callable[[str, Any], Any]) -> dict[str, Any]:
        """The things of a table by name; two names that read the same are refused, since a text could mean either."""
        found: dict[str, Any] = {}
        keys: dict[str, str] = {}
        for name, value in self._table(table).items():
            if not folded(name) or ";" in name or not name.isprintable() or name != name.strip():
                raise self.fault(f"{name!r} cannot be a name; use letters and figures, such as A2.", name, table)
            if (twin := keys.setdefault(folded(name), name)) != name:
                raise self.fault(f"the {table} {twin} and {name} read the same; give one another name.", name, table)
            found[name] = made(name, value)
        return found

    def _settings(self) -> dict[str, object]:
        found: dict[str, object] = {}
        for name, value in self._table("settings").items():
            try:
                found[name] = checked(name, value)
            except UnknownSetting as error:
                raise self.fault(str(error), name, "settings") from error
        return found

    def _people(self, language: str, blocks: Mapping[str, Block]) -> tuple[PersonPlan, ...]:
        region = self._one_of("region", phonenumbers.SUPPORTED_REGIONS) if "region" in self.data else None
        found = []
        for n, each in enumerate(self._list("people")):
            if not isinstance(each, Mapping):
                raise self.fault("write a person below a line [[people]].", "people")
            self._only(each, PERSON_KEYS, "people", n)
            plan = person_plan(self._where("", "people", n), each, language=language, region=region, farm=None)
            check_blocks(plan, blocks)
            found.append(plan)
        check_one_name_a_number(found)
        return tuple(found)

    def _point(self, n: int, value: Any) -> str:
        if not isinstance(value, Mapping) or not str(value.get("name") or "").strip():
            raise self.fault('write a collection point as [[points]] with name = "River Landing".', "", "points", n)
        self._only(value, {"name"}, "points", n)
        return str(value["name"]).strip()


def line_of(text: str, key: str, table: str = "", nth: int = 0) -> int | None:
    """The line, from 1, where a key of the nth table of a name is set, or else where that table begins.

    Only to show a place to a reader: values over several lines may hide one.
    """
    lines: dict[tuple[str, int, str], int] = {}
    for place, line in _places(text):
        lines.setdefault(place, line)
    places = ((table, nth, key), (table, nth, ""), ("", 0, table))
    return next((lines[place] for place in places if place in lines), None)


def _places(text: str) -> Iterator[tuple[tuple[str, int, str], int]]:
    """Each line that begins a table or sets a key: (table, which of that name, key) and its number."""
    table, seen = "", Counter[str]()
    for number, line in enumerate(text.splitlines(), 1):
        bare = line.strip()
        if header := _HEADER.match(bare):
            table = _unquoted(header[1])
            seen[table] += 1
            parent, _, child = table.rpartition(".")
            yield (table, seen[table] - 1, ""), number
            yield (parent, 0, child), number
        elif "=" in bare:
            parent, _, child = _unquoted(bare.split("=")[0].strip()).rpartition(".")
            yield (table or parent, max(seen[table] - 1, 0), child), number


def _unquoted(name: str) -> str:
    return name.replace('"', "").replace("'", "")

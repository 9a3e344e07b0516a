"""A farm from a TOML file. Every fault names its line and what to write there."""

from collections.abc import Callable, Mapping
from decimal import Decimal
from pathlib import Path
from typing import Any
from zoneinfo import available_timezones

import phonenumbers
from babel.numbers import list_currencies

from bot.books.convert import folded
from bot.books.farm_settings import UnknownSetting, checked
from bot.books.plans import LANGUAGES, FarmPlan, PersonPlan, check_blocks, check_one_name_a_number, person_plan
from bot.books.toml_file import TomlFile, number
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

#: The most that a figure of a farm may be: litres of a day or a container, trees of a block.
MOST = 100_000


def read_farm_file(path: Path) -> FarmPlan:
    """A farm's TOML file. Raises BadFile."""
    return _File(path).plan()


class _File(TomlFile):
    """A farm's file."""

    def plan(self) -> FarmPlan:
        self.only(self.data, KEYS)
        blocks = self._blocks()
        language = self.one_of("language", LANGUAGES, "en")
        return FarmPlan(
            name=self.written("name"),
            timezone=self.one_of("timezone", available_timezones()),
            currency=self.one_of("currency", list_currencies(), "USD"),
            language=language,
            blocks=blocks,
            containers=self._containers(),
            settings=self._settings(),
            other_farms=tuple(str(each) for each in self._list("other_farms")),
            people=self._people(language, blocks),
            points=tuple(self._point(n, each) for n, each in enumerate(self._list("points"))),
        )

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
        found = number(value)
        if not (found.is_finite() and 0 < found <= MOST):
            raise self.fault(f"the {what} of {name} must be a number more than 0, not {value!r}.", name, table)
        return found

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
        region = self.one_of("region", phonenumbers.SUPPORTED_REGIONS) if "region" in self.data else None
        found = []
        for n, each in enumerate(self._list("people")):
            if not isinstance(each, Mapping):
                raise self.fault("write a person below a line [[people]].", "people")
            self.only(each, PERSON_KEYS, "people", n)
            plan = person_plan(self.where("", "people", n), each, language=language, region=region, farm=None)
            check_blocks(plan, blocks)
            found.append(plan)
        check_one_name_a_number(found)
        return tuple(found)

    def _point(self, n: int, value: Any) -> str:
        if not isinstance(value, Mapping) or not str(value.get("name") or "").strip():
            raise self.fault('write a collection point as [[points]] with name = "River Landing".', "", "points", n)
        self.only(value, {"name"}, "points", n)
        return str(value["name"]).strip()

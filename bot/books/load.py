"""Farms from a TOML file and people from a CSV file. Every fault names its place and what to write there."""

import csv
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields
from datetime import datetime
from decimal import Decimal, InvalidOperation
from pathlib import Path
from typing import Any
from zoneinfo import available_timezones

import phonenumbers
from babel.numbers import list_currencies

from bot.books import farms, people
from bot.books.convert import folded
from bot.books.errors import BadFile
from bot.books.model import Farm, FarmSettings, Membership
from bot.books.store import Transaction
from parsers.reading import Block, Role, block_from_json

LANGUAGES = ("en", "fr", "id", "th", "vi", "es")
FARM_KEYS = frozenset(
    {"name", "timezone", "currency", "language", "other_farms", "settings", "blocks", "containers", "people", "points"}
)
COLUMNS = ("number", "name", "role", "farm", "blocks", "language")


@dataclass(frozen=True)
class PersonPlan:
    """Somebody to enrol, as a file says. `farm` is None for the farm of the same file."""

    name: str
    number: str
    role: Role
    blocks: tuple[str, ...]
    language: str
    farm: str | None
    where: str


@dataclass(frozen=True)
class FarmPlan:
    """A farm to add, as a file says."""

    name: str
    timezone: str
    currency: str
    language: str
    blocks: Mapping[str, Block]
    containers: Mapping[str, Decimal]
    settings: Mapping[str, object]
    other_farms: tuple[str, ...]
    people: tuple[PersonPlan, ...]
    points: tuple[str, ...]


def read_farm_file(path: Path) -> FarmPlan:
    """A farm's TOML file. Raises BadFile."""
    data = _toml(path)
    unknown = sorted(data.keys() - FARM_KEYS)
    if unknown:
        raise BadFile(f"{path.name}: there is no key {unknown[0]}; use {', '.join(sorted(FARM_KEYS))}.")
    blocks = {str(name): _block(path, str(name), value) for name, value in _table(path, data, "blocks").items()}
    _no_twins(path, list(blocks))
    language = _one_of(path, "language", str(data.get("language", "en")), LANGUAGES)
    plan_people = tuple(
        _person(f"{path.name}: person {n}", each, language, None) for n, each in enumerate(data.get("people", ()), 1)
    )
    for each in plan_people:
        _check_blocks(each, blocks)
    return FarmPlan(
        name=_text(path, data, "name"),
        timezone=_one_of(path, "timezone", _text(path, data, "timezone"), available_timezones()),
        currency=_one_of(path, "currency", str(data.get("currency", "USD")), list_currencies()),
        language=language,
        blocks=blocks,
        containers={str(k): _decimal(path, f"containers.{k}", v) for k, v in _table(path, data, "containers").items()},
        settings=_settings(path, _table(path, data, "settings")),
        other_farms=tuple(str(each) for each in data.get("other_farms", ())),
        people=plan_people,
        points=tuple(str(each["name"]) for each in data.get("points", ())),
    )


def read_people_file(path: Path) -> list[PersonPlan]:
    """People from a CSV file with the columns number, name, role, farm, blocks, language. Raises BadFile."""
    try:
        with path.open(encoding="utf-8-sig", newline="") as lines:
            rows = list(csv.DictReader(lines))
    except (OSError, UnicodeDecodeError, csv.Error) as error:
        raise BadFile(f"{path.name} cannot be read: {error}") from error
    if rows and (missing := [name for name in COLUMNS[:4] if name not in rows[0]]):
        raise BadFile(f"{path.name}, line 1: the column {missing[0]} is missing; write {','.join(COLUMNS)}.")
    return [_person(f"{path.name}, line {n}", row, "en", row.get("farm")) for n, row in enumerate(rows, 2)]


def load_farm(tx: Transaction, plan: FarmPlan, at: datetime) -> Farm:
    """Add the farm with its people. Raises BadFile when a farm of that name is in the books."""
    if farms.farm_named(tx, plan.name) is not None:
        raise BadFile(f"There is a farm {plan.name} in the books already; give this one another name.")
    farm = farms.add_farm(
        tx,
        name=plan.name,
        timezone=plan.timezone,
        currency=plan.currency,
        language=plan.language,
        blocks=plan.blocks,
        containers=plan.containers,
        settings=plan.settings,
        other_farms=plan.other_farms,
        at=at,
    )
    for each in plan.people:
        _enrol(tx, each, farm.id, at)
    for name in plan.points:
        farms.add_point(tx, name, [farm.id])
    return farm


def load_people(tx: Transaction, plans: Sequence[PersonPlan], at: datetime) -> list[Membership]:
    """Enrol people at the farms that they name. Raises BadFile for a farm or block that is not in the books."""
    return [_load_person(tx, plan, at) for plan in plans]


def _load_person(tx: Transaction, plan: PersonPlan, at: datetime) -> Membership:
    farm = farms.farm_named(tx, plan.farm or "")
    if farm is None:
        known = ", ".join(each.name for each in farms.all_farms(tx))
        raise BadFile(f"{plan.where}: there is no farm {plan.farm}; there are {known or 'none'}.")
    _check_blocks(plan, farms.blocks(tx, farm.id))
    return _enrol(tx, plan, farm.id, at)


def _enrol(tx: Transaction, plan: PersonPlan, farm_id: str, at: datetime) -> Membership:
    return people.enrol(
        tx,
        name=plan.name,
        number=plan.number,
        language=plan.language,
        farm_id=farm_id,
        role=plan.role,
        blocks=plan.blocks,
        at=at,
        message_id=None,
    )


def _person(where: str, row: Mapping[str, Any], language: str, farm: str | None) -> PersonPlan:
    name = str(row.get("name") or "").strip()
    if not name:
        raise BadFile(f"{where}: the name is missing.")
    spoken = str(row.get("language") or row.get("lang") or language).strip()
    if spoken not in LANGUAGES:
        raise BadFile(f"{where}: the language {spoken} is not one of {', '.join(LANGUAGES)}.")
    role = str(row.get("role") or "tapper").strip().casefold()
    if role not in set(Role):
        raise BadFile(f"{where}: the role {role} is not one of {', '.join(Role)}.")
    blocks = row.get("blocks") or ()
    names = blocks.replace(";", "\n").split("\n") if isinstance(blocks, str) else [str(each) for each in blocks]
    names = [each.strip() for each in names if each.strip()]
    return PersonPlan(name, _number(where, row.get("number")), Role(role), tuple(names), spoken, farm, where)


def _number(where: str, written: object) -> str:
    try:
        number = phonenumbers.parse(str(written or ""), None)
    except phonenumbers.NumberParseException as error:
        raise BadFile(f"{where}: {written} is not a phone number; write it like +447700900123.") from error
    if not phonenumbers.is_possible_number(number):
        raise BadFile(f"{where}: {written} has too few or too many digits; write it like +447700900123.")
    return str(phonenumbers.format_number(number, phonenumbers.PhoneNumberFormat.E164))


def _check_blocks(plan: PersonPlan, blocks: Mapping[str, object]) -> None:
    for name in plan.blocks:
        if name not in blocks:
            raise BadFile(f"{plan.where}: there is no block {name}; there are {', '.join(blocks) or 'none'}.")


def _toml(path: Path) -> dict[str, Any]:
    try:
        return tomllib.loads(path.read_text(encoding="utf-8-sig"))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise BadFile(f"{path.name} cannot be read: {error}") from error


def _table(path: Path, data: Mapping[str, Any], key: str) -> Mapping[str, Any]:
    value = data.get(key, {})
    if not isinstance(value, Mapping):
        raise BadFile(f"{path.name}: {key} must be a table, for example [{key}].")
    return value


def _text(path: Path, data: Mapping[str, Any], key: str) -> str:
    value = data.get(key)
    if not isinstance(value, str) or not value.strip():
        raise BadFile(f'{path.name}: {key} is missing; write {key} = "...".')
    return value.strip()


def _one_of(path: Path, key: str, value: str, allowed: Any) -> str:
    if value not in allowed:
        raise BadFile(f"{path.name}: {key} {value!r} is not known.")
    return value


def _block(path: Path, name: str, value: Any) -> Block:
    if not isinstance(value, Mapping) or value.keys() - {"trees", "usual_litres"}:
        raise BadFile(f"{path.name}: write a block as {name} = {{ trees = 280, usual_litres = 16 }}.")
    _decimal(path, f"blocks.{name}.usual_litres", value.get("usual_litres", 1))
    return block_from_json(value)


def _no_twins(path: Path, names: list[str]) -> None:
    seen: dict[str, str] = {}
    for name in names:
        if (twin := seen.setdefault(folded(name), name)) != name:
            raise BadFile(f"{path.name}: the blocks {twin} and {name} read the same; give one another name.")


def _decimal(path: Path, key: str, value: object) -> Decimal:
    try:
        number = Decimal(str(value))
    except InvalidOperation as error:
        raise BadFile(f"{path.name}: {key} must be a number, not {value!r}.") from error
    if not 0 < number < 100_000:
        raise BadFile(f"{path.name}: {key} must be more than 0, not {value}.")
    return number


def _settings(path: Path, values: Mapping[str, Any]) -> Mapping[str, object]:
    known = {each.name for each in fields(FarmSettings)}
    unknown = sorted(values.keys() - known)
    if unknown:
        raise BadFile(f"{path.name}: there is no setting {unknown[0]}; there are {', '.join(sorted(known))}.")
    return {key: Decimal(str(value)) if isinstance(value, float) else value for key, value in values.items()}

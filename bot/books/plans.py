"""Farms and people as a file says them, checked, before they are put into the books."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, Protocol

import phonenumbers

from bot.books.convert import folded
from bot.books.errors import BadFile
from parsers.reading import Block, Role

LANGUAGES = ("en", "fr", "id", "th", "vi", "es")


@dataclass(frozen=True)
class PersonPlan:
    """Somebody to enrol, as a file says. `farm` is None for the farm of the same file; `where` is his place in the file."""

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


def person_plan(
    where: str, row: Mapping[str, Any], *, language: str, region: str | None, farm: str | None
) -> PersonPlan:
    """Somebody from the fields name, number, role, blocks, language (or lang). Raises BadFile."""
    name = str(row.get("name") or "").strip()
    if not name:
        raise BadFile(f"{where}: the name is missing.")
    spoken = str(row.get("language") or row.get("lang") or language).strip()
    if spoken not in LANGUAGES:
        raise BadFile(f"{where}: the language {spoken} is not one of {', '.join(LANGUAGES)}.")
    role = str(row.get("role") or "tapper").strip().casefold()
    if role not in set(Role):
        raise BadFile(f"{where}: the role {role} is not one of {', '.join(Role)}.")
    number = number_of(where, row.get("number"), region)
    return PersonPlan(name, number, Role(role), _block_names(row.get("blocks") or ()), spoken, farm, where)


def number_of(where: str, written: object, region: str | None) -> str:
    """A phone number in E.164 form; `region` (such as GB) is that of numbers written without +. Raises BadFile."""
    example = "write it like +447700900123"
    try:
        number = phonenumbers.parse(str(written or ""), region)
    except phonenumbers.NumberParseException as error:
        raise BadFile(f"{where}: {written or 'nothing'} is not a phone number; {example}.") from error
    if not phonenumbers.is_possible_number(number):
        raise BadFile(f"{where}: {written} has too few or too many digits; {example}.")
    return str(phonenumbers.format_number(number, phonenumbers.PhoneNumberFormat.E164))


def check_blocks(plan: PersonPlan, blocks: Iterable[str]) -> None:
    """His blocks must be the farm's. Raises BadFile."""
    known = list(blocks)
    for name in plan.blocks:
        if name not in known:
            raise BadFile(f"{plan.where}: there is no block {name}; there are {', '.join(known) or 'none'}.")


class Named(Protocol):
    """Somebody as a file says: his name, number, and place in the file."""

    @property
    def name(self) -> str: ...
    @property
    def number(self) -> str: ...
    @property
    def where(self) -> str: ...


def check_one_name_a_number(plans: Iterable[Named]) -> None:
    """One number is one person. Raises BadFile where a file gives it two names."""
    names: dict[str, Named] = {}
    for plan in plans:
        first = names.setdefault(plan.number, plan)
        if folded(first.name) != folded(plan.name):
            raise BadFile(f"{plan.where}: {plan.number} is {first.name}'s number already; one number is one person.")


def _block_names(written: object) -> tuple[str, ...]:
    each = (
        written.split(";") if isinstance(written, str) else written if isinstance(written, list | tuple) else [written]
    )
    return tuple(name for one in each if (name := str(one).strip()))

"""Farms and people from files into the books."""

from collections.abc import Sequence
from datetime import datetime

from bot.books import farms, people
from bot.books.errors import BadFile
from bot.books.farm_file import read_farm_file
from bot.books.model import Farm, Membership
from bot.books.people_file import read_people_file
from bot.books.plans import FarmPlan, PersonPlan, check_blocks
from bot.books.store import Transaction

__all__ = ["load_farm", "load_people", "read_farm_file", "read_people_file"]


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
        raise BadFile(f"{plan.where}: there is no farm {plan.farm or 'without a name'}; there are {known or 'none'}.")
    check_blocks(plan, farms.blocks(tx, farm.id))
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

"""A cooperative from a file into the books: farms by name, managers, prices, places, rounds, and collectors enrolled."""

from datetime import datetime
from zoneinfo import ZoneInfo

from bot.books import cooperatives, farms, people, places
from bot.books.convert import folded
from bot.books.cooperative_file import CooperativePlan, PlacePlan, RoundPlan, Somebody, read_cooperative_file
from bot.books.cooperatives import Cooperative
from bot.books.errors import BadFile
from bot.books.model import Person
from bot.books.store import Transaction
from parsers.reading import Role

__all__ = ["enrol_collectors", "load_cooperative", "read_cooperative_file"]


def load_cooperative(tx: Transaction, plan: CooperativePlan, at: datetime) -> Cooperative:
    """Add a cooperative, or bring the one of that name up to the file: what the file does not name stays.

    Raises BadFile for a farm or place that is not in the books.
    """
    plain = {name: getattr(plan, name) for name in ("name", "timezone", "currency", "language", "closing_hour")}
    found = cooperatives.add(tx, **plain, at=at)
    if plan.bale_kg is not None:
        cooperatives.set_bale(tx, found.id, plan.bale_kg)
    for name in plan.farms:
        cooperatives.add_farm(tx, found.id, _farm_id(tx, name, plan.name))
    today = at.astimezone(ZoneInfo(found.timezone)).date()
    for kind, price in plan.prices.items():
        cooperatives.set_price(tx, found.id, kind, price, day=today, at=at, message_id=None)
    for each in plan.managers:
        cooperatives.add_manager(tx, found.id, _person(tx, each, at).id, at)
    for place in plan.places:
        _place(tx, found, place)
    for each_round in plan.rounds:
        _round(tx, found, each_round, at)
    enrol_collectors(tx, found.id, at)
    return found


def _farm_id(tx: Transaction, name: str, where: str) -> str:
    farm = farms.farm_named(tx, name)
    if farm is None:
        known = ", ".join(each.name for each in farms.all_farms(tx))
        raise BadFile(f"{where}: there is no farm {name} in the books; there are {known or 'none'}.")
    return farm.id


def _person(tx: Transaction, each: Somebody, at: datetime) -> Person:
    return people.known_as(tx, name=each.name, number=each.number, language=each.language, at=at)


def _place(tx: Transaction, cooperative: Cooperative, plan: PlacePlan) -> None:
    farm_ids = [_farm_id(tx, name, plan.where) for name in plan.farms]
    for farm_id in farm_ids:
        cooperatives.add_farm(tx, cooperative.id, farm_id)
    try:
        places.set_place(
            tx,
            cooperative.id,
            name=plan.name,
            number=plan.number,
            opens=plan.opens,
            closes=plan.closes,
            farm_ids=farm_ids,
        )
    except ValueError as fault:
        raise BadFile(f"{plan.where}: {fault}.") from fault


def _round(tx: Transaction, cooperative: Cooperative, plan: RoundPlan, at: datetime) -> None:
    known = {folded(each.name): each.id for each in places.of_cooperative(tx, cooperative.id)}
    person = _person(tx, plan.collector, at)
    for weekday, names in plan.days.items():
        unknown = [name for name in names if folded(name) not in known]
        if unknown:
            raise BadFile(f"{plan.collector.where}: there is no place {unknown[0]}; write it below [[places]] first.")
        places.set_round(tx, person.id, weekday, [known[folded(name)] for name in names])


def enrol_collectors(tx: Transaction, cooperative_id: str, at: datetime) -> None:
    """Make every collector a collector of the farms that bring to the places of his rounds."""
    known = {each.id: each for each in places.of_cooperative(tx, cooperative_id)}
    for each in places.rounds(tx, cooperative_id):
        held = {one.farm_id for one in people.memberships(tx, each.person.id) if one.role is Role.COLLECTOR}
        wanted = {farm_id for place_id in each.place_ids if place_id in known for farm_id in known[place_id].farm_ids}
        for farm_id in sorted(wanted - held):
            _enrol(tx, each.person, farm_id, at)


def _enrol(tx: Transaction, person: Person, farm_id: str, at: datetime) -> None:
    who = {"name": person.name, "number": person.number, "language": person.language}
    people.enrol(tx, farm_id=farm_id, role=Role.COLLECTOR, blocks=(), at=at, message_id=None, **who)

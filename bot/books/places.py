"""Places where collectors come, with their numbers, hours and farms, and the rounds of collectors by weekday.

A place is a collection point of a cooperative. Hours are of the cooperative's clock, as `06:00`.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from rapidfuzz import fuzz

from bot.books import farms
from bot.books.convert import folded
from bot.books.model import Person
from bot.books.people import person_in
from bot.books.store import Transaction

#: How alike two spellings of a name have to be, of 100, and how much more alike than any other name. No source: by trial.
ALIKE, APART = 78, 8


@dataclass(frozen=True)
class Place:
    """A place: its number within the cooperative, hours (None: always), and the farms that bring to it."""

    id: str
    name: str
    cooperative_id: str
    number: int
    opens: str | None
    closes: str | None
    farm_ids: tuple[str, ...]


@dataclass(frozen=True)
class Round:
    """The places that a collector goes to on a weekday (Monday 0), in their order."""

    person: Person
    weekday: int
    place_ids: tuple[str, ...]


def set_place(
    tx: Transaction,
    cooperative_id: str,
    *,
    name: str,
    number: int,
    opens: str | None = None,
    closes: str | None = None,
    farm_ids: Sequence[str] | None = None,
) -> Place:
    """A place with its number and hours; `farm_ids`, where given, are all farms that bring to it from now on.

    Raises ValueError where another place of the cooperative has the number.
    """
    taken = next((each for each in of_cooperative(tx, cooperative_id) if each.number == number), None)
    if taken is not None and folded(taken.name) != folded(name):
        raise ValueError(f"number {number} is that of {taken.name}; give {name} another")
    point = farms.add_point(tx, name, ())
    tx.run(
        "set_place_details",
        point_id=point.id,
        cooperative_id=cooperative_id,
        number=number,
        opens=opens,
        closes=closes,
    )
    if farm_ids is not None:
        tx.run("clear_point_farms", point_id=point.id)
        for farm_id in farm_ids:
            tx.run("add_point_farm", point_id=point.id, farm_id=farm_id)
    return next(each for each in of_cooperative(tx, cooperative_id) if each.id == point.id)


def of_cooperative(tx: Transaction, cooperative_id: str) -> list[Place]:
    """The places of a cooperative by number."""
    return _gathered(tx.run("places_of", cooperative_id=cooperative_id))


def meant(known: Sequence[Place], said: str) -> Place | None:
    """The place that is meant: by its number, or by a name however spelled. None where none or several fit."""
    bare = folded(said)
    if bare.isdecimal():
        return next((each for each in known if each.number == int(bare)), None)
    name = nearest(said, [each.name for each in known])
    return next((each for each in known if each.name == name), None)


def nearest(said: str, names: Iterable[str]) -> str | None:
    """The one name that a spelling means: the same without case and marks, or clearly nearer to it than to any other."""
    known, bare = list(names), folded(said)
    same = [name for name in known if folded(name) == bare]
    if same or not bare:
        return same[0] if len(same) == 1 else None
    scored = sorted(((_likeness(bare, folded(name)), name) for name in known), reverse=True)
    if not scored or scored[0][0] < ALIKE or (len(scored) > 1 and scored[0][0] - scored[1][0] < APART):
        return None
    return scored[0][1]


def _likeness(said: str, name: str) -> float:
    """0 to 100; a part of a name that is long enough to tell counts nearly as the whole."""
    part = 95.0 if len(said) >= 3 and said in name else 0.0
    return max(part, fuzz.ratio(said, name))


def set_round(tx: Transaction, person_id: str, weekday: int, place_ids: Sequence[str]) -> None:
    """Where a collector goes on a weekday (Monday 0) from now on, in this order."""
    tx.run("clear_round", person_id=person_id, weekday=weekday)
    for position, place_id in enumerate(place_ids):
        tx.run("add_stop", person_id=person_id, weekday=weekday, point_id=place_id, position=position)


def rounds_of(tx: Transaction, person_id: str) -> dict[int, tuple[str, ...]]:
    """The ids of the places that somebody goes to, by weekday."""
    found: dict[int, tuple[str, ...]] = {}
    for row in tx.run("rounds_of", person_id=person_id):
        found[row["weekday"]] = (*found.get(row["weekday"], ()), row["point_id"])
    return found


def stops_of(tx: Transaction, person_id: str) -> list[tuple[int, str]]:
    """The stops of somebody's rounds: weekday and name of the place, in order."""
    return [(row["weekday"], row["name"]) for row in tx.run("rounds_of", person_id=person_id)]


def rounds(tx: Transaction, cooperative_id: str) -> list[Round]:
    """All rounds to places of a cooperative, by collector and weekday."""
    found: dict[tuple[str, int], Round] = {}
    for row in tx.run("rounds_of_cooperative", cooperative_id=cooperative_id):
        key = row["person_id"], row["weekday"]
        before = found.get(key, Round(person_in(row, row["person_id"]), row["weekday"], ()))
        found[key] = Round(before.person, before.weekday, (*before.place_ids, row["point_id"]))
    return list(found.values())


def _gathered(rows: Iterable[dict[str, Any]]) -> list[Place]:
    found: dict[str, Place] = {}
    for row in rows:
        before = found.get(row["id"])
        more = () if row["farm_id"] is None else (row["farm_id"],)
        farm_ids = (() if before is None else before.farm_ids) + more
        found[row["id"]] = Place(
            row["id"], row["name"], row["cooperative_id"], row["number"], row["opens"], row["closes"], farm_ids
        )
    return list(found.values())

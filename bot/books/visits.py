"""Visits of collectors at farms where they met nobody: the farm was visited, and nothing was taken."""

from dataclasses import dataclass
from datetime import date, datetime

from bot.books.convert import moment_in, moment_out
from bot.books.ids import new_id
from bot.books.store import Transaction


@dataclass(frozen=True)
class EmptyVisit:
    """A farm where a collector met nobody."""

    farm_id: str
    person_id: str


@dataclass(frozen=True)
class Told:
    """An empty visit as it was told: on which log day, when, and in which text."""

    farm_id: str
    day: date
    at: datetime
    message_id: str


def add(
    tx: Transaction, cooperative_id: str, farm_id: str, person_id: str, *, day: date, at: datetime, message_id: str
) -> bool:
    """A collector met nobody at a farm. False where he said so before."""
    rows = tx.run(
        "add_empty_visit",
        id=new_id(),
        cooperative_id=cooperative_id,
        farm_id=farm_id,
        person_id=person_id,
        day=day.isoformat(),
        at=moment_out(at),
        message_id=message_id,
    )
    return bool(rows)


def on(tx: Transaction, cooperative_id: str, day: date) -> list[EmptyVisit]:
    """The empty visits of a day that stand."""
    rows = tx.run("empty_visits", cooperative_id=cooperative_id, day=day.isoformat())
    return [EmptyVisit(row["farm_id"], row["person_id"]) for row in rows]


def newest(tx: Transaction, cooperative_id: str, person_id: str, first: date) -> list[Told]:
    """What stands of a collector's empty visits from a day on, the newest first."""
    rows = tx.run(
        "newest_empty_visits", cooperative_id=cooperative_id, person_id=person_id, first_day=first.isoformat()
    )
    return [
        Told(row["farm_id"], date.fromisoformat(row["day"]), moment_in(row["at"]), row["message_id"]) for row in rows
    ]


def withdraw(tx: Transaction, farm_id: str, person_id: str, *, day: date, at: datetime) -> bool:
    """It was not so. False where he did not say it."""
    rows = tx.run("withdraw_empty_visit", farm_id=farm_id, person_id=person_id, day=day.isoformat(), at=moment_out(at))
    return bool(rows)

"""Cooperatives: their farms, managers, prices of the day, and what left the store.

Prices are per kilo that is paid for, in the cooperative's currency, kept in ten-thousandths of its unit.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from bot.books import farms
from bot.books.convert import folded, moment_out, rounded, scaled, unscaled
from bot.books.entries import entries_in
from bot.books.ids import new_id
from bot.books.model import Entry, Farm, Person
from bot.books.people import person_in
from bot.books.store import Transaction
from bot.rubber.selling_reference import SELLING
from parsers.reading import What

#: What a bale weighs where a cooperative does not say it, kg: nine of ribbed smoked sheet make a tonne.
USUAL_BALE_KG = Decimal(str(SELLING["bale_rss"].value))

#: What a bale can weigh, kg: the heaviest is the Green Book's 250 lb (of 0.45359237 kg) and a little; the lightest common
#: practice, no source.
LIGHTEST_BALE_KG, HEAVIEST_BALE_KG = Decimal(10), Decimal(120)


@dataclass(frozen=True)
class Cooperative:
    """A cooperative; `closing_hour` is the hour of its clock at which the collecting day is told, `bale_kg` what its bales weigh."""

    id: str
    name: str
    timezone: str
    currency: str
    language: str
    closing_hour: int
    bale_kg: Decimal


@dataclass(frozen=True)
class Graded:
    """A take as the figures of grades need it: `notes` say why the grade was given."""

    farm_id: str
    farm: str
    day: date
    kind: str
    kg: Decimal
    amount: Decimal | None
    notes: tuple[str, ...]


def add(
    tx: Transaction, *, name: str, timezone: str, currency: str, language: str, closing_hour: int, at: datetime
) -> Cooperative:
    """A new cooperative, or the one of that name with its zone, currency, language and hour changed."""
    known = named(tx, name)
    plain = {"timezone": timezone, "currency": currency, "language": language, "closing_hour": closing_hour}
    if known is not None:
        tx.run("change_cooperative", id=known.id, **plain)
        return cooperative(tx, known.id)
    found = new_id()
    tx.run("add_cooperative", id=found, name=name, name_key=folded(name), created_at=moment_out(at), **plain)
    return cooperative(tx, found)


def set_bale(tx: Transaction, cooperative_id: str, kg: Decimal) -> None:
    """What a bale of a cooperative weighs from now on. Raises ValueError outside what a bale can weigh."""
    if not LIGHTEST_BALE_KG <= kg <= HEAVIEST_BALE_KG:
        raise ValueError(f"a bale weighs {LIGHTEST_BALE_KG} to {HEAVIEST_BALE_KG} kg, not {kg}")
    tx.run("set_bale", id=cooperative_id, bale_g=scaled(kg, 1000))


def cooperative(tx: Transaction, cooperative_id: str) -> Cooperative:
    """A cooperative by its id. Raises LookupError."""
    rows = tx.run("cooperative", id=cooperative_id)
    if not rows:
        raise LookupError(f"there is no cooperative {cooperative_id}")
    return _cooperative(rows[0])


def named(tx: Transaction, name: str) -> Cooperative | None:
    """The cooperative of that name, whatever its case, marks and spaces."""
    rows = tx.run("cooperative_named", name_key=folded(name))
    return _cooperative(rows[0]) if rows else None


def everyone(tx: Transaction) -> list[Cooperative]:
    """All cooperatives in the order in which they were added."""
    return [_cooperative(row) for row in tx.run("all_cooperatives")]


def add_farm(tx: Transaction, cooperative_id: str, farm_id: str) -> None:
    """A farm belongs to this cooperative from now on, and to no other."""
    tx.run("add_cooperative_farm", farm_id=farm_id, cooperative_id=cooperative_id)


def of_farm(tx: Transaction, farm_id: str) -> Cooperative | None:
    """The cooperative that a farm belongs to."""
    rows = tx.run("cooperative_of_farm", farm_id=farm_id)
    return _cooperative(rows[0]) if rows else None


def of_grower(tx: Transaction, farm_id: str) -> list[Cooperative]:
    """The cooperative that a farm belongs to, and those with which it has had pay-outs or has money open."""
    return [_cooperative(row) for row in tx.run("cooperatives_of_grower", farm_id=farm_id)]


def farms_of(tx: Transaction, cooperative_id: str) -> list[Farm]:
    """The farms of a cooperative by name."""
    return [farms.farm(tx, row["id"]) for row in tx.run("farms_of_cooperative", cooperative_id=cooperative_id)]


def farm_names(tx: Transaction, cooperative_id: str) -> dict[str, str]:
    """The names of a cooperative's farms by their ids; far quicker than the farms with their settings."""
    return {row["id"]: row["name"] for row in tx.run("farms_of_cooperative", cooperative_id=cooperative_id)}


def add_manager(tx: Transaction, cooperative_id: str, person_id: str, at: datetime) -> None:
    """Somebody manages a cooperative from now on; once is enough."""
    if all(each.id != cooperative_id for each in managed_by(tx, person_id)):
        tx.run("add_manager", id=new_id(), cooperative_id=cooperative_id, person_id=person_id, since=moment_out(at))


def end_manager(tx: Transaction, person_id: str, at: datetime, cooperative_id: str | None = None) -> None:
    """Somebody does not manage a cooperative any more, or none at all."""
    if cooperative_id is None:
        tx.run("end_managing", person_id=person_id, at=moment_out(at))
    else:
        tx.run("end_managing_one", person_id=person_id, cooperative_id=cooperative_id, at=moment_out(at))


def managers(tx: Transaction, cooperative_id: str) -> list[Person]:
    """Who manages a cooperative."""
    return [person_in(row) for row in tx.run("managers_of", cooperative_id=cooperative_id)]


def managed_by(tx: Transaction, person_id: str) -> list[Cooperative]:
    """What somebody manages."""
    return [_cooperative(row) for row in tx.run("managed_by", person_id=person_id)]


def choose(tx: Transaction, person_id: str, cooperative_id: str, at: datetime) -> None:
    """A manager of several speaks of this one until he names another."""
    tx.run("choose_cooperative", person_id=person_id, cooperative_id=cooperative_id, at=moment_out(at))


def chosen(tx: Transaction, person_id: str) -> str | None:
    """The id of the cooperative that a manager chose last; whether he still manages it is not looked at."""
    rows = tx.run("chosen_cooperative", person_id=person_id)
    return rows[0]["cooperative_id"] if rows else None


def set_price(
    tx: Transaction, cooperative_id: str, kind: str, price: Decimal, *, day: date, at: datetime, message_id: str | None
) -> None:
    """The price of a grade (`RSS3`) or form (`sheets`, `latex`, `lump`) from a day on; what it was before is kept.

    Raises ValueError for a price that is not above 0.
    """
    if not price > 0:
        raise ValueError(f"a price has to be above 0, not {price}")
    tx.run(
        "add_list_price",
        id=new_id(),
        cooperative_id=cooperative_id,
        day=day.isoformat(),
        kind=kind,
        ten_thousandths=scaled(rounded(price, 10000), 10000),
        set_at=moment_out(at),
        message_id=message_id,
    )


def price_on(tx: Transaction, cooperative_id: str, kind: str, day: date) -> Decimal | None:
    """The price of a kind on a day: the newest that was set up to it. None where none was."""
    rows = tx.run("list_price", cooperative_id=cooperative_id, kind=kind, day=day.isoformat(), most=1)
    return unscaled(rows[0]["ten_thousandths"], 10000) if rows else None


def prices_on(tx: Transaction, cooperative_id: str, day: date) -> dict[str, Decimal]:
    """The price of every kind on a day."""
    rows = tx.run("list_prices_until", cooperative_id=cooperative_id, day=day.isoformat())
    return {row["kind"]: unscaled(row["ten_thousandths"], 10000) or Decimal(0) for row in rows}


def standing(tx: Transaction, cooperative_id: str, what: What, first: date, last: date) -> list[Entry]:
    """What stands of one kind at all farms of a cooperative from `first` to `last`, both included."""
    span = {"first_day": first.isoformat(), "last_day": last.isoformat()}
    return entries_in(tx.run("standing_of_cooperative", cooperative_id=cooperative_id, what=what.value, **span))


def add_take(
    tx: Transaction, entry: Entry, kind: str, paid_kg: Decimal, amount: Decimal | None, notes: Sequence[str]
) -> None:
    """Keep the figures of a take that sums are made of. The line itself says whether it stands."""
    tx.run(
        "add_take",
        entry_id=entry.id,
        farm_id=entry.farm_id,
        kind=kind,
        paid_g=scaled(rounded(paid_kg, 1000), 1000),
        ten_thousandths=scaled(amount, 10000),
        notes=" ".join(notes),
    )


def grades(tx: Transaction, cooperative_id: str, first: date, last: date) -> list[Graded]:
    """Every take that stands from `first` to `last`, by farm and day."""
    span = {"first_day": first.isoformat(), "last_day": last.isoformat()}
    return [
        Graded(
            row["farm_id"],
            row["name"],
            date.fromisoformat(row["day"]),
            row["kind"],
            unscaled(row["paid_g"], 1000) or Decimal(0),
            unscaled(row["ten_thousandths"], 10000),
            tuple(row["notes"].split()),
        )
        for row in tx.run("grades_taken", cooperative_id=cooperative_id, **span)
    ]


def _cooperative(row: Mapping[str, Any]) -> Cooperative:
    bale_kg = USUAL_BALE_KG if row["bale_g"] is None else Decimal(row["bale_g"]) / 1000
    return Cooperative(
        row["id"], row["name"], row["timezone"], row["currency"], row["language"], row["closing_hour"], bale_kg
    )

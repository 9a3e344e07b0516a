"""What work is paid: terms with their date, advances and deductions, and the settlements that were confirmed."""

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from bot.books.convert import moment_in, moment_out, scaled, unscaled
from bot.books.ids import new_id
from bot.books.store import Transaction

#: Amounts are kept in ten-thousandths of the currency's unit, finer than any minor unit.
SCALE = 10_000

_FIRST_DAY, _LAST_DAY = date.min, date.max


@dataclass(frozen=True)
class Terms:
    """Terms of pay from a day on, as plain data (`bot.reckon.wages` reads them). `person_id` None: of all tappers."""

    person_id: str | None
    since: date
    terms: Mapping[str, str]
    id: str = ""


@dataclass(frozen=True)
class MoneyLine:
    """An advance, a deduction or a bonus of somebody."""

    id: str
    person_id: str
    day: date
    kind: str
    amount: Decimal
    note: str


@dataclass(frozen=True)
class Settled:
    """A confirmed settlement: earned = recovered + paid; `owed` is what is left of advances. `slip` tells how."""

    id: str
    person_id: str
    first: date
    last: date
    slip: tuple[tuple[str, str, str], ...]
    earned: Decimal
    recovered: Decimal
    paid: Decimal
    owed: Decimal
    confirmed_at: datetime


def set_terms(
    tx: Transaction,
    farm_id: str,
    person_id: str | None,
    since: date,
    terms: Mapping[str, str],
    *,
    at: datetime,
    message_id: str | None,
) -> None:
    """Terms of pay from a day on; earlier ones stay for the days before."""
    tx.run(
        "add_pay_terms",
        id=new_id(),
        farm_id=farm_id,
        person_id=person_id,
        since=since.isoformat(),
        terms=json.dumps(dict(terms), ensure_ascii=False),
        set_at=moment_out(at),
        message_id=message_id,
    )


def all_terms(tx: Transaction, farm_id: str) -> list[Terms]:
    """All terms of a farm, oldest first."""
    return [
        Terms(row["person_id"], date.fromisoformat(row["since"]), json.loads(row["terms"]), row["id"])
        for row in tx.run("pay_terms", farm_id=farm_id)
    ]


def add_money(
    tx: Transaction,
    farm_id: str,
    person_id: str,
    *,
    day: date,
    kind: str,
    amount: Decimal,
    note: str,
    at: datetime,
    message_id: str | None,
) -> str:
    """An advance, a deduction or a bonus; its id. Raises ValueError for an amount finer than the books keep."""
    line_id = new_id()
    tx.run(
        "add_money_line",
        id=line_id,
        farm_id=farm_id,
        person_id=person_id,
        day=day.isoformat(),
        kind=kind,
        ten_thousandths=scaled(amount, SCALE),
        note=note,
        entered_at=moment_out(at),
        message_id=message_id,
    )
    return line_id


def take_back(tx: Transaction, line_id: str, *, at: datetime) -> None:
    """A line of money does not stand any more."""
    tx.run("take_back_money_line", id=line_id, at=moment_out(at))


def money(tx: Transaction, farm_id: str, *, first: date | None = None, last: date | None = None) -> list[MoneyLine]:
    """Advances, deductions and bonuses that stand, from `first` to `last`, both included."""
    rows = tx.run(
        "money_lines",
        farm_id=farm_id,
        first_day=(first or _FIRST_DAY).isoformat(),
        last_day=(last or _LAST_DAY).isoformat(),
    )
    return [
        MoneyLine(
            row["id"],
            row["person_id"],
            date.fromisoformat(row["day"]),
            row["kind"],
            unscaled(row["ten_thousandths"], SCALE) or Decimal(0),
            row["note"],
        )
        for row in rows
    ]


def settle(
    tx: Transaction,
    farm_id: str,
    person_id: str,
    *,
    first: date,
    last: date,
    slip: Sequence[tuple[str, str, str]],
    earned: Decimal,
    recovered: Decimal,
    paid: Decimal,
    owed: Decimal,
    at: datetime,
    message_id: str | None,
) -> bool:
    """Write a confirmed settlement; False where that time was settled before."""
    amounts = {"earned": earned, "recovered": recovered, "paid": paid, "owed": owed}
    rows = tx.run(
        "add_settlement",
        id=new_id(),
        farm_id=farm_id,
        person_id=person_id,
        first_day=first.isoformat(),
        last_day=last.isoformat(),
        slip=json.dumps([list(line) for line in slip], ensure_ascii=False),
        confirmed_at=moment_out(at),
        message_id=message_id,
        **{name: scaled(amount, SCALE) for name, amount in amounts.items()},
    )
    return bool(rows)


def settlements(tx: Transaction, farm_id: str, person_id: str | None = None) -> list[Settled]:
    """The confirmed settlements of a farm, or of one person there, oldest first."""
    rows = tx.run("settlements", farm_id=farm_id)
    return [_settled(row) for row in rows if person_id in (None, row["person_id"])]


def _settled(row: Mapping[str, Any]) -> Settled:
    return Settled(
        row["id"],
        row["person_id"],
        date.fromisoformat(row["first_day"]),
        date.fromisoformat(row["last_day"]),
        tuple((line[0], line[1], line[2]) for line in json.loads(row["slip"])),
        earned=_amount(row, "earned"),
        recovered=_amount(row, "recovered"),
        paid=_amount(row, "paid"),
        owed=_amount(row, "owed"),
        confirmed_at=moment_in(row["confirmed_at"]),
    )


def _amount(row: Mapping[str, Any], name: str) -> Decimal:
    return unscaled(row[f"{name}_ten_thousandths"], SCALE) or Decimal(0)

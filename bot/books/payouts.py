"""What a cooperative owes its growers: open receipts, money to be taken off, its levy, and pay-outs that were closed."""

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from bot.books.convert import moment_in, moment_out, scaled, unscaled
from bot.books.ids import new_id
from bot.books.store import Transaction
from bot.books.wages import SCALE
from bot.rubber.payout import PayOut

#: What comes off a grower's money; `taken back` comes to it again, since a pay-out had taken it off already.
OFF, BACK = ("advance", "acid", "tools", "deduction"), "taken back"

#: A levy is kept in hundredths of a percent.
PERCENT_SCALE = 100

ZERO = Decimal(0)


@dataclass(frozen=True)
class OpenReceipt:
    """A receipt whose money pay-outs may not hold as it stands. `amount` is None where it has no price yet.

    `paid` is what closed pay-outs hold of it. A receipt that was taken out of the book comes to nothing.
    """

    entry_id: str
    newest_id: str
    number: int
    day: date
    amount: Decimal | None
    paid: Decimal
    was_paid: bool

    @property
    def owed(self) -> Decimal:
        """What is still to be paid for it; below 0 where it came to more when it was paid."""
        return ZERO if self.amount is None else self.amount - self.paid


@dataclass(frozen=True)
class GrowerMoney:
    """Something that comes off a grower's money, or back to it. `payout_id` is the pay-out that did so."""

    id: str
    farm_id: str
    farm: str
    day: date
    kind: str
    amount: Decimal
    note: str
    payout_id: str | None

    @property
    def off(self) -> Decimal:
        """What comes off: below 0 for what comes back."""
        return -self.amount if self.kind == BACK else self.amount


@dataclass(frozen=True)
class Closed:
    """A pay-out that was closed. `slip` tells line by line how it came about: kind, rule, amount."""

    id: str
    farm_id: str
    farm: str
    number: int
    day: date
    slip: tuple[tuple[str, str, str], ...]
    sums: PayOut
    closed_at: datetime


def open_receipts(tx: Transaction, cooperative_id: str, farm_id: str) -> list[OpenReceipt]:
    """The open receipts of a farm by number."""
    which = {"cooperative_id": cooperative_id, "farm_id": farm_id}
    held = {row["entry_id"]: row["ten_thousandths"] for row in tx.run("paid_of_open_receipts", **which)}
    return [
        OpenReceipt(
            row["entry_id"],
            row["newest_id"],
            int(row["number"]),
            date.fromisoformat(row["day"]),
            ZERO if row["removed"] else unscaled(row["ten_thousandths"], SCALE),
            _money(held.get(row["entry_id"], 0)),
            row["entry_id"] in held,
        )
        for row in tx.run("open_receipts_of_farm", **which)
        if row["removed"] or row["take_id"] is not None
    ]


def farms_with_open_money(tx: Transaction, cooperative_id: str) -> list[str]:
    """The ids of the farms of which something is open."""
    return [row["farm_id"] for row in tx.run("farms_with_open_money", cooperative_id=cooperative_id)]


def add_money(
    tx: Transaction,
    cooperative_id: str,
    farm_id: str,
    *,
    day: date,
    kind: str,
    amount: Decimal,
    note: str,
    at: datetime,
    message_id: str,
) -> str:
    """Something that comes off a grower's money at his next pay-out, or back to it; its id. Raises ValueError."""
    if kind not in (*OFF, BACK) or not amount > 0:
        raise ValueError(f"{kind} {amount} is nothing that comes off a grower's money")
    line_id = new_id()
    tx.run(
        "add_grower_money",
        id=line_id,
        cooperative_id=cooperative_id,
        farm_id=farm_id,
        day=day.isoformat(),
        kind=kind,
        ten_thousandths=scaled(amount, SCALE),
        note=note,
        entered_at=moment_out(at),
        message_id=message_id,
    )
    return line_id


def open_money(tx: Transaction, cooperative_id: str) -> list[GrowerMoney]:
    """What no pay-out has taken off yet, oldest first."""
    return [_line(row) for row in tx.run("open_grower_money", cooperative_id=cooperative_id)]


def money_of(tx: Transaction, cooperative_id: str, farm_id: str) -> list[GrowerMoney]:
    """What stands of a grower's money, the newest first: what pay-outs took off too."""
    return [_line(row) for row in tx.run("grower_money_of_farm", cooperative_id=cooperative_id, farm_id=farm_id)]


def take_back(
    tx: Transaction, line: GrowerMoney, cooperative_id: str, *, day: date, at: datetime, message_id: str
) -> bool:
    """A line does not stand any more; where a pay-out took it off it comes back at the next. False where it stood no more."""
    if not tx.run("take_back_grower_money", id=line.id, at=moment_out(at)):
        return False
    if line.payout_id is not None:
        add_money(
            tx,
            cooperative_id,
            line.farm_id,
            day=day,
            kind=BACK,
            amount=line.amount,
            note=line.kind,
            at=at,
            message_id=message_id,
        )
    return True


def set_levy(
    tx: Transaction, cooperative_id: str, percent: Decimal, *, since: date, at: datetime, message_id: str
) -> None:
    """So many percent of growers' receipts from a day on. Raises ValueError where it is finer than a hundredth."""
    tx.run(
        "add_levy",
        id=new_id(),
        cooperative_id=cooperative_id,
        since=since.isoformat(),
        hundredths=scaled(percent, PERCENT_SCALE),
        set_at=moment_out(at),
        message_id=message_id,
    )


def levies(tx: Transaction, cooperative_id: str) -> list[tuple[date, Decimal]]:
    """The day from which each levy counts and its percentage, oldest first."""
    return [
        (date.fromisoformat(row["since"]), unscaled(row["hundredths"], PERCENT_SCALE) or ZERO)
        for row in tx.run("levies", cooperative_id=cooperative_id)
    ]


def brought(tx: Transaction, cooperative_id: str, farm_id: str) -> Decimal:
    """What the last pay-out of a farm left to be taken off."""
    rows = tx.run("newest_payout_of_farm", cooperative_id=cooperative_id, farm_id=farm_id, most=1)
    return _money(rows[0]["carried_ten_thousandths"]) if rows else ZERO


def close(
    tx: Transaction,
    cooperative_id: str,
    farm_id: str,
    sums: PayOut,
    *,
    slip: Sequence[tuple[str, str, str]],
    receipts: Sequence[OpenReceipt],
    lines: Sequence[GrowerMoney],
    day: date,
    at: datetime,
    message_id: str,
) -> int:
    """Write a pay-out of these receipts and lines down; its number.

    Of two transactions that would pay the same the engine turns one down, and it is done again with what is left.
    """
    payout_id = new_id()
    newest = tx.run("newest_payout_number", cooperative_id=cooperative_id)[0]["number"]
    names = ("receipts", "levy", "deductions", "brought", "paid", "carried")
    tx.run(
        "add_payout",
        id=payout_id,
        cooperative_id=cooperative_id,
        farm_id=farm_id,
        number=(newest or 0) + 1,
        day=day.isoformat(),
        slip=json.dumps([list(each) for each in slip], ensure_ascii=False),
        closed_at=moment_out(at),
        message_id=message_id,
        **{name: scaled(getattr(sums, name), SCALE) for name in names},
    )
    for each in receipts:
        if each.owed:
            held = scaled(each.owed, SCALE)
            tx.run("add_payout_receipt", payout_id=payout_id, entry_id=each.entry_id, ten_thousandths=held)
        tx.run("close_receipt", entry_id=each.entry_id, newest=each.newest_id)
    for line in lines:
        tx.run("take_off_grower_money", payout_id=payout_id, id=line.id)
    return (newest or 0) + 1


def in_use(tx: Transaction, cooperative_id: str) -> bool:
    """Whether a cooperative keeps its growers' money here; one that pays them elsewhere leaves all its receipts open."""
    return bool(tx.run("pays_out", cooperative_id=cooperative_id))


def closed(tx: Transaction, cooperative_id: str, most: int) -> list[Closed]:
    """The last pay-outs of a cooperative, the newest first."""
    return [_closed(row) for row in tx.run("payouts_of_cooperative", cooperative_id=cooperative_id, most=most)]


def closed_to(tx: Transaction, cooperative_id: str, farm_id: str, most: int) -> list[Closed]:
    """The last pay-outs of a cooperative to one farm, the newest first."""
    rows = tx.run("payouts_of_farm", cooperative_id=cooperative_id, farm_id=farm_id, most=most)
    return [_closed(row) for row in rows]


def _closed(row: Mapping[str, Any]) -> Closed:
    names = ("receipts", "levy", "deductions", "brought", "paid", "carried")
    return Closed(
        row["id"],
        row["farm_id"],
        row["farm"],
        int(row["number"]),
        date.fromisoformat(row["day"]),
        tuple((each[0], each[1], each[2]) for each in json.loads(row["slip"])),
        PayOut(**{name: _money(row[f"{name}_ten_thousandths"]) for name in names}),
        moment_in(row["closed_at"]),
    )


def _line(row: Mapping[str, Any]) -> GrowerMoney:
    return GrowerMoney(
        row["id"],
        row["farm_id"],
        row["farm"],
        date.fromisoformat(row["day"]),
        row["kind"],
        _money(row["ten_thousandths"]),
        row["note"],
        row["payout_id"],
    )


def _money(kept: int) -> Decimal:
    return unscaled(int(kept), SCALE) or ZERO

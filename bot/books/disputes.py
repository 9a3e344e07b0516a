"""Disputes: somebody does not agree with what was taken. A dispute stands until it is settled; the take stands meanwhile.

A dispute belongs to the first line of a take, so that corrections of the take do not lose it.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import Any

from bot.books.convert import moment_in, moment_or_none, moment_out, rounded, scaled, unscaled
from bot.books.ids import new_id
from bot.books.store import Transaction

#: How a dispute can end: the take was corrected, it stays as it is, or who raised it takes it back.
CORRECTED, KEPT, WITHDRAWN, TAKEN_OUT = "corrected", "kept", "withdrawn", "taken out"


@dataclass(frozen=True)
class Dispute:
    """A dispute over a take: by whom, in what words, and the kg that he says it was (None: he names none)."""

    id: str
    entry_id: str
    farm_id: str
    by_person: str
    said: str
    kg: Decimal | None
    raised_at: datetime
    settled_at: datetime | None
    outcome: str | None


def raise_(
    tx: Transaction,
    *,
    entry_id: str,
    farm_id: str,
    by_person: str,
    message_id: str,
    said: str,
    kg: Decimal | None,
    at: datetime,
) -> Dispute:
    """Write a dispute down over the first line `entry_id` of a take."""
    dispute_id = new_id()
    tx.run(
        "add_dispute",
        id=dispute_id,
        entry_id=entry_id,
        farm_id=farm_id,
        by_person=by_person,
        message_id=message_id,
        said=said,
        grams=scaled(rounded(kg, 1000), 1000),
        raised_at=moment_out(at),
    )
    return _dispute(tx.run("dispute", id=dispute_id)[0])


def of_entry(tx: Transaction, entry_id: str) -> list[Dispute]:
    """The disputes over a take, by its first line, oldest first."""
    return [_dispute(row) for row in tx.run("disputes_of_entry", entry_id=entry_id)]


def open_at_farm(tx: Transaction, farm_id: str) -> list[Dispute]:
    """What is in dispute at a farm, oldest first."""
    return [_dispute(row) for row in tx.run("open_disputes_of_farm", farm_id=farm_id)]


def open_at_cooperative(tx: Transaction, cooperative_id: str) -> list[Dispute]:
    """What is in dispute at all farms of a cooperative, oldest first."""
    return [_dispute(row) for row in tx.run("open_disputes_of_cooperative", cooperative_id=cooperative_id)]


def by(tx: Transaction, person_id: str) -> list[Dispute]:
    """What somebody disputed, oldest first."""
    return [_dispute(row) for row in tx.run("disputes_by", person_id=person_id)]


def settle(tx: Transaction, entry_id: str, outcome: str, by_person: str, at: datetime) -> list[Dispute]:
    """End whatever is in dispute over a take, by its first line. Returns what was open."""
    found = [each for each in of_entry(tx, entry_id) if each.settled_at is None]
    if found:
        tx.run("settle_disputes", entry_id=entry_id, outcome=outcome, by_person=by_person, at=moment_out(at))
    return found


def _dispute(row: Mapping[str, Any]) -> Dispute:
    return Dispute(
        row["id"],
        row["entry_id"],
        row["farm_id"],
        row["by_person"],
        row["said"],
        unscaled(row["grams"], 1000),
        moment_in(row["raised_at"]),
        moment_or_none(row["settled_at"]),
        row["outcome"],
    )

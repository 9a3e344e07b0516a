"""Texts to others: written in the transaction that gives rise to them, sent afterwards, each once.

A text is claimed (`sending`) before the carrier is asked; what is left in that state after a crash is not sent again by
itself, since it may have gone out.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from bot.books.convert import moment_in, moment_or_none, moment_out
from bot.books.ids import new_id
from bot.books.model import Waiting
from bot.books.store import Transaction


def put(
    tx: Transaction,
    *,
    to: str,
    text: str,
    parts: int,
    because: str | None,
    key: str | None = None,
    due_at: datetime,
    created_at: datetime,
    not_after: datetime | None = None,
) -> str | None:
    """A text that waits to be sent, no later than `not_after`. Returns its id, or None when one with this key was put before."""
    rows = tx.run(
        "put_in_outbox",
        id=new_id(),
        number=to,
        body=text,
        parts=parts,
        because=because,
        dedupe_key=key,
        created_at=moment_out(created_at),
        due_at=moment_out(due_at),
        not_after=None if not_after is None else moment_out(not_after),
    )
    return rows[0]["id"] if rows else None


def has(tx: Transaction, key: str) -> bool:
    """Whether a text with this key was ever put."""
    return bool(tx.run("has_key", dedupe_key=key)[0]["n"])


def claim(tx: Transaction, now: datetime, gateway: str | None = None) -> Waiting | None:
    """Take the oldest text that is due; nobody else gets it. None when no text is due. `gateway` is who fetches it.

    With PostgreSQL another process may win the very row that the statement had chosen; then there is another to take.
    """
    moment = moment_out(now)
    while True:
        rows = tx.run("claim", now=moment, gateway=gateway)
        if rows:
            return _waiting(rows[0])
        if not tx.run("is_due", now=moment, most=1):
            return None


def claim_alarm(tx: Transaction, now: datetime, gateway: str | None = None) -> Waiting | None:
    """Take the oldest text to an operator that is due; such texts do not wait for the parts of another day."""
    rows = tx.run("claim_alarm", now=moment_out(now), gateway=gateway)
    return _waiting(rows[0]) if rows else None


def renew_lease(tx: Transaction, gateway: str, now: datetime, before: datetime) -> Waiting | None:
    """The first text that this gateway took before a moment and that is still on its way: it gets the same one again."""
    rows = tx.run("renew_lease", gateway=gateway, now=moment_out(now), before=moment_out(before))
    return _waiting(rows[0]) if rows else None


def outgoing(tx: Transaction, text_id: str) -> Waiting | None:
    """A text to others by its id."""
    rows = tx.run("outgoing", id=text_id)
    return _waiting(rows[0]) if rows else None


def delivered(tx: Transaction, text_id: str, *, at: datetime) -> None:
    """It reached the phone that it is for. Said twice, the first counts."""
    tx.run("set_delivered", id=text_id, at=moment_out(at))


def sent(tx: Transaction, text_id: str, carrier_id: str | None, *, at: datetime) -> None:
    """The carrier took it."""
    _set(tx, text_id, "sent", at, at, carrier_id, None)


def failed(tx: Transaction, text_id: str, error_code: str | None, again_at: datetime | None, *, at: datetime) -> None:
    """The carrier did not take it: it waits for another try, or is given up when `again_at` is None."""
    _set(tx, text_id, "failed" if again_at is None else "new", again_at or at, at, None, error_code)


def unsure(tx: Transaction, text_id: str, *, at: datetime) -> None:
    """It may or may not have gone out; where somebody has said meanwhile what became of it, that stands."""
    tx.run("mark_unsure", id=text_id, at=moment_out(at))


def to_ask_after(tx: Transaction, now: datetime, before: datetime, since: datetime, most: int) -> list[Waiting]:
    """Texts that may or may not have gone out and were due after `since`: marked just now, or not asked after since `before`."""
    moments = {"marked": moment_out(now), "before": moment_out(before), "since": moment_out(since)}
    return [_waiting(row) for row in tx.run("to_ask_after", most=most, **moments)]


def asked_after(tx: Transaction, text_id: str, *, at: datetime) -> None:
    """The carrier was asked after it and could not tell."""
    tx.run("asked_after", id=text_id, at=moment_out(at))


@dataclass(frozen=True)
class Went:
    """What became of texts that were due since a moment: taken by a carrier, of these known to be on the phone, given up."""

    sent: int = 0
    delivered: int = 0
    failed: int = 0


def went(tx: Transaction, since: datetime) -> Went:
    """What became of texts to others since a moment."""
    found = {row["state"]: row for row in tx.run("sent_since", since=moment_out(since))}
    sent, failed = found.get("sent"), found.get("failed")
    return Went(int(sent["n"]) if sent else 0, int(sent["delivered"]) if sent else 0, int(failed["n"]) if failed else 0)


def lapse(tx: Transaction, now: datetime) -> int:
    """Give up the texts that wait and would come too late by now. Returns how many."""
    return len(tx.run("lapse", now=moment_out(now)))


def set_right(tx: Transaction, now: datetime, ahead: datetime) -> None:
    """Texts that were put after `ahead`, by a clock that was wrong, wait from now on; those with an end are given up."""
    tx.run("give_up_put_ahead", now=moment_out(now), ahead=moment_out(ahead))
    tx.run("set_right_put_ahead", now=moment_out(now), ahead=moment_out(ahead))


def parts_with_an_end(tx: Transaction, since: datetime) -> int:
    """Parts, since a moment, of texts that had to go out by some time and did, or may have."""
    return int(tx.run("parts_with_an_end", since=moment_out(since))[0]["parts"])


def waiting_count(tx: Transaction) -> int:
    """How many texts wait."""
    return int(tx.run("waiting_count")[0]["n"])


def due_count(tx: Transaction, now: datetime) -> int:
    """How many texts could go out now."""
    return int(tx.run("due_count", now=moment_out(now))[0]["n"])


def not_settled(tx: Transaction) -> dict[str, tuple[int, datetime]]:
    """How many texts are `new`, `sending` or `unsure`, and since when the first of them is due."""
    return {row["state"]: (int(row["n"]), moment_in(row["oldest"])) for row in tx.run("not_settled")}


def left_sending(tx: Transaction, before: datetime, fetched_before: datetime | None = None) -> list[Waiting]:
    """Texts on their way since before a moment, when something broke; those that a gateway fetched since before another."""
    fetched = before if fetched_before is None else fetched_before
    rows = tx.run("left_sending", before=moment_out(before), fetched_before=moment_out(fetched))
    return [_waiting(row) for row in rows]


def withdraw(tx: Transaction, number: str, why: str, *, at: datetime) -> None:
    """What waits for a number is not sent any more. A text that is with the carrier at this moment may still go out."""
    tx.run("withdraw", number=number, why=why, at=moment_out(at))


def parts_sent(tx: Transaction, since: datetime) -> int:
    """Parts of the texts that went out, or may have, since a moment."""
    return int(tx.run("parts_sent", since=moment_out(since))[0]["n"])


def all_to(tx: Transaction, number: str) -> list[Waiting]:
    """All texts to a number, oldest first."""
    return [_waiting(row) for row in tx.run("outbox_of", number=number)]


def rewrite(tx: Transaction, text_id: str, *, number: str, text: str, key: str | None) -> None:
    """Keep something else of a text, where a person's data are taken out."""
    tx.run("rewrite_outbox", id=text_id, number=number, body=text, dedupe_key=key)


def because_of(tx: Transaction, message_id: str) -> list[Waiting]:
    """What others were told because of a text."""
    return [_waiting(row) for row in tx.run("because_of", because=message_id)]


def listing(tx: Transaction, since: datetime, until: datetime) -> list[Waiting]:
    """Texts that were put from `since` to before `until`."""
    return [_waiting(row) for row in tx.run("outbox_between", since=moment_out(since), until=moment_out(until))]


def _set(
    tx: Transaction,
    text_id: str,
    state: str,
    due: datetime,
    at: datetime,
    carrier_id: str | None,
    error_code: str | None,
) -> None:
    tx.run(
        "set_state",
        id=text_id,
        state=state,
        due_at=moment_out(due),
        at=moment_out(at),
        carrier_id=carrier_id,
        error_code=error_code,
    )


def _waiting(row: Mapping[str, Any]) -> Waiting:
    return Waiting(
        id=row["id"],
        to=row["number"],
        text=row["body"],
        parts=row["parts"],
        because=row["because"],
        key=row["dedupe_key"],
        state=row["state"],
        attempts=row["attempts"],
        created_at=moment_in(row["created_at"]),
        due_at=moment_in(row["due_at"]),
        carrier_id=row["carrier_id"],
        error_code=row["error_code"],
        not_after=moment_or_none(row["not_after"]),
        gateway=row["gateway"],
        delivered_at=moment_or_none(row["delivered_at"]),
    )

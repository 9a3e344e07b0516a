"""A manager's change that waits for his PIN: the text that asked for it, and what was understood."""

from dataclasses import dataclass, field
from datetime import datetime

from bot.books.convert import moment_out
from bot.books.store import Transaction


@dataclass(frozen=True)
class Waiting:
    """What waits. `new_pin` is the hash of a PIN that is to take the place of an old one."""

    cooperative_id: str
    message_id: str
    words: str
    new_pin: str | None = field(repr=False)


def wait(tx: Transaction, person_id: str, what: Waiting, until: datetime) -> None:
    """A change waits; an older one gives way to it."""
    tx.run(
        "wait_at_office",
        person_id=person_id,
        cooperative_id=what.cooperative_id,
        message_id=what.message_id,
        words=what.words,
        new_pin=what.new_pin,
        expires_at=moment_out(until),
    )


def waiting(tx: Transaction, person_id: str, now: datetime) -> Waiting | None:
    """What waits for somebody's PIN and has not expired."""
    rows = tx.run("waiting_at_office", person_id=person_id, now=moment_out(now))
    return Waiting(**{name: rows[0][name] for name in Waiting.__dataclass_fields__}) if rows else None


def drop(tx: Transaction, person_id: str) -> None:
    """Nothing of somebody waits any more."""
    tx.run("drop_waiting_at_office", person_id=person_id)

"""When something was last done over these books, by whatever process on whatever machine."""

from dataclasses import dataclass
from datetime import datetime

from bot.books.convert import moment_in, moment_out
from bot.books.store import Transaction

#: A backup that was written and checked; a run of what is due.
BACKUP, DUE = "backup", "due"


@dataclass(frozen=True)
class Done:
    """When it was done, and what was noted with it."""

    at: datetime
    more: str


def note(tx: Transaction, what: str, at: datetime, more: str = "") -> None:
    """It was done now."""
    tx.run("note_done", what=what, at=moment_out(at), more=more)


def last(tx: Transaction, what: str) -> Done | None:
    """When it was last done; None where it never was."""
    rows = tx.run("last_done", what=what)
    return Done(moment_in(rows[0]["at"]), rows[0]["more"]) if rows else None

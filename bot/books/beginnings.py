"""What somebody who begins a farm by text has said so far. The farm is in the books at the end, not before."""

from datetime import datetime

from bot.books.convert import moment_out
from bot.books.store import Transaction


def keep(tx: Transaction, number: str, body: str, expires_at: datetime) -> None:
    """What was said so far, in the place of what was kept before. `body` is the talk's own."""
    tx.run("keep_beginning", number=number, body=body, expires_at=moment_out(expires_at))


def kept(tx: Transaction, number: str, now: datetime) -> str | None:
    """What was said so far; None where nothing was begun or it has expired."""
    rows = tx.run("beginning", number=number, now=moment_out(now))
    return rows[0]["body"] if rows else None


def drop_expired(tx: Transaction, now: datetime) -> None:
    """Forget what nobody went on with."""
    tx.run("drop_expired_beginnings", now=moment_out(now))


def drop(tx: Transaction, number: str) -> None:
    """Forget what was said."""
    tx.run("drop_beginning", number=number)

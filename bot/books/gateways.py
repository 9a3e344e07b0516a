"""Calls of phones and modems that pass texts on: each is let in once, and when each of them called last."""

from datetime import datetime

from bot.books.convert import moment_or_none, moment_out
from bot.books.store import Transaction


def note_call(tx: Transaction, gateway: str, nonce: str, *, at: datetime) -> bool:
    """Note what a gateway calls with. False for a call that came before: then it must not be let in."""
    return bool(tx.run("note_gateway_call", gateway=gateway, nonce=nonce, at=moment_out(at)))


def drop_calls(tx: Transaction, before: datetime) -> None:
    """Forget calls that are older than that."""
    tx.run("drop_gateway_calls", before=moment_out(before))


def heard(tx: Transaction, gateway: str) -> datetime | None:
    """When a gateway called last, as far as calls are kept."""
    return moment_or_none(tx.run("gateway_heard", gateway=gateway)[0]["at"])

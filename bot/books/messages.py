"""Texts as they came, and what was answered."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from bot.books import outbox
from bot.books.convert import moment_in, moment_or_none, moment_out
from bot.books.model import StoredMessage, Waiting
from bot.books.store import Transaction


def receive(
    tx: Transaction, *, message_id: str, carrier: str, number: str, text: str, at: datetime, arrived: datetime
) -> StoredMessage | None:
    """Write a text down before anything else is done with it.

    Returns None when it is new, and what is stored of it when the carrier delivered it before.
    """
    new = tx.run(
        "receive_message",
        id=message_id,
        carrier=carrier,
        number=number,
        body=text,
        sent_at=moment_out(at),
        arrived_at=moment_out(arrived),
    )
    return None if new else _message(tx.run("message", id=message_id)[0])


def close(tx: Transaction, message_id: str, *, person_id: str | None, kind: str, reply: str | None, parts: int) -> None:
    """What became of a text; the reply is kept so that a repeated delivery gets the same."""
    tx.run("close_message", id=message_id, person_id=person_id, kind=kind, reply=reply, parts=parts)


def last_reply_to_stranger(tx: Transaction, number: str, except_id: str = "") -> datetime | None:
    """When a number was last answered with words."""
    rows = tx.run("last_reply_to", number=number, except_id=except_id, most=1)
    return moment_in(rows[0]["at"]) if rows else None


def answers_since(tx: Transaction, number: str, since: datetime, *, except_id: str, most: int) -> list[str]:
    """What a number was answered since a moment, newest first."""
    rows = tx.run("answers_since", number=number, since=moment_out(since), except_id=except_id, most=most)
    return [row["reply"] for row in rows]


def parts_answered(tx: Transaction, since: datetime) -> int:
    """Parts of the answers that were given since a moment."""
    return int(tx.run("parts_answered", since=moment_out(since))[0]["n"])


def all_of(tx: Transaction, number: str) -> list[StoredMessage]:
    """All texts of a number, oldest first."""
    return [_message(row) for row in tx.run("messages_of", number=number)]


def rewrite(tx: Transaction, message_id: str, *, number: str, text: str, reply: str | None) -> None:
    """Keep something else of a text, where a person's data are taken out."""
    tx.run("rewrite_message", id=message_id, number=number, body=text, reply=reply)


def listing(tx: Transaction, since: datetime, until: datetime) -> list[StoredMessage]:
    """Texts that arrived from `since` to before `until`, oldest first."""
    rows = tx.run("messages_between", since=moment_out(since), until=moment_out(until))
    return [_message(row) for row in rows]


def latest_from(tx: Transaction, number: str, most: int) -> list[StoredMessage]:
    """The newest texts of a number, newest first."""
    return [_message(row) for row in tx.run("latest_from", number=number, most=most)]


def newest(tx: Transaction) -> datetime | None:
    """When the newest text arrived."""
    return moment_or_none(tx.run("newest_text")[0]["at"])


def last_by(tx: Transaction, number: str, carrier: str) -> datetime | None:
    """When a number last texted by a carrier."""
    rows = tx.run("last_by_carrier", number=number, carrier=carrier, most=1)
    return moment_in(rows[0]["at"]) if rows else None


def message(tx: Transaction, message_id: str) -> StoredMessage | None:
    """A text by its id."""
    rows = tx.run("message", id=message_id)
    return _message(rows[0]) if rows else None


def texts_of_farm_alone(tx: Transaction, farm_id: str) -> dict[str, str]:
    """The words of every text that brought entries to this farm and to no other, by the text's id."""
    return {row["id"]: row["body"] for row in tx.run("texts_of_farm_alone", farm_id=farm_id)}


def to_others_of(tx: Transaction, message_id: str) -> list[Waiting]:
    """What others were told because of a text."""
    return outbox.because_of(tx, message_id)


def _message(row: Mapping[str, Any]) -> StoredMessage:
    return StoredMessage(
        id=row["id"],
        carrier=row["carrier"],
        number=row["number"],
        person_id=row["person_id"],
        text=row["body"],
        at=moment_in(row["sent_at"]),
        arrived=moment_in(row["arrived_at"]),
        kind=row["kind"],
        reply=row["reply"],
        parts=row["parts"],
    )

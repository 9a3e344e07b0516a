"""What was asked of somebody and waits for an answer. The body is the talk's own text."""

from datetime import datetime

from bot.books.convert import moment_in, moment_out
from bot.books.ids import new_id
from bot.books.model import Question
from bot.books.store import Transaction


def ask(
    tx: Transaction,
    *,
    person_id: str,
    farm_id: str,
    message_id: str,
    body: str,
    asked_at: datetime,
    expires_at: datetime,
) -> None:
    """Put a question; an older one that is still open gives way to it."""
    close(tx, person_id, asked_at, "gave way")
    tx.run(
        "ask",
        id=new_id(),
        person_id=person_id,
        farm_id=farm_id,
        message_id=message_id,
        body=body,
        asked_at=moment_out(asked_at),
        expires_at=moment_out(expires_at),
    )


def open_question(tx: Transaction, person_id: str, now: datetime) -> Question | None:
    """The question that somebody has not answered and that has not expired."""
    rows = tx.run("open_question", person_id=person_id, now=moment_out(now), most=1)
    if not rows:
        return None
    row = rows[0]
    return Question(
        row["id"],
        row["person_id"],
        row["farm_id"],
        row["message_id"],
        row["body"],
        moment_in(row["asked_at"]),
        moment_in(row["expires_at"]),
    )


def close(tx: Transaction, person_id: str, at: datetime, how: str) -> None:
    """Whatever was asked of somebody is settled; `how` says in which way."""
    tx.run("close_questions", person_id=person_id, at=moment_out(at), outcome=how)

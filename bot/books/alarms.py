"""What a person has to see to: raised where it is noticed, told to the operator once by the next `due`."""

from datetime import UTC, datetime

from bot.books.convert import moment_out
from bot.books.ids import new_id
from bot.books.store import Transaction


def sound(tx: Transaction, *, number: str, kind: str, line: str, at: datetime) -> None:
    """Raise an alarm about a number. The same kind for the same number is raised once a day (UTC)."""
    tx.run("raise_alarm", id=new_id(), number=number, kind=kind, day=_day(at), line=line, at=moment_out(at))


def take(tx: Transaction, at: datetime) -> list[str]:
    """The lines that the operator has not been told; they count as told now."""
    rows = tx.run("untold_alarms")
    for row in rows:
        tx.run("alarm_told", id=row["id"], at=moment_out(at))
    return [row["line"] for row in rows]


def untold_count(tx: Transaction) -> int:
    """How many the operator has not been told."""
    return len(tx.run("untold_alarms"))


def of_day(tx: Transaction, at: datetime) -> dict[str, int]:
    """How many of each kind were raised on this day (UTC)."""
    return {row["kind"]: int(row["n"]) for row in tx.run("alarms_of_day", day=_day(at))}


def forget(tx: Transaction, number: str) -> None:
    """Take out what was raised about a number."""
    tx.run("forget_alarms", number=number)


def _day(at: datetime) -> str:
    return at.astimezone(UTC).date().isoformat()

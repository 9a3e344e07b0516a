"""What a person has to see to: raised where it is noticed, told to the operator once by the next `due`, and texted to him."""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from bot.books.convert import moment_out
from bot.books.ids import new_id
from bot.books.store import Transaction

#: The same is not raised again within this time, also over midnight: a day, less what a timer may be early.
QUIET = timedelta(hours=23, minutes=50)

#: An alarm that is older when somebody could be texted of it is past.
TEXTED_WITHIN = timedelta(days=1)


@dataclass(frozen=True)
class Alarm:
    """One to text of: its kind, and the figures that its sentence needs."""

    id: str
    kind: str
    figures: Mapping[str, str]


def sound(
    tx: Transaction, *, number: str, kind: str, line: str, at: datetime, told: bool = False, **figures: str | int
) -> None:
    """Raise an alarm about a number. The same kind for the same number is raised once a day (UTC).

    `line` is for the terminal, `figures` for the sentence of this kind in the operator's language (`bot.week.operator`).
    `told` says that the line was printed already.
    """
    tx.run(
        "raise_alarm",
        id=new_id(),
        number=number,
        kind=kind,
        day=_day(at),
        line=line,
        figures=json.dumps({name: str(value) for name, value in figures.items()}, ensure_ascii=False),
        at=moment_out(at),
        told=moment_out(at) if told else None,
        since=moment_out(at - QUIET),
    )


def take(tx: Transaction, at: datetime) -> list[str]:
    """The lines that the operator has not been told; they count as told now."""
    rows = tx.run("untold_alarms")
    for row in rows:
        tx.run("alarm_told", id=row["id"], at=moment_out(at))
    return [row["line"] for row in rows]


def to_text(tx: Transaction, at: datetime) -> list[Alarm]:
    """The alarms of the last day that the operators were not texted; they count as texted now."""
    rows = tx.run("alarms_to_text", since=moment_out(at - TEXTED_WITHIN))
    for row in rows:
        tx.run("alarm_texted", id=row["id"], at=moment_out(at))
    return [Alarm(row["id"], row["kind"], json.loads(row["figures"] or "{}")) for row in rows]


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

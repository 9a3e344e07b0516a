"""Operators are texted straight by the carrier where the books, through which all other texts go, cannot be used.

What was told is noted in a small file beside the backups. Where it cannot be noted nothing is texted: a text each minute
would help nobody.
"""

import json
from datetime import datetime, timedelta
from pathlib import Path

from bot.books.alarms import QUIET
from bot.books.errors import BooksDamaged
from bot.books.ids import new_id
from bot.books.model import Waiting
from bot.jobs import Send
from bot.speech.parts import count_parts
from bot.talk.exchange import Fate
from bot.week.operator import Operators, spoken

#: Books that are kept by somebody else for a while come back by themselves.
PATIENCE = timedelta(minutes=5)

DAMAGED, UNUSABLE = "books damaged", "books unusable"


class NotedBeside:
    """The file that tells since when the books could not be used, and what was texted of it."""

    def __init__(self, folder: Path) -> None:
        self._file = folder / "books-not-usable.json"

    def tell(self, operators: Operators, fault: Exception, send: Send | None, now: datetime) -> int:
        """Text that the books cannot be used; returns how many texts the carrier took."""
        kind = DAMAGED if isinstance(fault, BooksDamaged) else UNUSABLE
        known = self._known()
        since = known.setdefault("since", now.isoformat())
        told = known.get(kind)
        early = kind == UNUSABLE and now - datetime.fromisoformat(since) < PATIENCE
        quiet = told is not None and timedelta(0) <= now - datetime.fromisoformat(told) < QUIET
        due = send is not None and operators.numbers and not early and not quiet
        if due:
            known[kind] = now.isoformat()
        if not self._note(known) or send is None or not due:
            return 0
        return sum(send(_text(number, text, now)).fate is Fate.SENT for number, text in spoken(operators, kind))

    def over(self) -> None:
        """The books can be used again."""
        self._file.unlink(missing_ok=True)

    def _known(self) -> dict[str, str]:
        try:
            found = json.loads(self._file.read_text())
        except (OSError, ValueError):  # none yet, or cut off by the same fault
            return {}
        return found if isinstance(found, dict) else {}

    def _note(self, known: dict[str, str]) -> bool:
        try:
            self._file.write_text(json.dumps(known))
        except OSError:
            return False
        return True


def _text(number: str, text: str, now: datetime) -> Waiting:
    """A text that stands in no outbox."""
    return Waiting(
        id=new_id(),
        to=number,
        text=text,
        parts=count_parts(text).parts,
        because=None,
        key=None,
        state="sending",
        attempts=1,
        created_at=now,
        due_at=now,
        carrier_id=None,
        error_code=None,
    )

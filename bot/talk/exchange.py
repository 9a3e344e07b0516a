"""What passes between a carrier's door and the talk: a text that came in, and what goes out for it."""

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum


@dataclass(frozen=True)
class Incoming:
    """A text that a carrier handed over.

    `id` is the carrier's own id, the same when it repeats a delivery. `sender` is the number in E.164 form. `at` is the
    sending time where the carrier gives it, otherwise the time of arrival; `arrived` is when it reached us. Both carry a
    zone. `carrier` names the door (`twilio`, `whatsapp`, `gateway`, `practice`, `replay`). `keeps_words` is true when the carrier
    itself answers the opt-out and help words, so that we must not answer them a second time.
    """

    id: str
    sender: str
    text: str
    at: datetime
    arrived: datetime
    carrier: str
    keeps_words: bool = False


class Kind(StrEnum):
    """What became of a text. `LIMITED` was kept and not read, since too many came."""

    ENTERED = "entered"
    ASKED = "asked"
    CHANGED = "changed"
    REMOVED = "removed"
    ANSWERED = "answered"
    SILENT = "silent"
    REFUSED = "refused"
    LIMITED = "limited"


@dataclass(frozen=True)
class Outgoing:
    """A text to somebody else, put in the outbox in the same transaction."""

    to: str
    text: str


@dataclass(frozen=True)
class Answer:
    """What went back to the sender. `text` is None when nothing is said; `repeat` marks a stored answer given again."""

    kind: Kind
    text: str | None
    parts: int = 0
    to_others: tuple[Outgoing, ...] = ()
    repeat: bool = False


class Fate(StrEnum):
    """What became of a text that a carrier was asked to send."""

    SENT = "sent"
    LATER = "later"
    NEVER = "never"
    OPTED_OUT = "opted_out"
    UNSURE = "unsure"


@dataclass(frozen=True)
class Delivery:
    """A carrier's word on a text: its fate, the carrier's id for it, and the code of what went wrong.

    `UNSURE` is a text that may or may not have gone out (the line broke after it was handed over). `alarm` is what a person
    has to mend, in one line.
    """

    fate: Fate
    carrier_id: str | None = None
    code: str | None = None
    alarm: str | None = None

"""Receipts of the carrier Twilio for texts to others: what became of a text that it took.

The carrier calls an address that holds our own id of the text and the attempt, signed like any call; so a receipt is
understood also when we never heard that the carrier had taken the text.
"""

import re
from dataclasses import dataclass
from datetime import datetime

from werkzeug.datastructures import MultiDict

from bot.books import Transaction, alarms, outbox
from bot.books.model import Waiting
from bot.jobs import note
from bot.talk.exchange import Delivery, Fate

WHATSAPP = "whatsapp:"

#: What to do about an error code that needs no person; codes and their meaning are from the carrier's error pages.
FATES = {
    "21610": Fate.OPTED_OUT,  # he texted STOP to this number
    "21211": Fate.NEVER,  # not a number
    "21612": Fate.NEVER,  # no way from our number to his
    "21614": Fate.NEVER,  # not a mobile phone
    "21635": Fate.NEVER,  # a landline
    "30005": Fate.NEVER,  # unknown or no longer in use
    "30006": Fate.NEVER,  # a landline, or a carrier that cannot be reached
    "20429": Fate.LATER,  # too many requests
    "21611": Fate.LATER,  # the queue of our number is full
    "30001": Fate.LATER,  # it waited too long in the carrier's queue
    "30003": Fate.LATER,  # phone off or without signal
    "30008": Fate.LATER,  # unknown
}

#: Codes that a person has to see to: what to do with the text, and what to mend.
ALARMS = {
    "20003": (Fate.LATER, "the carrier refuses our account: check TWILIO_ACCOUNT_SID and TWILIO_AUTH_TOKEN"),
    "21212": (Fate.LATER, "the carrier refuses our sender: check TWILIO_FROM"),
    "21606": (Fate.LATER, "our sender is not ours or cannot send texts: check TWILIO_FROM"),
    "21408": (Fate.LATER, "texts to this country are not switched on in the carrier's account"),
    "21608": (Fate.NEVER, "a trial account sends to verified numbers only"),
    "21617": (Fate.NEVER, "the text is longer than 1600 characters"),
    "30002": (Fate.LATER, "the carrier has suspended our account"),
    "30004": (Fate.NEVER, "a number is blocked by its carrier or its owner"),
    "30007": (Fate.NEVER, "the text was taken for spam: change its wording"),
    "63016": (Fate.NEVER, "more than 24 hours since his last WhatsApp message: a template is needed"),
}

#: What the carrier calls a text that it has taken, that is on the phone, that did not get there (its page on message status).
TAKEN = frozenset({"accepted", "scheduled", "queued", "sending", "sent"})
DELIVERED = frozenset({"delivered", "read"})
FAILED = frozenset({"undelivered", "failed", "canceled"})


class BadForm(ValueError):
    """A signed call whose form is not that of a text or of a receipt."""


@dataclass(frozen=True)
class Receipt:
    """What the carrier says of an attempt to send one of our texts."""

    text_id: str
    attempt: int
    carrier_id: str
    status: str
    code: str


def refused(code: str) -> Delivery | None:
    """What to do about an error code; None for one that is not known here."""
    if code in ALARMS:
        fate, alarm = ALARMS[code]
        return Delivery(fate, code=code, alarm=f"{code}: {alarm}")
    return Delivery(FATES[code], code=code) if code in FATES else None


def failure(code: str) -> Delivery:
    """What to do about a text that the carrier took and that did not get there."""
    return refused(code) or Delivery(Fate.NEVER, code=code or "unknown")


def address_of(public_url: str, path: str, waiting: Waiting) -> str:
    """Where the carrier is to say what became of this attempt."""
    return f"{public_url}{path}?text={waiting.id}&attempt={waiting.attempts}"


def read_receipt(query: MultiDict[str, str], form: MultiDict[str, str]) -> Receipt:
    """The receipt in a genuine call. Raises BadForm."""
    attempt = one(query, "attempt")
    if not re.fullmatch(r"[0-9]{1,4}", attempt):
        raise BadForm("attempt is not a number")
    carrier_id = one(form, "MessageSid")
    if not re.fullmatch(r"[A-Za-z0-9_-]{1,64}", carrier_id):
        raise BadForm("MessageSid is not an id")
    code = one(form, "ErrorCode", "")[:16]
    return Receipt(one(query, "text"), int(attempt), carrier_id, one(form, "MessageStatus"), code)


def settle(tx: Transaction, receipt: Receipt, now: datetime) -> None:
    """Write down what is known of a text now. Receipts may come twice and in any order, also before we know of an attempt."""
    waiting = outbox.outgoing(tx, receipt.text_id)
    if waiting is None:
        return
    if receipt.status in DELIVERED:
        if waiting.state != "sent":
            outbox.sent(tx, waiting.id, receipt.carrier_id, at=now)
        outbox.delivered(tx, waiting.id, at=now)
    elif receipt.attempt != waiting.attempts or waiting.delivered_at is not None:
        return  # of an attempt that was given up, or overtaken by better news
    elif receipt.status in TAKEN and waiting.state in ("sending", "unsure"):
        outbox.sent(tx, waiting.id, receipt.carrier_id, at=now)
    elif receipt.status in FAILED and waiting.state in ("sending", "unsure", "sent"):
        _fail(tx, waiting, receipt.code, now)


def _fail(tx: Transaction, waiting: Waiting, code: str, now: datetime) -> None:
    found = failure(code)
    note(tx, waiting, found, now)
    if found.alarm is not None:
        alarms.sound(tx, number="", kind=f"carrier {code}", line=found.alarm, at=now, code=code)


def one(form: MultiDict[str, str], name: str, default: str | None = None) -> str:
    """The one value of a field. Raises BadForm where it stands twice or is missing without a default."""
    values = form.getlist(name)
    if len(values) > 1:
        raise BadForm(f"{name} is given twice")
    if not values and default is None:
        raise BadForm(f"{name} is missing")
    return values[0] if values else str(default)

"""What a gateway says in the bodies of its calls, read strictly: JSON, or a form with the same names.

Every fault is a BadForm whose message says what is wrong; the caller must not send the same again.
"""

import json
import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from enum import StrEnum
from typing import Any
from urllib.parse import parse_qsl

import phonenumbers

from bot.talk.exchange import Incoming

CARRIER = "gateway"

#: Characters of a text, as the other carriers take them, and receipts in one call.
MOST_CHARACTERS, MOST_RECEIPTS, MOST_TEXTS = 1600, 100, 50

#: A sending time that is later than ours by more, or earlier by more, is that of a phone with a wrong clock.
AHEAD, BEHIND = timedelta(minutes=5), timedelta(days=31)

#: Digits of a number that is not a short code (E.164 has no shorter ones in use; common practice, no source).
LEAST_DIGITS = 7

_ID = re.compile(r"[A-Za-z0-9_.-]{1,64}")
_E164 = re.compile(r"\+[1-9][0-9]{6,14}")
_WORD = re.compile(r"[A-Za-z0-9 _.:-]{0,64}")
_SPACING = re.compile(r"[\s().-]+")


class BadForm(ValueError):
    """A genuine call whose body is not what the contract says."""


class NoCountry(BadForm):
    """A sender's number without its country, where none is set: texts are lost until that is mended."""


class State(StrEnum):
    """What became of a text that a gateway was given."""

    SENT = "sent"
    DELIVERED = "delivered"
    FAILED = "failed"


@dataclass(frozen=True)
class Came:
    """A text that came in, and whether its answer is to go through the outbox."""

    incoming: Incoming
    by_outbox: bool


@dataclass(frozen=True)
class Receipt:
    """A gateway's word on a text. `attempt` is the one that it speaks of; `again` whether a failed one may be tried again."""

    id: str
    state: State
    attempt: int | None
    again: bool
    code: str | None
    carrier_id: str | None


def read_body(body: bytes, content_type: str) -> Mapping[str, Any]:
    """The names and values of a body. Raises BadForm."""
    kind = content_type.partition(";")[0].strip().lower()
    try:
        if kind == "application/json":
            found = json.loads(body.decode() or "{}", object_pairs_hook=_each_once)
            if not isinstance(found, dict):
                raise BadForm("the body is not a JSON object")
            return found
        if kind == "application/x-www-form-urlencoded":
            pairs = parse_qsl(body.decode(), keep_blank_values=True, errors="strict", max_num_fields=100)
            return _each_once(pairs)
    except UnicodeDecodeError as fault:
        raise BadForm("the body is not UTF-8") from fault
    except BadForm:
        raise
    except (ValueError, RecursionError) as fault:  # not JSON, too deep, or too many fields
        raise BadForm("the body cannot be read as what its Content-Type says") from fault
    raise BadForm("Content-Type must be application/json or application/x-www-form-urlencoded")


def read_text(fields: Mapping[str, Any], gateway: str, now: datetime, country: str | None) -> Came | None:
    """The text that a call brings, or None if its sender is not a number (a short code, a company's name).

    Such senders are machines: an answer could start a chain of answers. Ids of different gateways never meet. Raises BadForm.
    """
    message_id, text = _said(fields, "id"), _said(fields, "text")
    if not _ID.fullmatch(message_id):
        raise BadForm("id must be 1 to 64 letters, digits, dots, hyphens or underscores")
    answer = _said(fields, "answer", "response")
    if answer not in ("response", "outbox"):
        raise BadForm("answer must be response or outbox")
    sent = _sent(fields.get("sent"), now)
    number = _number(_said(fields, "from"), country)
    if number is None:
        return None
    incoming = Incoming(
        id=f"{gateway}.{message_id}",
        sender=number,
        text=text.replace("\x00", "")[:MOST_CHARACTERS],
        at=sent,
        arrived=now,
        carrier=CARRIER,
    )
    return Came(incoming, answer == "outbox")


def read_fetch(fields: Mapping[str, Any]) -> tuple[int, bool]:
    """How many texts a gateway wants at most, and whether it begins with what it fetched before. Raises BadForm."""
    most = _whole(fields, "most")
    return MOST_TEXTS if most is None else max(1, min(most, MOST_TEXTS)), _yes(fields, "again")


def read_receipts(fields: Mapping[str, Any]) -> list[Receipt]:
    """The receipts of a call: a list `receipts`, or the fields of a single one. Raises BadForm."""
    found = fields.get("receipts", [fields])
    if not isinstance(found, list) or not all(isinstance(each, dict) for each in found) or len(found) > MOST_RECEIPTS:
        raise BadForm(f"receipts must be a list of at most {MOST_RECEIPTS} objects")
    return [_receipt(each) for each in found]


def _receipt(fields: Mapping[str, Any]) -> Receipt:
    try:
        state = State(_said(fields, "state"))
    except ValueError as fault:
        if isinstance(fault, BadForm):
            raise
        raise BadForm("state must be sent, delivered or failed") from fault
    return Receipt(
        id=_said(fields, "id"),
        state=state,
        attempt=_whole(fields, "attempt"),
        again=_yes(fields, "again"),
        code=_word(fields, "code"),
        carrier_id=_word(fields, "carrier_id"),
    )


def _each_once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) < len(pairs):
        raise BadForm("a name is given twice")
    return found


def _said(fields: Mapping[str, Any], name: str, default: str | None = None) -> str:
    value = fields.get(name, default)
    if not isinstance(value, str):
        raise BadForm(f"{name} is missing or not a text")
    return value


def _whole(fields: Mapping[str, Any], name: str) -> int | None:
    value = fields.get(name)
    if value is None:
        return None
    if isinstance(value, bool) or not re.fullmatch(r"[0-9]{1,9}", str(value)):
        raise BadForm(f"{name} must be a whole number")
    return int(value)


def _yes(fields: Mapping[str, Any], name: str) -> bool:
    value = fields.get(name, False)
    if value not in (True, False, "true", "false"):
        raise BadForm(f"{name} must be true or false")
    return value in (True, "true")


def _word(fields: Mapping[str, Any], name: str) -> str | None:
    value = fields.get(name)
    if value is None:
        return None
    if not _WORD.fullmatch(str(value)):
        raise BadForm(f"{name} must be at most 64 letters, digits and signs")
    return str(value)


def _sent(value: Any, now: datetime) -> datetime:
    """When a text was sent: seconds since 1970, or ISO 8601 with a zone. That of a wrong clock counts as now."""
    if value is None or value == "":
        return now
    try:
        sent = _moment(str(value))
    except (ValueError, OverflowError, OSError) as fault:
        raise BadForm("sent must be seconds since 1970 or a time such as 2026-03-12T05:30:00+07:00") from fault
    if sent.tzinfo is None:
        raise BadForm("sent needs its zone, such as 2026-03-12T05:30:00+07:00")
    return sent.astimezone(UTC) if now - BEHIND <= sent <= now + AHEAD else now


def _moment(value: str) -> datetime:
    if re.fullmatch(r"[0-9]{1,12}", value):
        return datetime.fromtimestamp(int(value), UTC)
    return datetime.fromisoformat(value)


def _number(sender: str, country: str | None) -> str | None:
    """A sender in E.164 form; None for one that is no number. Raises NoCountry."""
    written = _SPACING.sub("", sender)
    if _E164.fullmatch(written):
        return written
    if not re.fullmatch(rf"[0-9]{{{LEAST_DIGITS},15}}", written):
        return None
    if country is None:
        raise NoCountry("from has no country: write it as +66..., or set TAPPING_LOG_GATEWAY_COUNTRY")
    try:
        parsed = phonenumbers.parse(written, country)
    except phonenumbers.NumberParseException:
        return None
    if not phonenumbers.is_possible_number(parsed):
        return None
    return str(phonenumbers.format_number(parsed, phonenumbers.PhoneNumberFormat.E164))

"""The carrier Twilio, incoming: is a call genuine, what text does it bring, and the answer in its form (TwiML).

The signature covers the address that the carrier called and every field as it came, so it is checked over the
configured public address and the untouched form; nothing is trimmed before. It joins names and values without a mark
between them (`a=bc` signs like `ab=c`), so only the fields that we know are used, and none of them twice.
"""

import re
from collections.abc import Mapping
from datetime import datetime

from twilio.request_validator import (
    SIGNATURE_HEADER,
    SIGNATURE_SETTINGS_HEADER,
    RequestValidator,
    get_signature_algorithm,
)
from twilio.twiml.messaging_response import MessagingResponse
from werkzeug.datastructures import MultiDict

from bot.settings import Settings
from bot.talk.exchange import Incoming

PATH = "/carrier/twilio"
WHATSAPP = "whatsapp:"

#: The carrier takes at most so many characters in a text (its error 14103) and so many texts in an answer (14109).
MOST_CHARACTERS = 1600
MOST_MESSAGES = 10

_E164 = re.compile(r"\+[1-9][0-9]{1,14}")
_NOT_IN_XML = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


class BadForm(ValueError):
    """A signed call whose form is not that of a text."""


def is_genuine(
    settings: Settings, path: str, query: str, form: MultiDict[str, str], headers: Mapping[str, str]
) -> bool:
    """Whether the carrier signed this call to `path?query` with the secret that we share with it.

    A call with the header of a webhook rule is signed with the rule's own shared key; without such a key it is refused.
    """
    rule = headers.get(SIGNATURE_SETTINGS_HEADER)
    secret = settings.twilio_auth_token if rule is None else settings.twilio_webhook_key
    if not secret or not settings.public_url:
        return False
    address = settings.public_url + path + (f"?{query}" if query else "")
    signature = headers.get(SIGNATURE_HEADER, "")
    return bool(RequestValidator(secret).validate(address, form, signature, get_signature_algorithm(rule)))


def read_form(form: MultiDict[str, str], now: datetime, *, keeps_words: bool) -> Incoming | None:
    """The text that a genuine call brings, or None if its sender is not a number (a short code, a company's name).

    Such senders are machines: an answer could start a chain of answers. The carrier does not say when a text was sent,
    so it counts as sent when it arrives. Raises BadForm.
    """
    message_id, sender, text = _one(form, "MessageSid"), _one(form, "From"), _one(form, "Body", "")
    if not re.fullmatch(r"[A-Za-z0-9_-]{1,64}", message_id):
        raise BadForm("MessageSid is not an id")
    number = sender.removeprefix(WHATSAPP)
    if not _E164.fullmatch(number):
        return None
    by_whatsapp = number != sender
    return Incoming(
        id=message_id,
        sender=number,
        text=text.replace("\x00", "")[:MOST_CHARACTERS],
        at=now,
        arrived=now,
        carrier="whatsapp" if by_whatsapp else "twilio",
        keeps_words=keeps_words and not by_whatsapp,
    )


def twiml(text: str | None) -> str:
    """The answer to the sender in the carrier's form; nothing is sent for None."""
    response = MessagingResponse()
    clean = _NOT_IN_XML.sub("", text or "").strip()
    for start in range(0, len(clean), MOST_CHARACTERS)[:MOST_MESSAGES]:
        response.message(clean[start : start + MOST_CHARACTERS])
    return str(response)


def _one(form: MultiDict[str, str], name: str, default: str | None = None) -> str:
    values = form.getlist(name)
    if len(values) > 1:
        raise BadForm(f"{name} is given twice")
    if not values and default is None:
        raise BadForm(f"{name} is missing")
    return values[0] if values else str(default)

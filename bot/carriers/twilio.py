"""The carrier Twilio, for SMS and for WhatsApp: is a call genuine, what text does it bring, the answer in its form (TwiML).

The signature covers the address that the carrier called and every field as it came, so it is checked over the
configured public address and the untouched form; nothing is trimmed before. It joins names and values without a mark
between them (`a=bc` signs like `ab=c`), so only the fields that we know are used, and none of them twice.
"""

import logging
import re
from collections.abc import Iterator, Mapping
from datetime import datetime
from http import HTTPStatus
from urllib.parse import urlsplit

from flask import Blueprint, Response, request
from twilio.request_validator import (
    SIGNATURE_HEADER,
    SIGNATURE_SETTINGS_HEADER,
    RequestValidator,
    get_signature_algorithm,
)
from twilio.twiml.messaging_response import MessagingResponse
from werkzeug.datastructures import Headers, MultiDict
from werkzeug.exceptions import BadRequest, Forbidden

from bot.books import Books, messages, outbox
from bot.carriers.carrier import Clock, Lack
from bot.carriers.twilio_receipts import WHATSAPP, BadForm, one, read_receipt, settle
from bot.discretion import discreet
from bot.jobs import Ask, Send
from bot.settings import Settings
from bot.talk.answer import answer
from bot.talk.exchange import Incoming
from bot.talk.house import House

PATH = "/carrier/twilio"
RECEIPTS = "/carrier/twilio/receipts"

#: The carrier takes at most so many characters in a text (its error 14103) and so many texts in an answer (14109).
MOST_CHARACTERS = 1600
MOST_MESSAGES = 10

_E164 = re.compile(r"\+[1-9][0-9]{1,14}")
_NOT_IN_XML = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


log = logging.getLogger(__name__)


class Twilio:
    """The door that Twilio calls for each text, and its service for texts to others."""

    name = "twilio"

    def __init__(self, settings: Settings) -> None:
        self._settings = settings

    def doors(self, books: Books, clock: Clock, house: House) -> Blueprint:
        """A door for texts, whose answer goes back in the call, and one for receipts of texts to others; both POST."""
        doors = Blueprint(self.name, __name__)
        doors.add_url_rule(
            RECEIPTS, endpoint="receipt", view_func=lambda: self._receipt(books, clock()), methods=["POST"]
        )
        doors.add_url_rule(PATH, endpoint="text", view_func=lambda: self._text(books, clock(), house), methods=["POST"])
        return doors

    def sender(self, books: Books | None, clock: Clock) -> Send | None:
        """The service, where account, token and a sender are set. It asks the books who uses WhatsApp."""
        if not self._settings.sends:
            return None
        from bot.carriers.twilio_sender import TwilioSender  # takes long to import, and only `due` needs it

        def last(number: str, carrier: str) -> datetime | None:
            if books is None:
                return None
            with books.reading() as tx:
                return messages.last_by(tx, number, carrier)

        return TwilioSender(self._settings, last, clock)

    def asker(self, books: Books, clock: Clock) -> Ask | None:
        """Looks through the messages that the service has sent to the number."""
        if not self._settings.sends:
            return None
        from bot.carriers.twilio_asking import TwilioAsker

        def known(number: str) -> set[str]:
            with books.reading() as tx:
                return {each.carrier_id for each in outbox.all_to(tx, number) if each.carrier_id is not None}

        return TwilioAsker(self._settings, known)

    def lacks(self) -> Iterator[Lack]:
        """What calls cannot be checked without, and what nothing goes out without."""
        chosen = self._settings
        if not (chosen.public_url and chosen.twilio_auth_token):
            says = "no text can come in: calls of the carrier cannot be checked"
            yield Lack(says, "Set TAPPING_LOG_PUBLIC_URL and TWILIO_AUTH_TOKEN, or TAPPING_LOG_GATEWAY_KEYS.")
        elif urlsplit(chosen.public_url).scheme != "https":
            yield Lack("texts come in unencrypted", "Put TLS before it and begin TAPPING_LOG_PUBLIC_URL with https.")
        if not chosen.sends and chosen.sends_by != "gateway":
            mend = "Set TWILIO_ACCOUNT_SID, TWILIO_AUTH_TOKEN, and TWILIO_FROM or TWILIO_MESSAGING_SERVICE."
            yield Lack("texts to others cannot go out; they wait", mend)
        if chosen.whatsapp_from and not chosen.twilio_whatsapp_template and not chosen.sms_from:
            says = "WhatsApp messages to those who have been silent for 24 hours cannot go out"
            yield Lack(says, "Set TWILIO_WHATSAPP_TEMPLATE, or TWILIO_FROM so that they go by SMS.")

    def says(self) -> str:
        """Where texts come in and what they go out from."""
        return f"texts come in at {self._settings.public_url} and go out from {self._settings.sender}"

    def _receipt(self, books: Books, now: datetime) -> Response:
        self._check_genuine()
        try:
            receipt = read_receipt(request.args, request.form)
        except BadForm as fault:
            raise BadRequest(str(fault)) from fault
        books.run_transaction(lambda tx: settle(tx, receipt, now))
        return Response(status=HTTPStatus.NO_CONTENT)

    def _check_genuine(self) -> None:
        query = request.query_string.decode("latin-1")
        if not is_genuine(self._settings, request.path, query, request.form, request.headers):
            log.warning("refused a call to %s: signature missing or wrong", discreet(request.path))
            raise Forbidden("The signature is missing or wrong.")

    def _text(self, books: Books, now: datetime, house: House) -> Response:
        self._check_genuine()
        try:
            incoming = read_form(request.form, now, keeps_words=self._settings.twilio_keeps_words)
        except BadForm as fault:
            raise BadRequest(str(fault)) from fault
        if incoming is None:
            log.info("ignored a text from a sender without a number")
            return _xml(twiml(None))
        return _xml(twiml(answer(books, incoming, now, house).text))


def _xml(text: str) -> Response:
    return Response(text, content_type="text/xml; charset=utf-8")


def is_genuine(
    settings: Settings, path: str, query: str, form: MultiDict[str, str], headers: Mapping[str, str] | Headers
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
    message_id, sender, text = one(form, "MessageSid"), one(form, "From"), one(form, "Body", "")
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

"""The carrier Twilio, asked after: did a text go out of which we did not hear so?

Its list of messages to the number is looked through for one from us, made since the text was due, with the same words and
not known as another text of ours. Such a one is it. Where there is none the text never arrived and may be sent again; where
there is one with other words (a template was filled in, letters were replaced), or the list is too long to be looked
through, it cannot be told.
"""

from collections.abc import Callable, Iterator
from datetime import datetime, timedelta

import requests
from twilio.base.exceptions import TwilioException
from twilio.http.http_client import TwilioHttpClient
from twilio.rest import Client
from twilio.rest.api.v2010.account.message import MessageInstance

from bot.books.model import Waiting
from bot.carriers.twilio_receipts import FAILED, WHATSAPP, failure
from bot.settings import Settings
from bot.talk.exchange import Delivery, Fate

#: Messages to one number that are looked through; the list begins with the newest (from memory).
LOOKED_AT = 200

#: The carrier's clock and ours may differ by so much.
CLOCKS_DIFFER = timedelta(minutes=2)

#: How the carrier calls messages that were asked for as ours are; answers to texts and what came in are called otherwise.
OURS = "outbound-api"

CANNOT_TELL = Delivery(Fate.UNSURE, code="cannot tell")


class TwilioAsker:
    """Asks after a text; `known` gives the carrier's ids of the other texts to a number."""

    def __init__(self, settings: Settings, known: Callable[[str], set[str]]) -> None:
        http = TwilioHttpClient(timeout=settings.twilio_timeout)
        self._client = Client(settings.twilio_account_sid, settings.twilio_auth_token, http_client=http)
        self._kinds = [""] * bool(settings.sms_from) + [WHATSAPP] * bool(settings.whatsapp_from)
        self._known = known

    def __call__(self, waiting: Waiting) -> Delivery:
        """SENT with the carrier's id, what its code says where it failed there, LATER if it is not there, UNSURE."""
        since = waiting.due_at - CLOCKS_DIFFER
        try:
            found = [message for kind in self._kinds for message in self._since(kind + waiting.to, since)]
        except (TwilioException, requests.RequestException, ValueError, AttributeError, _TooMany):
            return CANNOT_TELL
        known = self._known(waiting.to)
        others = [each for each in found if each.sid not in known]
        same = [each for each in others if _words(each.body) == _words(waiting.text)]
        if not same:
            return CANNOT_TELL if others else Delivery(Fate.LATER, code="not there")
        if len(same) > 1:
            return CANNOT_TELL
        (message,) = same
        if message.status in FAILED:
            return failure(str(message.error_code or ""))
        return Delivery(Fate.SENT, carrier_id=message.sid)

    def _since(self, to: str, since: datetime) -> Iterator[MessageInstance]:
        """What we sent to a number since a moment. Raises _TooMany where the list does not reach back so far.

        The list is not narrowed by the day of sending: a message that waits at the carrier has none yet.
        """
        listed = self._client.messages.list(to=to, limit=LOOKED_AT)
        if len(listed) == LOOKED_AT and all(each.date_created >= since for each in listed):
            raise _TooMany
        return (each for each in listed if each.direction == OURS and each.date_created >= since)


class _TooMany(Exception):
    """The list is too long to be looked through."""


def _words(text: str | None) -> str:
    return " ".join((text or "").split())

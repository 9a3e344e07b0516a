"""The carrier Twilio, outgoing: send one text, and say what became of it.

What to do about an error code is a table; the codes and their meaning are from the carrier's error pages. A text that
the carrier may have taken although we did not hear so is never sent again by itself: a person has to look.
"""

from http import HTTPStatus

import requests
from twilio.base.exceptions import TwilioException
from twilio.http.http_client import TwilioHttpClient
from twilio.rest import Client
from urllib3.exceptions import MaxRetryError, NewConnectionError

from bot.books.model import Waiting
from bot.carriers.twilio import WHATSAPP
from bot.settings import Settings
from bot.talk.exchange import Delivery, Fate

#: Codes that need no person, by what to do.
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


class TwilioSender:
    """Sends waiting texts from the account in the settings; call it with a text to send."""

    def __init__(self, settings: Settings) -> None:
        http = TwilioHttpClient(timeout=settings.twilio_timeout)
        self._client = Client(settings.twilio_account_sid, settings.twilio_auth_token, http_client=http)
        self._from = settings.twilio_from
        self._service = settings.twilio_messaging_service

    def __call__(self, waiting: Waiting) -> Delivery:
        """Hand the text to the carrier."""
        try:
            message = self._client.messages.create(to=self._to(waiting.to), body=waiting.text, **self._sender())
        except TwilioException as fault:
            return _refused(fault)
        except requests.RequestException as fault:
            return Delivery(Fate.LATER if _never_left(fault) else Fate.UNSURE, code=type(fault).__name__)
        except (ValueError, AttributeError) as fault:  # "taken", but not in the carrier's own form: the client stumbles
            return Delivery(Fate.UNSURE, code=type(fault).__name__)
        return Delivery(Fate.SENT, carrier_id=message.sid) if message.sid else Delivery(Fate.UNSURE, code="no id")

    def _sender(self) -> dict[str, str]:
        if self._service:
            return {"messaging_service_sid": self._service}
        return {"from_": str(self._from)}

    def _to(self, number: str) -> str:
        return WHATSAPP + number if (self._from or "").startswith(WHATSAPP) else number


def _refused(fault: TwilioException) -> Delivery:
    """What to do about the carrier's refusal; its code counts, otherwise the status of the answer."""
    code, status = str(getattr(fault, "code", None) or ""), int(getattr(fault, "status", None) or 0)
    if code in ALARMS:
        fate, alarm = ALARMS[code]
        return Delivery(fate, code=code, alarm=f"{code}: {alarm}")
    if code in FATES:
        return Delivery(FATES[code], code=code)
    if status == HTTPStatus.TOO_MANY_REQUESTS or status >= HTTPStatus.INTERNAL_SERVER_ERROR:
        return Delivery(Fate.LATER, code=code or str(status))
    return Delivery(Fate.NEVER, code=code or str(status), alarm=f"the carrier refused a text with {code or status}")


def _never_left(fault: requests.RequestException) -> bool:
    """Whether the line failed before the text can have reached the carrier."""
    if isinstance(fault, requests.ConnectTimeout):
        return True
    cause = fault.args[0] if fault.args else None
    return isinstance(cause, MaxRetryError) and isinstance(cause.reason, NewConnectionError)

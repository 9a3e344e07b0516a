"""The carrier Twilio, outgoing: send one text, and say what became of it.

What to do about an error code is a table in `twilio_receipts`. A text that
the carrier may have taken although we did not hear so is never sent again by itself: a person has to look.

Who texted by WhatsApp last is sent to by WhatsApp. It takes free words within 24 hours of his last message, and after that a
template that it has approved (its error 63016); where none is set the text goes by SMS.
"""

import json
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from http import HTTPStatus

import requests
from twilio.base.exceptions import TwilioException
from twilio.http.http_client import TwilioHttpClient
from twilio.rest import Client
from urllib3.exceptions import MaxRetryError, NewConnectionError

from bot.books.model import Waiting
from bot.carriers.twilio import RECEIPTS
from bot.carriers.twilio_receipts import WHATSAPP, address_of, refused
from bot.settings import Settings
from bot.talk.exchange import Delivery, Fate

#: When a number last texted by a carrier, None where it never did.
Last = Callable[[str, str], datetime | None]

#: How long free words may follow a WhatsApp message, less what a text may take to get there.
FREE_WORDS = timedelta(hours=24) - timedelta(minutes=5)


class TwilioSender:
    """Sends waiting texts from the account in the settings; call it with a text to send.

    `last` tells when a number texted by `twilio` or `whatsapp`; without it everybody counts as having just done so.
    """

    def __init__(
        self, settings: Settings, last: Last | None = None, clock: Callable[[], datetime] = lambda: datetime.now(UTC)
    ) -> None:
        http = TwilioHttpClient(timeout=settings.twilio_timeout)
        self._client = Client(settings.twilio_account_sid, settings.twilio_auth_token, http_client=http)
        self._whatsapp, self._template = settings.whatsapp_from, settings.twilio_whatsapp_template
        self._number = settings.twilio_from if settings.sms_from else None
        self._service = settings.twilio_messaging_service
        self._public_url = settings.public_url
        self._clock = clock
        self._last = last or (lambda _number, _carrier: clock())

    def __call__(self, waiting: Waiting) -> Delivery:
        """Hand the text to the carrier."""
        fields = self._fields(waiting)
        if fields is None:
            alarm = "he has not texted by WhatsApp for 24 hours: set TWILIO_WHATSAPP_TEMPLATE, or TWILIO_FROM for SMS"
            return Delivery(Fate.NEVER, code="63016", alarm=f"63016: {alarm}")
        try:
            message = self._client.messages.create(**fields, **self._receipts(waiting))
        except TwilioException as fault:
            return _refused(fault)
        except requests.RequestException as fault:
            return Delivery(Fate.LATER if _never_left(fault) else Fate.UNSURE, code=type(fault).__name__)
        except (ValueError, AttributeError) as fault:  # "taken", but not in the carrier's own form: the client stumbles
            return Delivery(Fate.UNSURE, code=type(fault).__name__)
        return Delivery(Fate.SENT, carrier_id=message.sid) if message.sid else Delivery(Fate.UNSURE, code="no id")

    def _fields(self, waiting: Waiting) -> dict[str, str] | None:
        """What is asked of the carrier; None where no way is left."""
        if self._whatsapp is None or (self._sms and not self._uses_whatsapp(waiting.to)):
            return {"to": waiting.to, "body": waiting.text, **self._sms}
        there = {"to": WHATSAPP + waiting.to, "from_": self._whatsapp}
        last = self._last(waiting.to, "whatsapp")
        if last is not None and self._clock() - last < FREE_WORDS:
            return {**there, "body": waiting.text}
        if self._template is not None:
            return {**there, "content_sid": self._template, "content_variables": _variables(waiting.text)}
        return {"to": waiting.to, "body": waiting.text, **self._sms} if self._sms else None

    def _receipts(self, waiting: Waiting) -> dict[str, str]:
        """Where the carrier says what became of the text; nowhere while it cannot reach us."""
        return {"status_callback": address_of(self._public_url, RECEIPTS, waiting)} if self._public_url else {}

    @property
    def _sms(self) -> dict[str, str]:
        """What SMS are sent from; empty where only WhatsApp is set up."""
        if self._service:
            return {"messaging_service_sid": self._service}
        return {"from_": self._number} if self._number else {}

    def _uses_whatsapp(self, number: str) -> bool:
        """Whether his last text came by WhatsApp, and not by SMS, from wherever."""
        last = self._last(number, "whatsapp")
        others = [self._last(number, carrier) for carrier in ("twilio", "gateway")]
        return last is not None and all(other is None or other <= last for other in others)


def _variables(text: str) -> str:
    """The text as the template's only variable; line breaks are refused in one (from memory)."""
    return json.dumps({"1": " ".join(text.split())}, ensure_ascii=False)


def _refused(fault: TwilioException) -> Delivery:
    """What to do about the carrier's refusal; its code counts, otherwise the status of the answer."""
    code, status = str(getattr(fault, "code", None) or ""), int(getattr(fault, "status", None) or 0)
    known = refused(code)
    if known is not None:
        return known
    if status == HTTPStatus.TOO_MANY_REQUESTS or status >= HTTPStatus.INTERNAL_SERVER_ERROR:
        return Delivery(Fate.LATER, code=code or str(status))
    return Delivery(Fate.NEVER, code=code or str(status), alarm=f"the carrier refused a text with {code or status}")


def _never_left(fault: requests.RequestException) -> bool:
    """Whether the line failed before the text can have reached the carrier."""
    if isinstance(fault, requests.ConnectTimeout):
        return True
    cause = fault.args[0] if fault.args else None
    return isinstance(cause, MaxRetryError) and isinstance(cause.reason, NewConnectionError)

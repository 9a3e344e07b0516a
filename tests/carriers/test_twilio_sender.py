"""Sending by the carrier: what is asked of it, and what becomes of a text that it refuses."""

from datetime import UTC, datetime
from pathlib import Path

import pytest
import requests
import responses
from responses.matchers import header_matcher, urlencoded_params_matcher
from urllib3.connection import HTTPConnection
from urllib3.exceptions import MaxRetryError, NewConnectionError

from bot.books.model import Waiting
from bot.carriers.twilio_sender import ALARMS, FATES, TwilioSender
from bot.settings import Settings
from bot.talk.exchange import Delivery, Fate

ACCOUNT = "AC" + "0" * 32
URL = f"https://api.twilio.com/2010-04-01/Accounts/{ACCOUNT}/Messages.json"
NOW = datetime(2026, 3, 12, 3, 30, tzinfo=UTC)
WAITING = Waiting(
    id="w1",
    to="+447700900123",
    text="B3 today 18 L, rain.",
    parts=1,
    state="sending",
    due_at=NOW,
    attempts=1,
    created_at=NOW,
    because=None,
    key=None,
    carrier_id=None,
    error_code=None,
)


def settings(sender: str | None = "+15005550006", service: str | None = None) -> Settings:
    return Settings(
        books=Path("unused"),
        twilio_account_sid=ACCOUNT,
        twilio_auth_token="12345",
        twilio_from=sender,
        twilio_messaging_service=service,
    )


@pytest.fixture
def carrier():
    with responses.RequestsMock() as mock:
        yield mock


def refuse(carrier: responses.RequestsMock, code: int, status: int) -> None:
    body = {"code": code, "message": "refused", "more_info": "https://example.org", "status": status}
    carrier.post(URL, json=body, status=status)


def test_a_text_is_handed_over_with_its_sender_and_receiver(carrier: responses.RequestsMock) -> None:
    # Form fields, basic authorization and the answer 201 are those of Twilio's messages resource.
    wanted = {"To": "+447700900123", "From": "+15005550006", "Body": "B3 today 18 L, rain."}
    authorization = {"Authorization": requests.auth._basic_auth_str(ACCOUNT, "12345")}
    matchers = [urlencoded_params_matcher(wanted), header_matcher(authorization)]
    carrier.post(URL, json={"sid": "SM123", "status": "queued"}, status=201, match=matchers)

    assert Delivery(Fate.SENT, carrier_id="SM123") == TwilioSender(settings())(WAITING)


@pytest.mark.parametrize(
    ("sender", "service", "wanted"),
    [
        (None, "MG" + "1" * 32, {"To": "+447700900123", "MessagingServiceSid": "MG" + "1" * 32}),
        ("whatsapp:+15005550006", None, {"To": "whatsapp:+447700900123", "From": "whatsapp:+15005550006"}),
    ],
)
def test_a_service_or_a_whatsapp_number_can_be_the_sender(
    carrier: responses.RequestsMock, sender: str | None, service: str | None, wanted: dict[str, str]
) -> None:
    match = [urlencoded_params_matcher(wanted | {"Body": WAITING.text})]
    carrier.post(URL, json={"sid": "SM123"}, status=201, match=match)

    assert TwilioSender(settings(sender, service))(WAITING).fate is Fate.SENT


@pytest.mark.parametrize(
    ("code", "status", "fate"),
    [
        (21610, 400, Fate.OPTED_OUT),
        (21211, 400, Fate.NEVER),
        (21614, 400, Fate.NEVER),
        (30003, 400, Fate.LATER),
        (20429, 429, Fate.LATER),
        (21611, 429, Fate.LATER),
        (20500, 500, Fate.LATER),
    ],
)
def test_a_refusal_that_needs_no_person_only_decides_whether_to_try_again(
    carrier: responses.RequestsMock, code: int, status: int, fate: Fate
) -> None:
    refuse(carrier, code, status)

    assert Delivery(fate, code=str(code)) == TwilioSender(settings())(WAITING)


@pytest.mark.parametrize(("code", "status"), [(20003, 401), (21606, 400), (21408, 400), (21617, 400), (29999, 400)])
def test_a_refusal_that_somebody_has_to_mend_raises_an_alarm_with_the_code(
    carrier: responses.RequestsMock, code: int, status: int
) -> None:
    refuse(carrier, code, status)
    delivery = TwilioSender(settings())(WAITING)

    assert delivery.alarm is not None
    assert str(code) in delivery.alarm
    assert WAITING.to not in delivery.alarm


def test_an_answer_that_is_not_the_carriers_own_is_tried_again(carrier: responses.RequestsMock) -> None:
    carrier.post(URL, body="<html>Bad gateway</html>", status=502)

    assert Delivery(Fate.LATER, code="502") == TwilioSender(settings())(WAITING)


def test_a_problem_in_the_newer_form_is_understood_too(carrier: responses.RequestsMock) -> None:
    # RFC 9457 problem details, which the client raises as another exception than the older form.
    body = {"type": "https://www.twilio.com/docs/api/errors/21610", "title": "Opted out", "status": 400, "code": 21610}
    carrier.post(URL, json=body, status=400, content_type="application/problem+json")

    assert TwilioSender(settings())(WAITING).fate is Fate.OPTED_OUT


def _refused_connection() -> requests.ConnectionError:
    reason = NewConnectionError(HTTPConnection("api.twilio.com"), "refused")
    return requests.ConnectionError(MaxRetryError(None, URL, reason))  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("fault", "fate"),
    [
        (requests.ConnectTimeout(), Fate.LATER),
        (_refused_connection(), Fate.LATER),
        (requests.ReadTimeout(), Fate.UNSURE),
        (requests.ConnectionError("Connection aborted."), Fate.UNSURE),
    ],
)
def test_a_text_that_may_have_gone_out_is_not_tried_again(
    carrier: responses.RequestsMock, fault: requests.RequestException, fate: Fate
) -> None:
    carrier.post(URL, body=fault)

    assert TwilioSender(settings())(WAITING).fate is fate


def test_sending_never_waits_for_ever(carrier: responses.RequestsMock) -> None:
    carrier.post(URL, json={"sid": "SM123"}, status=201)
    TwilioSender(settings())(WAITING)

    assert carrier.calls[0].request.req_kwargs["timeout"] == 8.0


def test_a_code_is_either_plain_or_an_alarm() -> None:
    assert not FATES.keys() & ALARMS.keys()

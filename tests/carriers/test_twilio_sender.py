"""Sending by the carrier: what is asked of it, and what becomes of a text that it refuses."""

import json
from contextlib import closing
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from urllib.parse import parse_qsl

import pytest
import requests
import responses
from responses.matchers import header_matcher, urlencoded_params_matcher
from urllib3.connection import HTTPConnection
from urllib3.exceptions import MaxRetryError, NewConnectionError

from bot.books import open_books
from bot.books.model import Waiting
from bot.carriers.carrier import sender
from bot.carriers.twilio_receipts import ALARMS, FATES
from bot.carriers.twilio_sender import TwilioSender
from bot.settings import Settings
from bot.talk.answer import answer
from bot.talk.exchange import Delivery, Fate, Incoming

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


# WhatsApp

TEMPLATE = "HX" + "2" * 32


def by_both(**more: str | None) -> Settings:
    """SMS from one number, WhatsApp from another."""
    chosen = {"twilio_from": "+15005550006", "twilio_whatsapp_from": "whatsapp:+15005550009"}
    return Settings(
        books=Path("unused"),
        twilio_account_sid=ACCOUNT,
        twilio_auth_token="12345",
        **(chosen | more),  # type: ignore[arg-type]
    )


def asked(
    carrier: responses.RequestsMock, chosen: Settings, ago: dict[str, timedelta], waiting: Waiting = WAITING
) -> dict[str, str]:
    """The form that the carrier gets, for one who texted so long ago by WhatsApp, SMS or a gateway."""
    carrier.post(URL, json={"sid": "SM123"}, status=201)

    def last(number: str, by: str) -> datetime | None:
        assert number == waiting.to
        return NOW - ago[by] if by in ago else None

    assert TwilioSender(chosen, last, lambda: NOW)(waiting).fate is Fate.SENT
    return dict(parse_qsl(str(carrier.calls[0].request.body)))


SMS_FORM = {"To": WAITING.to, "From": "+15005550006", "Body": WAITING.text}
FREE_FORM = {"To": "whatsapp:" + WAITING.to, "From": "whatsapp:+15005550009", "Body": WAITING.text}
HOUR = timedelta(hours=1)


@pytest.mark.parametrize(
    ("ago", "wanted"),
    [
        ({}, SMS_FORM),
        ({"twilio": HOUR}, SMS_FORM),
        ({"whatsapp": HOUR}, FREE_FORM),
        ({"whatsapp": 23 * HOUR}, FREE_FORM),
        ({"whatsapp": 24 * HOUR}, SMS_FORM),
        ({"whatsapp": HOUR, "twilio": 2 * HOUR}, FREE_FORM),
        ({"whatsapp": 2 * HOUR, "twilio": HOUR}, SMS_FORM),
        ({"whatsapp": 2 * HOUR, "gateway": HOUR}, SMS_FORM),
    ],
)
def test_who_texted_by_whatsapp_last_is_sent_to_by_whatsapp_within_a_day(
    carrier: responses.RequestsMock, ago: dict[str, timedelta], wanted: dict[str, str]
) -> None:
    assert asked(carrier, by_both(), ago) == wanted


def test_after_a_day_a_template_takes_the_text_on_one_line(carrier: responses.RequestsMock) -> None:
    # Outside of 24 hours the carrier takes a ContentSid with ContentVariables, and free words fail with 63016.
    waiting = replace(WAITING, text='Week: 30 L\nB3 "18 L"   5.8 kg, é')
    form = asked(carrier, by_both(twilio_whatsapp_template=TEMPLATE), {"whatsapp": 25 * HOUR}, waiting)

    assert form.pop("ContentVariables") == json.dumps({"1": 'Week: 30 L B3 "18 L" 5.8 kg, é'}, ensure_ascii=False)
    assert form == {
        "To": "whatsapp:" + WAITING.to,
        "From": "whatsapp:+15005550009",
        "ContentSid": TEMPLATE,
    }


def test_where_only_whatsapp_is_set_up_one_who_never_texted_gets_the_template(carrier: responses.RequestsMock) -> None:
    form = asked(carrier, by_both(twilio_from=None, twilio_whatsapp_template=TEMPLATE), {})

    assert form["ContentSid"] == TEMPLATE


def test_without_a_template_or_sms_nothing_is_asked_of_the_carrier_and_the_operator_is_told(
    carrier: responses.RequestsMock,
) -> None:
    delivery = TwilioSender(by_both(twilio_from=None), lambda _number, _by: None, lambda: NOW)(WAITING)

    assert (delivery.fate, delivery.code) == (Fate.NEVER, "63016")
    assert "TWILIO_WHATSAPP_TEMPLATE" in str(delivery.alarm)
    assert len(carrier.calls) == 0


def test_the_books_tell_who_uses_whatsapp(carrier: responses.RequestsMock, tmp_path: Path) -> None:
    chosen = replace(by_both(), books=tmp_path / "books.sqlite")
    carrier.post(URL, json={"sid": "SM123"}, status=201)
    with closing(open_books(tmp_path / "books.sqlite")) as books:
        send = sender(chosen, books, lambda: NOW)
        assert send is not None
        for n, by in enumerate(("twilio", "whatsapp", "practice")):
            at = NOW - timedelta(minutes=9 - n)
            answer(books, Incoming(f"SM{n}", WAITING.to, "hello", at, at, by), at)
        send(WAITING)

    assert dict(parse_qsl(str(carrier.calls[0].request.body))) == FREE_FORM

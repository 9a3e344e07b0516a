"""The carrier's signature, form and answer: published vectors, and what the library itself does."""

from datetime import UTC, datetime
from pathlib import Path
from xml.etree import ElementTree

import pytest
from hypothesis import given
from hypothesis import strategies as st
from twilio.request_validator import RequestValidator
from werkzeug.datastructures import MultiDict

from bot.carriers.twilio import BadForm, is_genuine, read_form, twiml
from bot.settings import Settings

NOW = datetime(2026, 3, 12, 3, 30, tzinfo=UTC)
SMS_TOKEN = "test-auth-token-0000000000000000"
SMS = {
    "MessageSid": "SM" + "0" * 31 + "1",
    "From": "+66812345678",
    "To": "+15005550006",
    "Body": "LOG A 12.5 R0",
    "NumMedia": "0",
}
CALL = {
    "CallSid": "CA1234567890ABCDE",
    "Caller": "+12349013030",
    "Digits": "1234",
    "From": "+12349013030",
    "To": "+18005551212",
}
RULE = "X-Twilio-Webhooks-Signature-Settings"


def settings(public_url: str, token: str | None, key: str | None = None) -> Settings:
    return Settings(books=Path("unused"), public_url=public_url, twilio_auth_token=token, twilio_webhook_key=key)


def signed(signature: str) -> dict[str, str]:
    return {"X-Twilio-Signature": signature}


def test_the_vector_of_the_carriers_documentation_is_genuine() -> None:
    # Twilio's documentation of webhook security: token 12345, address https://mycompany.com/myapp.php?foo=1&bar=2.
    mine = settings("https://mycompany.com", "12345")

    assert is_genuine(mine, "/myapp.php", "foo=1&bar=2", MultiDict(CALL), signed("0/KCTR6DLpKmkAf8muzZqo1nDgQ="))


# Made with twilio 9.13.0's RequestValidator; they pin what changes a signature: slash, scheme and query.
ADDRESSES = [
    ("https://bot.example.org", "/sms", "", "rq0NxNt5zqCe/tYXPQDUb4uXUXU="),
    ("https://bot.example.org", "/sms/", "", "pPWfjG1UIJILRRPJ29oEW/mX+t8="),
    ("http://bot.example.org", "/sms", "", "NcDKflFWW1tbK5zJDyQe+QWZhac="),
    ("https://bot.example.org", "/sms", "x=1", "KQAeyMrMuygOhd56+HE1kow7uVQ="),
]


@pytest.mark.parametrize(("public_url", "path", "query", "signature"), ADDRESSES)
def test_the_signature_belongs_to_just_one_address(public_url: str, path: str, query: str, signature: str) -> None:
    mine = settings(public_url, SMS_TOKEN)

    assert is_genuine(mine, path, query, MultiDict(SMS), signed(signature))
    for other in {each[3] for each in ADDRESSES} - {signature}:
        assert not is_genuine(mine, path, query, MultiDict(SMS), signed(other))


@pytest.mark.parametrize(
    "form",
    [
        SMS | {"Body": "LOG A 12.5 R0 "},
        SMS | {"Extra": ""},
        {name: value for name, value in SMS.items() if name != "NumMedia"},
        SMS | {"From": "+66812345679"},
    ],
)
def test_a_form_that_was_touched_is_not_genuine(form: dict[str, str]) -> None:
    mine = settings("https://bot.example.org", SMS_TOKEN)

    assert not is_genuine(mine, "/sms", "", MultiDict(form), signed("rq0NxNt5zqCe/tYXPQDUb4uXUXU="))


def test_blank_fields_and_other_scripts_take_part_in_the_signature() -> None:
    form = MultiDict(SMS | {"FromCity": "", "Body": "แปลง 3 18 ลิตร ฝน"})
    signature = RequestValidator(SMS_TOKEN).compute_signature("https://bot.example.org/sms", form)

    assert is_genuine(settings("https://bot.example.org", SMS_TOKEN), "/sms", "", form, signed(signature))


@pytest.mark.parametrize("headers", [{}, signed(""), signed("é"), signed("rq0NxNt5zqCe/tYXPQDUb4uXUXU")])
def test_a_missing_or_odd_signature_is_refused_without_a_fault(headers: dict[str, str]) -> None:
    assert not is_genuine(settings("https://bot.example.org", SMS_TOKEN), "/sms", "", MultiDict(SMS), headers)


@pytest.mark.parametrize("token", [None, ""])
def test_nothing_is_genuine_where_no_token_is_set(token: str | None) -> None:
    signature = RequestValidator("").compute_signature("https://bot.example.org/sms", SMS)

    assert not is_genuine(settings("https://bot.example.org", token), "/sms", "", MultiDict(SMS), signed(signature))


def test_a_call_signed_with_a_rules_shared_key_is_genuine_only_where_that_key_is_set() -> None:
    # The SHA-256 signature was made with twilio 9.13.0's RequestValidator.
    signature = "K08mOft6QBHVrTBwpyRISk22WP+pEjYB+aa7hXVdi3g="
    headers = signed(signature) | {RULE: "key=webhooks_sharedkey_1,algorithm=HMAC_SHA256"}
    address = ("/sms", "", MultiDict(SMS))

    assert is_genuine(settings("https://bot.example.org", "another token", SMS_TOKEN), *address, headers)
    assert not is_genuine(settings("https://bot.example.org", SMS_TOKEN), *address, headers)
    assert not is_genuine(settings("https://bot.example.org", SMS_TOKEN, "another key"), *address, headers)


def test_an_algorithm_that_is_not_known_is_refused() -> None:
    headers = signed("rq0NxNt5zqCe/tYXPQDUb4uXUXU=") | {RULE: "key=a,algorithm=NONE"}

    assert not is_genuine(settings("https://bot.example.org", "t", SMS_TOKEN), "/sms", "", MultiDict(SMS), headers)


def test_a_form_is_read_as_the_text_that_it_brings() -> None:
    incoming = read_form(MultiDict(SMS), NOW, keeps_words=True)

    assert incoming is not None
    assert (incoming.id, incoming.sender, incoming.text) == (SMS["MessageSid"], "+66812345678", "LOG A 12.5 R0")
    assert (incoming.at, incoming.arrived, incoming.carrier, incoming.keeps_words) == (NOW, NOW, "twilio", True)


def test_a_whatsapp_sender_is_known_by_the_number() -> None:
    incoming = read_form(MultiDict(SMS | {"From": "whatsapp:+66812345678"}), NOW, keeps_words=True)

    assert incoming is not None
    assert (incoming.sender, incoming.carrier, incoming.keeps_words) == ("+66812345678", "whatsapp", False)


@pytest.mark.parametrize("sender", ["40404", "BANK", "", "+", "+0123", "+1234567890123456", "whatsapp:", "+44 7700"])
def test_a_sender_without_a_number_is_a_machine(sender: str) -> None:
    assert read_form(MultiDict(SMS | {"From": sender}), NOW, keeps_words=True) is None


def test_a_picture_without_words_is_an_empty_text() -> None:
    form = {name: value for name, value in SMS.items() if name != "Body"} | {"NumMedia": "1"}
    incoming = read_form(MultiDict(form), NOW, keeps_words=True)

    assert incoming is not None
    assert incoming.text == ""


@pytest.mark.parametrize(
    "form",
    [
        MultiDict({"From": "+66812345678", "Body": "hello"}),
        MultiDict({"MessageSid": "SM1", "Body": "hello"}),
        MultiDict(SMS | {"MessageSid": ""}),
        MultiDict(SMS | {"MessageSid": "SM1' or 1=1"}),
        MultiDict([*SMS.items(), ("Body", "another")]),
        MultiDict([*SMS.items(), ("From", "+447700900001")]),
    ],
)
def test_a_form_without_an_id_or_a_sender_or_with_two_of_them_is_refused(form: MultiDict[str, str]) -> None:
    with pytest.raises(BadForm):
        read_form(form, NOW, keeps_words=True)


def test_the_answer_is_twiml() -> None:
    # The form of Twilio's documentation of the Message verb.
    assert twiml("B3 today 18 L <rain> & more") == (
        '<?xml version="1.0" encoding="UTF-8"?><Response><Message>B3 today 18 L &lt;rain&gt; &amp; more'
        "</Message></Response>"
    )


@pytest.mark.parametrize("nothing", [None, "", "  ", "\x01"])
def test_silence_is_an_empty_response(nothing: str | None) -> None:
    assert list(ElementTree.fromstring(twiml(nothing))) == []


@given(st.text(max_size=4000))
def test_whatever_is_said_the_answer_can_be_read_and_sent(text: str) -> None:
    messages = [message.text or "" for message in ElementTree.fromstring(twiml(text).encode("utf-8", "replace"))]

    assert len(messages) <= 10
    assert all(0 < len(message) <= 1600 for message in messages)

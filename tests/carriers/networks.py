"""The carriers as the tests see them: what brings a text to each, and what takes the texts that go to others.

A new carrier needs a class here and its place in `NETWORKS`; the tests of `test_every_carrier` then hold for it.
"""

import json
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Any
from urllib.parse import parse_qs, urlencode
from xml.etree import ElementTree

import responses
from flask import Flask
from requests import PreparedRequest
from twilio.request_validator import RequestValidator
from werkzeug.test import TestResponse

from bot.app import create_app
from bot.books import Books
from bot.carriers.carrier import Carrier, carriers
from bot.carriers.practice import text_as
from bot.carriers.signing import signed_headers
from bot.jobs import run_due
from bot.settings import Settings

NOW = datetime(2026, 3, 12, 3, 30, tzinfo=UTC)
PUBLIC, TOKEN, SECRET, ACCOUNT = (
    "https://bot.example.org",
    "a-token-for-the-test",
    "0123456789abcdef" * 4,
    "AC" + "0" * 32,
)


@dataclass
class Network:
    """A carrier over books. `sent` is what went to others: number and words."""

    books: Books
    app: Flask
    settings: Settings
    now: datetime = NOW
    sent: list[tuple[str, str]] = field(default_factory=list)

    #: Whether texts come in by HTTP and are signed.
    signed = True

    @classmethod
    def made(cls, path: Path, books: Books) -> "Network":
        settings = Settings(books=path, public_url=PUBLIC, **cls.chosen())  # type: ignore[arg-type]
        network = cls(books, create_app(settings, books, lambda: network.now), settings)
        return network

    @classmethod
    def chosen(cls) -> dict[str, object]:
        raise NotImplementedError

    @property
    def carrier(self) -> Carrier:
        return carriers(self.settings)[0]

    def bring(self, message_id: str, number: str, text: str) -> str | None:
        """Bring a text; what is answered."""
        answered = self.call(message_id, number, text)
        assert answered.status_code == 200, answered.get_data(as_text=True)
        return self.reply(answered)

    def call(self, message_id: str, number: str, text: str, *, forged: bool = False) -> TestResponse:
        """Bring a text; the answer of the door."""
        raise NotImplementedError

    def reply(self, answered: TestResponse) -> str | None:
        raise NotImplementedError

    def pass_on(self, *, broken: bool = False) -> None:
        """Let everything out that waits, by a network that works or does not."""
        with self.answering(broken):
            run_due(self.books, self.now, self.carrier.sender(self.books, lambda: self.now))

    @contextmanager
    def answering(self, broken: bool) -> Iterator[None]:
        yield


class ByTwilio(Network):
    """SMS by Twilio: form posts in, its service out."""

    @classmethod
    def chosen(cls) -> dict[str, object]:
        return {
            "twilio_auth_token": TOKEN,
            "twilio_account_sid": ACCOUNT,
            "twilio_from": "+15005550006",
            "twilio_keeps_words": False,
        }

    def call(self, message_id: str, number: str, text: str, *, forged: bool = False) -> TestResponse:
        form = {"MessageSid": message_id, "From": self.address(number), "To": "+15005550006", "Body": text}
        signature = RequestValidator("another" if forged else TOKEN).compute_signature(f"{PUBLIC}/carrier/twilio", form)
        return self.app.test_client().post("/carrier/twilio", data=form, headers={"X-Twilio-Signature": signature})

    def address(self, number: str) -> str:
        return number

    def reply(self, answered: TestResponse) -> str | None:
        return ElementTree.fromstring(answered.get_data()).findtext("Message")

    @contextmanager
    def answering(self, broken: bool) -> Iterator[None]:
        def take(request: PreparedRequest) -> tuple[int, dict[str, str], str]:
            asked = {name: values[0] for name, values in parse_qs(str(request.body)).items()}
            if broken:
                return 503, {}, "busy"
            text = asked.get("Body") or json.loads(asked["ContentVariables"])["1"]
            self.sent.append((asked["To"].removeprefix("whatsapp:"), text))
            return 201, {}, json.dumps({"sid": f"SM{len(self.sent)}", "status": "queued"})

        with responses.RequestsMock(assert_all_requests_are_fired=False) as network:
            network.add_callback("POST", f"https://api.twilio.com/2010-04-01/Accounts/{ACCOUNT}/Messages.json", take)
            yield


class ByWhatsApp(ByTwilio):
    """WhatsApp by Twilio, with a template for those who have been silent."""

    @classmethod
    def chosen(cls) -> dict[str, object]:
        template = {"twilio_whatsapp_template": "HX" + "1" * 32}
        return super().chosen() | {"twilio_from": "whatsapp:+15005550006"} | template

    def address(self, number: str) -> str:
        return f"whatsapp:{number}" if number.startswith("+") else number


class ByGateway(Network):
    """A phone that posts JSON and fetches what it is to send."""

    @classmethod
    def chosen(cls) -> dict[str, object]:
        return {"gateway_keys": {"office": SECRET}}

    def call(self, message_id: str, number: str, text: str, *, forged: bool = False) -> TestResponse:
        return self.post("texts", {"id": message_id, "from": number, "text": text}, forged=forged)

    def post(
        self,
        door: str,
        fields: dict[str, Any],
        *,
        forged: bool = False,
        name: str = "office",
        nonce: str = "",
        form: bool = False,
    ) -> TestResponse:
        """A signed call."""
        path = f"/carrier/gateway/{door}"
        kind = "application/x-www-form-urlencoded" if form else "application/json"
        body = (urlencode(fields) if form else json.dumps(fields)).encode()
        secret = "f" * 64 if forged else self.settings.gateway_keys[name]
        headers = signed_headers(name, secret, "POST", path, body, self.now, nonce)
        return self.app.test_client().post(path, data=body, content_type=kind, headers=headers)

    def reply(self, answered: TestResponse) -> str | None:
        said = answered.get_json()["reply"]
        assert said is None or isinstance(said, str)
        return said

    def pass_on(self, *, broken: bool = False) -> None:
        super().pass_on()
        for each in self.post("fetch", {}).get_json()["texts"]:
            if not broken:
                self.sent.append((each["to"], each["text"]))
            state = {"state": "failed", "again": True} if broken else {"state": "sent"}
            settled = self.post("receipts", {"id": each["id"], "attempt": each["attempt"], **state})
            assert settled.status_code == 200


class ByForm(ByGateway):
    """A phone that posts forms."""

    def call(self, message_id: str, number: str, text: str, *, forged: bool = False) -> TestResponse:
        return self.post("texts", {"id": message_id, "from": number, "text": text}, forged=forged, form=True)


class ByPush(ByGateway):
    """A provider's adapter that takes what is posted to it."""

    @classmethod
    def chosen(cls) -> dict[str, object]:
        return super().chosen() | {"gateway_url": "https://adapter.example/take"}

    def pass_on(self, *, broken: bool = False) -> None:
        Network.pass_on(self, broken=broken)

    @contextmanager
    def answering(self, broken: bool) -> Iterator[None]:
        def take(request: PreparedRequest) -> tuple[int, dict[str, str], str]:
            asked = json.loads(request.body or b"")
            if not broken:
                self.sent.append((asked["to"], asked["text"]))
            return 503 if broken else 202, {}, ""

        with responses.RequestsMock(assert_all_requests_are_fired=False) as network:
            network.add_callback("POST", "https://adapter.example/take", take)
            yield


class ByPractice(Network):
    """The practice phone: no network at all."""

    signed = False

    @classmethod
    def chosen(cls) -> dict[str, object]:
        return {"demonstration": True}

    def bring(self, message_id: str, number: str, text: str) -> str | None:
        return text_as(self.books, number, text, self.now, message_id=message_id).text

    def pass_on(self, *, broken: bool = False) -> None:
        send = self.carrier.sender(self.books, lambda: self.now)
        assert send is not None

        def seen(waiting):
            self.sent.append((waiting.to, waiting.text))
            return send(waiting)

        run_due(self.books, self.now, seen)


NETWORKS = (ByTwilio, ByWhatsApp, ByGateway, ByForm, ByPush, ByPractice)

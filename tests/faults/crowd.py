"""People who text all at once, by way of a carrier that repeats a delivery until it is answered."""

import http.client
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from urllib.parse import urlencode
from xml.etree import ElementTree

from twilio.request_validator import RequestValidator

from tests.faults import house
from tests.faults.house import Text

TOKEN, PUBLIC, PATH = "a-token-for-the-test", "https://bot.example.org", "/carrier/twilio"
CLIENTS = 6

#: Every so many answered texts one is delivered again, as carriers do by mistake.
REPEATED = 10


class Crowd:
    """`answers` holds what each text was answered; `faults` what no client may ever see."""

    def __init__(self, port: int, today: datetime) -> None:
        self.port, self._today = port, today
        self._validator = RequestValidator(TOKEN)
        self._more = threading.Condition()
        self._stop = threading.Event()
        self.up = threading.Event()
        self.answers: dict[str, str | None] = {}
        self.sent: dict[str, Text] = {}
        self.refused = 0
        self.faults: list[str] = []

    def wait_for(self, more: int) -> None:
        """Until so many more texts are answered. Raises AssertionError when nothing moves."""
        with self._more:
            target = len(self.answers) + more
            assert self._more.wait_for(lambda: len(self.answers) >= target or self.faults, timeout=60)
        assert self.faults == []

    def _text_for_ever(self, mine: range) -> None:
        for n, text in enumerate(house.texts(mine, self._today)):
            self.sent[text.id] = text
            if not self._answered(text) or (n % REPEATED == 0 and not self._answered(text)):
                return

    def _answered(self, text: Text) -> bool:
        """Deliver a text until it is answered; whether it was, before the end."""
        while self.up.wait(0.1) or not self._stop.is_set():
            if self._stop.is_set():
                return False
            try:
                status, body = self._deliver(text)
            except (OSError, http.client.HTTPException):
                self.refused += 1
                continue
            if status == http.HTTPStatus.OK:
                self._note(text, ElementTree.fromstring(body).findtext("Message"))
                return True
            if status != http.HTTPStatus.SERVICE_UNAVAILABLE:
                self.faults.append(f"{text.id}: {status} {body}")
                return False
        return False

    def _note(self, text: Text, reply: str | None) -> None:
        with self._more:
            if self.answers.setdefault(text.id, reply) != reply:
                self.faults.append(f"{text.id}: answered {self.answers[text.id]!r}, then {reply!r}")
            self._more.notify_all()

    def _deliver(self, text: Text) -> tuple[int, str]:
        form = {"MessageSid": text.id, "From": text.number, "To": "+447700900999", "Body": text.body}
        signature = self._validator.compute_signature(PUBLIC + PATH, form)
        headers = {"X-Twilio-Signature": signature, "Content-Type": "application/x-www-form-urlencoded"}
        line = http.client.HTTPConnection("127.0.0.1", self.port, timeout=30)
        try:
            line.request("POST", PATH, urlencode(form), headers)
            answer = line.getresponse()
            return answer.status, answer.read().decode()
        finally:
            line.close()

    @contextmanager
    def texting(self) -> Iterator["Crowd"]:
        """They text until the block ends."""
        share = house.FARMS // CLIENTS
        ranges = [range(n * share, (n + 1) * share) for n in range(CLIENTS)]
        threads = [threading.Thread(target=self._text_for_ever, args=(mine,)) for mine in ranges]
        for thread in threads:
            thread.start()
        try:
            yield self
        finally:
            self._stop.set()
            for thread in threads:
                thread.join()

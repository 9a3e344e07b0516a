"""Random calls to every door of the application: right ones, forged ones, and nonsense of every sort.

Farm 0 of the house is the one that nonsense is texted and clicked at. All other farms get clear texts only, so that it is
known to the millilitre what has to stand in their books whatever is tried against them.
"""

import json
import re
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from itertools import count
from pathlib import Path
from random import Random
from typing import Any
from urllib.parse import quote, urlencode

from flask import Flask
from twilio.request_validator import RequestValidator
from werkzeug.test import TestResponse

from bot.pages import links
from bot.settings import Settings
from tests.faults import house
from tests.faults.house import Text

TOKEN, KEY, PUBLIC, DOOR = "a-token-for-the-test", "a key for the test", "https://bot.example.org", "/carrier/twilio"
METRICS = "a-key-for-the-figures"
CORPUS = sorted(
    path
    for path in (Path(__file__).parents[1] / "corpus").glob("*-??.jsonl")
    if path.name.startswith(("own", "more", "sample"))
)
PRINTABLE = "".join(map(chr, range(32, 127)))
LETTERS = PRINTABLE + "éñđระกิโลยางលแ٣४５½²\u0000\u0008\r\n\u202e\u200b\ufeff\U0001f600\ud800"
METHODS = ("GET", "POST", "PUT", "PATCH", "DELETE", "HEAD", "OPTIONS", "TRACE", "PROPFIND", "get", "")
KINDS = (
    "", "text/plain", "application/json", "multipart/form-data; boundary=x", "application/x-www-form-urlencoded",
    "application/x-www-form-urlencoded; charset=utf-16", "text/xml; charset=\u00e9", "a" * 300,
)  # fmt: skip
ODD = (
    "", "0", "-1", "1e999", "nan", "0.00000001", "99999999999", "12.5", "3", "2026-02-30", "9999-12-31", "0001-01-01", "now",
    "take out", "<script>", "../..", "%00", "\u0661\u0668", "'; drop table entries; --", "{0.__class__}", "x" * 5000,
    "14", "S/2 d3 6d/7", "formic", "1/0", "\ud800", "infinity", "1_000", "+5", " 7 ",
)  # fmt: skip
FIELDS = (
    "key", "total", "day", "block", "litres", "kg", "drc", "price", "count", "sheets", "do", "acid", "acid_strength_percent",
    "tapping", "tapping_from", "rest_weekday", "pay_period", "summary_hour", "reminder_hour", "sheet_dry_g", "country", "as",
    "text", "of", "after", "paper", "from", "to",
)  # fmt: skip


#: Between two calls, so that the books grow as books do: some hundred calls a day.
STEP = timedelta(minutes=2)


@dataclass
class Clock:
    """The clock of the application."""

    now: datetime

    def __call__(self) -> datetime:
        return self.now


@dataclass
class Tried:
    """What was tried: how often each sort and status, every answer of 500 or more, and the texts that count."""

    sorts: Counter[str] = field(default_factory=Counter)
    statuses: Counter[int] = field(default_factory=Counter)
    faults: list[str] = field(default_factory=list)
    clear: dict[str, tuple[Text, datetime]] = field(default_factory=dict)
    signed: dict[str, tuple[str, str]] = field(default_factory=dict)
    answers: dict[str, bytes] = field(default_factory=dict)


@dataclass(frozen=True)
class Target:
    """The application with what an attacker may know: ids of another farm, and links that open farm 0 or nothing."""

    app: Flask
    settings: Settings
    own: tuple[str, str]
    other: tuple[str, str]
    lines: tuple[str, ...]
    people: tuple[str, ...]


class Fuzzer:
    """Makes calls by the dice, one after another."""

    def __init__(self, target: Target, dice: Random, clock: Clock) -> None:
        self.target, self.dice, self.clock, self.tried = target, dice, clock, Tried()
        self._client = target.app.test_client()
        self._validator = RequestValidator(TOKEN)
        self._clear = self._clear_texts()
        self._messages = [
            json.loads(line)["text"] for path in CORPUS for line in path.read_text(encoding="utf-8").splitlines()
        ]
        self._rules = sorted({rule.rule for rule in target.app.url_map.iter_rules()})
        self._ids, self._said = 0, ""

    def one(self) -> None:
        """One call of a random sort."""
        sorts: tuple[tuple[int, Callable[[], TestResponse]], ...] = (
            (5, self.clear_text),
            (2, self.repeat),
            (25, self.odd_text),
            (18, self.forged),
            (10, self.raw),
            (25, self.page),
            (15, self.form),
        )
        self.clock.now += STEP
        make = self.dice.choices([each for _, each in sorts], [weight for weight, _ in sorts])[0]
        got = make()
        self.tried.sorts[make.__name__] += 1
        self.tried.statuses[got.status_code] += 1
        if got.status_code >= 500:
            said = f"{got.request.method} {got.request.path!r} {self._said!r}"
            self.tried.faults.append(f"{make.__name__} {said}: {got.status_code} {got.data[:80]!r}")

    # The carrier's door

    def clear_text(self) -> TestResponse:
        """A text that has to be entered as it stands."""
        text = next(self._clear)
        got = self._text(text.id, text.number, text.body)
        self.tried.clear[text.id] = text, self.clock.now
        if b"<Message>" not in got.data:
            self.tried.faults.append(f"{text.id} {text.body!r} was answered {got.data!r}")
        return got

    def repeat(self) -> TestResponse:
        """A text that came before: the same answer."""
        if not self.tried.signed:
            return self.clear_text()
        message_id = self.dice.choice(list(self.tried.signed)) if len(self.tried.signed) < 500 else self._recent()
        number, body = self.tried.signed[message_id]
        before = self.tried.answers[message_id]
        got = self._text(message_id, number, body)
        if got.data != before:
            self.tried.faults.append(f"{message_id} {body!r}: answered {before!r}, then {got.data!r}")
        return got

    def odd_text(self) -> TestResponse:
        """Something signed by the carrier that somebody of farm 0, or a stranger, may have texted."""
        number = self.dice.choice(
            [
                house.number(0, house.TAPPER),
                house.number(0, house.OWNER),
                house.number(0, house.COLLECTOR),
                "+447700900999",
            ]
        )
        if self.dice.random() < 0.05:
            number = self.dice.choice(["", "+", "12345", "whatsapp:" + number, "+1" * 30, "SHOP", "\u0661"])
        return self._text(self._new_id(), number, self._odd_body())

    def forged(self) -> TestResponse:
        """A clear text for another farm's book, with a signature that is not the carrier's, or not for this."""
        farm = self.dice.randrange(1, house.FARMS)
        form = {
            "MessageSid": self._new_id("FORGED"),
            "From": house.number(farm, house.TAPPER),
            "Body": "block 3 19 litres",
        }
        signature = self._validator.compute_signature(PUBLIC + DOOR, form)
        way = self.dice.randrange(6)
        if way == 0:
            signature = self._soup(30)
        elif way == 1:
            at = self.dice.randrange(len(signature) - 2)  # the last letter before `=` holds two bits that do not count
            signature = signature[:at] + ("A" if signature[at] != "A" else "B") + signature[at + 1 :]
        elif way == 2:
            form["Body"] = "block 3 91 litres"
        elif way == 3:
            form["From"] = house.number(farm % (house.FARMS - 1) + 1, house.OWNER)
        elif way == 4:
            form[self._soup(5)] = self._soup(9)
        else:
            signature = RequestValidator(_valid(self._soup(12))).compute_signature(PUBLIC + DOOR, form)
        return self._client.post(DOOR, data=_storable(form), headers={"X-Twilio-Signature": _header(signature)})

    def raw(self) -> TestResponse:
        """Any bytes, any content type, any method, any header."""
        body = self.dice.choice(
            [
                self.dice.randbytes(self.dice.randrange(200)),
                self._soup(200).encode("utf-8", "surrogatepass"),
                b"%",
                b"=&" * 600,
            ]
        )
        headers = {
            self.dice.choice(
                ["X-Twilio-Signature", "Host", "Content-Length", "X-Forwarded-Host", "Cookie", "Range", "Accept"]
            ): (_header(self._soup(20)))
        }
        query = _query(self._soup(20)) if self.dice.random() < 0.3 else ""
        return self._client.open(
            DOOR, method=self.dice.choice(METHODS) or "GET", data=body, content_type=_header(self.dice.choice(KINDS)),
            headers=headers, query_string=query,
        )  # fmt: skip

    # The pages

    def page(self) -> TestResponse:
        """Any address that there is, or nearly, with any link."""
        path = self._path()
        query = urlencode(
            {self.dice.choice(FIELDS): self._odd_value() for _ in range(self.dice.randrange(3))}, errors="replace"
        )
        return self._client.open(
            path, method=self.dice.choice(METHODS) or "GET", query_string=query, headers=self._headers()
        )

    def form(self) -> TestResponse:
        """A form with the right key of farm 0's owner and any values, also ids of other farms."""
        rule = self.dice.choice([each for each in self._rules if "<token>" in each and not each.endswith("/links")])
        link = links.path(self.target.settings, *self.target.own)
        path = re.sub(r"<(\w+)>", lambda part: self._part(part[1]), rule.replace("/farm/<token>", link))
        key = links.form_key(self.target.settings, links.opened(self.target.settings, link.rpartition("/")[2]))
        values = {self.dice.choice(FIELDS): self._odd_value() for _ in range(self.dice.randrange(6))} | {"key": key}
        return self._client.post(path, data=_storable(values), headers={"Sec-Fetch-Site": "same-origin"})

    def _path(self) -> str:
        dice = self.dice
        if dice.random() < 0.1:
            return "/" + quote(self._soup(30).encode("utf-8", "replace")).lstrip("/")
        link = links.path(self.target.settings, *dice.choice([self.target.own, self.target.own, self.target.other]))
        if dice.random() < 0.3:
            at = dice.randrange(6, len(link))
            link = link[:at] + quote(self._soup(2).encode("utf-8", "replace")) + link[at + dice.randrange(4) :]
        path = dice.choice(self._rules).replace("/farm/<token>", link)
        return re.sub(r"<(\w+)>", lambda part: self._part(part[1]), path)

    def _part(self, name: str) -> str:
        known = {
            "entry": self.target.lines,
            "person": self.target.people,
            "name": ("1", "3", "x"),
            "form": ("csv", "xlsx", "pdf", "ics"),
        }
        if name == "what" and self.dice.random() < 0.7:
            return self.dice.choice(["day-book", "crop", "collections", "pay", "month", "year", "card"])
        if name in known and self.dice.random() < 0.7:
            return self.dice.choice(known[name])
        return quote(self._odd_value().encode("utf-8", "replace"), safe="") or "x"

    def _headers(self) -> dict[str, str]:
        names = (
            "Sec-Fetch-Site",
            "Origin",
            "Authorization",
            "Accept-Language",
            "If-None-Match",
            "Range",
            "X-HTTP-Method-Override",
        )
        values = ("same-origin", "https://evil.example", "th", "*", "bytes=0-", "Bearer x", "\u00e9")
        return {self.dice.choice(names): _header(self.dice.choice(values)) for _ in range(self.dice.randrange(3))}

    # Words

    def _text(self, message_id: str, number: str, body: str) -> TestResponse:
        form = _storable({"MessageSid": message_id, "From": number, "To": "+447700900999", "Body": body})
        self._said = f"{number[-3:]}: {body}"
        signature = self._validator.compute_signature(PUBLIC + DOOR, form)
        got = self._client.post(DOOR, data=form, headers={"X-Twilio-Signature": signature})
        if got.status_code == 200:
            self.tried.signed.setdefault(message_id, (number, body))
            self.tried.answers.setdefault(message_id, got.data)
        return got

    def _odd_body(self) -> str:
        way = self.dice.randrange(4)
        if way == 0:
            return self._soup(60)
        text = self.dice.choice(self._messages)
        if way == 1:
            return text
        for _ in range(self.dice.randrange(1, 6)):
            at = self.dice.randrange(len(text) + 1)
            text = (
                text[:at]
                + self.dice.choice(["", self._soup(1), text[at : at + 9], " 0 "])
                + text[at + self.dice.randrange(3) :]
            )
        return text * self.dice.choice([1, 1, 1, 2, 40]) if way == 3 else text

    def _odd_value(self) -> str:
        return self.dice.choice(ODD) if self.dice.random() < 0.8 else self._soup(20)

    def _soup(self, most: int) -> str:
        return "".join(self.dice.choices(LETTERS, k=self.dice.randrange(most) + 1))

    def _new_id(self, start: str = "ODD") -> str:
        self._ids += 1
        return f"{start}{self._ids}"

    def _recent(self) -> str:
        return list(self.tried.answers)[-1 - self.dice.randrange(500)]

    def _clear_texts(self) -> Iterator[Text]:
        """Block after block of the other farms; by the time that one comes again, it is another day."""
        for n in count():
            farm, block = n % (house.FARMS - 1) + 1, n // (house.FARMS - 1) % house.BLOCKS + 1
            ml = 15_000 + n * 700 % 6_000
            yield Text(f"SM{n}", house.number(farm, house.TAPPER), f"block {block} {ml / 1000:g} litres", ml, None)


def _storable(form: dict[str, str]) -> dict[str, str]:
    """As a carrier can send it: no half pairs of surrogates."""
    return {_valid(name): _valid(value) for name, value in form.items()}


def _valid(text: str) -> str:
    return text.encode("utf-8", "replace").decode()


def _header(value: str) -> str:
    return re.sub(r"[^\x20-\xff]", "?", value)


def _query(value: str) -> str:
    return quote(value.encode("utf-8", "replace"))


def plain(value: Any) -> Any:
    """Counters as JSON has them."""
    return {str(name): n for name, n in sorted(value.items())}

"""The carrier Gateway: plain HTTP for an Android phone, a modem daemon, or an adapter to another provider.

The contract, for those who write the other side, is in DEVELOPERS.md. Every call is signed (see `signing`), let in once,
and may be repeated with a new signature: a text is entered once by its id, a text to others keeps its id, and a receipt
that comes again changes nothing.
"""

import json
import logging
from collections.abc import Callable, Iterator, Mapping
from datetime import datetime, timedelta
from functools import partial
from http import HTTPStatus
from typing import Any
from urllib.parse import urlsplit

import requests
from flask import Blueprint, Response, jsonify, request
from werkzeug.exceptions import BadRequest, Conflict, Forbidden

from bot.books import Books, Transaction, alarms, gateways, messages, outbox
from bot.books.model import Waiting
from bot.carriers.carrier import Clock, Lack
from bot.carriers.gateway_forms import (
    CARRIER,
    BadForm,
    Came,
    NoCountry,
    Receipt,
    State,
    read_body,
    read_fetch,
    read_receipts,
    read_text,
)
from bot.carriers.signing import Caller, NotGenuine, checked, signed_headers
from bot.jobs import LEASE, Ask, Send, fetch, note
from bot.settings import Settings
from bot.speech.parts import count_parts
from bot.talk.answer import answer
from bot.talk.exchange import Answer, Delivery, Fate
from bot.talk.house import House

PATH = "/carrier/gateway"

#: An answer that comes later is of no use: it speaks of today.
ANSWERED_WITHIN = timedelta(hours=12)

#: Seconds to wait for a gateway when a text is posted to it.
PATIENCE = 8.0

#: Statuses of a gateway that mean: not now, and: a person has to look, but the text is not at fault.
NOT_NOW = {HTTPStatus.REQUEST_TIMEOUT, HTTPStatus.CONFLICT, HTTPStatus.TOO_EARLY, HTTPStatus.TOO_MANY_REQUESTS}
NOT_ITS_FAULT = {HTTPStatus.UNAUTHORIZED, HTTPStatus.FORBIDDEN, HTTPStatus.NOT_FOUND, HTTPStatus.METHOD_NOT_ALLOWED}

log = logging.getLogger(__name__)


class Gateway:
    """Phones and modems that pass texts on: they bring texts, fetch texts or have them posted, and give receipts."""

    name = CARRIER

    def __init__(self, settings: Settings) -> None:
        self._settings = settings

    def doors(self, books: Books, clock: Clock, house: House) -> Blueprint:
        """`texts`, `fetch` and `receipts`, all of them POST."""
        doors = Blueprint(CARRIER, __name__, url_prefix=PATH)
        acts: dict[str, Callable[[Caller, Mapping[str, Any], datetime], dict[str, Any]]] = {
            "texts": lambda caller, fields, now: self._text(books, house, caller, fields, now),
            "fetch": lambda caller, fields, now: self._fetch(books, caller, fields, now),
            "receipts": lambda caller, fields, now: _receipts(books, self._pushes, caller, fields, now),
        }

        def call(act: Callable[[Caller, Mapping[str, Any], datetime], dict[str, Any]]) -> Response:
            now = clock()
            caller = self._caller(books, now)
            try:
                return jsonify(act(caller, read_body(request.get_data(), request.content_type or ""), now))
            except BadForm as fault:
                raise BadRequest(f"{fault}. Do not send it again as it is.") from fault

        for name, act in acts.items():
            doors.add_url_rule(f"/{name}", endpoint=name, view_func=partial(call, act), methods=["POST"])
        return doors

    def sender(self, books: Books | None, clock: Clock) -> Send | None:
        """Posts to the gateway's address; None where it fetches."""
        return partial(self._push, clock) if self._pushes else None

    def asker(self, books: Books, clock: Clock) -> Ask | None:
        """Posting again asks: the gateway knows a text by its id and does not pass it on twice. One that fetches is asked by
        being given the same text again, for as long as its lease is renewed.
        """
        return _ask_by_posting if self._pushes else None

    def lacks(self) -> Iterator[Lack]:
        """What is unencrypted: texts hold names and figures."""
        if self._settings.public_url and urlsplit(self._settings.public_url).scheme != "https":
            yield Lack("texts come in unencrypted", "Put TLS before it and begin TAPPING_LOG_PUBLIC_URL with https.")
        away = urlsplit(self._settings.gateway_url or "")
        if away.scheme == "http" and away.hostname not in ("localhost", "127.0.0.1", "::1"):
            yield Lack("texts go to the gateway unencrypted", "Begin TAPPING_LOG_GATEWAY_URL with https.")

    def says(self) -> str:
        """Who may call, and how texts go out."""
        names = ", ".join(self._settings.gateway_keys)
        out = f"are posted to {self._settings.gateway_url}" if self._pushes else "are fetched by them"
        return f"texts come in from the gateways {names}; texts to others {out}"

    @property
    def _pushes(self) -> bool:
        return bool(self._settings.gateway_url)

    @property
    def _sends_to_others(self) -> bool:
        """Whether texts to others go out by gateways, and not by another carrier."""
        return self._settings.sends_by in (None, CARRIER)

    def _caller(self, books: Books, now: datetime) -> Caller:
        """Who calls, if the call is genuine and did not come before."""
        query = request.query_string.decode("latin-1")
        before = urlsplit(self._settings.public_url or "").path
        path = before + request.path + (f"?{query}" if query else "")
        try:
            caller = checked(
                self._settings.gateway_keys, dict(request.headers), request.method, path, request.get_data(), now
            )
        except NotGenuine as fault:
            log.warning("refused a call of a gateway: %s", fault)
            raise Forbidden(f"{fault} Nothing was done; mend it and send again.") from fault
        if not books.run_transaction(lambda tx: gateways.note_call(tx, caller.name, caller.nonce, at=now)):
            log.warning("refused a call of the gateway %s: it came before", caller.name)
            raise Forbidden("This very call came before. To send again, sign it anew with another nonce.")
        return caller

    def _text(
        self, books: Books, house: House, caller: Caller, fields: Mapping[str, Any], now: datetime
    ) -> dict[str, Any]:
        try:
            came = read_text(fields, caller.name, now, self._settings.gateway_country)
        except NoCountry as fault:
            line = f"The gateway {caller.name} gives numbers without country: set TAPPING_LOG_GATEWAY_COUNTRY."
            books.run_transaction(lambda tx: alarms.sound(tx, number="", kind=CARRIER, line=line, at=now))
            raise fault
        if came is None:
            log.info("ignored a text from a sender without a number")
            return {"id": fields["id"], "outcome": "ignored", "reply": None, "parts": 0, "repeat": False}
        said = answer(books, came.incoming, now, house)
        if said.repeat and not books.run_transaction(lambda tx: _is_same(tx, came)):
            raise Conflict("This id was used for a text of somebody else. Do not send it again as it is.")
        put = came.by_outbox and self._sends_to_others
        if put and said.text:
            books.run_transaction(lambda tx: _put_answer(tx, came, said, now))
        return {
            "id": fields["id"],
            "outcome": said.kind.value,
            "reply": None if put else said.text,
            "parts": said.parts,
            "repeat": said.repeat,
        }

    def _fetch(self, books: Books, caller: Caller, fields: Mapping[str, Any], now: datetime) -> dict[str, Any]:
        most, again = read_fetch(fields)
        found: list[Waiting] = []
        if self._sends_to_others and not self._pushes:
            found = fetch(books, now, caller.name, most, again=again, parts_per_day=self._settings.parts_per_day)
        return {"texts": [_plain(each) for each in found], "lease_seconds": int(LEASE.total_seconds())}

    def _push(self, clock: Clock, waiting: Waiting) -> Delivery:
        """Post a text, signed with the first key. It may be posted again: the gateway knows it by its id."""
        url = str(self._settings.gateway_url)
        parts = urlsplit(url)
        path = (parts.path or "/") + (f"?{parts.query}" if parts.query else "")
        body = json.dumps(_plain(waiting)).encode()
        name, secret = next(iter(self._settings.gateway_keys.items()))
        headers = signed_headers(name, secret, "POST", path, body, clock()) | {"Content-Type": "application/json"}
        try:
            with requests.post(
                url, data=body, headers=headers, timeout=PATIENCE, allow_redirects=False, stream=True
            ) as taken:
                return _fate(taken.status_code, waiting)
        except requests.RequestException as fault:
            return Delivery(Fate.LATER, code=type(fault).__name__)


def _ask_by_posting(_waiting: Waiting) -> Delivery:
    """It is posted once more."""
    return Delivery(Fate.LATER, code="unknown")


def _fate(status: int, waiting: Waiting) -> Delivery:
    """What to do about the gateway's status."""
    if HTTPStatus.OK <= status < HTTPStatus.MULTIPLE_CHOICES:
        return Delivery(Fate.SENT, carrier_id=waiting.id)
    if status in NOT_NOW or status >= HTTPStatus.INTERNAL_SERVER_ERROR:
        return Delivery(Fate.LATER, code=str(status))
    if status in NOT_ITS_FAULT or status < HTTPStatus.BAD_REQUEST:
        alarm = f"the gateway answers {status}: check TAPPING_LOG_GATEWAY_URL and its secret"
        return Delivery(Fate.LATER, code=str(status), alarm=alarm)
    return Delivery(Fate.NEVER, code=str(status), alarm=f"the gateway refused a text with {status}")


def _plain(waiting: Waiting) -> dict[str, Any]:
    """A text to others as the contract has it."""
    return {
        "id": waiting.id,
        "to": waiting.to,
        "text": waiting.text,
        "parts": count_parts(waiting.text).parts,
        "attempt": waiting.attempts,
        "not_after": None if waiting.not_after is None else waiting.not_after.isoformat(),
    }


def _is_same(tx: Transaction, came: Came) -> bool:
    """Whether the stored text of this id came from the same number. (The words of one with a PIN are not kept.)"""
    stored = messages.message(tx, came.incoming.id)
    return stored is not None and stored.number == came.incoming.sender


def _put_answer(tx: Transaction, came: Came, said: Answer, now: datetime) -> None:
    """The answer as a text that waits, once. Its parts are counted with the text that it answers."""
    outbox.put(
        tx,
        to=came.incoming.sender,
        text=str(said.text),
        parts=0,
        because=None,
        key=f"answer>{came.incoming.id}",
        due_at=now,
        created_at=now,
        not_after=now + ANSWERED_WITHIN,
    )


def _receipts(books: Books, pushes: bool, caller: Caller, fields: Mapping[str, Any], now: datetime) -> dict[str, Any]:
    receipts = read_receipts(fields)

    def settle(tx: Transaction) -> list[dict[str, str]]:
        return [{"id": each.id, "state": _settle(tx, pushes, caller, each, now)} for each in receipts]

    return {"receipts": books.run_transaction(settle)}


def _settle(tx: Transaction, pushes: bool, caller: Caller, receipt: Receipt, now: datetime) -> str:
    """What is known of a text after a receipt; `unknown` for one that this gateway was never given.

    That it went out is believed whenever it is said. That it failed counts for the attempt that is on its way or was the
    last, and not once it was delivered.
    """
    waiting = outbox.outgoing(tx, receipt.id)
    if waiting is None or not (waiting.gateway == caller.name or (pushes and waiting.gateway is None)):
        return "unknown"
    if receipt.state is not State.FAILED:
        if waiting.state != "sent":
            outbox.sent(tx, waiting.id, receipt.carrier_id or f"{caller.name}.{waiting.id}", at=now)
        if receipt.state is State.DELIVERED:
            outbox.delivered(tx, waiting.id, at=now)
    elif _may_have_failed(waiting, receipt):
        note(tx, waiting, Delivery(Fate.LATER if receipt.again else Fate.NEVER, code=receipt.code), now)
    known = outbox.outgoing(tx, receipt.id) or waiting
    return "delivered" if known.delivered_at is not None and known.state == "sent" else known.state


def _may_have_failed(waiting: Waiting, receipt: Receipt) -> bool:
    current = waiting.state in ("sending", "unsure", "sent") and waiting.delivered_at is None
    return current and receipt.attempt in (None, waiting.attempts)

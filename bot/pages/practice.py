"""The practice phone: choose a person of the demonstration, text as he does, see what is answered and what it costs."""

import secrets
from collections.abc import Callable
from datetime import datetime
from urllib.parse import urlencode, urlsplit

from flask import Blueprint, abort, redirect, render_template, request
from flask.typing import ResponseReturnValue

from bot.books import Books, farms, messages, people
from bot.talk.answer import answer
from bot.talk.exchange import Incoming

Clock = Callable[[], datetime]

#: How many of the person's latest texts are shown, and how long a text may be.
SHOWN, LONGEST = 8, 1600


def pages(books: Books, clock: Clock) -> Blueprint:
    """The practice phone over these books."""
    blueprint = Blueprint("practice", __name__)

    @blueprint.get("/practice")
    def phone() -> ResponseReturnValue:
        return _shown(books, request.args.get("as", ""))

    @blueprint.post("/practice")
    def send() -> ResponseReturnValue:
        _same_origin()
        number, text = request.form.get("as", ""), request.form.get("text", "").strip()[:LONGEST]
        if text:
            now = clock()
            answer(books, Incoming(f"practice-{secrets.token_hex(8)}", number, text, now, now, "practice"), now)
        return redirect(f"/practice?{urlencode({'as': number})}", code=303)

    return blueprint


def _same_origin() -> None:
    """A form of another site may not text for anybody."""
    origin = request.headers.get("Origin")
    if origin not in (None, "null") and urlsplit(origin).netloc != request.host:
        abort(403, "This form belongs to another site.")


def _shown(books: Books, number: str) -> str:
    with books.transaction() as tx:
        houses = [(farm, people.members(tx, farm.id)) for farm in farms.all_farms(tx)]
        latest = [
            (message, messages.to_others_of(tx, message.id)) for message in messages.latest_from(tx, number, SHOWN)
        ]
    return render_template("practice.html", houses=houses, number=number, latest=latest, longest=LONGEST)

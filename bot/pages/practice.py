"""The practice phone: choose a person of the demonstration, text as he does, see what is answered and what it costs."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from urllib.parse import urlencode, urlsplit
from zoneinfo import ZoneInfo

from flask import Blueprint, Response, abort, make_response, redirect, render_template, request
from flask.typing import ResponseReturnValue

from bot.books import Books, Transaction, cooperatives, farms, messages, outbox, people
from bot.books.cooperatives import Cooperative
from bot.books.model import Farm, Membership, Person, StoredMessage, Waiting
from bot.carriers.practice import text_as
from bot.talk.house import PLAIN, House

Clock = Callable[[], datetime]

#: How many lines are shown, how far back unasked texts are looked for, and letters of a text as a carrier takes them.
SHOWN, BACK, LONGEST = 8, timedelta(days=8), 1600

#: A number that nobody has: what a stranger is answered can be tried too.
STRANGER = "+447700900999"

#: How `Sec-Fetch-Site` names a page of ours, or somebody who typed the address.
OURS = ("same-origin", "none")


@dataclass(frozen=True)
class Line:
    """A line of the phone's page: what its owner texted (None: nothing, he was told unasked) and what he was told."""

    at: datetime
    said: str | None
    told: str | None
    parts: int
    others: tuple[tuple[str, Waiting], ...] = ()


@dataclass(frozen=True)
class Phone:
    """The phone that is looked at: its number, whose it is (None: a stranger's), and the zone of his farm."""

    number: str
    person: Person | None
    zone: ZoneInfo


def pages(books: Books, clock: Clock, house: House = PLAIN) -> Blueprint:
    """The practice phone over these books."""
    blueprint = Blueprint("practice", __name__)

    @blueprint.get("/practice")
    def phone() -> ResponseReturnValue:
        return _kept_to_ourselves(_page(books, request.args.get("as", ""), clock()))

    @blueprint.post("/practice")
    def send() -> ResponseReturnValue:
        refuse_other_sites()
        number, text = request.form.get("as", ""), request.form.get("text", "").strip()[:LONGEST]
        if not any(number == known for known in _numbers(books)):
            abort(400, "There is no such phone in this demonstration.")
        if text:
            text_as(books, number, text, clock(), house=house)
        return redirect(f"/practice?{urlencode({'as': number})}", code=303)

    return blueprint


def refuse_other_sites() -> None:
    """A form on another site may not text for anybody; a browser says where its form comes from in one of these ways."""
    site, origin = (
        request.headers.get("Sec-Fetch-Site"),
        request.headers.get("Origin") or request.headers.get("Referer"),
    )
    from_us = site in OURS if site else urlsplit(origin or "").netloc == request.host
    if not from_us:
        abort(403, "This form did not come from the practice phone itself. Open the practice phone and send it there.")


def _kept_to_ourselves(page: str) -> Response:
    """The page, allowed to say to our own site that its form comes from us; to others it says nothing."""
    response = make_response(page)
    response.headers["Referrer-Policy"] = "same-origin"
    return response


def _numbers(books: Books) -> list[str]:
    with books.transaction() as tx:
        managers = [person.number for one, found in _offices(tx) for person in found]
        return [STRANGER, *(each.person.number for each in people.everybody(tx)), *managers]


def _offices(tx: Transaction) -> list[tuple[Cooperative, list[Person]]]:
    """Each cooperative with its managers."""
    return [(one, cooperatives.managers(tx, one.id)) for one in cooperatives.everyone(tx)]


def _page(books: Books, number: str, now: datetime) -> str:
    with books.transaction() as tx:
        houses = [(farm, people.members(tx, farm.id)) for farm in farms.all_farms(tx)]
        offices = _offices(tx)
        phone = _phone(houses, offices, number)
        lines = _lines(tx, phone, now)
    shown = {"houses": houses, "offices": offices, "phone": phone, "lines": lines}
    return render_template("practice.html", longest=LONGEST, stranger=STRANGER, roles=_roles, **shown)


def _phone(
    houses: Sequence[tuple[Farm, Sequence[Membership]]],
    offices: Sequence[tuple[Cooperative, Sequence[Person]]],
    number: str,
) -> Phone:
    """The phone of that number, or the first of all where none is named."""
    known = [(each.person, ZoneInfo(farm.timezone)) for farm, members in houses for each in members]
    known += [(person, ZoneInfo(one.timezone)) for one, managers in offices for person in managers]
    mine = [(person, zone) for person, zone in known if person.number == number]
    if number == STRANGER or not known:
        return Phone(STRANGER, None, known[0][1] if known else ZoneInfo("UTC"))
    person, zone = (mine or known)[0]
    return Phone(person.number, person, zone)


def _roles(members: Sequence[Membership]) -> list[tuple[Person, str]]:
    """Everybody of a farm once, with all that he is there."""
    found: dict[str, tuple[Person, list[str]]] = {}
    for each in members:
        blocks = f" of {', '.join(each.blocks)}" if each.blocks else ""
        found.setdefault(each.person.number, (each.person, []))[1].append(f"{each.role.value}{blocks}")
    return [(person, ", ".join(roles)) for person, roles in found.values()]


def _lines(tx: Transaction, phone: Phone, now: datetime) -> list[Line]:
    """What went to and from the phone, newest first."""
    texted = [_texted(tx, each, phone.zone) for each in messages.latest_from(tx, phone.number, SHOWN)]
    unasked = [
        Line(each.created_at.astimezone(phone.zone), None, each.text, each.parts)
        for each in outbox.listing(tx, now - BACK, now + timedelta(minutes=1))
        if each.to == phone.number
    ]
    return sorted([*texted, *unasked], key=lambda line: line.at, reverse=True)[:SHOWN]


def _texted(tx: Transaction, message: StoredMessage, zone: ZoneInfo) -> Line:
    others = tuple((_name(tx, each.to), each) for each in messages.to_others_of(tx, message.id))
    return Line(message.arrived.astimezone(zone), message.text, message.reply, message.parts or 0, others)


def _name(tx: Transaction, number: str) -> str:
    person = people.person_by_number(tx, number)
    return person.name if person is not None else number

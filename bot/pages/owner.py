"""The owner's page: a week of his farm, reached through a signed link that expires. A link shows one farm and no other."""

import secrets
from collections.abc import Callable
from datetime import date, datetime, timedelta
from importlib import resources
from zoneinfo import ZoneInfo

from flask import Blueprint, Response, abort, render_template, request
from itsdangerous import BadSignature, SignatureExpired, URLSafeTimedSerializer

from bot.books import Books, entries, farms, people
from bot.pages.picture import bars
from bot.settings import Settings
from bot.speech import say
from bot.speech.language import tongue
from bot.talk.desk import log_day
from bot.week import figures, words
from parsers.reading import Role

Clock = Callable[[], datetime]

#: How long a link opens the page, in seconds.
LINK_LASTS = 30 * 24 * 3600

#: Signs links where no key is set: they then last until the program is started again.
_OWN_KEY = secrets.token_hex(16)


def signer(settings: Settings) -> URLSafeTimedSerializer:
    """Signs and checks links."""
    return URLSafeTimedSerializer(settings.link_key or _OWN_KEY, salt="owner-page")


def link(settings: Settings, farm_id: str, person_id: str) -> str:
    """The path of the page for an owner of a farm."""
    return f"/farm/{signer(settings).dumps([farm_id, person_id])}"


def pages(settings: Settings, books: Books, clock: Clock) -> Blueprint:
    """The owner's pages over these books."""
    blueprint = Blueprint("owner", __name__)

    @blueprint.get("/look.css")
    def look() -> Response:
        sheet = resources.files("bot.pages").joinpath("look/look.css").read_text(encoding="utf-8")
        return Response(sheet, content_type="text/css; charset=utf-8", headers={"Cache-Control": "max-age=3600"})

    @blueprint.get("/farm/<token>")
    def week(token: str) -> str:
        farm_id, person_id = _opened(settings, token)
        return _week(books, farm_id, person_id, token, clock())

    if settings.demonstration:

        @blueprint.get("/owner")
        def owners() -> str:
            with books.transaction() as tx:
                found = [
                    (each.person.name, farms.farm(tx, each.farm_id).name, link(settings, each.farm_id, each.person.id))
                    for each in people.everybody(tx)
                    if each.role is Role.OWNER
                ]
            return render_template("owners.html", owners=found)

    return blueprint


def _opened(settings: Settings, token: str) -> tuple[str, str]:
    try:
        farm_id, person_id = signer(settings).loads(token, max_age=LINK_LASTS)
    except SignatureExpired:
        abort(403, "This link has expired. Ask for a new one.")
    except (BadSignature, ValueError):
        abort(403, "This link is not one of ours. Ask for a new one.")
    return str(farm_id), str(person_id)


def _week(books: Books, farm_id: str, person_id: str, token: str, now: datetime) -> str:
    with books.transaction() as tx:
        owner = next(
            (e.person for e in people.members(tx, farm_id) if e.person.id == person_id and e.role is Role.OWNER), None
        )
        if owner is None or owner.blocked_at is not None:
            abort(403, "This link does not open this farm any more.")
        farm = farms.farm(tx, farm_id)
        first = _monday(request.args.get("of"), log_day(now.astimezone(ZoneInfo(farm.timezone))))
        last = first + timedelta(days=6)
        week = figures.gather(tx, farm, first, last)
        before = figures.gather(tx, farm, first - timedelta(days=7), first - timedelta(days=1))
        lines = entries.all_entries(tx, farm_id, first=first, last=last)
        replaced = {entry.replaces: entry for entry in lines if entry.replaces}
        members = people.members(tx, farm_id)
        summary = words.summary(tx, farm, tongue(owner.language), first, last)
    by_day = [
        (
            first + timedelta(days=n),
            float(sum(e.record.litres or 0 for e in week.entries if e.record.day == first + timedelta(days=n))),
        )
        for n in range(7)
    ]
    return render_template(
        "week.html",
        farm=farm,
        owner=owner,
        week=week,
        before=before,
        summary=summary,
        lines=lines,
        replaced=replaced,
        members=members,
        by_day=by_day,
        picture=bars([(f"{day:%a}", litres) for day, litres in by_day]),
        line=lambda entry: say.line(tongue("en"), entry.record, last),
        token=token,
        earlier=first - timedelta(days=7),
        later=first + timedelta(days=7),
    )


def _monday(written: str | None, today: date) -> date:
    try:
        day = date.fromisoformat(written) if written else today
    except ValueError:
        abort(400, "Write the day like 2026-03-09.")
    return day - timedelta(days=day.weekday())

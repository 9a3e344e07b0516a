"""A collector who meets nobody: the farm counts as visited, nothing was taken, and its people hear of it."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime, timedelta
from typing import TYPE_CHECKING

from bot.books import places, visits
from bot.speech.language import Tongue, tongue
from bot.talk.desk import DAYS_IN_VIEW, Desk, Outcome, Told
from bot.talk.exchange import Kind
from parsers import taking
from parsers.reading import Intent, Reading, What

if TYPE_CHECKING:
    from bot.talk.rounds import Collector

#: So many words may stand before a farm's name (`at`, `the house of`).
BEFORE_A_NAME = 3

WEEK = timedelta(days=7)

#: What an `undo` holds that speaks of a line of a book.
OF_LINES = ("kg", "sheets", "litres", "block", "number", "grade", "person")


def nobody(collector: Collector) -> Outcome | None:
    """`nobody at Ama Ridge`, `nobody home ama, yaw`; with `cancel` before it, it was not so. None for any other text."""
    words = collector.desk.house.words
    kind, rest = taking.opening(collector.desk.message.text, words)
    cancels = kind == "cancel"
    if cancels:
        kind, rest = taking.opening(rest, words)
    if kind != "nobody" or collector.cooperative is None or collector.facts.has("kg", "sheets", "litres"):
        return None
    at = _farms(collector, rest)
    if not at:
        return _where(collector) if collector.only else None
    if cancels:
        return _withdrawn(collector, at)
    sold = [each for each in at if _taken(each)]
    if sold:
        text = collector.desk.tongue.say("{farm} was taken from today. Nothing entered.", farm=sold[0].farm.name)
        return Outcome(Kind.REFUSED, text)
    return _enter(collector, at)


def _farms(collector: Collector, rest: str) -> list[Desk]:
    """The farms that are named, or else the only one of the place where he is."""
    named = [collector.names[fact.name] for fact in collector.facts.of("farm") if fact.name in collector.names]
    if not named and rest.strip():
        pieces = rest.split()
        tries = (" ".join(pieces[n:]) for n in range(min(BEFORE_A_NAME, len(pieces))))
        found = next((desk for each in tries if (desk := collector.farm(each)) is not None), None)
        named = [] if found is None else [found]
    here = collector.here() if not rest.strip() else []
    return list({each.farm.id: each for each in named or (here if len(here) == 1 else [])}.values())


def _where(collector: Collector) -> Outcome:
    near = collector.here() or list(collector.desks)
    known = collector.desk.tongue.alternatives(each.farm.name for each in near[:5])
    return Outcome(Kind.ASKED, collector.desk.tongue.say("Nobody at which farm: {options}?", options=known))


def _taken(desk: Desk) -> bool:
    """Whether something was taken from the farm on that day already."""
    return any(each.record.what is What.COLLECTED and each.record.day == desk.today for each in desk.view)


def _enter(collector: Collector, at: Sequence[Desk]) -> Outcome:
    house = collector.cooperative
    assert house is not None
    new = [
        each
        for each in at
        if visits.add(
            each.tx,
            house.id,
            each.farm.id,
            each.me.id,
            day=each.today,
            at=each.sent,
            message_id=each.message.id,
        )
    ]
    names = collector.desk.tongue.several(each.farm.name for each in at)
    text = collector.desk.tongue.say(
        "Noted: nobody at {farms}. They are told. Not so? Text: cancel nobody {farm}", farms=names, farm=at[0].farm.name
    )
    told = [word for each in new for word in _told(collector, each)]
    return Outcome(Kind.ENTERED if new else Kind.ANSWERED, text, tuple(told))


def _told(collector: Collector, desk: Desk) -> list[Told]:
    """Word to the owners and tappers of a farm where nobody was met."""
    following = _next_round(collector, desk)
    found = []
    for person in dict.fromkeys([*desk.owners(), *desk.tappers()]):
        speech = tongue(person.language)
        text = speech.say(
            "{name} was at {farm} {day} at {time} and met nobody: nothing was taken.",
            name=desk.me.name,
            farm=desk.farm.name,
            day=speech.day(desk.today, desk.now.astimezone(desk.sent.tzinfo).date()),
            time=speech.clock(desk.sent),
        )
        found.append(Told(person, " ".join([text, *_following(speech, following)])))
    return found


def _following(speech: Tongue, day: date | None) -> list[str]:
    if day is None:
        return []
    return [speech.say("Next round: {day}.", day=f"{speech.weekday(day)} {speech.date(day)}")]


def _next_round(collector: Collector, desk: Desk) -> date | None:
    """The next day on which a round leads to a place of the farm; None where none does."""
    assert collector.cooperative is not None
    own = {each.id for each in collector.places if desk.farm.id in each.farm_ids}
    weekdays = {each.weekday for each in places.rounds(desk.tx, collector.cooperative.id) if own & set(each.place_ids)}
    ahead = (desk.today + timedelta(days=n) for n in range(1, WEEK.days + 1))
    return next((day for day in ahead if day.weekday() in weekdays), None)


def _withdrawn(collector: Collector, at: Sequence[Desk]) -> Outcome:
    return _taken_back(collector, [(each, each.today) for each in at])


def undone(collector: Collector, reading: Reading) -> Outcome | None:
    """`undo` where the last that he texted was that nobody was at home; None where it takes something else out.

    Of a text about several farms all visits are taken back, or that of the farm which he names.
    """
    if reading.intent is not Intent.UNDO or collector.cooperative is None or collector.facts.has(*OF_LINES):
        return None
    named = {collector.names[fact.name].farm.id for fact in collector.facts.of("farm") if fact.name in collector.names}
    by_id = {desk.farm.id: desk for desk in collector.desks if not named or desk.farm.id in named}
    first = collector.desk.today - timedelta(days=DAYS_IN_VIEW)
    told = [
        each
        for each in visits.newest(collector.desk.tx, collector.cooperative.id, collector.desk.me.id, first)
        if each.farm_id in by_id and each.at <= collector.desk.sent
    ]
    if not told or any(_is_later(desk, told[0].at) for desk in by_id.values()):
        return None
    last = [each for each in reversed(told) if each.message_id == told[0].message_id]
    return _taken_back(collector, [(by_id[each.farm_id], each.day) for each in last])


def _is_later(desk: Desk, at: datetime) -> bool:
    """Whether a line of his at a farm came after a moment."""
    return any(at < each.entered_at <= desk.sent for each in desk.view if each.by.id == desk.me.id)


def _taken_back(collector: Collector, at: Sequence[tuple[Desk, date]]) -> Outcome:
    gone = [desk for desk, day in at if visits.withdraw(desk.tx, desk.farm.id, desk.me.id, day=day, at=desk.sent)]
    if not gone:
        return Outcome(Kind.ANSWERED, collector.desk.tongue.say("There is no entry of yours to take out."))
    told = []
    for each in gone:
        for person in dict.fromkeys([*each.owners(), *each.tappers()]):
            speech = tongue(person.language)
            text = speech.say("{name} took back that nobody was met at {farm}.", name=each.me.name, farm=each.farm.name)
            told.append(Told(person, text))
    names = collector.desk.tongue.several(each.farm.name for each in gone)
    text = collector.desk.tongue.say("Taken back: nobody at {farms}.", farms=names)
    return Outcome(Kind.REMOVED, text, tuple(told))

"""What a collector is told of places and rounds: what is ready, farm by farm, what still dries, and what is in dispute.

Two parts at most: what does not fit is left out from the end, drying sheets first, then farms with the least.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from decimal import Decimal
from typing import TYPE_CHECKING

from bot.books import disputes, entries
from bot.books.model import Farm
from bot.books.places import Place, meant, rounds_of
from bot.reckon import takes
from bot.reckon.wages import exponent
from bot.reckon.waiting import Waiting, waiting
from bot.speech import say
from bot.speech.fitting import fits, fitting
from bot.speech.language import Tongue
from bot.talk.desk import Desk, Outcome
from bot.talk.exchange import Kind
from bot.week.waiting_words import ready_words
from parsers.reading import Query, Record, What
from parsers.taking import Lot

if TYPE_CHECKING:
    from bot.talk.rounds import Collector

#: Farms that a question names.
MOST_NAMES = 5


def arrived(collector: Collector, record: Record) -> Outcome:
    """Note where he is, and tell what is ready there; a place that is not known, or not his, is asked about."""
    desk = collector.desk
    place = meant(collector.places, record.place or "")
    own = _own_places(collector)
    if place is None or place not in own:
        text = desk.tongue.say("I know no place {name} of yours.", name=f'"{record.place or ""}"')
        known = desk.tongue.several(f"{each.number} {each.name}" for each in own)
        return Outcome(Kind.ASKED, f"{text} {known}".strip())
    at = next(each for each in collector.desks if each.farm.id in place.farm_ids)
    here = record.with_(place=place.name)
    standing = [each for each in at.view if each.record == here and each.by.id == at.me.id]
    if not standing:
        entries.enter(
            desk.tx,
            farm_id=at.farm.id,
            message_id=desk.message.id,
            by=desk.me,
            via=None,
            record=here,
            entered_at=desk.sent,
        )
    return Outcome(Kind.ENTERED, _closed_now(desk, place) + place_line(collector, place, desk.today))


def _closed_now(desk: Desk, place: Place) -> str:
    """A word on the hours of a place where he is outside of them."""
    clock = desk.sent.strftime("%H:%M")
    shut = (place.opens is not None and clock < place.opens) or (place.closes is not None and clock > place.closes)
    return desk.tongue.say("Open {hours}.", hours=hours(place)) + " " if shut else ""


def hours(place: Place) -> str:
    """`06:00-10:30`; empty for a place without hours."""
    return f"{place.opens or ''}-{place.closes or ''}" if place.opens or place.closes else ""


def _own_places(collector: Collector) -> list[Place]:
    """Places where at least one of his farms brings to."""
    farm_ids = {desk.farm.id for desk in collector.desks}
    return [place for place in collector.places if farm_ids & set(place.farm_ids)]


def ready(collector: Collector) -> Outcome:
    """What is ready at the place or farm that is named, or else on the round of the day that is named, or of today."""
    desk = collector.desk
    day = _day_asked(collector)
    farm_ids = {
        collector.names[fact.name].farm.id for fact in collector.facts.of("farm") if fact.name in collector.names
    }
    if farm_ids:
        named = [each for each in collector.desks if each.farm.id in farm_ids]
        return Outcome(Kind.ANSWERED, fitting(*_lines(desk.tongue, named, day)))
    own = _own_places(collector)
    said = desk.message.text.casefold()
    place = next((each for each in own if each.name.casefold() in said), None) or _by_number(collector, own)
    if place is not None:
        return Outcome(Kind.ANSWERED, place_line(collector, place, day))
    return Outcome(Kind.ANSWERED, round_line(collector, day))


def _day_asked(collector: Collector) -> date:
    """The day that is asked about: `tomorrow`, a weekday or date that lies ahead, or else today."""
    today = collector.desk.today
    for fact in collector.facts.of("day", "ahead"):
        if fact.day is not None and fact.day.day is not None:
            return _ahead(fact.day.day, today)
        offset = collector.facts.items[fact.at].tags.get("day")
        if isinstance(offset, int):
            return today + timedelta(days=max(0, offset))
    return today


def _ahead(day: date, today: date) -> date:
    """A weekday that was read as the last one is the next one here: what is asked lies ahead."""
    return day if day >= today else day + timedelta(days=7) if day > today - timedelta(days=7) else today


def taken(collector: Collector, asked: Query) -> Outcome:
    """What he took, farm by farm, with the sum: `18 Mar: Ama Ridge 24 sheets, Yaw 10 sheets. 2: 16.1 kg, 24.40 USD.`"""
    desk = collector.desk
    first, last = asked.first or desk.today, asked.last or desk.today
    found = [
        (each, entry)
        for each in collector.desks
        for entry in entries.standing(each.tx, each.farm.id, first=first, last=last, what=What.COLLECTED)
        if each.is_mine(entry.by.id)
    ]
    when = desk.tongue.day(first, desk.today) if first == last else desk.tongue.days(first, last)
    if not found:
        return Outcome(Kind.ANSWERED, desk.tongue.say("{head}: nothing was collected.", head=when))
    paid = sum((takes.paid_kg(entry) for _, entry in found), Decimal(0))
    money = sum((takes.amount(each.farm, entry) or Decimal(0) for each, entry in found), Decimal(0))
    lines = [f"{each.farm.name} {say.amount(desk.tongue, entry.record)}" for each, entry in found]
    total = f"{desk.tongue.number(paid)} kg, {desk.tongue.fixed(money, exponent(desk.farm))} {desk.farm.currency}."
    return Outcome(Kind.ANSWERED, fitting([f"{when}: {len(found)} = {total}"], [f"{line}." for line in lines]))


def _by_number(collector: Collector, own: Sequence[Place]) -> Place | None:
    numbers = [fact.value for fact in collector.facts.of("number")]
    return next((each for each in own if each.number in numbers), None)


def round_line(collector: Collector, day: date) -> str:
    """The places of a day's round in their order, with what is ready at each; those with nothing are named last."""
    desk = collector.desk
    stops = rounds_of(desk.tx, desk.me.id).get(day.weekday(), ())
    by_id = {place.id: place for place in collector.places}
    route = [by_id[place_id] for place_id in stops if place_id in by_id]
    if not route:
        return desk.tongue.say("No round {day}.", day=desk.tongue.day(day, desk.today))
    long, short, none = [], [], []
    for place in route:
        found = [
            (each.farm, waiting(desk.tx, each.farm, day)) for each in collector.desks if each.farm.id in place.farm_ids
        ]
        full = [(farm, what) for farm, what in found if what.anything]
        if not full:
            none.append(place.name)
            continue
        named = desk.tongue.several(f"{farm.name} {ready_words(desk.tongue, what)}" for farm, what in full)
        long.append(f"{place.number} {place.name}: {named}.")
        short.append(f"{place.number} {place.name}: {ready_words(desk.tongue, _together([what for _, what in full]))}.")
    empty = [desk.tongue.say("Nothing at {places}.", places=desk.tongue.several(none))] if none else []
    return fitting(long, empty) if fits(long) else fitting(short, empty)


def _together(found: Sequence[Waiting]) -> Waiting:
    weight, litres, kilos = found[0].weight, found[0].latex, found[0].lump
    for each in found[1:]:
        weight, litres, kilos = weight.plus(each.weight), litres + each.latex, kilos + each.lump
    return Waiting(sum(each.sheets for each in found), weight, latex=litres, lump=kilos)


def place_line(collector: Collector, place: Place, day: date) -> str:
    """`Lower Gate: Ama 24 sheets 12.1 kg, Yaw 10 sheets 5.0 kg. Esi: Fri.` and what is in dispute from last time."""
    desks = [desk for desk in collector.desks if desk.farm.id in place.farm_ids]
    ready_now, later = _lines(collector.desk.tongue, desks, day)
    return fitting([f"{place.name}:", *ready_now], later)


def _lines(speech: Tongue, desks: Sequence[Desk], day: date) -> tuple[list[str], list[str]]:
    """What has to be said of some farms: what is ready and in dispute; and what may be left out: what still dries."""
    found = [(desk.farm, waiting(desk.tx, desk.farm, day)) for desk in desks]
    full = sorted((pair for pair in found if pair[1].anything), key=_size, reverse=True)
    said = [f"{farm.name} {ready_words(speech, what)}" for farm, what in full]
    first = [f"{each}{',' if n + 1 < len(said) else '.'}" for n, each in enumerate(said)]
    first = first or [speech.say("nothing ready.")]
    open_ones = [line for desk in desks for line in _in_dispute(desk, speech)]
    drying = [
        f"{farm.name}: {speech.count('{n} sheet dry {day}.', '{n} sheets dry {day}.', what.drying, day=_when(speech, what))}"
        for farm, what in found
        if what.drying and what.dry_on is not None
    ]
    return [*first, *open_ones], drying


def _size(pair: tuple[Farm, Waiting]) -> float:
    what = pair[1]
    return what.weight.kg + float(what.latex) + float(what.lump)


def _when(speech: Tongue, what: Waiting) -> str:
    assert what.dry_on is not None
    return f"{speech.weekday(what.dry_on)} {speech.date(what.dry_on)}"


def _in_dispute(desk: Desk, speech: Tongue) -> list[str]:
    lines = []
    for each in disputes.open_at_farm(desk.tx, desk.farm.id):
        last = entries.history(desk.tx, each.entry_id)[-1]
        number = desk.receipt_number(last)
        claim = f" ({say.kilos(speech, each.kg)})" if each.kg is not None else ""
        lines.append(speech.say("In dispute: {farm} {number}{claim}.", farm=desk.farm.name, number=number, claim=claim))
    return lines


def not_understood(collector: Collector) -> Outcome:
    """A text that nothing could be made of: one good example."""
    speech = collector.desk.tongue
    example = speech.say("took 24 sheets 11.8 kg rss3 from {farm}", farm=collector.desk.farm.name)
    text = speech.say("I did not understand. Nothing entered. Text it like: {example}", example=example)
    return Outcome(Kind.ASKED, text)


def help_(collector: Collector) -> Outcome | None:
    """A collector's help by examples; silence where the carrier answers its own help word itself."""
    desk = collector.desk
    if desk.message.keeps_words and desk.message.text.strip().casefold() in ("help", "info"):
        return Outcome(Kind.SILENT, None)
    example = desk.tongue.say("took 24 sheets 11.8 kg rss3 from {farm}", farm=desk.farm.name)
    place = next((str(each.number) for each in _own_places(collector)), "1")
    text = desk.tongue.say(
        "Text: ready / at {place} / {example} / sorry 11.9 not 11.8 / what did I take today",
        place=place,
        example=example,
    )
    return Outcome(Kind.ANSWERED, text)


def from_whom(desk: Desk, lot: Lot, offered: Sequence[str]) -> str:
    """The question from whom something was taken, with the likely answers in it."""
    what = " ".join(piece for piece in (lot.record.farm or "", say.amount(desk.tongue, lot.record)) if piece)
    return desk.tongue.say(
        "{amount}: from which farm, {options}?", amount=what, options=desk.tongue.alternatives(offered)
    )

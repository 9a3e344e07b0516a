"""Tapping days and changes of the panel as an iCalendar feed (RFC 5545), for farms that have set their tapping system.

A change of the cut is taken from the notation, where it says how long each is tapped in turn, such as `(9m,3m)`; the end of
a panel's bark from what was measured on the trees.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from itertools import count
from types import MappingProxyType

from dateutil.relativedelta import relativedelta
from icalendar import Calendar as Feed
from icalendar import Event

from bot.books.model import Farm
from bot.papers.refusal import PaperRefused
from bot.reckon.tapping import FAULTS, calendars
from bot.rubber.calendar import Calendar, tapping_days
from bot.rubber.notation_writing import write
from bot.rubber.recovery import tasks_by_letter
from bot.rubber.tapping_system import Notation, TappingSystem, Turn
from bot.speech import say
from bot.speech.language import Tongue, later

#: A feed reader asks again after this time.
REFRESH = timedelta(days=1)

#: Where no bark was measured.
NO_ENDS: Mapping[str, date] = MappingProxyType({})

_LENGTHS = {"d": "days", "w": "weeks", "m": "months", "y": "years"}


@dataclass(frozen=True)
class Happening:
    """Something of a whole day. `key` is the same for the same thing each time that the feed is made."""

    day: date
    words: str
    key: str


def feed(
    farm: Farm, tongue: Tongue, first: date, last: date, now: datetime, ends: Mapping[str, date] = NO_ENDS
) -> bytes:
    """The feed for the days from `first` to `last`, both included; `now` stamps it, `ends` are the days on which the bark
    of a block's panel ends.

    Raises PaperRefused where the farm has not set its tapping system and first day, or they make no calendar.
    """
    found = Feed()
    found.add("prodid", "-//tapping-log//tapping days//EN")
    found.add("version", "2.0")
    found.add("method", "PUBLISH")
    found.add("x-wr-calname", tongue.say("{farm}: tapping days", farm=farm.name))
    found.add("refresh-interval", REFRESH, parameters={"VALUE": "DURATION"})
    for each in (*happenings(farm, tongue, first, last), *_ends(tongue, ends, first, last)):
        found.add_component(_event(farm, each, now))
    return bytes(found.to_ical())


def _ends(tongue: Tongue, ends: Mapping[str, date], first: date, last: date) -> Iterator[Happening]:
    for block, day in ends.items():
        if first <= day <= last:
            words = tongue.say("Bark of {block} ends: open the next panel", block=say.block_name(tongue, block))
            yield Happening(day, words, f"bark-{block}")


def happenings(farm: Farm, tongue: Tongue, first: date, last: date) -> list[Happening]:
    """Tapping days of each task and changes of panel, by day. Raises PaperRefused as `feed` does."""
    if not farm.settings.tapping or farm.settings.tapping_from is None:
        raise PaperRefused(
            later(
                "{farm} has no tapping system: set tapping, such as S/2 d3 6d/7, and tapping_from, the first day of task A."
            ),
            farm=farm.name,
        )
    try:
        found = [each for calendar in calendars(farm) for each in _of_system(calendar, tongue, first, last)]
    except FAULTS as fault:
        raise PaperRefused(
            later("The tapping system of {farm} makes no calendar: {why}"), farm=farm.name, why=str(fault)
        ) from fault
    return sorted(found, key=lambda each: (each.day, each.key))


def _of_system(calendar: Calendar, tongue: Tongue, first: date, last: date) -> Iterator[Happening]:
    system = write(Notation((calendar.system,)))
    for letter, task in tasks_by_letter(calendar).items():
        words = tongue.say("Tapping: task {letter}", letter=letter)
        for day in tapping_days(calendar, first, last, task):
            yield Happening(day, f"{words} ({system})", f"tapping-{system}-{letter}-{day}")
    for day, number in panel_changes(calendar.system, calendar.start, last):
        if day >= first:
            words = tongue.say("Change the cut: {panel}", panel=_cut(calendar.system, number))
            yield Happening(day, words, f"panel-{system}-{day}")


def panel_changes(system: TappingSystem, start: date, last: date) -> list[tuple[date, int]]:
    """The days up to `last` on which the other cut's turn begins, and whose turn it is (0 or 1).

    Empty where the notation names no turns, or turns of single tappings, which change on every tapping day.
    """
    if system.alternation is None or any(turn.unit not in _LENGTHS for turn in system.alternation):
        return []
    return list(_turns(*system.alternation, start, last))[1:]


def _turns(one: Turn, other: Turn, start: date, last: date) -> Iterator[tuple[date, int]]:
    """The first days of all turns up to `last`, each counted from the start so that ends of months do not creep."""
    for rounds in count():
        for number, before in enumerate((relativedelta(), _length(one))):
            day = start + (rounds * (_length(one) + _length(other)) + before)
            if day > last:
                return
            yield day, number


def _length(turn: Turn) -> relativedelta:
    return relativedelta(**{_LENGTHS[turn.unit]: turn.number})  # type: ignore[arg-type]


def _cut(system: TappingSystem, number: int) -> str:
    """The panel's name where the notation has one for each turn, otherwise the number of the cut."""
    return str(system.panels[number]) if len(system.panels) > number else str(number + 1)


def _event(farm: Farm, happening: Happening, now: datetime) -> Event:
    event = Event()
    event.add("uid", f"{farm.id}-{happening.key}@tapping-log".replace(" ", "_"))
    event.add("dtstamp", now.astimezone(UTC))
    event.add("dtstart", happening.day)
    event.add("dtend", happening.day + timedelta(days=1))
    event.add("summary", happening.words)
    event.add("transp", "TRANSPARENT")
    return event

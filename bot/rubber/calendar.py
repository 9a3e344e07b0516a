"""The tapping calendar: on which days a task is tapped, what is due, what was missed and when it may be made up.

A tapper has several tasks (A, B, C: 0, 1, 2 here) and taps them in turn. Days are counted as working days: at d3 6d/7
with Sunday at rest, task A falls on Monday and Thursday. Weekly tapping (d7) keeps its weekday instead. Days without
work (rest days, closed months, lost days) put off all that stands behind them; a farm whose calendar does not wait for
the rain leaves `lost` empty and makes days up as `recovery` says.
"""

import math
from collections.abc import Collection, Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from fractions import Fraction

from bot.rubber.intensity import on_fixed_weekday, per_cut, visits_a_day
from bot.rubber.tapping_system import Frequency, TappingSystem

ONE_DAY = timedelta(days=1)
LONGEST_SEARCH = timedelta(days=800)


class CalendarError(ValueError):
    """A calendar that cannot be made, or a day that it cannot have."""


@dataclass(frozen=True)
class Cycle:
    """The working days of a cycle (0 is its first) on which a task is tapped, and the cycle's length."""

    days: frozenset[int]
    length: int


@dataclass(frozen=True)
class Calendar:
    """A system's calendar: task 0 is tapped on `start`. Made by `tapping_calendar`, which checks it.

    `rest_weekdays` by number (Monday 0), `closed_months` by number (wintering), `lost` days that the cycle waits for.
    """

    system: TappingSystem
    start: date
    rest_weekdays: frozenset[int] = frozenset()
    closed_months: frozenset[int] = frozenset()
    lost: frozenset[date] = frozenset()

    def works(self, day: date) -> bool:
        """True on a day of work."""
        return not self.rests(day) and day.month not in self.closed_months and day not in self.lost

    def rests(self, day: date) -> bool:
        """True on a rest day of the week."""
        week = self.system.week
        if week is None or self.rest_weekdays:
            return day.weekday() in self.rest_weekdays
        return (day - self.start).days % week.total >= week.working


def tapping_calendar(
    system: TappingSystem,
    start: date,
    rest_weekdays: Collection[int] = (),
    closed_months: Collection[int] | None = None,
    lost: Collection[date] = (),
) -> Calendar:
    """The calendar of a system whose task 0 is first tapped on `start`.

    Closed months are, if not given, those that the notation leaves out (10m/12(MAY-FEB): March and April). Without
    named rest days, 6d/7 rests on every seventh day from the start.
    Raises CalendarError if rest days contradict the notation (7d/7 with a rest day), or the start is no day of work;
    IncompleteSystemError if the system has no frequency.
    """
    visits_a_day(system)
    _check_rest(system, frozenset(rest_weekdays))
    if closed_months is None:
        closed_months = _months_left_out(system)
    calendar = Calendar(system, start, frozenset(rest_weekdays), frozenset(closed_months), frozenset(lost))
    if not calendar.works(start):
        raise CalendarError(f"{start:%A %d %B %Y} is no day of work; start on another day")
    return calendar


def _check_rest(system: TappingSystem, rest: frozenset[int]) -> None:
    if not rest <= set(range(7)) or len(rest) == 7:
        raise CalendarError("rest days are weekdays, 0 (Monday) to 6 (Sunday), and not all of them")
    week = system.week
    if rest and week and week.share != Fraction(7 - len(rest), 7):
        raise CalendarError(f"{len(rest)} rest day(s) a week do not fit {week.working}d/{week.total}")


def _months_left_out(system: TappingSystem) -> frozenset[int]:
    named = system.season.months if system.season else ()
    return frozenset(range(1, 13)).difference(named) if named else frozenset()


def cycle(system: TappingSystem) -> Cycle:
    """The cycle of a system in working days: d3 is day 0 of 3, 2d3 days 0 and 1 of 3, `d2 d3` days 0 and 2 of 5.

    Raises IncompleteSystemError if the system has no frequency.
    """
    visits = visits_a_day(system)
    if per_cut(system):
        return _simple_cycle(Frequency(1, 1 / visits))
    first, *rest = system.frequencies
    if not rest:
        return _simple_cycle(first)
    if rest[0].days > 1:
        return _within(_simple_cycle(first), _simple_cycle(rest[0]))
    return _in_turn(first, rest[0])


def _simple_cycle(frequency: Frequency) -> Cycle:
    length, repeats = frequency.period.numerator, frequency.period.denominator
    firsts = (math.floor(turn * frequency.period) for turn in range(repeats))
    return Cycle(frozenset(first + step for first in firsts for step in range(frequency.days)), length)


def _within(inner: Cycle, pattern: Cycle) -> Cycle:
    """The inner cycle, counted over the days of the pattern only."""
    length = pattern.length * inner.length
    worked = [day for day in range(length) if day % pattern.length in pattern.days]
    return Cycle(frozenset(day for number, day in enumerate(worked) if number % inner.length in inner.days), length)


def _in_turn(first: Frequency, second: Frequency) -> Cycle:
    both = first.period + second.period
    firsts = [turn * both for turn in range(both.denominator)]
    days = {math.floor(start + step) for start in firsts for step in (0, first.period)}
    return Cycle(frozenset(days), both.numerator)


def keeps_weekday(calendar: Calendar) -> bool:
    """True if the tapping falls on a fixed weekday whatever days are at rest (d7, d14)."""
    return on_fixed_weekday(calendar.system)


def tasks_in_turn(calendar: Calendar) -> int:
    """How many tasks can be tapped in turn: three at d3, six at d6 and at d7 with a rest day."""
    return len(_first_week(calendar)) if keeps_weekday(calendar) else cycle(calendar.system).length


def tapping_days(calendar: Calendar, first: date, last: date, task: int = 0) -> tuple[date, ...]:
    """The days from `first` to `last`, both included, on which the task is tapped; none before the calendar's start.

    Raises CalendarError for a task that the system has no room for.
    """
    if not 0 <= task < tasks_in_turn(calendar):
        raise CalendarError(f"task {task} is not one of 0 to {tasks_in_turn(calendar) - 1}")
    days = _weekly_days(calendar, last, task) if keeps_weekday(calendar) else _cycle_days(calendar, last, task)
    return tuple(day for day in days if day >= first)


def is_due(calendar: Calendar, day: date, task: int = 0) -> bool:
    """True if the task is tapped on that day."""
    return bool(tapping_days(calendar, day, day, task))


def due_tasks(calendar: Calendar, day: date) -> tuple[int, ...]:
    """The tasks that are tapped on that day, of all that can be tapped in turn."""
    return tuple(task for task in range(tasks_in_turn(calendar)) if is_due(calendar, day, task))


def next_day(calendar: Calendar, after: date, task: int = 0) -> date:
    """The first tapping day of the task after a day.

    Raises CalendarError if there is none within two years and more.
    """
    for last in (after + 40 * ONE_DAY, after + LONGEST_SEARCH):
        if days := tapping_days(calendar, after + ONE_DAY, last, task):
            return days[0]
    raise CalendarError(f"no tapping day within {LONGEST_SEARCH.days} days after {after:%d %B %Y}")


def _cycle_days(calendar: Calendar, last: date, task: int) -> Iterator[date]:
    turn = cycle(calendar.system)
    working = (day for day in _each_day(calendar.start, last) if calendar.works(day))
    return (day for number, day in enumerate(working) if (number - task) % turn.length in turn.days)


def _weekly_days(calendar: Calendar, last: date, task: int) -> Iterator[date]:
    interval = 1 / visits_a_day(calendar.system)
    first = _first_week(calendar)[task]
    return (day for day in _each_day(first, last) if (day - first).days % interval == 0 and calendar.works(day))


def _first_week(calendar: Calendar) -> list[date]:
    """The days of work of the first interval, lost or not: the fixed day of each task."""
    interval = int(1 / visits_a_day(calendar.system))
    return [
        day for day in _each_day(calendar.start, calendar.start + (interval - 1) * ONE_DAY) if not calendar.rests(day)
    ]


def _each_day(first: date, last: date) -> Iterator[date]:
    return (first + step * ONE_DAY for step in range((last - first).days + 1))

"""What to do about a missed tapping: make it up or not, and what a gap since the last tapping means.

Sources disagree. Sri Lanka lists make-up tapping as a remedy (Nugawela 1999), Thailand advises none at d2 and d3, India
makes up a weekly tapping on the very next day (Rubber Board 990). So it is a rule of the farm.
"""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date
from typing import Literal

from bot.rubber.calendar import ONE_DAY, Calendar, next_day, tapping_days, tasks_in_turn
from bot.rubber.harvest_reference import source, value


@dataclass(frozen=True)
class RecoveryRule:
    """A farm's rule: a missed task may be tapped up to `within_days` later (0: never).

    `on_rest_days` allows the rest day for it. `per_month` is the most make-up tappings of a task in a month: three were
    harmless to the panel's life, five cut it (Ruhuna 2016).
    """

    within_days: int
    on_rest_days: bool = False
    per_month: int = int(value("recoveries_harmless"))
    source: str = "the farm's rule"

    def __post_init__(self) -> None:
        if self.within_days < 0 or self.per_month < 0:
            raise ValueError("the days and the number of make-up tappings cannot be below 0")


NO_RECOVERY = RecoveryRule(0, source="Thai extension")
NEXT_DAY = RecoveryRule(1, source="Rubber Board 990")


@dataclass(frozen=True)
class Recovery:
    """The day on which a missed tapping is made up, or why there is none."""

    day: date | None
    reason: Literal["made up", "not by the farm's rule", "enough this month", "no free day"]
    rule: RecoveryRule
    sources: tuple[str, ...]


def recovery_day(
    calendar: Calendar,
    missed: date,
    rule: RecoveryRule,
    task: int = 0,
    tasks: Collection[int] = (),
    made_up: Collection[date] = (),
) -> Recovery:
    """When a tapping missed on `missed` is made up: the first free day by the rule, before the task is due again.

    `tasks` are all tasks of the same tapper: a day on which one of them is due is not free. `made_up` are the make-up
    tappings of the task so far, counted by month against the rule.
    """
    sources = (rule.source, *source("recoveries_harmless"))
    if rule.within_days == 0:
        return Recovery(None, "not by the farm's rule", rule, sources)
    last = min(missed + rule.within_days * ONE_DAY, next_day(calendar, missed, task) - ONE_DAY)
    busy = {day for other in {*tasks, task} for day in tapping_days(calendar, missed, last, other)}
    for day in (missed + step * ONE_DAY for step in range(1, (last - missed).days + 1)):
        if day in busy or not _may_work(calendar, day, rule):
            continue
        if sum((each.year, each.month) == (day.year, day.month) for each in made_up) >= rule.per_month:
            return Recovery(None, "enough this month", rule, sources)
        return Recovery(day, "made up", rule, sources)
    return Recovery(None, "no free day", rule, sources)


def _may_work(calendar: Calendar, day: date, rule: RecoveryRule) -> bool:
    closed = day.month in calendar.closed_months or day in calendar.lost
    return not closed and (rule.on_rest_days or not calendar.rests(day))


@dataclass(frozen=True)
class Gap:
    """The days since a task was last tapped, the planned tappings that went by since, and what that means.

    "waiting": its turn comes later; "due": it is today; "behind": planned tappings went by, and
    a long interval costs yield (Rubber Board 990, weekly tapping); "new start": so long that it is opened again like
    after a rest.
    """

    days: int
    missed: tuple[date, ...]
    due: date
    kind: Literal["waiting", "due", "behind", "new start"]
    sources: tuple[str, ...]


def gap(calendar: Calendar, last_tapped: date, today: date, task: int = 0) -> Gap:
    """What the time since the last tapping means. `due` is today or the next day on which the task is tapped.

    Raises ValueError if the last tapping lies after today.
    """
    if last_tapped > today:
        raise ValueError("the last tapping cannot lie after today")
    days = (today - last_tapped).days
    missed = tapping_days(calendar, last_tapped + ONE_DAY, today - ONE_DAY, task)
    due = next_day(calendar, max(last_tapped, today - ONE_DAY), task)
    return Gap(days, missed, due, _kind(days, missed, due == today), ("Rubber Board 990", *source("long_gap")))


def _kind(days: int, missed: tuple[date, ...], today: bool) -> Literal["waiting", "due", "behind", "new start"]:
    if days >= value("long_gap"):
        return "new start"
    if missed:
        return "behind"
    return "due" if today else "waiting"


def tasks_by_letter(calendar: Calendar) -> dict[str, int]:
    """The tasks by their usual letters: A is task 0."""
    return {chr(ord("A") + task): task for task in range(min(tasks_in_turn(calendar), 26))}

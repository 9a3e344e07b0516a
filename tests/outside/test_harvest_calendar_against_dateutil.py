"""Tapping calendars against recurrence rules of dateutil (RFC 5545), and against patterns that stand in print."""

from datetime import date, datetime, timedelta
from itertools import islice

import pytest
from dateutil.rrule import DAILY, FR, MO, SA, SU, TH, TU, WE, WEEKLY, rrule, weekday
from hypothesis import given
from hypothesis import strategies as st

from bot.rubber.calendar import Calendar, tapping_calendar, tapping_days
from bot.rubber.intensity import intensity
from bot.rubber.notation import read
from bot.rubber.recovery import NEXT_DAY, recovery_day
from bot.rubber.tapping_system import TappingSystem

MONDAY = date(2026, 3, 2)
YEAR_END = date(2027, 2, 28)
SUNDAY = 6


def system(text: str) -> TappingSystem:
    (only,) = read(text).systems
    return only


def calendar(text: str, start: date = MONDAY) -> Calendar:
    return tapping_calendar(system(text), start, [SUNDAY] if "6d/7" in text else [])


def by_rule(rule: rrule, every: int = 1, skip: int = 0) -> tuple[date, ...]:
    return tuple(moment.date() for moment in islice(rule, skip, None, every))


def weekly(*days: weekday) -> rrule:
    return rrule(WEEKLY, dtstart=_midnight(MONDAY), until=_midnight(YEAR_END), byweekday=days)


def working_days() -> rrule:
    return rrule(DAILY, dtstart=_midnight(MONDAY), until=_midnight(YEAR_END), byweekday=(MO, TU, WE, TH, FR, SA))


def _midnight(day: date) -> datetime:
    return datetime(day.year, day.month, day.day)  # noqa: DTZ001 - dateutil's rules are of plain days here


@pytest.mark.parametrize("interval", [1, 2, 3, 4, 5, 6, 7])
def test_every_nth_day_all_week_is_a_daily_rule(interval: int) -> None:
    rule = rrule(DAILY, interval=interval, dtstart=_midnight(MONDAY), until=_midnight(YEAR_END))

    assert by_rule(rule) == tapping_days(calendar(f"S/2 d{interval} 7d/7"), MONDAY, YEAR_END)


@given(st.dates(date(2020, 1, 1), date(2030, 1, 1)), st.integers(1, 9), st.integers(0, 400))
def test_any_start_and_interval_agree_with_the_daily_rule(start: date, interval: int, length: int) -> None:
    last = start + timedelta(days=length)
    rule = rrule(DAILY, interval=interval, dtstart=_midnight(start), until=_midnight(last))

    assert by_rule(rule) == tapping_days(tapping_calendar(system(f"S/2 d{interval}"), start), start, last)


# The weekday patterns of two, three and six tasks follow from counting working days; that d3 6d/7 is twice a week is
# printed (Commere et al. 1988).
@pytest.mark.parametrize(
    ("text", "task", "days"),
    [
        ("S/2 d2 6d/7", 0, (MO, WE, FR)),
        ("S/2 d2 6d/7", 1, (TU, TH, SA)),
        ("S/2 d3 6d/7", 0, (MO, TH)),
        ("S/2 d3 6d/7", 1, (TU, FR)),
        ("S/2 d3 6d/7", 2, (WE, SA)),
        ("S/2 d6 6d/7", 3, (TH,)),
        ("S/2 d7 6d/7", 0, (MO,)),
        ("S/2 d7 6d/7", 5, (SA,)),
    ],
)
def test_tasks_in_turn_keep_their_weekdays(text: str, task: int, days: tuple[weekday, ...]) -> None:
    assert by_rule(weekly(*days)) == tapping_days(calendar(text), MONDAY, YEAR_END, task)


@pytest.mark.parametrize("task", range(4))
def test_every_fourth_working_day_agrees_with_a_rule_of_working_days(task: int) -> None:
    assert by_rule(working_days(), 4, task) == tapping_days(calendar("S/2 d4 6d/7"), MONDAY, YEAR_END, task)


def test_two_days_in_three_leave_out_every_third_working_day() -> None:
    third = set(by_rule(working_days(), 3, 2))
    expected = tuple(day for day in by_rule(working_days()) if day not in third)

    assert expected == tapping_days(calendar("S/2 2d3 6d/7"), MONDAY, YEAR_END)


def test_two_tappings_a_week_at_d3() -> None:
    """Commere et al. 1988, IRRDB: `1/2S d/3 6d/7` is described as two tappings a week. Printed."""
    week = tapping_days(calendar("1/2S d/3 6d/7"), MONDAY, MONDAY + timedelta(days=6))

    assert len(week) == 2
    assert intensity(system("1/2S d/3 6d/7")).tappings_a_year == 104


def test_three_tappings_a_fortnight_at_d4() -> None:
    """Coulibaly et al. 2014, Agronomie Africaine 26(1): three per fortnight. Printed; read as d4 6d/7."""
    for task in range(4):
        days = tapping_days(calendar("S/2 d4 6d/7"), MONDAY, MONDAY + timedelta(days=13), task)
        assert len(days) == 3


def test_a_missed_weekly_tapping_is_made_up_on_the_very_next_day() -> None:
    """Rubber Board India, news 990 (2016): tap the next day, then go back to the weekday. Rule printed."""
    tuesday = date(2026, 3, 3)
    weekly_tapping = tapping_calendar(system("S/2 d7 6d/7"), tuesday, [SUNDAY])

    recovery = recovery_day(weekly_tapping, tuesday + timedelta(days=7), NEXT_DAY)

    assert recovery.day == date(2026, 3, 11)
    assert tapping_days(weekly_tapping, date(2026, 3, 12), date(2026, 3, 18)) == (date(2026, 3, 17),)
    assert date(2026, 3, 17).weekday() == TU.weekday


def test_half_of_the_rain_days_fall_on_a_block_tapped_every_second_day() -> None:
    """Daily News (Sri Lanka), 18 March 2008: about 140 rain days cost a d2 block about 70 tappings. Printed."""
    days = tapping_days(calendar("S/2 d2 7d/7"), MONDAY, MONDAY + timedelta(days=139))

    assert len(days) == 70


def test_sunday_is_the_seventh_weekday_of_dateutil_too() -> None:
    assert SU.weekday == SUNDAY

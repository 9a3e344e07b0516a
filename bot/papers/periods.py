"""Months and years of the calendar, and how a month is written."""

from collections.abc import Iterator
from datetime import date, timedelta

from babel.dates import format_date

from bot.speech.language import Tongue


def month_of(day: date) -> tuple[date, date]:
    """The first and the last day of the month that holds the day."""
    first = day.replace(day=1)
    following = (first + timedelta(days=31)).replace(day=1) if first < date(9999, 12, 1) else None
    return first, following - timedelta(days=1) if following else date.max


def year_of(day: date) -> tuple[date, date]:
    """The first and the last day of the year that holds the day."""
    return date(day.year, 1, 1), date(day.year, 12, 31)


def months(first: date, last: date) -> Iterator[tuple[date, date]]:
    """The first and last day of every month that has a day from `first` to `last`, in order."""
    start, end = month_of(first)
    while start <= last:
        yield start, end
        if end == date.max:
            return
        start, end = month_of(end + timedelta(days=1))


def month_name(tongue: Tongue, day: date) -> str:
    """The month with its year: `March 2026`."""
    return str(format_date(day, "LLLL y", locale=tongue.code))


def month_key(day: date) -> str:
    """The month in the form that sorts: `2026-03`."""
    return f"{day:%Y-%m}"

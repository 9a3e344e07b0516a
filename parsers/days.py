"""Days: words for them, weekdays, dates in many forms, always of the sender's own calendar and never in the future.

A weekday is the latest such day. Dates are day/month unless only month/day is possible; Thai Buddhist years count. A date that
does not exist or lies ahead is `None`: it has to be asked.
"""

from dataclasses import dataclass
from datetime import date, datetime, timedelta

from parsers.meanings import Item

#: Before this hour a text speaks of the day before, unless it names a day.
NEW_DAY_HOUR = 3

#: The Buddhist era is so many years ahead of the common one.
BUDDHIST = 543


#: A year after this, in either era, is a slip.
LAST_YEAR = 2999

#: No day-book is older.
FIRST_YEAR = 2000

#: Articles right before a date; words for date are those of the word files.
_BEFORE_DATES = frozenset({"el", "le", "on"})

#: Days of a month as they are spoken: `on the fifth`.
ORDINALS = {
    name: n
    for n, name in enumerate(
        ("first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth", "tenth"), 1
    )
}

#: `12 tháng 9`: the word for month between two numbers.
MONTH_WORDS = frozenset({"thang", "เดือน", "bulan", "mois", "mes"})


@dataclass(frozen=True)
class Said:
    """A day that was said: None for one that does not exist or lies in the future. `ahead` is a plan for tomorrow."""

    day: date | None
    ahead: bool = False


def log_day(sent: datetime) -> date:
    """The day that a text speaks of when it names none."""
    return sent.date() - timedelta(days=1) if sent.hour < NEW_DAY_HOUR else sent.date()


def day_at(found: list[Item], at: int, sent: datetime) -> tuple[Said, int] | None:
    """The day that begins at an item, and how many items it takes."""
    item = found[at]
    if item.kind == "number":
        return _written(found, at, sent)
    if item.key in ORDINALS and at > 1 and found[at - 1].key == "the" and found[at - 2].key == "on":
        return _day_of_month(ORDINALS[item.key], sent), 1
    if item.has("day"):
        return _relative(int(item.tags["day"]), sent), 1
    if item.has("weekday") and not item.has("own_block"):
        return _weekday(int(item.tags["weekday"]), sent), 1
    if item.has("date") and _number(found, at + 1) is not None:
        return _after_word(found, at, sent)
    measured = at + 2 < len(found) and found[at + 2].has("litre", "kg")  # `ene 15 litros`: a block by its letter
    if (
        item.has("month")
        and not measured
        and (number := _number(found, at + 1)) is not None
        and number <= 31
        and not item.has("ignore")
    ):
        return _checked(number, int(item.tags["month"]), None, sent), 2
    return None


def _relative(days: int, sent: datetime) -> Said:
    if days > 0:
        return Said(None, ahead=True)
    base = log_day(sent) if days == 0 else sent.date()
    return Said(base + timedelta(days=days))


def _weekday(weekday: int, sent: datetime) -> Said:
    back = (sent.weekday() - weekday) % 7
    return Said(sent.date() - timedelta(days=back))


def _number(found: list[Item], at: int) -> int | None:
    if at >= len(found) or found[at].kind != "number" or found[at].value is None:
        return None
    value = found[at].value or 0
    return int(value) if value == int(value) else None


def _sign(found: list[Item], at: int, signs: str) -> bool:
    return at < len(found) and found[at].kind == "sign" and found[at].text in signs


def _written(found: list[Item], at: int, sent: datetime) -> tuple[Said, int] | None:
    """`4/8`, `4/8/2025`, `4-8-25`, `4 aug`, `4.8.2025`, `4 de agosto`."""
    pieces = found[at].text.split(".")
    if len(pieces) == 3 and all(piece.isdecimal() for piece in pieces) and len(pieces[0]) < 3 > len(pieces[1]):
        return _checked(int(pieces[0]), int(pieces[1]), int(pieces[2]), sent), 1
    first = _number(found, at)
    if first is None or not 1 <= first <= 2600:
        return None
    before_pair = _sign(found, at + 3, ":=") and _number(found, at + 4) is not None
    if before_pair or (_sign(found, at - 1, ":=") and _number(found, at - 2) is not None):
        return None  # `14 : 18 / 12 : 23`: blocks and litres
    if (
        _sign(found, at + 1, "/")
        and not found[at + 1].glued
        and None not in (_number(found, at - 1), _number(found, at + 3))
    ):
        return None  # `12 29 / 11 25`: likewise
    if _sign(found, at + 1, "/-") and (second := _number(found, at + 2)) is not None and not found[at].has("share"):
        third = _number(found, at + 4) if _sign(found, at + 3, "/-") else None
        if third is not None and (third > 31 or third in (25, 26, 68, 69)):
            return _checked(first, second, third, sent), 5
        if third is not None and first > 31:
            return _checked(third, second, first, sent), 5
        if found[at + 1].text == "/" and (
            (first <= 31 and 1 <= second <= 12) or (first <= 12 and 1 <= second <= 31) or second <= 12
        ):
            return _checked(first, second, None, sent), 3
        led = at > 0 and (found[at - 1].has("date") or found[at - 1].key in _BEFORE_DATES)
        if found[at + 1].text == "/" and led and 12 < first <= 31 and 12 < second <= 31:
            return Said(None), 3  # `el 15/13`
        return None
    if (
        at + 2 < len(found)
        and found[at + 1].key in MONTH_WORDS
        and (month_number := _number(found, at + 2)) is not None
    ):
        return (_checked(first, month_number, None, sent), 3) if 1 <= month_number <= 12 else None
    if at + 1 < len(found) and found[at + 1].key in ("hb", "haribulan") and first <= 31:
        return _day_of_month(first, sent), 2
    if _is_ordinal(found, at):
        return _day_of_month(first, sent), 2
    step = 2 if at + 1 < len(found) and found[at + 1].key in ("de", "of", "th", "st", "nd", "rd") else 1
    if at + step < len(found) and found[at + step].has("month") and first <= 31:
        month = found[at + step]
        if month.has("ignore", "weekday") and len(month.key) <= 3 and month.has("own_block"):
            return None
        dot = 1 if _sign(found, at + step + 1, ".") else 0
        year = _number(found, at + step + 1 + dot)
        has_year = year is not None and (2000 <= year <= 2600)
        length = step + 1 + (dot + 1 if has_year else 0)
        return _checked(first, int(month.tags["month"]), year if has_year else None, sent), length
    return None


def _after_word(found: list[Item], at: int, sent: datetime) -> tuple[Said, int] | None:
    """`tanggal 4`, `ngày 5/8`: a day of this month, or of the last one where it still lies ahead."""
    written = _written(found, at + 1, sent)
    if written is not None:
        return written[0], written[1] + 1
    number = _number(found, at + 1)
    if number is None or not 1 <= number <= 31:
        return None
    if at + 2 < len(found) and found[at + 2].has("holiday"):
        return None  # `mùng 2 tết`: a day of the moon's calendar
    if _sign(found, at + 2, "-") and (month := _number(found, at + 3)) is not None and month <= 12:
        return _checked(number, month, None, sent), 4
    return _day_of_month(number, sent), 2


def _is_ordinal(found: list[Item], at: int) -> bool:
    """`on the 16th`, with a figure, a name or nothing behind it: no second collection, no fifth bucket."""
    if at == 0 or at + 1 >= len(found) or found[at - 1].key not in ("the", "on") or not found[at + 1].glued:
        return False
    behind = found[at + 2] if at + 2 < len(found) else None
    plain = behind is None or behind.kind != "word" or behind.has("own_block", "ignore")
    return found[at + 1].key in ("th", "st", "nd", "rd") and plain


def _day_of_month(number: int, sent: datetime) -> Said:
    """The latest such day of this month or the last; None where there was none."""
    day = sent.date()
    for _ in range(2):
        try:
            candidate = day.replace(day=number)
        except ValueError:
            return Said(None)
        if candidate <= sent.date():
            return Said(candidate)
        day = day.replace(day=1) - timedelta(days=1)
    return Said(None)


def _checked(day: int, month: int, year: int | None, sent: datetime) -> Said:
    if month > 12 >= day:
        day, month = month, day
    if year is not None and year > LAST_YEAR:
        return Said(None)
    years = [_common(year)] if year is not None else [sent.year]
    if years[0] < FIRST_YEAR:
        return Said(None)  # `5/8/268`: a figure is missing
    for each in years:
        try:
            found = date(each, month, day)
        except ValueError:
            return Said(None)
        if year is None and found > sent.date() and (found - sent.date()).days > 180:
            found = found.replace(year=each - 1)
        return Said(found if found <= sent.date() else None)
    return Said(None)


def _common(year: int) -> int:
    if year < 100:
        return 2000 + year if year < 60 else 2500 + year - BUDDHIST
    return year - BUDDHIST if year > 2400 else year

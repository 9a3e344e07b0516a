"""What the owner's page shows of a week: gathered for one owner of one farm, not yet written."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

from markupsafe import Markup

from bot.books import Transaction, entries, farms, people
from bot.books.model import Entry, Farm, Membership, Person
from bot.pages.picture import bars
from bot.speech import say
from bot.speech.language import Tongue, page_tongue
from bot.talk.desk import log_day
from bot.week import figures, words
from bot.week.figures import Crop, Span
from parsers.reading import Role, What

#: How many lines of the day-book one page shows: more of them would make it too heavy for a slow line.
MOST_LINES = 100

WEEK = timedelta(days=7)


class NotOwner(LookupError):
    """He is not, or not any more, an owner of this farm."""


@dataclass(frozen=True)
class Row:
    """A block with its crop of the week and of the week before, as written."""

    name: str
    litres: str
    litres_before: str
    dry: str
    dry_before: str
    block: str = ""


@dataclass(frozen=True)
class BookLine:
    """A line of the day-book: day, words, whose work, whose phone; and what became of it: ``stands``, ``corrected`` by
    `successor`, or ``taken out``; `changed_at` belongs to the change. `why` is the entry whose figures can be explained.
    """

    day: date | None
    words: str
    by: str
    via: str | None
    entered_at: datetime
    fate: str
    entry: str = ""
    why: str | None = None
    successor: str | None = None
    changed_at: datetime | None = None


@dataclass(frozen=True)
class Seen:
    """The week of a farm, with all that its page says."""

    farm: Farm
    owner: Person
    first: date
    last: date
    running: bool
    to_come: bool
    summary: str
    rows: tuple[Row, ...]
    total: Row
    days: tuple[tuple[date, str], ...]
    picture: Markup
    span: Span
    others: tuple[tuple[str, str], ...]
    lines: tuple[BookLine, ...]
    skipped: int
    lines_in_all: int
    members: tuple[Membership, ...]

    @property
    def earlier(self) -> date:
        return self.first - WEEK

    @property
    def later(self) -> date:
        return self.first + WEEK


def look_at(tx: Transaction, farm_id: str, person_id: str, day: date | None, now: datetime, skipped: int) -> Seen:
    """The week that holds the day (None: today), for this owner of this farm. Raises NotOwner."""
    members = people.members(tx, farm_id)
    owner = owner_of(members, person_id)
    farm = farms.farm(tx, farm_id)
    zone, speech = ZoneInfo(farm.timezone), page_tongue(owner.language)
    today = log_day(now.astimezone(zone))
    first, last = figures.week_of(day or today)
    until = min(last, max(first, today))  # days to come are nobody's silence, and are compared with nothing
    span, before = figures.gather(tx, farm, first, until), figures.gather(tx, farm, first - WEEK, until - WEEK)
    lines = _to_show(entries.all_entries(tx, farm.id, first=first, last=last))
    by_day = [(each, _litres_of(span, each), _figure(speech, span, each, today)) for each in _seven(first)]
    return Seen(
        farm=farm,
        owner=owner,
        first=first,
        last=last,
        running=first <= today <= last,
        to_come=today < first,
        summary=words.summary(tx, farm, speech, first, until),
        rows=tuple(_rows(speech, list(farms.blocks(tx, farm.id)), span, before)),
        total=_row(speech, speech.say("All blocks"), span.total, before.total),
        days=tuple((each, figure) for each, _, figure in by_day),
        picture=bars(
            [(speech.weekday_in_a_column(each), litres, figure) for each, litres, figure in by_day],
            speech.say("Litres of latex by day"),
        ),
        span=span,
        others=tuple(_others(speech, span, before)),
        lines=tuple(_lines(tx, speech, lines[skipped : skipped + MOST_LINES], zone, last)),
        skipped=skipped,
        lines_in_all=len(lines),
        members=tuple(members),
    )


def owner_of(members: Sequence[Membership], person_id: str) -> Person:
    """Him whose link it is, if he still owns the farm. Raises NotOwner."""
    for each in members:
        if each.person.id == person_id and each.role is Role.OWNER and each.person.blocked_at is None:
            return each.person
    raise NotOwner(person_id)


def _seven(first: date) -> list[date]:
    return [first + timedelta(days=n) for n in range(7)]


def _litres_of(span: Span, day: date) -> Decimal:
    latex = (e.record for e in span.entries if e.record.what is What.LATEX and e.record.day == day)
    return sum((record.litres or Decimal(0) for record in latex), Decimal(0))


def _figure(speech: Tongue, span: Span, day: date, today: date) -> str:
    """The litres of a day; a dash for a day to come."""
    litres = _litres_of(span, day)
    return speech.measured(litres) if day <= today or litres else "-"


def _rows(speech: Tongue, known: list[str], span: Span, before: Span) -> list[Row]:
    """Every block of the farm in its order, then whatever else latex was entered for."""
    more = [name for name in {**span.by_block, **before.by_block} if name not in known]
    return [
        _row(
            speech,
            say.block_name(speech, name or None),
            span.by_block.get(name, Crop()),
            before.by_block.get(name, Crop()),
            name if name in known else "",
        )
        for name in [*known, *more]
    ]


def _row(speech: Tongue, name: str, now: Crop, before: Crop, block: str = "") -> Row:
    return Row(
        name,
        litres=speech.measured(now.litres),
        litres_before=speech.measured(before.litres),
        dry=speech.fixed(now.dry_kg, 1),
        dry_before=speech.fixed(before.dry_kg, 1),
        block=block,
    )


def _others(speech: Tongue, span: Span, before: Span) -> list[tuple[str, str]]:
    """What the week gave besides latex in litres, with the week before in brackets where there is one to compare."""
    always = (speech.say("Sheets rolled"), speech.say("Collected, kg"), speech.say("Block-days lost to rain"))
    rows = [
        (speech.say("Latex weighed, kg"), speech.measured(span.total.kg), speech.measured(before.total.kg)),
        (always[0], speech.number(span.sheets_rolled), speech.number(before.sheets_rolled)),
        (speech.say("Dry sheets"), speech.number(span.sheets_dry), speech.number(before.sheets_dry)),
        (speech.say("Lump, kg"), speech.measured(span.lump_kg), speech.measured(before.lump_kg)),
        (speech.say("Sheets collected"), speech.number(span.taken_sheets), speech.number(before.taken_sheets)),
        (always[1], speech.measured(span.taken_kg), speech.measured(before.taken_kg)),
        (always[2], speech.number(span.rain_days), speech.number(before.rain_days)),
    ]
    return [(name, f"{now} ({then})") for name, now, then in rows if name in always or (now, then) != ("0", "0")]


def _to_show(lines: Sequence[Entry]) -> list[Entry]:
    """The lines to show: a line that only takes out another is told at the one that it took out."""
    return [entry for entry in lines if not entry.removed]


def _lines(tx: Transaction, speech: Tongue, shown: Sequence[Entry], zone: ZoneInfo, today: date) -> list[BookLine]:
    return [_line(speech, each, entries.successor(tx, each.id), zone, today) for each in shown]


def _line(speech: Tongue, entry: Entry, after: Entry | None, zone: ZoneInfo, today: date) -> BookLine:
    fate = "stands" if after is None else "taken out" if after.removed else "corrected"
    return BookLine(
        day=entry.record.day,
        words=_words(speech, entry, today),
        by=entry.by.name,
        via=entry.via,
        entered_at=entry.entered_at.astimezone(zone),
        fate=fate,
        entry=entry.id,
        why=entry.id if entry.computed and "drc_basis" in entry.computed else None,
        successor=None if after is None or after.removed else _successor(speech, entry, after, today),
        changed_at=None if after is None else after.entered_at.astimezone(zone),
    )


def _words(speech: Tongue, entry: Entry, today: date) -> str:
    return say.line(speech, entry.record, today, with_day=False)


def _successor(speech: Tongue, before: Entry, after: Entry, today: date) -> str:
    """The line that took the place, with its day where that is another one."""
    day = after.record.day
    words = _words(speech, after, today)
    return words if day is None or day == before.record.day else f"{speech.short(day)}: {words}"

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
from bot.speech.language import Tongue, tongue
from bot.talk.desk import log_day
from bot.week import figures, words
from bot.week.figures import Crop, Span
from parsers.reading import Role, What

#: The page's own language, until its words are in the catalogues.
PAGE = "en"

#: What the picture shows.
PICTURE = "Litres of latex by day"

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
    zone, english = ZoneInfo(farm.timezone), tongue(PAGE)
    today = log_day(now.astimezone(zone))
    first, last = figures.week_of(day or today)
    until = min(last, max(first, today))  # days to come are nobody's silence, and are compared with nothing
    span, before = figures.gather(tx, farm, first, until), figures.gather(tx, farm, first - WEEK, until - WEEK)
    lines = _to_show(entries.all_entries(tx, farm.id, first=first, last=last))
    by_day = [(each, _litres_of(span, each), _figure(english, span, each, today)) for each in _seven(first)]
    return Seen(
        farm=farm,
        owner=owner,
        first=first,
        last=last,
        running=first <= today <= last,
        to_come=today < first,
        summary=words.summary(tx, farm, tongue(owner.language), first, until),
        rows=tuple(_rows(english, list(farms.blocks(tx, farm.id)), span, before)),
        total=_row(english, "All blocks", span.total, before.total),
        days=tuple((each, figure) for each, _, figure in by_day),
        picture=bars([(english.weekday(each), litres, figure) for each, litres, figure in by_day], PICTURE),
        span=span,
        others=tuple(_others(english, span, before)),
        lines=tuple(_lines(tx, english, lines[skipped : skipped + MOST_LINES], zone, last)),
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


def _figure(english: Tongue, span: Span, day: date, today: date) -> str:
    """The litres of a day; a dash for a day to come."""
    litres = _litres_of(span, day)
    return english.measured(litres) if day <= today or litres else "-"


def _rows(english: Tongue, known: list[str], span: Span, before: Span) -> list[Row]:
    """Every block of the farm in its order, then whatever else latex was entered for."""
    more = [name for name in {**span.by_block, **before.by_block} if name not in known]
    return [
        _row(
            english,
            say.block_name(english, name or None),
            span.by_block.get(name, Crop()),
            before.by_block.get(name, Crop()),
            name if name in known else "",
        )
        for name in [*known, *more]
    ]


def _row(english: Tongue, name: str, now: Crop, before: Crop, block: str = "") -> Row:
    return Row(
        name,
        litres=english.measured(now.litres),
        litres_before=english.measured(before.litres),
        dry=english.fixed(now.dry_kg, 1),
        dry_before=english.fixed(before.dry_kg, 1),
        block=block,
    )


def _others(english: Tongue, span: Span, before: Span) -> list[tuple[str, str]]:
    """What the week gave besides latex in litres, with the week before in brackets where there is one to compare."""
    rows = [
        ("Latex weighed, kg", english.measured(span.total.kg), english.measured(before.total.kg)),
        ("Sheets rolled", str(span.sheets_rolled), str(before.sheets_rolled)),
        ("Dry sheets", str(span.sheets_dry), str(before.sheets_dry)),
        ("Lump, kg", english.measured(span.lump_kg), english.measured(before.lump_kg)),
        ("Sheets collected", str(span.taken_sheets), str(before.taken_sheets)),
        ("Collected, kg", english.measured(span.taken_kg), english.measured(before.taken_kg)),
        ("Block-days lost to rain", str(span.rain_days), str(before.rain_days)),
    ]
    always = ("Sheets rolled", "Collected, kg", "Block-days lost to rain")
    return [(name, f"{now} ({then})") for name, now, then in rows if name in always or (now, then) != ("0", "0")]


def _to_show(lines: Sequence[Entry]) -> list[Entry]:
    """The lines to show: a line that only takes out another is told at the one that it took out."""
    return [entry for entry in lines if not entry.removed]


def _lines(tx: Transaction, english: Tongue, shown: Sequence[Entry], zone: ZoneInfo, today: date) -> list[BookLine]:
    return [_line(english, each, entries.successor(tx, each.id), zone, today) for each in shown]


def _line(english: Tongue, entry: Entry, after: Entry | None, zone: ZoneInfo, today: date) -> BookLine:
    fate = "stands" if after is None else "taken out" if after.removed else "corrected"
    return BookLine(
        day=entry.record.day,
        words=_words(english, entry, today),
        by=entry.by.name,
        via=entry.via,
        entered_at=entry.entered_at.astimezone(zone),
        fate=fate,
        entry=entry.id,
        why=entry.id if entry.computed and "drc_basis" in entry.computed else None,
        successor=None if after is None or after.removed else _successor(english, entry, after, today),
        changed_at=None if after is None else after.entered_at.astimezone(zone),
    )


def _words(english: Tongue, entry: Entry, today: date) -> str:
    return say.line(english, entry.record, today, with_day=False)


def _successor(english: Tongue, before: Entry, after: Entry, today: date) -> str:
    """The line that took the place, with its day where that is another one."""
    moved = before.record.day != after.record.day and after.record.day is not None
    return (f"{english.date(after.record.day)}: " if moved else "") + _words(english, after, today)  # type: ignore[arg-type]

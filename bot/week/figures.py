"""What a span of days gave: gathered from the standing entries, computed, not yet said.

Dry weight is what each entry was reckoned to give when it was made (it is kept with the entry); a day lost to rain is a
block and day that was not tapped for rain; a silent day is one on which a tapper said nothing at all.
"""

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

from bot.books import Transaction, entries, farms, people
from bot.books.model import Entry, Farm, Membership, Person
from bot.reckon.chain import taken_here
from bot.reckon.takes import paid_kg
from parsers.reading import ALL_BLOCKS, Reason, Record, Role, What


@dataclass(frozen=True)
class Crop:
    """Latex of a block, a tapper or a farm. `kg` is latex that was weighed and not measured in litres."""

    litres: Decimal = Decimal(0)
    kg: Decimal = Decimal(0)
    dry_kg: float = 0.0
    days: int = 0


@dataclass(frozen=True)
class Silence:
    """A tapper who sent nothing: on how many days of the span, and the last day that he reported (None: never).

    `since` is the first day of the span on which he was at the farm: who came on Sunday was not silent all week.
    """

    person: Person
    days: int
    last_day: date | None
    since: date


@dataclass(frozen=True)
class Span:
    """What the days from `first` to `last` (inclusive) gave. `takes` are those from this farm alone."""

    first: date
    last: date
    total: Crop
    by_block: Mapping[str, Crop]
    by_person: Mapping[str, Crop]
    sheets_rolled: int
    sheets_dry: int
    dry_sheets_kg: Decimal
    lump_kg: Decimal
    taken_sheets: int
    taken_kg: Decimal
    rain_days: int
    not_tapped: Mapping[Reason, int]
    silent: tuple[Silence, ...]
    takes: tuple[Entry, ...]
    entries: tuple[Entry, ...]


def gather(tx: Transaction, farm: Farm, first: date, last: date, lines: Sequence[Entry] | None = None) -> Span:
    """Everything about the days from `first` to `last`, both included; `lines` are what stands of them, if it was read before."""
    standing = entries.standing(tx, farm.id, first=first, last=last) if lines is None else lines
    latex = [entry for entry in standing if entry.record.what is What.LATEX]
    taken = [entry for entry in standing if taken_here(entry.record, farm.name)]
    tappers = [each for each in people.members(tx, farm.id) if each.role is Role.TAPPER]
    missed = list(_missed_days(tx, farm, standing, tappers))
    return Span(
        first=first,
        last=last,
        total=crop(latex),
        by_block=_grouped(latex, lambda entry: entry.record.block or ""),
        by_person=_grouped(latex, lambda entry: entry.by.name),
        sheets_rolled=_sum_int(standing, What.SHEETS_ROLLED, lambda record: record.count),
        sheets_dry=_sum_int(standing, What.SHEETS_DRY, lambda record: record.count),
        dry_sheets_kg=_sum(standing, What.SHEETS_DRY),
        lump_kg=_sum(standing, What.LUMP),
        taken_sheets=_sum_int(taken, What.COLLECTED, lambda record: record.sheets),
        taken_kg=sum((paid_kg(each) for each in taken), Decimal(0)),
        rain_days=sum(1 for _, _, why in missed if why is Reason.RAIN),
        not_tapped=_count(why for _, _, why in missed),
        silent=tuple(_silent(tappers, _began(tx, farm), standing, first, last)),
        takes=tuple(taken),
        entries=tuple(standing),
    )


def crop(latex: Iterable[Entry]) -> Crop:
    """The sum of some entries of latex."""
    litres, kg, dry, days = Decimal(0), Decimal(0), 0.0, set()
    for entry in latex:
        record = entry.record
        litres += record.litres or 0
        kg += record.kg or 0
        dry += float(entry.computed.get("dry_kg", 0)) if entry.computed is not None else 0.0
        days.add(record.day)
    return Crop(litres, kg, dry, len(days))


def _grouped(latex: Iterable[Entry], key: Callable[[Entry], str]) -> Mapping[str, Crop]:
    groups: dict[str, list[Entry]] = defaultdict(list)
    for entry in latex:
        groups[key(entry)].append(entry)
    return {name: crop(group) for name, group in groups.items()}


def _sum(standing: Iterable[Entry], what: What) -> Decimal:
    return sum((entry.record.kg or Decimal(0) for entry in standing if entry.record.what is what), Decimal(0))


def _sum_int(standing: Iterable[Entry], what: What, get: Callable[[Record], int | None]) -> int:
    return sum(get(entry.record) or 0 for entry in standing if entry.record.what is what)


def _count(reasons: Iterable[Reason]) -> Mapping[Reason, int]:
    counts: dict[Reason, int] = defaultdict(int)
    for why in reasons:
        counts[why] += 1
    return counts


def _missed_days(
    tx: Transaction, farm: Farm, standing: Sequence[Entry], tappers: Sequence[Membership]
) -> Iterable[tuple[str, date, Reason]]:
    """Block-days that were not tapped; a block-day with latex after all is not one."""
    missed = [entry for entry in standing if entry.record.what is What.NO_TAPPING]
    if not missed:
        return
    tapped = {(entry.record.block, entry.record.day) for entry in standing if entry.record.what is What.LATEX}
    blocks_of = {each.person.id: each.blocks for each in tappers}
    every = tuple(farms.blocks(tx, farm.id))
    seen: set[tuple[str, date]] = set()
    for entry in missed:
        record = entry.record
        if record.day is None:
            continue
        for block in _blocks(record, blocks_of.get(entry.by.id, every) or every):
            if (block, record.day) not in tapped and (block, record.day) not in seen:
                seen.add((block, record.day))
                yield block, record.day, record.reason or Reason.OTHER


def _blocks(record: Record, own: tuple[str, ...]) -> tuple[str, ...]:
    return own if record.block in (None, ALL_BLOCKS) else (record.block,)


def _began(tx: Transaction, farm: Farm) -> Mapping[str, date]:
    """The log day on which each tapper came to the farm."""
    zone = ZoneInfo(farm.timezone)
    return {
        person_id: at.astimezone(zone).date() for person_id, at in people.since_when(tx, farm.id, Role.TAPPER).items()
    }


def _silent(
    tappers: Sequence[Membership], began: Mapping[str, date], standing: Sequence[Entry], first: date, last: date
) -> Iterable[Silence]:
    spoke: dict[str, set[date]] = defaultdict(set)
    for entry in standing:
        if entry.record.day is not None:
            spoke[entry.by.id].add(entry.record.day)
    for member in tappers:
        if member.person.blocked_at is not None:  # a lost phone says nothing
            continue
        own = spoke[member.person.id]
        came = min([began.get(member.person.id, first), *own])  # what he reported of days before, he was there for
        since = max(first, came)
        days = (last - since).days + 1 - len(own)
        if days > 0:
            yield Silence(member.person, days, max(own, default=None), since)


def week_of(day: date) -> tuple[date, date]:
    """Monday and Sunday of the week that holds the day (ISO 8601)."""
    monday = day - timedelta(days=day.weekday())
    return monday, monday + timedelta(days=6)

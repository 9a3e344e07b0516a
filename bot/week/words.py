"""The week as a text for the owner, and what waits to be collected.

First the figures against the week before, then what needs his eye, at most three things. As few parts as can be.
"""

from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal

from bot.books import Transaction, entries, people
from bot.books.model import Farm
from bot.reckon import acid
from bot.speech import say
from bot.speech.language import Tongue
from bot.week.figures import Crop, Silence, Span, gather
from parsers.reading import What

#: A block is said to fall behind when it gives so much less than in the week before.
BEHIND = 0.8

#: Acid for fewer days than this needs the owner's eye.
ACID_DAYS = 7

#: How many things that need the owner's eye are said.
MOST_CONCERNS = 3

#: What is ready is looked for among the sheets of so many days; older ones are taken for gone.
READY_DAYS = 60


def summary(tx: Transaction, farm: Farm, tongue: Tongue, first: date, last: date) -> str:
    """The summary of the days from `first` to `last`, against the same days a week before."""
    now = gather(tx, farm, first, last)
    before = gather(tx, farm, first - timedelta(days=7), last - timedelta(days=7))
    pieces = [
        _figures(tongue, farm, now, before),
        *_details(tongue, now),
        _concerns(tx, farm, tongue, now, before, last),
    ]
    return " ".join(piece for piece in pieces if piece)


def _figures(tongue: Tongue, farm: Farm, now: Span, before: Span) -> str:
    days = tongue.days(now.first, now.last)
    if not now.entries:
        return tongue.say("{farm} {days}: nothing was entered.", farm=farm.name, days=days)
    blocks = tongue.several(
        _block(tongue, name, crop, before.by_block.get(name)) for name, crop in now.by_block.items()
    )
    head = tongue.say(
        "{farm} {days}: {litres} L, {dry} kg dry (week before {before}).",
        farm=farm.name,
        days=days,
        litres=tongue.number(now.total.litres, 1),
        dry=tongue.fixed(now.total.dry_kg, 1),
        before=tongue.fixed(before.total.dry_kg, 1),
    )
    return f"{head} {blocks}." if blocks else head


def _block(tongue: Tongue, name: str, crop: Crop, before: Crop | None) -> str:
    values = {
        "block": say.block_name(tongue, name or None),
        "litres": tongue.number(crop.litres, 1),
        "dry": tongue.fixed(crop.dry_kg, 1),
        "before": tongue.fixed(before.dry_kg if before else 0, 1),
    }
    return tongue.say("{block} {litres} L {dry} kg ({before})", **values)


def _details(tongue: Tongue, now: Span) -> list[str]:
    pieces = []
    if now.sheets_rolled:
        pieces.append(tongue.count("{n} sheet rolled.", "{n} sheets rolled.", now.sheets_rolled))
    if now.taken_sheets or now.taken_kg:
        pieces.append(tongue.say("Sold {kg} kg.", kg=tongue.number(now.taken_kg)))
    if now.rain_days:
        pieces.append(tongue.count("Rain took {n} block-day.", "Rain took {n} block-days.", now.rain_days))
    return pieces


def _concerns(tx: Transaction, farm: Farm, tongue: Tongue, now: Span, before: Span, today: date) -> str:
    found = [
        *_behind(tongue, now, before),
        *_little_acid(tx, farm, tongue, today),
        *(_silent(tongue, each, now) for each in now.silent if each.days >= 3),
        *_opted_out(tx, farm, tongue),
    ][:MOST_CONCERNS]
    return tongue.say("See to: {things}.", things="; ".join(found)) if found else ""


def _behind(tongue: Tongue, now: Span, before: Span) -> list[str]:
    """Blocks that give clearly less for a tapping day than in the week before."""
    found = []
    for name, crop in now.by_block.items():
        earlier = before.by_block.get(name)
        if earlier is None or not earlier.days or not earlier.dry_kg:
            continue
        share = (crop.dry_kg / crop.days) / (earlier.dry_kg / earlier.days)
        if share < BEHIND:
            block = say.block_name(tongue, name)
            found.append(tongue.say("{block} {percent}% less a day", block=block, percent=round(100 * (1 - share))))
    return found


def _little_acid(tx: Transaction, farm: Farm, tongue: Tongue, today: date) -> list[str]:
    days = acid_days_left(tx, farm, today)
    if days is None or days >= ACID_DAYS:
        return []
    return [tongue.count("acid for {n} day", "acid for {n} days", days)]


def acid_days_left(tx: Transaction, farm: Farm, today: date) -> int | None:
    """How many days the acid lasts that was last counted, less what was used since; None when none was counted."""
    counted = entries.standing(tx, farm.id, first=today - timedelta(days=READY_DAYS), last=today, what=What.ACID_STOCK)
    if not counted or counted[-1].record.litres is None or counted[-1].record.day is None:
        return None
    used = acid.ml_used(tx, farm, counted[-1].record.day + timedelta(days=1), today)
    left = counted[-1].record.litres - Decimal(str(round(used / 1000, 3)))
    return acid.days_left(tx, farm, max(left, Decimal(0)), today)


def _silent(tongue: Tongue, silence: Silence, now: Span) -> str:
    if silence.last_day is None:
        return tongue.say("{name} silent all week", name=silence.person.name)
    since = tongue.weekday(silence.last_day)
    if silence.last_day == now.last:
        return tongue.count("{name} silent {n} day", "{name} silent {n} days", silence.days, name=silence.person.name)
    return tongue.say("{name} silent since {day}", name=silence.person.name, day=since)


def _opted_out(tx: Transaction, farm: Farm, tongue: Tongue) -> list[str]:
    gone = {each.person.name for each in people.members(tx, farm.id) if each.person.opted_out_at is not None}
    return [tongue.say("{name} gets no texts (STOP)", name=name) for name in sorted(gone)]


@dataclass(frozen=True)
class Ready:
    """Sheets rolled and not yet taken, and the dry weight to expect of them."""

    sheets: int
    dry_kg: float


def ready(tx: Transaction, farm: Farm, today: date, *, leave_out_message: str | None = None) -> Ready:
    """What should wait for the collector: what was rolled less what was taken, at the farm's weight of a dry sheet."""
    first = today - timedelta(days=READY_DAYS)
    standing = [
        entry
        for entry in entries.standing(tx, farm.id, first=first, last=today)
        if entry.message_id != leave_out_message
    ]
    rolled = sum(entry.record.count or 0 for entry in standing if entry.record.what is What.SHEETS_ROLLED)
    taken = sum(
        entry.record.sheets or 0
        for entry in standing
        if entry.record.what is What.COLLECTED and entry.record.farm in (None, farm.name)
    )
    sheets = max(rolled - taken, 0)
    return Ready(sheets, sheets * farm.settings.sheet_dry_g / 1000)


def ready_line(tx: Transaction, farm: Farm, tongue: Tongue, today: date) -> str:
    """What waits to be collected, in words."""
    found = ready(tx, farm, today)
    if not found.sheets:
        return tongue.say("No sheets waiting in the book.")
    return tongue.count(
        "{n} sheet waiting, about {kg} kg dry.",
        "{n} sheets waiting, about {kg} kg dry.",
        found.sheets,
        kg=tongue.fixed(found.dry_kg, 1),
    )

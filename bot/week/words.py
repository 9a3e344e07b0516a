"""The week as a text for the owner, and what waits to be collected.

First what needs his eye, at most three things; then the figures against the week before and the same week a year ago. At most
three parts: what does not fit is left out from the end, figures of single blocks first.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from bot.books import Transaction
from bot.books.model import Farm
from bot.reckon.waiting import waiting
from bot.speech import say
from bot.speech.language import Tongue, economical
from bot.speech.parts import count_parts
from bot.week.concerns import MOST_CONCERNS, acid_days_left, concerns
from bot.week.figures import Crop, Span, gather

__all__ = ["acid_days_left", "ready_line", "summary", "weekly"]

#: Parts that a weekly text may take.
MOST_PARTS = 3

#: The same weekday a year ago.
YEAR = timedelta(days=364)

WEEK = timedelta(days=7)


def weekly(tx: Transaction, owned: Sequence[Farm], tongue: Tongue, last: date, link: str | None = None) -> str:
    """One text for an owner about the seven days up to `last` on all his farms, with the link to his pages at its end."""
    said = [_said(tx, farm, tongue, last - timedelta(days=6), last) for farm in owned]
    said.sort(key=lambda each: (not each.concerns, not each.details))  # what must not be left out comes first
    most_cuts = max(each.cuts for each in said)
    shorter = [(len(said), cut) for cut in range(most_cuts + 1)]
    shorter += [(farms, most_cuts) for farms in range(len(said) - 1, 0, -1)]
    for farms, cut in shorter:
        left_out = len(said) - farms
        more = [tongue.count("And {n} more farm.", "And {n} more farms.", left_out)] if left_out else []
        text = " ".join([*(each.shortened(cut) for each in said[:farms]), *more, *([link] if link else [])])
        if count_parts(economical(text)).parts <= MOST_PARTS:
            break
    return text


def summary(tx: Transaction, farm: Farm, tongue: Tongue, first: date, last: date) -> str:
    """The summary of the days from `first` to `last` of one farm, against the same days a week before."""
    return _said(tx, farm, tongue, first, last).shortened(0)


@dataclass(frozen=True)
class Said:
    """The week of a farm in pieces: what must be said, concerns and details that may be left out from the end."""

    head: str
    concerns: tuple[str, ...]
    details: tuple[str, ...]
    tongue: Tongue

    @property
    def cuts(self) -> int:
        """How often it can be made shorter: details first, then concerns down to one."""
        return len(self.details) + max(0, len(self.concerns) - 1)

    def shortened(self, cut: int) -> str:
        """The text with so many pieces left out."""
        details = self.details[: max(0, len(self.details) - cut)]
        left = min(len(self.concerns), max(1, len(self.concerns) - max(0, cut - len(self.details))))
        things = "; ".join(self.concerns[:left])
        see_to = self.tongue.say("See to: {things}.", things=things) if things else ""
        return " ".join(piece for piece in (see_to, self.head, *details) if piece)


def _said(tx: Transaction, farm: Farm, tongue: Tongue, first: date, last: date) -> Said:
    now = gather(tx, farm, first, last)
    before = gather(tx, farm, first - WEEK, last - WEEK)
    year_ago = gather(tx, farm, first - YEAR, last - YEAR)
    found = concerns(tx, farm, tongue, now)[:MOST_CONCERNS]
    days = tongue.days(first, last)
    if not now.entries:
        nothing = tongue.say("{farm} {days}: nothing was entered.", farm=farm.name, days=days)
        return Said(nothing, tuple(found), (), tongue)
    return Said(_figures(tongue, farm, now, before, year_ago), tuple(found), _details(tongue, now, before), tongue)


def _figures(tongue: Tongue, farm: Farm, now: Span, before: Span, year_ago: Span) -> str:
    values = {
        "farm": farm.name,
        "days": tongue.days(now.first, now.last),
        "litres": tongue.number(now.total.litres, 1),
        "dry": tongue.fixed(now.total.dry_kg, 1),
        "before": tongue.fixed(before.total.dry_kg, 1),
    }
    if not year_ago.entries:
        return tongue.say("{farm} {days}: {litres} L, {dry} kg dry (week before {before}).", **values)
    return tongue.say(
        "{farm} {days}: {litres} L, {dry} kg dry (week before {before}, a year ago {year}).",
        year=tongue.fixed(year_ago.total.dry_kg, 1),
        **values,
    )


def _details(tongue: Tongue, now: Span, before: Span) -> tuple[str, ...]:
    """Sheets, sales and rain, then the blocks; the last ones are left out first."""
    pieces = []
    if now.sheets_rolled:
        pieces.append(tongue.count("{n} sheet rolled.", "{n} sheets rolled.", now.sheets_rolled))
    if now.taken_sheets or now.taken_kg:
        pieces.append(tongue.say("Sold {kg} kg.", kg=tongue.number(now.taken_kg)))
    if now.rain_days:
        pieces.append(tongue.count("Rain took {n} block-day.", "Rain took {n} block-days.", now.rain_days))
    blocks = [_block(tongue, name, crop, before.by_block.get(name)) for name, crop in now.by_block.items()]
    return (*pieces, *(f"{each}{'.' if n == len(blocks) - 1 else ','}" for n, each in enumerate(blocks)))


def _block(tongue: Tongue, name: str, crop: Crop, before: Crop | None) -> str:
    values = {
        "block": say.block_name(tongue, name or None),
        "litres": tongue.number(crop.litres, 1),
        "dry": tongue.fixed(crop.dry_kg, 1),
        "before": tongue.fixed(before.dry_kg if before else 0, 1),
    }
    return tongue.say("{block} {litres} L {dry} kg ({before})", **values)


def ready_line(tx: Transaction, farm: Farm, tongue: Tongue, today: date) -> str:
    """What waits to be collected, in words, and what still dries."""
    found = waiting(tx, farm, today)
    pieces = []
    if found.sheets:
        pieces.append(
            tongue.count(
                "{n} sheet waiting, about {kg} kg dry.",
                "{n} sheets waiting, about {kg} kg dry.",
                found.sheets,
                kg=tongue.fixed(found.weight.kg, 1),
            )
        )
    if found.latex:
        pieces.append(say.sentence(f"{tongue.say('latex')} {say.litres(tongue, found.latex)}"))
    if found.lump:
        pieces.append(say.sentence(f"{tongue.say('lump')} {say.kilos(tongue, found.lump)}"))
    if found.drying:
        pieces.append(tongue.count("{n} sheet still drying.", "{n} sheets still drying.", found.drying))
    return " ".join(pieces) or tongue.say("No sheets waiting in the book.")

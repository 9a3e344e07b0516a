"""The week as a text for the owner, and what waits to be collected.

First what needs his eye, at most three things; then the figures against the week before and the same week a year ago. At most
three parts: what does not fit is left out from the end, figures of single blocks first.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import NamedTuple

from dateutil.relativedelta import relativedelta

from bot.books import Transaction
from bot.books.model import Farm
from bot.reckon.learning import known_then
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
    said.sort(key=lambda each: (not each.concerns, not each.figures))  # what must not be left out comes first
    for farms, forms in _ever_shorter(said):
        left_out = len(said) - farms
        more = [tongue.count("And {n} more farm.", "And {n} more farms.", left_out)] if left_out else []
        written = [each.written(form) for each, form in zip(said, forms, strict=False)]
        text = " ".join([*written[:farms], *more, *([link] if link else [])])
        if count_parts(economical(text)).parts <= MOST_PARTS:
            break
    return text


def summary(tx: Transaction, farm: Farm, tongue: Tongue, first: date, last: date) -> str:
    """The summary of the days from `first` to `last` of one farm: of up to a week against the same days a week and a year
    before, of more days against those of the year before."""
    said = (_said if (last - first).days < WEEK.days else _said_long)(tx, farm, tongue, first, last)
    return said.written(said.forms[0])


@dataclass(frozen=True)
class Figure:
    """A figure in words, and what it was the week before and a year ago (None where that is not to be said)."""

    said: str
    before: str | None
    year: str | None


class Form(NamedTuple):
    """How long a text is: so many concerns, figures and blocks, and figures of how many earlier weeks beside each."""

    concerns: int
    figures: int
    blocks: int
    earlier: int


#: Litres and dry weight are always said.
_FEWEST = 2


@dataclass(frozen=True)
class Said:
    """The week of a farm in pieces. Without figures nothing was entered, which `head` then says."""

    head: str
    concerns: tuple[str, ...]
    figures: tuple[Figure, ...]
    blocks: tuple[str, ...]
    tongue: Tongue

    @property
    def forms(self) -> list[Form]:
        """From the whole text to the shortest: blocks are left out first, then the year ago, then sales and rain, then
        concerns down to one, and the week before at last."""
        concerns, figures, least = len(self.concerns), len(self.figures), min(_FEWEST, len(self.figures))
        forms = [Form(concerns, figures, blocks, 2) for blocks in range(len(self.blocks), -1, -1)]
        forms += [Form(concerns, some, 0, 1) for some in range(figures, least - 1, -1)]
        forms += [Form(some, least, 0, 1) for some in range(concerns - 1, 0, -1)]
        return [*forms, forms[-1]._replace(earlier=0)]

    def written(self, form: Form) -> str:
        """The text in one of its forms."""
        things = "; ".join(self.concerns[: form.concerns])
        see_to = self.tongue.say("See to: {things}.", things=things) if things else ""
        return " ".join(piece for piece in (see_to, self._body(form), *self.blocks[: form.blocks]) if piece)

    def _body(self, form: Form) -> str:
        if not self.figures:
            return self.head
        shown = [
            " ".join(piece for piece in (figure.said, self._earlier(figure, form.earlier, first=not n)) if piece)
            for n, figure in enumerate(self.figures[: form.figures])
        ]
        return say.sentence(f"{self.head}: {', '.join(shown)}")

    def _earlier(self, figure: Figure, weeks: int, *, first: bool) -> str:
        """What it was before, in brackets; the first bracket says what it holds, the others are like it."""
        if not weeks or (figure.before is None and figure.year is None):
            return ""
        if figure.before is None:
            return self.tongue.say("(a year ago {year})", year=figure.year) if first else f"({figure.year})"
        if weeks == 1 or figure.year is None:
            values = {"before": figure.before}
            return self.tongue.say("(week before {before})", **values) if first else f"({figure.before})"
        if not first:
            return f"({figure.before}; {figure.year})"
        return self.tongue.say("(week before {before}; a year ago {year})", before=figure.before, year=figure.year)


def _ever_shorter(said: Sequence[Said]) -> Iterator[tuple[int, list[Form]]]:
    """How many farms are said, and in which forms: each of them shorter and shorter, and only then fewer."""
    longest = max(len(each.forms) for each in said)
    ways = [(len(said), cut) for cut in range(longest)]
    ways += [(farms, longest - 1) for farms in range(len(said) - 1, 0, -1)]
    for farms, cut in ways:
        yield farms, [each.forms[min(cut, len(each.forms) - 1)] for each in said]


def _said(tx: Transaction, farm: Farm, tongue: Tongue, first: date, last: date) -> Said:
    then = known_then(tx, farm, first, last)
    now = gather(tx, farm, first, last, then.lines)
    before = gather(tx, farm, first - WEEK, last - WEEK)
    year_ago = gather(tx, farm, first - YEAR, last - YEAR)
    found = tuple(concerns(tx, farm, tongue, now, then)[:MOST_CONCERNS])
    days = tongue.days(first, last)
    if not now.entries:
        return Said(tongue.say("{farm} {days}: nothing was entered.", farm=farm.name, days=days), found, (), (), tongue)
    figures = tuple(_figures(tongue, now, before, year_ago if year_ago.entries else None))
    return Said(f"{farm.name} {days}", found, figures, _blocks(tongue, now, before), tongue)


def _said_long(tx: Transaction, farm: Farm, tongue: Tongue, first: date, last: date) -> Said:
    """A month, a year: figures alone, since what needs an eye today is said by the week."""
    now = gather(tx, farm, first, last)
    year_ago = gather(tx, farm, first - relativedelta(years=1), last - relativedelta(years=1))
    days = f"{tongue.days(first, last)} {last.year}"
    if not now.entries:
        return Said(tongue.say("{farm} {days}: nothing was entered.", farm=farm.name, days=days), (), (), (), tongue)
    figures = tuple(_figures(tongue, now, None, year_ago if year_ago.entries else None))
    return Said(f"{farm.name} {days}", (), figures, (), tongue)


def _figures(tongue: Tongue, now: Span, before: Span | None, year_ago: Span | None) -> Iterator[Figure]:
    """Litres and dry weight; sheets, sales and rain where there were any in these days or the days before."""

    def figure(said: str, shown: Callable[[Span], str]) -> Figure:
        return Figure(said, None if before is None else shown(before), None if year_ago is None else shown(year_ago))

    def litres(span: Span) -> str:
        return tongue.measured(span.total.litres)

    def dry(span: Span) -> str:
        return tongue.fixed(span.total.dry_kg, 1)

    def taken(span: Span) -> str:
        return tongue.measured(span.taken_kg)

    yield figure(f"{litres(now)} L", litres)
    yield figure(tongue.say("{kg} kg dry", kg=dry(now)), dry)
    if now.sheets_rolled or (before and before.sheets_rolled):
        rolled = tongue.count("{n} sheet rolled", "{n} sheets rolled", now.sheets_rolled)
        yield figure(rolled, lambda span: tongue.number(span.sheets_rolled))
    if now.taken_kg or (before and before.taken_kg):
        yield figure(tongue.say("sold {kg} kg", kg=taken(now)), taken)
    if now.rain_days or (before and before.rain_days):
        rain = tongue.count("rain took {n} block-day", "rain took {n} block-days", now.rain_days)
        yield figure(rain, lambda span: tongue.number(span.rain_days))


def _blocks(tongue: Tongue, now: Span, before: Span) -> tuple[str, ...]:
    """Each block with the dry weight of the week before; the last ones are left out first."""
    blocks = [_block(tongue, name, crop, before.by_block.get(name)) for name, crop in now.by_block.items()]
    return tuple(f"{each}{'.' if n == len(blocks) - 1 else ','}" for n, each in enumerate(blocks))


def _block(tongue: Tongue, name: str, crop: Crop, before: Crop | None) -> str:
    values = {
        "block": say.block_name(tongue, name or None),
        "litres": tongue.measured(crop.litres),
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

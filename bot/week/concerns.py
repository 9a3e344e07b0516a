"""What needs an owner's eye, the most pressing first: people, falling blocks, acid, sheets that wait, gaps, odd readings."""

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from functools import cached_property
from itertools import pairwise
from statistics import median

from bot.books import Transaction, entries, people
from bot.books.model import Entry, Farm
from bot.reckon import acid
from bot.reckon.bark import BarkOfBlock, bark_of_blocks
from bot.reckon.chain import Chain
from bot.reckon.learning import Lessons, Then, latex_of
from bot.reckon.waiting import dry_by
from bot.reckon.weighed import Compared, compared
from bot.rubber.estimate import Latex, expect
from bot.rubber.estimate import surprises as unusual
from bot.rubber.levels import expect_litres
from bot.rubber.lump import Verdict, dry_kg, share_of_crop
from bot.speech import say
from bot.speech.language import Tongue
from bot.week.figures import Silence, Span
from parsers.reading import What

#: How many things that need the owner's eye are said.
MOST_CONCERNS = 3

#: Acid for fewer days than this needs the owner's eye.
ACID_DAYS = 7

#: A tapper without a word on so many days of a week is worth a word.
SILENT_DAYS = 3

#: Reports of a block or a tapper before it is known what is usual.
ENOUGH = 5

#: Sheets that have been dry so many days and are still here are said.
WAIT_DAYS = 7

#: What is looked at to know what is usual for a block, and where sheets are; older sheets are taken for gone.
LITRES_DAYS, SHEETS_DAYS = 60, 60

#: The age of lump when it is weighed, in days, where nobody says it. Common practice, no source.
LUMP_DAYS = 3


@dataclass(frozen=True)
class Looked:
    """What is looked at for one farm and week, read once."""

    tx: Transaction
    farm: Farm
    tongue: Tongue
    span: Span
    then: Then

    @property
    def known(self) -> Lessons:
        """What the book had taught by the end of these days."""
        return self.then.lessons

    @property
    def chain(self) -> Chain:
        """What became of the sheets of these days and before."""
        return self.then.chain

    @property
    def since(self) -> date:
        """The first of the days that tell what is usual."""
        return self.span.last - timedelta(days=max(LITRES_DAYS, SHEETS_DAYS))

    @cached_property
    def reported(self) -> Mapping[str, Sequence[date]]:
        """The days of which anybody reported, by his id."""
        return entries.reported_days(self.tx, self.farm.id, self.since, self.span.last)

    def recent(self, what: What) -> list[Entry]:
        """What stands in the book of a kind, for the days that tell what is usual."""
        return entries.standing(self.tx, self.farm.id, first=self.since, last=self.span.last, what=what)

    @cached_property
    def bark(self) -> Mapping[str, BarkOfBlock]:
        """The bark of each block on which any was measured."""
        return bark_of_blocks(self.tx, self.farm, self.span.last)


def concerns(tx: Transaction, farm: Farm, tongue: Tongue, span: Span, then: Then) -> list[str]:
    """Everything about these days that needs the owner's eye, the most pressing first; `then` is what was known at their end."""
    looked = Looked(tx, farm, tongue, span, then)
    steps = (
        _silent,
        _little_acid,
        _behind,
        _panel_ends,
        _sheets_lighter,
        _balances_differ,
        _unsold,
        _odd_drc,
        _much_bark,
        _much_lump,
        _opted_out,
    )
    return [line for step in steps for line in step(looked)]


def _silent(looked: Looked) -> Iterator[str]:
    """Tappers who have been without a word for longer than they usually are between two tappings."""
    for silence in looked.span.silent:
        heard = silence.since - timedelta(days=1) if silence.last_day is None else silence.last_day
        quiet = (looked.span.last - heard).days
        if quiet >= SILENT_DAYS and quiet > usual_pause(looked.reported.get(silence.person.id, ())):
            yield _silence(looked.tongue, silence, all_week=silence.since == looked.span.first)


def usual_pause(days: Sequence[date]) -> int:
    """Days from one reported day to the next that somebody usually has; 0 before he has reported often enough to tell."""
    pauses = [(after - before).days for before, after in pairwise(days)]
    return round(median(pauses)) if len(pauses) >= ENOUGH else 0


def _silence(tongue: Tongue, silence: Silence, *, all_week: bool) -> str:
    if silence.last_day is None and all_week:
        return tongue.say("{name} silent all week", name=silence.person.name)
    day = tongue.weekday(silence.last_day or silence.since)
    return tongue.say("{name} silent since {day}", name=silence.person.name, day=day)


def _little_acid(looked: Looked) -> Iterator[str]:
    days = acid_days_left(looked.tx, looked.farm, looked.span.last)
    if days is not None and days < ACID_DAYS:
        yield looked.tongue.count("acid for {n} day", "acid for {n} days", days)


def acid_days_left(tx: Transaction, farm: Farm, today: date) -> int | None:
    """How many days the acid lasts that was last counted, less what was used since; None when none was counted."""
    left = acid.litres_left(tx, farm, today)
    return None if left is None else acid.days_left(tx, farm, left, today)


def _behind(looked: Looked) -> Iterator[str]:
    """Blocks that gave less than the low end of what their own past, the rain and the stimulation let expect."""
    for name, (brought, middle, low) in expected_litres(looked.then, looked.span).items():
        if middle and brought < low:
            yield looked.tongue.say(
                "{block} {percent}% below its usual",
                block=say.block_name(looked.tongue, name),
                percent=round(100 * (1 - brought / middle)),
            )


def expected_litres(then: Then, span: Span) -> Mapping[str, tuple[float, float, float]]:
    """Litres by block of the days it was tapped: brought, expected, and the low end of what was to be expected.

    What was learned before these days decides; a block with fewer than five reports before them is left out.
    """
    found: dict[str, tuple[float, float, float]] = {}
    for latex in _by_day(then.lessons, span):
        expected = expect_litres(then.litres, latex)
        if expected.observations >= ENOUGH:
            brought, middle, low = found.get(latex.block, (0.0, 0.0, 0.0))
            found[latex.block] = brought + latex.litres, middle + expected.middle, low + expected.low
    return found


def _by_day(known: Lessons, span: Span) -> list[Latex]:
    """One latex for each block and day: a second collection is part of the day."""
    by_day: dict[tuple[date, str], Latex] = {}
    for entry in span.entries:
        if entry.record.what is What.LATEX and known.litres(entry.record) > 0:
            each = known.latex(entry.record)
            before = by_day.get((each.day, each.block))
            litres = each.litres + (before.litres if before else 0.0)
            rain = each.rain or bool(before and before.rain)
            by_day[each.day, each.block] = Latex(each.day, each.block, litres, rain, each.days_since_stimulation)
    return list(by_day.values())


def _panel_ends(looked: Looked) -> Iterator[str]:
    """Panels whose bark is nearly tapped, so that the next has to be marked."""
    for name, bark in looked.bark.items():
        if bark.ends_soon:
            yield looked.tongue.count(
                "bark of {block} for {n} tapping",
                "bark of {block} for {n} tappings",
                bark.tappings_left,
                block=say.block_name(looked.tongue, name),
            )


def _much_bark(looked: Looked) -> Iterator[str]:
    """Panels of which each tapping takes more than the limit of a year allows."""
    for name, bark in looked.bark.items():
        if bark.over and bark.allowed_mm is not None:
            yield looked.tongue.say(
                "{block} tapping takes {mm} mm bark ({allowed} allowed)",
                block=say.block_name(looked.tongue, name),
                mm=looked.tongue.fixed(bark.mm_a_tapping, 1),
                allowed=looked.tongue.fixed(bark.allowed_mm, 1),
            )


def _sheets_lighter(looked: Looked) -> Iterator[str]:
    """Sheets of these days whose weight lies outside what their latex let expect: a gap between two steps."""
    for weighing in looked.chain.weighings:
        day, latex = weighing.entry.record.day, latex_of(looked.known, weighing)
        if latex is None or day is None or not looked.span.first <= day <= looked.span.last:
            continue
        expected = expect(looked.known.without(weighing.entry.id), latex)
        gap = float(weighing.kg) - expected.dry_kg
        if not expected.dry_kg_low <= float(weighing.kg) <= expected.dry_kg_high:
            yield _gap(looked.tongue, gap < 0, looked.tongue.weekday(day), looked.tongue.fixed(abs(gap), 1))


def _gap(tongue: Tongue, lighter: bool, day: str, kg: str) -> str:
    if lighter:
        return tongue.say("sheets of {day} {kg} kg lighter than their latex", day=day, kg=kg)
    return tongue.say("sheets of {day} {kg} kg heavier than their latex", day=day, kg=kg)


def _balances_differ(looked: Looked) -> Iterator[str]:
    """A collector of these days whose balance shows other kilos than the one at home, again and again."""
    of_week = {each.by.id for each in looked.span.takes}
    if not of_week:
        return
    by_collector: dict[str, list[Compared]] = {}
    for each in compared([*looked.recent(What.SHEETS_DRY), *looked.recent(What.COLLECTED)], looked.farm.name):
        by_collector.setdefault(each.take.by.id, []).append(each)
    settings = looked.farm.settings
    for collector, pairs in by_collector.items():
        gap, home = sum(each.gap for each in pairs), sum(each.home_kg for each in pairs)
        percent, deviations = 100 * gap / home, gap / math.sqrt(sum(each.noise for each in pairs))
        if collector in of_week and abs(percent) >= settings.gap_percent and abs(deviations) >= settings.gap_unusual:
            yield _two_balances(looked.tongue, pairs[-1].take.by.name, round(percent))


def _two_balances(tongue: Tongue, name: str, percent: int) -> str:
    if percent < 0:
        return tongue.say(
            "{name}'s balance shows {percent}% less than yours: which reads true?", name=name, percent=-percent
        )
    return tongue.say(
        "{name}'s balance shows {percent}% more than yours: which reads true?", name=name, percent=percent
    )


def _unsold(looked: Looked) -> Iterator[str]:
    waiting = [
        each
        for each in (*looked.chain.in_store, *looked.chain.hanging)
        if dry_by(looked.farm, each) + timedelta(days=WAIT_DAYS) <= looked.span.last
    ]
    count = sum(each.count for each in waiting)
    if count:
        yield looked.tongue.count("{n} dry sheet not sold", "{n} dry sheets not sold", count)


def _odd_drc(looked: Looked) -> Iterator[str]:
    in_span = {entry.id: entry for entry in looked.span.entries if entry.record.drc is not None}
    for surprise in unusual(looked.known.learned):
        entry = in_span.get(surprise.key)
        if entry is not None:
            yield looked.tongue.say(
                "DRC {drc}% of {block} does not fit",
                drc=looked.tongue.number(entry.record.drc or 0),
                block=say.block_name(looked.tongue, entry.record.block),
            )


def _much_lump(looked: Looked) -> Iterator[str]:
    """More lump than the published share of the crop: latex that set in the cup is paid less."""
    if not looked.span.lump_kg or not looked.span.total.dry_kg:
        return
    lump, *_ = dry_kg(float(looked.span.lump_kg), LUMP_DAYS)
    share = share_of_crop(looked.span.total.dry_kg, lump)
    if share is not None and share.verdict is Verdict.HIGH:
        yield looked.tongue.say("{percent}% of the crop came as lump", percent=round(share.percent))


def _opted_out(looked: Looked) -> Iterator[str]:
    gone = {
        each.person.name for each in people.members(looked.tx, looked.farm.id) if each.person.opted_out_at is not None
    }
    for name in sorted(gone):
        yield looked.tongue.say("{name} gets no texts (STOP)", name=name)

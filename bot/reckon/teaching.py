"""What a farm's own book teaches: the DRC of each block, the dry weight of its wet sheets, the litres that a day brings.

The models are `bot.rubber.estimate` and `bot.rubber.levels`; here the entries of a farm become what they learn from. A DRC
that was texted with latex is a hydrometer reading; sheets weighed dry, at home or by a collector, are a batch of the latex
that they were rolled from (`chain`). Everything here is a pure function of the entries; `learning` reads them.
"""

from bisect import bisect_right
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date

from bot.books.model import Entry
from bot.reckon.chain import Chain, Weighing, follow
from bot.rubber import estimate, levels
from bot.rubber.filtering import Learned
from bot.rubber.latex import litres_from_kg
from parsers.reading import Record, What


@dataclass(frozen=True)
class Lessons:
    """What a farm's book has taught about the dry rubber in its latex.

    `stimulated` holds the days on which each block was stimulated, oldest first. `learned` is `base` with the readings and
    batches of `recent` learned since.
    """

    learned: Learned
    stimulated: Mapping[str, tuple[date, ...]]
    usual_percent: float
    base: Learned = field(default_factory=estimate.prior)
    recent: tuple[estimate.Event, ...] = ()

    def without(self, key: str) -> Learned:
        """What would be known without one of the recent readings or batches. Raises KeyError for any other."""
        others = [event for event in self.recent if event.key != key]
        if len(others) == len(self.recent):
            raise KeyError(f"{key} is no reading or batch of late")
        return estimate.refit(others, start=self.base)

    def latex(self, record: Record, share: float = 1.0) -> estimate.Latex:
        """A record of latex, or a share of it, as the estimate takes it."""
        assert record.day is not None
        block = record.block or ""
        since = self._since_stimulation(block, record.day)
        return estimate.Latex(record.day, block, self.litres(record) * share, record.rain, since)

    def litres(self, record: Record) -> float:
        """Litres of a record of latex, whether it was measured or weighed."""
        if record.litres is not None:
            return float(record.litres)
        return litres_from_kg(float(record.kg or 0), float(record.drc or self.usual_percent))

    def _since_stimulation(self, block: str, day: date) -> int | None:
        days = self.stimulated.get(block, ())
        before = bisect_right(days, day)
        return (day - days[before - 1]).days if before else None


def taught_by(standing: Sequence[Entry], farm_name: str, usual_percent: float) -> Lessons:
    """What some entries teach. A pure function: a changed entry changes all that follows."""
    start = lessons_at_start(standing, usual_percent)
    return taught(start, [*readings(start, standing), *batches(start, follow(standing, farm_name))])


def lessons_at_start(standing: Iterable[Entry], usual_percent: float) -> Lessons:
    """What is known before any reading or weighing: the farm's setting, and when each block was stimulated."""
    return Lessons(estimate.prior(usual_percent), stimulations(standing), usual_percent)


def taught(start: Lessons, events: Iterable[estimate.Event]) -> Lessons:
    """What is known after some more readings and batches, none of a day before those already learned."""
    recent = tuple(events)
    learned = estimate.refit(recent, start=start.learned)
    return Lessons(learned, start.stimulated, start.usual_percent, start.learned, recent)


def stimulations(standing: Iterable[Entry]) -> Mapping[str, tuple[date, ...]]:
    """The days on which each block was stimulated, oldest first."""
    days: dict[str, list[date]] = {}
    for entry in standing:
        if entry.record.what is What.STIMULATED and entry.record.block and entry.record.day:
            days.setdefault(entry.record.block, []).append(entry.record.day)
    return {block: tuple(sorted(found)) for block, found in days.items()}


def readings(known: Lessons, standing: Iterable[Entry]) -> list[estimate.Reading]:
    """Every DRC that was texted with latex. A farm is taken to have one hydrometer."""
    return [
        estimate.Reading(entry.id, known.latex(entry.record), float(entry.record.drc))
        for entry in standing
        if entry.record.what is What.LATEX and entry.record.drc and known.litres(entry.record) > 0
    ]


def batches(known: Lessons, chain: Chain) -> list[estimate.Batch]:
    """Every weighing whose sheets are all known and made of latex that is in the book."""
    found = ((weighing, latex_of(known, weighing)) for weighing in chain.weighings)
    return [
        estimate.Batch(weighing.entry.id, latex, float(weighing.kg)) for weighing, latex in found if latex is not None
    ]


def latex_of(known: Lessons, weighing: Weighing) -> tuple[estimate.Latex, ...] | None:
    """The latex that weighed sheets were made of; None where some of it is not in the book."""
    if weighing.unknown or not weighing.kg or not all(each.rolling.latex for each in weighing.sheets):
        return None
    return tuple(
        known.latex(part.entry.record, part.share * sheets.count / sheets.rolling.count)
        for sheets in weighing.sheets
        for part in sheets.rolling.latex
    )


def wet_sheets(chain: Chain) -> list[levels.WetSheets]:
    """Sheets weighed wet after rolling and again when dry: weighings whose rollings were all weighed wet."""
    found = []
    for weighing in chain.weighings:
        rollings = [each.rolling.entry.record for each in weighing.sheets]
        if weighing.unknown or not rollings or not weighing.kg or not all(each.kg and each.count for each in rollings):
            continue
        wet = sum(
            float(each.rolling.entry.record.kg or 0) * each.count / each.rolling.count for each in weighing.sheets
        )
        day = max(each.rolling.day for each in weighing.sheets)
        found.append(levels.WetSheets(weighing.entry.id, day, wet, float(weighing.kg)))
    return found


def litres_learned(known: Lessons, standing: Iterable[Entry], usual: Mapping[str, float]) -> Learned:
    """What the farm's own latex teaches about the litres that a block brings on a day; `usual` are its litres by block."""
    return litres_after(levels.prior_litres(usual), known, standing)


def litres_after(start: Learned, known: Lessons, standing: Iterable[Entry]) -> Learned:
    """The same for more latex, none of it of a day that is learned already: what comes twice on a day is one latex."""
    by_day: dict[tuple[date, str], estimate.Latex] = {}
    for entry in standing:
        if entry.record.what is What.LATEX and known.litres(entry.record) > 0:
            each = known.latex(entry.record)
            before = by_day.get((each.day, each.block))
            litres = each.litres + (before.litres if before else 0.0)
            rain = each.rain or bool(before and before.rain)
            by_day[each.day, each.block] = estimate.Latex(
                each.day, each.block, litres, rain, each.days_since_stimulation
            )
    return levels.refit_litres(
        [levels.Brought(f"{day} {block}", latex) for (day, block), latex in by_day.items()], start=start
    )

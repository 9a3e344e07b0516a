"""What a farm's own book teaches: the DRC of each block, the dry weight of its wet sheets, the litres that a day brings.

The models are `bot.rubber.estimate` and `bot.rubber.levels`; here the entries of a farm become what they learn from. A DRC
that was texted with latex is a hydrometer reading; sheets weighed dry, at home or by a collector, are a batch of the latex
that they were rolled from (`chain`).
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from bot.books import Transaction, entries
from bot.books.model import Entry, Farm
from bot.reckon.chain import Chain, Weighing, follow
from bot.rubber import estimate, levels
from bot.rubber.filtering import Learned
from bot.rubber.latex import litres_from_kg
from parsers.reading import Record, What

#: What lies longer back teaches nothing any more: the drift of a season is far larger.
DAYS_KEPT = 400

#: Farms whose lessons are kept in memory, each of some kilobytes.
FARMS_KEPT = 512


@dataclass(frozen=True)
class Lessons:
    """What a farm's book has taught about the dry rubber in its latex.

    `stimulated` holds the days on which each block was stimulated.
    """

    learned: Learned
    stimulated: Mapping[str, tuple[date, ...]]
    usual_percent: float

    def latex(self, record: Record) -> estimate.Latex:
        """A record of latex as the estimate takes it."""
        assert record.day is not None
        block = record.block or ""
        return estimate.Latex(
            record.day, block, self.litres(record), record.rain, self._since_stimulation(block, record.day)
        )

    def litres(self, record: Record) -> float:
        """Litres of a record of latex, whether it was measured or weighed."""
        if record.litres is not None:
            return float(record.litres)
        return litres_from_kg(float(record.kg or 0), float(record.drc or self.usual_percent))

    def _since_stimulation(self, block: str, day: date) -> int | None:
        days = [(day - each).days for each in self.stimulated.get(block, ()) if each <= day]
        return min(days, default=None)


def lessons(tx: Transaction, farm: Farm, today: date) -> Lessons:
    """What the book of a farm has taught so far. Worked out anew only when something was entered that teaches."""
    mark = entries.lesson(tx, farm.id)
    usual = float(farm.settings.drc_percent)
    key = (farm.id, mark, usual)
    if key in _memory:
        return _memory[key]
    standing = entries.standing(tx, farm.id, first=today - timedelta(days=DAYS_KEPT)) if mark else []
    return _keep(key, taught_by(standing, farm.name, usual))


_Key = tuple[str, str, float]
_memory: dict[_Key, Lessons] = {}


def _keep(key: _Key, found: Lessons) -> Lessons:
    """Keep the newest lessons; a mark is never used twice, so that what is kept is never out of date."""
    while len(_memory) >= FARMS_KEPT:
        _memory.pop(next(iter(_memory)), None)
    _memory[key] = found
    return found


def taught_by(standing: Sequence[Entry], farm_name: str, usual_percent: float) -> Lessons:
    """What some entries teach. A pure function: a changed entry changes all that follows."""
    start = lessons_at_start(standing, usual_percent)
    events: list[estimate.Event] = [*readings(start, standing), *batches(start, follow(standing, farm_name))]
    return Lessons(estimate.refit(events, start=start.learned), start.stimulated, usual_percent)


def lessons_at_start(standing: Iterable[Entry], usual_percent: float) -> Lessons:
    """What is known before any reading or weighing: the farm's setting, and when each block was stimulated."""
    return Lessons(estimate.prior(usual_percent), _stimulations(standing), usual_percent)


def _stimulations(standing: Iterable[Entry]) -> Mapping[str, tuple[date, ...]]:
    days: dict[str, tuple[date, ...]] = {}
    for entry in standing:
        if entry.record.what is What.STIMULATED and entry.record.block and entry.record.day:
            days[entry.record.block] = (*days.get(entry.record.block, ()), entry.record.day)
    return days


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
    found = []
    for sheets in weighing.sheets:
        for part in sheets.rolling.latex:
            whole = known.latex(part.entry.record)
            share = part.share * sheets.count / sheets.rolling.count
            found.append(
                estimate.Latex(whole.day, whole.block, whole.litres * share, whole.rain, whole.days_since_stimulation)
            )
    return tuple(found)


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
    """What the farm's own latex teaches about the litres that a block brings on a day."""
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
    events = [levels.Brought(f"{day} {block}", latex) for (day, block), latex in by_day.items()]
    return levels.refit_litres(events, usual)

"""The weighings of a farm's book as the search for gaps takes them: whose latex, which block, which balance, which collector."""

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from enum import StrEnum
from functools import cached_property
from statistics import median

from bot.books.model import Entry
from bot.reckon.aligned import aligned
from bot.reckon.chain import Chain, Weighing, follow, taken_here
from bot.reckon.milestones import day_of
from bot.reckon.teaching import Lessons, latex_of, lessons_at_start, readings
from bot.rubber import estimate
from bot.rubber.brought import Brought, beside
from bot.rubber.filtering import Learned, Observation, Step, learn, steps
from bot.rubber.gaps import Held, Search
from bot.rubber.reference import value
from bot.rubber.robust import deviation
from parsers.reading import What

#: The farm's own balance, on which sheets are weighed at home.
HOME = "home"

#: Sheets of a rolling differ by so much from each other (standard deviation). Common practice, no source.
SHEET_SPREAD = 0.10


#: Sheets that would hold far more, or less, latex than those of the rollings before and after are not weighed against it: so many
#: standard deviations of theirs, but not less than the first of these ratios, nor more than the second. Common practice, no source.
ODD, ODD_RATIOS = 3.0, (1.15, 1.5)

#: A farm that rolls less than this share of its sheets from the latex of the same day does not do so at all.
SELDOM = 0.4

#: So many rollings on either side are looked at.
NEAR = 7


class By(StrEnum):
    """Whose gap is looked for."""

    TAPPER = "tapper"
    BLOCK = "block"
    FARM = "farm"
    COLLECTOR = "collector"
    BALANCE = "balance"


@dataclass(frozen=True)
class Compared:
    """Sheets on two balances: kilos at home and when they were taken, and the variance of their difference, kg squared."""

    take: Entry
    home_kg: float
    found_kg: float
    noise: float

    @property
    def gap(self) -> float:
        """How much more was found, kg."""
        return self.found_kg - self.home_kg


@dataclass(frozen=True)
class Look:
    """All that gaps are reckoned from: what stands, the chain of sheets, and comparisons of balances."""

    standing: tuple[Entry, ...]
    chain: Chain
    start: Lessons
    compared: tuple[Compared, ...]
    names: Mapping[str, str] = field(default_factory=dict)

    @cached_property
    def _seen(self) -> tuple["Seen", ...]:
        return tuple(sorted(_seen(self), key=lambda each: (each.observation.day, each.observation.key)))

    @cached_property
    def brought(self) -> tuple[Brought, ...]:
        """Latex as its tappers read it."""
        return tuple(
            Brought(each.by.id, each.record.block or "", each.record.day, self.start.litres(each.record))
            for each in self.standing
            if each.record.what is What.LATEX and each.record.day is not None
        )

    @cached_property
    def _courses(self) -> dict[tuple[date, int], "Course"]:
        return {}

    def seen_until(self, last: date) -> list["Seen"]:
        """What teaches the estimate by the end of a day, in the order in which it does."""
        return [
            each
            for each in self._seen
            if each.observation.day <= last and (each.weighing is None or day_of(each.weighing.entry) <= last)
        ]

    def course(self, last: date, known: int) -> "Course":
        """What the first so many of these taught, and the way over the others: gone once, whoever's gaps are looked for."""
        if (last, known) not in self._courses:
            seen = [each.observation for each in self.seen_until(last)]
            done = max((at for end, at in self._courses if end == last and at < known), default=0)
            start = self._courses[last, done].before if done else self.start.learned
            before = learn(start, seen[done:known])
            self._courses[last, known] = Course(before, tuple(steps(before, seen[known:])))
        return self._courses[last, known]


def look_at(standing: Sequence[Entry], farm_name: str, usual_percent: float) -> Look:
    """What the book says, in the form in which gaps are looked for. A pure function of what stands."""
    chain = follow(standing, farm_name)
    names = {each.by.id: each.by.name for each in standing}
    return Look(
        tuple(standing), chain, lessons_at_start(standing, usual_percent), tuple(compared(standing, farm_name)), names
    )


def compared(standing: Iterable[Entry], farm_name: str) -> Iterator[Compared]:
    """Takes whose sheets were all weighed at home before: the oldest that were weighed are taken first.

    Only what was on the scales counts, so that a rolling that nobody texted changes nothing.
    """
    store: list[_Pile] = []
    on_scales = (each for each in standing if each.record.what in (What.SHEETS_DRY, What.COLLECTED))
    for entry in sorted(on_scales, key=lambda each: (each.record.day or date.min, each.entered_at, each.id)):
        record = entry.record
        if record.what is What.SHEETS_DRY and record.count and record.kg:
            store.append(_Pile(record.count, record.count, float(record.kg)))
        elif taken_here(record, farm_name) and record.sheets:
            taken = _from(store, record.sheets)
            if record.kg and sum(count for count, _ in taken) == record.sheets:
                yield _comparison_of(entry, float(record.kg), taken)


@dataclass
class _Pile:
    """Sheets weighed together at home: how many are left, how many there were, kilos of all."""

    left: int
    count: int
    kg: float


def _from(store: list[_Pile], wanted: int) -> list[tuple[int, _Pile]]:
    """The oldest sheets of the store, at most so many, with the piles they come from."""
    taken = []
    while store and wanted:
        now = min(store[0].left, wanted)
        taken.append((now, store[0]))
        wanted -= now
        store[0].left -= now
        if not store[0].left:
            store.pop(0)
    return taken


def _comparison_of(entry: Entry, found: float, taken: Sequence[tuple[int, _Pile]]) -> Compared:
    error = value("estimate_weighing_error")
    piles = [(count, pile.kg / pile.count, 1 - count / pile.count) for count, pile in taken]
    home = sum(count * sheet for count, sheet, _ in piles)
    at_home = sum((error * count * sheet) ** 2 for count, sheet, _ in piles)
    uneven = sum(count * left_out * (SHEET_SPREAD * sheet) ** 2 for count, sheet, left_out in piles)
    return Compared(entry, home, found, at_home + (error * found) ** 2 + uneven)


@dataclass(frozen=True)
class Seen:
    """A reading, or a weighing of known latex, as the estimate's filter takes it."""

    observation: Observation
    weighing: Weighing | None = None
    latex: tuple[estimate.Latex, ...] = ()


@dataclass(frozen=True)
class Course:
    """What was known before some of what a look holds, and the plain filter's way over the rest."""

    before: Learned
    way: tuple[Step, ...]


def _seen(look: Look) -> Iterator[Seen]:
    """All that teaches the estimate, but for sheets that would hold far more or less latex than usual."""
    for reading in readings(look.start, look.standing):
        yield Seen(estimate.observation(reading))
    odd = _odd_rollings(look)
    for weighing in aligned(look.chain):
        latex = latex_of(look.start, weighing)
        if latex is not None and not any(each.rolling.entry.id in odd for each in weighing.sheets):
            batch = estimate.Batch(weighing.entry.id, latex, float(weighing.kg))
            yield Seen(estimate.observation(batch), weighing, latex)


def search(look: Look, by: By, first: date, last: date) -> Search:
    """The search over weighings of the days from `first` to `last`; what was known before them is what they are held against."""
    seen = look.seen_until(last)
    events = [(each.observation.day, each.observation.key, _event(look, each, by, first)) for each in seen]
    for each in look.compared if by in (By.BALANCE, By.COLLECTOR) else ():
        day = each.take.record.day
        if day is not None and first <= day <= last:
            events.append((*_place(each), _comparison(each, by)))
    events.sort(key=lambda each: each[:2])
    ready = [each for _, _, each in events]
    at = next((n for n, each in enumerate(ready) if isinstance(each, Held)), len(ready))
    course = look.course(last, at)
    return Search(course.before, tuple(ready[at:]), course.way, _litres(look, first, last) if by is By.TAPPER else ())


def _litres(look: Look, first: date, last: date) -> tuple[Held, ...]:
    """What litres say of the tappers from the latex on that was first weighed in these days."""
    waited = [
        (day_of(each.weighing.entry) - each.observation.day).days for each in look.seen_until(last) if each.weighing
    ]
    if not waited:
        return ()
    return beside((each for each in look.brought if each.day <= last), first - timedelta(days=round(median(waited))))


def _event(look: Look, each: Seen, by: By, first: date) -> Observation | Held:
    """What was weighed in the days in question is held against what was known before."""
    day = None if each.weighing is None else each.weighing.entry.record.day
    return each.observation if day is None or day < first else _held(look, each, by)


def _odd_rollings(look: Look) -> set[str]:
    """Rollings of which the book tells another latex than they can be of: a text about a rolling, or latex, is missing.

    Their sheets would hold far more or less latex than those near them (a bucket that changes moves all that follow, and is not odd
    for long); or they would be of the latex of their own day, where this farm rolls that of the day before.
    """
    made = [each for each in look.chain.rollings if each.latex]
    same_day = {each.entry.id for each in made if all(part.entry.record.day == each.day for part in each.latex)}
    litres = {
        each.entry.id: sum(look.start.litres(part.entry.record) * part.share for part in each.latex) / each.count
        for each in made
    }
    logs = [(key, math.log(value)) for key, value in litres.items() if value > 0]
    values = [value for _, value in logs]
    odd = {key for n, (key, value) in enumerate(logs) if _is_odd(value, values[max(0, n - NEAR) : n + NEAR + 1])}
    return odd | (same_day if len(same_day) < SELDOM * len(made) else set())


def _is_odd(value: float, near: Sequence[float]) -> bool:
    middle = median(near)
    low, high = (math.log(ratio) for ratio in ODD_RATIOS)
    wide = ODD * deviation(each - middle for each in near)
    return abs(value - middle) > min(high, max(low, wide))


def _place(each: Compared) -> tuple[date, str]:
    """Where a comparison stands among the events: it tells nothing of latex, and may stand anywhere."""
    assert each.take.record.day is not None
    return each.take.record.day, f"{each.take.id} compared"


def _held(look: Look, seen: Seen, by: By) -> Held:
    assert seen.weighing is not None
    grams, weighing = estimate.KINDS["farm"].mean, seen.weighing
    kilos: dict[str, float] = {}
    whole = 0.0
    parts = [part.entry for sheets in weighing.sheets for part in sheets.rolling.latex]
    for entry, each in zip(parts, seen.latex, strict=True):
        kg = each.litres * grams / 1000
        whole += kg
        key = _key(entry, weighing.entry, by)
        if key is not None:
            kilos[key] = kilos.get(key, 0.0) + kg
    return Held(seen.observation, whole, kilos)


def _key(latex: Entry, weighing: Entry, by: By) -> str | None:
    if by is By.TAPPER:
        return latex.by.id
    if by is By.BLOCK:
        return latex.record.block
    taken = weighing.record.what is What.COLLECTED
    if by is By.COLLECTOR:
        return weighing.by.id if taken else None
    return weighing.by.id if taken else HOME


def _comparison(each: Compared, by: By) -> Held:
    """The difference of two balances: it tells of both, and of nothing else."""
    day, key = _place(each)
    seen = Observation(key, day, {}, each.gap, each.noise)
    kilos = {each.take.by.id: each.home_kg} | ({HOME: -each.home_kg} if by is By.BALANCE else {})
    return Held(seen, 0.0, kilos)


def own_kilos(found: Search) -> Mapping[str, list[tuple[float, float]]]:
    """For each key its share of each weighing in which it has a part, and the kilos that the weighing showed.

    A balance that only stands in comparisons has those, with what it showed itself.
    """
    weighed: dict[str, list[tuple[float, float]]] = {}
    compared: dict[str, list[tuple[float, float]]] = {}
    for each in found.events:
        if isinstance(each, Held):
            for key, kg in each.kilos.items():
                if each.whole:
                    weighed.setdefault(key, []).append((kg / each.whole, each.observation.value))
                elif kg > 0:
                    compared.setdefault(key, []).append((1.0, kg + each.observation.value))
    return compared | weighed

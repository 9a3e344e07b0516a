"""The weighings of a farm's book as the search for gaps takes them: whose latex, which block, which balance, which collector."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from enum import StrEnum

from bot.books.model import Entry
from bot.reckon.chain import Chain, Weighing, follow
from bot.reckon.learning import Lessons, latex_of, lessons_at_start, readings
from bot.rubber import estimate
from bot.rubber.filtering import Observation, learn
from bot.rubber.gaps import Held, Search
from bot.rubber.reference import value
from parsers.reading import What

#: The farm's own balance, on which sheets are weighed at home.
HOME = "home"

#: Sheets of a rolling differ by so much from each other (standard deviation). Common practice, no source.
SHEET_SPREAD = 0.10


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

    take: Weighing
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


def look_at(standing: Sequence[Entry], farm_name: str, usual_percent: float) -> Look:
    """What the book says, in the form in which gaps are looked for. A pure function of what stands."""
    chain = follow(standing, farm_name)
    names = {each.by.id: each.by.name for each in standing}
    return Look(tuple(standing), chain, lessons_at_start(standing, usual_percent), tuple(_compared(chain)), names)


def _compared(chain: Chain) -> Iterable[Compared]:
    """Takes whose sheets were all weighed at home before."""
    at_home: dict[str, list[Weighing]] = {}
    for weighing in chain.weighings:
        if weighing.entry.record.what is What.SHEETS_DRY and not weighing.unknown:
            for sheets in weighing.sheets:
                at_home.setdefault(sheets.rolling.entry.id, []).append(weighing)
    error = value("estimate_weighing_error")
    for take in chain.taken:
        found = float(take.kg)
        if not found or take.unknown or not all(each.rolling.entry.id in at_home for each in take.sheets):
            continue
        home = uneven = 0.0
        for each in take.sheets:
            kg, count = _weight(at_home[each.rolling.entry.id])
            home += each.count * kg / count
            left_out = max(0.0, 1 - each.count / count)
            uneven += each.count * left_out * (SHEET_SPREAD * kg / count) ** 2
        yield Compared(take, home, found, (error * home) ** 2 + (error * found) ** 2 + uneven)


def _weight(weighings: Sequence[Weighing]) -> tuple[float, int]:
    """Kilos and sheets of some weighings together."""
    return sum(float(each.kg) for each in weighings), sum(s.count for each in weighings for s in each.sheets)


def search(look: Look, by: By, first: date, last: date) -> Search:
    """The search over weighings of the days from `first` to `last`; what was known before them is what they are held against."""
    known = look.start
    events: list[tuple[date, str, Observation | Held]] = []
    for reading in readings(known, look.standing):
        if reading.latex.day <= last:
            events.append((estimate.day_of(reading), reading.key, estimate.observation(reading)))
    for weighing in look.chain.weighings:
        latex, day = latex_of(known, weighing), weighing.entry.record.day
        if latex is None or day is None or day > last:
            continue
        batch = estimate.Batch(weighing.entry.id, latex, float(weighing.kg))
        seen = estimate.observation(batch)
        within = day >= first
        events.append((seen.day, seen.key, _held(look, weighing, seen, latex, by) if within else seen))
    for each in look.compared if by in (By.BALANCE, By.COLLECTOR) else ():
        day = each.take.entry.record.day
        if day is not None and first <= day <= last:
            events.append((*_place(each), _comparison(each, by)))
    events.sort(key=lambda each: each[:2])
    ready = [each for _, _, each in events]
    at = next((n for n, each in enumerate(ready) if isinstance(each, Held)), len(ready))
    plain = [each for each in ready[:at] if isinstance(each, Observation)]
    return Search(learn(known.learned, plain), tuple(ready[at:]))


def _place(each: Compared) -> tuple[date, str]:
    """Where a comparison stands among the events: after the latex of its sheets."""
    return max(sheets.rolling.day for sheets in each.take.sheets), f"{each.take.entry.id} compared"


def _held(look: Look, weighing: Weighing, seen: Observation, latex: Sequence[estimate.Latex], by: By) -> Held:
    grams = estimate.KINDS["farm"].mean
    kilos: dict[str, float] = {}
    whole = 0.0
    parts = [part.entry for sheets in weighing.sheets for part in sheets.rolling.latex]
    for entry, each in zip(parts, latex, strict=True):
        kg = each.litres * grams / 1000
        whole += kg
        key = _key(entry, weighing.entry, by)
        if key is not None:
            kilos[key] = kilos.get(key, 0.0) + kg
    return Held(seen, whole, kilos)


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
    kilos = {each.take.entry.by.id: each.home_kg} | ({HOME: -each.home_kg} if by is By.BALANCE else {})
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

"""Reconciliation: latex, sheets, dry weight, taken, sold. At each step what was expected, what was found, and the gap.

A gap is told as a question: nobody here knows whose mistake it is, or whether it is one. It is told where it is unusual against
the estimate's own range (`bot.rubber.gaps`) and larger than the farm's limit in percent; steps that are only counted have the
limit alone.
"""

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from bot.books import Transaction, entries, lots
from bot.books.lots import LotTake
from bot.books.model import Entry, Farm
from bot.reckon.backlog import missing
from bot.reckon.chain import KEEPS_DAYS, taken_here
from bot.reckon.weighed import HOME, By, Compared, Look, look_at, own_kilos, search
from bot.reckon.wording import figure, later
from bot.rubber.drying import Method
from bot.rubber.gaps import Gap
from bot.rubber.reference import value
from parsers.reading import What

#: What lies longer back tells nothing of these days: the drift of a season is far larger.
LOOKED_BACK_DAYS = 400


@dataclass(frozen=True)
class Row:
    """A step, or what lies with a key: kilos expected and found, how unusual, in how many weighings or entries.

    `deviations` counts standard deviations of the estimate's own range; None where it is only `counted`, or where the
    weighings cannot tell: then expected and found are the same. `told` marks what should be asked about, with the
    `question`; `since` the day on which it began, where that was looked for. `key` tells people of one name apart.
    """

    name: str
    expected_kg: float
    found_kg: float
    deviations: float | None
    count: int
    counted: bool = False
    told: bool = False
    question: str = ""
    key: str = ""
    since: date | None = None

    @property
    def unclear(self) -> bool:
        """Whether the weighings cannot tell."""
        return self.deviations is None and not self.counted

    @property
    def gap_kg(self) -> float:
        """Found less expected."""
        return self.found_kg - self.expected_kg

    @property
    def percent(self) -> float | None:
        """The gap in percent of what was expected."""
        return 100 * self.gap_kg / self.expected_kg if self.expected_kg else None


@dataclass(frozen=True)
class Days:
    """Some days of a farm with its limits."""

    farm: Farm
    first: date
    last: date

    @property
    def limit(self) -> float:
        """Gaps of fewer percent are not told."""
        return float(self.farm.settings.gap_percent)

    @property
    def unusual(self) -> float:
        """Nor those of fewer standard deviations."""
        return float(self.farm.settings.gap_unusual)

    @property
    def looked_back(self) -> date:
        """The first day of which anything is read."""
        return self.last - timedelta(days=LOOKED_BACK_DAYS)

    def within(self, day: date | None) -> bool:
        """Whether a day is one of those looked at."""
        return day is not None and self.first <= day <= self.last


@dataclass(frozen=True)
class Weights(Days):
    """Days with all that their gaps are reckoned from."""

    look: Look


def weights(tx: Transaction, farm: Farm, first: date, last: date) -> Weights:
    """What gaps of these days are reckoned from: what stands up to `last`."""
    standing = entries.standing(tx, farm.id, first=Days(farm, first, last).looked_back, last=last)
    return of_entries(standing, farm, first, last)


def of_entries(standing: Sequence[Entry], farm: Farm, first: date, last: date) -> Weights:
    """The same from entries in hand."""
    return Weights(farm, first, last, look_at(standing, farm.name, float(farm.settings.drc_percent)))


def steps(tx: Transaction, seen: Weights) -> list[Row]:
    """The steps of a farm from latex to what was sold."""
    return [*steps_there(seen), sold(tx, seen)]


def steps_there(seen: Weights) -> list[Row]:
    """The steps from latex to what was taken: those that the farm's own lines tell."""
    return [rolled(seen), finished(seen), weighed(*by_key(seen, By.FARM)), taken(seen)]


def _told(seen: Days, row: Row, question: str, beyond: float = 0.0) -> Row:
    percent = row.percent
    large = percent is not None and abs(percent) >= seen.limit
    unusual = row.deviations is None or abs(row.deviations) >= seen.unusual + beyond
    told = large and unusual
    return replace(row, told=told, question=question if told else "")


def rolled(seen: Weights) -> Row:
    """Latex of these days that should have been rolled by the last of them, against what was."""
    used: dict[str, float] = {}
    for rolling in seen.look.chain.rollings:
        for part in rolling.latex:
            used[part.entry.id] = used.get(part.entry.id, 0.0) + part.share
    newest = seen.last - timedelta(days=KEEPS_DAYS)
    latex = [
        each
        for each in seen.look.standing
        if each.record.what is What.LATEX and seen.within(each.record.day) and (each.record.day or newest) < newest
    ]
    expected = sum(_dry(each) for each in latex)
    found = sum(_dry(each) * min(1.0, used.get(each.id, 0.0)) for each in latex)
    row = Row(later("Latex that was rolled"), expected, found, None, len(latex), counted=True)
    asked = later(
        "Latex of {kg} kg dry was not rolled by the book: sold as latex, left as lump, or is a text missing?",
        kg=figure(row.expected_kg - row.found_kg),
    )
    return _told(seen, row, asked)


def _dry(latex: Entry) -> float:
    return float((latex.computed or {}).get("dry_kg", 0))


def finished(seen: Weights, beyond: float = 0.0) -> Row:
    """Sheets rolled in these days, against those that came to a scale or still hang as they should."""
    found = missing(seen.look.chain, Method(seen.farm.settings.drying), seen.first, seen.last)
    sheet = kg_a_sheet(seen)
    there = max(0.0, found.rolled - found.missing)
    name, counted = later("Rolled sheets that were weighed or still dry"), found.deviations is None
    row = Row(name, found.rolled * sheet, there * sheet, found.deviations, found.rolled, counted=counted)
    asked = later(
        "About {n} sheets that should be dry were neither weighed nor taken: do they still hang, or is a text missing?",
        n=figure(found.missing, 0),
    )
    return _told(seen, row, asked, beyond)


def kg_a_sheet(seen: Weights) -> float:
    """What a dry sheet of this farm weighs by its own weighings, kg; by its setting where there are none."""
    weighings = [each for each in seen.look.chain.weighings if each.kg and each.sheets]
    count = sum(sheets.count for each in weighings for sheets in each.sheets) + sum(each.unknown for each in weighings)
    return sum(float(each.kg) for each in weighings) / count if count else seen.farm.settings.sheet_dry_g / 1000


def weighed(row: Row) -> Row:
    """Sheets weighed in these days against what their latex let expect before: the farm's own row as a step."""
    return replace(row, name=later("Weighed, by its latex"))


def taken(seen: Weights) -> Row:
    """What was taken, against what the same sheets weighed at home."""
    pairs = [each for each in seen.look.compared if seen.within(each.take.record.day)]
    row = _summed(later("Taken, by the weight at home"), pairs)
    asked = later(
        "{percent} at the collector's balance than at home: do both read true? Hang the same weight on both.",
        percent=_percent(row),
    )
    return _told(seen, row, asked)


def _summed(name: str, pairs: Sequence[Compared]) -> Row:
    noise = sum(each.noise for each in pairs)
    home, found = sum(each.home_kg for each in pairs), sum(each.found_kg for each in pairs)
    return Row(name, home, found, (found - home) / math.sqrt(noise) if noise else None, len(pairs))


def sold(tx: Transaction, seen: Days) -> Row:
    """Closed lots with this farm's rubber: its share of their net mass against its receipts in them."""
    expected = found = noise = 0.0
    count = 0
    error = value("estimate_weighing_error")
    for name, taken in lots.sold_of_farm(tx, seen.farm.id, seen.first, seen.last).items():
        lot, own = lots.named(tx, name), [each.grams for each in taken if _taken_there(tx, seen.farm, each)]
        if not own or lot.net_grams is None:
            continue
        whole = sum(each.grams for each in lots.takes(tx, lot)) + sum(each.grams for each in lots.unknowns(tx, lot))
        expected += sum(own) / 1000
        found += lot.net_grams * sum(own) / whole / 1000
        noise += sum((error * each / 1000) ** 2 for each in own) + (error * sum(own) / 1000) ** 2
        count += 1
    row = Row(
        later("Sold in lots, by receipts"),
        expected,
        found,
        (found - expected) / math.sqrt(noise) if noise else None,
        count,
    )
    asked = later(
        "The lots weigh {kg} kg less than their receipts: dried out, or is a bale missing?", kg=figure(-row.gap_kg)
    )
    return _told(seen, row, asked)


def _taken_there(tx: Transaction, farm: Farm, take: LotTake) -> bool:
    """Whether a receipt in a lot is of a take at the farm whose book it stands in, as that was corrected last."""
    return taken_here(entries.history(tx, take.take_id)[-1].record, farm.name)


def by_key(seen: Weights, by: By, beyond: float = 0.0) -> list[Row]:
    """What lies with each key, those that are told first: from so many deviations `beyond` the farm's limit on.

    Keys that the weighings cannot tell apart have no `deviations`.
    """
    found = search(seen.look, by, seen.first, seen.last)
    kilos = own_kilos(found)
    if by is By.FARM:
        whole = [(1.0, showed) for showed in found.showed]
        return [_row(seen, by, found.together(), whole, seen.farm.name, beyond)] if whole else [_nothing(seen)]
    gaps = found.each(seen.unusual + beyond)
    return [_row(seen, by, each, kilos.get(each.key, []), _name(seen, by, each.key), beyond) for each in gaps]


def _nothing(seen: Weights) -> Row:
    return Row(seen.farm.name, 0.0, 0.0, None, 0)


def _name(seen: Weights, by: By, key: str) -> str:
    if by is By.BLOCK:
        return later("block {name}", name=key)
    if key == HOME:
        return later("The balance at {farm}", farm=seen.farm.name)
    name = seen.look.names.get(key, key)
    return later("{name}'s balance", name=name) if by is By.BALANCE else name


def _row(seen: Weights, by: By, gap: Gap, own: Sequence[tuple[float, float]], name: str, beyond: float) -> Row:
    """Kilos of a key: its share of each weighing, without and with what lies with it."""
    count, key = len(own), name if gap.key == HOME else gap.key
    fraction = 0.0 if gap.deviations is None else gap.fraction
    expected = sum(share * showed / (1 + fraction * share) for share, showed in own)
    if gap.deviations is None:
        return Row(name, expected, expected, None, count, key=key)
    row = Row(name, expected, expected * (1 + gap.fraction), gap.deviations, count, key=key)
    if by is not By.FARM and not gap.found:
        return row
    return _told(seen, row, _QUESTIONS[by](row), beyond)


def _percent(row: Row) -> str:
    percent = row.percent or 0.0
    if percent < 0:
        return later("{percent} % less", percent=figure(-percent))
    return later("{percent} % more", percent=figure(percent))


_QUESTIONS: Mapping[By, Callable[[Row], str]] = {
    By.TAPPER: lambda row: later(
        "Sheets of {name}'s latex weigh {percent} than the others' let expect. Does the bucket hold what the book says, "
        "and is the latex measured before water is added?",
        name=row.name,
        percent=_percent(row),
    ),
    By.BLOCK: lambda row: later(
        "Sheets of {block} weigh {percent} than the other blocks let expect. A new panel, stimulation, "
        "or a container that holds other litres than the book says?",
        block=row.name,
        percent=_percent(row),
    ),
    By.FARM: lambda row: later(
        "Sheets weigh {percent} than their latex let expect before. Rain, leaf fall, or a balance or bucket that changed?",
        percent=_percent(row),
    ),
    By.COLLECTOR: lambda row: later(
        "What {name} weighs is {percent} than the other weighings let expect. Do both balances read true? Hang the same weight on both.",
        name=row.name,
        percent=_percent(row),
    ),
    By.BALANCE: lambda row: later(
        "{balance} shows {percent} than the others. Which one reads true? Hang the same weight on both.",
        balance=row.name,
        percent=_percent(row),
    ),
}


def together(rows: Iterable[Sequence[Row]], limit: float, unusual: float) -> list[Row]:
    """Rows of one name from several farms as one: what each farm tells counts by how sure it is."""
    found: dict[str, list[Row]] = {}
    for each in rows:
        for row in each:
            found.setdefault(row.key or row.name, []).append(row)
    return sorted((_joined(each, limit, unusual) for each in found.values()), key=lambda row: (not row.told, row.name))


def _joined(rows: Sequence[Row], limit: float, unusual: float) -> Row:
    sure = [each for each in rows if each.deviations and each.percent]
    precision = sum((each.deviations / each.percent) ** 2 for each in sure if each.deviations and each.percent)
    count, expected = sum(each.count for each in rows), sum(each.expected_kg for each in rows)
    if not precision:
        return replace(
            rows[0], expected_kg=expected, found_kg=expected, deviations=None, count=count, told=False, question=""
        )
    percent = sum((each.deviations or 0) ** 2 / (each.percent or 1) for each in sure) / precision
    deviations = percent * math.sqrt(precision)
    row = Row(rows[0].name, expected, expected * (1 + percent / 100), deviations, count)
    told = abs(percent) >= limit and abs(deviations) >= unusual
    asked = f"{row.name}: {_percent(row)} than other weighings let expect, over {len(rows)} farms. Does the balance read true?"
    return replace(row, told=told, question=asked if told else "", key=rows[0].key)

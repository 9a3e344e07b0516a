"""Grades by grower over time: kilos of each grade by month, and how often each reason of a grade was given."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from bot.books import Transaction, cooperatives
from bot.books.cooperatives import Cooperative, Graded
from bot.speech import say
from bot.speech.language import Tongue
from bot.week.closing import kind_name
from parsers.taking import NOTES


@dataclass(frozen=True)
class GrowersMonth:
    """A grower's month: kilos by grade or form, takes, and in how many of them each reason was given."""

    farm: str
    month: date
    kinds: Mapping[str, Decimal]
    takes: int
    notes: Mapping[str, int]


def by_grower(tx: Transaction, cooperative: Cooperative, first: date, last: date) -> list[GrowersMonth]:
    """Each grower's months from `first` to `last`, by farm and month."""
    groups: dict[tuple[str, date], list[Graded]] = {}
    for each in cooperatives.grades(tx, cooperative.id, first, last):
        groups.setdefault((each.farm, each.day.replace(day=1)), []).append(each)
    return [_month(farm, month, found) for (farm, month), found in groups.items()]


def _month(farm: str, month: date, found: Sequence[Graded]) -> GrowersMonth:
    kinds: dict[str, Decimal] = {}
    for each in found:
        kinds[each.kind] = kinds.get(each.kind, Decimal(0)) + each.kg
    counts = {note: sum(note in each.notes for each in found) for note in NOTES}
    return GrowersMonth(farm, month, kinds, len(found), {note: n for note, n in counts.items() if n})


def in_words(speech: Tongue, found: GrowersMonth) -> str:
    """`Ama Ridge Mar: RSS3 120 kg, RSS4 14.5 kg; mould 2 of 9.`"""
    kilos = speech.several(f"{kind_name(speech, kind)} {speech.number(kg, 1)} kg" for kind, kg in found.kinds.items())
    why = speech.several(f"{say.grade_note(speech, note)} {n}/{found.takes}" for note, n in found.notes.items())
    return f"{found.farm} {speech.short_month(found.month)}: {kilos}{'; ' + why if why else ''}."

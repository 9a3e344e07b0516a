"""Why the figures of an entry are what they are, for an owner: the lines that are said by text, one below the other."""

from dataclasses import dataclass

from bot.books import Transaction, entries, farms, people
from bot.books.model import Farm, Person
from bot.pages.week import owner_of
from bot.reckon import batches
from bot.speech import say
from bot.speech import why as explaining
from bot.speech.language import page_tongue


class NoFigures(LookupError):
    """The farm has no such entry, or nothing was worked out for it."""


@dataclass(frozen=True)
class Explained:
    """An entry of latex in words, and the lines that explain its figures."""

    farm: Farm
    owner: Person
    entry: str
    lines: tuple[str, ...]


def explained(tx: Transaction, farm_id: str, person_id: str, entry_id: str) -> Explained:
    """The explanation of an entry's figures. Raises NotOwner, or NoFigures where there is nothing to explain."""
    owner = owner_of(people.members(tx, farm_id), person_id)
    farm = farms.farm(tx, farm_id)
    entry = entries.entry(tx, entry_id)
    if entry is None or entry.farm_id != farm_id or not entry.computed or entry.record.day is None:
        raise NoFigures(entry_id)
    speech = page_tongue(owner.language)
    together = [
        each for each in entries.of_message(tx, entry.message_id) if each.farm_id == farm_id and not each.removed
    ]
    dose = batches.dose_kept([each for each in together if each.computed], farm.settings)
    lines = [explaining.dry_weight(speech, entry)]
    if dose is not None:
        grams = int(entry.computed.get("sheet_dry_g", farm.settings.sheet_dry_g))
        lines += [
            explaining.expected_range(speech, dose),
            explaining.water(speech, dose),
            explaining.acid(speech, dose),
            explaining.sheets(speech, dose, grams),
        ]
    return Explained(farm, owner, say.line(speech, entry.record, entry.record.day, with_day=False), tuple(lines))

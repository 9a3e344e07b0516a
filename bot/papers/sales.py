"""What collectors took, and what that came to where a price stands with it."""

from collections.abc import Iterable
from datetime import date
from decimal import Decimal

from bot.books import Transaction, entries
from bot.books.model import Entry, Farm
from bot.papers.table import Cell, Column, Table
from bot.reckon.chain import taken_here
from bot.reckon.wages import exponent
from bot.rubber.money import rounded
from bot.speech.language import Tongue
from parsers.reading import What


def collections(tx: Transaction, farm: Farm, tongue: Tongue, first: date, last: date) -> Table:
    """The takes that stand for the days from `first` to `last`, with the numbers of their receipts."""
    takes = entries.standing(tx, farm.id, first=first, last=last, what=What.COLLECTED)
    columns = (
        Column(tongue.say("Receipt")),
        Column(tongue.say("Day")),
        Column(tongue.say("Farm or place")),
        Column(tongue.say("Collector")),
        Column(tongue.say("Sheets")),
        Column(tongue.say("Weight"), "kg"),
        Column(tongue.say("Grade")),
        Column(tongue.say("Price"), f"{farm.currency}/kg"),
        Column(tongue.say("Amount"), farm.currency),
    )
    return Table(tongue.say("Collections"), columns, tuple(_row(tx, farm, entry) for entry in takes))


def _row(tx: Transaction, farm: Farm, entry: Entry) -> tuple[Cell, ...]:
    record = entry.record
    return (
        receipt_number(tx, farm, entry),
        record.day,
        record.farm or farm.name,
        entry.by.name,
        record.sheets,
        record.kg,
        record.grade,
        record.price,
        amount(farm, entry),
    )


def receipt_number(tx: Transaction, farm: Farm, entry: Entry) -> int:
    """The number of a take in its farm's book, from 1; a correction keeps the number of what it corrects."""
    first = entries.history(tx, entry.id)[0]
    return entries.position(tx, farm.id, What.COLLECTED, first.id)


def amount(farm: Farm, entry: Entry) -> Decimal | None:
    """Weight times price, rounded half up to the decimals in which the currency is paid; None where either is missing."""
    record = entry.record
    if record.kg is None or record.price is None:
        return None
    return rounded(record.kg * record.price, exponent(farm))


def amount_of(farm: Farm, standing: Iterable[Entry]) -> Decimal:
    """The sum of the amounts of all takes from this farm among these entries."""
    takes = (amount(farm, entry) for entry in standing if taken_here(entry.record, farm.name))
    return sum((each for each in takes if each is not None), Decimal(0))

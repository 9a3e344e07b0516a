"""What collectors took, and what that came to where a price stands with it."""

from datetime import date

from bot.books import Transaction, entries
from bot.books.model import Entry, Farm
from bot.papers.table import Cell, Column, Table
from bot.reckon.takes import amount, paid_kg
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
        entries.receipt_number(tx, entry),
        record.day,
        record.farm or farm.name,
        entry.by.name,
        record.sheets,
        paid_kg(entry) or None,
        record.grade or (entry.computed or {}).get("kind"),
        record.price,
        amount(farm, entry),
    )

"""The day-book as a table: every line, also those that were corrected or taken out, with what took their place."""

from collections.abc import Mapping, Sequence
from datetime import date
from zoneinfo import ZoneInfo

from bot.books import Transaction, entries
from bot.books.model import Entry, Farm
from bot.papers.table import Cell, Column, Table
from bot.speech import say
from bot.speech.language import Tongue
from parsers.reading import Record, What


def day_book(tx: Transaction, farm: Farm, tongue: Tongue, first: date, last: date) -> Table:
    """The lines for the days from `first` to `last`, both included, by day and time of entering.

    A line that only takes another out is told at that other one. Weights in kg, latex and acid in L, DRC in percent by
    mass, prices in the farm's currency a kg; moments on the farm's clock.
    """
    lines = entries.all_entries(tx, farm.id, first=first, last=last)
    shown = [entry for entry in lines if not entry.removed]
    after = successors(tx, farm, lines, first, last)
    numbers = {entry.id: number for number, entry in enumerate(shown, 1)}
    rows = tuple(_row(tongue, farm, entry, numbers, after.get(entry.id)) for entry in shown)
    return Table(tongue.say("Day-book"), _columns(tongue, farm), rows)


def successors(tx: Transaction, farm: Farm, lines: Sequence[Entry], first: date, last: date) -> Mapping[str, Entry]:
    """What took the place of each line that does not stand any more; it may be a line of another day."""
    standing = {entry.id for entry in entries.standing(tx, farm.id, first=first, last=last)}
    found = {entry.replaces: entry for entry in lines if entry.replaces is not None}
    for entry in lines:
        if not (entry.id in standing or entry.id in found or entry.removed):
            later = entries.successor(tx, entry.id)
            if later is not None:
                found[entry.id] = later
    return found


def kind_in_words(tongue: Tongue, record: Record) -> str:
    """What a line is about, in a word or two."""
    words = {
        What.LATEX: tongue.say("latex"),
        What.NO_TAPPING: tongue.say("not tapped"),
        What.LUMP: tongue.say("lump"),
        What.SHEETS_ROLLED: tongue.say("sheets rolled"),
        What.SHEETS_DRY: tongue.say("dry sheets"),
        What.STIMULATED: tongue.say("stimulated"),
        What.DRY_TREES: tongue.say("dry trees"),
        What.ACID_STOCK: tongue.say("acid left"),
        What.COLLECTED: tongue.say("collected"),
        What.PRICE: tongue.say("price"),
        What.CHECK_IN: tongue.say("collector arrived"),
    }
    return words[record.what]


def _columns(tongue: Tongue, farm: Farm) -> tuple[Column, ...]:
    return (
        Column(tongue.say("Line")),
        Column(tongue.say("Day")),
        Column(tongue.say("Entry")),
        Column(tongue.say("Block")),
        Column(tongue.say("Volume"), "L"),
        Column(tongue.say("Weight"), "kg"),
        Column("DRC", "%"),
        Column(tongue.say("Pieces")),
        Column(tongue.say("Grade")),
        Column(tongue.say("Price"), f"{farm.currency}/kg"),
        Column(tongue.say("Farm or place")),
        Column(tongue.say("Remarks")),
        Column(tongue.say("Whose work")),
        Column(tongue.say("From the phone")),
        Column(tongue.say("Entered"), farm.timezone),
        Column(tongue.say("State")),
        Column(tongue.say("Now")),
        Column(tongue.say("Changed"), farm.timezone),
        Column(tongue.say("Corrects line")),
    )


def _row(tongue: Tongue, farm: Farm, entry: Entry, numbers: Mapping[str, int], after: Entry | None) -> tuple[Cell, ...]:
    record, zone = entry.record, ZoneInfo(farm.timezone)
    return (
        numbers[entry.id],
        record.day,
        kind_in_words(tongue, record),
        say.block_name(tongue, record.block) if record.block else None,
        record.litres,
        record.kg,
        record.drc,
        record.sheets if record.sheets is not None else record.count,
        record.grade,
        record.price,
        record.farm or record.place,
        remarks(tongue, record) or None,
        entry.by.name,
        entry.via,
        entry.entered_at.astimezone(zone),
        _state(tongue, after),
        None if after is None or after.removed else _now(tongue, entry, after),
        None if after is None else after.entered_at.astimezone(zone),
        numbers.get(entry.replaces or ""),
    )


def remarks(tongue: Tongue, record: Record) -> str:
    """What was said besides figures: why there was no tapping, rain, late, a further collection."""
    said = [say.reason(tongue, record.reason)] if record.what is What.NO_TAPPING else []
    said += [word for word, given in _marks(tongue, record) if given]
    return tongue.several(said)


def _marks(tongue: Tongue, record: Record) -> tuple[tuple[str, bool], ...]:
    return (
        (tongue.say("again"), record.again),
        (tongue.say("rain"), record.rain),
        (tongue.say("late"), record.late),
    )


def _state(tongue: Tongue, after: Entry | None) -> str:
    if after is None:
        return tongue.say("stands")
    return tongue.say("taken out") if after.removed else tongue.say("corrected")


def _now(tongue: Tongue, before: Entry, after: Entry) -> str:
    """The line that took the place, with its day where that is another one."""
    day = after.record.day
    moved = f"{day.isoformat()}: " if day is not None and day != before.record.day else ""
    return moved + say.line(tongue, after.record, day or date.min, with_day=False)

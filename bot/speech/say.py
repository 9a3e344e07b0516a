"""Every sentence that the bot says about entries, made from values in the listener's language.

First what was understood, then what to do, then what to expect, then the caution. The English text is the key of the
catalogues; the other languages are ours, from memory, not yet checked by a native speaker.
"""

from collections.abc import Iterable, Sequence
from datetime import date
from decimal import Decimal
from itertools import groupby

from bot.rubber.coagulation import Dose, DoseRefused
from bot.speech.language import Tongue
from bot.speech.rounding import half_litres, tenths, whole
from parsers.reading import ALL_BLOCKS, Reason, Record, What


def block_name(tongue: Tongue, name: str | None) -> str:
    """A block as people name it: a bare number gets the language's short word for block before it."""
    if name is None:
        return tongue.say("no block")
    if name == ALL_BLOCKS:
        return tongue.say("all blocks")
    return tongue.say("B{name}", name=name) if name.isdecimal() else name


def reason(tongue: Tongue, why: Reason | None) -> str:
    """Why there was no tapping."""
    match why:
        case Reason.RAIN:
            return tongue.say("rain")
        case Reason.SICK:
            return tongue.say("sick")
        case Reason.REST:
            return tongue.say("rest day")
        case Reason.HOLIDAY:
            return tongue.say("holiday")
        case Reason.WINTERING:
            return tongue.say("wintering")
    return tongue.say("other reason")


def amount(tongue: Tongue, record: Record) -> str:
    """The quantity of a record: `18 L`, `12.5 kg`, `28 sheets, 41 kg`."""
    if record.what is What.LATEX:
        return _latex_amount(tongue, record)
    pieces = []
    if record.what is What.DRY_TREES:
        pieces.append(tongue.count("{n} dry tree", "{n} dry trees", record.count or 0))
    sheets = record.sheets if record.what is What.COLLECTED else record.count
    if sheets is not None and record.what is not What.DRY_TREES:
        pieces.append(tongue.count("{n} sheet", "{n} sheets", sheets))
    if record.litres is not None:
        pieces.append(litres(tongue, record.litres))
    if record.kg is not None:
        pieces.append(kilos(tongue, record.kg))
    return tongue.several(pieces)


def _latex_amount(tongue: Tongue, record: Record) -> str:
    measured = record.litres if record.litres is not None else record.kg
    if measured is None:
        return ""
    return litres(tongue, measured) if record.litres is not None else kilos(tongue, measured)


def litres(tongue: Tongue, value: Decimal | float) -> str:
    """`18.5 L`."""
    return f"{tongue.measured(value)} L"


def kilos(tongue: Tongue, value: Decimal | float) -> str:
    """`5.8 kg`."""
    return f"{tongue.measured(value)} kg"


def drc(tongue: Tongue, percent: Decimal) -> str:
    """`DRC 33%`."""
    return tongue.say("DRC {drc}%", drc=tongue.number(percent))


def marks(tongue: Tongue, record: Record) -> str:
    """What was said beside the quantity: rain, late, DRC, a further collection."""
    said = []
    if record.again:
        said.append(tongue.say("again"))
    if record.drc is not None:
        said.append(drc(tongue, record.drc))
    if record.rain:
        said.append(tongue.say("rain"))
    if record.late:
        said.append(tongue.say("late"))
    return "".join(f", {each}" for each in said)


def line(tongue: Tongue, record: Record, today: date, *, with_day: bool = True) -> str:
    """One record as it stands in the book: `B3 today 18 L, rain`."""
    day = tongue.day(record.day, today) if record.day and with_day else ""
    place = block_name(tongue, record.block) if record.block else ""
    pieces = [
        place,
        day,
        _done(tongue, record),
        record.farm or "",
        amount(tongue, record),
        *_trade(tongue, record),
    ]
    return " ".join(piece for piece in pieces if piece) + marks(tongue, record)


def _done(tongue: Tongue, record: Record) -> str:
    """What was done, in a word; nothing for latex, whose litres say it."""
    match record.what:
        case What.NO_TAPPING:
            return tongue.say("not tapped ({reason})", reason=reason(tongue, record.reason))
        case What.LUMP:
            return tongue.say("lump")
        case What.SHEETS_ROLLED:
            return tongue.say("rolled")
        case What.SHEETS_DRY:
            return tongue.say("dry")
        case What.STIMULATED:
            return tongue.say("stimulated")
        case What.ACID_STOCK:
            return tongue.say("acid left")
        case What.COLLECTED:
            return tongue.say("collected")
        case What.PRICE:
            return tongue.say("price")
        case What.CHECK_IN:
            return tongue.say("at {place}", place=record.place or "")
    return ""


def _trade(tongue: Tongue, record: Record) -> list[str]:
    pieces = [record.grade or ""]
    if record.price is not None:
        pieces.append(tongue.say("{price} a kg", price=tongue.number(record.price)))
    return pieces


def lines(tongue: Tongue, records: Iterable[Record], today: date) -> str:
    """Several records in one breath; a day is said only where it changes."""
    said, last = [], None
    for record in records:
        said.append(line(tongue, record, today, with_day=record.day != last))
        last = record.day
    return tongue.several(said)


def dose_line(tongue: Tongue, dose: Dose) -> str:
    """What to add and how, with the short caution."""
    values = {
        "water": tongue.number(half_litres(dose.water_first_litres)),
        "strength": tongue.number(dose.strength_percent),
        "ml": tongue.number(whole(dose.acid_ml)),
        "thin": tongue.number(tenths(dose.thinning_water_litres)),
    }
    if half_litres(dose.water_first_litres) > 0:
        return tongue.say(
            "Water {water} L, then acid {strength}% {ml} ml thinned in {thin} L water "
            "(acid into water; gloves, goggles).",
            **values,
        )
    return tongue.say(
        "No water more (thin latex). Acid {strength}% {ml} ml thinned in {thin} L water "
        "(acid into water; gloves, goggles).",
        **values,
    )


def expect_line(tongue: Tongue, dose: Dose) -> str:
    """What to expect dry."""
    return tongue.count(
        "Dry about {dry} kg ({low}-{high}), {n} sheet.",
        "Dry about {dry} kg ({low}-{high}), {n} sheets.",
        dose.sheets,
        dry=tongue.fixed(tenths(dose.dry_kg), 1),
        low=tongue.fixed(tenths(dose.dry_kg_low), 1),
        high=tongue.fixed(tenths(dose.dry_kg_high), 1),
    )


def not_tapped(tongue: Tongue, records: Sequence[Record], today: date) -> str:
    """`Not tapped today: B3, B5, rain. Noted.`"""
    said = []
    for (day, why), group in groupby(records, key=lambda record: (record.day, record.reason)):
        names = tongue.several(block_name(tongue, record.block) for record in group)
        when = tongue.day(day, today) if day else ""
        said.append(
            tongue.say("Not tapped {day}: {blocks}, {reason}.", day=when, blocks=names, reason=reason(tongue, why))
        )
    return " ".join(said)


def sentence(text: str) -> str:
    """Capital first letter, one full stop at the end."""
    if not text:
        return ""
    text = text[0].upper() + text[1:]
    return text if text[-1] in ".?!" else text + "."


def acid_lasts(tongue: Tongue, days: int) -> str:
    """How long the acid lasts at the pace of the last two weeks."""
    return tongue.count("Enough for about {n} day.", "Enough for about {n} days.", days)


def no_dose(tongue: Tongue, refusal: DoseRefused) -> str:
    """Why there is no dose, and what would work."""
    reasons = {
        "drc-low": tongue.say("Too thin for sheet: no acid dose. Measure the DRC again, or let it set as lump."),
        "drc-high": tongue.say("Field latex is not so rich: no acid dose. Check the DRC."),
        "litres": tongue.say("No acid dose for such a volume. Check the litres."),
        "acid-sulphuric": tongue.say("No dose for sulphuric acid: it burns people and spoils rubber. Use formic acid."),
    }
    return reasons.get(refusal.key, tongue.say("No acid dose: a setting of the farm is out of bounds. Ask the owner."))


def grade_note(tongue: Tongue, name: str) -> str:
    """Why a grade was given, in words."""
    words = {
        "moisture": tongue.say("too wet"),
        "mould": tongue.say("mould"),
        "bubbles": tongue.say("bubbles"),
        "dirt": tongue.say("dirt"),
        "colour": tongue.say("colour"),
    }
    return words[name]

"""The collector's texts: where he is, what he took, receipts for those who gave it, and their disputes."""

from collections.abc import Sequence
from decimal import Decimal

from bot.books import entries, farms
from bot.books.model import Entry
from bot.reckon.chain import taken_here
from bot.speech import say
from bot.speech.language import Tongue, tongue
from bot.talk.desk import Desk, Outcome, Told
from bot.talk.exchange import Kind
from bot.week import words
from parsers.reading import Reading, Record, What


def arrived(desk: Desk, record: Record) -> str:
    """Answer a check-in with what is expected at the place, farm by farm."""
    point = farms.point_named(desk.tx, record.place or "")
    houses = [farms.farm(desk.tx, each) for each in point.farm_ids] if point is not None else [desk.farm]
    said = [f"{house.name}: {words.ready_line(desk.tx, house, desk.tongue, desk.today)}" for house in houses]
    return f"{say.sentence(record.place or '')} {' '.join(said)}"


def taken(desk: Desk, found: Sequence[Entry]) -> str:
    """What the collector took, the amount, and how it compares with the books."""
    return " ".join(_taken_line(desk, entry) for entry in found)


def _taken_line(desk: Desk, entry: Entry) -> str:
    record = entry.record
    pieces = [say.sentence(_sum(desk.tongue, record))]
    if is_of(desk, record):
        pieces.append(_compared(desk, record))
    pieces.append(desk.tongue.say("Receipt {number}.", number=receipt_number(desk, entry)))
    return " ".join(piece for piece in pieces if piece)


def _sum(speech: Tongue, record: Record) -> str:
    """`Ama 24 sheets 11.8 kg RSS3 x 1.55 = 18.29`: weight times price, rounded half up to the hundredth."""
    what = " ".join(piece for piece in (record.farm or "", say.amount(speech, record), record.grade or "") if piece)
    if record.price is None or record.kg is None:
        return what
    return f"{what} x {speech.number(record.price)} = {speech.fixed(record.price * record.kg, 2)}"


def _compared(desk: Desk, record: Record) -> str:
    """What the book expected to be there, before this take."""
    expected = words.ready(desk.tx, desk.farm, desk.today, leave_out_message=desk.message.id)
    if record.kg is None or not expected.dry_kg:
        return ""
    return desk.tongue.say(
        "Book: {sheets}, about {kg} kg.",
        sheets=desk.tongue.count("{n} sheet", "{n} sheets", expected.sheets),
        kg=desk.tongue.fixed(expected.dry_kg, 1),
    )


def receipt_number(desk: Desk, entry: Entry) -> int:
    """The number of a take in its farm's book: takes are numbered as they were first entered, corrections keep theirs."""
    first = entries.history(desk.tx, entry.id)[0]
    return entries.position(desk.tx, desk.farm.id, What.COLLECTED, first.id)


def receipts(desk: Desk, found: Sequence[Entry]) -> tuple[Told, ...]:
    """A receipt for each owner and tapper of the farm, in his language."""
    told = []
    for entry in found:
        if not is_of(desk, entry.record):
            continue
        for person in dict.fromkeys([*desk.owners(), *desk.tappers()]):
            told.append(Told(person, _receipt(desk, tongue(person.language), entry)))
    return tuple(told)


def _receipt(desk: Desk, speech: Tongue, entry: Entry) -> str:
    number = receipt_number(desk, entry)
    return speech.say(
        "Receipt {number}, {name}: {sum}. Not right? Answer: {number} and why.",
        number=number,
        name=desk.me.name,
        sum=_sum(speech, entry.record.with_(farm=None)),
    )


def is_of(desk: Desk, record: Record) -> bool:
    """Whether a take is of this farm: one of another farm is nobody's business here."""
    return taken_here(record, desk.farm.name)


def dispute(desk: Desk, reading: Reading) -> Outcome:
    """A take that somebody does not agree with: it is passed on, and stands as it is until both agree."""
    entry = _disputed(desk, reading.figure)
    if entry is None:
        told = tuple(Told(owner, _says(desk, owner.language)) for owner in desk.owners() if owner.id != desk.me.id)
        return Outcome(Kind.ANSWERED, desk.tongue.say("Noted. Nothing was changed."), told)
    line = say.line(desk.tongue, entry.record, desk.today)
    text = desk.tongue.say(
        "Noted and passed on to {name}. It stands for now: {line}. Nothing was changed.", name=entry.by.name, line=line
    )
    others = [entry.by, *desk.owners()]
    told = tuple(Told(person, _says(desk, person.language)) for person in others if person.id != desk.me.id)
    return Outcome(Kind.ANSWERED, text, told)


def _says(desk: Desk, language: str) -> str:
    return tongue(language).say("{name} disagrees: {text}", name=desk.me.name, text=desk.message.text)


def _disputed(desk: Desk, figure: Decimal | None) -> Entry | None:
    takes = [entry for entry in reversed(desk.view) if entry.record.what is What.COLLECTED]
    if figure is None:
        return takes[0] if takes else None
    by_figure = [entry for entry in takes if figure in (entry.record.kg, entry.record.sheets, entry.record.price)]
    by_number = [entry for entry in takes if receipt_number(desk, entry) == figure]
    return next(iter(by_figure + by_number + takes), None)

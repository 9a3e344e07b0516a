"""The collector's texts: what he took, its money and how it compares with the books, and receipts for those who gave it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import timedelta
from decimal import Decimal
from typing import Any

from bot.books import cooperatives, disputes, entries, farms
from bot.books.model import Entry, Person
from bot.reckon import takes
from bot.reckon.chain import HANGS_DAYS, taken_here
from bot.reckon.drc import drc_of
from bot.reckon.takes import Price, Taken
from bot.reckon.waiting import Weight, expected_of, sheets_count, sheets_there
from bot.rubber.money import MoneyError
from bot.speech import say
from bot.speech.language import Tongue, tongue
from bot.talk.desk import Desk, Outcome, Told
from bot.talk.exchange import Kind
from bot.week import words
from parsers.reading import Record, Role, What
from parsers.taking import Lot

#: A price that is so many times more or less than the cooperative's of the day is not taken. Common practice, no source.
PRICE_TIMES = 5


#: A correction that came before its text is told by a weight within so many percent. Common practice, no source.
NEAR_PERCENT = 20


@dataclass(frozen=True)
class Noted:
    """A take as it stands after a text: written now, or there before (`again`)."""

    entry: Entry
    again: bool = False


def arrived(desk: Desk, record: Record) -> str:
    """Answer a check-in with what is expected at the place, farm by farm."""
    point = farms.point_named(desk.tx, record.place or "")
    houses = [farms.farm(desk.tx, each) for each in point.farm_ids] if point is not None else [desk.farm]
    said = [f"{house.name}: {words.ready_line(desk.tx, house, desk.tongue, desk.today)}" for house in houses]
    return f"{say.sentence(record.place or '')} {' '.join(said)}"


def write(
    desk: Desk,
    worker: Person,
    lot: Lot,
    *,
    replaces: Entry | None = None,
    confirmed: bool = False,
    corrects: bool = False,
) -> Entry:
    """Enter a take with its figures. `corrects` marks one that came as a correction of something not in the book yet.

    Raises MoneyError for figures that cannot be.
    """
    taken = _reckoned(desk, lot, replaces)
    expected = _expected(desk, taken.record, lot.form, replaces) if is_of(desk, lot.record) else None
    kept = takes.kept(taken, expected) | ({"corrects": True} if corrects else {})
    entry = entries.enter(
        desk.tx,
        farm_id=desk.farm.id,
        message_id=desk.message.id,
        by=worker,
        via=None if worker.id == desk.me.id or replaces is not None else desk.me.number,
        record=taken.record,
        entered_at=desk.sent,
        confirmed=confirmed,
        computed=kept,
        replaces=None if replaces is None else replaces.id,
    )
    house = desk.cooperative
    if replaces is None and house is not None:
        entries.number_receipt(desk.tx, entry, house.id)
    elif replaces is None:
        entries.number_own_receipt(desk.tx, entry)
    if is_of(desk, lot.record):
        cooperatives.add_take(desk.tx, entry, takes.kind_of(lot), taken.paid_kg, taken.amount, lot.notes)
    return entry


def not_theirs(desk: Desk, records: Sequence[Record]) -> Outcome | None:
    """In a cooperative its collectors alone enter what they took: everybody else has their receipt."""
    if Role.COLLECTOR in desk.roles or all(each.what is not What.COLLECTED for each in records):
        return None
    house = desk.cooperative
    if house is None:
        return None
    text = desk.tongue.say(
        "The collector of {name} enters what he takes and you get his receipt. Nothing entered.", name=house.name
    )
    return Outcome(Kind.REFUSED, text)


def refusal(desk: Desk, lots: Sequence[Lot]) -> Outcome | None:
    """Why lots cannot be entered; None where all can."""
    for lot in lots:
        try:
            _reckoned(desk, lot, None)
        except MoneyError:
            line = say.line(desk.tongue, lot.record, desk.today)
            text = desk.tongue.say("These figures cannot be right: {line}. Nothing entered.", line=line)
            return Outcome(Kind.REFUSED, text)
        listed = _list_price(desk, lot)
        said = lot.record.price
        if listed is not None and said is not None and not listed / PRICE_TIMES <= said <= listed * PRICE_TIMES:
            price, today = desk.tongue.number(said, 4), desk.tongue.number(listed, 4)
            text = desk.tongue.say("Price {price}? Today it is {today}. Nothing entered.", price=price, today=today)
            return Outcome(Kind.REFUSED, text)
    return None


def _reckoned(desk: Desk, lot: Lot, replaces: Entry | None) -> Taken:
    drc = None
    if lot.form == "latex" and lot.record.drc is None:
        latex = Record(What.LATEX, lot.record.day, litres=lot.record.litres, kg=lot.record.kg)
        drc = Decimal(str(round(drc_of(latex, desk.known).percent, 2)))
    return takes.reckoned(lot, desk.farm, _price(desk, lot, replaces), drc)


def _price(desk: Desk, lot: Lot, replaces: Entry | None) -> Price | None:
    """The price in the text, or the cooperative's of the day. A correction keeps the price that the take had from the list,
    unless it is now of another grade, form or day."""
    listed = replaces is not None and (replaces.computed or {}).get("price_from") == "list"
    if lot.record.price is not None and not (listed and replaces and lot.record.price == replaces.record.price):
        return Price(lot.record.price, "text")
    if lot.record.price is not None and replaces is not None and _priced_alike(lot, replaces):
        return Price(lot.record.price, "list")
    found = _list_price(desk, lot)
    return None if found is None else Price(found, "list")


def _priced_alike(lot: Lot, before: Entry) -> bool:
    return (takes.kind_of(lot), lot.record.day) == (takes.kind_of(takes.lot_of(before)), before.record.day)


def _list_price(desk: Desk, lot: Lot) -> Decimal | None:
    """The cooperative's price of the lot's grade or form on its day."""
    house = desk.cooperative
    if house is None or not is_of(desk, lot.record):
        return None
    return cooperatives.price_on(desk.tx, house.id, takes.kind_of(lot), lot.record.day or desk.today)


def _expected(desk: Desk, record: Record, form: str, replaces: Entry | None) -> Mapping[str, Any] | None:
    """What the book lets expect, without this take and what it replaces."""
    day = record.day or desk.today
    replaced = None if replaces is None else replaces.id
    first = None if replaces is None else replaces.record.day
    chain = sheets_there(desk.tx, desk.farm, day, without=lambda each: each.id == replaced, first=first)
    found = entries.standing(
        desk.tx, desk.farm.id, first=day - timedelta(days=HANGS_DAYS), last=day
    )  # among the chain's
    standing = [each for each in found if each.id != replaced]
    weight = expected_of(chain, standing, desk.farm, desk.known, record, form)
    kept = (
        {}
        if weight is None
        else {"kg": round(weight.kg, 3), "low": round(weight.low, 3), "high": round(weight.high, 3)}
    )
    told = any(each.record.what is What.SHEETS_ROLLED for each in standing)
    return {**kept, "sheets": sheets_count(chain)} if form == "sheets" and told else kept or None


def enter(desk: Desk, lots: Sequence[Lot], *, again: bool, corrects: bool = False) -> list[Noted]:
    """Write the lots of one farm; one that is in the book already, however late it comes again, is not written twice.

    `again` says that the text speaks of a further lot, `corrects` that it corrects one that has not come yet.
    """
    house = desk.cooperative
    if house is not None:
        entries.one_at_a_time(desk.tx, house.id)
    noted: list[Noted] = []
    for lot in lots:
        known = {each.entry.id for each in noted}
        twin = None if again else _twin(desk, lot, known)
        if twin is None:
            noted.append(Noted(write(desk, desk.me, lot, corrects=corrects)))
        elif _overtook(desk, twin, lot) and (whole := _completed(twin, lot)) != twin.record:
            merged = replace(lot, record=whole)
            noted.append(Noted(write(desk, desk.me, merged, replaces=twin, corrects=True)))
        else:
            noted.append(Noted(twin, again=True))
    return noted


def _completed(early: Entry, lot: Lot) -> Record:
    """What a correction said that came before its text, with what only the text says."""
    said = {name: getattr(early.record, name) for name in ("sheets", "kg", "litres", "drc", "grade", "price")}
    return lot.record.with_(**{name: value for name, value in said.items() if value is not None})


def _overtook(desk: Desk, line: Entry, lot: Lot) -> bool:
    """Whether a line is the collector's correction of this lot, sent after it, that arrived before it."""
    kept = (line.computed or {}).get("corrects")
    if not kept or line.by.id != desk.me.id or desk.sent > line.entered_at or takes.lot_of(line).form != lot.form:
        return False
    there, here = line.record.kg or Decimal(0), lot.record.kg or Decimal(0)
    return line.record.sheets in (None, lot.record.sheets) and abs(there - here) <= here * NEAR_PERCENT / 100


def _twin(desk: Desk, lot: Lot, known: set[str]) -> Entry | None:
    """The take that stands for a lot that was told before, by him or by another collector at the same gate.

    A line that was corrected counts too: the late copy of a text does not bring back what it said. So does a correction
    that came before the text which it corrects.
    """
    day = lot.record.day or desk.today
    lines = [each for each in entries.all_entries(desk.tx, desk.farm.id, first=day, last=day) if _is_take(each)]
    after = {each.replaces: each for each in lines if each.replaces is not None}
    for line in lines:
        if line.id in known or line.message_id == desk.message.id or line.removed:
            continue
        early = _overtook(desk, line, lot) and (line.record.sheets is not None or line.id not in after)
        if not (_same(line, lot) or early):
            continue
        last = line
        while last.id in after:
            last = after[last.id]
        if not last.removed or desk.sent < last.entered_at:
            return last
    return None


def _is_take(entry: Entry) -> bool:
    return entry.record.what is What.COLLECTED


def _same(line: Entry, lot: Lot) -> bool:
    there, here = line.record, lot.record
    priced = here.price is None or there.price == here.price
    named = there.farm is None or here.farm is None or there.farm.casefold() == here.farm.casefold()
    counted = there.sheets is None or here.sheets is None or there.sheets == here.sheets
    figures = (there.kg, there.litres, there.grade) == (here.kg, here.litres, here.grade)
    return counted and figures and priced and named and takes.lot_of(line).form == lot.form


def answer(desk: Desk, noted: Sequence[Noted], *, short: bool = False) -> str:
    """What the collector is told of the lots of one farm. `short` leaves out that a lot fits what the book lets expect."""
    new = [each.entry for each in noted if not each.again]
    old = [_already(desk, each.entry) for each in noted if each.again]
    return " ".join([*([taken(desk, new, short=short)] if new else []), *old])


def _already(desk: Desk, entry: Entry) -> str:
    """A take that was told before; by whom, where it was another collector."""
    if entry.removed:
        return desk.tongue.say("That was taken out of the book; text it anew if it was taken after all.")
    number = desk.receipt_number(entry)
    line = f"{desk.farm.name} {say.amount(desk.tongue, entry.record)}"
    who = "" if entry.by.id == desk.me.id else f" ({entry.by.name})"
    return desk.tongue.say("Already in the book: {lines}.", lines=f"{line}{who}, {number}")


def taken(desk: Desk, found: Sequence[Entry], *, short: bool = False) -> str:
    """What the collector took, the amount, and how it compares with the books."""
    return " ".join(_taken_line(desk, entry, short=short) for entry in found)


def _taken_line(desk: Desk, entry: Entry, *, short: bool) -> str:
    pieces = [say.sentence(take_in_words(desk, desk.tongue, entry))]
    if entry.record.price is None and desk.cooperative is not None:
        pieces.append(desk.tongue.say("No price today."))
    if is_of(desk, entry.record) and not (short and _fits(entry)):
        pieces.append(compared(desk.tongue, entry))
    pieces.append(desk.tongue.say("Receipt {number}.", number=desk.receipt_number(entry)))
    return " ".join(piece for piece in pieces if piece)


def take_in_words(desk: Desk, speech: Tongue, entry: Entry, *, with_farm: bool = True) -> str:
    """`Ama 24 sheets, 11.8 kg RSS3 x 1.55 = 18.29 USD`; with what was taken off, and the dry kilos where these are paid."""
    record, lot = entry.record, takes.lot_of(entry)
    named = record.farm or (desk.farm.name if desk.cooperative is not None else "")
    pieces = [named if with_farm else "", say.amount(speech, record), _form(speech, lot.form), record.grade or ""]
    what = " ".join(piece for piece in pieces if piece) + "".join(f", {each}" for each in _marks(speech, entry, lot))
    paid = takes.paid_kg(entry)
    if lot.form == "latex" or (record.kg is not None and paid != record.kg):
        what += f" = {speech.say('{kg} kg dry', kg=speech.number(paid, 3))}"
    amount = takes.amount(desk.farm, entry)
    if amount is None or record.price is None:
        return what
    return f"{what} x {speech.number(record.price, 4)} = {_money(speech, amount)} {desk.farm.currency}"


def _money(speech: Tongue, amount: Decimal) -> str:
    """An amount in the decimals that it has."""
    return speech.fixed(amount, max(0, -int(amount.as_tuple().exponent)))


def _form(speech: Tongue, form: str) -> str:
    return {"latex": speech.say("latex"), "lump": speech.say("lump")}.get(form, "")


def _marks(speech: Tongue, entry: Entry, lot: Lot) -> list[str]:
    """What was said beside the weight: tare, water, DRC or dry content, reasons of the grade."""
    estimated = (entry.computed or {}).get("drc")
    drc = lot.record.drc if lot.record.drc is not None else None if estimated is None else Decimal(estimated)
    said = []
    if lot.tare_kg:
        said.append(speech.say("tare {kg} kg", kg=speech.number(lot.tare_kg)))
    if lot.moisture is not None:
        said.append(speech.say("{percent}% water", percent=speech.number(lot.moisture)))
    if drc is not None:
        said.append(say.drc(speech, drc) + ("?" if lot.record.drc is None else ""))
    return said + [say.grade_note(speech, each) for each in lot.notes]


def expected_in(entry: Entry) -> Weight | None:
    """The weight that the book let expect of a take when it was entered."""
    kept = (entry.computed or {}).get("expected") or {}
    return Weight(kept["kg"], kept["low"], kept["high"]) if "kg" in kept else None


def _fits(entry: Entry) -> bool:
    """Whether the book let expect this weight, and as many sheets."""
    expected, kept = expected_in(entry), (entry.computed or {}).get("expected") or {}
    enough = kept.get("sheets", entry.record.sheets) is None or kept.get("sheets", 0) >= (entry.record.sheets or 0)
    return expected is not None and enough and expected.holds(_weighed(entry))


def _weighed(entry: Entry) -> float:
    """The weight that is compared with the book: of lump as it is, of all else as paid for."""
    lump = takes.lot_of(entry).form == "lump"
    return float(entry.record.kg or 0 if lump else takes.paid_kg(entry))


def compared(speech: Tongue, entry: Entry) -> str:
    """How a take compares with what the book let expect; empty where it let expect nothing."""
    kept = (entry.computed or {}).get("expected") or {}
    sheets = entry.record.sheets
    if sheets is not None and "sheets" in kept and kept["sheets"] < sheets:
        n = int(kept["sheets"])
        return (
            speech.count("Book: only {n} sheet.", "Book: only {n} sheets.", n) if n else speech.say("Book: no sheets.")
        )
    expected = expected_in(entry)
    if expected is None or not expected.kg:
        return ""
    found = _weighed(entry)
    kg = speech.fixed(expected.kg, 1)
    if expected.holds(found):
        return speech.say("Book: {kg} kg, fits.", kg=kg)
    values = {"kg": kg, "low": speech.fixed(expected.low, 1), "high": speech.fixed(expected.high, 1)}
    gap = speech.fixed(abs(found - expected.kg), 1)
    if found < expected.kg:
        return speech.say("Book: {kg} kg ({low}-{high}), {gap} less.", gap=gap, **values)
    return speech.say("Book: {kg} kg ({low}-{high}), {gap} more.", gap=gap, **values)


def receipts(desk: Desk, found: Sequence[Entry]) -> tuple[Told, ...]:
    """A receipt for each owner and tapper of the farm, in his language; of several lots in one text."""
    own = [entry for entry in found if is_of(desk, entry.record)]
    people = dict.fromkeys([*desk.owners(), *desk.tappers()]) if own else ()
    return tuple(
        Told(person, " ".join(_receipt(desk, tongue(person.language), entry) for entry in own)) for person in people
    )


def _receipt(desk: Desk, speech: Tongue, entry: Entry) -> str:
    what = take_in_words(desk, speech, entry, with_farm=False)
    return speech.say(
        "Receipt {number}, {name}: {sum}. Not right? Answer: {number} and why.",
        number=desk.receipt_number(entry),
        name=entry.by.name,
        sum=" ".join(piece for piece in (say.sentence(what), compared(speech, entry)) if piece).rstrip("."),
    )


def changed_in_words(desk: Desk, speech: Tongue, old: Entry, new: Entry) -> str:
    """A corrected take with its number and money, and what it was."""
    number = speech.say("Receipt {number}.", number=desk.receipt_number(new))
    came_to = takes.amount(desk.farm, old)
    before = say.amount(speech, old.record) + ("" if came_to is None else f" = {_money(speech, came_to)}")
    return f"{number} {take_in_words(desk, speech, new)} ({speech.say('was {before}', before=before)})"


def corrected_lot(entry: Entry, record: Record, notes: tuple[str, ...] = ()) -> Lot:
    """The lot of a standing take with a corrected record; what else was said of it is kept, reasons unless there are new."""
    before = takes.lot_of(entry)
    return replace(before, record=record, notes=notes or before.notes)


def prices(desk: Desk) -> str:
    """The cooperative's prices of the day."""
    house = desk.cooperative
    listed = {} if house is None else cooperatives.prices_on(desk.tx, house.id, desk.today)
    if not listed:
        return desk.tongue.say("No price today.")
    speech = desk.tongue
    lines = speech.several(f"{_form(speech, kind) or kind} {speech.number(price, 4)}" for kind, price in listed.items())
    return speech.say("Prices today: {lines} {currency} a kg.", lines=lines, currency=desk.farm.currency)


def settled(desk: Desk, entry: Entry, outcome: str) -> None:
    """Whatever was in dispute over a take is over, since it was corrected or taken out."""
    first = entries.history(desk.tx, entry.id)[0]
    disputes.settle(desk.tx, first.id, outcome, desk.me.id, desk.sent)


def is_of(desk: Desk, record: Record) -> bool:
    """Whether a take is of this farm: one of another farm is nobody's business here."""
    return taken_here(record, desk.farm.name)

"""Disputes over a take: raised by answering a receipt, seen by both sides, standing in the books until they are settled.

`417 it was 21 kg` from an owner or tapper disputes receipt 417; from the collector himself it corrects it; `417 ok` takes a
dispute back. The take stands as it is until it is corrected or kept.
"""

import re
from collections.abc import Callable, Sequence
from datetime import timedelta
from decimal import Decimal

import parsers
from bot.books import cooperatives, disputes, entries, places
from bot.books.disputes import Dispute
from bot.books.model import Entry, Person
from bot.speech import say
from bot.speech.language import tongue
from bot.talk import correcting
from bot.talk.desk import Desk, Outcome, Told
from bot.talk.exchange import Kind
from parsers import taking
from parsers.facts import Facts
from parsers.reading import Reading, Role, What

#: A receipt can be disputed for so long. Common practice, no source.
DAYS = 60

_NUMBER = re.compile(r"\W*(?P<word>[^\W\d][^\d]*?)?\W*(?P<number>\d{1,7})(?P<rest>(?!\d).*)", re.DOTALL)

#: What makes a text with a number before it no word about a receipt.
WORK = (
    "block",
    "rain",
    "rolled",
    "not_tapped",
    "stimulated",
    "day",
    "acid",
    "price_value",
    "ask",
    "question",
)


def answered(desks: Sequence[Desk]) -> Outcome | None:
    """What comes of a text that answers a receipt; None where it is none."""
    for find in (_of_cooperative, _of_farm):
        for desk in desks:
            found = _receipt_meant(desk, find)
            if found is not None:
                return _about(desk, *found)
    return None


def _receipt_meant(desk: Desk, find: Callable[[Desk, int], Entry | None]) -> tuple[Entry, Facts] | None:
    """The take whose receipt the text begins with, and what is said of it."""
    match = _NUMBER.fullmatch(desk.message.text)
    if match is None or not match["rest"].strip(" .,;:!?-#"):
        return None
    word, number = match["word"] or "", int(match["number"])
    of_farm = bool(word) and number >= entries.FIRST_OF_COOPERATIVE and _is_here(desk, word)
    worded = taking.is_receipt(word, desk.house.words) or of_farm
    if not worded and (word or number < entries.FIRST_RECEIPT):
        return None
    entry = find(desk, number)
    if entry is None:
        return None
    setting = desk.setting(None)
    said = parsers.facts_of(match["rest"], setting, desk.house.words)
    whole = parsers.facts_of(desk.message.text, setting, desk.house.words)
    bare = any(fact.at <= 1 and fact.kind == "number" and fact.value == number for fact in whole.found)
    words = said.has("kg", "litres") or any(item.kind == "word" for item in said.items)
    work = said.has(*WORK) or match["number"] in setting.blocks
    work = work or (number < entries.FIRST_OF_COOPERATIVE and said.has("litres"))
    return (entry, said) if worded or (bare and words and not work) else None


def _is_here(desk: Desk, word: str) -> bool:
    """Whether a name before the number is that of the farm, or of an owner."""
    names = [desk.farm.name, *(each.name for each in desk.owners())]
    return places.nearest(word, names) is not None


def no_such_receipt(desk: Desk) -> Outcome | None:
    """Word to a collector that a number which his text begins with is no receipt's, so that it is not taken for kilos."""
    match = _NUMBER.fullmatch(desk.message.text)
    if match is None or match["word"] or not match["rest"].strip() or int(match["number"]) < entries.FIRST_RECEIPT:
        return None
    facts = parsers.facts_of(desk.message.text, desk.setting(None), desk.house.words)
    if not any(fact.at == 0 and fact.kind == "number" for fact in facts.found) or facts.has("sheets", "grade"):
        return None
    text = desk.tongue.say("There is no receipt {number} of yours. Nothing changed.", number=match["number"])
    return Outcome(Kind.ASKED, text)


def _of_cooperative(desk: Desk, number: int) -> Entry | None:
    """The standing take of this farm whose receipt its cooperative gave that number."""
    house = desk.cooperative
    entry = None if house is None else entries.with_receipt(desk.tx, house.id, number)
    return entry if entry is not None and entry.farm_id == desk.farm.id and not entry.removed else None


def _of_farm(desk: Desk, number: int) -> Entry | None:
    """The standing take of the last weeks whose receipt has the number, at this farm."""
    first = desk.today - timedelta(days=DAYS)
    found = entries.standing(desk.tx, desk.farm.id, first=first, what=What.COLLECTED)
    return next((each for each in found if desk.receipt_number(each) == number), None)


def _about(desk: Desk, entry: Entry, said: Facts) -> Outcome:
    first = entries.history(desk.tx, entry.id)[0]
    waiting = [each for each in disputes.of_entry(desk.tx, first.id) if each.settled_at is None]
    if desk.roles == {Role.COLLECTOR}:
        return _by_collector(desk, entry, said)
    if said.has("yes", "keep", "chat") and not said.has("kg", "number", "no", "not", "dispute", "fix"):
        return _withdrawn(desk, entry, waiting)
    return raised(desk, entry, _kg(entry, said))


def _kg(entry: Entry, said: Facts) -> Decimal | None:
    """The weight that he says it was."""
    kilos = [fact.value for fact in said.of("kg") if fact.value != entry.record.kg]
    bare = [fact.value for fact in said.of("number") if fact.value != entry.record.sheets]
    return kilos[-1] if kilos else bare[0] if len(bare) == 1 else None


def raised(desk: Desk, entry: Entry, kg: Decimal | None) -> Outcome:
    """Write the dispute down, tell the other side, and say what stands meanwhile."""
    first = entries.history(desk.tx, entry.id)[0]
    text = desk.message.text
    same = [each for each in disputes.of_entry(desk.tx, first.id) if each.settled_at is None and each.said == text]
    if not same:
        disputes.raise_(
            desk.tx,
            entry_id=first.id,
            farm_id=desk.farm.id,
            by_person=desk.me.id,
            message_id=desk.message.id,
            said=text,
            kg=kg,
            at=desk.sent,
        )
    line = say.line(desk.tongue, entry.record, desk.today)
    answer = desk.tongue.say(
        "Noted and passed on to {name}. It stands for now: {line}. Nothing was changed.", name=entry.by.name, line=line
    )
    return Outcome(Kind.ANSWERED, answer, () if same else tuple(_told(desk, each) for each in _others(desk, entry)))


def _told(desk: Desk, person: Person) -> Told:
    speech = tongue(person.language)
    return Told(person, speech.say("{name} disagrees: {text}", name=_name(desk), text=desk.message.text))


def _name(desk: Desk) -> str:
    """Who speaks, with his farm where that may not be plain."""
    house = desk.cooperative
    return desk.me.name if house is None else f"{desk.me.name} ({desk.farm.name})"


def _others(desk: Desk, entry: Entry) -> list[Person]:
    """The other side, the owners, and who manages the cooperative."""
    house = desk.cooperative
    managers = [] if house is None else cooperatives.managers(desk.tx, house.id)
    return [each for each in dict.fromkeys([entry.by, *desk.owners(), *managers]) if each.id != desk.me.id]


def _withdrawn(desk: Desk, entry: Entry, waiting: Sequence[Dispute]) -> Outcome:
    number = desk.receipt_number(entry)
    if not any(each.by_person == desk.me.id or desk.is_owner for each in waiting):
        return Outcome(Kind.ANSWERED, desk.tongue.say("Receipt {number} stands, nothing is in dispute.", number=number))
    disputes.settle(desk.tx, waiting[0].entry_id, disputes.WITHDRAWN, desk.me.id, desk.sent)
    told = tuple(settled_told(desk.me.name, number, entry, each) for each in _others(desk, entry))
    return Outcome(Kind.ANSWERED, desk.tongue.say("Receipt {number} stands, the dispute is over.", number=number), told)


def settled_told(by: str, number: int, entry: Entry, person: Person) -> Told:
    """Word that a dispute is over and the take stands."""
    speech = tongue(person.language)
    line = f"{entry.record.farm or ''} {say.amount(speech, entry.record)}".strip()
    return Told(
        person,
        speech.say(
            "{name}: receipt {number} stands at {line}, the dispute is over.", name=by, number=number, line=line
        ),
    )


def _by_collector(desk: Desk, entry: Entry, said: Facts) -> Outcome:
    """The collector's own word on his receipt: a weight, grade, litres or DRC corrects it; anything else changes nothing."""
    kilos, grades = [fact.value for fact in said.of("kg") if fact.value], [fact.name for fact in said.of("grade")]
    sheets = [int(fact.value) for fact in said.of("sheets") if fact.value]
    litres, drc = ([fact.value for fact in said.of(kind) if fact.value] for kind in ("litres", "drc_value"))
    if entry.by.id != desk.me.id:
        return correcting.refuse(desk, entry)
    notes = taking.notes_in(said, desk.house.words)
    if not (kilos or grades or sheets or litres or drc or notes):
        return Outcome(Kind.ANSWERED, desk.tongue.say("Noted. Nothing was changed."))
    record = entry.record.with_(
        kg=kilos[-1] if kilos else entry.record.kg,
        grade=grades[-1] if grades else entry.record.grade,
        sheets=sheets[-1] if sheets else entry.record.sheets,
        litres=litres[-1] if litres else entry.record.litres,
        drc=drc[-1] if drc else entry.record.drc,
    )
    return correcting.put_in_place(desk, entry, record, notes)


def dispute(desk: Desk, reading: Reading) -> Outcome:
    """Word that something is not right without a receipt's number: the newest take with that figure, or the newest."""
    entry = _disputed(desk, reading.figure)
    if entry is not None:
        return raised(desk, entry, None)
    told = tuple(_told(desk, owner) for owner in desk.owners() if owner.id != desk.me.id)
    return Outcome(Kind.ANSWERED, desk.tongue.say("Noted. Nothing was changed."), told)


def _disputed(desk: Desk, figure: Decimal | None) -> Entry | None:
    takes = [entry for entry in reversed(desk.view) if entry.record.what is What.COLLECTED]
    if figure is None:
        return takes[0] if takes else None
    by_figure = [entry for entry in takes if figure in (entry.record.kg, entry.record.sheets, entry.record.price)]
    by_number = [entry for entry in takes if desk.receipt_number(entry) == figure]
    return next(iter(by_figure + by_number + takes), None)

"""What a manager texts of the store: sheets pressed into bales, what left, what was counted, what should be there."""

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from itertools import pairwise

from bot.books import cooperatives, lot_bales, storeroom
from bot.books.cooperatives import HEAVIEST_BALE_KG, LIGHTEST_BALE_KG
from bot.books.storeroom import Bale, Storeroom
from bot.rubber.selling import bales as whole_bales
from bot.speech.language import Tongue, tongue
from bot.talk.desk import Outcome
from bot.talk.exchange import Kind
from bot.talk.office import Office
from bot.week.closing import bales_in_words, kind_name, store_in_words
from parsers import taking
from parsers.facts import Facts

#: So many bales in one text at most.
MOST_BALES = 10_000


@dataclass(frozen=True)
class Said:
    """What a text says: of which grade or form, a weight in kg, and a number of bales."""

    kind: str
    kg: Decimal | None
    pieces: int | None


def of_bales(text: str) -> bool:
    """Whether a word of a text speaks of bales."""
    return any(taking.said(word) == "bales" for word in text.split())


def is_meant(kind: str, rest: str, facts: Facts) -> bool:
    """Whether a text that begins with a word for bales or the store is about them: `bales 12 rss3`, `store`."""
    if kind == "store":
        return not rest.strip(" ?!.")
    return not rest or facts.has("kg", "grade", "number", "sheets")


def _said(facts: Facts) -> Said:
    grade = [fact.name for fact in facts.of("grade")]
    forms = [each for each in ("latex", "lump") if facts.has(each)]
    kilos = [fact.value for fact in facts.of("kg") if fact.value is not None]
    numbers = [*_before_bales(facts), *(fact.value for fact in facts.of("number", "sheets") if fact.value is not None)]
    whole = [int(each) for each in numbers if each == each.to_integral_value() and 0 <= each <= MOST_BALES]
    return Said(str((grade or forms or ["sheets"])[0]), kilos[0] if kilos else None, whole[0] if whole else None)


def _before_bales(facts: Facts) -> list[Decimal]:
    """Numbers right before a word for bales."""
    pairs = pairwise(facts.items)
    return [one.value for one, word in pairs if one.value is not None and taking.said(word.text) == "bales"]


def _held(office: Office) -> Storeroom:
    """What should be at the store, for somebody who is about to take of it: others wait until he has."""
    storeroom.hold(office.tx, office.cooperative.id)
    return _there(office)


def _there(office: Office) -> Storeroom:
    return storeroom.at(office.tx, office.cooperative.id, office.today)


def told(office: Office, _rest: str, _facts: Facts) -> Outcome:
    """What should be at the store."""
    listed = store_in_words(office.tongue, _there(office), 3)
    if not listed:
        return Outcome(Kind.ANSWERED, office.tongue.say("Nothing should be at the store."))
    pieces = [office.tongue.say("Store: {list}.", list=listed)]
    held = lot_bales.in_open_lots(office.tx, office.cooperative.id)
    if held:
        in_lots = office.tongue.several(bales_in_words(office.tongue, bale, n) for bale, n in held.items())
        pieces.append(office.tongue.say("Of these in lots: {list}.", list=in_lots))
    return Outcome(Kind.ANSWERED, " ".join(pieces))


def bales(office: Office, _rest: str, facts: Facts) -> Outcome:
    """`bales 12 rss3`, `bales 12 rss3 50 kg`: pressed; `bales 50 kg`: what a bale weighs from now on; `bales`: how."""
    said = _said(facts)
    if said.pieces:
        return press(office, Bale(said.kind, said.kg or office.cooperative.bale_kg), said.pieces)
    if said.kg is not None and not facts.has("grade"):
        return set_weight(office, said.kg)
    text = office.tongue.say(
        "A bale weighs {kg} kg here. Text: bales 12 rss3 / bales 50 kg / store out 12 bales rss3 / counted 40 kg rss3",
        kg=office.tongue.measured(office.cooperative.bale_kg),
    )
    return Outcome(Kind.ASKED, text)


def set_weight(office: Office, kg: Decimal) -> Outcome:
    """What a bale weighs from now on."""
    try:
        cooperatives.set_bale(office.tx, office.cooperative.id, kg)
    except ValueError:
        return _no_weight(office)

    def said(language: str) -> str:
        speech = tongue(language)
        was = speech.measured(office.cooperative.bale_kg)
        return speech.say("A bale weighs {kg} kg from now on (was {before} kg).", kg=speech.measured(kg), before=was)

    return Outcome(Kind.CHANGED, said(office.me.language), office.to_others(said))


def _no_weight(office: Office) -> Outcome:
    values = {"low": office.tongue.number(LIGHTEST_BALE_KG), "high": office.tongue.number(HEAVIEST_BALE_KG)}
    text = office.tongue.say("A bale weighs {low} to {high} kg. Nothing entered.", **values)
    return Outcome(Kind.REFUSED, text)


def press(office: Office, bale: Bale, pieces: int) -> Outcome:
    """Sheets become bales. More than the sheets that should be there is not entered: they have to be counted first."""
    if not LIGHTEST_BALE_KG <= bale.kg <= HEAVIEST_BALE_KG:
        return _no_weight(office)
    there = _held(office).sheets.get(bale.kind, Decimal(0))
    if bale.kg * pieces > there:
        enough, _ = whole_bales(max(there, Decimal(0)), bale.kg)
        text = office.tongue.say(
            "The store should hold {kg} kg of {kind}: {n} bales. Nothing entered. More there? Weigh it and text: counted 40 kg rss3",
            kg=office.tongue.measured(there),
            kind=kind_name(office.tongue, bale.kind),
            n=enough,
        )
        return Outcome(Kind.REFUSED, text)
    storeroom.press(
        office.tx,
        office.cooperative.id,
        bale,
        pieces,
        day=office.today,
        at=office.sent,
        message_id=office.message.id,
    )
    left = there - bale.kg * pieces

    def said(language: str) -> str:
        speech = tongue(language)
        values = {"kg": speech.measured(bale.kg * pieces), "left": speech.measured(left)}
        return speech.say(
            "Pressed: {bales} = {kg} kg, {left} kg left in sheets.",
            bales=bales_in_words(speech, bale, pieces),
            **values,
        )

    return Outcome(Kind.ENTERED, said(office.me.language), office.to_others(said))


def take_apart(office: Office, facts: Facts) -> Outcome:
    """`cancel bales 2 rss3`: so many bales of a pressing that was entered wrongly are sheets again."""
    said = _said(facts)
    bale, there = _free(office, said.kind, said.kg)
    if not said.pieces or said.pieces > there:
        return _not_there(office, bale, there)
    pieces = said.pieces
    at, message = office.sent, office.message.id
    storeroom.press(office.tx, office.cooperative.id, bale, -pieces, day=office.today, at=at, message_id=message)

    def told_in(language: str) -> str:
        speech = tongue(language)
        return speech.say("Taken back: {bales}.", bales=bales_in_words(speech, bale, pieces))

    return Outcome(Kind.REMOVED, told_in(office.me.language), office.to_others(told_in))


def left(office: Office, rest: str, facts: Facts) -> Outcome:
    """`store out 500 kg rss3`, `store out 12 bales rss3`."""
    said = _said(facts)
    if of_bales(rest) and said.pieces:
        return leave_in_bales(office, said.kind, said.pieces, said.kg)
    return leave(office, said.kind, said.kg or Decimal(0))


def leave(office: Office, kind: str, kg: Decimal) -> Outcome:
    """So many kg of a kind left the store, in no bales. More than should be there is not entered."""
    there = _held(office).sheets.get(kind, Decimal(0))
    name = kind_name(office.tongue, kind)
    if not 0 < kg <= there:
        text = office.tongue.say(
            "The store should hold {kg} kg of {kind}. Nothing entered.", kg=office.tongue.measured(there), kind=name
        )
        return Outcome(Kind.REFUSED, text)
    storeroom.leave(
        office.tx,
        office.cooperative.id,
        kind,
        kg,
        day=office.today,
        at=office.sent,
        message_id=office.message.id,
    )

    def said(language: str) -> str:
        speech = tongue(language)
        values = {"kind": kind_name(speech, kind), "kg": speech.measured(kg), "left": speech.measured(there - kg)}
        return speech.say("Out of the store: {kind} {kg} kg, {left} kg left.", **values)

    return Outcome(Kind.ENTERED, said(office.me.language), office.to_others(said))


def leave_in_bales(office: Office, kind: str, pieces: int, kg: Decimal | None) -> Outcome:
    """So many bales left the store: of the weight that is said, or the only one there, or else the cooperative's."""
    bale, there = _free(office, kind, kg)
    if not 0 < pieces <= there:
        return _not_there(office, bale, there)
    storeroom.leave(
        office.tx,
        office.cooperative.id,
        kind,
        bale.kg * pieces,
        bale_kg=bale.kg,
        day=office.today,
        at=office.sent,
        message_id=office.message.id,
    )

    def said(language: str) -> str:
        speech = tongue(language)
        out = bales_in_words(speech, bale, pieces)
        return speech.say("Out of the store: {bales}, {left} left.", bales=out, left=there - pieces)

    return Outcome(Kind.ENTERED, said(office.me.language), office.to_others(said))


def _not_there(office: Office, bale: Bale, free: int) -> Outcome:
    """So many bales are not there, or those that are belong to lots."""
    held = lot_bales.in_open_lots(office.tx, office.cooperative.id).get(bale, 0)
    said = bales_in_words(office.tongue, bale, free)
    if held:
        text = office.tongue.say(
            "The store should hold {bales} besides {n} in lots, which leave with their lots. Nothing entered.",
            bales=said,
            n=held,
        )
    else:
        text = office.tongue.say("The store should hold {bales}. Nothing entered.", bales=said)
    return Outcome(Kind.REFUSED, text)


def _bale(office: Office, kind: str, kg: Decimal | None) -> tuple[Bale, int]:
    """The bales of a grade that are meant, and how many should be there."""
    return _meant(office, _there(office).pieces, kind, kg)


def _free(office: Office, kind: str, kg: Decimal | None) -> tuple[Bale, int]:
    """The bales of a grade that are meant, and how many of them are in no lot: those of a lot leave with it."""
    bale, _ = _meant(office, _held(office).pieces, kind, kg)
    return bale, max(lot_bales.free(office.tx, office.cooperative.id, office.today).get(bale, 0), 0)


def _meant(office: Office, pieces: Mapping[Bale, int], kind: str, kg: Decimal | None) -> tuple[Bale, int]:
    there = {bale: number for bale, number in pieces.items() if bale.kind == kind}
    if kg is None and len(there) == 1:
        return next(iter(there.items()))
    bale = Bale(kind, kg or office.cooperative.bale_kg)
    return bale, there.get(bale, 0)


def counted(office: Office, rest: str, facts: Facts) -> Outcome:
    """`counted 40 kg rss3`, `counted 11 bales rss3`: what was found at the store against the books."""
    said = _said(facts)
    if of_bales(rest) and said.pieces is not None:
        return count_bales(office, said.kind, said.pieces, said.kg)
    return count(office, said.kind, said.kg or Decimal(0))


def count(office: Office, kind: str, kg: Decimal) -> Outcome:
    """So many kg of a kind were found; the books go on from there, and the difference is in the reconciliation."""
    there = _there(office).sheets.get(kind, Decimal(0))
    _keep(office, kind, kg, there, None)

    def said(language: str) -> str:
        speech = tongue(language)
        return _compared(speech, kind_name(speech, kind), kg, there)

    return Outcome(Kind.ENTERED, said(office.me.language), office.to_others(said))


def count_bales(office: Office, kind: str, pieces: int, kg: Decimal | None) -> Outcome:
    """So many bales were found."""
    bale, there = _bale(office, kind, kg)
    _keep(office, kind, bale.kg * pieces, bale.kg * there, bale.kg)

    def said(language: str) -> str:
        speech = tongue(language)
        return _compared(speech, bales_in_words(speech, bale, pieces), bale.kg * pieces, bale.kg * there)

    return Outcome(Kind.ENTERED, said(office.me.language), office.to_others(said))


def _keep(office: Office, kind: str, kg: Decimal, expected: Decimal, bale_kg: Decimal | None) -> None:
    storeroom.count(
        office.tx,
        office.cooperative.id,
        kind,
        kg,
        expected,
        bale_kg=bale_kg,
        day=office.today,
        at=office.sent,
        message_id=office.message.id,
    )


def _compared(speech: Tongue, what: str, kg: Decimal, expected: Decimal) -> str:
    values = {"what": what, "kg": speech.measured(kg), "book": speech.measured(expected)}
    if kg == expected:
        return speech.say("Counted: {what} {kg} kg, as in the books.", what=what, kg=values["kg"])
    gap = speech.measured(abs(kg - expected))
    if kg < expected:
        return speech.say("Counted: {what} {kg} kg, by the books {book}: {gap} kg less.", gap=gap, **values)
    return speech.say("Counted: {what} {kg} kg, by the books {book}: {gap} kg more.", gap=gap, **values)

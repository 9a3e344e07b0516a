"""The store on the manager's page: what moved, what is there, the step from taken to sold, and the forms for it."""

from collections.abc import Callable, Sequence
from datetime import timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

from flask import render_template

from bot.books import Transaction, lot_bales
from bot.books.convert import folded
from bot.books.cooperative_file import kind_of_price
from bot.books.farm_settings import FORMS
from bot.books.lot_bales import LotOfCooperative
from bot.books.storeroom import Bale
from bot.pages.forms import CannotDo, field, number
from bot.pages.office import Seen
from bot.reckon.store_steps import Flow, flows, steps
from bot.speech.language import Tongue, later, page_tongue
from bot.speech.said import said
from bot.talk import storing
from bot.talk.desk import Outcome
from bot.talk.office import Office
from bot.week.closing import kind_name

#: Days that the page looks back, and lots of which it shows those with something of the cooperative.
DAYS, MOST_LOTS = 60, 40

#: A kind: its name, a note beside it, and what moved.
Written = tuple[str, str, tuple[tuple[str, str], ...]]


def show(tx: Transaction, page: Seen, problem: str) -> str:
    """The page of the store."""
    speech, first = page.speech, page.today - timedelta(days=DAYS - 1)
    seen = flows(tx, page.cooperative, first, page.today)
    loose = [(page.kind(kind), "", _figures(speech, flow, bales=False)) for kind, flow in seen.loose.items()]
    held = lot_bales.in_open_lots(tx, page.cooperative.id)
    bales = [_bales(page, bale, flow, held.get(bale, 0)) for bale, flow in seen.bales.items()]
    rows = steps(seen)
    written = [
        (said(speech, row.name), *(speech.number(kg, 1) for kg in (row.expected_kg, row.found_kg, row.gap_kg)))
        for row in rows
    ]
    return render_template(
        "cooperative_store.html",
        page=page,
        speech=speech,
        first=first,
        tables=_tables(speech, loose, bales),
        steps=written,
        asked=[said(speech, row.question) for row in rows if row.told],
        forms=forms_of(speech),
        lots=[_lot(page, each) for each in lot_bales.lots_of(tx, page.cooperative.id, MOST_LOTS)],
        problem=problem,
    )


def _lot(page: Seen, lot: LotOfCooperative) -> tuple[str, str, str, str, str]:
    """A lot for sale: its name, whether it is sold, bales, their kilos, and those of the receipts."""
    speech, zone = page.speech, ZoneInfo(page.cooperative.timezone)
    sold = speech.say("open") if lot.closed_at is None else speech.dated_year(lot.closed_at.astimezone(zone).date())
    baled, received = (speech.measured(Decimal(each) / 1000) for each in (lot.bale_grams, lot.grams))
    return lot.name, sold, str(lot.pieces), baled, received


def _tables(
    speech: Tongue, loose: Sequence[Written], bales: Sequence[Written]
) -> list[tuple[str, str, Sequence[Written]]]:
    forms = speech.several(kind_name(speech, form) for form in FORMS)
    return [("loose", f"{forms}, kg", loose), ("bales", speech.say("In bales, kg"), bales)]


def _figures(speech: Tongue, flow: Flow, *, bales: bool) -> tuple[tuple[str, str], ...]:
    """What moved, with what it is called: what did not move is left out."""
    moved = flow.moved
    came = speech.say("Baled") if bales else speech.say("Taken")
    through = [
        (came, moved.came),
        (speech.say("Baled"), -moved.pressed),
        (speech.say("Left the store"), -moved.left),
        (speech.say("Counted, more or less"), moved.counted),
    ]
    kept = [(speech.say("At first"), flow.start), *((what, kg) for what, kg in through if kg)]
    return tuple((what, speech.measured(kg)) for what, kg in (*kept, (speech.say("Now"), flow.end)))


def _bales(page: Seen, bale: Bale, flow: Flow, in_lots: int) -> Written:
    pieces = int(flow.end / bale.kg)
    there = page.speech.count("{n} bale of {kg} kg", "{n} bales of {kg} kg", pieces, kg=page.speech.measured(bale.kg))
    if in_lots:
        there = f"{there}, {page.speech.count('{n} of them in a lot', '{n} of them in lots', in_lots)}"
    return page.kind(bale.kind), there, _figures(page.speech, flow, bales=True)


def kind(office: Office, written: str) -> str:
    """A grade, or a form of rubber as the manager's language calls it. Raises CannotDo."""
    speech = page_tongue(office.me.language)
    for form in FORMS:
        if folded(written) in {form, folded(kind_name(office.tongue, form)), folded(kind_name(speech, form))}:
            return form
    try:
        return kind_of_price(written)
    except ValueError as fault:
        refused = later("{text} is neither a grade such as RSS3 nor {forms}.")
        raise CannotDo(refused, text=written, forms=forms_of(speech)) from fault


def forms_of(speech: Tongue) -> str:
    """The forms of rubber with `or` before the last."""
    return speech.alternatives(kind_name(speech, form) for form in FORMS)


def press() -> Callable[[Office], Outcome]:
    """What the form for pressing asks for."""
    written, pieces, kg = field("kind", 20), _pieces(zero=False), number("kg")
    return lambda office: storing.press(office, Bale(kind(office, written), kg), pieces)


def leave() -> Callable[[Office], Outcome]:
    """What the form for what left the store asks for: bales where their number is written, else kilos."""
    written = field("kind", 20)
    if field("pieces"):
        pieces = _pieces(zero=False)
        return lambda office: storing.leave_in_bales(office, kind(office, written), pieces, None)
    kg = number("kg")
    return lambda office: storing.leave(office, kind(office, written), kg)


def count() -> Callable[[Office], Outcome]:
    """What the form for what was counted asks for."""
    written = field("kind", 20)
    if field("pieces"):
        pieces = _pieces(zero=True)
        return lambda office: storing.count_bales(office, kind(office, written), pieces, None)
    kg = number("kg", zero=True)
    return lambda office: storing.count(office, kind(office, written), kg)


def weight() -> Callable[[Office], Outcome]:
    """What the form for the weight of a bale asks for."""
    kg = number("kg")
    return lambda office: storing.set_weight(office, kg)


def _pieces(*, zero: bool) -> int:
    """A whole number of bales. Raises CannotDo."""
    found = number("pieces", zero=zero)
    if found != found.to_integral_value() or found > storing.MOST_BALES:
        raise CannotDo(later("{text} cannot be. Nothing was changed."), text=str(found))
    return int(found)

"""Pay-outs on the manager's page: what is due to each grower, how it comes about, what comes off, and what was closed."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from decimal import Decimal

from flask import render_template

from bot.books import Transaction, cooperatives, payouts
from bot.books.payouts import OFF, Closed, GrowerMoney
from bot.pages.forms import CannotDo, field, number
from bot.pages.office import Seen
from bot.reckon import payouts as reckoned
from bot.reckon.payouts import Owed
from bot.speech.language import later
from bot.speech.payouts import Line, label, rule
from bot.talk import growers_money as talk
from bot.talk.desk import Outcome
from bot.talk.office import Office

#: So many closed pay-outs are shown, and lines that were taken off for a grower.
MOST_CLOSED, MOST_TAKEN_OFF = 40, 30

#: A line of a table: what, how it came about, the amount.
Written = tuple[str, str, str]


class NoGrower(LookupError):
    """The cooperative has no such grower."""


@dataclass(frozen=True)
class MoneySeen:
    """The page: growers with what is due, what all come to, the levy, lines that still come off, closed pay-outs."""

    due: tuple[Owed, ...]
    total: Decimal
    levy: Decimal
    farms: tuple[tuple[str, str], ...]
    lines: tuple[GrowerMoney, ...]
    closed: tuple[tuple[Closed, tuple[Written, ...]], ...]


def look(tx: Transaction, page: Seen) -> MoneySeen:
    """All pay-outs of a cooperative."""
    due = tuple(reckoned.everybody(tx, page.cooperative))
    names = cooperatives.farm_names(tx, page.cooperative.id)
    levies = [percent for since, percent in payouts.levies(tx, page.cooperative.id) if since <= page.today]
    return MoneySeen(
        due,
        sum((each.sums.paid for each in due if each.has_receipts), Decimal(0)),
        levies[-1] if levies else Decimal(0),
        tuple(names.items()),
        tuple(payouts.open_money(tx, page.cooperative.id)),
        tuple((each, in_lines(page, _slip(each))) for each in payouts.closed(tx, page.cooperative.id, MOST_CLOSED)),
    )


def _slip(closed: Closed) -> list[Line]:
    return [(kind, text, Decimal(amount)) for kind, text, amount in closed.slip]


def in_lines(page: Seen, lines: Sequence[Line]) -> tuple[Written, ...]:
    """The lines of a pay-out as they are written on the page."""
    speech = page.speech
    return tuple((label(speech, kind), rule(speech, kind, text), page.money(amount)) for kind, text, amount in lines)


def show(tx: Transaction, page: Seen, problem: str) -> str:
    """The page of pay-outs."""
    seen = look(tx, page)
    kinds = [(kind, label(page.speech, kind)) for kind in OFF]
    return render_template(
        "cooperative_money.html", page=page, speech=page.speech, seen=seen, kinds=kinds, problem=problem, lines=in_lines
    )


def show_grower(tx: Transaction, page: Seen, farm_id: str) -> str:
    """What is due to one grower, line by line. Raises NoGrower for a farm that is nobody's here."""
    known = {*cooperatives.farm_names(tx, page.cooperative.id), *payouts.farms_with_open_money(tx, page.cooperative.id)}
    if farm_id not in known:
        raise NoGrower(farm_id)
    due = reckoned.owed(tx, page.cooperative, farm_id)
    lines = payouts.money_of(tx, page.cooperative.id, farm_id)[:MOST_TAKEN_OFF]
    written = [(each, label(page.speech, each.kind), rule(page.speech, each.kind, each.note)) for each in lines]
    return render_template(
        "cooperative_grower.html",
        page=page,
        speech=page.speech,
        due=due,
        slip=in_lines(page, due.slip),
        lines=written,
        off=OFF,
    )


def take_off() -> Callable[[Office], Outcome]:
    """What the form for an advance, acid, tools or another deduction asks for. Raises CannotDo."""
    farm_id, kind, amount = field("farm", 40), field("kind", 20), number("amount")
    litres = number("litres") if kind == "acid" and field("litres") else None
    note = field("note", 40) if litres is None else f"{litres.normalize():f} L"

    def action(office: Office) -> Outcome:
        if farm_id not in cooperatives.farm_names(office.tx, office.cooperative.id) or kind not in OFF:
            raise CannotDo(later("Choose a grower and what comes off."))
        if talk.whole(office, amount) is None:
            raise CannotDo(later("{text} cannot be. Nothing was changed."), text=str(amount))
        return talk.take_off(office, farm_id, kind, amount, note)

    return action


def take_back() -> Callable[[Office], Outcome]:
    """What the button beside a line asks for."""
    farm_id, line_id = field("farm", 40), field("line", 40)

    def action(office: Office) -> Outcome:
        found = [each for each in payouts.money_of(office.tx, office.cooperative.id, farm_id) if each.id == line_id]
        if not found or found[0].kind not in OFF:
            raise CannotDo(later("This line does not stand any more. Load the page again."))
        return talk.take_back(office, found[0])

    return action


def pay_out() -> Callable[[Office], Outcome]:
    """What the button of one grower's pay-out, or of all, asks for: at the sum that the page showed."""
    farm_id, total = field("farm", 40), number("total", zero=True)

    def action(office: Office) -> Outcome:
        if farm_id:
            found = [reckoned.owed(office.tx, office.cooperative, farm_id)]
        else:
            found = [each for each in reckoned.everybody(office.tx, office.cooperative) if each.has_receipts]
        if sum((each.sums.paid for each in found), Decimal(0)) != total:
            raise CannotDo(later("What is due has changed since the page was loaded. Look at it again."))
        return talk.pay_out(office, found, total, found[0].farm if farm_id else None)

    return action

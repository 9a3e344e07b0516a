"""Pay on a page: what is due, how it was worked out, terms, advances, and what was settled."""

from dataclasses import dataclass
from decimal import Decimal

from bot.books import Transaction, people, wages
from bot.pages import growers_own
from bot.pages.growers_own import OwnAccount
from bot.pages.opening import Page
from bot.reckon.wages import Due, NoTerms, due, exponent, next_time
from bot.rubber.money import MoneyError, rounded
from bot.speech import pay
from bot.speech.language import Tongue


@dataclass(frozen=True)
class PaySeen:
    """What is due for the next pay day (`settles` tells whether that time is over), terms, and settlements."""

    page: Page
    days: str
    settles: bool
    due: tuple[tuple[Due, tuple[tuple[str, str, str], ...]], ...]
    total: str
    total_written: str
    problem: str
    terms: tuple[tuple[str, str, str], ...]
    money: tuple[tuple[str, str, str, str], ...]
    settled: tuple[tuple[str, str, str], ...]
    sold: tuple[OwnAccount, ...]


def look_at_pay(tx: Transaction, page: Page) -> PaySeen:
    """The pay of a farm."""
    speech, places = page.speech, exponent(page.farm)
    left = people.former_tappers(tx, page.farm.id)
    names = {each.id: each.name for each in (*left, *(member.person for member in page.members))}
    times = next_time(tx, page.farm, page.today)
    first, last = times or (page.today.replace(day=1), page.today)
    problem, found = "", []
    try:
        found = due(tx, page.farm, first, last)
    except NoTerms as fault:
        problem = speech.say("No terms of pay are set for {name}.", name=str(fault))
    except MoneyError as fault:
        problem = speech.say("The pay cannot be worked out: {why}.", why=str(fault))
    total = sum((each.settlement.paid for each in found), rounded(Decimal(0), places))
    terms = [
        (
            names.get(each.person_id or "", speech.say("all tappers")),
            speech.dated_year(each.since),
            pay.in_words(speech, dict(each.terms)),
        )
        for each in wages.all_terms(tx, page.farm.id)
    ]
    lines = [
        (
            names.get(each.person_id, "?"),
            speech.dated_year(each.day),
            pay.label(speech, each.kind),
            f"{speech.fixed(each.amount, places)} {each.note}".strip(),
        )
        for each in wages.money(tx, page.farm.id)[-20:]
    ]
    settled = [
        (names.get(each.person_id, "?"), speech.full_days(each.first, each.last), speech.fixed(each.paid, places))
        for each in reversed(wages.settlements(tx, page.farm.id)[-30:])
    ]
    return PaySeen(
        page,
        speech.days(first, last),
        times is not None and bool(found),
        tuple((each, _lines(speech, each, places)) for each in found),
        str(total),
        f"{speech.fixed(total, places)} {page.farm.currency}",
        problem,
        tuple(terms),
        tuple(lines),
        tuple(settled),
        growers_own.look(tx, page),
    )


def _lines(speech: Tongue, each: Due, places: int) -> tuple[tuple[str, str, str], ...]:
    lines = [
        (pay.label(speech, line.label), pay.rule(speech, line.rule), speech.fixed(line.amount, places))
        for line in each.earned.lines
    ]
    if each.settlement.recovered:
        lines.append((speech.say("advance taken back"), "", speech.fixed(-each.settlement.recovered, places)))
    return (*lines, (speech.say("to pay"), "", speech.fixed(each.settlement.paid, places)))

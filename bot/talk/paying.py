"""Pay by text: terms, advances, what is due, settling it, and the slips that the tappers get.

Nothing is settled by a mere yes: the owner repeats the total that he was told, so that he settles what he saw.
"""

from collections.abc import Sequence
from datetime import date
from decimal import Decimal

from bot.books import wages
from bot.books.model import Person
from bot.reckon.wages import Due, NoTerms, due, exponent, next_time, terms_of
from bot.rubber.money import MoneyError, rounded
from bot.speech import say
from bot.speech.language import Tongue, tongue
from bot.talk.desk import Desk, Outcome, Told
from bot.talk.exchange import Kind
from parsers.reading import Manage, Request

KINDS = {Manage.ADVANCE: "advance", Manage.DEDUCTION: "deduction", Manage.BONUS: "bonus"}


def set_terms(desk: Desk, request: Request) -> Outcome:
    """Terms of pay from today on, for one tapper or for all."""
    person = desk.named(request.name)
    given = {str(request.word): str(request.number)}
    try:
        terms_of(given)
    except MoneyError:
        return Outcome(
            Kind.REFUSED,
            desk.tongue.say("I cannot reckon with that. Text it like: pay Tobin 50% / pay all 0.40 per kg"),
        )
    wages.set_terms(
        desk.tx,
        desk.farm.id,
        None if person is None else person.id,
        desk.today,
        given,
        at=desk.sent,
        message_id=desk.message.id,
    )
    who = person.name if person is not None else desk.tongue.say("all tappers")
    text = desk.tongue.say("Pay of {name} from today: {terms}.", name=who, terms=in_words(desk.tongue, given))
    told = [person] if person is not None else desk.tappers()
    return Outcome(Kind.CHANGED, text, tuple(_told_terms(desk, each, given) for each in told if each.id != desk.me.id))


def _told_terms(desk: Desk, person: Person, given: dict[str, str]) -> Told:
    theirs = tongue(person.language)
    return Told(
        person, theirs.say("Pay of {name} from today: {terms}.", name=person.name, terms=in_words(theirs, given))
    )


def in_words(speech: Tongue, given: dict[str, str]) -> str:
    """Terms of pay as people say them."""
    words = {
        "share": lambda rate: speech.say("share of the sale {rate}", rate=rate),
        "per_kilo": lambda rate: speech.say("{rate} a kg dry", rate=rate),
        "per_100_trees": lambda rate: speech.say("{rate} for 100 trees", rate=rate),
        "per_day": lambda rate: speech.say("{rate} a day", rate=rate),
        "norm": lambda rate: speech.say("norm {rate} (base/kg/over)", rate=rate),
    }
    return speech.several(words[name](rate) for name, rate in given.items())


def money(desk: Desk, request: Request) -> Outcome:
    """An advance, a deduction or a bonus for a tapper, who is told."""
    person = desk.named(request.name)
    if person is None or request.value is None:
        return Outcome(Kind.ASKED, desk.tongue.say("Who and how much? Text it like: advance Tobin 20"))
    amount = rounded(request.value, exponent(desk.farm))
    kind = KINDS[request.manage]
    if amount <= 0 or amount != request.value:
        return Outcome(Kind.REFUSED, desk.tongue.say("I cannot reckon with that. Text it like: advance Tobin 20"))
    wages.add_money(
        desk.tx,
        desk.farm.id,
        person.id,
        day=desk.today,
        kind=kind,
        amount=amount,
        note=request.word or "",
        at=desk.sent,
        message_id=desk.message.id,
    )
    return Outcome(
        Kind.CHANGED,
        _money_line(desk, desk.tongue, person, kind, amount),
        (Told(person, _money_line(desk, tongue(person.language), person, kind, amount)),),
    )


def _money_line(desk: Desk, speech: Tongue, person: Person, kind: str, amount: Decimal) -> str:
    return speech.say(
        "{name}: {kind} {amount} noted.",
        name=person.name,
        kind=label(speech, kind),
        amount=written(desk, speech, amount),
    )


def label(speech: Tongue, name: str) -> str:
    """What a line of pay is called."""
    words = {
        "advance": speech.say("advance"),
        "deduction": speech.say("deduction"),
        "bonus": speech.say("bonus"),
        "adjustment": speech.say("adjustment"),
        "by the kilo": speech.say("by the kilo"),
        "by trees": speech.say("by trees"),
        "day's wage": speech.say("day's wage"),
        "above the norm": speech.say("above the norm"),
        "share of the sale": speech.say("share of the sale"),
    }
    return words.get(name, name.replace("norm of", speech.say("norm of")))


def rule(speech: Tongue, text: str) -> str:
    """How a line was worked out, with its units in the listener's language."""
    words = {"kg dry": speech.say("kg dry"), "x 100 trees": speech.say("x 100 trees"), "days": speech.say("days")}
    for english, own in words.items():
        text = text.replace(english, own)
    return text


def written(desk: Desk, speech: Tongue, amount: Decimal) -> str:
    """An amount with all its decimals and the currency's code."""
    return f"{speech.fixed(amount, exponent(desk.farm))} {desk.farm.currency}"


def asked(desk: Desk) -> str:
    """What is due: the whole farm's for an owner, his own for a tapper."""
    times = next_time(desk.tx, desk.farm, desk.today)
    first, last = times or _running(desk)
    try:
        found = due(desk.tx, desk.farm, first, last)
        if not found and times is not None:
            times, (first, last) = None, _running(desk)
            found = due(desk.tx, desk.farm, first, last)
    except NoTerms as fault:
        return desk.tongue.say("No terms of pay for {name}. Text them like: pay {name} 50%", name=str(fault))
    if not desk.is_owner:
        found = [each for each in found if each.person.id == desk.me.id]
    if not found:
        return desk.tongue.say("Nothing is due.")
    lines = "; ".join(_short(desk, desk.tongue, each) for each in found)
    days = desk.tongue.days(first, last)
    total = sum((each.settlement.paid for each in found), rounded(Decimal(0), exponent(desk.farm)))
    if not desk.is_owner:
        return f"{days}: {slip(desk, desk.tongue, found[0])}"
    if times is None:
        return desk.tongue.say("So far, {days}: {lines}.", days=days, lines=lines)
    return desk.tongue.say(
        "{days}: {lines}. In all {total}. To settle text: settle {plain}",
        days=days,
        lines=lines,
        total=written(desk, desk.tongue, total),
        plain=str(total),
    )


def _running(desk: Desk) -> tuple[date, date]:
    """The time that is not over yet."""
    done = [each.last for each in wages.settlements(desk.tx, desk.farm.id)]
    first = desk.today.replace(day=1)
    return (max(first, max(done)) if done else first), desk.today


def _short(desk: Desk, speech: Tongue, each: Due) -> str:
    places = exponent(desk.farm)
    paid = speech.fixed(each.settlement.paid, places)
    if not each.settlement.recovered:
        return f"{each.person.name} {paid}"
    return speech.say(
        "{name} {earned} - advance {recovered} = {paid}",
        name=each.person.name,
        earned=speech.fixed(each.earned.amount, places),
        recovered=speech.fixed(each.settlement.recovered, places),
        paid=paid,
    )


def settle(desk: Desk, request: Request) -> Outcome:
    """Settle what was proposed, if the owner repeats its total; every tapper gets his slip."""
    times = next_time(desk.tx, desk.farm, desk.today)
    if times is None:
        return Outcome(Kind.ANSWERED, desk.tongue.say("All is settled up to the last pay day."))
    try:
        found = due(desk.tx, desk.farm, *times)
    except NoTerms as fault:
        text = desk.tongue.say("No terms of pay for {name}. Text them like: pay {name} 50%", name=str(fault))
        return Outcome(Kind.REFUSED, text)
    total = sum((each.settlement.paid for each in found), Decimal(0))
    if request.value is None or request.value != total:
        return Outcome(Kind.ASKED, asked(desk))
    for each in found:
        confirm(desk, each)
    days = desk.tongue.days(*times)
    text = desk.tongue.say(
        "Settled, {days}: {total}. The slips go out.", days=days, total=written(desk, desk.tongue, total)
    )
    return Outcome(Kind.CHANGED, text, slips(desk, found))


def confirm(desk: Desk, each: Due) -> bool:
    """Write one settlement down."""
    return wages.settle(
        desk.tx,
        desk.farm.id,
        each.person.id,
        first=each.first,
        last=each.last,
        slip=each.slip,
        earned=each.earned.amount,
        recovered=each.settlement.recovered,
        paid=each.settlement.paid,
        owed=each.settlement.still_owed,
        at=desk.sent,
        message_id=desk.message.id,
    )


def slips(desk: Desk, found: Sequence[Due]) -> tuple[Told, ...]:
    """Each tapper's slip, with how it was computed."""
    told = []
    for each in found:
        theirs = tongue(each.person.language)
        days = theirs.days(each.first, each.last)
        text = theirs.say("Pay {days}: {slip}", days=days, slip=slip(desk, theirs, each))
        told.append(Told(each.person, text))
    return tuple(told)


def slip(desk: Desk, speech: Tongue, each: Due) -> str:
    """Lines of pay, what is taken back, and what is paid: `by the kilo 84.2 kg dry x 0.40 = 33.68; paid 23.68 USD.`"""
    places = exponent(desk.farm)
    pieces = [
        f"{label(speech, line.label)} {rule(speech, line.rule)} = {speech.fixed(line.amount, places)}"
        for line in each.earned.lines
    ]
    if each.settlement.recovered:
        back = speech.fixed(each.settlement.recovered, places)
        pieces.append(speech.say("advance taken back {amount}", amount=back))
    pieces.append(speech.say("paid {amount}", amount=written(desk, speech, each.settlement.paid)))
    if each.settlement.still_owed:
        left = speech.fixed(each.settlement.still_owed, places)
        pieces.append(speech.say("advance left {amount}", amount=left))
    return say.sentence("; ".join(pieces))

"""What a manager texts: the day so far, prices, disputes and how they end, what left the store, grades by grower, his page.

A manager sees and does what is his cooperative's, and nothing of other farms. What he changes is told to the other managers.
"""

import re
from collections.abc import Callable
from datetime import timedelta
from decimal import Decimal

import parsers
from bot.books import cooperatives, disputes, entries, people, places
from bot.books.model import Entry, Person
from bot.speech import say
from bot.speech.fitting import fitting
from bot.speech.language import tongue
from bot.talk import correcting, disputing, growers_money, office_proof, storing
from bot.talk.desk import Outcome
from bot.talk.exchange import Kind
from bot.talk.office import Office
from bot.week import grades, paying_out
from bot.week.closing import InDispute, closing, in_words, kind_name
from parsers import taking
from parsers.facts import Facts
from parsers.reading import Intent, Manage, Role, Setting

#: Grades are told for so many days.
GRADE_DAYS = 92

_RECEIPT = re.compile(r"(?<!\d)(\d{3,7})(?!\d)")

Handler = Callable[[Office, str, Facts], Outcome]


def answered(office: Office, *, has_desk: bool) -> Outcome | None:
    """What comes of a manager's text; None where it is not about the cooperative and he has a farm to write about too."""
    setting = Setting({}, Role.OWNER, (), office.me.language, office.sent.replace(tzinfo=None))
    text = office.text
    reading = parsers.read(text, setting, office.house.words)
    if reading.intent in (Intent.STOP, Intent.START) and not has_desk:
        return _stop_or_start(office, stops=reading.intent is Intent.STOP)
    kind, rest = taking.opening(text, office.house.words)
    facts = parsers.facts_of(text, setting, office.house.words)
    handler = _HANDLERS.get(kind or "")
    if handler is not None and _means_it(kind or "", rest, facts):
        return handler(office, rest, facts)
    if kind == "cancel" and taking.opening(rest, office.house.words)[0] == "bales":
        return storing.take_apart(office, facts)
    if kind in growers_money.OPENING:
        of_money = growers_money.answered(office, kind, rest, has_desk=has_desk)
        if of_money is not None:
            return of_money
    if reading.request is not None and reading.request.manage is Manage.LINK and not has_desk:
        return _link(office)
    if _prices(facts):
        return _set_prices(office, facts)
    if has_desk:
        return None
    if reading.intent in (Intent.WEEK, Intent.READY) or facts.has("ready"):
        return _day(office, "", facts)
    if reading.intent is Intent.CHAT:
        return Outcome(Kind.SILENT, None)
    return Outcome(Kind.ANSWERED, help_(office))


def _means_it(kind: str, rest: str, facts: Facts) -> bool:
    """Whether the first words are meant as a manager's: they begin other texts too (`keep 1001`, `out 500 kg rss3`)."""
    if kind == "keep":
        return _RECEIPT.search(rest) is not None
    if kind in ("left", "counted"):
        return facts.has("kg") or storing.of_bales(rest)
    if kind in ("bales", "store"):
        return storing.is_meant(kind, rest, facts)
    if kind == "closing":
        return not rest or facts.has("day") or len(rest.split()) <= 2
    return kind in ("disputes", "grades")


def help_(office: Office) -> str:
    """What a manager can text, by examples."""
    return office.tongue.say(
        "Text: day / price rss3 1.55 / disputes / keep 1001 / set 1001 21 kg / store / bales / store out 500 kg rss3 / grades / "
        "advance / levy / pay out / link"
    )


def _stop_or_start(office: Office, *, stops: bool) -> Outcome:
    if stops:
        people.opt_out(office.tx, office.me.id, office.now)
    else:
        people.opt_in(office.tx, office.me.id)
    text = None if office.message.keeps_words or stops else help_(office)
    return Outcome(Kind.ANSWERED, text)


def _day(office: Office, _rest: str, facts: Facts) -> Outcome:
    days = [fact.day.day for fact in facts.of("day") if fact.day is not None and fact.day.day is not None]
    day = days[0] if days and days[0] <= office.today else office.today
    seen, due = closing(office.tx, office.cooperative, day), None
    if day == office.today:
        due = paying_out.to_pay(office.tx, office.cooperative, seen.amount, len(seen.cash))
    return Outcome(Kind.ANSWERED, in_words(seen, office.tongue, due))


def _link(office: Office) -> Outcome:
    make = office.house.cooperative_link
    if make is None:
        return Outcome(Kind.REFUSED, office.tongue.say("There is no page here. Ask the operator."))
    address = make(office.cooperative.id, office.me.id)
    return Outcome(
        Kind.ANSWERED, office.tongue.say("Your page, for you alone, for 30 days: {address}", address=address)
    )


def _prices(facts: Facts) -> dict[str, Decimal]:
    """Prices by grade or form in a text without any weight: `rss3 1.55, latex 1.2`."""
    if facts.has("kg", "litres", "sheets", "block", "ask", "question", "rolled"):
        return {}
    kinds = [(fact.at, fact.name or fact.kind) for fact in facts.of("grade", "latex", "lump", "sheet")]
    values = facts.of("price_value", "number")
    found = {}
    for n, (at, name) in enumerate(kinds):
        end = kinds[n + 1][0] if n + 1 < len(kinds) else 10**6
        value = next((fact.value for fact in values if at < fact.at < end and fact.value), None)
        if value is None:
            return {}
        found["sheets" if name == "sheet" else name] = value
    return found


def _set_prices(office: Office, facts: Facts) -> Outcome:
    prices = _prices(facts)
    words = office.tongue.several(f"{kind_name(office.tongue, kind)} {value}" for kind, value in prices.items())
    return office_proof.asked_for(office, words) or set_prices(office, prices)


def set_prices(office: Office, prices: dict[str, Decimal]) -> Outcome:
    """Prices a kg from today on; what was before is told with it, and to the other managers."""
    before = cooperatives.prices_on(office.tx, office.cooperative.id, office.today)
    for kind, price in prices.items():
        cooperatives.set_price(
            office.tx,
            office.cooperative.id,
            kind,
            price,
            day=office.today,
            at=office.sent,
            message_id=office.message.id,
        )

    def said(speech_of: str) -> str:
        speech = tongue(speech_of)
        lines = speech.several(
            f"{kind_name(speech, kind)} {speech.number(price, 4)}"
            + (f" ({speech.say('was {before}', before=speech.number(before[kind], 4))})" if kind in before else "")
            for kind, price in prices.items()
        )
        return speech.say(
            "Prices from today: {lines} {currency} a kg.", lines=lines, currency=office.cooperative.currency
        )

    return Outcome(Kind.CHANGED, said(office.me.language), office.to_others(said))


def _disputes(office: Office, _rest: str, _facts: Facts) -> Outcome:
    seen = closing(office.tx, office.cooperative, office.today).disputes
    if not seen:
        return Outcome(Kind.ANSWERED, office.tongue.say("Nothing is in dispute."))
    return Outcome(Kind.ANSWERED, fitting([_dispute_line(office, each) for each in seen], parts=3))


def _dispute_line(office: Office, each: InDispute) -> str:
    stands = say.amount(office.tongue, each.entry.record)
    return f"{each.number} {each.farm} {stands}; {each.by}: {each.dispute.said or '-'}."


def _keep(office: Office, rest: str, _facts: Facts) -> Outcome:
    match = _RECEIPT.search(rest)
    assert match is not None
    said = parsers.facts_of(
        rest[match.end() :],
        Setting({}, Role.OWNER, (), office.me.language, office.sent.replace(tzinfo=None)),
        office.house.words,
    )
    kilos = [fact.value for fact in said.of("kg", "number") if fact.value]
    number, kg = int(match[1]), kilos[0] if kilos else None
    entry = entries.with_receipt(office.tx, office.cooperative.id, number)
    words = f"{number} {say.kilos(office.tongue, kg)}" if kg is not None else f"{number} OK"
    wanted = None if entry is None else office_proof.asked_for(office, words)
    return wanted or settle(office, number, kg)


def settle(office: Office, number: int, kg: Decimal | None) -> Outcome:
    """End a dispute: the take stays as it is, or gets another weight. Both sides hear of it."""
    entry = entries.with_receipt(office.tx, office.cooperative.id, number)
    if entry is None or entry.removed:
        text = office.tongue.say("There is no receipt {number} of yours. Nothing changed.", number=number)
        return Outcome(Kind.REFUSED, text)
    desk = office.desk(entry.farm_id)
    if kg is not None and kg != entry.record.kg:
        return correcting.put_in_place(desk, entry, entry.record.with_(kg=kg))
    first = entries.history(office.tx, entry.id)[0]
    ended = disputes.settle(office.tx, first.id, disputes.KEPT, office.me.id, office.sent)
    if not ended:
        text = office.tongue.say("Receipt {number} stands, nothing is in dispute.", number=number)
        return Outcome(Kind.ANSWERED, text)
    told = tuple(disputing.settled_told(office.me.name, number, entry, each) for each in _sides(office, entry))
    text = office.tongue.say("Receipt {number} stands, the dispute is over.", number=number)
    return Outcome(Kind.CHANGED, text, told)


def _sides(office: Office, entry: Entry) -> list[Person]:
    desk = office.desk(entry.farm_id)
    both = dict.fromkeys([entry.by, *desk.owners(), *desk.tappers()])
    return [each for each in both if each.id != office.me.id]


def _grades(office: Office, rest: str, _facts: Facts) -> Outcome:
    names = cooperatives.farm_names(office.tx, office.cooperative.id).values()
    farm = places.nearest(rest, names) if rest else None
    found = grades.by_grower(office.tx, office.cooperative, office.today - timedelta(days=GRADE_DAYS), office.today)
    chosen = [each for each in found if farm is None or each.farm == farm]
    if rest and farm is None:
        text = office.tongue.say("I know no farm {name}. Nothing changed.", name=rest)
        return Outcome(Kind.ASKED, text)
    newest = sorted(chosen, key=lambda each: (-each.month.toordinal(), -sum(each.notes.values()), each.farm))
    lines = [grades.in_words(office.tongue, each) for each in newest]
    return Outcome(Kind.ANSWERED, fitting(lines, parts=3) if lines else office.tongue.say("Nothing was taken."))


_HANDLERS: dict[str, Handler] = {
    "closing": _day,
    "disputes": _disputes,
    "keep": _keep,
    "left": storing.left,
    "bales": storing.bales,
    "counted": storing.counted,
    "store": storing.told,
    "grades": _grades,
}

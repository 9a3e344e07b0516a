"""What a manager texts of his growers' money: advances, acid and tools, the levy, and pay-outs.

`pay out Hill Farm` tells what is due and how it came about; nothing is paid out by a mere yes: the manager repeats the sum
that he was told. What was paid for and is corrected later comes as an adjustment with the next pay-out.
"""

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

import parsers
from bot.books import cooperatives, farms, payouts, places
from bot.books.convert import folded
from bot.books.payouts import GrowerMoney
from bot.reckon import payouts as reckoned
from bot.reckon.pay_terms import decimals
from bot.reckon.payouts import Owed
from bot.rubber.money import HIGHEST_AMOUNT, rounded
from bot.speech.fitting import fitting
from bot.speech.language import Tongue, tongue
from bot.speech.payouts import in_words, label
from bot.talk import office_proof, pinned
from bot.talk.desk import Outcome, Told
from bot.talk.exchange import Kind
from bot.talk.office import Office
from parsers import taking
from parsers.reading import Role, Setting

#: What the words of a manager's text make of a grower's money.
KINDS: Mapping[str, str] = {"advance": "advance", "acid_sold": "acid", "tools": "tools", "deduct": "deduction"}

#: Words that begin such a text.
OPENING = frozenset({*KINDS, "levy", "payout", "cancel"})

#: A farm's name has so many words at most.
LONGEST_NAME = 6

#: What may stand beside a farm's name in such a text.
_BESIDE = ("for", "from", "at_place", "money", "ignore", "number", "litre", "ml", "kg", "all", "percent", "day")


@dataclass(frozen=True)
class Said:
    """What a text says: of which farm (its id and name), or of all; how much money, how many litres, how many percent."""

    farm: tuple[str, str] | None
    unknown: str
    everybody: bool
    amount: Decimal | None
    litres: Decimal | None
    percent: Decimal | None


def answered(office: Office, kind: str, rest: str, *, has_desk: bool) -> Outcome | None:
    """What comes of a text that begins with one of these words; None where it speaks of a farm of the manager's own."""
    inner = None
    if kind == "cancel":
        inner, rest = taking.opening(rest, office.house.words)
        if inner not in KINDS:
            return None
    said = _said(office, rest)
    if has_desk and not (said.farm or said.everybody or (kind == "levy" and said.percent is not None)):
        return None
    if kind == "levy":
        return _levy(office, said)
    if kind == "payout":
        return _pay_out(office, said)
    if said.farm is None:
        return _which(office, said)
    return _cancel(office, KINDS[inner], said) if inner is not None else _money(office, KINDS[kind], said)


def _said(office: Office, rest: str) -> Said:
    farm, others = _farm(office, rest)
    setting = Setting({}, Role.OWNER, (), office.me.language, office.sent.replace(tzinfo=None))
    facts = parsers.facts_of(others, setting, office.house.words)
    percents = [each.value for each in facts.of("drc_value", "strength") if each.value is not None]
    amounts = [each.value for each in facts.of("number", "price_value", "sheets") if each.value is not None]
    litres = [each.value for each in facts.of("litres") if each.value is not None]
    unknown = " ".join(item.text for item in facts.items if item.kind == "word" and not item.has(*_BESIDE))
    if farm is None and unknown:
        farm, unknown = _nearest(office, unknown), unknown
    return Said(
        farm,
        unknown,
        facts.has("all") or any(item.has("all") for item in facts.items),
        amounts[0] if len(amounts) == 1 else None,
        litres[0] if len(litres) == 1 else None,
        next(iter([*percents, *amounts]), None),
    )


def _names(office: Office) -> dict[str, str]:
    """The ids of the cooperative's farms by name, and of those that left it with something open."""
    names = cooperatives.farm_names(office.tx, office.cooperative.id)
    for farm_id in payouts.farms_with_open_money(office.tx, office.cooperative.id):
        if farm_id not in names:
            names[farm_id] = farms.farm(office.tx, farm_id).name
    return {name: farm_id for farm_id, name in names.items()}


def _farm(office: Office, text: str) -> tuple[tuple[str, str] | None, str]:
    """The farm whose name stands in a text as it is written in the books, and the text without it."""
    by_key = {folded(name): (farm_id, name) for name, farm_id in _names(office).items()}
    words = re.split(r"[\s,;]+", text.strip())
    for length in range(min(LONGEST_NAME, len(words)), 0, -1):
        for start in range(len(words) - length + 1):
            found = by_key.get(folded(" ".join(words[start : start + length])))
            if found is not None:
                return found, " ".join([*words[:start], *words[start + length :]])
    return None, text


def _nearest(office: Office, written: str) -> tuple[str, str] | None:
    names = _names(office)
    name = places.nearest(written, names)
    return None if name is None else (names[name], name)


def _which(office: Office, said: Said) -> Outcome:
    if said.unknown:
        text = office.tongue.say("I know no farm {name}. Nothing changed.", name=said.unknown)
        return Outcome(Kind.ASKED, text)
    return Outcome(Kind.ASKED, _how(office))


def _how(office: Office) -> str:
    return office.tongue.say(
        "Who and how much? Text: advance 500 Hill Farm / acid 2 litres 120 Hill Farm / tools 80 Hill Farm / "
        "deduct 20 Hill Farm"
    )


def written(office: Office, speech: Tongue, amount: Decimal) -> str:
    """An amount with all its decimals and the currency's code."""
    return f"{speech.fixed(amount, decimals(office.cooperative.currency))} {office.cooperative.currency}"


def _money(office: Office, kind: str, said: Said) -> Outcome:
    """Something comes off a grower's money at his next pay-out; he is told."""
    assert said.farm is not None
    amount = None if said.amount is None else whole(office, said.amount)
    if amount is None:
        return Outcome(Kind.ASKED, _how(office))
    note = "" if said.litres is None or kind != "acid" else f"{said.litres.normalize():f} L"
    return take_off(office, said.farm[0], kind, amount, note)


def whole(office: Office, amount: Decimal) -> Decimal | None:
    """An amount above 0 that the currency has coins for; None for any other."""
    if not 0 < amount < HIGHEST_AMOUNT or rounded(amount, decimals(office.cooperative.currency)) != amount:
        return None
    return amount


def take_off(office: Office, farm_id: str, kind: str, amount: Decimal, note: str) -> Outcome:
    """Write down what comes off a grower's money at his next pay-out."""
    farm = farms.farm(office.tx, farm_id)

    def line(speech: Tongue) -> str:
        return " ".join(piece for piece in (label(speech, kind), note, written(office, speech, amount)) if piece)

    wanted = office_proof.asked_for(office, f"{farm.name}: {line(office.tongue)}")
    if wanted is not None:
        return wanted
    payouts.add_money(
        office.tx,
        office.cooperative.id,
        farm_id,
        day=office.today,
        kind=kind,
        amount=amount,
        note=note,
        at=office.sent,
        message_id=office.message.id,
    )

    def said(who: str, speech: Tongue) -> str:
        return speech.say("{name}: {what}, off the next pay-out.", name=who, what=line(speech))

    told = _to_growers(office, farm_id, lambda speech: said(office.cooperative.name, speech))
    others = office.to_others(lambda language: said(farm.name, tongue(language)))
    return pinned.with_hint(office, Outcome(Kind.CHANGED, said(farm.name, office.tongue), (*told, *others)))


def _cancel(office: Office, kind: str, said: Said) -> Outcome:
    """The newest such line of a grower does not stand any more."""
    assert said.farm is not None
    found = [
        each
        for each in payouts.money_of(office.tx, office.cooperative.id, said.farm[0])
        if each.kind == kind and said.amount in (None, each.amount)
    ]
    if not found:
        text = office.tongue.say("{name}: there is no such line. Nothing changed.", name=said.farm[1])
        return Outcome(Kind.REFUSED, text)
    return take_back(office, found[0])


def take_back(office: Office, line: GrowerMoney) -> Outcome:
    """Something does not come off a grower's money after all; what a pay-out took off comes back with the next."""

    def what(speech: Tongue) -> str:
        pieces = (label(speech, line.kind), line.note, written(office, speech, line.amount))
        return " ".join(piece for piece in pieces if piece)

    def said(who: str, speech: Tongue) -> str:
        if line.payout_id is None:
            return speech.say("{name}: taken back: {what}.", name=who, what=what(speech))
        return speech.say("{name}: taken back: {what}, comes with the next pay-out.", name=who, what=what(speech))

    words = office.tongue.say("take out {lines}", lines=f"{line.farm}: {what(office.tongue)}")
    wanted = office_proof.asked_for(office, words)
    if wanted is not None:
        return wanted
    day, message = office.today, office.message.id
    if not payouts.take_back(office.tx, line, office.cooperative.id, day=day, at=office.sent, message_id=message):
        text = office.tongue.say("{name}: there is no such line. Nothing changed.", name=line.farm)
        return Outcome(Kind.REFUSED, text)
    told = _to_growers(office, line.farm_id, lambda speech: said(office.cooperative.name, speech))
    others = office.to_others(lambda language: said(line.farm, tongue(language)))
    return pinned.with_hint(office, Outcome(Kind.REMOVED, said(line.farm, office.tongue), (*told, *others)))


def levy_now(office: Office) -> Decimal:
    """The levy of today, percent."""
    standing = [each for since, each in payouts.levies(office.tx, office.cooperative.id) if since <= office.today]
    return standing[-1] if standing else Decimal(0)


def _levy(office: Office, said: Said) -> Outcome:
    if said.percent is None:
        now = office.tongue.number(levy_now(office))
        return Outcome(Kind.ANSWERED, office.tongue.say("The levy is {now}%. To change it text: levy 2%", now=now))
    return set_levy(office, said.percent)


def set_levy(office: Office, percent: Decimal) -> Outcome:
    """So many percent of what growers' receipts from today on come to."""
    if not 0 <= percent <= 100 or rounded(percent, 2) != percent:
        return Outcome(Kind.REFUSED, office.tongue.say("A levy is 0 to 100%, like: levy 2%. Nothing changed."))
    before = levy_now(office)

    def said(language: str) -> str:
        speech = tongue(language)
        values = {"now": speech.number(percent), "before": speech.number(before)}
        return speech.say("Levy from today: {now}% of what receipts come to (was {before}%).", **values)

    wanted = office_proof.asked_for(office, f"{office.tongue.say('levy')} {office.tongue.number(percent)}%")
    if wanted is not None:
        return wanted
    payouts.set_levy(
        office.tx,
        office.cooperative.id,
        percent,
        since=office.today,
        at=office.sent,
        message_id=office.message.id,
    )
    outcome = Outcome(Kind.CHANGED, said(office.me.language), office.to_others(said))
    return pinned.with_hint(office, outcome)


def _pay_out(office: Office, said: Said) -> Outcome:
    if said.farm is not None:
        found = [reckoned.owed(office.tx, office.cooperative, said.farm[0])]
        return pay_out(office, found, said.amount, said.farm[1])
    if said.unknown and not said.everybody:
        return _which(office, said)
    found = [each for each in reckoned.everybody(office.tx, office.cooperative) if each.has_receipts]
    return pay_out(office, found, said.amount if said.everybody else None, None)


def pay_out(office: Office, found: Sequence[Owed], repeated: Decimal | None, farm: str | None) -> Outcome:
    """Close pay-outs where their sum is repeated, otherwise tell what they come to. `farm` is None for all growers."""
    total = sum((each.sums.paid for each in found), rounded(Decimal(0), decimals(office.cooperative.currency)))
    due = [each for each in found if not each.is_nothing]
    if not due:
        return Outcome(Kind.ANSWERED, _nothing_due(office, found))
    if repeated is None or repeated != total:
        return Outcome(Kind.ASKED, _proposal(office, due, total, farm))
    name = farm or office.tongue.say("all growers")
    what = office.tongue.say("pay out {name} {amount}", name=name, amount=written(office, office.tongue, total))
    wanted = office_proof.asked_for(office, what)
    if wanted is not None:
        return wanted
    return _close(office, due, total, farm)


def _nothing_due(office: Office, found: Sequence[Owed]) -> str:
    text = office.tongue.say("Nothing is due.")
    return " ".join([text, *_remarks(office, found)])


def _proposal(office: Office, due: Sequence[Owed], total: Decimal, farm: str | None) -> str:
    speech, places_ = office.tongue, decimals(office.cooperative.currency)
    plain = str(total)
    if farm is not None:
        (one,) = due
        text = speech.say(
            "{name}: {lines}; to pay {amount}.",
            name=farm,
            lines=in_words(speech, one.slip, places_),
            amount=written(office, speech, total),
        )
        how = speech.say("To close it text: pay out {name} {plain}", name=farm, plain=plain)
        return " ".join([text, *_carried(office, speech, one), *_remarks(office, due), how])
    sums = [f"{each.farm} {speech.fixed(each.sums.paid, places_)}" for each in due]
    amount = written(office, speech, total)
    head = speech.count("Due to {n} grower: {amount}.", "Due to {n} growers: {amount}.", len(due), amount=amount)
    how = speech.say("To close all text: pay out all {plain}", plain=plain)
    last = len(sums) - 1
    listed = [f"{each}{',' if n < last else '.'}" for n, each in enumerate(sums)]
    return fitting([head, f"{how}.", *_remarks(office, due)], listed, parts=3)


def _carried(office: Office, speech: Tongue, one: Owed) -> list[str]:
    if not one.sums.carried:
        return []
    return [speech.say("{amount} is carried to the next.", amount=written(office, speech, one.sums.carried))]


def _remarks(office: Office, found: Sequence[Owed]) -> list[str]:
    """Receipts that wait for a price."""
    unpriced = [number for each in found for number in each.unpriced]
    if not unpriced:
        return []
    return [office.tongue.say("Without a price, not paid: {list}.", list=reckoned.in_runs(sorted(unpriced)))]


def _close(office: Office, due: Sequence[Owed], total: Decimal, farm: str | None) -> Outcome:
    told = [each for one in due for each in _paid(office, one)]

    def said(language: str) -> str:
        speech = tongue(language)
        name = farm or speech.say("all growers")
        return speech.say("Paid out: {name} {amount}.", name=name, amount=written(office, speech, total))

    text = f"{said(office.me.language)} {office.tongue.say('The statement goes to the grower.')}"
    return pinned.with_hint(office, Outcome(Kind.CHANGED, text, (*told, *office.to_others(said))))


def _paid(office: Office, one: Owed) -> list[Told]:
    """Close one pay-out; the grower gets his statement."""
    day, message = office.today, office.message.id
    number = reckoned.close(office.tx, office.cooperative, one, day=day, at=office.sent, message_id=message)
    return _to_growers(office, one.farm_id, lambda speech: statement(office, speech, number, one))


def _to_growers(office: Office, farm_id: str, said: Callable[[Tongue], str]) -> list[Told]:
    """Word to the owners of a farm, each in his language."""
    return [Told(each, said(tongue(each.language))) for each in office.desk(farm_id).owners()]


def statement(office: Office, speech: Tongue, number: int, one: Owed) -> str:
    """A grower's statement of a pay-out, line by line."""
    text = speech.say(
        "{cooperative}, pay-out {number} to {name}: {lines}; paid {amount}.",
        cooperative=office.cooperative.name,
        number=number,
        name=one.farm,
        lines=in_words(speech, one.slip, decimals(office.cooperative.currency)),
        amount=written(office, speech, one.sums.paid),
    )
    return " ".join([text, *_carried(office, speech, one)])

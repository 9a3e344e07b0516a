"""The books against the truth: every line, every receipt, all money, every text to others."""

from collections import Counter
from collections.abc import Iterable
from datetime import timedelta
from decimal import Decimal

from bot.books import Transaction, cooperatives, disputes, entries, farms, outbox, people, storeroom, wages
from bot.books.model import Entry, Farm
from bot.speech.language import economical, tongue
from bot.week.closing import closing
from parsers.reading import What
from tests.season.cooperative import FIRST, NAME, moment
from tests.season.play import Play
from tests.season.truth import Line, Taking

SUNDAY = 6


def differences(play: Play) -> list[str]:
    """All that differs, in words; none where the books equal the truth."""
    with play.house.books.reading() as tx:
        found = [
            *_lines(tx, play),
            *_takings(tx, play),
            *_days(tx, play),
            *_disputes(tx, play),
            *_payments(tx, play),
            *_texts(tx, play),
        ]
    found += _weeks(play)
    return found


def _standing(tx: Transaction) -> Iterable[tuple[Farm, Entry]]:
    for farm in farms.all_farms(tx):
        for entry in entries.standing(tx, farm.id):
            yield farm, entry


def _lines(tx: Transaction, play: Play) -> list[str]:
    """Lines of farms' own people, and check-ins."""
    found: Counter[Line] = Counter()
    arrivals = set()
    for farm, entry in _standing(tx):
        record = entry.record
        if record.what is What.CHECK_IN:
            arrivals.add((entry.by.number, record.day, record.place))
        elif record.what is not What.COLLECTED:
            assert record.day is not None
            ml, grams = _whole(record.litres), _whole(record.kg)
            found[
                Line(farm.name, record.day, record.what.value, entry.by.number, record.block, ml, grams, record.count)
            ] += 1
    wanted = +play.ledger.lines
    missing = [f"not in the books: {line} x{n}" for line, n in (wanted - found).items()]
    beyond = [f"in the books and not true: {line} x{n}" for line, n in (found - wanted).items()]
    here = [f"a check-in differs: {each}" for each in arrivals ^ play.ledger.arrivals]
    return missing + beyond + here


def _whole(quantity: Decimal | None) -> int | None:
    return None if quantity is None else int(quantity * 1000)


def _takings(tx: Transaction, play: Play) -> list[str]:
    found = {}
    for farm, entry in _standing(tx):
        if entry.record.what is What.COLLECTED:
            taking = _taking(farm, entry)
            taking.receipt = entries.receipt_number(tx, entry)
            kept = entry.computed or {}
            money = (Decimal(kept["paid_kg"]), Decimal(kept["amount"]) if "amount" in kept else None)
            found[taking.receipt] = (*taking.figures()[:-2], *money)
    wanted = {each.receipt: each.figures() for each in play.ledger.takings}
    twice = [
        f"receipt {n} was given {k} times" for n, k in Counter(t.receipt for t in play.ledger.takings).items() if k > 1
    ]
    differ = [n for n in sorted(found.keys() | wanted.keys()) if found.get(n) != wanted.get(n)]
    return twice + [f"receipt {n}: books {found.get(n)}, truth {wanted.get(n)}" for n in differ]


def _taking(farm: Farm, entry: Entry) -> Taking:
    record, kept = entry.record, entry.computed or {}
    tare, moisture = (None if name not in kept else Decimal(kept[name]) for name in ("tare_kg", "moisture"))
    assert record.day is not None
    assert record.kg is not None
    return Taking(
        farm.name, record.day, entry.by.number, kept["form"], record.kg, record.price, record.sheets, record.grade,
        tare, moisture, record.drc, next(iter(kept.get("notes", ())), None),
    )  # fmt: skip


def _days(tx: Transaction, play: Play) -> list[str]:
    """Each collecting day's cash, grower by grower, and kilos by grade; and the store holds all of it."""
    house = cooperatives.named(tx, NAME)
    assert house is not None
    found = []
    for day in sorted({each.day for each in play.ledger.takings}):
        seen = closing(tx, house, day)
        wanted = {each.farm: play.ledger.paid_out(day, each.farm) for each in play.ledger.takings if each.day == day}
        cash = {each.farm: each.amount for each in seen.cash}
        if cash != wanted or seen.amount != play.ledger.paid_out(day):
            found.append(f"cash of {day}: books {cash}, truth {wanted}")
    last = play.today + timedelta(days=1)
    stock: Counter[str] = Counter()
    for each in play.ledger.takings:
        stock[each.kind] += each.paid_kg  # type: ignore[assignment]
    sheets = storeroom.at(tx, house.id, last).sheets
    if sheets != dict(stock):
        found.append(f"store: books {sheets}, truth {dict(stock)}")
    return found


def _disputes(tx: Transaction, play: Play) -> list[str]:
    house = cooperatives.named(tx, NAME)
    assert house is not None
    found = disputes.open_at_cooperative(tx, house.id)
    numbers = {entries.receipt_number(tx, entries.history(tx, each.entry_id)[-1]) for each in found}
    return [f"a dispute differs: {each}" for each in numbers ^ play.ledger.disputes]


def _payments(tx: Transaction, play: Play) -> list[str]:
    """Settlements as the owners worked them out by hand; nobody with nothing is settled."""
    found: Counter[tuple[object, ...]] = Counter()
    for farm in farms.all_farms(tx):
        for each in wages.settlements(tx, farm.id):
            person = people.person(tx, each.person_id)
            assert person is not None
            found[farm.name, person.number, each.first, each.last, each.paid] += 1
    wanted = Counter((p.farm, p.by, p.first, p.last, p.paid) for p in play.ledger.payments)
    zero = {key for key in (wanted - found) if key[-1] == 0}
    differ = [key for key in ((wanted - found) + (found - wanted)) if key not in zero]
    return [f"a settlement differs: {key}" for key in differ]


def _weeks(play: Play) -> list[str]:
    """Every owner has the summary of each week once, on its Sunday."""
    found = []
    sundays = [FIRST + timedelta(days=n) for n in range(play.day) if (FIRST + timedelta(days=n)).weekday() == SUNDAY]
    for holding in play.one.holdings:
        speech, told = tongue(holding.owner.language), play.inbox.get(holding.owner.number, [])
        for last in sundays:
            week = economical(f"{holding.name} {speech.days(last - timedelta(days=6), last)}:")
            times = sum(week in words for words in told)
            if times != 1:
                found.append(f"the owner of {holding.name} has {times} summaries {week!r}")
    return found


def _texts(tx: Transaction, play: Play) -> list[str]:
    """All texts to others went out once; every owner has the receipt of each of his takes, with its first amount."""
    first, last = moment(play.today, -24 * (play.day + 30)), moment(play.today, 24 * 30)
    listed = outbox.listing(tx, first, last)
    found = [
        f"a text to {each.to} is {each.state}: {each.text!r}" for each in listed if each.state not in ("sent", "failed")
    ]
    for each in play.ledger.takings:
        owner = next(one.owner for one in play.one.holdings if one.name == each.farm)
        if not any(str(each.receipt) in words for words in play.inbox.get(owner.number, [])):
            found.append(f"{owner.name} never got receipt {each.receipt}")
        amount = None if each.amount is None else tongue(owner.language).fixed(each.amount, 2)
        told = [words for words in play.inbox.get(owner.number, []) if str(each.receipt) in words]
        if amount is not None and not any(amount in words for words in told):
            found.append(f"{owner.name} was never told {amount} for receipt {each.receipt}: {told}")
    return found

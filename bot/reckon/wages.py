"""What each tapper earns, from the entries: work by his own terms, his share of sales, advances taken back, adjustments.

Kilos are the dry rubber that his latex was reckoned to hold, rounded half up to ten grams a day; trees are those of the
blocks that he tapped that day. A share is of the farm's sales in the time, split among the tappers by the dry rubber that
each brought. When something settled is corrected later, the difference comes as an adjustment in the next settlement.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import ROUND_HALF_UP, Decimal

from babel.numbers import get_currency_precision

from bot.books import Transaction, entries, farms, people, wages
from bot.books.model import Entry, Farm, Person
from bot.books.wages import MoneyLine, Settled, Terms
from bot.rubber.money import MoneyError, rounded, share_of, split
from bot.rubber.pay import (
    Day,
    Norm,
    Pay,
    PayLine,
    PerDay,
    PerHundredTrees,
    PerKilo,
    Settlement,
    Share,
    Term,
    Work,
    pay,
    settle,
)
from bot.rubber.profiles import NAMES, profile
from parsers.reading import Role, What

ZERO = Decimal(0)


class NoTerms(ValueError):
    """Nobody has said how this work is paid."""


@dataclass(frozen=True)
class Due:
    """What somebody is due for some days: his pay line by line, and what is taken back of his advances."""

    person: Person
    first: date
    last: date
    earned: Pay
    settlement: Settlement

    @property
    def slip(self) -> tuple[tuple[str, str, str], ...]:
        """Each line of pay as label, rule and amount."""
        return tuple((line.label, line.rule, str(line.amount)) for line in self.earned.lines)


def exponent(farm: Farm) -> int:
    """Decimals in which the farm's currency is paid."""
    return decimals(farm.currency)


def decimals(currency: str) -> int:
    """Decimals in which a currency is paid: as its country's profile has them, otherwise as CLDR has."""
    paid = [each for each in map(profile, NAMES) if each.choice("currency").value == currency]
    return paid[0].currency_decimals if paid else int(get_currency_precision(currency))


def terms_of(given: Mapping[str, str]) -> tuple[Term, ...]:
    """Terms of pay from plain data: `per_kilo`, `per_100_trees`, `per_day`, `norm` (base/kg/over), `share`.

    Raises MoneyError for what is none of these or cannot be read.
    """
    found: list[Term] = []
    for name, value in given.items():
        if name == "share":
            found.append(Share(share_of(value)))
        elif name == "norm":
            base, kg, over = (_number(each) for each in value.split("/"))
            found.append(Norm(base, kg, over))
        elif name in _RATES:
            found.append(_RATES[name](_number(value)))
        else:
            raise MoneyError(f"{name} is no term of pay; use {', '.join(_RATES)}, norm or share")
    return tuple(found)


_RATES: Mapping[str, Callable[[Decimal], Term]] = {
    "per_kilo": PerKilo,
    "per_100_trees": PerHundredTrees,
    "per_day": PerDay,
}


def _number(text: str) -> Decimal:
    try:
        return Decimal(text.strip())
    except ArithmeticError as fault:
        raise MoneyError(f"{text!r} is no amount") from fault


def next_time(tx: Transaction, farm: Farm, today: date) -> tuple[date, date] | None:
    """The days to be settled next: from the day after the last settlement to the end of the last full pay period.

    None where no period has ended since. The periods are the farm's: `week` (Monday to Sunday), `fortnight` (1st to
    15th, 16th to the end) or `month`.
    """
    last = _period_end(farm.settings.pay_period, today)
    done = wages.settlements(tx, farm.id)
    first = max((each.last for each in done), default=None)
    start = _period_start(farm.settings.pay_period, last) if first is None else first + timedelta(days=1)
    return (start, last) if start <= last else None


def _period_end(period: str, today: date) -> date:
    """The last day of the last period that is over."""
    if period == "week":
        return today - timedelta(days=today.weekday() + 1)
    if period == "fortnight" and today.day > 15:
        return today.replace(day=15)
    return today.replace(day=1) - timedelta(days=1)


def _period_start(period: str, last: date) -> date:
    if period == "week":
        return last - timedelta(days=6)
    if period == "fortnight" and last.day > 15:
        return last.replace(day=16)
    return last.replace(day=1)


def due(tx: Transaction, farm: Farm, first: date, last: date) -> list[Due]:
    """What every tapper with work, advances or adjustments is due for these days. Raises NoTerms, MoneyError."""
    tappers = _tappers(tx, farm)
    book = _Book(tx, farm, tappers, first)
    return [found for person in tappers if (found := book.due(person, first, last)) is not None]


def _tappers(tx: Transaction, farm: Farm) -> list[Person]:
    return list(
        {each.person.id: each.person for each in people.members(tx, farm.id) if each.role is Role.TAPPER}.values()
    )


class _Book:
    """All that a farm's pay is worked out from, read once."""

    def __init__(self, tx: Transaction, farm: Farm, tappers: Sequence[Person], wanted: date) -> None:
        self.farm, self.tappers = farm, tappers
        self.places = exponent(farm)
        self.trees = {name: block.trees or 0 for name, block in farms.blocks(tx, farm.id).items()}
        self.terms = wages.all_terms(tx, farm.id)
        self.settled = wages.settlements(tx, farm.id)
        self.money = wages.money(tx, farm.id)
        first = min((wanted, *(each.first for each in self.settled)))
        self.entries = entries.standing(tx, farm.id, first=first)
        self.prices = entries.standing(tx, farm.id, what=What.PRICE)  # of any day: the newest before a sale holds

    def due(self, person: Person, first: date, last: date) -> Due | None:
        lines = [*self.lines(person, first, last), *self._money(person, first, last), *self._adjustments(person, first)]
        earned = Pay(tuple(lines), sum((each.amount for each in lines), rounded(ZERO, self.places)), self.places)
        owed = self._owed(person, last)
        if not lines and not owed:
            return None
        paid_from = max(earned.amount, ZERO)
        settlement = settle(paid_from, owed, self.places)
        if earned.amount < 0:  # more was deducted than earned: it is carried on as an advance
            settlement = Settlement(earned.amount, earned.amount, ZERO, owed - earned.amount)
        return Due(person, first, last, earned, settlement)

    def lines(self, person: Person, first: date, last: date) -> list[PayLine]:
        """Lines of pay for work in these days, by the terms of each day."""
        found: list[PayLine] = []
        for start, end, terms in self._spans(person, first, last):
            work = self._work(person, start, end)
            if work.days:
                found += pay(work, terms, self.places).lines
        return found

    def _spans(self, person: Person, first: date, last: date) -> Iterable[tuple[date, date, tuple[Term, ...]]]:
        """The days cut where his terms change. Raises NoTerms where he worked and none hold."""
        own = [each for each in self.terms if each.person_id == person.id]
        held = own or [each for each in self.terms if each.person_id is None]
        changes = sorted({each.since for each in held if first < each.since <= last} | {first})
        for n, start in enumerate(changes):
            end = changes[n + 1] - timedelta(days=1) if n + 1 < len(changes) else last
            terms = _held(held, start)
            if terms is None:
                if self._work(person, start, end).days:
                    raise NoTerms(person.name)
                continue
            yield start, end, terms_of(terms.terms)

    def _work(self, person: Person, first: date, last: date) -> Work:
        latex = [each for each in self._between(first, last) if each.record.what is What.LATEX]
        own = [each for each in latex if each.by.id == person.id]
        days: dict[date, list[Entry]] = {}
        for entry in own:
            assert entry.record.day is not None
            days.setdefault(entry.record.day, []).append(entry)
        worked = tuple(Day(_kilos(found), self._trees(found)) for found in days.values())
        return Work(worked, sales=self._share_base(person, latex, first, last))

    def _between(self, first: date, last: date) -> list[Entry]:
        return [each for each in self.entries if each.record.day is not None and first <= each.record.day <= last]

    def _trees(self, found: Sequence[Entry]) -> int:
        return sum(self.trees.get(block or "", 0) for block in {each.record.block for each in found})

    def _share_base(self, person: Person, latex: Sequence[Entry], first: date, last: date) -> Decimal:
        """His part of the sales of these days: by the dry rubber that each tapper brought."""
        sales = sum((self._sale(each) for each in self._between(first, last)), rounded(ZERO, self.places))
        brought = {each.id: _kilos([e for e in latex if e.by.id == each.id]) for each in self.tappers}
        if not sales or not sum(brought.values()):
            return rounded(ZERO, self.places)
        return split(sales, brought, self.places)[person.id]

    def _sale(self, entry: Entry) -> Decimal:
        record = entry.record
        mine = record.farm is None or record.farm.casefold() == self.farm.name.casefold()
        if record.what is not What.COLLECTED or not mine:
            return ZERO
        kept = (entry.computed or {}).get("amount")
        if kept is not None:
            return Decimal(kept)
        if record.kg is None:
            return ZERO
        price = record.price if record.price is not None else self._price_on(entry)
        return ZERO if price is None else rounded(record.kg * price, self.places)

    def _price_on(self, take: Entry) -> Decimal | None:
        """The newest price of that day or before: for the grade that was taken, else one without a grade."""
        prices = [
            each.record
            for each in self.prices
            if each.record.day and take.record.day and each.record.day <= take.record.day
        ]
        fitting = [each for each in prices if each.grade == take.record.grade] or [e for e in prices if e.grade is None]
        return fitting[-1].price if fitting else None

    def _money(self, person: Person, first: date, last: date) -> list[PayLine]:
        """Deductions and bonuses of these days; advances are taken back from what is earned."""
        own = [each for each in self.money if each.person_id == person.id and first <= each.day <= last]
        return [
            PayLine(
                each.kind, each.note or each.day.isoformat(), -each.amount if each.kind == "deduction" else each.amount
            )
            for each in own
            if each.kind in ("deduction", "bonus")
        ]

    def _adjustments(self, person: Person, first: date) -> list[PayLine]:
        """What corrections since then change in times that were settled."""
        found = []
        earlier = [each for each in self.settled if each.person_id == person.id and each.last < first]
        for each in earlier:
            now = sum((line.amount for line in self.lines(person, each.first, each.last)), rounded(ZERO, self.places))
            before = _of_work(each) + _adjusted_before(earlier, each)
            if now != before:
                days = f"{each.first.isoformat()}/{each.last.isoformat()}"
                found.append(PayLine("adjustment", days, now - before))
        return found

    def _owed(self, person: Person, last: date) -> Decimal:
        """What is left of his advances."""
        own: list[MoneyLine] = [each for each in self.money if each.person_id == person.id and each.day <= last]
        advanced = sum((each.amount for each in own if each.kind == "advance"), ZERO)
        recovered = sum((each.recovered for each in self.settled if each.person_id == person.id), ZERO)
        return max(advanced - recovered, ZERO)


def _held(terms: Sequence[Terms], day: date) -> Terms | None:
    held = [each for each in terms if each.since <= day]
    return held[-1] if held else None


#: Lines of a slip that are not pay for work.
NOT_WORK = frozenset({"deduction", "bonus", "adjustment"})


def _of_work(settled: Settled) -> Decimal:
    return sum((Decimal(amount) for label, _, amount in settled.slip if label not in NOT_WORK), ZERO)


def _adjusted_before(settled: Sequence[Settled], of: Settled) -> Decimal:
    """What later settlements have adjusted of an earlier one already."""
    days = f"{of.first.isoformat()}/{of.last.isoformat()}"
    lines = [line for each in settled for line in each.slip]
    return sum((Decimal(amount) for label, rule, amount in lines if label == "adjustment" and rule == days), ZERO)


def _kilos(latex: Iterable[Entry]) -> Decimal:
    """Dry rubber of some latex as it was reckoned when it was entered, rounded half up to ten grams."""
    dry = sum((Decimal(str((each.computed or {}).get("dry_kg", 0))) for each in latex), ZERO)
    return dry.quantize(Decimal("0.01"), ROUND_HALF_UP)


__all__ = ["Due", "NoTerms", "decimals", "due", "exponent", "next_time", "terms_of"]

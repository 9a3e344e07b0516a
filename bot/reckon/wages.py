"""What each tapper earns, from the entries: work by his own terms, his share of sales, advances taken back, adjustments.

Kilos are the dry rubber that his latex was reckoned to hold, rounded half up to ten grams a day; trees are those of the
blocks that he tapped that day. A share is of the farm's sales in the time, split among the tappers by the dry rubber that
each brought. When something settled is corrected later, the difference comes as an adjustment in the next settlement.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import ROUND_HALF_UP, Decimal

from bot.books import Transaction, entries, farms, people, wages
from bot.books.ids import made_before
from bot.books.model import Entry, Farm, Person
from bot.books.wages import MoneyLine, Settled, Terms
from bot.reckon.chain import taken_here
from bot.reckon.days import Days
from bot.reckon.pay_terms import exponent, next_time, terms_of
from bot.reckon.takes import amount
from bot.rubber.money import rounded, split
from bot.rubber.pay import (
    Day,
    Pay,
    PayLine,
    Settlement,
    Term,
    Work,
    pay,
    settle,
)
from parsers.reading import Role, What

ZERO = Decimal(0)

#: What was written so long before a settlement may be unknown to it where several machines write: their clocks differ.
CLOCKS_DIFFER = timedelta(minutes=10)


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


def due(tx: Transaction, farm: Farm, first: date, last: date) -> list[Due]:
    """What every tapper with work, advances or adjustments is due for these days, and who left with work not yet paid.

    Raises NoTerms, MoneyError.
    """
    here, left = _tappers(tx, farm), people.former_tappers(tx, farm.id)
    book = _Book(tx, farm, [*here, *left], first, last)
    found = [
        *(book.due(each, first, last) for each in here),
        *(book.due_to_who_left(each, first, last) for each in left),
    ]
    return [each for each in found if each is not None]


def _tappers(tx: Transaction, farm: Farm) -> list[Person]:
    return list(
        {each.person.id: each.person for each in people.members(tx, farm.id) if each.role is Role.TAPPER}.values()
    )


class _Book:
    """All that a farm's pay is worked out from, read once."""

    def __init__(self, tx: Transaction, farm: Farm, tappers: Sequence[Person], first: date, last: date) -> None:
        self.farm, self.tappers = farm, tappers
        self.places = exponent(farm)
        self.trees = {name: block.trees or 0 for name, block in farms.blocks(tx, farm.id).items()}
        self.terms = wages.all_terms(tx, farm.id)
        self.settled: dict[str, list[Settled]] = {}
        for each in wages.settlements(tx, farm.id):
            self.settled.setdefault(each.person_id, []).append(each)
        self.money = wages.money(tx, farm.id)
        self.changed = self._changed(tx, first)
        again = [(each.first, each.last) for each in self.changed]
        self.entries = Days(tx, farm.id, [(first, last), *again])
        self.prices = entries.standing(tx, farm.id, what=What.PRICE)  # of any day: the newest before a sale holds
        self._sold: dict[tuple[date, date], Mapping[str, Decimal]] = {}

    def _changed(self, tx: Transaction, first: date) -> list[Settled]:
        """Settlements of earlier days about which something was written since he was settled with last.

        Whoever is settled with gets the adjustments of all that was written before, so that the rest need not be worked
        out again. What was written shortly before counts as written since.
        """
        since = {
            person: made_before(max(each.id for each in settled), CLOCKS_DIFFER)
            for person, settled in self.settled.items()
        }
        if not since:
            return []
        last = max(each.last for settled in self.settled.values() for each in settled)
        changes = entries.changes_since(tx, self.farm.id, min(since.values()), last)
        return [
            each
            for person, settled in self.settled.items()
            for each in settled
            if each.last < first and self._is_changed(each, since[person], changes)
        ]

    def _is_changed(self, settled: Settled, since: str, changes: Sequence[entries.Change]) -> bool:
        return any(
            settled.first <= each.day <= settled.last or (each.what is What.PRICE and each.day < settled.first)
            for each in changes
            if each.id > since
        ) or any(each.id > since and each.since <= settled.last for each in self.terms)

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

    def due_to_who_left(self, person: Person, first: date, last: date) -> Due | None:
        """What he has earned is his, also when he has left since; an advance that he took with him is no line of pay."""
        found = self.due(person, first, last)
        return found if found is not None and found.earned.lines else None

    def lines(self, person: Person, first: date, last: date) -> list[PayLine]:
        """Lines of pay for work in these days, by the terms of each day."""
        found: list[PayLine] = []
        for start, end, terms in self._spans(person, first, last):
            work = self._work(person, start, end)
            if work.days:
                found += pay(work, terms, self.places).lines
        return found

    def _spans(self, person: Person, first: date, last: date) -> Iterable[tuple[date, date, tuple[Term, ...]]]:
        """The days cut where his terms change: his own from their first day on, before it those of all tappers.

        Raises NoTerms where he worked and none hold.
        """
        own = [each for each in self.terms if each.person_id == person.id]
        all_s = [each for each in self.terms if each.person_id is None]
        changes = sorted({each.since for each in (*own, *all_s) if first < each.since <= last} | {first})
        for n, start in enumerate(changes):
            end = changes[n + 1] - timedelta(days=1) if n + 1 < len(changes) else last
            terms = _held(own, start) or _held(all_s, start)
            if terms is None:
                if self._work(person, start, end).days:
                    raise NoTerms(person.name)
                continue
            yield start, end, terms_of(terms.terms)

    def _work(self, person: Person, first: date, last: date) -> Work:
        own = [each for each in self.entries.latex(first, last) if each.by.id == person.id]
        days: dict[date, list[Entry]] = {}
        for entry in own:
            assert entry.record.day is not None
            days.setdefault(entry.record.day, []).append(entry)
        worked = tuple(Day(_kilos(found), self._trees(found)) for found in days.values())
        return Work(worked, sales=self._share_bases(first, last)[person.id])

    def _trees(self, found: Sequence[Entry]) -> int:
        return sum(self.trees.get(block or "", 0) for block in {each.record.block for each in found})

    def _share_bases(self, first: date, last: date) -> Mapping[str, Decimal]:
        """The part of each tapper in the sales of these days: by the dry rubber that he brought."""
        if (first, last) not in self._sold:
            self._sold[first, last] = self._split(first, last)
        return self._sold[first, last]

    def _split(self, first: date, last: date) -> Mapping[str, Decimal]:
        sales = sum((self._sale(each) for each in self.entries.taken(first, last)), rounded(ZERO, self.places))
        latex: dict[str, list[Entry]] = {each.id: [] for each in self.tappers}
        for each in self.entries.latex(first, last):
            if each.by.id in latex:
                latex[each.by.id].append(each)
        brought = {person: _kilos(found) for person, found in latex.items()}
        if not sales or not sum(brought.values()):
            return dict.fromkeys(brought, rounded(ZERO, self.places))
        return split(sales, brought, self.places)

    def _sale(self, entry: Entry) -> Decimal:
        record = entry.record
        if not taken_here(record, self.farm.name):
            return ZERO
        came_to = amount(self.farm, entry)
        if came_to is not None or record.kg is None:
            return came_to or ZERO
        price = self._price_on(entry)
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
        earlier = [each for each in self.settled.get(person.id, []) if each.last < first]
        for each in earlier:
            if each not in self.changed:
                continue
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
        recovered = sum((each.recovered for each in self.settled.get(person.id, [])), ZERO)
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


__all__ = ["Due", "NoTerms", "due", "exponent", "next_time", "terms_of"]

"""Growers: they dispute receipts, agree and settle pay, and block the phone that a tapper lost."""

import re
from collections.abc import Callable
from datetime import date, datetime, timedelta
from decimal import ROUND_HALF_UP, Decimal

from tests.season import wording
from tests.season.collectors import Collectors
from tests.season.cooperative import Driver, Holding, Someone, moment
from tests.season.play import Play, Reply, Text
from tests.season.tappers import Tappers
from tests.season.truth import CENT, Payment

#: A day's wage, and percent of the sales.
A_DAY, SHARE = Decimal("4.5"), Decimal(40)

#: The day of a month on which the month before is settled, and the one on which advances are given; the same for weeks.
SETTLES, ADVANCES = 4, 14
WEDNESDAY, FRIDAY = 2, 4

NOTHING = Decimal("0.00")


class Growers:
    """What the owners of all farms text."""

    def __init__(self, play: Play, tappers: Tappers, collectors: Collectors) -> None:
        self.play, self.dice = play, play.dice
        self.tappers, self.collectors = tappers, collectors
        self.by_owner = {each.owner.number: each for each in play.one.holdings}
        self.advances: dict[tuple[str, str], Decimal] = {}
        self.settled: dict[tuple[str, str], list[tuple[date, date, Decimal]]] = {}
        self.paid_to_last_unit = 0
        self.lost = self._who_loses()
        self.leaves = self._who_leaves()
        play.habits.append(self.plan)
        play.listeners.append(self.hear)

    def _who_loses(self) -> dict[int, list[tuple[Holding, Someone]]]:
        """Days on which tappers lose their phones; not where pay is a share, so that shares stay plain."""
        shape = self.play.one.shape
        able = [each for each in self.play.one.holdings if each.pay != "share"]
        found: dict[int, list[tuple[Holding, Someone]]] = {}
        for holding in self.dice.sample(able, min(shape.lost_phones, len(able))):
            day = self.dice.randrange(3, max(4, shape.days - 5))
            found.setdefault(day, []).append((holding, holding.tappers[-1]))
        return found

    def _who_leaves(self) -> dict[int, list[Holding]]:
        """Days on which tappers leave, where no gap is planted, no phone is lost, and pay is no share of two."""
        shape = self.play.one.shape
        losers = {holding.name for lost in self.lost.values() for holding, _ in lost}
        able = [
            each
            for each in self.play.one.holdings
            if each.planted.kind == "none" and each.name not in losers and each.pay != "share"
        ]
        found: dict[int, list[Holding]] = {}
        for holding in self.dice.sample(able, min(shape.leavers, len(able))):
            found.setdefault(self.dice.randrange(3, max(4, shape.days - 5)), []).append(holding)
        return found

    def plan(self, day: int, today: date) -> None:
        """The texts of a day."""
        for holding in self.play.one.holdings:
            if holding.pay and day == 0:
                for tapper in holding.tappers:
                    self._agree(holding, tapper, self.play.hour(7))
            if holding.pay and self._is_pay_day(day, today):
                self._settle(holding, today)
            if holding.pay == "day" and self._is(today, ADVANCES, FRIDAY) and self.dice.random() < 0.5:
                self._advance(holding, self.dice.choice(holding.tappers))
        for holding, tapper in self.lost.get(day, []):
            self._lost_phone(holding, tapper)
        for holding in self.leaves.get(day, []):
            self._leaves(holding, today)

    def _is(self, today: date, day: int, weekday: int) -> bool:
        return today.weekday() == weekday if self.play.one.shape.pay_period == "week" else today.day == day

    def _is_pay_day(self, day: int, today: date) -> bool:
        """Once a month or week is over, late texts are in."""
        return self._is(today, SETTLES, WEDNESDAY) and day > SETTLES

    def _text(
        self, holding: Holding, body: str, at: datetime, expects: tuple[str, ...], then: Callable[[Reply], None]
    ) -> None:  # fmt: skip
        self.play.send(Text(holding.owner, body, at, expects, then))

    # Pay

    def _agree(self, holding: Holding, tapper: Someone, at: datetime) -> None:
        what, rate = ("pay_share", SHARE) if holding.pay == "share" else ("pay_a_day", A_DAY)
        body = wording.put(holding.owner.language, self.dice, what, name=tapper.name, rate=rate)
        self._text(holding, body, at, ("changed",), lambda _reply: None)

    def _advance(self, holding: Holding, tapper: Someone) -> None:
        amount = Decimal(self.dice.randrange(5, 40))
        body = wording.put(holding.owner.language, self.dice, "advance", name=tapper.name, amount=amount)
        key = (holding.name, tapper.number)

        def noted(_reply: Reply) -> None:
            self.advances[key] = self.advances.get(key, NOTHING) + amount

        self._text(holding, body, self.play.hour(16), ("changed",), noted)

    def _settle(self, holding: Holding, today: date) -> None:
        """He asks what is due, holds it against what he knows, and texts what he is told to text."""
        if self.play.one.shape.pay_period == "week":
            last = today - timedelta(days=today.weekday() + 1)
            first = last - timedelta(days=6)
        else:
            last = today.replace(day=1) - timedelta(days=1)
            first = last.replace(day=1)
        body = wording.put(holding.owner.language, self.dice, "pay_due")

        def told(reply: Reply) -> None:
            due = self._due(holding, first, last)
            total = sum((paid for paid, _ in due.values()), NOTHING)
            words = str(reply["reply"])
            proposed = words.rpartition(": ")[2].strip()
            if not proposed.endswith(str(total)):
                self.play.house.faults.append(f"{holding.name} {first}: {total} is due by hand, told {words!r}")
            at = self.play.house.now + timedelta(minutes=5)
            self._text(holding, proposed, at, ("changed",), lambda _reply: self._is_settled(holding, first, last, due))

        self._text(holding, body, self.play.hour(17), ("answered",), told)

    def _due(self, holding: Holding, first: date, last: date) -> dict[str, tuple[Decimal, Decimal]]:
        """By hand: what each is paid, and what he then owes."""
        numbers = {line.by for line in self.play.ledger.lines if line.farm == holding.name}
        found = {}
        for number in sorted(numbers):
            earned = self._earned(holding, number, first, last)
            earlier = self.settled.get((holding.name, number), [])
            earned += sum((self._earned(holding, number, a, b) - was for a, b, was in earlier), NOTHING)
            owed = self.advances.get((holding.name, number), NOTHING)
            taken = min(owed, max(earned, NOTHING))
            found[number] = (earned - taken, owed - taken)
        return found

    def _earned(self, holding: Holding, number: str, first: date, last: date) -> Decimal:
        ledger = self.play.ledger
        if holding.pay == "share":
            sold = (each for each in ledger.takings if each.farm == holding.name and first <= each.day <= last)
            sales = sum((each.amount for each in sold if each.amount is not None), NOTHING)
            return (sales * SHARE / 100).quantize(CENT, ROUND_HALF_UP)
        days = {
            line.day
            for line, times in ledger.lines.items()
            if times > 0 and line.farm == holding.name and line.by == number and line.what in ("latex", "lump")
        }
        return A_DAY * sum(first <= day <= last for day in days)

    def _is_settled(
        self, holding: Holding, first: date, last: date, due: dict[str, tuple[Decimal, Decimal]]
    ) -> None:  # fmt: skip
        for number, (paid, owed) in due.items():
            self.advances[holding.name, number] = owed
            own = self.settled.setdefault((holding.name, number), [])
            own[:] = [(a, b, self._earned(holding, number, a, b)) for a, b, _ in own]
            own.append((first, last, self._earned(holding, number, first, last)))
            self.play.ledger.payments.append(Payment(holding.name, number, first, last, paid, owed))

    # A lost phone

    def _lost_phone(self, holding: Holding, tapper: Someone) -> None:
        """It is blocked the same evening; who found it texts in vain; two days later there is a new one."""
        language, old = holding.owner.language, Someone(tapper.name, tapper.number, tapper.language)
        self.play.slips["lost phones"] += 1

        def lost() -> None:
            self.tappers.silent.add(tapper.name)
            body = wording.put(language, self.dice, "block_phone", name=tapper.name)
            self._text(holding, body, self.play.house.now, ("changed",), blocked)

        def blocked(_reply: Reply) -> None:
            self.play.blocked.add(old.number)
            block = holding.land.tappers[tapper.name][0]
            body = wording.of_latex(old.language, self.dice, block, Decimal(9), rain=False)
            self.play.send(Text(old, body, self.play.house.now + timedelta(hours=12), ("silent",)))

        def anew() -> None:
            tapper.number = self.play.one.number()
            blocks = ", ".join(holding.land.tappers[tapper.name])
            body = wording.put(language, self.dice, "enrol", name=tapper.name, number=tapper.number, blocks=blocks)
            self._text(holding, body, self.play.house.now, ("answered",), enrolled)

        def enrolled(_reply: Reply) -> None:
            self.tappers.silent.discard(tapper.name)
            tapper.language = language  # he is answered in his owner's until he chooses
            if holding.pay:
                self._agree(holding, tapper, self.play.house.now + timedelta(minutes=3))

        self.play.at(self.play.hour(20), lost)
        self.play.at(self.play.hour(48 + 18), anew)

    # A tapper who leaves

    def _leaves(self, holding: Holding, today: date) -> None:
        """On a Sunday evening, when all his texts are in; another takes his blocks on Monday."""
        sunday = 6 - today.weekday()
        self.play.slips["tappers who left"] += 1

        def dismissed() -> None:
            body = wording.put(holding.owner.language, self.dice, "dismiss", name=holding.tappers[0].name)
            self._text(holding, body, self.play.house.now, ("answered",), replaced)

        def replaced(_reply: Reply) -> None:
            old, new = holding.tappers[0], self.play.one.someone(holding.owner.language)
            holding.tappers[0] = new
            holding.land.handed_over(old.name, new.name)
            blocks = ", ".join(holding.land.tappers[new.name])
            said = {"name": new.name, "number": new.number, "blocks": blocks}
            body = wording.put(holding.owner.language, self.dice, "enrol", **said)
            at = self.play.house.now + timedelta(minutes=3)
            self._text(holding, body, at, ("answered",), lambda _reply: self._begins(holding, new))

        self.play.at(self.play.hour(24 * sunday + 20), dismissed)

    def _begins(self, holding: Holding, new: Someone) -> None:
        if holding.pay:
            self._agree(holding, new, self.play.house.now + timedelta(minutes=3))

    # Disputes

    def hear(self, number: str, words: str) -> None:
        """An owner who gets a receipt may not agree."""
        holding = self.by_owner.get(number)
        if holding is None:
            return
        for receipt in {int(each) for each in re.findall(r"(?<!\d)(\d{4,6})(?!\d)", words)}:
            lot = self.play.ledger.receipt(receipt)
            fresh = lot is not None and lot.farm == holding.name and not lot.corrected and lot.form == "sheets"
            if lot is not None and fresh and self.play.today == lot.day and self.play.chance(0.03, holding.owner):
                self._disputes(holding, receipt)

    def _disputes(self, holding: Holding, receipt: int) -> None:
        lot = self.play.ledger.receipt(receipt)
        assert lot is not None
        self.play.slips["disputes"] += 1
        kg = lot.net_kg + Decimal("0.6")
        body = wording.put(holding.owner.language, self.dice, "disputed", n=receipt, kg=kg)

        def raised(_reply: Reply) -> None:
            self.play.ledger.disputes.add(receipt)
            self.play.at(
                moment(self.play.today, 24 + 16 + self.dice.random()), lambda: self._ends(holding, receipt, kg)
            )

        self._text(holding, body, self.play.house.now + timedelta(minutes=20), ("answered",), raised)

    def _ends(self, holding: Holding, receipt: int, kg: Decimal) -> None:
        """The next day the collector corrects it, the manager keeps or sets it, or the owner lets it be."""
        lot = self.play.ledger.receipt(receipt)
        assert lot is not None
        now, way = self.play.house.now, self.dice.randrange(5)
        if way == 0:
            self.collectors.correct(self._driver(lot.by), lot, kg, now)
        elif way == 1:
            body = wording.put(holding.owner.language, self.dice, "agreed", n=receipt)
            self._text(holding, body, now, ("answered",), lambda _reply: self.play.ledger.disputes.discard(receipt))
        elif way == 2:
            self._manager(f"keep {receipt}", lambda _reply: self.play.ledger.disputes.discard(receipt))
        elif way == 3:
            middle = lot.net_kg + Decimal("0.3")

            def set_(_reply: Reply) -> None:
                lot.net_kg, lot.corrected = middle, True
                self.play.ledger.disputes.discard(receipt)

            self._manager(f"set {receipt} {middle} kg", set_)

    def _manager(self, body: str, then: Callable[[Reply], None]) -> None:
        self.play.send(Text(self.play.one.manager, body, self.play.house.now, ("changed",), then))

    def _driver(self, number: str) -> Driver:
        return next(each for each in self.play.one.drivers if each.who.number == number)

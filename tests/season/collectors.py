"""Collectors on their rounds: check-ins, lots of several farms in one text, evenings without signal, two at one gate."""

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from decimal import Decimal
from functools import partial

from bot.speech.language import economical, tongue
from tests.season import wording
from tests.season.cooperative import Driver, Holding
from tests.season.play import Play, Reply, Text
from tests.season.truth import Taking

#: Grades with how often they are given, and reasons of the worse.
GRADES, WHY = (("RSS3", 75), ("RSS4", 22), ("RSS5", 3)), (None, None, "mould", "dirt", "bubbles")


def receipts_in(words: str, language: str) -> list[int]:
    """The numbers of receipts that a collector is told, in their order."""
    said = re.escape(economical(tongue(language).say("Receipt {number}.", number="@"))).replace("@", r"(\d+)")
    return [int(each) for each in re.findall(said, words)]


@dataclass(frozen=True)
class Signal:
    """Whether a round has no signal until the evening, or until the next day."""

    evening: bool
    late: bool

    @property
    def there(self) -> bool:
        """Whether texts go at once."""
        return not (self.evening or self.late)


class Collectors:
    """What the collectors text."""

    def __init__(self, play: Play) -> None:
        self.play, self.dice = play, play.dice
        self.fresh: dict[str, Decimal] = {}
        play.habits.append(self.plan)

    def plan(self, _day: int, today: date) -> None:
        """The rounds of a day."""
        for driver in self.play.one.drivers:
            stops = driver.rounds.get(today.weekday(), [])
            signal = Signal(self.play.chance(0.15, driver.who), self.play.chance(0.03, driver.who))
            for k, place in enumerate(stops):
                at = self.play.hour(10.6 + 3.0 * k / max(1, len(stops)) + 0.2 * self.dice.random())
                self.play.at(at, partial(self._visit, driver, place, at, today, signal))
            if stops and not signal.there:
                self.play.slips["rounds without signal"] += 1

    def _visit(self, driver: Driver, place: int, at: datetime, today: date, signal: "Signal") -> None:
        """He checks in, takes what is ready farm by farm, and texts it now or when there is signal again."""
        lots = [
            lot for holding in self.play.one.at_place(place) if (lot := self._lot(driver, holding, today)) is not None
        ]
        texts = [self._check_in(driver, place, at, today)] if not self.play.chance(0.05, driver.who) else []
        while lots:
            size = self.dice.choice((1, 1, 2, 3))
            some, lots = lots[:size], lots[size:]
            at += timedelta(minutes=7)
            texts.append(self._take(driver, some, at))
            if self.play.chance(0.05, driver.who) and signal.there:
                self._other_too(driver, place, some, at)
        for text in texts:
            if not signal.there:
                text.dated, text.comes = (
                    True,
                    self.play.hour((18.2 if signal.evening else 24 + 7.5) + 0.6 * self.dice.random()),
                )
            self.play.send(text)

    def _check_in(self, driver: Driver, place: int, at: datetime, today: date) -> Text:
        who, name = driver.who, self.play.one.places[place]
        body = str(self.dice.choice(list(wording.COLLECTED[who.language].at))).format(place=name, number=place + 1)
        note = (who.number, today, name)
        return Text(who, body, at, ("entered",), lambda _reply: self.play.ledger.arrivals.add(note))

    def _lot(self, driver: Driver, holding: Holding, today: date) -> Taking | None:
        """What he takes at a farm, as his balance and eye have it; None where nothing is ready."""
        land, day = holding.land, self.play.day
        if holding.sells == "lump":
            return self._lump(driver, holding, today)
        if holding.sells == "latex":
            return self._latex(driver, holding, today)
        count = len(land.store)
        if not count or self.play.chance(0.05):
            return None
        if count > 6 and self.play.chance(0.1):
            self.play.slips["some kept back"] += 1
            count -= self.dice.randrange(1, 5)
        kg = land.shown(day, driver.who.number, sum(land.give(count)), driver.scale, driver.planted)
        if kg <= 0:
            return None
        grade = self.dice.choices([each for each, _ in GRADES], [weight for _, weight in GRADES])[0]
        why = self.dice.choice(WHY) if grade != "RSS3" else None
        moisture = self.dice.choice((Decimal("1.2"), Decimal("3"), Decimal("4.5"))) if self.play.chance(0.04) else None
        return self._priced(
            Taking(holding.name, today, driver.who.number, "sheets", kg, None, count, grade, None, moisture, None, why)
        )

    def _lump(self, driver: Driver, holding: Holding, today: date) -> Taking | None:
        kg = Decimal(str(round(sum(holding.land.give(len(holding.land.store))), 1)))
        if kg < 2:
            return None
        tare = Decimal("1.5") if self.play.chance(0.5) else None
        moisture = Decimal(self.dice.randrange(35, 48)) if self.play.chance(0.5) else None
        return self._priced(
            Taking(holding.name, today, driver.who.number, "lump", kg, None, tare_kg=tare, moisture=moisture)
        )

    def _latex(self, driver: Driver, holding: Holding, today: date) -> Taking | None:
        holding.land.pans.clear()  # what was brought before was sold elsewhere
        kg = Decimal(self.dice.randrange(150, 500)) / 10
        drc = Decimal(self.dice.randrange(58, 74)) / 2
        return self._priced(Taking(holding.name, today, driver.who.number, "latex", kg, None, drc=drc))

    def _priced(self, lot: Taking) -> Taking:
        lot.price = self.play.ledger.price(lot.kind, lot.day)
        return lot

    def _take(self, driver: Driver, lots: Sequence[Taking], at: datetime) -> Text:
        if len(lots) > 1:
            self.play.slips["several farms in one text"] += 1
        text = Text(driver.who, self._body(driver, lots), at, ("entered",))

        def entered(reply: Reply) -> None:
            numbers = receipts_in(reply["reply"] or "", driver.who.language)
            if len(numbers) != len(lots):
                self.play.house.faults.append(f"{text.body!r} has receipts {numbers}: {reply['reply']!r}")
                return
            for lot, number in zip(lots, numbers, strict=True):
                lot.receipt = number
                self.play.ledger.takings.append(lot)
            self._slip(driver, lots, text)

        text.then = entered
        return text

    def _body(self, driver: Driver, lots: Sequence[Taking]) -> str:
        said = wording.COLLECTED[driver.who.language]
        return said.took + ", ".join(self._lot_in_words(driver.who.language, lot) for lot in lots)

    def _lot_in_words(self, language: str, lot: Taking) -> str:
        said = wording.COLLECTED[language]
        more = "" if lot.tare_kg is None else said.tare.format(kg=wording.figure(lot.tare_kg, language))
        more += "" if lot.why is None else said.why[lot.why]
        more += "" if lot.moisture is None else said.moisture.format(percent=wording.figure(lot.moisture, language))
        kg = wording.figure(lot.net_kg + (lot.tare_kg or 0), language)
        drc = "" if lot.drc is None else wording.figure(lot.drc, language)
        grade = (lot.grade or "").lower()
        return str(getattr(said, lot.form)).format(n=lot.sheets, kg=kg, grade=grade, more=more, farm=lot.farm, drc=drc)

    def _slip(self, driver: Driver, lots: Sequence[Taking], text: Text) -> None:
        """Once it is in the book he may text it again, or find that he wrote a wrong weight."""
        now = self.play.house.now
        if self.play.chance(0.08, driver.who):
            self.play.slips["takes told twice"] += 1
            again = (
                text.at if text.dated else min(now + timedelta(hours=self.dice.choice((0.2, 2, 5))), self.play.hour(23))
            )
            body = text.body
            self.play.send(
                Text(
                    driver.who,
                    body,
                    again,
                    ("answered",),
                    comes=max(now + timedelta(minutes=10), again),
                    dated=text.dated,
                )
            )
        if self.play.chance(0.03, driver.who):
            self.play.slips["takes corrected by their collector"] += 1
            lot = self.dice.choice(list(lots))
            self.correct(
                driver,
                lot,
                lot.net_kg + self.dice.choice((Decimal("0.2"), Decimal("-0.3"))),
                now + timedelta(minutes=4),
            )

    def correct(self, driver: Driver, lot: Taking, kg: Decimal, at: datetime) -> None:
        """`1001 12.4 kg`."""
        body = f"{lot.receipt} {wording.figure(kg, driver.who.language)} kg"

        def changed(_reply: Reply) -> None:
            lot.net_kg, lot.corrected = kg, True
            self.play.ledger.disputes.discard(lot.receipt)

        self.play.send(Text(driver.who, body, at, ("changed",), changed))

    def _other_too(self, driver: Driver, place: int, lots: Sequence[Taking], at: datetime) -> None:
        """The other collector of the place stands at the same gate and texts the same."""
        other = self.play.one.other_at(driver, place)
        if other is not None:
            self.play.slips["two collectors at one gate"] += 1
            same = [replace(lot) for lot in lots]
            self.play.send(Text(other.who, self._body(other, same), at + timedelta(minutes=2), ("answered",)))

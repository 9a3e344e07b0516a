"""Tappers: latex after tapping, sheets rolled and weighed dry, and what goes amiss with such texts."""

from collections.abc import Callable
from datetime import date, datetime, timedelta
from decimal import Decimal

from tests.season import wording
from tests.season.cooperative import Holding, Someone
from tests.season.land import Brought, Land
from tests.season.play import Play, Reply, Text
from tests.season.truth import Line

SUNDAY = 6


class Tappers:
    """What the tappers of all farms text."""

    def __init__(self, play: Play) -> None:
        self.play, self.dice = play, play.dice
        self.silent: set[str] = set()  # names of tappers without a phone
        play.habits.append(self.plan)

    def plan(self, day: int, today: date) -> None:
        """The texts of a day."""
        for holding in self.play.one.holdings:
            if holding.sells == "sheets":
                self._sheets(holding, day, today)
            if today.weekday() != SUNDAY:
                self._tap(holding, day, today)

    def _tap(self, holding: Holding, day: int, today: date) -> None:
        found = holding.land.tapped(day)
        for tapper in holding.tappers:
            own = [each for each in found if each.tapper == tapper.name]
            at = self.play.hour(8.5 + self.dice.random() * 2)
            for each in own:
                if tapper.name not in self.silent:
                    self._latex(holding, tapper, each, today, at, {other.block for other in own})
                at += timedelta(minutes=12)

    def _latex(
        self, holding: Holding, by: Someone, each: Brought, today: date, at: datetime, tapped: set[str]
    ) -> None:  # fmt: skip
        if holding.sells == "lump":
            self._lump(holding, by, each, today, at)
            return
        line = _line(holding, by, each, today)
        body = wording.of_latex(by.language, self.dice, each.block, each.litres, rain=each.rain)
        text = Text(
            by,
            body,
            at,
            ("entered",),
            self._writes(line),
            asked=self._answers(by, each.litres, self._writes(line), line.block),
        )
        if self.play.chance(0.03, by):
            self.play.slips["forgotten"] += 1
            return
        if self.play.chance(0.05, by):
            self.play.slips["late, in the evening"] += 1
            text.comes, text.dated = self.play.hour(18.5 + self.dice.random()), True
        elif self.play.chance(0.04, by):
            self.play.slips["late, the next day"] += 1
            text.comes, text.dated = self.play.hour(24 + 6 + self.dice.random()), True
        elif self.play.chance(0.03, by):
            self.play.slips["told the next day"] += 1
            words = wording.put(by.language, self.dice, "yesterday", b=each.block, l=each.litres)
            text = Text(
                by, words, self.play.hour(24 + 6 + self.dice.random()), ("entered",), text.then, asked=text.asked
            )
        elif (self.play.chance(0.03, by) and self._wrong_figure(text, line, each)) or (
            self.play.chance(0.03, by) and self._wrong_block(text, line, each, tapped)
        ):
            return
        self.play.send(text)
        if self.play.chance(0.05, by) and text.comes is None and text.at == at:
            self.play.slips["told twice"] += 1
            again = at + timedelta(minutes=self.dice.choice((5, 40, 200)))
            self.play.send(Text(by, body, again, ("answered",)))

    def _lump(self, holding: Holding, by: Someone, each: Brought, today: date, at: datetime) -> None:
        kg = (each.litres * Decimal("0.6")).quantize(Decimal("0.1"))
        holding.land.store.append(float(kg))
        body = wording.put(by.language, self.dice, "lump", b=each.block, kg=kg)
        line = Line(holding.name, today, "lump", by.number, each.block, grams=int(kg * 1000))
        self.play.send(Text(by, body, at, ("entered",), self._writes(line)))

    def _writes(self, line: Line) -> Callable[[Reply], None]:
        return lambda _reply: self.play.ledger.write(line)

    def _answers(
        self, by: Someone, litres: Decimal, then: Callable[[Reply], None], block: str | None, times: int = 3
    ) -> Callable[[Reply], None]:
        """Asked about a figure that is unusual he says it again, at once; asked for the block he names it.

        Where both stand in the question he says the figure, then the block, then the figure once more.
        """

        def say(reply: Reply) -> None:
            said = wording.figure(litres, by.language)
            body = said if (said in str(reply["reply"]) and times != 2) or block is None else block
            again = self._answers(by, litres, then, block, times - 1) if times > 1 else None
            at = self.play.house.now + timedelta(minutes=2)
            self.play.send(Text(by, body, at, ("entered",), then, asked=again))

        return say

    def _wrong_figure(self, text: Text, line: Line, each: Brought) -> bool:
        """He slips by a litre and says so."""
        self.play.slips["wrong figure"] += 1
        by, said = text.by, each.litres + 1
        wrong = Line(line.farm, line.day, line.what, line.by, line.block, ml=int(said * 1000))
        text.body = wording.of_latex(by.language, self.dice, each.block, said, rain=each.rain)
        body = wording.put(by.language, self.dice, "other_figure", b=each.block, new=each.litres, old=said)
        self._then(text, wrong, body, lambda _reply: self.play.ledger.instead(wrong, line))
        return True

    def _wrong_block(self, text: Text, line: Line, each: Brought, tapped: set[str]) -> bool:
        """He names another block of his, that was not tapped, and says so."""
        own = next(blocks for blocks in self._land(line.farm).tappers.values() if each.block in blocks)
        others = [block for block in own if block not in tapped]
        if not others:
            return False
        self.play.slips["wrong block"] += 1
        by, other = text.by, self.dice.choice(others)
        wrong = Line(line.farm, line.day, line.what, line.by, other, ml=line.ml)
        text.body = wording.of_latex(by.language, self.dice, other, each.litres, rain=each.rain)
        body = wording.put(by.language, self.dice, "other_block", new=each.block, old=other)
        self._then(text, wrong, body, lambda _reply: self.play.ledger.instead(wrong, line))
        return True

    def _then(self, text: Text, wrong: Line, correction: str, then: Callable[[Reply], None]) -> None:
        """The wrong text, and its correction once it is entered."""

        def entered(_reply: Reply) -> None:
            self.play.ledger.write(wrong)
            at = self.play.house.now + timedelta(minutes=3)
            self.play.send(Text(text.by, correction, at, ("changed",), then))

        text.then = entered
        text.asked = self._answers(text.by, Decimal(wrong.ml or 0) / 1000, entered, wrong.block)
        self.play.send(text)

    def _land(self, farm: str) -> Land:
        return next(each.land for each in self.play.one.holdings if each.name == farm)

    def _sheets(self, holding: Holding, day: int, today: date) -> None:
        """The first tapper with a phone rolls and weighs."""
        count = holding.land.rolled(day)
        dry = holding.land.dried(day)
        by = next((each for each in holding.tappers if each.name not in self.silent), None)
        if by is None:
            return
        if count is not None:
            at = self.play.hour(6.2 + 0.5 * self.dice.random())
            line = Line(holding.name, today, "sheets_rolled", by.number, count=count)
            body = wording.of_sheets(by.language, self.dice, count)
            self.play.send(Text(by, body, at, ("entered",), self._writes(line)))
        if dry is not None:
            pieces, kg = dry
            line = Line(holding.name, today, "sheets_dry", by.number, count=pieces, grams=int(kg * 1000))
            body = wording.of_sheets(by.language, self.dice, pieces, kg)
            self.play.send(
                Text(by, body, self.play.hour(7.2 + 0.5 * self.dice.random()), ("entered",), self._writes(line))
            )


def _line(holding: Holding, by: Someone, each: Brought, today: date) -> Line:
    return Line(holding.name, today, "latex", by.number, each.block, ml=int(each.litres * 1000))

"""Numbers: what each counts or measures."""

from collections.abc import Mapping
from dataclasses import replace
from decimal import Decimal

from parsers.facts import Fact
from parsers.meanings import Item
from parsers.other_figures import THOUSANDS, OtherFigures

#: Percent above this are no DRC, not even of creamed latex: the strength of an acid.
RICHEST = 65

#: What people write between thousands: from memory; French speakers leave a space.
THOUSANDS_MARK: Mapping[str, str] = {"en": ",", "th": ",", "es": ",", "id": ".", "vi": "."}

#: Articles before a number of things: all of them.
PLURAL_ARTICLES = frozenset({"les", "los", "las", "the"})

#: A collector's weights with three figures behind a point are thousands below this; a spring balance shows no grams.
FEW_KILOS = 10


class Figures(OtherFigures):
    """Notes what a number is by what stands beside it."""

    def _number(self, item: Item) -> None:
        value = item.value or Decimal(0)
        if self._phone(item) or self._time(item) or self._priced(item, value):
            return
        after = self._next()
        if self._ordinal(item, after) or self._of_people(item, after) or self._of_all_blocks(item, after):
            return
        if after is not None and self._spaced_digits(item, after):
            self.at += 1
            figure = 10 * value + (after.value or Decimal(0))
            (self._kilos if self._is(1, "kg") else self._litres)(figure)
            return
        if self.collects and self._spaced_thousands(item, after):
            return
        if after is None or after.kind == "number":
            self._bare(item, value)
        elif after.kind == "sign":
            self._before_sign(item, after, value)
        elif not self._measured(item, after, value):
            self._counted(item, after, value)

    def _measured(self, item: Item, after: Item, value: Decimal) -> bool:
        """A number before a measure: a vessel, litres, kilos, millilitres, a span of days, bags."""
        if after.has("own_container") or (after.has("container") and not after.has("kg", "litre", "own_block")):
            self.at += 1
            self._container(after, value)
        elif after.has("litre") and not after.has("own_block"):
            self._litres(value)
        elif after.has("kg") and not after.has("own_block"):
            self._kilos(self._thousands(item, value))
        elif after.has("kg10", "kg100") and not after.has("own_block"):
            self._heavy(value, Decimal(10) if after.has("kg10") else Decimal(100))
        elif after.has("gram100") and not after.has("own_block"):
            self._quantity("kg", value / 10, 2)
        elif after.has("ml") and not after.has("own_block"):
            self._quantity("litres", value / 1000, 2)
        elif after.has("ask") and item.has("spelled"):
            self._quantity("unmeasured", value, 2)
        elif after.has("duration") and not after.has("own_container", "own_block") and self._lasts():
            self._quantity("duration", value, 2)
        elif after.has("occasions") and not after.has("own_container", "own_block", "litre") and self._once_more(item):
            self._quantity("occasions", value, 2)  # `counted two times`
        elif after.has("persons") and not after.has("own_container", "own_block", "litre"):
            self._quantity("persons", value, 2)
        elif after.has("cm") and not after.has("own_container", "own_block"):
            self._quantity("cm", value, 2)
        elif self._is(1, "from", "of", "ignore") and self._is(2, "drc") and 20 <= value <= 65 and self._ends(3):
            self._quantity("drc_value", value, 3)  # `19 litres à 32 de drc`
        elif after.has("drc") and 20 <= value <= 65 and self._ends(2) and not item.has("own_block"):
            self._quantity("drc_value", value, 2)  # `45 litres at 30 drc`
        elif after.has("bag") and not after.has("own_container", "own_block"):
            self._quantity("bags", value, 2)
        else:
            return False
        return True

    def _once_more(self, item: Item) -> bool:
        """Whether `3 times` says how often: no figure that is multiplied follows."""
        behind = self._next(2)
        return not item.has("own_block") and (behind is None or (behind.kind != "number" and not behind.has("number")))

    def _counted(self, item: Item, after: Item, value: Decimal) -> None:
        """A number before what is counted: sheets, trees, percent; otherwise it stays bare."""
        if after.has("sheet"):
            if after.has("dry"):
                self._note("dry")  # one word for a dry sheet
            self._quantity("sheets", self._thousands(item, value), 2)
        elif after.has("goods") and not after.has("slip", "own_block"):
            self._quantity("goods", value, 2)  # `12 fish`
        elif self._unknown_vessel(item, after):
            self.at += 1
            self._container(after, value)
        elif after.has("dry_trees") and not (
            item.has("own_block") and self._is(-1, "from") and self.facts.has("trees")
        ):
            self._quantity("trees", value, 1)
        elif after.has("ignore") and self._is(2, "tree") and not item.has("own_block"):
            self._quantity("trees", value, 3)  # `4 na puno`
        elif after.has("tree") and self._recent("drc", 2) and 10 <= value <= 65:
            self._bare(item, value)  # `drc 32 arbres saignés 590`
        elif after.has("tree"):
            self._quantity("trees", value, 2)
        elif after.has("percent") and not self._percent_of_next():
            self._percent(value, 2)
        elif after.has("rolled", "dry", "wet") and self._is(2, "sheet"):
            self._quantity("sheets", value, 1)
        else:
            self._bare(item, value)

    def _spaced_thousands(self, item: Item, after: Item | None) -> bool:
        """`1 240 kg` that a collector loads."""
        apart = after is not None and after.kind == "number" and not after.glued and len(after.text) == 3
        if after is None or not apart or not self._is(2, "kg", "sheet"):
            return False
        if not (item.text.isdecimal() and after.text.isdecimal()) or len(item.text) > 2:
            return False
        value = Decimal(item.text + after.text)
        self._quantity("kg" if self._is(2, "kg") else "sheets", value, 3)
        return True

    def _thousands(self, item: Item, value: Decimal) -> Decimal:
        """`1,180 sheets 1,050 kg` that a collector loads: the mark that stands between thousands in his language."""
        mark = THOUSANDS_MARK.get(self.language)
        marked = mark is not None and mark in item.text and THOUSANDS.fullmatch(item.text) is not None
        return Decimal(item.text.replace(str(mark), "")) if marked and value < FEW_KILOS and self.collects else value

    def _unknown_vessel(self, item: Item, after: Item) -> bool:
        """`2 demijohns and 3 litres`: what some litres are added to is a vessel, though nobody said how large."""
        rest, unit = self._next(3), self._next(4)
        unknown = after.kind == "word" and not after.tags and not after.glued and not item.has("own_block")
        named = self.facts.found[-1:] and self.facts.found[-1].kind == "block"
        ends = self._next(2) is None or self._is_sign(2, ",.;")
        few = item.value is not None and item.value == int(item.value) and 0 < item.value <= 6
        if unknown and named and ends and few and len(after.key) > 3 and not item.has("own_block"):
            return True  # `p1 2 gamelles`
        added = self._is(2, "plus") and rest is not None and rest.kind == "number" and not rest.has("own_block")
        return unknown and added and unit is not None and unit.has("litre")

    def _spaced_digits(self, item: Item, after: Item) -> bool:
        """`2 7 litres`: two digits that slipped apart, where the first is no block."""
        spoken = self.language in ("vi", "id") and not self._is(-1, "block")
        spoken = spoken and all(each.has("spelled") and not each.has("share") for each in (item, after))
        spoken = spoken and all((each.value or 0) % 1 == 0 for each in (item, after))
        if spoken and 2 <= (item.value or 0) <= 9 and 1 <= (after.value or 0) <= 9 and not item.has("own_block"):
            named = (
                self.facts.found[-1:]
                and self.facts.found[-1].kind == "block"
                and self.at - self.facts.found[-1].at <= 2
            )
            return self._is(2, "litre", "kg") or (
                bool(named) and self._ends(2) and self.language == "id"
            )  # `hai ba lít`
        single = len(item.text) == 1 and len(after.text) == 1 and after.kind == "number" and item.text.isdecimal()
        return single and not item.has("own_block", "spelled") and item.text != "0" and self._is(2, "litre")

    def _percent_of_next(self) -> bool:
        """`22 percent north 31.5`: the word belongs to the figure behind it."""
        if self.language != "th":
            return False
        step = 3 if self._is(2, "own_block") else 2
        behind = self._next(step)
        return behind is not None and behind.kind == "number" and not self._is(step + 1, "litre")

    def _lasts(self) -> bool:
        """`2 days`, and not the word for a date before its number (`ngày 5/8`)."""
        behind = self._next(2)
        if behind is not None and behind.has("day") and behind.tags["day"] == 0:
            return True  # `ba ngày nay`
        return behind is None or (behind.kind != "number" and not behind.has("day", "weekday", "month"))

    def _ordinal(self, item: Item, after: Item | None) -> bool:
        """`7th block`."""
        if after is None or after.key not in ("st", "nd", "rd", "th") or not after.glued or not self._is(2, "block"):
            return False
        self._note("block" if item.text in self.blocks else "badblock", name=item.text)
        self.at += 3
        return True

    def _of_all_blocks(self, item: Item, after: Item | None) -> bool:
        """`all three blocks 17 litres`: so many blocks as there are, without a name behind them."""
        behind = self._next(2)
        named = behind is not None and behind.has("own_block")
        counted = (
            after is not None and after.kind == "word" and after.has("block") and not after.has("litre", "own_block")
        )
        led = self._next(-1)
        plural = led is not None and led.key in PLURAL_ARTICLES
        all_of = self._is(-1, "all") or item.has("spelled") or plural
        ends = after is None or (after.kind == "sign" and after.text in ",;.!\n")
        if (
            self._is(-1, "all")
            and item.has("spelled")
            and ends
            and item.value is not None
            and item.value in self.counts
        ):
            self.at += 1  # `DRC 34 in all three`
            return True
        if not counted or named or not all_of or item.value not in self.counts:
            return False
        self._note("all")
        self._note("together")
        self.at += 2
        return True

    def _of_people(self, item: Item, after: Item | None) -> bool:
        """`6 years old`, `team 2`: ages and groups of people are no quantities."""
        aged = after is not None and after.kind == "word" and after.has("age") and not after.has("own_block")
        grouped = self._is(-1, "team") and not self._is(-1, "own_block", "sheet", "tree") and not item.has("own_block")
        if not (aged or grouped):
            return False
        self._quantity("people", item.value or Decimal(0), 2 if aged else 1)
        return True

    def _bare(self, item: Item, value: Decimal) -> None:
        if (self._recent("drc", 4) or self._recent("percent", 2)) and 10 <= value <= 65:
            last = next(
                (each for each in reversed(self.facts.found) if each.kind not in ("day", "this_is", "fix")), None
            )
            if last is not None and last.kind == "number" and last.name in self.blocks and self.at - last.at <= 3:
                self.facts.change(last, replace(last, kind="block"))  # `drc of 7 is 36`
            self._note("drc_value", value=value)
        elif self._drc_of_block(value) or self._next_of_drcs(value):
            self._note("drc_value", value=value)
        elif self._requested():
            self._note("requested", value=value)
        else:
            self._note("number", value=value, name=item.name or item.text)
        self.at += 1

    def _drc_of_block(self, value: Decimal) -> bool:
        """`le drc de la 2 d'hier c'est 31`, `drc for yesterday: block 1 is 34`: behind the word and a block, a day between."""
        tail = self._behind_links()
        if len(tail) < 2 or tail[0].kind != "drc" or tail[1].kind not in ("number", "block"):
            return False
        if tail[1].kind == "number" and tail[1].name not in self.blocks:
            return False
        near = self.at - tail[0].at <= 7 and self.clause - tail[0].clause <= 1 and 10 <= value <= 65
        near = near and (tail[1].kind == "number" or (self.at - tail[1].at <= 3 and tail[1].clause == self.clause))
        if near and not self._is(1, "litre", "kg"):
            self.facts.change(tail[1], replace(tail[1], kind="block"))
            return True
        return False

    def _behind_links(self) -> list[Fact]:
        """The last two facts, without those that only link others."""
        return [each for each in self.facts.found if each.kind not in ("from", "day", "this_is", "fix", "for")][-2:]

    def _requested(self) -> bool:
        """`need boots size 40`: a bare number behind word that something is needed or should be sent, and no dose."""
        for step in range(1, 6):
            before = self._next(-step)
            if before is None or before.kind == "sign" or before.has("own_block", "block"):
                return False
            if before.has("request"):
                return not any(
                    item.has("acid", "dose", "water", "latex") for item in self.items[self.at - step : self.at]
                )
        return False

    def _next_of_drcs(self, value: Decimal) -> bool:
        """`DRC upper 34 lower 33`, `drc: 1 is 34, block 2 is 29`: a further block behind those that the word was said of."""
        last = self._behind_links()
        goes_on = [each.kind for each in last] == ["drc_value", "block"] and 10 <= value <= 65
        linked = goes_on and all(
            self._is(step, "this_is", "ignore", "fix") for step in range(last[1].at + 1 - self.at, 0)
        )
        next_to_it = goes_on and last[1].at < self.at <= last[1].at + 2 and self.clause - last[0].clause <= 1
        return linked and next_to_it and not self._is(1, "litre", "kg")

    def _before_sign(self, item: Item, after: Item, value: Decimal) -> None:
        if after.text == "%":
            self._percent(value, 2)
        elif after.text == "/" and self._is(2, "kg"):
            self._note("price_value", value=value)
            self.at += 3
        elif after.text in "$€£฿₹₫":
            self._quantity("price_value", value, 2)
        else:
            self._bare(item, value)

    def _percent(self, value: Decimal, length: int) -> None:
        near_acid = self._recent("acid", 3) or any(self._is(length + step, "acid") for step in (0, 1))
        of_acid = near_acid or value > RICHEST
        self._note("strength" if of_acid else "percent" if self._of_unknown(length) else "drc_value", value=value)
        self.at += length

    def _of_unknown(self, length: int) -> bool:
        """`phone at 20% battery`: percent of a thing that is not known, far from any latex."""
        after = self._next(length)
        here = {fact.kind for fact in self.facts.found if fact.clause == self.clause}
        unknown = after is not None and after.kind == "word" and not after.tags and len(after.key) > 3
        return unknown and not here & {"litres", "kg", "number", "drc", "latex", "block"}

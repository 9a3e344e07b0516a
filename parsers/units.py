"""Vessels, litres and kilos: how much of a unit is said."""

from dataclasses import replace
from decimal import Decimal

from parsers.facts import UNIT_WORDS, VESSEL
from parsers.meanings import Item
from parsers.numbers import SHARES
from parsers.walking import Walk

#: Articles before a thing that is spoken of, and not counted.
DEFINITE = frozenset({"la", "le", "el", "the"})

#: Words behind a vessel that say that it was full.
FULL = frozenset(
    {"full", "penuh", "plein", "pleine", "remplie", "lleno", "llena", "day", "เต็ม", "fullu", "kebak", "puno"}
)


def rounded(litres: Decimal) -> Decimal:
    """Litres of a third of a vessel, to a hundredth."""
    return litres if litres == round(litres, 3) and len(str(litres)) < 12 else round(litres, 2).normalize() + 0


class Units(Walk):
    """Notes quantities by their units."""

    def _measure_without_number(self, item: Item) -> bool:
        """`half a bucket`, `bucket half`, `a bucket full`."""
        share = next((value for tag, value in SHARES.items() if item.has(tag)), None)
        if share is not None and (not item.has("own_block") or self._container_after(1)):
            step = 1
            while (self._is(step, "ignore", "of", "from") or self._is_one(step)) and not self._is(
                step, "own_container", "container"
            ):
                step += 1
            if self._is(step, "own_container", "container"):
                self.at += step
                self._container(self.items[self.at], share)
                return True
        if (
            item.has("litre")
            and not item.has("own_block", "own_container")
            and self._half_after()
            and self._unnumbered()
        ):
            self._note("litres", value=Decimal("1.5"))
            self.at += 3 if self._is(1, "plus") else 2
            return True
        if item.has("kg") and not item.has("own_block") and self._half_after() and self._unnumbered():
            self._note("kg", value=Decimal("1.5"))  # `kilo y medio`
            self.at += 3 if self._is(1, "plus") else 2
            return True
        if item.has("half") and not item.has("own_block") and self._unnumbered():
            step = 1
            while self._is(step, "ignore", "of") and not self._is(step, "litre"):
                step += 1
            if self._is(step, "litre") and not self._is(-1, "litre", "kg", "own_container", "container"):
                self._quantity("litres", Decimal("0.5"), step + 1)
                return True
        one = self._next()
        counted = one is not None and one.kind == "number" and one.has("spelled") and one.value == 1
        if (
            counted
            and item.has("container")
            and not item.has("own_container", "own_block", "place", "kg", "litre", "latex")
        ):
            self._quantity("unmeasured", Decimal(1), 2)
            return True
        if self._full_vessel(item):
            self._quantity("unmeasured", Decimal(1), 1)
            return True
        if item.has("own_container") and self._only_names(item):
            self.at += 1
            return True
        if item.has("own_container") or (
            item.has("container") and not item.has("own_block", "kg", "litre", "weighed", "latex")
        ):
            if self.facts.has("litres") and self.facts.found and self.facts.found[-1].kind == "litres":
                self.at += 1
                return True
            if (
                item.has("own_container")
                and not self.facts.has("ask")
                and not item.has("weighed", "ignore", "place", "stock", "dose")
            ):
                self._container(item, Decimal(1))
                return True
        return False

    def _is_one(self, step: int) -> bool:
        """`la moitié d'une bassine`: the one before a vessel of which a share is meant."""
        one = self._next(step)
        single = one is not None and (one.value == 1 if one.kind == "number" else one.tags.get("number") == 1)
        return single and self._container_after(step + 1)

    def _full_vessel(self, item: Item) -> bool:
        """`one big basin full`, `sebaskom penuh`: a vessel of which nobody said how much it holds."""
        plain = item.has("container") and not item.has("own_container", "own_block", "litre", "kg", "place", "latex")
        plain = plain or (not item.tags and len(item.key) > 2 and not item.capital)
        after = self._next()
        full = after is not None and after.key in FULL
        one = any((each := self._next(-step)) is not None and each.tags.get("number") == 1 for step in (1, 2))
        return plain and full and (one or self._unnumbered()) and not self.facts.has("litres")

    def _only_names(self, item: Item) -> bool:
        """`A1 pake tong bang, setengah tong lebih 6 liter`: a vessel that is named before it is counted."""
        if self._is(1, *SHARES, "less"):
            return False  # `bucket and a half`, `bucket less 3 litres` are counted
        step = -2 if self._is(-1, "ignore") else -1
        before = self._next(step)
        led = self._next(-1)
        if led is not None and led.key in DEFINITE and self._litres_follow() and not self._is(1, "ignore", "own_block"):
            return True  # `la touque était percée, 13 litres`
        if self._is(step, "number", "half") or (before is not None and before.kind == "number"):
            return False
        for at in range(self.at + 1, len(self.items)):
            each, before = self.items[at], self.items[at - 1]
            if each.tags.get("own_container") == item.tags["own_container"]:
                return before.kind == "number" or before.has("half")
        return False

    def _litres_follow(self) -> bool:
        """Whether a figure in litres stands in another part of the text behind."""
        items = self.items
        sign = next((at for at in range(self.at + 1, len(items)) if items[at].kind == "sign"), None)
        if sign is None:
            return False
        return any(
            items[at].kind == "word" and items[at].has("litre") and items[at - 1].kind == "number"
            for at in range(sign + 2, len(items))
        )

    def _half_after(self) -> bool:
        """`litro y medio`: the unit and a half, without a number, is one and a half."""
        step = 2 if self._is(1, "plus") else 1
        return self._is(step, "half") and not self._is(step, "own_block")

    def _container_after(self, step: int) -> bool:
        return self._is(step, "own_container", "container")

    def _container(self, item: Item, count: Decimal) -> None:
        """`2 buckets`, `1 bucket and a half`, `1 keg 5 litres`, `one tin less 6 litre`; an undefined one is asked for."""
        size = self.containers.get(str(item.tags["own_container"])) if item.has("own_container") else None
        start = self.at
        self.at += 1
        while (
            self._is(0, "ignore")
            and not self._is(0, "own_block", "half", "plus", "less", "from")
            and (self._is(1, "half", "less", "plus") or self._is_sign(1, "+"))
        ):
            self.at += 1
        if self._is(0, "plus") and self._is(1, *SHARES):
            self.at += 1
        half_litre = self._is(0, "half") and self._is(1, "litre")  # `3 mugs and half litre`
        other = self._next(1)
        of_next = (
            self._is(0, "half")
            and other is not None
            and other.has("own_container")
            and other.tags["own_container"] != item.tags.get("own_container")
        )  # `1 bucket and 1/2 tin`
        if self._is(0, "half") and not self._is(0, "own_block") and not half_litre and not of_next:
            count += Decimal("0.5")
            self.at += 1
        elif self._is(0, "quarter", "three_quarters"):
            count += SHARES["quarter" if self._is(0, "quarter") else "three_quarters"]
            self.at += 1
        one = self._next(0)
        if (
            count == 1
            and one is not None
            and one.kind == "number"
            and one.has("spelled")
            and one.value == 1
            and one.glued
        ):
            self.at += 1
        elif count == 1 and one is not None and self._counted_behind(start, one):
            count = one.value or count
            self.at += 1
        litres = None if size is None else count * size
        if half_litre:
            self.at, litres = self.at + 2, None if litres is None else litres + Decimal("0.5")
        else:
            self.at, litres = self._with_rest(litres)
        here, self.at = self.at, start
        if litres is None:
            self._note("unmeasured", name=item.text)
        else:
            self._note("litres", value=rounded(litres), name=VESSEL)
        self.at = here

    def _counted_behind(self, start: int, number: Item) -> bool:
        """`headpan one plus 3 litres`: a vessel whose number is spoken behind it."""
        before = self.items[start - 1] if start else None
        small = number.kind == "number" and number.has("spelled") and 0 < (number.value or 0) < 10
        named = bool(self.facts.found) and self.facts.found[-1].kind == "block"
        counted = before is not None and before.kind == "number" and not named
        return small and not counted and self._is(1, "plus") and self._is(3, "litre")

    def _with_rest(self, litres: Decimal | None) -> tuple[int, Decimal | None]:
        """Litres more or less beside a container."""
        step, sign = 0, 1
        if self._is(step, "less"):
            step, sign = step + 1, -1
        elif self._is(step, "plus") or self._is_sign(step, "+"):
            step += 1
        while self._is(step, "ignore") and not self._is(step, "own_block", "own_container"):
            step += 1
        if sign > 0 and step and self._is(step, "litre") and not self._is(step + 1, *SHARES) and litres is not None:
            return self.at + step + 1, litres + 1  # `a bucket and a litre`
        half = self._next(0)
        if half is not None and half.key == "them nua" and self._is(1, "litre") and litres is not None:
            return self.at + 2, litres + Decimal("0.5")  # `thêm nửa lít`, which without its marks is also `more`
        more = self._is(step + 1, "again") and self._is(step + 2, "litre")  # `and one more litre`
        number, unit = self._next(step), self._next(step + 1 + more)
        step += more
        counted = number is not None and number.kind == "number" and not number.has("own_block")
        rest = (number.value or Decimal(0)) if number is not None and counted else Decimal(0)
        if sign > 0 and step and litres is not None and 0 < rest < litres and self._ends_here(step + 1):
            return self.at + step + 1, litres + rest  # `a bucket + 4`
        vessel = unit is not None and number is not None and number.kind == "number" and unit.has("own_container")
        if vessel and unit is not None and number is not None and litres is not None:
            size = self.containers[str(unit.tags["own_container"])]
            self.at, total = self.at + step + 2, litres + sign * (number.value or 0) * size
            return self._with_rest(total) if self._is(0, "plus") or self._is_sign(0, "+") else (self.at, total)
        if sign < 0 and litres is not None and self._is(step, "half") and self._is(step + 1, "litre"):
            return self.at + step + 2, litres - Decimal("0.5")
        one = self._next(step + 1)
        if (
            sign < 0
            and litres is not None
            and self._is(step, "litre")
            and one is not None
            and one.value == 1
            and one.has("spelled")
        ):
            return self.at + step + 2, litres - 1
        if sign < 0 and litres is not None and self._is(step, "litre") and self._is(step + 1, "half", "plus"):
            return self.at + step + (3 if self._is(step + 1, "plus") else 2), litres - Decimal("1.5")
        bare = sign < 0 and number is not None and number.kind == "number" and litres is not None
        if bare and number is not None and litres is not None and (number.value or 0) < litres:
            length = 2 if unit is not None and unit.has("litre") else 1
            more = self._is(step + length, "half") and not self._is(step + length, "own_block")
            rest = (number.value or Decimal(0)) + (Decimal("0.5") if more else 0)
            return self.at + step + length + more, litres - rest
        if number is None or number.kind != "number" or unit is None or not unit.has("litre") or unit.has("own_block"):
            return self.at, litres
        if number.has("own_block") and self._is(step + 2, "own_block"):
            return self.at, litres
        if sign > 0 and self._is(step + 2, "less") and litres is not None:
            return self.at + step + 3, litres - (number.value or Decimal(0))  # `one gallon but 3 litres short`
        rest = number.value or Decimal(0)
        if self._is(step + 2, "half") and not self._is(step + 2, "own_block"):
            rest, step = rest + Decimal("0.5"), step + 1
        return self.at + step + 2, None if litres is None else litres + sign * rest

    def _ends_here(self, step: int) -> bool:
        """Whether the text, or what is said of a block, ends there."""
        return self._next(step) is None or self._is_sign(step, ",;.\n&") or self._is(step, "own_block", "block")

    def _litres(self, value: Decimal) -> None:
        length = 2
        ahead = () if self._is_sign(2, ",;.") else (2, 3)
        if any(self._is(step, "fuel") and not self._is_money(step) for step in (-1, -2, -3, -4, *ahead)) and not any(
            self._is(s, "latex") for s in (-2, -1, 2)
        ):
            self._quantity("fuel", value, length)
            return
        size = self._vessel_lacking(length)
        if size is not None and size > value:
            self._quantity("litres", size - value, length)  # `kurang 2L satu tong`
            return
        value, length = self._decimals_after(value, length)
        last = self.facts.found[-1] if self.facts.found else None
        if value == 1 and last is not None and last.kind == "price_value" and self.at - last.at <= 2:
            self.at += length  # `21,000 a litre` is what petrol costs
            return
        tenth = self._next(length + 1)
        if self._is(length, "decimal") and tenth is not None and tenth.has("spelled") and (tenth.value or 0) < 10:
            value, length = value + (tenth.value or Decimal(0)) / 10, length + 2  # `mười chín lít phẩy năm`
        thousandths = self._next(length)
        if thousandths is not None and thousandths.kind == "number" and self._is(length + 1, "ml"):
            value, length = value + (thousandths.value or Decimal(0)) / 1000, length + 2
        lacking = self._next(length + 1)
        if self._is(length, "less") and lacking is not None and self._ends_here(length + 2):
            few = lacking.value if lacking.kind == "number" else Decimal(lacking.tags.get("number", 0))
            if few is not None and lacking.has("share") and few > 1:
                few -= 1  # `moins 1 quart`
            if few is not None and 0 < few < value and not lacking.has("own_block"):
                self._quantity("litres", value - few, length + 2)  # `duo puluh liter kurang satu`
                return
        less = self._is(length, "less") and self._is(length + 1, *SHARES)
        share, more = self._share_after(length + less)
        self._quantity("litres", value - share if less else value + share, length + more + less)

    def _is_money(self, step: int) -> bool:
        """Whether a sum of money follows: what the fuel cost, and no litres of it."""
        sums = [self._next(step + n) for n in (1, 2, 3)]
        return any(item is not None and item.kind == "word" and item.has("money") for item in sums)

    def _vessel_lacking(self, step: int) -> Decimal | None:
        """How much a vessel holds that is named right behind litres with a word for less before them."""
        if not self._is(-1, "less"):
            return None
        one = self._next(step)
        if one is not None and ((one.kind == "number" and one.value == 1) or (one.kind == "word" and not one.tags)):
            step += 1
        vessel = self._next(step)
        if vessel is None or vessel.kind != "word" or not vessel.has("own_container"):
            return None
        return self.containers.get(str(vessel.tags["own_container"]))

    def _share_after(self, step: int) -> tuple[Decimal, int]:
        """A half or quarter behind the unit: `12 litres and a half`, `31l1/2`; `them 2 lit nua` is two more."""
        plus = 1 if self._is(step, "plus") and self._is(step + 1, *SHARES) else 0
        item = self._next(step + plus)
        further = (
            item is not None
            and item.has("again")
            and any(each.clause == self.clause for each in self.facts.of("again"))
        )
        if item is not None and item.kind == "word" and item.has(*SHARES) and not item.has("own_block") and not further:
            return next(value for tag, value in SHARES.items() if item.has(tag)), plus + 1
        run = [self._next(step + n) for n in range(3)]
        written = "".join(each.text for each in run if each is not None)
        known = {"1/2": Decimal("0.5"), "1/4": Decimal("0.25"), "3/4": Decimal("0.75")}
        return (known[written], 3) if written in known and not self._is(step + 3, "litre") else (Decimal(0), 0)

    def _decimals_after(self, value: Decimal, length: int) -> tuple[Decimal, int]:
        """`16ky8` is 16.8, `7l5` is 7.5: one digit glued behind the unit, which nothing follows that it belongs to."""
        digit = self._next(length)
        apart = self.language == "vi" and digit is not None and not digit.has("own_block")  # `26 ký 7`
        one = digit is not None and digit.kind == "number" and (len(digit.text) == 1 or digit.has("spelled"))
        if digit is None or not one or not (digit.glued or apart) or not 0 <= (digit.value or 0) < 10:
            return value, length
        if value != int(value):
            return value, length
        unit = self._next(length - 1)
        after = self._next(length + 1)
        follows = after is not None and (
            (after.kind == "sign" and after.text in "-=:/" and after.glued)
            or after.kind == "number"
            or after.has("litre")
            or (after.glued and after.kind == "word")
        )
        if unit is None or not (unit.glued or apart) or follows:
            return value, length
        return value + (digit.value or Decimal(0)) / 10, length + 1

    def _heavy(self, value: Decimal, unit: Decimal) -> None:
        """Tens and hundreds of kilos: `2 yến rưỡi` is 25 kg, `3 tạ 2` is 320 kg."""
        value, length = value * unit, 2
        rest, behind = self._next(2), self._next(3)
        measured = behind is not None and behind.has(*UNIT_WORDS)
        if self._is(2, "half"):
            value, length = value + unit / 2, 3
        elif rest is not None and rest.kind == "number" and len(rest.text) == 1 and not measured:
            value, length = value + (rest.value or Decimal(0)) * unit / 10, 3
        self._quantity("kg", value, length)

    def _kilos(self, value: Decimal) -> None:
        length = 2
        if value == 1 and self._price_before():
            self.at += length
            return
        value, length = self._decimals_after(value, length)
        if self._is_sign(length, ".") and self._is(length + 2, "gram100", "gram"):
            length += 1  # `21 กก. 6 ขีด`: the point of a short form
        if self._of_goods(length):
            self._quantity("goods", value, length)
            return
        if self._is(length, "plus") and self._is(length + 2, "gram", "gram100"):
            length += 1  # `19 kilos con 200 gramos`
        number, unit = self._next(length), self._next(length + 1)
        grams = number is not None and number.kind == "number" and number.glued and len(number.text) == 3
        grams = grams and number is not None and number.text.isdecimal()
        if grams and number is not None and not (unit is not None and unit.has("kg", "litre", "sheet")):
            value, length = value + (number.value or Decimal(0)) / 1000, length + 1
        elif number is not None and number.kind == "number" and unit is not None and unit.has("gram100"):
            value, length = value + (number.value or Decimal(0)) / 10, length + 2
        elif number is not None and number.kind == "number" and unit is not None and unit.has("gram"):
            value, length = value + (number.value or Decimal(0)) / 1000, length + 2
        elif unit is None and number is not None and self._are_grams(number) and value == int(value):
            value, length = value + (number.value or Decimal(0)) / 1000, length + 1  # `19 kg 500`
        elif self._is(length, "half") and not self._is(length, "own_block"):
            value, length = value + Decimal("0.5"), length + 1
        self._quantity("kg", value, length)

    def _are_grams(self, number: Item) -> bool:
        """`29 kg 300` at the end of what is said: three figures; a collector's may be what he pays."""
        round_ones = number.text in ("250", "500", "750")
        return round_ones or (not self.collects and len(number.text) == 3 and number.text.endswith("0"))

    def _of_goods(self, length: int) -> bool:
        """`50 kg of fertiliser on block B`: what is bought or spread, named right behind or before in the clause."""
        after = self._next(length + 1) if self._is(length, "ignore", "of", "from") else self._next(length)
        if after is not None and after.has("goods") and not after.has("slip"):
            return True
        for step in range(1, 6):
            before = self._next(-step)
            if before is None or before.kind == "sign" or before.has("lump", "sheet", "latex", "weighed", "kg"):
                return False
            if before.has("goods") and not before.has("slip"):
                return True
        return False

    def _price_before(self) -> bool:
        """`1.05 for one kilo`: the bare number before is what a kilo costs."""
        last = next((fact for fact in reversed(self.facts.found) if fact.kind not in ("for", "ask")), None)
        linked = self._is(-1, "for", "per_kg") or not self.items[self.at].glued
        if last is None or last.kind not in ("number", "price_value") or not linked or self.at - last.at > 2:
            return False
        self.facts.change(last, replace(last, kind="price_value"))
        return True

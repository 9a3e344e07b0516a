"""Figures that are no quantities: times, the numbers of phones, prices."""

import re
from decimal import Decimal

from parsers.facts import UNIT_WORDS
from parsers.meanings import Item
from parsers.units import Units

#: Letters of currencies that people write before the figure, glued to it (`RM20`).
CURRENCIES = frozenset(
    {"RM", "Rp", "RP", "Rs", "RS", "Php", "PHP", "GHS", "GHC", "Gh", "USD", "US", "Q", "Bs", "NGN", "INR", "LKR", "THB"}
)

#: Words that stand only before an hour, also where a block has the same number.
BEFORE_HOURS = frozenset({"jam", "pukul", "pkl", "jm", "ตี", "luc"})

#: Some write the number of a phone in two halves of so many figures.
HALF_A_NUMBER = 5

#: So many number words on end are no quantities.
DICTATED = 5

#: Minutes that people say behind an hour.
MINUTES = frozenset({10, 15, 20, 30, 40, 45, 50})

#: A figure written with a mark before each three digits.
THOUSANDS = re.compile(r"\d{1,3}([.,]\d{3})+")


def without_marks(text: str) -> Decimal:
    """`48.500` or `48,500` as thousands."""
    return Decimal(text.replace(".", "").replace(",", ""))


class OtherFigures(Units):
    """Notes times, phones and prices."""

    def _ends(self, step: int) -> bool:
        """Whether nothing, or a sign that ends something, stands there."""
        behind = self._next(step)
        return behind is None or (behind.kind == "sign" and behind.text not in "=:")

    def _phone(self, item: Item) -> bool:
        beside = self._next()
        halves = beside is not None and len(item.text) == len(beside.text) == HALF_A_NUMBER and beside.text.isdecimal()
        long = (len(item.text) >= 7 or halves) and item.text.isdecimal()
        if self._dictated(item):
            self._note("phone")
            while (more := self._next(0)) is not None and more.kind == "number" and more.has("spelled"):
                self.at += 1
            return True
        led = item.text.startswith("0") and len(item.text) >= 3 and item.text.isdecimal()
        pairs = [self._next(step) for step in range(4)]
        in_pairs = all(each is not None and each.kind == "number" and len(each.text) == 2 for each in pairs)
        led = led or (in_pairs and item.text.startswith("0"))
        if not (long or led or (self._is_sign(-1, "+") and len(item.text) > 3)):
            return False
        self._note("phone")
        self.at += 1
        while (more := self._next(0)) is not None and (
            (more.kind == "number" and len(more.text) >= 2) or more.text in "-."
        ):
            after = self._next()
            if more.kind == "number" and after is not None and after.has("litre", "kg", "own_container"):
                break
            self.at += 1
        return True

    def _dictated(self, item: Item) -> bool:
        """A run of five number words or more: a number that is dictated (`cinco cinco cuatro uno veintidós`)."""
        run = self.items[self.at : self.at + DICTATED]
        return len(run) == DICTATED and all(each.kind == "number" and each.has("spelled") for each in run)

    def _time(self, item: Item) -> bool:
        """`5.15am`, `5h`, `5h30`, `jam 5`, `5:30`, `ตี 5`, `from 5 to 9 o'clock`."""
        value = item.value or Decimal(0)
        after = self._next()
        if (
            self._is_sign(1, ":")
            and (minutes := self._next(2)) is not None
            and minutes.kind == "number"
            and minutes.glued
            and value <= 24
            and not (item.has("own_block") and self._is(-1, "block"))
        ):
            self._time_found(3)
            return True
        if (
            after is not None
            and after.kind == "word"
            and after.has("oclock")
            and not after.has("own_block", "litre", "container")
            and value <= 24
        ):
            minutes = self._next(2)
            more = minutes is not None and minutes.kind == "number" and minutes.glued
            self._time_found(3 if more else 2)
            return True
        before = self._next(-1)
        if (
            before is not None
            and before.has("half")
            and self._is(-2, "oclock_before", "oclock", "started")
            and value <= 12
        ):
            self._time_found(1)
            return True
        if (
            before is None
            or before.kind != "word"
            or value > 24
            or (after is not None and after.has("litre", "kg", "own_container", "sheet", "tree", "dry_trees"))
        ):
            return False
        clock = re.fullmatch(r"\d{1,2}\.[0-5]\d", item.text) is not None
        if clock and before.key == "at" and not before.has("own_block") and self._is(-2, "texting", "started", "late"):
            self._time_found(1)
            return True
        if before.has("late") and "." in item.text and len(item.text.split(".")[1]) == 2:
            self._time_found(1)
            return True
        decimal = "." in item.text and len(item.text.split(".")[1]) == 1  # `change it to 14.5`
        to_the_minute = self._spoken_minutes(after) and before.key == "at" and self._is(-2, "started", "late")
        marked = (
            to_the_minute
            or before.has("oclock_before")
            or (
                not decimal
                and before.has("oclock", "started")
                and not before.has("from", "block", "litre", "plus", "for", "all", "own_block", "between")
            )
        )
        if not marked or (item.has("own_block") and before.key not in BEFORE_HOURS):
            return False
        self._time_found(2 if self._spoken_minutes(after) else 1)
        return True

    def _spoken_minutes(self, after: Item | None) -> bool:
        """`around seven thirty`: minutes behind a spoken hour, of which nothing says that they are litres."""
        spoken = after is not None and after.kind == "number" and after.has("spelled") and after.value in MINUTES
        return spoken and not self._is(2, *UNIT_WORDS) and not self._is(2, "own_block")

    def _time_found(self, length: int) -> None:
        self._note("time")
        self.at += length

    def _is_group(self, item: Item, groups: Item) -> bool:
        """`1 120`: thousands with a space between."""
        apart = item.text.isdecimal() and groups.text.isdecimal() and not groups.glued
        return apart and len(item.text) <= 2 and len(groups.text) == 3

    def _priced_behind(self, step: int) -> bool:
        """Whether money, or the letters of a currency and a word for each kilo, stand there."""
        code = self._next(step)
        letters = code is not None and code.kind == "word" and code.text.isupper() and len(code.text) == 3
        priced = self._is(step, "money") or (self._is(step, "per_kg") and not self._is(step, "kg"))
        return priced or (letters and self._is(step + 1, "per_kg"))

    def _priced(self, item: Item, value: Decimal) -> bool:
        """A number that is money: after `@` or a price word, before money, or with the thousands that prices are short for."""
        step, amount = 1, value
        following = self._next(step)
        if (
            len(item.text) <= 3
            and following is not None
            and following.kind == "number"
            and len(following.text) == 3
            and self._priced_behind(2)
        ):
            self._note("price_value", value=value * 1000 + (following.value or 0))
            self.at += 3
            return True
        thousand = (
            following is not None
            and following.kind == "word"
            and following.has("thousand", "times")
            and (following.has("thousand") or following.tags.get("times") == 1000)
        )
        if thousand and following is not None and not following.has("own_block"):
            amount, step = value * 1000, 2
            if self._is(2, "half"):
                amount, step = amount + 500, 3
            elif (
                (rest := self._next(2)) is not None
                and rest.kind == "number"
                and len(rest.text) == 1
                and (
                    (following.glued and rest.glued)
                    or (self.language == "vi" and (self._ends(3) or self._is(3, "per_kg")))
                )
            ):
                amount, step = amount + (rest.value or 0) * 100, 3
            elif (
                (rest := self._next(2)) is not None
                and rest.kind == "number"
                and len(rest.text) == 3
                and self._is(3, "per_kg")
            ):
                amount, step = amount + (rest.value or 0), 3
        elif item.has("share") and following is not None and following.has("thousand"):
            amount, step = value * 1000, 2
        satang = self._next(2)
        if self.language == "th" and self._is(1, "money") and satang is not None and satang.text in ("25", "50", "75"):
            self._note("price_value", value=value + Decimal(satang.text) / 100)  # `64 บาท 50`
            self.at += 3
            return True
        if THOUSANDS.fullmatch(item.text):
            amount = without_marks(item.text)
        after = self._next(step)
        money = (
            after is not None
            and after.kind == "word"
            and after.has("money", "per_kg")
            and not after.has("litre", "own_block")
            and not after.has("kg")
            and (len(after.key) > 1 or after.glued or after.has("per_kg") or self._is_sign(step + 1, "/"))
        )
        per = after is not None and after.kind == "word" and after.has("per_kg") and not after.has("kg")
        slash = self._is_sign(step, "/") and self._is(step + 1, "kg")
        graded = next((each for each in reversed(self.facts.found) if each.kind not in ("from", "at_place")), None)
        of_grade = (
            graded is not None
            and graded.kind == "grade"
            and self._is(-1, "from", "at_place")
            and self.at - graded.at <= 3
        )
        groups = self._next(1)
        if (
            of_grade
            and groups is not None
            and groups.kind == "number"
            and self._is_group(item, groups)
            and self._ends(2)
        ):
            self._note("price_value", value=Decimal(item.text + groups.text))  # `RSS3 à 1 120`
            self.at += 2
            return True
        if (
            of_grade
            and not item.has("own_block")
            and not self._is(1, "litre", "kg", "sheet", "percent", "money", "per_kg")
        ):
            self._note("price_value", value=amount)  # `RSS2 a 2.10 en la loma`
            self.at += step
            return True
        code = self._next(-1)
        coded = code is not None and item.glued and code.text in CURRENCIES and not item.has("own_block")
        coded = coded and code is not None and not code.has("own_block")
        marked = coded or (
            self._is_sign(-1, "@$€£฿₹x×*") and not self._is(1, "litre", "percent") and not self._is_sign(1, "%")
        )
        unit = after is not None and after.kind == "word" and after.has(*UNIT_WORDS)
        worded = (self._recent("price", 3) or self._recent("per_kg", 1)) and not (unit and step == 1)
        if not (money or per or slash or marked or worded or thousand):
            return False
        self._note("price_value", value=amount)
        self.at += step + (2 if slash else 1 if money or per else 0)
        return True

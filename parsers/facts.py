"""From items to facts: quantities with their units, blocks, days, and what was done, each with its place in the text.

What is not a quantity is told apart here: times, phone numbers, tree counts, prices, dates, strengths. Numbers without a unit
stay bare; what they are is weighed later.
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from decimal import Decimal

from parsers.days import Said, day_at
from parsers.items import Item
from parsers.numbers import SHARES
from parsers.reading import Setting
from parsers.spelling import fold, is_latin

#: Tags of words that are facts by themselves.
PLAIN = (
    "rain", "late", "not_tapped", "sick", "rest", "holiday", "wintering", "other", "lump", "rolled", "dry", "wet",
    "stimulated", "dry_trees", "acid", "water", "stock", "dose", "ask", "week", "ready", "help", "stop", "undo", "fix",
    "again", "same", "or", "together", "about_tomorrow", "quoted", "price", "collected", "at_place", "chat", "all", "latex",
    "weighed", "drc", "no", "not", "self", "sheet", "per_kg", "yes", "decline", "keep", "dispute", "why", "instead",
    "late_report", "one_of", "how", "texting", "for", "from", "person", "farm", "phone_of", "this_is", "again_me", "who", "pay", "total", "span",
    "in_store", "bark",
)  # fmt: skip

#: Words between the ends of a range.
TO = frozenset({"to", "ke", "hingga", "sampai", "a", "den", "toi", "ถึง"})

BREAKS = frozenset(",;.!?\n/|+&()")
#: Letters that people put before the number of a block in any language.
BLOCK_LETTERS = frozenset({"b", "p", "l", "k"})


#: Pairs of words that only together take something out: `take block 2 out`.
OUT: Mapping[str, frozenset[str]] = {"take": frozenset({"out", "off", "away"}), "เอา": frozenset({"ออก", "ออกเด้อ"})}

#: What is reported of a block or a day.
REPORTED = frozenset({"litres", "number", "kg", "sheets", "unmeasured", "not_tapped", "stimulated", "trees"})

#: Words behind a number that make it no price.
UNIT_WORDS = ("litre", "kg", "sheet", "own_container", "container", "tree", "ml")

#: Block words that only mean number: a name may not stand behind them (`mi numero nuevo`).
NUMBER_WORDS = frozenset({"numero", "number", "nomor", "nombor", "num", "no", "nro", "so"})

#: Letters as they are spoken, in the languages of our people.
SPOKEN_LETTERS: Mapping[str, str] = {
    "ka": "k", "pe": "p", "be": "b", "ce": "c", "de": "d", "el": "l", "te": "t", "es": "s", "em": "m", "en": "n", "ha": "h",
    "ge": "g", "ef": "f", "er": "r", "ele": "l", "eme": "m", "ese": "s", "ene": "n", "bi": "b", "si": "c", "di": "d",
    "pi": "p", "ti": "t", "bee": "b", "cee": "c", "dee": "d", "pee": "p", "tee": "t", "kay": "k", "jay": "j", "elle": "l",
    "em mo": "m", "bê": "b", "xê": "c", "dê": "d", "pê": "p", "tê": "t", "เอ": "a", "บี": "b", "ซี": "c", "ดี": "d", "พี": "p",
}  # fmt: skip

_LETTER_AND_NUMBER = re.compile(r"[A-Za-z]\d{1,3}")

#: Marks litres that were measured by a vessel.
VESSEL = "vessel"

#: A figure written with a mark before each three digits.
THOUSANDS = re.compile(r"\d{1,3}([.,]\d{3})+")


def rounded(litres: Decimal) -> Decimal:
    """Litres of a third of a vessel, to a hundredth."""
    return litres if litres == round(litres, 3) and len(str(litres)) < 12 else round(litres, 2).normalize() + 0


@dataclass(frozen=True)
class Fact:
    """One thing that the text says. `at` is its place among the items, `clause` the clause that it stands in."""

    kind: str
    at: int
    clause: int
    value: Decimal | None = None
    name: str | None = None
    day: Said | None = None
    said: bool = True


@dataclass
class Facts:
    """All that a text says."""

    found: list[Fact] = field(default_factory=list)
    items: list[Item] = field(default_factory=list)

    def of(self, *kinds: str) -> list[Fact]:
        """The facts of these kinds, in the order of the text."""
        return [fact for fact in self.found if fact.kind in kinds]

    def has(self, *kinds: str) -> bool:
        """Whether there is a fact of one of these kinds."""
        return any(fact.kind in kinds for fact in self.found)


class Finder:
    """Walks over the items once and notes the facts."""

    def __init__(self, items: list[Item], setting: Setting, sent: datetime) -> None:
        self.items = items
        self.containers: Mapping[str, Decimal] = setting.containers
        self.blocks = setting.blocks
        self.language = setting.language
        self.sent = sent
        self.facts = Facts(items=items)
        self.clause = 0
        self.quoting = False
        self.quoting_line = False
        self.at = 0

    def run(self) -> Facts:
        """All facts of the items."""
        while self.at < len(self.items):
            item = self.items[self.at]
            if item.kind == "sign":
                self._sign(item)
            elif not self._day():
                (self._number if item.kind == "number" else self._word)(item)
        return self.facts

    def _note(self, kind: str, **values: object) -> None:
        self.facts.found.append(Fact(kind, self.at, self.clause, **values))  # type: ignore[arg-type]

    def _next(self, step: int = 1) -> Item | None:
        return self.items[self.at + step] if 0 <= self.at + step < len(self.items) else None

    def _is(self, step: int, *tags: str) -> bool:
        item = self._next(step)
        return item is not None and item.kind == "word" and item.has(*tags)

    def _is_sign(self, step: int, signs: str) -> bool:
        item = self._next(step)
        return item is not None and item.kind == "sign" and item.text in signs

    def _sign(self, item: Item) -> None:
        before = self._next(-1)
        if item.text in '"“”«»':
            self.quoting = not self.quoting
            self.clause += 1
        if item.text in BREAKS:
            self.clause += 1
        if item.text in "[]":
            self.quoting = item.text == "[" and self._bracket_of_another_day()
            self.clause += 1
        if item.text == ">" and (before is None or before.text == "\n"):
            self.quoting_line = True
        elif item.text == "\n":
            self.quoting_line = False
        if self.quoting or self.quoting_line:
            self._note("quoted")
        if item.text == "?":
            self._note("question")
        if item.text == "-" and (after := self._next()) is not None and after.kind == "number" and self._negative():
            self._note("negative")
        self.at += 1

    def _bracket_of_another_day(self) -> bool:
        """`[yesterday: north 24]` beside today's report: what was sent before, copied."""
        inside = 1
        while (item := self._next(inside)) is not None and item.text != "]":
            if item.has("day") and item.tags["day"] != 0:
                return True
            inside += 1
        return False

    def _negative(self) -> bool:
        """A minus before a quantity, not a dash between two things."""
        before, after = self._next(-1), self._next()
        item = self.items[self.at]
        starts = before is None or before.kind != "number"
        return not item.glued and starts and after is not None and after.glued

    def _new_breath(self) -> None:
        """Thai has no commas: a further block, or a day, after something reported begins a new clause."""
        here = [fact.kind for fact in self.facts.found if fact.clause == self.clause]
        told = any(kind in REPORTED for kind in here)
        if self.language == "th" and told and not self.items[self.at].glued:
            self.clause += 1

    def _day(self) -> bool:
        item = self.items[self.at]
        if item.kind == "word" and item.has("own_block"):
            return False
        found = self._day_of_same_month(item) or day_at(self.items, self.at, self.sent)
        if found is None:
            return False
        said, length = found
        if item.kind == "word" and item.has("night") and self._rain_near():
            self.at += length  # the rain was in the night; what is reported is of the day
            return True
        self._new_breath()
        self._note("ahead" if said.ahead else "day", day=said)
        self.at += length
        return True

    def _day_of_same_month(self, item: Item) -> tuple[Said, int] | None:
        """`le 14/03 33 litres, le 15 31,5`: behind a date, an article and a number before another number are the next."""
        dates = [each.day.day for each in self.facts.of("day") if each.day is not None and each.day.day is not None]
        after = self._next()
        if (
            not dates
            or item.kind != "number"
            or item.has("own_block", "spelled")
            or not item.text.isdecimal()
            or not self._is(-1, "ignore")
            or after is None
            or after.kind != "number"
            or not 1 <= int(item.text[:3]) <= 31
            or int(item.text[:3]) <= dates[-1].day
        ):
            return None
        try:
            said = dates[-1].replace(day=int(item.text))
        except ValueError:
            return None
        return (Said(said), 1) if said <= self.sent.date() else None

    def _rain_near(self) -> bool:
        """Rain, or a fever or a theft, within the same breath as a word for last night."""
        for direction in (1, -1):
            for step in range(1, 5):
                item = self._next(direction * step)
                if item is None or item.kind == "sign" or item.kind == "number":
                    break
                if item.has("rain", "sick", "other"):
                    return True
        return False

    # words

    def _word(self, item: Item) -> None:
        if self._block(item) or self._foreign_block(item) or self._grade(item) or self._measure_without_number(item):
            return
        if item.key in OUT and any(each.key in OUT[item.key] for each in self.items[self.at + 1 : self.at + 6]):
            self._note("undo")
        if item.has("acid_strength"):
            self._note("acid")
        if item.key in TO and self._between_near_figures():
            self._note("or")
        for tag in PLAIN:
            if tag == "rain" and item.has("texting"):
                continue  # `bao` is to report; a storm stands by its marks, or beside other words
            if item.has(tag):
                self._note(tag, name=item.name or str(item.tags[tag] or ""))
        self.at += 1

    def _between_near_figures(self) -> bool:
        """`17 to 18 litres`: one of two figures that lie close, not a block and its litres."""
        before, after = self._next(-1), self._next()
        if before is None or after is None or before.kind != "number" or after.kind != "number":
            return False
        apart = (after.value or 0) - (before.value or 0)
        return 0 < apart <= 3 and self._is(2, "litre", "kg") and not self._is(-2, "block")

    def _block(self, item: Item) -> bool:
        """A block by its name, or a block word and a name or number."""
        if item.has("own_block", "block") and not self._is(-1, "block"):
            self._new_breath()
        if self._lettered_block(item):
            return True
        if item.has("own_block") and self._may_be_block(item):
            last = self.facts.found[-1] if self.facts.found else None
            if (
                last is not None
                and last.kind == "block"
                and last.at == self.at - 1
                and last.name == item.tags["own_block"]
            ):
                self.at += 1  # two words of one name
                return True
            self._note("block", name=str(item.tags["own_block"]))
            self.at += 1
            if self._is(0, "block") and not self._is(0, "litre"):
                after = self._next()
                if after is None or not after.has("own_block"):
                    self.at += 1
            return True
        if item.has("block") or (item.key in BLOCK_LETTERS and self._glued_block_number()):
            return self._after_block_word(item)
        return False

    def _lettered_block(self, item: Item) -> bool:
        """`ka satu`, `A dua`, `handil lima`: the name of a block as it is spoken, letter or word and number."""
        letter = SPOKEN_LETTERS.get(item.key, item.key)
        number = self._next()
        if not letter or number is None or number.kind != "number" or not number.has("spelled") or number.value is None:
            return False
        forms = (f"{letter}{number.value}", f"{letter} {number.value}")
        name = next((each for each in self.blocks if fold(each) in forms), None)
        if name is None:
            return False
        self._note("block", name=name)
        self.at += 2
        return True

    def _foreign_block(self, item: Item) -> bool:
        """`C3` where the farm's blocks are named so, and none is this."""
        number = self._next()
        named_so = any(_LETTER_AND_NUMBER.fullmatch(name) for name in self.blocks)
        if not named_so or number is None or number.kind != "number" or not number.glued or item.glued:
            return False
        if len(item.text) != 1 or not item.text.isupper() or item.tags or "." in number.text:
            return False
        self._note("badblock", name=f"{item.text}{number.text}")
        self.at += 2
        return True

    def _glued_block_number(self) -> bool:
        number = self._next()
        return number is not None and number.glued and number.kind == "number" and number.text in self.blocks

    def _may_be_block(self, item: Item) -> bool:
        """A one-letter name that is also a small word needs a sign that it is meant: a capital, or a number next to it."""
        name = str(item.tags["own_block"])
        if not name.isascii() and fold(item.text) in fold(name).split():
            return True  # written with its marks, as no small word is
        others = set(item.tags) - {"own_block", "slip"}
        if "ignore" in others and not item.capital:
            near = [each for each in (self._next(-1), self._next(), self._next(2)) if each is not None]
            return any(each.kind == "number" or each.has("block") for each in near)
        if not others or len(item.key) > 2:
            return True
        number = [self.items[self.at + step].kind == "number" for step in (-1, 1) if self._next(step) is not None]
        return item.capital or any(number) or self._is(-1, "block") or self._is(1, "block")

    def _after_block_word(self, item: Item) -> bool:
        step = 1
        while self._is_sign(step, ".:#-=") or (self._is(step, "block") and not self._is(step, "own_block")):
            step += 1
        after = self._next(step)
        if item.has("no") and (after is None or (after.kind != "number" and not after.has("own_block"))):
            return False  # `no rain`: here it is no short form of number
        if after is None:
            self.at += 1
            return True
        if after.has("own_block"):
            self.at += step
            self._note("block", name=str(after.tags["own_block"]))
            self.at += 1
            return True
        if item.key in NUMBER_WORDS and self._is(-1, "tree"):
            self.at += step + 1  # `tree no 40`
            return True
        if after.text == "นึง":
            self.at += step + 1  # `a block`, no number
            return True
        if after.kind == "number" and after.value is not None:
            if after.text not in self.blocks and self._is(step + 1, "litre", "kg", "own_container") and not after.glued:
                return self._skip_if_litre(item)
            return self._numbered_block(after, step)
        if item.key in ("l", "lt", "b", "p", "no", "bl") and not after.glued and len(item.key) < 3:
            return self._skip_if_litre(item)
        short = is_latin(after.key) or len(after.key) <= 2
        label = (
            after.kind == "word"
            and short
            and (not after.tags or (len(after.key) <= 2 and after.capital and not after.has("litre", "kg")))
        )
        if label and not after.has("slip") and item.key not in NUMBER_WORDS:
            self.at += step
            self._note("badblock", name=after.text)
            self.at += 1
            return True
        return self._skip_if_litre(item)

    def _skip_if_litre(self, item: Item) -> bool:
        if item.has("litre", "from", "place", "container", "farm"):
            return False
        self.at += 1
        return True

    def _numbered_block(self, after: Item, step: int) -> bool:
        value = after.value
        assert value is not None
        name = str(int(value)) if value == int(value) else str(value)
        letter = self._next(step + 1)
        joined = f"{name}{letter.text}" if letter is not None and letter.glued and letter.kind == "word" else None
        known = {key.casefold(): key for key in self.blocks}
        if joined and joined.casefold() in known:
            self.at += step + 1
            self._note("block", name=known[joined.casefold()])
            self.at += 1
            return True
        prefixed = [key for key in self.blocks if not key.isdecimal() and key.casefold().lstrip("bkclp") == name]
        self.at += step
        if name in self.blocks or not prefixed:
            self._note("block" if name in self.blocks else "badblock", name=name)
        else:
            self._note("block", name=prefixed[0])
        self.at += 1
        return True

    def _grade(self, item: Item) -> bool:
        words = (
            "rss",
            "ชั้น",
            "grade",
            "grado",
            "kelas",
            "loai",
            "gred",
            "mutu",
            "rsss",
            "กรด",
            "เกรด",
            "clase",
            "qualite",
        )
        number = self._next()
        if item.key not in words or number is None or number.kind != "number" or number.value not in (1, 2, 3, 4, 5):
            return False
        self._note("grade", name=f"RSS{int(number.value)}")
        self.at += 2
        return True

    def _measure_without_number(self, item: Item) -> bool:
        """`half a bucket`, `bucket half`, `a bucket full`."""
        if (item.has("half") and not item.has("own_block")) or (item.has("half") and self._container_after(1)):
            step = 1
            while self._is(step, "ignore", "of") and not self._is(step, "own_container", "container"):
                step += 1
            if self._is(step, "own_container", "container"):
                self.at += step
                self._container(self.items[self.at], Decimal("0.5"))
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
        one = self._next()
        counted = one is not None and one.kind == "number" and one.has("spelled") and one.value == 1
        if (
            counted
            and item.has("container")
            and not item.has("own_container", "own_block", "place", "kg", "litre", "latex")
        ):
            self._quantity("unmeasured", Decimal(1), 2)
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

    def _half_after(self) -> bool:
        """`litro y medio`: the unit and a half, without a number, is one and a half."""
        step = 2 if self._is(1, "plus") else 1
        return self._is(step, "half") and not self._is(step, "own_block")

    def _unnumbered(self) -> bool:
        before = self._next(-1)
        return before is None or before.kind != "number"

    def _container_after(self, step: int) -> bool:
        return self._is(step, "own_container", "container")

    # numbers

    def _number(self, item: Item) -> None:
        value = item.value or Decimal(0)
        if self._phone(item) or self._time(item) or self._priced(item, value):
            return
        after = self._next()
        if self._ordinal(item, after) or self._of_people(item, after) or self._of_all_blocks(item, after):
            return
        if after is not None and self._spaced_digits(item, after):
            self.at += 1
            self._litres(Decimal(item.text + after.text))
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
            self._kilos(value)
        elif after.has("kg10", "kg100") and not after.has("own_block"):
            self._heavy(value, Decimal(10) if after.has("kg10") else Decimal(100))
        elif after.has("ml") and not after.has("own_block"):
            self._quantity("litres", value / 1000, 2)
        elif after.has("ask") and item.has("spelled"):
            self._quantity("unmeasured", value, 2)
        elif after.has("duration") and not after.has("own_container", "own_block") and self._lasts():
            self._quantity("duration", value, 2)
        elif after.has("persons") and not after.has("own_container", "own_block", "litre"):
            self._quantity("persons", value, 2)
        elif after.has("cm") and not after.has("own_container", "own_block"):
            self._quantity("cm", value, 2)
        elif after.has("bag") and not after.has("own_container", "own_block"):
            self._quantity("bags", value, 2)
        else:
            return False
        return True

    def _counted(self, item: Item, after: Item, value: Decimal) -> None:
        """A number before what is counted: sheets, trees, percent; otherwise it stays bare."""
        if after.has("sheet"):
            self._quantity("sheets", value, 2)
        elif self._unknown_vessel(item, after):
            self.at += 1
            self._container(after, value)
        elif after.has("dry_trees"):
            self._quantity("trees", value, 1)
        elif after.has("tree"):
            self._quantity("trees", value, 2)
        elif after.has("percent") and not self._percent_of_next():
            self._percent(value, 2)
        elif after.has("rolled", "dry", "wet") and self._is(2, "sheet"):
            self._quantity("sheets", value, 1)
        else:
            self._bare(item, value)

    def _unknown_vessel(self, item: Item, after: Item) -> bool:
        """`2 demijohns and 3 litres`: what some litres are added to is a vessel, though nobody said how large."""
        rest, unit = self._next(3), self._next(4)
        unknown = after.kind == "word" and not after.tags and not after.glued and not item.has("own_block")
        added = self._is(2, "plus") and rest is not None and rest.kind == "number" and not rest.has("own_block")
        return unknown and added and unit is not None and unit.has("litre")

    def _spaced_digits(self, item: Item, after: Item) -> bool:
        """`2 7 litres`: two digits that slipped apart, where the first is no block."""
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
        all_of = self._is(-1, "all") or item.has("spelled")
        if not counted or named or not all_of or item.value != len(self.blocks) or len(self.blocks) < 2:
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

    def _quantity(self, kind: str, value: Decimal, length: int) -> None:
        self._note(kind, value=value)
        self.at += length

    def _bare(self, item: Item, value: Decimal) -> None:
        if (self._recent("drc", 4) or self._recent("percent", 2)) and 10 <= value <= 65:
            last = self.facts.found[-1] if self.facts.found else None
            if last is not None and last.kind == "number" and last.name in self.blocks and self.at - last.at <= 2:
                self.facts.found[-1] = replace(last, kind="block")  # `drc of 7 is 36`
            self._note("drc_value", value=value)
        else:
            self._note("number", value=value, name=item.name or item.text)
        self.at += 1

    def _recent(self, tag: str, steps: int) -> bool:
        for step in range(1, steps + 1):
            before = self._next(-step)
            of_block = before is not None and before.has("own_block") and tag == "drc"  # `drc of 7 is 36`
            if before is None or (before.kind == "number" and not of_block) or before.text in ",;\n":
                return False
            if before.has(tag):
                return True
        return False

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
        self._note("strength" if near_acid else "drc_value", value=value)
        self.at += length

    def _phone(self, item: Item) -> bool:
        long = len(item.text) >= 7 and item.text.isdecimal()
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
        marked = before.has("oclock_before") or (
            before.has("oclock", "started")
            and not before.has("from", "block", "litre", "plus", "for", "all", "own_block")
        )
        if not marked or item.has("own_block"):
            return False
        self._time_found(1)
        return True

    def _time_found(self, length: int) -> None:
        self._note("time")
        self.at += length

    def _priced(self, item: Item, value: Decimal) -> bool:
        """A number that is money: after `@` or a price word, before money, or with the thousands that prices are short for."""
        step, amount = 1, value
        following = self._next(step)
        if len(item.text) <= 3 and following is not None and following.kind == "number" and len(following.text) == 3:
            tail = self._next(2)
            if tail is not None and tail.has("money", "per_kg"):
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
            elif following.glued and (rest := self._next(2)) is not None and rest.kind == "number" and rest.glued:
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
        if THOUSANDS.fullmatch(item.text):
            amount = Decimal(item.text.replace(".", "").replace(",", ""))
        after = self._next(step)
        money = (
            after is not None
            and after.kind == "word"
            and after.has("money", "per_kg")
            and not after.has("litre", "own_block")
            and not after.has("kg")
            and (len(after.key) > 1 or after.glued or after.has("per_kg"))
        )
        per = after is not None and after.kind == "word" and after.has("per_kg") and not after.has("kg")
        slash = self._is_sign(step, "/") and self._is(step + 1, "kg")
        marked = self._is_sign(-1, "@$€£฿₹x×*") and not self._is(1, "litre")
        unit = after is not None and after.kind == "word" and after.has(*UNIT_WORDS)
        worded = (self._recent("price", 3) or self._recent("per_kg", 1)) and not (unit and step == 1)
        if not (money or per or slash or marked or worded or thousand):
            return False
        self._note("price_value", value=amount)
        self.at += step + (2 if slash else 1 if money or per else 0)
        return True

    # units

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
        if self._is(0, "half") and not self._is(0, "own_block"):
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
        litres = None if size is None else count * size
        self.at, litres = self._with_rest(litres)
        here, self.at = self.at, start
        if litres is None:
            self._note("unmeasured", name=item.text)
        else:
            self._note("litres", value=rounded(litres), name=VESSEL)
        self.at = here

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
        number, unit = self._next(step), self._next(step + 1)
        vessel = unit is not None and number is not None and number.kind == "number" and unit.has("own_container")
        if vessel and unit is not None and number is not None and litres is not None:
            return self.at + step + 2, litres + sign * (number.value or 0) * self.containers[
                str(unit.tags["own_container"])
            ]
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
        rest = number.value or Decimal(0)
        if self._is(step + 2, "half") and not self._is(step + 2, "own_block"):
            rest, step = rest + Decimal("0.5"), step + 1
        return self.at + step + 2, None if litres is None else litres + sign * rest

    def _litres(self, value: Decimal) -> None:
        length = 2
        if any(self._is(step, "fuel") for step in (-1, -2, 2, 3)) and not any(
            self._is(s, "latex") for s in (-2, -1, 2)
        ):
            self._quantity("fuel", value, length)
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
        less = self._is(length, "less") and self._is(length + 1, *SHARES)
        share, more = self._share_after(length + less)
        self._quantity("litres", value - share if less else value + share, length + more + less)

    def _share_after(self, step: int) -> tuple[Decimal, int]:
        """A half or quarter behind the unit: `12 litres and a half`, `31l1/2`."""
        plus = 1 if self._is(step, "plus") and self._is(step + 1, *SHARES) else 0
        item = self._next(step + plus)
        if item is not None and item.kind == "word" and item.has(*SHARES) and not item.has("own_block"):
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
            (after.kind == "sign" and after.text in "-=:" and after.glued)
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
        number, unit = self._next(length), self._next(length + 1)
        grams = number is not None and number.kind == "number" and number.glued and len(number.text) == 3
        if grams and number is not None and not (unit is not None and unit.has("kg", "litre", "sheet")):
            value, length = value + (number.value or Decimal(0)) / 1000, length + 1
        elif number is not None and number.kind == "number" and unit is not None and unit.has("gram100"):
            value, length = value + (number.value or Decimal(0)) / 10, length + 2
        elif number is not None and number.kind == "number" and unit is not None and unit.has("gram"):
            value, length = value + (number.value or Decimal(0)) / 1000, length + 2
        elif unit is None and number is not None and number.text in ("250", "500", "750") and value == int(value):
            value, length = value + (number.value or Decimal(0)) / 1000, length + 1  # `19 kg 500`
        elif self._is(length, "half") and not self._is(length, "own_block"):
            value, length = value + Decimal("0.5"), length + 1
        self._quantity("kg", value, length)

    def _price_before(self) -> bool:
        """`1.05 for one kilo`: the bare number before is what a kilo costs."""
        last = next((fact for fact in reversed(self.facts.found) if fact.kind not in ("for", "ask")), None)
        linked = self._is(-1, "for", "per_kg") or not self.items[self.at].glued
        if last is None or last.kind not in ("number", "price_value") or not linked or self.at - last.at > 2:
            return False
        self.facts.found[self.facts.found.index(last)] = replace(last, kind="price_value")
        return True

"""From items to facts: quantities with their units, blocks, days, and what was done, each with its place in the text.

What is not a quantity is told apart here: times, phone numbers, tree counts, prices, dates, strengths. Numbers without a unit
stay bare; what they are is weighed later.
"""

from collections.abc import Mapping
from dataclasses import replace

from rapidfuzz import fuzz, process

from parsers.days import Said, day_at, log_day
from parsers.denying import Denying
from parsers.facts import BREAKS, Facts
from parsers.farm_names import SPOKEN_LETTERS, THAI_TITLES, TITLES
from parsers.meanings import Item
from parsers.spelling import fold

#: Tags of words that are facts by themselves.
PLAIN = (
    "rain", "late", "not_tapped", "sick", "rest", "holiday", "wintering", "other", "lump", "rolled", "dry", "wet",
    "stimulated", "dry_trees", "acid", "water", "stock", "dose", "ask", "week", "ready", "help", "stop", "undo", "fix",
    "again", "same", "or", "together", "about_tomorrow", "quoted", "price", "collected", "at_place", "chat", "all", "latex",
    "weighed", "drc", "no", "not", "self", "sheet", "per_kg", "yes", "decline", "keep", "dispute", "why", "instead",
    "late_report", "one_of", "how", "texting", "for", "from", "person", "farm", "phone_of", "this_is", "again_me", "who", "pay", "total", "span",
    "in_store", "bark", "each", "dry_sky",
)  # fmt: skip

#: Words between the ends of a range.
TO = frozenset({"to", "ke", "hingga", "sampai", "a", "den", "toi", "ถึง"})

#: What a plain `no` right before it denies.
DENIED = ("rain", "late", "sick", "drc")

#: Pairs of words that only together take something out: `take block 2 out`.
OUT: Mapping[str, frozenset[str]] = {"take": frozenset({"out", "off", "away"}), "เอา": frozenset({"ออก", "ออกเด้อ"})}


#: A word with so much of a half or a quarter in it, of a hundred, may be meant as one: behind an `and`, and without it.
ALIKE, MUCH_ALIKE = 60, 75


class Finder(Denying):
    """Walks over the items once and notes the facts."""

    def run(self) -> Facts:
        """All facts of the items."""
        while self.at < len(self.items):
            item = self.items[self.at]
            if item.kind == "sign":
                self._sign(item)
            elif not self._day():
                (self._number if item.kind == "number" else self._word)(item)
        return self.facts

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
        elif item.text == "\n" or (item.text == "<" and self.quoting_line):
            self.quoting_line = False
            self.clause += 1
        if self.quoting or self.quoting_line:
            self._note("quoted")
        if item.text == "?":
            self._note("question")
        if item.text == "-" and (after := self._next()) is not None and after.kind == "number" and self._negative():
            self._note("negative")
        self.at += 1

    def _bracket_of_another_day(self) -> bool:
        """`[yesterday: north 24]` beside today's report: what was sent before, copied."""
        if any(fact.kind == "quoted" and self.at - fact.at <= 2 for fact in self.facts.found):
            return True  # `Fwd: [...]`
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

    def _day(self) -> bool:
        item = self.items[self.at]
        if item.kind == "word" and item.has("own_block"):
            return False
        if self._is_called(item) or self._letters_a_block(item):
            return False
        if item.kind == "number" and item.text.startswith("0") and len(item.text) > 2:
            return False  # a phone's number
        found = self._day_of_same_month(item) or day_at(self.items, self.at, self.sent)
        if found is None:
            return False
        said, length = found
        slept = self._next_is_unknown()
        if item.kind == "word" and item.has("night") and (self._rain_near() or slept):
            self.at += length  # the rain was in the night; what is reported is of the day
            return True
        self._new_breath(day=True)
        left = item.has("weekday") and self._is(-1, "for") and self._left_here()
        if left:
            said = replace(said, day=None, ahead=True)  # `R2 I leave for Friday`
        self._note("ahead" if said.ahead else "day", day=said)
        self.at += length
        return True

    def _next_is_unknown(self) -> bool:
        """`เมื่อคืนนอนดึก`: behind a word for last night something that is not understood, no block and no figure."""
        after = self._next()
        return after is not None and after.kind == "word" and not after.tags

    def _letters_a_block(self, item: Item) -> bool:
        """`ene dos` where a block is called N2: no second of January."""
        letter, number = SPOKEN_LETTERS.get(item.key), self._next()
        if letter is None or number is None or number.kind != "number" or number.value is None:
            return False
        return any(fold(name) == f"{letter}{number.value}" for name in self.blocks)

    def _left_here(self) -> bool:
        """Whether the clause says that something is left for later."""
        return any(each.kind == "keep" and each.clause == self.clause for each in self.facts.found)

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

    def _is_called(self, item: Item) -> bool:
        """`ลุงเสาร์`, `Pak Rebo`: a weekday, or rain, right behind a title is somebody's name."""
        before = self._next(-1)
        if before is None or before.kind != "word" or not item.has("weekday", "rain"):
            return False
        thai = before.key in THAI_TITLES and item.glued and (item.has("weekday") or item.key == "ฝน")
        return thai or (before.key in TITLES and item.capital and item.has("weekday"))

    def _word(self, item: Item) -> None:
        if self._block(item) or self._foreign_block(item) or self._grade(item) or self._measure_without_number(item):
            return
        if item.key in OUT and any(
            each.key in OUT[item.key] for each in self.items[self.at + 1 : self.at + (6 if item.key.isascii() else 9)]
        ):
            self._note("undo")
        if self._unread_measure(item) or self._unread_share(item) or self._nearly_a_share(item):
            self._note("unread")
        if item.has("acid_strength"):
            self._note("acid")
        if item.has("plus") and self._within_between():
            self._note("or")  # `between 19 and 20 litres`
        if item.key in TO and self._between_near_figures():
            self._note("or")
        if not item.tags and self._between_near_figures():
            self._note("or")  # `19 opo 20 liter`
        if self._is_called(item):
            self.at += 1
            return
        if self.language == "th" and item.key == "ส่วน":
            self.clause += 1  # `as for`: what follows is said of another block
        if self._is_recorded(item):
            self._note("quoted")  # `sudah sy kirim`, `lo de ayer ya está anotado`
        if self._denial(item):
            return
        denies = item.has("no") and self._is(1, *DENIED)
        for tag in [tag for tag in PLAIN if tag in item.tags] if item.tags else ():
            if tag == "not_tapped" and self._is_put_off(item):
                continue
            if denies and tag in ("self", "not"):
                continue  # `en ceiba no llovió`: it denies the rain, and no figure
            if tag == "rain" and item.has("texting"):
                continue  # `bao` is to report; a storm stands by its marks, or beside other words
            self._note(tag, name=item.name or str(item.tags[tag] or ""))
        self.at += 1

    def _is_recorded(self, item: Item) -> bool:
        """Word that something was sent or written down before, of another day than today."""
        earlier = [fact for fact in self.facts.of("day") if fact.clause == self.clause and fact.day is not None]
        past = bool(earlier) and earlier[-1].day is not None and earlier[-1].day.day != log_day(self.sent)
        if item.has("already") and any(self._is(step, "texting") for step in (1, 2, 3)) and self.language == "id":
            return True
        if self.language == "th":
            return past and item.has("recorded") and self._is(1, "already")
        return past and item.has("already") and any(self._is(step, "recorded") for step in (1, 2, 3))

    def _unread_measure(self, item: Item) -> bool:
        """`telung liter`: a unit behind a word that is not understood, where a number should stand."""
        before = self._next(-1)
        plain = item.has("litre") and len(item.key) > 1 and not item.has("own_block", "block", "slip")
        return plain and before is not None and before.kind == "word" and not before.tags and len(before.key) > 2

    def _unread_share(self, item: Item) -> bool:
        """A half or a quarter right behind a word that is not understood, behind a figure: `13 blorp half`."""
        before = self._next(-1)
        unknown = before is not None and before.kind == "word" and not before.tags
        counted = (number := self._next(-2)) is not None and number.kind == "number"
        return (
            item.has("half", "quarter", "three_quarters")
            and not item.has("own_block", "ignore")
            and unknown
            and counted
        )

    def _nearly_a_share(self, item: Item) -> bool:
        """A word that is not understood behind a unit, and looks somewhat like a half or a quarter: `9 litres and a hfa`."""
        if item.tags or len(item.key) < 3:
            return False
        joined = self._is(-1, "plus")
        if not self._is(-2 if joined else -1, "litre", "kg", "own_container"):
            return False
        needed = ALIKE if joined or (item.glued and not item.key.isascii()) else MUCH_ALIKE
        return process.extractOne(item.key, self.shares, scorer=fuzz.ratio, score_cutoff=needed) is not None

    def _within_between(self) -> bool:
        """An `and` between two figures behind a word for between."""
        before, after = self._next(-1), self._next(1)
        numbers = before is not None and after is not None and before.kind == after.kind == "number"
        return numbers and self._is(-2, "between")

    def _between_near_figures(self) -> bool:
        """`17 to 18 litres`: one of two figures that lie close, not a block and its litres."""
        before, after = self._next(-1), self._next()
        if before is None or after is None or before.kind != "number" or after.kind != "number":
            return False
        apart = (after.value or 0) - (before.value or 0)
        return 0 < apart <= 3 and self._is(2, "litre", "kg") and not self._is(-2, "block")

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
        word = "rss" if item.key.endswith(" rss") else item.key  # `tờ RSS 2`
        if word not in words or number is None or number.kind != "number" or number.value not in (1, 2, 3, 4, 5):
            return False
        self._note("grade", name=f"RSS{int(number.value)}")
        self.at += 2
        return True

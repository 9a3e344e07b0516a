"""From facts to a reading: what the sender wants, and which lines he means."""

from dataclasses import replace
from decimal import Decimal

from parsers import asking, corrections
from parsers.facts import Fact, Facts
from parsers.field import Field
from parsers.other_figures import THOUSANDS, without_marks
from parsers.reading import About, Ask, Intent, Query, Reading, Record, Role, What
from parsers.weighing import block_name

#: A text of so many words is short.
FEW = 6


class Reader(Field):
    """Reads the facts of one text in its setting."""

    def read(self) -> Reading:
        """The reading of the text by itself, without what is in the book."""
        for step in (self._carrier_like, self._dose, self._service, self._collector, self._trade, self._work):
            reading = step()
            if reading is not None:
                return replace(
                    reading, bounded=self.bounded, grounds=(*self.grounds, f"settled by {step.__name__.strip('_')}")
                )
        return self._nothing()

    def _carrier_like(self) -> Reading | None:
        if (self.facts.has("stop") or self._begins_with_stop()) and not self._quantities():
            return Reading(Intent.STOP)
        if self.facts.has("how") and self.facts.has("texting") and not self._quantities():
            return Reading(Intent.HELP)
        phrase = any(item.has("help") and " " in item.key for item in self.facts.items if item.kind == "word")
        plain = self.facts.has("span") or not self.facts.has("how", "question", "ask")
        asks_week = self.facts.has("week") and plain and not phrase  # `tolong` is please, too
        if (
            self.facts.has("help")
            and not self._quantities()
            and not self.facts.has("not_tapped", "acid", "grade", "undo")
            and not asks_week
        ):
            strong = any(
                item.kind == "word"
                and item.has("help")
                and (" " in item.key or not item.key.isascii() or len(self.facts.items) <= 4)
                for item in self.facts.items
            )
            if strong:
                return Reading(Intent.HELP)
        if self.facts.has("help") and self.facts.has("acid") and not self._quantities():
            return Reading(Intent.HELP, query=Query(About.ACID))
        return None

    def _begins_with_stop(self) -> bool:
        """`STOP please, no more of this`: the carriers' word first, and nothing about work behind it."""
        words = [item for item in self.facts.items if item.kind == "word"]
        stops = bool(words) and words[0].key in ("stop", "unsubscribe")
        return stops and not self.facts.has("not_tapped", "block", "rain", "sick", "lump", "dry", "rolled", "rest")

    def _dose(self) -> Reading | None:
        if self.facts.has("block") and self.facts.has("or") and self._alternatives(self.facts.of("litres", "number")):
            return None  # `block 4 17 or 18 litres`
        asks = self.facts.has("ask", "question")
        acid = self.facts.has("acid")
        volume = self.facts.of("litres")
        if not volume and acid and asks:
            volume = [fact for fact in self.facts.of("number") if fact.value]
        drc = self.facts.of("drc_value")
        wanted = (acid and (asks or self.facts.has("dose", "for", "water"))) or (
            self.facts.has("dose") and (asks or drc or self.facts.has("water") or self._for_a_vessel())
        )
        stock = self.facts.has("stock") and not asks
        if not volume and self.facts.has("unmeasured") and wanted and not stock:
            return Reading(Intent.DOSE, ask=Ask.LITRES)
        if not wanted or not volume or stock or (self.facts.has("block") and not asks):
            return None
        if not (volume[0].value or 0) > 0:
            return Reading(Intent.DOSE, ask=Ask.LITRES)
        record = Record(What.DOSE, litres=volume[0].value, drc=drc[0].value if drc else None)
        return Reading(Intent.DOSE, (record,))

    def _service(self) -> Reading | None:
        if self._quantities() and not (self.facts.has("week") and self.facts.has("ask")) and not self._only_asks():
            return None
        if self.facts.has("litres", "unmeasured", "same") and not self.facts.has("question"):
            return None
        corrected = self.facts.has("fix") and self.facts.has("block") and self.facts.has("number")
        if corrected and not self.facts.has("question", "week", "how"):
            return None  # `my father says I wrote it wrong, that hill is 12`
        asked = {fact.clause for fact in self.facts.of("ask")}
        idle = {fact.clause for fact in self.facts.of("not_tapped")}
        told = idle & {fact.clause for fact in self.facts.of("block", "day", "all")}
        if told - asked and not self.facts.has("question", "week"):
            return None
        if (
            self.facts.has("not_tapped")
            and self.facts.has("sick", "rain", "holiday", "wintering")
            and not self.facts.has("question")
        ):
            return None
        if (
            self.facts.has("ready")
            and (self.facts.has("ask", "question", "sheet") or self.setting.role is Role.COLLECTOR)
            and (not self.facts.has("at_place") or self.facts.has("ask"))
        ):
            return Reading(Intent.READY)
        if self.facts.has("dry") and self.facts.has("ask") and self.facts.has("sheet", "ready"):
            return Reading(Intent.READY)
        if self.setting.role is Role.COLLECTOR and self.facts.has("at_place"):
            return None
        query = asking.query(self.facts, self.setting, self.today) or asking.of_tomorrow(self.all, self.setting)
        if query is not None:
            return Reading(Intent.WEEK, query=query)
        return None

    def _only_asks(self) -> bool:
        """A question that begins as one and holds nothing measured: its numbers are days."""
        if self.facts.has("litres", "kg", "sheets", "unmeasured", "price_value", "acid", "dose", "water"):
            return False
        if asking.dated(self.facts, self.today) is not None:
            return True
        bare = [each for each in self.facts.of("number") if block_name(each, self.own)]
        asked = self.facts.has("question") and self.facts.has("ask") and not self.facts.has("block")
        if asked and bare and len(bare) == len(self.facts.of("number")):
            self._take_roles(bare, ("block",) * len(bare))
            return True  # `la 7 a donné combien ?`
        if (
            self.setting.role is Role.OWNER
            and self.facts.has("question")
            and self.facts.has("block")
            and self.facts.has("day")
        ):
            return True  # `lote 7 del 3 al 5 de marzo?`
        first = self.facts.found[0] if self.facts.found else None
        span = self.facts.has("question") and asking.between(self.facts, self.today) is not None
        return span or (first is not None and first.kind == "ask")

    def _collector(self) -> Reading | None:
        sold = (
            self.facts.has("kg")
            and self.facts.has("grade", "price_value")
            and not self.facts.has("dry", "rolled", "price")
        )
        if self.setting.role is not Role.COLLECTOR and not (
            (self.facts.has("collected") and self.facts.has("grade", "farm"))
            or (sold and self.setting.role is Role.OWNER)
            or self._fetched()
        ):
            return None
        if self.dated_ahead and not self.facts.has("kg") and self.setting.role is Role.COLLECTOR:
            return Reading(Intent.CHAT)  # `tomorrow I can take 15 sheets more`
        takes = asking.takes(self.facts, self.setting, self.day_of)
        if takes:
            if any(record.kg is None for record in takes) and not self._corrects_take(takes):
                return self._ask(Ask.KG, takes)
            weights = [
                record for record in takes if record.sheets is None and record.grade is None and record.price is None
            ]
            if len(takes) > 1 and weights and len({record.farm for record in takes}) == 1:
                return self._ask(Ask.KG, takes)  # `62 kg with the sack, so 60 kg`
            return Reading(Intent.LOG, tuple(takes))
        if self.setting.role is Role.COLLECTOR and self.facts.of("price_value"):
            return None
        place = asking.place(self.all, self.setting)
        later = self.all.has("ahead") and not self.all.has("at_place")
        if place and self.setting.role is Role.COLLECTOR and not later:
            return Reading(Intent.LOG, (Record(What.CHECK_IN, self.today, place=place),))
        return None

    def _fetched(self) -> bool:
        """An owner's word that sheets were fetched: how many, and their weight."""
        fetched = self.facts.has("collected") and self.facts.has("sheets") and self.facts.has("kg")
        other = self.facts.has("dry", "rolled", "wet", "litres", "lump", "ask", "question")
        return self.setting.role is not Role.COLLECTOR and fetched and not other

    def _corrects_take(self, takes: list[Record]) -> bool:
        """Word of a correction (`eran 27`) where the book holds a take of each farm that is named."""
        standing = {
            (each.record.day, each.record.farm) for each in self.setting.entered if each.record.what is What.COLLECTED
        }
        corrects = corrections.is_fix(self.facts) and bool(self.setting.entered)
        return corrects or (self.facts.has("fix") and all((each.day, each.farm) in standing for each in takes))

    def _for_a_vessel(self) -> bool:
        """`dosage pour un jerrican`: a word for the dose, and what it is for, and no block."""
        linked = any(0 < each.at - link.at <= 2 for link in self.facts.of("for") for each in self.facts.of("litres"))
        return linked and not self.facts.has("block", "day")

    def _in_stock(self, litres: list[Fact]) -> list[Fact]:
        """Of several volumes of acid the one that stands in the clause of the last word for stock."""
        clause = self.facts.of("stock")[-1].clause
        return [each for each in litres if each.clause == clause] or litres[-1:]

    def _acid_beside_latex(self) -> Reading | None:
        """`acid left 3 litres. hill 16 litres`: each in a clause of its own."""
        acid = {each.clause for each in self.facts.of("acid")}
        litres = self.facts.of("litres")
        stock = [each for each in litres if each.clause in acid]
        others = {each.clause for each in litres} - acid
        named = {each.clause for each in self.facts.of("block", "latex", "day")} | (
            others if len(self.own) == 1 else set()
        )
        if len(stock) != 1 or not others or not others <= named or self.facts.has("ask", "question", "dose", "water"):
            return None
        if acid & {each.clause for each in self.facts.of("block")}:
            return None
        day, _ = self.day_of(stock[0])
        self._spend(
            *stock, *(each for each in self.facts.found if each.clause in acid and each.kind in ("acid", "stock"))
        )
        latex = self._work()
        if latex is None or latex.ask is not None or day is None:
            return (
                self._ask(Ask.LITRES, [Record(What.ACID_STOCK, day, litres=stock[0].value)]) if latex is None else latex
            )
        return replace(latex, records=(Record(What.ACID_STOCK, day, litres=stock[0].value), *latex.records))

    def _trade(self) -> Reading | None:
        prices = self.facts.of("price_value") or (self.facts.of("number")[-1:] if self.facts.has("price") else [])
        prices = [self._in_thousands(each) for each in prices]
        if not prices and self.facts.has("grade") and len(self.facts.of("number")) == 1 and not self.facts.has("kg"):
            prices = self.facts.of("number")  # `RSS4 198.50`
        other = (
            "litres",
            "kg",
            "sheets",
            "number",
            "unmeasured",
            "trees",
            "ask",
            "question",
            "fix",
            "collected",
            "acid",
        )
        alone = len(prices) == 1 and asking.is_for_each(prices[0], self.facts) and not self.facts.has(*other)
        worded = self.facts.has("price") or (prices and self.facts.has("grade")) or alone
        if (
            prices
            and worded
            and not self.facts.has("litres", "sheets", "block")
            and self.setting.role is not Role.TAPPER
        ):
            grade = self.facts.of("grade")
            several = self._prices_by_grade()
            if several:
                return Reading(Intent.LOG, tuple(several))
            day, said = self.day_of(None)
            if said and day is None:
                return self._ask(Ask.DAY, [Record(What.PRICE, price=prices[0].value)])
            return Reading(
                Intent.LOG, (Record(What.PRICE, day, price=prices[0].value, grade=grade[0].name if grade else None),)
            )
        both = self._acid_beside_latex() if self.facts.has("acid") else None
        if both is not None:
            return both
        if (
            self.facts.has("acid")
            and self.facts.has("litres", "unmeasured", "number")
            and not self.facts.has("ask", "question")
        ):
            if not self.facts.has("stock") and self.facts.has("block"):
                return None
            acid = {each.clause for each in self.facts.of("acid", "stock")}
            numbers = [each for each in self.facts.of("number") if self._is_own_block(each)]
            of_blocks = {each.clause for each in (*self.facts.of("block"), *numbers)}
            volume = self.facts.of("litres", "number")
            if volume and all(each.clause in of_blocks - acid for each in volume):
                self._spend(*self.facts.of("acid", "stock", "collected"))  # `block 8 22 litres. bought acid of 85 %`
                return None
            if not volume or self.facts.has("unread"):
                return self._ask(Ask.LITRES, [Record(What.ACID_STOCK, self.today)])
            if len(self.facts.of("litres")) > 1 and self.facts.has("stock"):
                volume = self._in_stock(self.facts.of("litres"))  # `bought 5 litres, now 6.5 in stock`
            of_acid = {each.clause for each in self.facts.of("acid", "stock")}
            if volume[0].clause in {each.clause for each in self.facts.of("latex")} - of_acid:
                return None  # `the acid is open, latex of today 22 litres`
            day, _ = self.day_of(volume[0])
            lump = self._lump() if self.facts.has("kg") else []
            lump = [] if isinstance(lump, Reading) else lump
            sheets = self._sheets() if self.facts.has("sheets") and self.facts.has("rolled", "dry") else []
            if isinstance(sheets, Reading):
                return sheets
            return (
                Reading(Intent.LOG, (*lump, *sheets, Record(What.ACID_STOCK, day, litres=volume[0].value)))
                if day
                else self._ask(Ask.DAY, [])
            )
        return None

    def _prices_by_grade(self) -> list[Record]:
        """`rss1 1240 rss4 1010`: a price for each of several grades."""
        grades, values = self.facts.of("grade"), self.facts.of("price_value", "number")
        if len(grades) < 2 or len(values) < len(grades):
            return []
        day, _ = self.day_of(None)
        values = [self._in_thousands(each) for each in values]
        found = [(grade, next((each for each in values if each.at > grade.at), None)) for grade in grades]
        if day is None or any(value is None for _, value in found):
            return []
        most = max((value.value or 0) for _, value in found if value is not None)
        return [
            Record(What.PRICE, day, price=_thousands(value.value, most), grade=grade.name)
            for grade, value in found
            if value is not None
        ]

    def _only_apologises(self) -> bool:
        """`yes sir, sorry`: a short text with a word of excuse, and nothing to correct."""
        said = {fact.kind for fact in self.all.found}
        return (
            "fix" in said
            and said <= {"fix", "self", "yes", "chat", "person", "from", "this_is"}
            and len(self.facts.items) <= FEW
        )

    def _in_thousands(self, price: Fact) -> Fact:
        """A bare price with a mark before three figures (`55.000`): nobody texts thousandths."""
        text = self.facts.items[price.at].text
        if price.kind != "number" or THOUSANDS.fullmatch(text) is None:
            return price
        return replace(price, value=without_marks(text))

    def _nothing(self) -> Reading:
        if self.facts.has("undo"):
            return Reading(Intent.UNDO)
        if self.facts.has("dispute"):
            return Reading(Intent.DISPUTE)
        if self.facts.has("help") and not self._quantities():
            return Reading(Intent.HELP)
        if self._only_apologises():
            return Reading(Intent.CHAT)
        if self.all.has("chat", "yes", "keep", "decline", "again_me", "ahead", "about_tomorrow"):
            return Reading(Intent.CHAT)
        if self.facts.has("ask", "question"):
            return Reading(Intent.UNKNOWN)
        known = [item for item in self.facts.items if item.kind == "word" and item.tags and not item.has("slip")]
        words = [item for item in self.facts.items if item.kind == "word"]
        emoji = bool(self.facts.items) and not words and not self.facts.of("number")
        return Reading(
            Intent.CHAT if emoji and _is_smile(self.facts) else Intent.UNKNOWN,
            grounds=(f"{len(known)} of {len(words)} words known",),
        )


def _thousands(price: Decimal | None, most: Decimal | int) -> Decimal | None:
    """`28.500` beside `31.250` of the same text: both are thousands where one of them is."""
    short = price is not None and price < 1000 <= most
    return price * 1000 if short and price is not None else price


def _is_smile(facts: Facts) -> bool:
    return any(ord(item.text[0]) > 0x2600 for item in facts.items if item.text)

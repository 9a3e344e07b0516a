"""Sheets of a text: rolled wet, or dry and weighed."""

from datetime import date

from parsers.doubting import Doubting
from parsers.facts import Fact
from parsers.reading import Ask, Reading, Record, What


class Sheets(Doubting):
    """Reads sheets."""

    def _sheets(self) -> list[Record] | Reading:
        kinds = self.facts.of("rolled", "dry")
        counts = self.facts.of("sheets")
        if self.facts.has("litres") and kinds and len(counts) == 1:
            return self._sheets_beside_latex(kinds, counts[0])
        uncounted = self._dry_uncounted() if not counts and self.facts.has("litres") else []
        if uncounted:
            return uncounted
        both = self._rolled_and_dry(counts)
        if both:
            return both
        if not counts and self.facts.has("lump") and not self.facts.has("sheet", "dry"):
            return []  # `en el 31 salieron 8 kilos de chipa`
        if not kinds or not (counts or self.facts.has("sheet", "kg")) or self.facts.has("litres"):
            return [] if not counts or self.facts.has("litres") else self._bare_sheets(counts)
        dry = self.facts.has("dry") and not (self.facts.has("rolled") and self.facts.has("wet"))
        if self.facts.has("dry") and self.facts.has("trees") and not counts:
            return []
        what = What.SHEETS_DRY if dry else What.SHEETS_ROLLED
        numbers = self._without_withdrawn(
            counts + ([] if self.facts.has("kg") else self.facts.of("number")) or self.facts.of("number")
        )[:1]
        if self.facts.has("kg") and not counts and self.facts.has("not"):
            numbers = []
        spent = self.facts.of("sheets", "number") if self.facts.has("not", "fix") else numbers
        kilos = [each for each in self._without_withdrawn(self.facts.of("kg")) if not self._of_lump(each)]
        kilos = kilos or self._weight_without_unit(numbers)
        spent = [*spent, *kilos]
        day, _ = self.day_of(numbers[0] if numbers else kilos[0] if kilos else None)
        blocks = [
            each for each in self.facts.of("block") if not self.facts.has("lump") or each.clause == kinds[0].clause
        ]
        record = Record(
            what,
            day,
            block=blocks[0].name if blocks else None,
            kg=kilos[0].value if kilos else None,
            count=int(numbers[0].value) if numbers and numbers[0].value is not None else None,
        )
        if what is What.SHEETS_DRY and record.kg is None:
            return self._ask(Ask.KG, [record])
        if what is What.SHEETS_ROLLED and record.count is None:
            return self._ask(Ask.WHAT, [record])
        self._spend(*spent, *(each for each in self.facts.of("kg") if not self._of_lump(each)), *blocks[:1])
        return [record]

    def _weight_without_unit(self, counts: list[Fact]) -> list[Fact]:
        """`31 sheets wet weight 44.5`: a bare number right behind a word for the weight."""
        said = self.facts.of("wet", "weighed")
        bare = [each for each in self.facts.of("number") if each not in counts]
        worded = [each for each in bare if any(each.at - word.at == 1 for word in said)]
        return worded if len(worded) == 1 and len(bare) == 1 and counts else []

    def _dry_uncounted(self) -> list[Record]:
        """`D 13 litres, dry sheets 19.5 kg`: dry sheets that were weighed and not counted, in a clause of their own."""
        for dry in self.facts.of("dry"):
            beside = [each for each in self.facts.found if each.clause == dry.clause]
            kilos = [each for each in beside if each.kind == "kg"]
            sheets = [each for each in beside if each.kind == "sheet"]
            other = any(each.kind in ("litres", "lump", "trees", "not", "fix", "ask") for each in beside)
            if len(kilos) == 1 and sheets and not other:
                day, _ = self.day_of(kilos[0])
                self._spend(*kilos, dry, *sheets)
                return [Record(What.SHEETS_DRY, day, kg=kilos[0].value)]
        return []

    def _rolled_and_dry(self, counts: list[Fact]) -> list[Record]:
        """`rolled 22 sheets, 31 kg wet. Dry ones 40 sheets 36.5 kg`: each kind with its own count in a clause of its own."""
        items = self.facts.items
        bare = [
            each
            for each in self.facts.of("number")
            if each.at + 1 < len(items) and items[each.at + 1].has("dry", "rolled")
        ]
        counts = sorted([*counts, *bare], key=lambda each: each.at)  # `25 sheets wet, and 30 dry ones`
        kinds = {name: {each.clause for each in self.facts.of(name)} for name in ("rolled", "dry")}
        kinds["rolled"] -= kinds["dry"]  # `came out of the smoke-house` is said of dry ones
        of = {name: [each for each in counts if each.clause in kinds[name]] for name in kinds}
        if kinds["rolled"] & kinds["dry"] or any(len(each) != 1 for each in of.values()) or len(counts) != 2:
            return []
        rolled, dry = of["rolled"][0], of["dry"][0]
        wet = {each.clause for each in self.facts.of("wet")} | {rolled.clause}
        kilos = [each for each in self.facts.of("kg") if not self._of_lump(each)]
        further = {each.clause for each in self.facts.of("wet", "rolled", "sheets")}
        of_dry = {dry.clause} | ({dry.clause + 1} - further)
        dried = [each for each in kilos if each.clause in of_dry]
        rolled_kilos = [each for each in kilos if each.clause in wet - of_dry]
        if len(dried) != 1 or len(rolled_kilos) > 1 or self.facts.has("not", "fix", "ask", "question", "litres"):
            return []
        kg = rolled_kilos[0].value if rolled_kilos else None
        self._spend(*counts, *dried, *rolled_kilos, *self.facts.of("rolled", "dry", "wet"))
        return [
            Record(What.SHEETS_ROLLED, self._day_within(rolled), count=int(rolled.value or 0), kg=kg),
            Record(What.SHEETS_DRY, self._day_within(dry), count=int(dry.value or 0), kg=dried[0].value),
        ]

    def _day_within(self, fact: Fact) -> date | None:
        """The day that is said in the clause of a fact; today where others say theirs."""
        said = [each.day.day for each in self.facts.of("day") if each.clause == fact.clause and each.day is not None]
        return said[0] if said else self.today if len(self.facts.of("day")) else self.day_of(fact)[0]

    def _sheets_beside_latex(self, kinds: list[Fact], count: Fact) -> list[Record]:
        """`A 20 L, B 13 L and rolled 24 sheets`: sheets and latex of one text."""
        near = [each for each in kinds if each.clause == count.clause and abs(each.at - count.at) <= 4]
        if not near or self.facts.has("not", "fix", "ask", "question"):
            return []
        kilos = [each for each in self.facts.of("kg") if each.clause == count.clause and not self._of_lump(each)]
        dry = near[0].kind == "dry"
        if dry and len(kilos) != 1:
            return []
        day, _ = self.day_of(count)
        what = What.SHEETS_DRY if dry else What.SHEETS_ROLLED
        self._spend(count, *kilos[:1], *near)
        return [Record(what, day, count=int(count.value or 0), kg=kilos[0].value if len(kilos) == 1 else None)]

    def _of_lump(self, fact: Fact) -> bool:
        """Kilos that stand next to the word for lump, in a text about sheets too."""
        return any(abs(each.at - fact.at) <= 4 and each.clause == fact.clause for each in self.facts.of("lump"))

    def _bare_sheets(self, counts: list[Fact]) -> list[Record] | Reading:
        kilos = self.facts.of("kg")
        day, _ = self.day_of(counts[0])
        what = What.SHEETS_ROLLED if self.facts.has("wet") or not kilos else What.SHEETS_DRY
        if not kilos and not self.facts.has("rolled"):
            return self._ask(Ask.WHAT, [Record(what, day, count=int(counts[0].value or 0))])
        self._spend(*counts[:1], *kilos[:1])
        return [Record(what, day, count=int(counts[0].value or 0), kg=kilos[0].value if kilos else None)]

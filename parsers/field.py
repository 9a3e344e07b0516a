"""Work in the field and at the shed: sheets, lump, stimulation, dry trees, and where there was no tapping."""

from parsers.doubting import LAST_HOUR
from parsers.facts import BREAKS, Fact
from parsers.idle import Idle
from parsers.reading import Ask, Intent, Reading, Record, What
from parsers.weighing import block_name


class Field(Idle):
    """Reads what was done on the farm."""

    def _work(self) -> Reading | None:
        records: list[Record] = []
        for step in (self._sheets, self._dry_trees, self._stimulated, self._lump):
            found = step()
            if isinstance(found, Reading):
                return found
            records += found
        latex = self._latex(bool(records))
        if isinstance(latex, Reading):
            return latex
        records += latex
        rest = self._not_tapped(records)
        if isinstance(rest, Reading):
            return rest
        records += rest
        return self._checked(records) if records else None

    def _checked(self, records: list[Record]) -> Reading:
        if self.dated_ahead:
            return self._ask(Ask.DAY, [record.with_(day=None) for record in records])
        if any(record.day is None for record in records) or self._day_unknown():
            return self._ask(Ask.DAY, records)
        another = self._block_of_another(records)
        if another is not None:
            return self._ask(Ask.BLOCK, [records[0].with_(block=another)], self.own)
        merged: dict[tuple[object, ...], Record] = {}
        for record in records:
            merged.setdefault((record.what, record.day, record.block, record.litres, record.kg, record.count), record)
        left = (
            self._left_out(records)
            or self._unread(records)
            or self._counted_things(records)
            or self._added_unknown(records)
            or self._count_unknown(records)
            or self._vague_vessel(records)
            or self._unknown_named(records)
            or self._low_beside_unknown(records)
            or self._digits_before(records)
            or self._entered_denied(records)
            or self._unexplained(records)
        )
        if left is not None:
            return self._ask(Ask.LITRES, [Record(What.LATEX, self.today, left), *merged.values()])
        of_one = max(sum(each[:3] == other[:3] for other in merged) for each in merged)
        if of_one > 1 and (of_one > 2 or not self._again_of_block()):
            return self._ask(Ask.LITRES, [Record(What.LATEX, self.today, records[0].block), *merged.values()])
        return Reading(Intent.LOG, tuple(merged.values()))

    def _latex(self, other_records: bool) -> list[Record] | Reading:
        if self._same_as_before() and not self.facts.has("not_tapped", "dry", "rolled", "lump"):
            return self._ask(Ask.LITRES, [Record(What.LATEX, self.today, self._only_block())])
        if self.facts.has("negative"):
            return self._ask(Ask.LITRES, [Record(What.LATEX, self.today, self._only_block())])
        kilos = self.facts.of("kg")
        measured = self.facts.of("litres", "unmeasured")
        weighed = self.facts.has("weighed", "latex") or (self.facts.has("drc_value") and not measured)
        if kilos and not measured and weighed and self._weighs_unknown():
            return self._ask(Ask.WHAT, [Record(What.LATEX, self.today, self._only_block(), kg=kilos[0].value)])
        if kilos and not measured and weighed:
            bare = self.facts.of("number")
            if not self.facts.has("block") and all(block_name(each, self.own) for each in bare):
                self._take_roles(bare, ("block",) * len(bare))
            return self._assembled(kilos, "kg")
        if kilos and not measured and self.facts.has("not_tapped"):
            return []  # `a girl of 3.1 kg was born, no tapping today`
        unnamed = [each for each in self.facts.of("number") if not block_name(each, self.own)]
        if kilos and not measured and not unnamed and not other_records:
            return self._ask(Ask.WHAT, [Record(What.LATEX, self.today, self._only_block(), kg=kilos[0].value)])
        only = len(self.facts.items) == 1  # `không lít`: nothing at all, and nothing else is said
        numbers = [each for each in self.facts.of("number") if each.value or only or self.facts.has("block", "day")]
        if (
            self.facts.has("chat")
            and not measured
            and not self.facts.has("block")
            and all(self._is_spelled(each) for each in numbers)
            and not self._is_usual(numbers)
        ):
            numbers = []
        if self.facts.has("not_tapped") and not measured and self._says_no_litres(numbers):
            return []
        if not measured and not numbers:
            if self.facts.has("same") and not self.facts.has("not_tapped"):
                return self._ask(Ask.LITRES, [Record(What.LATEX, self.today, self._only_block())])
            return []
        if self.facts.has("rolled", "dry") and other_records and not measured and not self.facts.has("block"):
            numbers = []  # `rolled 24 sheets, hung 22`: other counts of sheets
        if len(numbers) == 1 and not measured and not self.facts.has("block") and self._is_nonsense(numbers[0]):
            return []
        alone = len(numbers) == len(self.own) == 1 and not measured and not self.facts.has("block")
        if alone and self.setting.question is None and self._among_unknown(numbers[0]):
            return self._ask(Ask.LITRES, [Record(What.LATEX, self.today, self._only_block())])
        return self._weighed_roles(measured, numbers, other_records)

    def _weighs_unknown(self) -> bool:
        """`latex cpu 9 kg`: a word that is not understood right behind the word for latex, or before the weighing: lump?"""
        items = self.facts.items
        for fact in self.facts.of("latex"):
            behind = items[fact.at + 1] if fact.at + 1 < len(items) else None
            ends = fact.at + 2 >= len(items) or items[fact.at + 2].kind == "sign"
            if not ends and behind is not None and behind.kind == "word" and not behind.tags and len(behind.key) > 2:
                return True
        if self.facts.has("latex", "drc_value"):
            return False
        weighed = min((each.at for each in self.facts.of("weighed")), default=0)
        return any(item.kind == "word" and not item.tags and len(item.key) > 2 for item in items[:weighed])

    def _among_unknown(self, number: Fact) -> bool:
        """A lone number without a unit, in a clause with words that are not understood, may be anything."""
        items = self.facts.items
        start, end = number.at, number.at + 1
        while start > 0 and items[start - 1].text not in BREAKS:
            start -= 1
        while end < len(items) and items[end].text not in BREAKS:
            end += 1
        words = [item for item in items[start:end] if item.kind == "word"]
        return any(not item.tags and len(item.key) > 1 for item in words)

    def _says_no_litres(self, numbers: list[Fact]) -> bool:
        """Numbers in a text of no tapping: of blocks, of a ward (`in ward 4`), an hour (`raining from 4, pond not tapped`)."""
        if all(block_name(each, self.own) for each in numbers):
            return True
        return len(numbers) == 1 and (not self.facts.has("block") or self._is_hour(numbers[0]))

    def _is_hour(self, number: Fact) -> bool:
        """Behind `from`, beside rain and word of no tapping, and too few litres for any block."""
        led = any(0 < number.at - each.at <= 2 for each in self.facts.of("from", "rain"))
        usual = self._usual(None)
        few = usual is None or 2 * (number.value or 0) <= usual
        return led and few and self.facts.has("not_tapped") and (number.value or 0) <= LAST_HOUR

    def _is_nonsense(self, number: Fact) -> bool:
        """Letters of a number word among others that mean nothing, in a script without spaces."""
        spelled = self.facts.items[number.at].has("spelled") and not self.facts.items[number.at].key.isascii()
        return spelled and not any(
            item.tags for item in self.facts.items if item.kind == "word" and not item.has("number")
        )

    def _same_as_before(self) -> bool:
        """`as yesterday` for want of a figure: nothing is measured, or a block stands beside it without its litres."""
        said = self.facts.of("same")
        if not said or not self.facts.has("litres", "kg"):
            return bool(said)
        clauses = {each.clause for each in said}
        figures = {each.clause for each in self.facts.of("litres", "number", "kg")}
        return any(each.clause in clauses - figures for each in self.facts.of("block"))

    def _is_usual(self, numbers: list[Fact]) -> bool:
        """One number about what the sender's only block gives: `good morning, I report twenty one and a half`."""
        usual = self._usual(self.own[0]) if len(self.own) == 1 else None
        return usual is not None and len(numbers) == 1 and usual / 2 <= (numbers[0].value or 0) <= usual * 2

    def _is_spelled(self, fact: Fact) -> bool:
        return self.facts.items[fact.at].has("spelled") and self.facts.items[fact.at].capital is False

"""Putting latex together: which quantity goes with which block and day, and what was taken back within the text."""

from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal
from itertools import product
from math import log
from typing import TypeVar

from parsers import corrections
from parsers.facts import VESSEL, Fact
from parsers.gathering import Gathering
from parsers.reading import Ask, Reading, Record, Role, What

#: A volume over so many times what is usual is asked back.
IMPLAUSIBLE = Decimal(3)

#: A bare number below this share of what is usual is hardly litres.
LEAST_SHARE = Decimal("0.15")


#: A volume as its callers hold it.
Value = TypeVar("Value")


class Pairing(Gathering):
    """Pairs quantities with blocks and makes records of latex."""

    def _loose(self) -> bool:
        """Whether more volumes than blocks may be meant: a choice, a correction, a further collection."""
        broken_off = any(corrections.breaks_off(each, self.facts) for each in self.facts.of("fix"))
        return self.facts.has("or", "not", "self", "again") or corrections.is_fix(self.facts) or broken_off

    def _fits(self, value: Decimal | None, name: str | None) -> float | None:
        """How far a volume is from what is usual (0 near it), or None when it is implausible."""
        usual = self._usual(name)
        if value is None or value <= 0:
            return None
        if usual is None:
            return 0.5
        if value > IMPLAUSIBLE * usual or value < LEAST_SHARE * usual:
            return None
        return min(abs(log(float(value / usual))), 1.5) * 0.15

    def _usual(self, name: str | None) -> Decimal | None:
        if name is not None:
            block = self.setting.blocks.get(name)
            return None if block is None else block.usual_litres
        known = [self.setting.blocks[own].usual_litres for own in self.own if own in self.setting.blocks]
        return max((usual for usual in known if usual is not None), default=None)

    def _assembled(self, quantities: list[Fact], unit: str) -> list[Record] | Reading:
        sent = corrections.said_before(self.facts)
        quantities = [each for each in quantities if each != sent]
        quantities = self._topped_up(self._without_overtaken(self._without_withdrawn(quantities)))
        all_quantities = self._without_total(quantities)
        quantities = self._without_strays(all_quantities)
        if self._perhaps_of_another(all_quantities, quantities):
            return self._ask(Ask.LITRES, [Record(What.LATEX, self.today, self._only_block())])
        if not quantities:  # `33 no no 33`: each was taken back
            return self._ask(Ask.LITRES, [Record(What.LATEX, self.today, self._only_block())])
        if self.facts.has("or") and len(quantities) == 1 and self._which_block():
            return self._ask(Ask.BLOCK, [self._latex_record(quantities[0], None, unit, 1)], self.own)
        if self.facts.has("or") and self._alternatives(quantities):
            return self._ask_of(self._beside_a_choice(quantities), quantities, unit)
        bad = self._bad_block()
        if bad is not None and not corrections.block_was(self.facts):
            return bad
        blocks = self._blocks_for_latex(quantities)
        unmeasured = [fact for fact in quantities if fact.kind == "unmeasured"]
        if unit == "litres" and unmeasured and self._explains_only(unmeasured, quantities):
            quantities = [fact for fact in quantities if fact not in unmeasured]
        elif unit == "litres" and unmeasured:
            return self._ask_of(unmeasured, quantities, unit)
        if not blocks:
            return self._without_blocks(quantities, unit)
        if self.facts.has("each") and len(quantities) == 2 and len(blocks) > 1:
            one, both = (each.value or Decimal(0) for each in quantities)
            quantities = quantities[:1] if one * len(blocks) == both else quantities  # `20 each, that makes 40`
        if self.facts.has("each") and len(quantities) == 1 and len(blocks) > 1:
            return self._plausible([self._latex_record(quantities[0], fact.name, unit, 1) for fact in blocks])
        if len(quantities) < len({fact.name for fact in blocks}) and self._shared(blocks, quantities):
            return self._ask(Ask.LITRES, [Record(What.LATEX, self.today, blocks[0].name)])
        if (
            len(blocks) == 1
            and len(quantities) == 2
            and len(self.facts.of("day")) < 2
            and self.facts.has("fix", "not")
            and not self.facts.has("again", "plus")
        ):
            quantities, self.corrects = quantities[-1:], corrections.is_fix(self.facts)
        places = [(fact.at, str(fact.name)) for fact in blocks]
        pairs = paired([(fact.at, fact) for fact in quantities], places)
        records = [self._latex_record(fact, name, unit, len(quantities)) for fact, name in pairs]
        return self._plausible(self._with_drc(records, pairs))

    def _ask_of(self, unclear: list[Fact], quantities: list[Fact], unit: str) -> Reading:
        """Asks for the litres of what is unclear, block by block; what was understood of others waits with them."""
        blocks = self._blocks_for_latex(quantities)
        places = [(fact.at, str(fact.name)) for fact in blocks]
        pairs = paired([(fact.at, fact) for fact in quantities], places)
        names = list(dict.fromkeys(name for fact, name in pairs if fact in unclear and name is not None))
        if not names or any(name not in self.own for _, name in pairs):
            return self._ask(
                Ask.LITRES, [Record(What.LATEX, self.today, blocks[0].name if blocks else self._only_block())]
            )
        clear = [(fact, name) for fact, name in pairs if name not in names]
        known = [self._latex_record(fact, name, unit, len(quantities)) for fact, name in clear]
        waits = [Record(What.LATEX, self.day_of(unclear[0])[0], name) for name in names]
        return self._ask(Ask.LITRES, [*waits, *known])

    def _beside_a_choice(self, quantities: list[Fact]) -> list[Fact]:
        """The figures beside a word for or."""
        near = [fact for fact in quantities if any(abs(fact.at - each.at) <= 3 for each in self.facts.of("or"))]
        return near or quantities

    def _explains_only(self, unmeasured: list[Fact], quantities: list[Fact]) -> bool:
        """`sorry, we counted a bucket twice, it is 28 litres`: a vessel in a clause that explains the correction."""
        litres = {fact.clause for fact in quantities if fact.kind == "litres"}
        own = {fact.clause for fact in (*unmeasured, *self.facts.of("block"))} & {fact.clause for fact in unmeasured}
        named = {fact.clause for fact in self.facts.of("block")} & {fact.clause for fact in unmeasured}
        behind = bool(litres) and min(litres) > max(own)
        return behind and not named and self.facts.has("fix", "self")

    def _blocks_for_latex(self, quantities: list[Fact]) -> list[Fact]:
        blocks = self.facts.of("block")
        idle = {each.clause for each in self.facts.of("not_tapped", "rest", "about_tomorrow", "wintering")}
        busy = {each.clause for each in quantities}
        kept = [
            fact
            for fact in blocks
            if (fact.clause not in idle or fact.clause in busy) and not self._rests(fact, quantities)
        ]
        seen: list[Fact] = []
        told = {fact.name for fact in blocks if fact.clause in busy}
        for fact in kept or blocks:
            if fact.clause not in busy and fact.name in told:
                continue  # `guards put on trees at hill. river 19 l hill 15 l`
            same = next((each for each in seen if each.name == fact.name), None)
            if len(self.facts.of("day")) < 2 and same is not None:
                if self._follows(fact, quantities) and not self._follows(same, quantities):
                    seen[seen.index(same)] = fact  # `I tapped P1 and P2, P1 gave 11 and P2 12.5`
                continue
            seen.append(fact)
        return seen

    def _follows(self, block: Fact, quantities: list[Fact]) -> bool:
        """Whether a quantity comes behind a block before another block does."""
        behind = [each for each in (*self.facts.of("block"), *quantities) if each.at > block.at]
        nearest = min(behind, key=lambda each: each.at, default=None)
        return nearest is not None and nearest.kind != "block"

    def _rests(self, block: Fact, quantities: list[Fact]) -> bool:
        """A block behind the last quantity with word of rest behind it: `B 17 l, A and C rest`."""
        idle = [each for each in self.facts.of("not_tapped", "rest", "wintering") if each.at > block.at]
        if not idle or not quantities:
            return False
        behind = [each for each in (*self.facts.of("block"), *quantities) if each.at > block.at]
        nearest = min(behind, key=lambda each: each.at, default=None)
        between = nearest is not None and nearest.kind == "block" and idle[0].at < nearest.at  # `A rest B 17 l`
        return between or block.at > quantities[-1].at

    def _shared(self, blocks: list[Fact], quantities: list[Fact]) -> bool:
        """One total for several blocks: they stand side by side, or the text says together."""
        if self.facts.has("together") and len(quantities) == 1:
            return True
        near = [fact for fact in blocks if abs(fact.at - quantities[0].at) <= 6]
        side_by_side = any(b.at - a.at <= 3 for a, b in zip(near, near[1:], strict=False))
        return len(quantities) == 1 and side_by_side

    def _which_block(self) -> bool:
        """`block 18 or block 21, I forgot`: the block is not sure."""
        blocks = self.facts.of("block")
        return any(
            any(0 < each.at - one.at <= 3 for one in blocks) and any(0 < one.at - each.at <= 3 for one in blocks)
            for each in self.facts.of("or")
        )

    def _alternatives(self, quantities: list[Fact]) -> bool:
        for fact in self.facts.of("or"):
            figures = [*quantities, *self.told.of("number")] if self._is_range(fact) else quantities
            before = any(0 < fact.at - each.at <= 3 for each in figures)
            after = any(0 < each.at - fact.at <= 3 for each in quantities)
            if before and after:
                return True
        return False

    def _is_range(self, fact: Fact) -> bool:
        """`between 19 and 20`: an `and` that was read as a choice."""
        return self.facts.items[fact.at].has("plus")

    def _without_withdrawn(self, quantities: list[Fact]) -> list[Fact]:
        """`19 no wait 21`, `17 not 18`: the figure that was taken back is left out."""
        gone: set[int] = set()
        for one, two in zip(quantities, quantities[1:], strict=False):
            between = [each for each in self.facts.found if one.at < each.at < two.at]
            far = 12 if any(each.kind == "self" for each in between) else 7
            if any(each.kind == "block" for each in between) or two.at - one.at > far:
                continue
            if any(self._takes_back(each, between) for each in between):
                gone.add(one.at)
                if one.value == two.value:  # `19, no not 19, 18`
                    gone.add(two.at)
            elif any(each.kind == "not" for each in between):
                gone.add(two.at)
        first = quantities[0] if quantities else None
        if first is not None and len(quantities) > 1 and not gone:
            negated = any(each.kind in ("not", "no") and 0 < first.at - each.at <= 2 for each in self.facts.found)
            if negated:
                gone.add(first.at)
        return [fact for fact in quantities if fact.at not in gone]

    def _without_overtaken(self, quantities: list[Fact]) -> list[Fact]:
        """`zapote 20, no wait, zapote 22`: behind a word of correction the same block's newer figure counts."""
        marks = [each.at for each in self.facts.of("self")]
        blocks = self.facts.of("block")
        gone: set[int] = set()
        for one, two in zip(quantities, quantities[1:], strict=False):
            before = next((each for each in reversed(blocks) if each.at < one.at), None)
            after = next((each for each in blocks if one.at < each.at < two.at), None)
            newer = any(one.at < each.at < two.at for each in self.facts.of("day"))
            corrected = any(one.at < mark < two.at for mark in marks) and not newer
            if before and after and before.name == after.name and corrected:
                gone.add(one.at)
        return [fact for fact in quantities if fact.at not in gone]

    def _without_total(self, quantities: list[Fact]) -> list[Fact]:
        """`17: 19 L, 18: 22 L, total 41 L`: a sum that is said too is no further quantity."""
        last = quantities[-1] if quantities else None
        if len(quantities) < 3 or last is None or not self.facts.has("together", "total"):
            return quantities
        said = any(0 < last.at - each.at <= 3 for each in self.facts.of("together", "total"))
        sums = last.value == sum((each.value or Decimal(0)) for each in quantities[:-1])
        return quantities[:-1] if said and sums else quantities

    def _without_strays(self, quantities: list[Fact]) -> list[Fact]:
        """Litres in a clause without a block, where every block has litres in its own clause, are not latex."""
        named = self.facts.of("block")
        blocks, clauses = {each.name for each in named}, {each.clause for each in named}
        beside = [each for each in quantities if each.clause in clauses]
        strays = len(quantities) > len(blocks) >= 1 and len(beside) == len(blocks) and len(self.facts.of("day")) < 2
        return beside if strays and not self._loose() else quantities

    def _perhaps_of_another(self, every: list[Fact], kept: list[Fact]) -> bool:
        """Litres beside no block that was understood, where a block of the sender's is left that may give as much."""
        strays = [each for each in every if each not in kept]
        left = set(self.own) - {each.name for each in self.told.of("block")}
        return any(self._fits(each.value, name) is not None for each in strays for name in left)

    def _topped_up(self, quantities: list[Fact]) -> list[Fact]:
        """A vessel and some litres more of the same clause are one quantity: `llene la cubeta y salieron 2 litros mas`."""
        out: list[Fact] = []
        for fact in quantities:
            last = out[-1] if out else None
            between = [] if last is None else [e for e in self.facts.found if last.at < e.at < fact.at]
            if last is None or VESSEL not in (last.name, fact.name) or (last.name == VESSEL == fact.name):
                out.append(fact)
                continue
            same = last.clause == fact.clause
            more = [each for each in self.facts.of("again") if 0 < each.at - fact.at <= 2 or each in between]
            words = self.facts.items[last.at + 1 : fact.at]
            plus = fact.at - last.at <= 6 and any(item.kind == "word" and item.has("plus") for item in words)
            less = last.name == VESSEL and fact.at - last.at <= 8 and self._lacks(fact)
            apart = any(each.kind in ("day", "or", "not", "self", "number") for each in between) or (
                any(each.kind == "block" for each in between) and not less
            )
            if not apart and less and (last.value or 0) > (fact.value or 0):
                out[-1] = replace(last, value=(last.value or Decimal(0)) - (fact.value or Decimal(0)))
            elif not apart and same and (more or plus):
                out[-1] = replace(last, value=(last.value or Decimal(0)) + (fact.value or Decimal(0)))
                self._spend(*more)
            else:
                out.append(fact)
        return out

    def _lacks(self, fact: Fact) -> bool:
        """`a bucket, it lacked 3 litres`: a word for less right before the litres."""
        return any(item.kind == "word" and item.has("less") for item in self.facts.items[max(0, fact.at - 2) : fact.at])

    def _takes_back(self, fact: Fact, between: list[Fact]) -> bool:
        """A word within the text that takes back the figure before it."""
        if fact.kind == "self":
            return not self._is_plain_not(fact, between)
        denies = any(each.at == fact.at for each in self.facts.of("not", "no"))
        return fact.kind == "fix" and not denies and corrections.breaks_off(fact, self.facts)

    @staticmethod
    def _is_plain_not(fact: Fact, between: list[Fact]) -> bool:
        return any(each.at == fact.at and each.kind == "not" for each in between)

    def _without_blocks(self, quantities: list[Fact], unit: str) -> list[Record] | Reading:
        many_days = len(self.facts.of("day")) > 1
        if len(self.own) == 1:
            chosen = quantities if many_days else quantities[:1] if not self.facts.has("again") else quantities
            if len(quantities) > 1 and not many_days and self.facts.has("plus", "again", "total"):
                chosen = quantities
            named = {each.clause for each in self.facts.of("latex")}
            of_latex = [each for each in quantities if each.clause in named]
            if not many_days and len(quantities) > len(of_latex) == 1:
                chosen = of_latex
            records = [self._latex_record(fact, self.own[0], unit, len(chosen)) for fact in chosen]
            return self._plausible(self._with_drc(records, []))
        if self.facts.has("each") and self.facts.has("all") and len(quantities) == 1 and len(self.own) > 1:
            records = [self._latex_record(quantities[0], name, unit, 1) for name in self.own]
            return self._plausible(self._with_drc(records, []))  # `les deux parcelles 20 litres chacune`
        if not self.own and self.setting.role is Role.COLLECTOR:
            return self._ask(Ask.WHAT, [Record(What.LATEX, self.today, litres=quantities[0].value)])
        record = self._latex_record(quantities[0], None, unit, 1)
        if self.facts.has("together"):
            return self._ask(Ask.LITRES, [record])
        return self._ask(Ask.BLOCK, [record], self.own)

    def _latex_record(self, fact: Fact, name: str | None, unit: str, count: int) -> Record:
        day, _ = self.day_of(fact)
        record = Record(What.LATEX, day, name, **{unit: fact.value}, **self.flags(fact, name, count))  # type: ignore[arg-type]
        again = [each for each in self.facts.of("again") if count == 1 or each.clause == fact.clause]
        return record.with_(again=True) if again else record

    def _with_drc(self, records: list[Record], pairs: list[tuple[Fact, str | None]]) -> list[Record]:
        values = self.facts.of("drc_value")
        if not values or not records:
            return records
        if len(values) == 1 and (len(records) == 1 or self.facts.has("all") or not pairs):
            return [record.with_(drc=values[0].value) for record in records]
        blocks = self.facts.of("block")
        out = list(records)
        for value in values:
            before = [fact for fact in blocks if fact.at < value.at]
            owner = before[-1].name if before else (blocks[0].name if blocks else None)
            behind = [fact for fact in blocks if 0 < fact.at - value.at <= 3]
            if behind and any(value.at < each.at < behind[0].at for each in self.facts.of("for", "from")):
                out = [record.with_(drc=value.value) if record.block == behind[0].name else record for record in out]
                continue  # `drc 34 for 4th block`
            if len(values) == 1 and pairs and value.at > pairs[-1][0].at and len(records) > 1:
                gap = [each for each in self.facts.of("block") if pairs[-1][0].at < each.at < value.at]
                owner = gap[-1].name if gap else owner
            out = [record.with_(drc=value.value) if record.block == owner else record for record in out]
        return out

    def _plausible(self, records: list[Record]) -> list[Record] | Reading:
        for record in records:
            usual = self._usual(record.block)
            if record.litres is None or usual is None:
                continue
            if record.litres <= 0 or record.litres > IMPLAUSIBLE * usual:
                return self._ask(Ask.LITRES, [record, *(each for each in records if each is not record)])
        return records


def paired(volumes: Sequence[tuple[int, Value]], blocks: list[tuple[int, str]]) -> list[tuple[Value, str | None]]:
    """Each volume with the block that it goes with: all blocks before their volumes, or all behind, whichever stands nearer."""
    if not blocks:
        return [(value, None) for _, value in volumes]
    if len(blocks) == 1:
        return [(value, blocks[0][1]) for _, value in volumes]
    if len(blocks) == len(volumes) and max(at for at, _ in blocks) < min(at for at, _ in volumes):
        return [
            (value, name)
            for (_, value), (_, name) in zip(sorted(volumes, key=lambda v: v[0]), sorted(blocks), strict=True)
        ]
    order = sorted(blocks)
    choices = [(_nearest(order, at, behind=False), _nearest(order, at, behind=True)) for at, _ in volumes]
    least, best = float("inf"), [before for before, _ in choices]
    for bits in product((0, 1), repeat=min(len(volumes), 6)):
        cost, used = 0.0, set()
        for n, choice in enumerate(choices):
            block, apart = choice[bits[n] if n < len(bits) else bits[-1]]
            cost += apart + (30 if block in used and len(order) >= len(volumes) else 0)
            if cost >= least:
                break
            used.add(block)
        else:
            least, best = cost, [choice[bits[n] if n < len(bits) else bits[-1]] for n, choice in enumerate(choices)]
    return [(value, block[1]) for (_, value), (block, _) in zip(volumes, best, strict=True)]


def _nearest(order: list[tuple[int, str]], at: int, *, behind: bool) -> tuple[tuple[int, str], float]:
    """The next block behind a volume, or the last one before it, and what speaks against it: how far away it stands."""
    near = [b for b in order if b[0] > at][:1] if behind else [b for b in order if b[0] < at][-1:]
    block = near[0] if near else min(order, key=lambda b: abs(b[0] - at))
    return block, (0 if near else 50) + abs(block[0] - at) + (0.5 if behind else 0)

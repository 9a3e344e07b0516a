"""Trees of a text: those that give no latex, and blocks that were stimulated."""

from parsers.facts import Fact
from parsers.reading import Ask, Reading, Record, What
from parsers.sheets import Sheets
from parsers.weighing import block_name


class Trees(Sheets):
    """Reads dry trees and stimulation."""

    def _block_for(self, fact: Fact) -> str | Reading | None:
        """The block that goes with an event: named, or the only one."""
        bad = self._bad_block()
        if bad is not None:
            return bad
        blocks = self.facts.of("block")
        if blocks:
            return min(blocks, key=lambda each: (abs(each.clause - fact.clause), abs(each.at - fact.at))).name
        return self.own[0] if len(self.own) == 1 else None

    def _dry_trees(self) -> list[Record] | Reading:
        if not self.facts.has("dry_trees") and not (self.facts.has("trees") and self.facts.has("dry")):
            return []
        said = {each.clause for each in self.facts.of("dry_trees")}
        said |= {each.clause for each in self.facts.of("dry")} & {each.clause for each in self.facts.of("trees")}
        latex = self.facts.of("litres")
        counts = self.facts.of("trees") or self.facts.of("number")
        if latex:
            counts = [each for each in counts if each.clause in said]
        beside = [each for each in latex if each.clause in said]
        if beside and counts and counts[0].kind == "trees" and counts[0].at > max(each.at for each in beside):
            beside = []  # `L9 9 litres, 4 trees without milk` in one breath
        if not counts or beside:
            return []
        words = self.facts.of("dry_trees")
        if words and len(counts) > 1:
            counts = sorted(counts, key=lambda each: abs(each.at - words[0].at))  # `430 trees, 5 dry ones`
        several = self._dry_by_block(counts)
        if several:
            return several
        bare = [each for each in self.facts.of("number") if block_name(each, self.own) and each not in counts]
        if len(bare) == 1 and not self.facts.has("block"):
            self._take_roles(bare, ("block",))
        block = self._block_for(counts[0])
        if isinstance(block, Reading):
            return block
        day, _ = self.day_of(counts[0])
        record = Record(What.DRY_TREES, day, block, count=int(counts[0].value or 0))
        if block is None:
            return self._ask(Ask.BLOCK, [record], self.own)
        others = [] if latex else self.facts.of("number")
        self._spend(
            *counts,
            *others,
            *self._beside(said, "not_tapped", "no", "rain") if latex else self.facts.of("not_tapped", "no", "rain"),
        )
        return [record]

    def _dry_by_block(self, counts: list[Fact]) -> list[Record]:
        """`lô 12 có 5 cây khô mủ, lô 11 có 3 cây`: each block with its own count of trees."""
        listed = self.facts.of("dry_trees")[:1] and self.facts.of("dry_trees")[0].at < min(
            (c.at for c in counts), default=0
        )
        kinds = ("trees", "number") if listed else ("trees",)  # `dry trees: block 6 eleven, block 15 four`
        trees = sorted((each for each in counts if each.kind in kinds), key=lambda each: each.at)
        blocks = self.facts.of("block")
        if len(trees) < 2 or len(trees) != len(blocks) or self.facts.has("litres", "kg"):
            return []
        if any(block.at > tree.at or block.clause != tree.clause for block, tree in zip(blocks, trees, strict=True)):
            return []
        self._spend(*trees, *blocks, *self.facts.of("not_tapped", "no", "number"))
        day = self.day_of(trees[0])[0]
        return [
            Record(What.DRY_TREES, day, block.name, count=int(tree.value or 0))
            for block, tree in zip(blocks, trees, strict=True)
        ]

    def _beside(self, clauses: set[int], *kinds: str) -> list[Fact]:
        return [fact for fact in self.facts.of(*kinds) if fact.clause in clauses]

    def _stimulated(self) -> list[Record] | Reading:
        found = self.facts.of("stimulated")
        if not found or self.facts.has("ask"):
            return []
        if not self.facts.has("litres"):
            bare = [each for each in self.facts.of("number") if block_name(each, self.own)]
            self._take_roles(bare, ("block",) * len(bare))
        day, _ = self.day_of(found[0])
        blocks = [fact for fact in self.facts.of("block")]
        if self.facts.has("litres", "number"):
            blocks = [fact for fact in blocks if fact.clause == found[0].clause]
        bad = self._bad_block()
        if bad is not None:
            return bad
        left = {each.clause for each in self.all.of("about_tomorrow", "no")} - {found[0].clause}
        blocks = [fact for fact in blocks if fact.clause not in left]
        names = [fact.name for fact in blocks] or (
            list(self.own) if self.facts.has("all") or len(self.own) == 1 else []
        )
        if not names:
            return self._ask(Ask.BLOCK, [Record(What.STIMULATED, day)], self.own)
        if not self.facts.has("litres"):
            self._spend(*blocks, *self.facts.of("not_tapped"))
        return [Record(What.STIMULATED, day, name) for name in names]

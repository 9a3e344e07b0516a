"""What a no denies: tapping, or that trees give latex; and what is only put off."""

from parsers.meanings import Item
from parsers.naming import Naming

#: What is not done yet may still be done.
NOT_YET = frozenset({"belum", "chua", "ยังไม่", "not yet", "pas encore", "todavia no", "aun no"})

#: A no denies what stands within so many words behind it.
FAR = 3


class Denying(Naming):
    """Notes days without tapping and dry trees that are said with a no."""

    def _denial(self, item: Item) -> bool:
        """Notes what is denied from this item on; whether that took it, and what belongs to it, off the text."""
        if self._denied_milk(item):
            self._note("dry_trees")
        length = self._denied_tapping(item)
        if length is None:
            return False
        if not self._left_for_later(length):
            self._note("not_tapped")
        self.at += length
        return True

    def _is_put_off(self, item: Item) -> bool:
        """`chưa cạo, để mai`: not yet tapped, and to be tapped soon."""
        return item.key.startswith(tuple(NOT_YET)) and self._left_for_later(1)

    def _denied_milk(self, item: Item) -> bool:
        """`9 cây nỏ ra mủ`: a no and a word for latex behind a number of trees, in one clause."""
        counted = any(fact.kind == "trees" and fact.clause == self.clause for fact in self.facts.found[-4:])
        if not counted or not item.has("no") or item.has("dry_trees"):
            return False
        for step in range(1, FAR + 1):
            after = self._next(step)
            if after is None or after.kind != "word":
                return False
            if after.has("latex"):
                return True
        return False

    def _left_for_later(self, step: int) -> bool:
        """`cạo hổng kịp, để mơi`: what was not tapped is to be tapped soon."""
        behind = self.items[self.at + step : self.at + step + FAR]
        return any(item.kind == "word" and item.has("about_tomorrow", "tomorrow") for item in behind)

    def _denied_tapping(self, item: Item) -> int | None:
        """`kada kawa manurih`, `ตัด ม่าย ได้`: a plain no and a word for tapping; how many items that takes."""
        if (
            item.has("no")
            and not item.has("own_block", "not_tapped", "ahead", "about_tomorrow")
            and item.key not in NOT_YET
        ):
            step = 1
            while step < FAR and self._is(step, "can", "ignore") and not self._is(step, "tapping", "own_block"):
                step += 1
            return step + 1 if self._is(step, "tapping") and not self._is(step, "own_block") else None
        if item.has("tapping") and self._is(1, "no") and not self._is(1, "not_tapped", "own_block", "dry_sky"):
            after = self._next(1)
            if self._is(2, "can") and after is not None and after.key not in NOT_YET:
                return 3
        return None

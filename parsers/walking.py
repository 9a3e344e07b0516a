"""A walk over the items of a text: what stands near, and noting a fact."""

from collections.abc import Mapping
from datetime import datetime
from decimal import Decimal

from parsers.facts import REPORTED, Fact, Facts
from parsers.meanings import Item
from parsers.reading import Role, Setting


class Walk:
    """Stands at one item after the other and notes the facts."""

    def __init__(self, items: list[Item], setting: Setting, sent: datetime, shares: tuple[str, ...] = ()) -> None:
        self.shares = shares
        self.items = items
        self.containers: Mapping[str, Decimal] = setting.containers
        self.blocks = setting.blocks
        self.counts = {count for count in (len(setting.blocks), len(setting.own_blocks)) if count > 1}
        self.collects = setting.role is Role.COLLECTOR
        self.language = setting.language
        self.sent = sent
        self.facts = Facts(items=items)
        self.clause = 0
        self.quoting = False
        self.quoting_line = False
        self.at = 0

    def _note(self, kind: str, **values: object) -> None:
        self.facts.note(Fact(kind, self.at, self.clause, **values))  # type: ignore[arg-type]

    def _next(self, step: int = 1) -> Item | None:
        return self.items[self.at + step] if 0 <= self.at + step < len(self.items) else None

    def _is(self, step: int, *tags: str) -> bool:
        item = self._next(step)
        return item is not None and item.kind == "word" and item.has(*tags)

    def _is_sign(self, step: int, signs: str) -> bool:
        item = self._next(step)
        return item is not None and item.kind == "sign" and item.text in signs

    def _quantity(self, kind: str, value: Decimal, length: int) -> None:
        self._note(kind, value=value)
        self.at += length

    def _recent(self, tag: str, steps: int) -> bool:
        for step in range(1, steps + 1):
            before = self._next(-step)
            of_block = before is not None and before.has("own_block") and tag == "drc"  # `drc of 7 is 36`
            if before is None or (before.kind == "number" and not of_block) or before.text in ",;\n":
                return False
            if before.has(tag):
                return True
        return False

    def _unnumbered(self) -> bool:
        before = self._next(-1)
        return before is None or before.kind != "number"

    def _new_breath(self, *, day: bool = False) -> None:
        """Thai has no commas: a further block, or a day, after something reported begins a new clause; a day also behind a plan."""
        here = [fact.kind for fact in self.facts.found if fact.clause == self.clause]
        told = any(kind in REPORTED or (day and kind == "about_tomorrow") for kind in here)
        told = told or (day and self._is(-1, "quoted"))
        if self.language == "th" and told and not self.items[self.at].glued:
            self.clause += 1
            if self.quoting:
                self._note("quoted")  # the clause goes on within the quotation

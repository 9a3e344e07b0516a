"""What a text says: its facts, each with its place in the text."""

from dataclasses import dataclass, field
from decimal import Decimal

from parsers.days import Said
from parsers.items import Item

BREAKS = frozenset(",;.!?\n/|+&()")

#: What is reported of a block or a day.
REPORTED = frozenset({"litres", "number", "kg", "sheets", "unmeasured", "not_tapped", "stimulated", "trees"})

#: Words behind a number that make it no price.
UNIT_WORDS = ("litre", "kg", "sheet", "own_container", "container", "tree", "ml")

#: Marks litres that were measured by a vessel.
VESSEL = "vessel"


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

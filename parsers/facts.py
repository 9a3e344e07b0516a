"""What a text says: its facts, each with its place in the text."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal

from parsers.days import Said
from parsers.meanings import Item

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


class Facts:
    """All that a text says, in its order, and by kind."""

    def __init__(self, found: Iterable[Fact] = (), items: list[Item] | None = None) -> None:
        self.items = items if items is not None else []
        self._found: list[Fact] = []
        self._by_kind: dict[str, list[Fact]] = {}
        for fact in found:
            self.note(fact)

    @property
    def found(self) -> Sequence[Fact]:
        """Every fact, in the order in which they were noted."""
        return self._found

    def note(self, fact: Fact) -> None:
        """Adds a fact behind the others."""
        self._found.append(fact)
        self._by_kind.setdefault(fact.kind, []).append(fact)

    def change(self, old: Fact, new: Fact) -> None:
        """What was noted first is another thing after all."""
        self._found[self._found.index(old)] = new
        self._by_kind = {}
        for fact in self._found:
            self._by_kind.setdefault(fact.kind, []).append(fact)

    def of(self, *kinds: str) -> list[Fact]:
        """The facts of these kinds, in the order of the text."""
        if len(kinds) == 1:
            return list(self._by_kind.get(kinds[0], ()))
        present = [kind for kind in kinds if kind in self._by_kind]
        if len(present) < 2:
            return list(self._by_kind[present[0]]) if present else []
        return [fact for fact in self._found if fact.kind in kinds]

    def has(self, *kinds: str) -> bool:
        """Whether there is a fact of one of these kinds."""
        return not self._by_kind.keys().isdisjoint(kinds)

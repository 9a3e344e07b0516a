"""Lump of a text, by block or together."""

from parsers.facts import Fact
from parsers.pairing import paired
from parsers.reading import Ask, Reading, Record, What
from parsers.trees import Trees
from parsers.weighing import LEADING, block_name


class Lumps(Trees):
    """Reads lump."""

    def _lump(self) -> list[Record] | Reading:
        found = self.facts.of("lump")
        if not found:
            return []
        kilos = self._without_withdrawn(self.facts.of("kg"))
        self._spend(*self._unit_taken_back(kilos))
        bare = [each for each in self.facts.of("number") if block_name(each, self.own)]
        if kilos and len(bare) == len(kilos) and not self.facts.has("block", "litres") and self._led_or_followed(bare):
            self._take_roles(bare, ("block",) * len(bare))  # `lump of the 7, 6 kg`, `lump 4: 5 kg / 7: 6 kg`
            kilos = self._without_withdrawn(self.facts.of("kg"))
            found = self.facts.of("lump")
        if not kilos and not self.facts.has("litres", "bags"):
            kilos = [
                each for each in self._without_withdrawn(self.facts.of("number")) if not self._is_unknown(each.at + 1)
            ]
        if len(kilos) > 1 and len(self.facts.of("block")) == len(kilos) and not self.facts.has("litres"):
            return self._lumps(kilos)
        if not kilos and self.facts.has("litres"):
            return []
        day, _ = self.day_of(found[0])
        named = [fact for fact in self.facts.of("block") if fact.clause == found[0].clause] or (
            [] if self.facts.has("litres") else self.facts.of("block")
        )
        block = None
        together = any(
            0 < each.at - said.at <= 2 for said in self.facts.of("all") for each in named
        )  # `de las dos fincas`
        if together and len(self.own) > 1:
            block = None
        elif len({fact.name for fact in named}) == 1 and (not self.facts.has("all") or not self.facts.has("litres")):
            block = named[0].name
        elif named and not self.facts.has("all") and (linked := self._linked(found[0], named)) is not None:
            block, named = linked.name, [linked]
        elif named and not self.facts.has("all"):
            near = [fact for fact in named if kilos and abs(fact.at - kilos[0].at) <= 4]
            block = near[-1].name if near and self.facts.has("litres") else None
        bad = self._bad_block()
        if bad is not None:
            return bad
        if block is None and not named and len(self.own) == 1 and not self.facts.has("all"):
            block = self.own[0]
        if not kilos:
            return self._ask(Ask.KG, [Record(What.LUMP, day, block)])
        if self._one_of_two(kilos[0]):
            return self._ask(Ask.KG, [Record(What.LUMP, day, block)])
        self._spend(kilos[0], *([] if self.facts.has("litres") else named))
        if self.facts.has("not", "fix"):
            self._spend(*self.facts.of("number", "kg"))
        if self.facts.has("litres") and len(named) > 1:
            self._spend(named[-1] if named[-1].at > self.facts.of("litres")[0].at else named[0])
        return [Record(What.LUMP, day, block, kg=kilos[0].value)]

    def _linked(self, lump: Fact, named: list[Fact]) -> Fact | None:
        """`12 litres of C and 7 kg of lump from B`: the block that a word for from links to the lump, behind all others."""
        behind = named[-1]
        linked = any(each.at == behind.at - 1 for each in self.facts.of("from"))
        return behind if linked and 0 < behind.at - lump.at <= 3 and self.facts.has("litres") else None

    def _one_of_two(self, kilos: Fact) -> bool:
        """`8 or 9 kg`: which of the two weights it is has to be asked."""
        choice = any(each.at == kilos.at - 1 for each in self.facts.of("or"))
        return choice and any(each.at == kilos.at - 2 for each in self.facts.of("number", "kg"))

    def _led_or_followed(self, bare: list[Fact]) -> bool:
        """Whether each number stands behind an article or a word for from, or before a colon."""
        items = self.facts.items
        led = [n.at > 0 and (items[n.at - 1].has("from") or items[n.at - 1].key in LEADING) for n in bare]
        followed = [
            n.at + 1 < len(items) and (items[n.at + 1].text in ":=" or items[n.at + 1].has("holds")) for n in bare
        ]
        return all(one or other for one, other in zip(led, followed, strict=True))

    def _unit_taken_back(self, kilos: list[Fact]) -> list[Fact]:
        """`9 pounds, sorry, 9 kilos`: the bare number before the word of correction."""
        marks = [each.at for each in self.facts.of("self")]
        bare = self.facts.of("number")
        return [n for n in bare if any(n.at < at < kilo.at <= n.at + 6 for at in marks for kilo in kilos)]

    def _lumps(self, kilos: list[Fact]) -> list[Record]:
        blocks = self.facts.of("block")
        pairs = paired([(fact.at, fact) for fact in kilos], [(fact.at, str(fact.name)) for fact in blocks])
        self._spend(*kilos, *blocks)
        return [Record(What.LUMP, self.day_of(fact)[0], name, kg=fact.value) for fact, name in pairs]

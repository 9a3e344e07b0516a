"""Weighing bare numbers: block, litres or neither.

Every way in which bare numbers could be blocks, litres or neither gets a cost from the farm's usual litres and from what stands next
to what. A clear winner is read; otherwise the one question that separates the best is asked.
"""

from dataclasses import replace
from decimal import Decimal
from itertools import islice, product

from parsers import corrections
from parsers.facts import Fact, Facts
from parsers.pairing import Pairing, paired
from parsers.reading import Ask, Reading, Record, What

#: At most so many bare numbers are weighed together.
MOST_WEIGHED = 8

#: Of more numbers than this, at most one means nothing.
FEW = 6

#: At most so many ways of reading them are tried, and fewer of more numbers than are weighed together; a text with more is
#: told to have been cut short. It bounds the time of a text that was made to take long.
MOST_WAYS, MOST_WAYS_OF_MANY = 6561, 512

#: Costs: a bare number that is neither block nor litres; the lead that a reading needs over another.
NOISE_COST, MARGIN = 1.2, 0.6

#: So many of the ways in which the numbers could be meant are shown with a reading.
SHOWN = 4

#: What speaks against a way of reading, each with its cost.
Terms = list[tuple[str, Decimal | None, float]]


#: What speaks against a block's number behind an article being litres.
LED_COST = 0.7

#: Articles that stand before the number of a block.
LEADING = frozenset({"la", "le", "el", "the", "yang", "yg", "con", "cai"})


class Weighing(Pairing):
    """Weighs what bare numbers are."""

    def _weighed_roles(self, measured: list[Fact], numbers: list[Fact], other_records: bool) -> list[Record] | Reading:
        if self._all_in_one(measured):
            return self._ask(Ask.LITRES, [Record(What.LATEX, self.today, litres=measured[0].value)])
        weighable = len(numbers) + len(measured) > 1 or self.facts.has("block")
        numbers = [each for each in numbers if not (weighable and self._denied(each)) and not self._named_again(each)]
        if self.facts.has("fix"):  # `only 10 litres, make it 10`
            numbers = [each for each in numbers if all(one.value != each.value for one in measured)]
        measured = self._topped_up(measured)
        self.bounded = self.bounded or len(numbers) > MOST_WEIGHED
        numbers = numbers[: MOST_WEIGHED * 2]
        if not numbers:
            return self._assembled(measured, "litres") if measured else []
        scored: list[tuple[float, tuple[str, ...]]] = []
        terms: dict[tuple[str, ...], Terms] = {}
        named, loose = self._named_with_volumes([*measured, *numbers]), self._loose()
        for roles in self._possible(measured, numbers):
            found = self._cost(measured, numbers, roles, named, loose)
            if found is not None:
                terms[roles] = found
                scored.append((sum(amount for *_, amount in found), roles))
        if not (measured or other_records or self.facts.has("chat", "not_tapped", "time")):
            scored = [each for each in scored if any(role != "noise" for role in each[1])]
        if all(item.kind != "word" or item.has("ignore", "plus") for item in self.facts.items):
            scored = [
                each for each in scored if "noise" not in each[1]
            ]  # nothing but numbers: each of them means something
        scored.sort(key=lambda each: each[0])
        for cost, roles in scored[:SHOWN]:
            self.grounds.append(_in_words(cost, numbers, roles, terms[roles]))
        if not scored:
            return self._no_fit(measured, numbers, other_records)
        best = scored[0]
        readings = {self._signature(numbers, roles) for cost, roles in scored if cost - best[0] < MARGIN}
        rival = next(
            (cost for cost, roles in scored if self._signature(numbers, roles) != self._signature(numbers, best[1])),
            None,
        )
        lead = "no other way" if rival is None else f"leads by {rival - best[0]:.2f}"
        self.grounds.append(f"{lead}; a lead of {MARGIN} is needed")
        if len(readings) > 1:
            said = measured[0].value if len(measured) == 1 else None
            return self._ask(Ask.BLOCK, [Record(What.LATEX, self.today, litres=said)], self.own)
        if self._unused_litres(numbers, best[1]):
            return self._ask(Ask.LITRES, [Record(What.LATEX, self.today, self._only_block())])
        self._take_roles(numbers, best[1])
        quantities = sorted(
            [*measured, *(n for n, role in zip(numbers, best[1], strict=True) if role == "litres")], key=lambda f: f.at
        )
        return self._assembled(quantities, "litres") if quantities else []

    def _named_with_volumes(self, quantities: list[Fact]) -> list[Fact]:
        """The blocks of the text; those that are named before anything is measured, and again with it, count once."""
        blocks = self.facts.of("block")
        first = min((each.at for each in quantities), default=0)
        again = {each.name for each in blocks if each.at >= first - 3}
        early = [each for each in blocks if each.at < first - 3 and each.name in again]
        return [each for each in blocks if each not in early]

    def _led_as_block(self, number: Fact) -> bool:
        """`la 13 dio 12`: an article before the number of one of his blocks, which nothing measures."""
        items = self.facts.items
        before = items[number.at - 1] if number.at else None
        after = items[number.at + 1] if number.at + 1 < len(items) else None
        measured = after is not None and after.has("litre", "kg", "container", "own_container")
        named = block_name(number, self.own) is not None or number.name in self.setting.blocks
        return before is not None and before.key in LEADING and named and not measured

    def _signature(self, numbers: list[Fact], roles: tuple[str, ...]) -> tuple[object, ...]:
        """What a way of reading the numbers comes to: figures and blocks, and which go together."""
        meant = [(n, role) for n, role in zip(numbers, roles, strict=True) if role != "noise"]
        volumes = [(n.at, n.value) for n, role in meant if role == "litres"]
        blocks = [(n.at, str(block_name(n, self.own))) for n, role in meant if role == "block"]
        pairs = paired(volumes, blocks) if len(volumes) == len(blocks) > 1 else None
        return tuple((n.at, role) for n, role in meant) if pairs is None else tuple(sorted(map(str, pairs)))

    def _unused_litres(self, numbers: list[Fact], roles: tuple[str, ...]) -> bool:
        """`la ceja 24 litros doña rosa 13`: a bare number right behind a block that gives about as much, left over."""
        last = max((each.at for each in self.facts.of("block")), default=-1)
        behind = [n for n, role in zip(numbers, roles, strict=True) if role == "noise" and n.at - last == 1]
        named = [each.name for each in self.facts.of("block") if each.at == last]
        ends = bool(behind) and behind[0].at + 1 >= len(self.facts.items)
        return ends and not self._loose() and self._fits(behind[0].value, str(named[0])) is not None

    def _all_in_one(self, measured: list[Fact]) -> bool:
        """`both blocks together in one tank, 36 litres`: which block gave how much is not said."""
        unnamed = not self.facts.has("block", "day") and len(measured) == 1 and len(self.own) > 1
        bare = any(block_name(each, self.own) for each in self.facts.of("number"))
        if not unnamed or self.facts.has("each"):
            return False
        items = self.facts.items
        counted = [each.at + 1 < len(items) and items[each.at + 1].has("block") for each in self.facts.of("all")]
        return (any(counted) and not bare) or (self.facts.has("together") and self.facts.has("all"))

    def _named_again(self, number: Fact) -> bool:
        """`drc of 7 is 36`, `the meter for 11 broke`: a number behind such a word names a block that was named before."""
        linked = any(each.at == number.at - 1 for each in self.facts.of("for", "from"))
        named = any(each.name == number.name and each.at < number.at - 1 for each in self.facts.of("block"))
        return linked and named and self.facts.has("litres")

    def _possible(self, measured: list[Fact], numbers: list[Fact]) -> list[tuple[str, ...]]:
        """The ways in which the numbers could be meant, without those that have more volumes than blocks for no reason."""
        found = _roles(numbers, self.own, bool(measured))
        if len(self.facts.of("day")) > 1 or self._loose():
            return found
        named, volumes = len(self.facts.of("block")), len(measured)
        return [
            roles
            for roles in found
            if not 0 < named + roles.count("block") < volumes + roles.count("litres")
            and (volumes or "litres" in roles or "block" not in roles)
        ]

    def _denied(self, fact: Fact) -> bool:
        """A figure that is taken back: `12 not 13`."""
        sent = (corrections.sent_before(self.facts), corrections.said_before(self.facts))
        if self.facts.has("texting") and fact in sent:
            return True
        denied = any(0 < fact.at - each.at <= 2 for each in corrections.denials(self.facts))
        return denied and self.facts.has("litres", "number", "kg", "sheets")

    def _take_roles(self, numbers: list[Fact], roles: tuple[str, ...]) -> None:
        chosen = dict(zip(numbers, roles, strict=True))
        found = []
        for fact in self.facts.found:
            role = chosen.get(fact)
            if role == "block":
                found.append(replace(fact, kind="block", name=block_name(fact, self.own)))
            elif role == "litres":
                found.append(replace(fact, kind="litres"))
            elif role is None:
                found.append(fact)
        self.facts = Facts(found, self.facts.items)

    def _cost(
        self, measured: list[Fact], numbers: list[Fact], roles: tuple[str, ...], named: list[Fact], loose: bool
    ) -> Terms | None:
        """What speaks against a way of reading the bare numbers; None where it cannot be."""
        blocks = [(f.at, str(f.name)) for f in named]
        blocks += [
            (n.at, str(block_name(n, self.own))) for n, role in zip(numbers, roles, strict=True) if role == "block"
        ]
        volumes = [(f.at, f.value) for f in measured] + [
            (n.at, n.value) for n, role in zip(numbers, roles, strict=True) if role == "litres"
        ]
        resting = self._resting(numbers, roles, {each.clause for each in measured})
        blocks = [each for each in blocks if each[0] not in resting]
        blocks.sort()
        volumes.sort(key=lambda each: each[0])
        terms: Terms = [("means nothing here", None, NOISE_COST) for role in roles if role == "noise"]
        names = [name for _, name in blocks]
        days = len(self.facts.of("day"))
        if (
            len(set(names)) < len(names)
            and days < 2
            and not self.facts.has("drc_value", "again", "fix", "not", "lump", "rain", "late")
        ):
            return None
        if not volumes:
            return None if any(role != "noise" for role in roles) else terms
        if names and len(volumes) > len(names) and days < 2 and not loose:
            return None
        if not names and len(volumes) > max(1, days) and not loose:
            return None
        pairs = paired(volumes, blocks) if names else [(value, None) for _, value in volumes]
        for value, name in pairs:
            fit = self._fits(value, name)
            if fit is None:
                bare = any(n.value == value and role == "litres" for n, role in zip(numbers, roles, strict=True))
                if bare:
                    return None if not self.facts.of("block") and names else [*terms, ("is not plausible", value, 3.0)]
                terms.append(("is not plausible", value, 1.0))
                continue
            terms.append(("L against what is usual", value, fit))
        led = sum(role == "litres" and self._led_as_block(n) for n, role in zip(numbers, roles, strict=True))
        terms.append(("litres behind an article", None, LED_COST * led))
        bare_blocks = sum(role == "block" for role in roles)
        if len(volumes) > max(len(names), 1):
            blocks_unused = sum(
                role == "litres" and block_name(n, self.own) is not None for n, role in zip(numbers, roles, strict=True)
            )
            terms.append(("a block's number taken for litres", None, 0.8 * blocks_unused))
        terms.append(("block without litres", None, 0.3 * max(0, len(names) - len(volumes))))
        terms.append(("block by its bare number", None, 0.05 * bare_blocks))
        return terms

    def _resting(self, numbers: list[Fact], roles: tuple[str, ...], busy: set[int]) -> set[int]:
        """Where the blocks stand that a clause without litres says are at rest: `1 and 2 rest, 5 gave 21 litres`."""
        idle = {each.clause for each in self.facts.of("rest", "not_tapped", "wintering")} - busy
        idle -= {n.clause for n, role in zip(numbers, roles, strict=True) if role == "litres"}
        if not (idle and busy):
            return set()
        return {each.at for each in (*self.facts.of("block"), *numbers) if each.clause in idle}

    def _no_fit(self, measured: list[Fact], numbers: list[Fact], other_records: bool) -> list[Record] | Reading:
        if measured:
            return self._assembled(measured, "litres")
        blocks = self.facts.of("block")
        if blocks or (len(self.own) == 1 and len(numbers) == 1):
            self._take_roles(numbers[:1], ("litres",))
            return self._assembled(self.facts.of("litres"), "litres")
        if other_records or self.facts.has("not_tapped", "chat", "week"):
            return []
        if len(numbers) >= 2 and numbers[0].value == int(numbers[0].value or 0):
            own = block_name(numbers[0], self.own)
            pending = Record(What.LATEX, self.today, own or str(numbers[0].name), litres=numbers[1].value)
            return self._ask(Ask.LITRES if own else Ask.BLOCK, [pending], () if own else self.own)
        plausible = self._fits(numbers[0].value, None) is not None
        ask = Ask.BLOCK if plausible else Ask.LITRES
        return self._ask(ask, [Record(What.LATEX, self.today, litres=numbers[0].value)], self.own)


def _in_words(cost: float, numbers: list[Fact], roles: tuple[str, ...], terms: Terms) -> str:
    """One way of reading the numbers: `0.42: 3 block, 18 litres (18 L against what is usual 0.12 ...)`."""
    meant = ", ".join(f"{n.value} {role}" for n, role in zip(numbers, roles, strict=True))
    against = ", ".join(
        f"{label if value is None else f'{value} {label}'} {amount:.2f}" for label, value, amount in terms if amount
    )
    return f"{cost:.2f}: {meant}" + (f" ({against})" if against else "")


def block_name(fact: Fact, own: tuple[str, ...]) -> str | None:
    if fact.value is None or fact.value != int(fact.value):
        return None
    name = str(int(fact.value))
    return name if name in own else None


def _roles(numbers: list[Fact], own: tuple[str, ...], measured: bool) -> list[tuple[str, ...]]:
    choices = []
    for fact in numbers:
        roles = ["litres", "noise"]
        if block_name(fact, own) is not None:
            roles.insert(0, "block")
        choices.append(roles)
    if len(numbers) > MOST_WEIGHED:
        choices = [["block", "litres"] if "block" in roles else ["litres"] for roles in choices]
    ways = islice(product(*choices), MOST_WAYS if len(numbers) <= MOST_WEIGHED else MOST_WAYS_OF_MANY)
    return [roles for roles in ways if len(roles) <= FEW or roles.count("noise") < 2]

"""From facts to a reading: what the sender wants, which lines he means, and what has to be asked.

Bare numbers are weighed: every way in which they could be blocks, litres or neither gets a cost from the farm's usual litres and
from what stands next to what; a clear winner is read, otherwise the one question that separates the best is asked.
"""

from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from itertools import product
from math import log

from parsers import asking, corrections
from parsers.days import log_day
from parsers.facts import Fact, Facts
from parsers.reading import (
    ALL_BLOCKS,
    About,
    Ask,
    Intent,
    Query,
    Reading,
    Reason,
    Record,
    Role,
    Setting,
    What,
)

#: A volume over so many times what is usual is asked back.
IMPLAUSIBLE = Decimal(3)

#: A bare number below this share of what is usual is hardly litres.
LEAST_SHARE = Decimal("0.15")

#: At most so many bare numbers are weighed together.
MOST_WEIGHED = 8

#: Facts that are measured, and those that make a clause a report of its own.
MEASURED = ("litres", "number", "kg", "unmeasured", "sheets")
SOLID = (*MEASURED, "not_tapped")

REASONS = (
    ("sick", Reason.SICK),
    ("holiday", Reason.HOLIDAY),
    ("wintering", Reason.WINTERING),
    ("other", Reason.OTHER),
    ("rain", Reason.RAIN),
    ("rest", Reason.REST),
)


@dataclass(frozen=True)
class Crop:
    """A quantity of latex with the block and day that it goes with, as far as the text says."""

    quantity: Fact
    block: str | None = None
    at: int = 0


class Reader:
    """Reads the facts of one text in its setting."""

    def __init__(self, facts: Facts, setting: Setting) -> None:
        self.dated_ahead = False
        self.facts = self._without_plans(facts)
        self.all = facts
        self.setting = setting
        self.today = log_day(setting.sent_at)
        self.own = self._own_blocks()
        self.grounds: list[str] = []
        self.corrects = False

    def _own_blocks(self) -> tuple[str, ...]:
        if self.setting.own_blocks or self.setting.role is Role.TAPPER:
            return self.setting.own_blocks
        return tuple(self.setting.blocks) if self.setting.role is Role.OWNER else ()

    def _without_plans(self, facts: Facts) -> Facts:
        """What is planned or left for later, and what is only quoted, is not said of today."""
        facts = self._without_days_ahead(facts)
        later = {fact.clause for fact in facts.of("about_tomorrow")}
        solid = {fact.clause for fact in facts.of(*SOLID)}
        quoted = {fact.clause for fact in facts.of("quoted")}
        asks_ready = facts.has("ready") and facts.has("ask")
        drop = (
            {clause for clause in later if clause not in solid}
            if (solid - later or not solid) and not asks_ready
            else set()
        )
        if quoted and solid - quoted:
            drop |= quoted
        return Facts([fact for fact in facts.found if fact.clause not in drop], facts.items)

    def _without_days_ahead(self, facts: Facts) -> Facts:
        """What is said of a day to come is a plan; litres that are dated so have to be asked about."""
        gone: set[int] = set()
        for ahead in facts.of("ahead"):
            beside = [fact for fact in facts.found if fact.clause == ahead.clause and fact is not ahead]
            before = [fact for fact in beside if fact.kind in MEASURED and fact.at < ahead.at]
            behind = [fact for fact in beside if fact.at > ahead.at]
            if before and any(fact.kind in (*SOLID, "rest", "block", "all") for fact in behind):
                gone |= {fact.at for fact in behind}
            elif any(fact.kind in MEASURED for fact in beside) and not _reports_elsewhere(facts, ahead):
                self.dated_ahead = True
            else:
                gone |= {fact.at for fact in beside}
        return Facts([fact for fact in facts.found if fact.at not in gone], facts.items)

    # day and flags

    def day_of(self, fact: Fact | None) -> tuple[date | None, bool]:
        """The day that goes with a fact, and whether it was said. None for one that has to be asked."""
        denied = corrections.day_was(self.facts)
        days = [each for each in self.facts.of("day") if denied is None or each.day is None or each.day.day != denied]
        if not days:
            return self.today, False
        if len(days) == 1 or fact is None:
            chosen = days[-1] if fact is not None else days[0]
        else:
            first = min(self.facts.found, key=lambda each: each.at)
            quantities = self.facts.of("litres", "number", "kg", "sheets", "not_tapped")
            leads = not quantities or days[0].at < quantities[0].at or first.kind == "day"
            before = [day for day in days if day.at < fact.at]
            after = [day for day in days if day.at > fact.at]
            chosen = (before[-1] if before else days[0]) if leads else (after[0] if after else days[-1])
        assert chosen.day is not None
        return chosen.day.day, True

    def flags(self, fact: Fact, name: str | None, count: int) -> dict[str, bool]:
        """Rain and late for a quantity: said of it, or of all."""
        out = {}
        if self._rained_on(fact, name, count):
            out["rain"] = True
        if self.facts.has("late") and not self.facts.has("late_report"):
            out["late"] = True
        return out

    def _rained_on(self, fact: Fact, name: str | None, count: int) -> bool:
        """Whether rain goes with a quantity: said of its block, nearest to it where some rain is denied, or said of all."""
        rains = self.rains()
        if not rains:
            return False
        if count == 1:
            return True
        denied = [each for each in self.facts.of("rain") if each not in rains]
        if denied:
            nearest = min([*rains, *denied], key=lambda each: (abs(each.at - fact.at), each.at < fact.at))
            return nearest in rains
        solid = {each.clause for each in self.facts.of("litres", "number", "kg")}
        named = {
            each.name
            for rain in rains
            if rain.clause not in solid
            for each in self.all.of("block")
            if each.clause == rain.clause
        }
        if named:
            return name in named
        near = {each.clause for each in rains}
        local = near <= solid and near != {min(solid)} and max(near) != max(solid)
        return not local or fact.clause in near

    def rains(self) -> list[Fact]:
        """Rain that is reported; `no rain` is none."""
        found = []
        for fact in self.facts.of("rain"):
            before = [
                each
                for each in self.facts.found
                if each.at < fact.at and fact.at - each.at <= 2 and each.kind in ("no", "not")
            ]
            denied_after = any(
                each.kind == "no" and each.at == fact.at + 1 for each in self.facts.found
            ) and not self.facts.has("not_tapped")
            idle = self._idle_clause(fact.clause)
            if not before and not denied_after and not idle:
                found.append(fact)
        return found

    def _idle_clause(self, clause: int) -> bool:
        """A clause that says that there was no tapping, beside others with quantities: its rain is its reason."""
        if not any(each.clause == clause for each in self.facts.of("not_tapped")):
            return False
        solid = {each.clause for each in self.facts.of("litres", "number", "kg")}
        return bool(solid) and clause not in solid

    # the whole

    def read(self) -> Reading:
        """The reading of the text by itself, without what is in the book."""
        for step in (self._carrier_like, self._dose, self._service, self._collector, self._trade, self._work):
            reading = step()
            if reading is not None:
                return replace(reading, grounds=tuple(self.grounds))
        return self._nothing()

    def _quantities(self) -> bool:
        return self.facts.has("litres", "kg", "sheets", "unmeasured", "price_value", "trees") or bool(
            self.facts.of("number")
        )

    def _carrier_like(self) -> Reading | None:
        if self.facts.has("stop") and not self._quantities():
            return Reading(Intent.STOP)
        if self.facts.has("help") and not self._quantities() and not self.facts.has("not_tapped", "acid"):
            strong = any(
                item.kind == "word"
                and item.has("help")
                and (" " in item.key or not item.key.isascii() or len(self.facts.items) <= 4)
                for item in self.facts.items
            )
            if strong:
                return Reading(Intent.HELP)
        if self.facts.has("help") and self.facts.has("acid") and not self._quantities():
            return Reading(Intent.HELP, query=Query(About.ACID))
        return None

    def _dose(self) -> Reading | None:
        asks = self.facts.has("ask", "question")
        acid = self.facts.has("acid")
        volume = self.facts.of("litres")
        if not volume and acid and asks:
            volume = [fact for fact in self.facts.of("number") if fact.value]
        drc = self.facts.of("drc_value")
        wanted = (acid and (asks or self.facts.has("dose", "for", "water"))) or (
            self.facts.has("dose") and (asks or drc or self.facts.has("water"))
        )
        stock = self.facts.has("stock") and not asks
        if not volume and self.facts.has("unmeasured") and wanted and not stock:
            return Reading(Intent.DOSE, ask=Ask.LITRES)
        if not wanted or not volume or stock or (self.facts.has("block") and not asks):
            return None
        record = Record(What.DOSE, litres=volume[0].value, drc=drc[0].value if drc else None)
        return Reading(Intent.DOSE, (record,))

    def _service(self) -> Reading | None:
        if self._quantities() and not (self.facts.has("week") and self.facts.has("ask")):
            return None
        if (
            self.facts.has("ready")
            and (self.facts.has("ask", "question", "sheet") or self.setting.role is Role.COLLECTOR)
            and not self.facts.has("at_place")
        ):
            return Reading(Intent.READY)
        if self.facts.has("dry") and self.facts.has("ask") and self.facts.has("sheet", "ready"):
            return Reading(Intent.READY)
        if self.setting.role is Role.COLLECTOR and self.facts.has("at_place"):
            return None
        query = asking.query(self.facts, self.setting, self.today)
        if query is not None:
            return Reading(Intent.WEEK, query=query)
        return None

    def _collector(self) -> Reading | None:
        if self.setting.role is not Role.COLLECTOR and not (
            self.facts.has("collected") and self.facts.has("grade", "farm")
        ):
            return None
        takes = asking.takes(self.facts, self.setting, self.day_of)
        if takes:
            if any(record.kg is None for record in takes) and not (
                self.setting.entered and corrections.is_fix(self.facts)
            ):
                return self._ask(Ask.KG, takes)
            return Reading(Intent.LOG, tuple(takes))
        if self.setting.role is Role.COLLECTOR and self.facts.of("price_value"):
            return None
        place = asking.place(self.all, self.setting)
        if place and self.setting.role is Role.COLLECTOR:
            return Reading(Intent.LOG, (Record(What.CHECK_IN, self.today, place=place),))
        return None

    def _trade(self) -> Reading | None:
        prices = self.facts.of("price_value") or (self.facts.of("number")[-1:] if self.facts.has("price") else [])
        worded = self.facts.has("price") or (prices and self.facts.has("grade"))
        if (
            prices
            and worded
            and not self.facts.has("litres", "sheets", "block")
            and self.setting.role is not Role.TAPPER
        ):
            grade = self.facts.of("grade")
            day, said = self.day_of(None)
            if said and day is None:
                return self._ask(Ask.DAY, [Record(What.PRICE, price=prices[0].value)])
            return Reading(
                Intent.LOG, (Record(What.PRICE, day, price=prices[0].value, grade=grade[0].name if grade else None),)
            )
        if (
            self.facts.has("acid")
            and self.facts.has("litres", "unmeasured", "number")
            and not self.facts.has("ask", "question")
        ):
            if not self.facts.has("stock") and self.facts.has("block"):
                return None
            volume = self.facts.of("litres", "number")
            if not volume:
                return self._ask(Ask.LITRES, [Record(What.ACID_STOCK, self.today)])
            day, _ = self.day_of(volume[0])
            return (
                Reading(Intent.LOG, (Record(What.ACID_STOCK, day, litres=volume[0].value),))
                if day
                else self._ask(Ask.DAY, [])
            )
        return None

    def _ask(self, ask: Ask, pending: list[Record] | tuple[Record, ...], options: tuple[str, ...] = ()) -> Reading:
        return Reading(Intent.LOG, ask=ask, pending=tuple(pending), options=options)

    # work in the field and at the shed

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
        if any(record.day is None for record in records):
            return self._ask(Ask.DAY, records)
        merged: dict[tuple[object, ...], Record] = {}
        for record in records:
            merged.setdefault((record.what, record.day, record.block, record.litres, record.kg, record.count), record)
        return Reading(Intent.LOG, tuple(merged.values()))

    def _sheets(self) -> list[Record] | Reading:
        kinds = self.facts.of("rolled", "dry")
        counts = self.facts.of("sheets")
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
        kilos = self._without_withdrawn(self.facts.of("kg"))
        day, _ = self.day_of(numbers[0] if numbers else kilos[0] if kilos else None)
        blocks = self.facts.of("block")
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
        self._spend(*spent, *self.facts.of("kg"), *blocks[:1])
        return [record]

    def _bare_sheets(self, counts: list[Fact]) -> list[Record] | Reading:
        kilos = self.facts.of("kg")
        day, _ = self.day_of(counts[0])
        what = What.SHEETS_ROLLED if self.facts.has("wet") or not kilos else What.SHEETS_DRY
        if not kilos and not self.facts.has("rolled"):
            return self._ask(Ask.WHAT, [Record(what, day, count=int(counts[0].value or 0))])
        self._spend(*counts[:1], *kilos[:1])
        return [Record(what, day, count=int(counts[0].value or 0), kg=kilos[0].value if kilos else None)]

    def _spend(self, *spent: Fact) -> None:
        self.facts = Facts([fact for fact in self.facts.found if fact not in spent], self.facts.items)

    def _block_for(self, fact: Fact) -> str | Reading | None:
        """The block that goes with an event: named, or the only one."""
        bad = self._bad_block()
        if bad is not None:
            return bad
        blocks = self.facts.of("block")
        if blocks:
            return min(blocks, key=lambda each: (abs(each.clause - fact.clause), abs(each.at - fact.at))).name
        return self.own[0] if len(self.own) == 1 else None

    def _bad_block(self) -> Reading | None:
        bad = self.facts.of("badblock")
        foreign = [fact for fact in self.facts.of("block") if fact.name not in self.own and self.own]
        if not bad and not foreign:
            return None
        name = (bad or foreign)[0].name
        volume = self.facts.of("litres", "number")
        record = Record(
            What.LATEX, self.today, block=name, litres=volume[0].value if volume else None, rain=bool(self.rains())
        )
        return self._ask(Ask.BLOCK, [record], self.own)

    def _dry_trees(self) -> list[Record] | Reading:
        if not self.facts.has("dry_trees") and not (self.facts.has("trees") and self.facts.has("dry")):
            return []
        counts = self.facts.of("trees") or self.facts.of("number")
        if not counts or self.facts.has("litres"):
            return []
        block = self._block_for(counts[0])
        if isinstance(block, Reading):
            return block
        day, _ = self.day_of(counts[0])
        record = Record(What.DRY_TREES, day, block, count=int(counts[0].value or 0))
        if block is None:
            return self._ask(Ask.BLOCK, [record], self.own)
        self._spend(*counts, *self.facts.of("number", "not_tapped", "no", "rain"))
        return [record]

    def _stimulated(self) -> list[Record] | Reading:
        found = self.facts.of("stimulated")
        if not found or self.facts.has("ask"):
            return []
        day, _ = self.day_of(found[0])
        blocks = [fact for fact in self.facts.of("block")]
        if self.facts.has("litres", "number"):
            blocks = [fact for fact in blocks if fact.clause == found[0].clause]
        bad = self._bad_block()
        if bad is not None:
            return bad
        names = [fact.name for fact in blocks] or (
            list(self.own) if self.facts.has("all") or len(self.own) == 1 else []
        )
        if not names:
            return self._ask(Ask.BLOCK, [Record(What.STIMULATED, day)], self.own)
        if not self.facts.has("litres"):
            self._spend(*blocks, *self.facts.of("not_tapped"))
        return [Record(What.STIMULATED, day, name) for name in names]

    def _lump(self) -> list[Record] | Reading:
        found = self.facts.of("lump")
        if not found:
            return []
        kilos = self._without_withdrawn(self.facts.of("kg"))
        if not kilos and not self.facts.has("litres", "bags"):
            kilos = self._without_withdrawn(self.facts.of("number"))
        if len(kilos) > 1 and len(self.facts.of("block")) == len(kilos) and not self.facts.has("litres"):
            return self._lumps(kilos)
        day, _ = self.day_of(found[0])
        named = [fact for fact in self.facts.of("block") if fact.clause == found[0].clause] or (
            [] if self.facts.has("litres") else self.facts.of("block")
        )
        block = None
        if len({fact.name for fact in named}) == 1 and not self.facts.has("all"):
            block = named[0].name
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
        self._spend(kilos[0], *([] if self.facts.has("litres") else named))
        if self.facts.has("not", "fix"):
            self._spend(*self.facts.of("number", "kg"))
        if self.facts.has("litres") and len(named) > 1:
            self._spend(named[-1] if named[-1].at > self.facts.of("litres")[0].at else named[0])
        return [Record(What.LUMP, day, block, kg=kilos[0].value)]

    def _lumps(self, kilos: list[Fact]) -> list[Record]:
        blocks = self.facts.of("block")
        pairs = _paired([(fact.at, fact) for fact in kilos], [(fact.at, str(fact.name)) for fact in blocks])
        self._spend(*kilos, *blocks)
        return [Record(What.LUMP, self.day_of(fact)[0], name, kg=fact.value) for fact, name in pairs]

    def _latex(self, other_records: bool) -> list[Record] | Reading:
        if self.facts.has("same") and not self.facts.has("not_tapped", "dry", "rolled", "lump"):
            return self._ask(Ask.LITRES, [Record(What.LATEX, self.today, self._only_block())])
        if self.facts.has("negative"):
            return self._ask(Ask.LITRES, [Record(What.LATEX, self.today, self._only_block())])
        kilos = self.facts.of("kg")
        measured = self.facts.of("litres", "unmeasured")
        weighed = self.facts.has("weighed", "latex") or (self.facts.has("drc_value") and not measured)
        if kilos and not measured and weighed:
            bare = self.facts.of("number")
            if not self.facts.has("block") and all(_block_name(each, self.own) for each in bare):
                self._take_roles(bare, ("block",) * len(bare))
            return self._assembled(kilos, "kg")
        if kilos and not measured and not self.facts.of("number") and not other_records:
            return self._ask(Ask.WHAT, [Record(What.LATEX, self.today, self._only_block(), kg=kilos[0].value)])
        numbers = self.facts.of("number")
        if (
            self.facts.has("chat")
            and not measured
            and not self.facts.has("block")
            and all(self._is_spelled(each) for each in numbers)
        ):
            numbers = []
        if not measured and not numbers:
            if self.facts.has("same") and not self.facts.has("not_tapped"):
                return self._ask(Ask.LITRES, [Record(What.LATEX, self.today, self._only_block())])
            return []
        return self._weighed_roles(measured, numbers, other_records)

    def _is_spelled(self, fact: Fact) -> bool:
        return self.facts.items[fact.at].has("spelled") and self.facts.items[fact.at].capital is False

    def _only_block(self) -> str | None:
        blocks = self.facts.of("block")
        return blocks[0].name if blocks else (self.own[0] if len(self.own) == 1 else None)

    # weighing bare numbers

    def _weighed_roles(self, measured: list[Fact], numbers: list[Fact], other_records: bool) -> list[Record] | Reading:
        weighable = len(numbers) + len(measured) > 1 or self.facts.has("block")
        numbers = [each for each in numbers if not (weighable and self._denied(each))][: MOST_WEIGHED * 2]
        if not numbers:
            return self._assembled(measured, "litres") if measured else []
        scored: list[tuple[float, tuple[str, ...]]] = []
        for roles in _roles(numbers, self.own, bool(measured)):
            cost = self._cost(measured, numbers, roles)
            if cost is not None:
                scored.append((cost, roles))
        if not (measured or other_records or self.facts.has("chat", "not_tapped", "time")):
            scored = [each for each in scored if any(role != "noise" for role in each[1])]
        scored.sort(key=lambda each: each[0])
        for cost, roles in scored[:3]:
            self.grounds.append(
                f"{cost:.2f} " + ", ".join(f"{n.value} {role}" for n, role in zip(numbers, roles, strict=True))
            )
        if not scored:
            return self._no_fit(measured, numbers, other_records)
        best = scored[0]
        readings = {self._signature(measured, numbers, roles) for cost, roles in scored if cost - best[0] < MARGIN}
        if len(readings) > 1:
            pending = Record(What.LATEX, self.today, litres=None)
            return self._ask(Ask.BLOCK, [pending], self.own)
        self._take_roles(numbers, best[1])
        quantities = sorted(
            [*measured, *(n for n, role in zip(numbers, best[1], strict=True) if role == "litres")], key=lambda f: f.at
        )
        return self._assembled(quantities, "litres") if quantities else []

    def _denied(self, fact: Fact) -> bool:
        """A figure that is taken back: `12 not 13`."""
        return any(0 < fact.at - each.at <= 2 for each in self.facts.of("not")) and self.facts.has(
            "litres", "number", "kg", "sheets"
        )

    def _signature(self, measured: list[Fact], numbers: list[Fact], roles: tuple[str, ...]) -> tuple[object, ...]:
        return tuple((n.at, role) for n, role in zip(numbers, roles, strict=True) if role != "noise")

    def _take_roles(self, numbers: list[Fact], roles: tuple[str, ...]) -> None:
        chosen = dict(zip(numbers, roles, strict=True))
        found = []
        for fact in self.facts.found:
            role = chosen.get(fact)
            if role == "block":
                found.append(replace(fact, kind="block", name=_block_name(fact, self.own)))
            elif role == "litres":
                found.append(replace(fact, kind="litres"))
            elif role is None:
                found.append(fact)
        self.facts = Facts(found, self.facts.items)

    def _cost(self, measured: list[Fact], numbers: list[Fact], roles: tuple[str, ...]) -> float | None:
        """What speaks against a way of reading the bare numbers; None where it cannot be."""
        blocks = [(f.at, str(f.name)) for f in self.facts.of("block")]
        blocks += [
            (n.at, str(_block_name(n, self.own))) for n, role in zip(numbers, roles, strict=True) if role == "block"
        ]
        volumes = [(f.at, f.value) for f in measured] + [
            (n.at, n.value) for n, role in zip(numbers, roles, strict=True) if role == "litres"
        ]
        blocks.sort()
        volumes.sort(key=lambda each: each[0])
        cost = sum(NOISE_COST if role == "noise" else 0.0 for role in roles)
        names = [name for _, name in blocks]
        days = len(self.facts.of("day"))
        if (
            len(set(names)) < len(names)
            and days < 2
            and not self.facts.has("drc_value", "again", "fix", "not", "lump", "rain")
        ):
            return None
        if not volumes:
            return None if any(role != "noise" for role in roles) else cost
        if names and len(volumes) > len(names) and days < 2 and not self.facts.has("or", "not", "self", "again", "fix"):
            return None
        if not names and len(volumes) > max(1, days) and not self.facts.has("or", "not", "self", "fix"):
            return None
        pairs = _paired(volumes, blocks) if names else [(value, None) for _, value in volumes]
        for value, name in pairs:
            fit = self._fits(value, name)
            if fit is None:
                bare = any(n.value == value and role == "litres" for n, role in zip(numbers, roles, strict=True))
                if bare:
                    return None if not self.facts.of("block") and names else cost + 3.0
                cost += 1.0
                continue
            cost += fit
        bare_blocks = sum(role == "block" for role in roles)
        return cost + 0.3 * max(0, len(names) - len(volumes)) + 0.05 * bare_blocks

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
            own = _block_name(numbers[0], self.own)
            pending = Record(What.LATEX, self.today, own or str(numbers[0].name), litres=numbers[1].value)
            return self._ask(Ask.LITRES if own else Ask.BLOCK, [pending], () if own else self.own)
        plausible = self._fits(numbers[0].value, None) is not None
        ask = Ask.BLOCK if plausible else Ask.LITRES
        return self._ask(ask, [Record(What.LATEX, self.today, litres=numbers[0].value)], self.own)

    # putting latex together

    def _assembled(self, quantities: list[Fact], unit: str) -> list[Record] | Reading:
        quantities = self._without_withdrawn(quantities)
        if self.facts.has("or") and self._alternatives(quantities):
            return self._ask(Ask.LITRES, [Record(What.LATEX, self.today, self._only_block())])
        bad = self._bad_block()
        if bad is not None and not corrections.block_was(self.facts):
            return bad
        blocks = self._blocks_for_latex(quantities)
        if unit == "litres" and any(fact.kind == "unmeasured" for fact in quantities):
            return self._ask(
                Ask.LITRES, [Record(What.LATEX, self.today, blocks[0].name if blocks else self._only_block())]
            )
        if not blocks:
            return self._without_blocks(quantities, unit)
        if len(quantities) < len({fact.name for fact in blocks}) and self._shared(blocks, quantities):
            return self._ask(Ask.LITRES, [Record(What.LATEX, self.today, blocks[0].name)])
        if (
            len(blocks) == 1
            and len(quantities) == 2
            and len(self.facts.of("day")) < 2
            and self.facts.has("fix", "not")
            and not self.facts.has("again", "plus")
        ):
            quantities, self.corrects = quantities[-1:], True
        places = [(fact.at, str(fact.name)) for fact in blocks]
        pairs = _paired([(fact.at, fact) for fact in quantities], places)
        records = [self._latex_record(fact, name, unit, len(quantities)) for fact, name in pairs]
        return self._plausible(self._with_drc(self._joined(records), pairs))

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
        for fact in kept or blocks:
            if len(self.facts.of("day")) < 2 and any(each.name == fact.name for each in seen):
                continue
            seen.append(fact)
        return seen

    def _rests(self, block: Fact, quantities: list[Fact]) -> bool:
        """A block behind the last quantity with word of rest behind it: `B 17 l, A and C rest`."""
        idle = [each for each in self.facts.of("not_tapped", "rest", "wintering") if each.at > block.at]
        return bool(idle) and bool(quantities) and block.at > quantities[-1].at

    def _shared(self, blocks: list[Fact], quantities: list[Fact]) -> bool:
        """One total for several blocks: they stand side by side, or the text says together."""
        if self.facts.has("together") and len(quantities) == 1:
            return True
        near = [fact for fact in blocks if abs(fact.at - quantities[0].at) <= 6]
        side_by_side = any(b.at - a.at <= 3 for a, b in zip(near, near[1:], strict=False))
        return len(quantities) == 1 and side_by_side

    def _alternatives(self, quantities: list[Fact]) -> bool:
        for fact in self.facts.of("or"):
            before = any(0 < fact.at - each.at <= 3 for each in quantities)
            after = any(0 < each.at - fact.at <= 3 for each in quantities)
            if before and after:
                return True
        return False

    def _without_withdrawn(self, quantities: list[Fact]) -> list[Fact]:
        """`19 no wait 21`, `17 not 18`: the figure that was taken back is left out."""
        gone: set[int] = set()
        for one, two in zip(quantities, quantities[1:], strict=False):
            between = [each for each in self.facts.found if one.at < each.at < two.at]
            if any(each.kind == "block" for each in between) or two.at - one.at > 7:
                continue
            if any(each.kind == "self" and not self._is_plain_not(each, between) for each in between):
                gone.add(one.at)
            elif any(each.kind == "not" for each in between):
                gone.add(two.at)
        first = quantities[0] if quantities else None
        if first is not None and len(quantities) > 1 and not gone:
            negated = any(each.kind in ("not", "no") and 0 < first.at - each.at <= 2 for each in self.facts.found)
            if negated:
                gone.add(first.at)
        return [fact for fact in quantities if fact.at not in gone]

    @staticmethod
    def _is_plain_not(fact: Fact, between: list[Fact]) -> bool:
        return any(each.at == fact.at and each.kind == "not" for each in between)

    def _without_blocks(self, quantities: list[Fact], unit: str) -> list[Record] | Reading:
        many_days = len(self.facts.of("day")) > 1
        if len(self.own) == 1:
            chosen = quantities if many_days else quantities[:1] if not self.facts.has("again") else quantities
            if len(quantities) > 1 and not many_days and self.facts.has("plus", "again", "total"):
                chosen = quantities
            records = [self._latex_record(fact, self.own[0], unit, len(chosen)) for fact in chosen]
            return self._plausible(self._with_drc(self._joined(records), []))
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

    def _joined(self, records: list[Record]) -> list[Record]:
        return records

    def _with_drc(self, records: list[Record], pairs: list[tuple[Fact, str]]) -> list[Record]:
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

    # no tapping

    def _not_tapped(self, records: list[Record]) -> list[Record] | Reading:
        said = self.facts.of("not_tapped")
        reasons = self.facts.of("sick", "rest", "holiday", "wintering", "other")
        latex = [record for record in records if record.what is What.LATEX]
        rained = bool(self.rains())
        if latex:
            return self._idle_blocks(said, latex)
        if records or self.facts.has("again_me"):
            return []
        if (
            not said
            and not rained
            and not any(each.kind in ("sick", "holiday", "wintering", "rest") for each in reasons)
        ):
            other_only = [each for each in reasons if each.kind == "other"]
            if not other_only or self._quantities():
                return []
        if self.facts.has("ask", "question") and not said:
            return []
        bad = self._bad_block()
        if bad is not None:
            return bad
        why = self._why()
        names = list(dict.fromkeys(fact.name for fact in self.facts.of("block"))) or [ALL_BLOCKS]
        days = (
            [self.day_of(None)[0]]
            if len(self.facts.of("day")) < 2
            else [each.day.day for each in self.facts.of("day") if each.day]
        )
        return [Record(What.NO_TAPPING, day, name, reason=why) for name in names for day in days]

    def _why(self) -> Reason:
        for tag, reason in REASONS:
            found = self.rains() if tag == "rain" else self.facts.of(tag)
            if found:
                return reason
        return (
            Reason.REST
            if self.facts.has("not_tapped") and any(item.key in RESTING for item in self.facts.items)
            else Reason.OTHER
        )

    def _idle_blocks(self, said: list[Fact], latex: list[Record]) -> list[Record]:
        """Blocks that rest beside others that gave: `el mango en descanso, la vega 19`."""
        done = {record.block for record in latex}
        idle = [*said, *self.facts.of("rest", "wintering", "sick")]
        out = self._idle_days(said, latex)
        for fact in self.facts.of("block"):
            near = [each for each in idle if each.clause == fact.clause and not self._between(fact, each)]
            if fact.name not in done and near:
                tags = {each.kind for each in near}
                reason = next((r for tag, r in REASONS if tag in tags), self._why())
                done.add(fact.name)
                day, _ = self.day_of(fact)
                out.append(Record(What.NO_TAPPING, day, fact.name, reason=reason))
        return out

    def _between(self, one: Fact, two: Fact) -> bool:
        low, high = sorted((one.at, two.at))
        return any(low < each.at < high for each in self.all.of("litres", "number", "kg"))

    def _idle_days(self, said: list[Fact], latex: list[Record]) -> list[Record]:
        """Days of rest beside others with latex: `sat 7 l, sun no tapping`."""
        out: list[Record] = []
        for fact in [*said, *self.facts.of("rest")]:
            beside = [each for each in self.facts.found if each.clause == fact.clause]
            days = [each.day.day for each in beside if each.kind == "day" and each.day]
            busy = any(each.kind in ("litres", "number", "kg", "block") for each in beside)
            if (
                days
                and not busy
                and days[0] not in {record.day for record in latex}
                and days[0] not in {r.day for r in out}
            ):
                tags = {
                    each.kind
                    for each in [
                        *beside,
                        *(e for e in self.facts.found if e.clause == fact.clause + 1 and e.kind == "sick"),
                    ]
                }
                why = next((reason for tag, reason in REASONS if tag in tags), Reason.REST)
                out.append(Record(What.NO_TAPPING, days[0], ALL_BLOCKS, reason=why))
        return out

    # nothing to enter

    def _nothing(self) -> Reading:
        if self.facts.has("undo"):
            return Reading(Intent.UNDO)
        if self.facts.has("dispute"):
            return Reading(Intent.DISPUTE)
        if self.all.has("chat", "yes", "keep", "decline", "again_me", "ahead", "about_tomorrow"):
            return Reading(Intent.CHAT)
        if self.facts.has("ask", "question"):
            return Reading(Intent.UNKNOWN)
        known = [item for item in self.facts.items if item.kind == "word" and item.tags and not item.has("slip")]
        words = [item for item in self.facts.items if item.kind == "word"]
        emoji = bool(self.facts.items) and not words and not self.facts.of("number")
        return Reading(
            Intent.CHAT if emoji and _is_smile(self.facts) else Intent.UNKNOWN,
            grounds=(f"{len(known)} of {len(words)} words known",),
        )


#: Words that alone mean an ordinary day of rest.
RESTING = frozenset(
    {
        "off",
        "libur",
        "cuti",
        "หยุด",
        "พัก",
        "nghi",
        "descanso",
        "repos",
        "conge",
        "rest",
        "off today",
        "day off",
        "absent",
        "idle",
        "nghi cao",
        "หยุดกรีด",
        "พักกรีด",
    }
)

#: Costs: a bare number that is neither block nor litres; the lead that a reading needs over another.
NOISE_COST, MARGIN = 1.2, 0.6


def _reports_elsewhere(facts: Facts, ahead: Fact) -> bool:
    """Whether another clause reports something measured, so that this one is a mere plan."""
    return any(fact.kind in MEASURED and fact.clause != ahead.clause for fact in facts.found)


def _is_smile(facts: Facts) -> bool:
    return any(ord(item.text[0]) > 0x2600 for item in facts.items if item.text)


def _block_name(fact: Fact, own: tuple[str, ...]) -> str | None:
    if fact.value is None or fact.value != int(fact.value):
        return None
    name = str(int(fact.value))
    return name if name in own else None


def _roles(numbers: list[Fact], own: tuple[str, ...], measured: bool) -> list[tuple[str, ...]]:
    choices = []
    for fact in numbers:
        roles = ["litres", "noise"]
        if _block_name(fact, own) is not None:
            roles.insert(0, "block")
        choices.append(roles)
    if len(numbers) > MOST_WEIGHED:
        choices = [["block", "litres"] if "block" in roles else ["litres"] for roles in choices]
        if len(numbers) > 2 * MOST_WEIGHED:
            choices = [roles[:1] for roles in choices]
    return list(product(*choices))[:4096]


def _paired(volumes: list, blocks: list[tuple[int, str]]) -> list:  # type: ignore[type-arg]
    """Each volume with the block that it goes with: all blocks before their volumes, or all behind, whichever stands nearer."""
    if not blocks:
        return [(value, None) for _, value in volumes]
    if len(blocks) == 1:
        return [(value, blocks[0][1]) for _, value in volumes]
    best: tuple[float, list] | None = None  # type: ignore[type-arg]
    order = sorted(blocks)
    for bits in product((0, 1), repeat=min(len(volumes), 6)):
        pairs, cost, used = [], 0.0, set()
        for n, (at, value) in enumerate(volumes):
            behind = bits[n] if n < len(bits) else bits[-1]
            near = [b for b in order if b[0] > at][:1] if behind else [b for b in order if b[0] < at][-1:]
            if not near:
                cost += 50
                near = [min(order, key=lambda b: abs(b[0] - at))]
            block = near[0]
            cost += (
                abs(block[0] - at)
                + (0.5 if behind else 0)
                + (30 if block in used and len(order) >= len(volumes) else 0)
            )
            used.add(block)
            pairs.append((value, block[1]))
        if best is None or cost < best[0]:
            best = (cost, pairs)
    assert best is not None
    return best[1]


__all__ = ["Reader"]

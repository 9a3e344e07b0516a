"""Work in the field and at the shed: sheets, lump, stimulation, dry trees, and where there was no tapping."""

from parsers.facts import BREAKS, REPORTED, Fact
from parsers.pairing import paired
from parsers.reading import ALL_BLOCKS, Ask, Intent, Reading, Reason, Record, What
from parsers.sheets import Sheets
from parsers.weighing import block_name

REASONS = (
    ("sick", Reason.SICK),
    ("holiday", Reason.HOLIDAY),
    ("wintering", Reason.WINTERING),
    ("other", Reason.OTHER),
    ("rain", Reason.RAIN),
    ("rest", Reason.REST),
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


class Field(Sheets):
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

    def _lump(self) -> list[Record] | Reading:
        found = self.facts.of("lump")
        if not found:
            return []
        kilos = self._without_withdrawn(self.facts.of("kg"))
        self._spend(*self._unit_taken_back(kilos))
        if not kilos and not self.facts.has("litres", "bags"):
            kilos = [
                each for each in self._without_withdrawn(self.facts.of("number")) if not self._counts_unknown(each)
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
        if len({fact.name for fact in named}) == 1 and (not self.facts.has("all") or not self.facts.has("litres")):
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

    def _counts_unknown(self, number: Fact) -> bool:
        """`3 gunks`: a bare number before a word that is not understood is no kilos."""
        items = self.facts.items
        behind = items[number.at + 1] if number.at + 1 < len(items) else None
        return behind is not None and behind.kind == "word" and not behind.tags and len(behind.key) > 2

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
        if self.facts.has("not_tapped") and not measured and all(block_name(each, self.own) for each in numbers):
            return []
        if self.facts.has("not_tapped") and not measured and not self.facts.has("block") and len(numbers) == 1:
            return []  # `in ward 4, no tapping today`
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

    def _not_tapped(self, records: list[Record]) -> list[Record] | Reading:
        said = self.facts.of("not_tapped")
        reasons = self.facts.of("sick", "rest", "holiday", "wintering", "other")
        latex = [record for record in records if record.what is What.LATEX]
        rained = bool(self.rains())
        if latex:
            return self._idle_blocks(said, latex)
        if records or (self.facts.has("again_me") and not (said and (reasons or rained))):
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
        bare = [each for each in self.facts.of("number") if block_name(each, self.own)]
        if bare and not self.facts.has("litres", "kg", "sheets"):
            self._take_roles(bare, ("block",) * len(bare))
        names = list(dict.fromkeys(fact.name for fact in self.facts.of("block"))) or [ALL_BLOCKS]
        since = self._only_since()
        days = (
            [self.today]
            if since
            else [self.day_of(None)[0]]
            if len(self.facts.of("day")) < 2
            else [each.day.day for each in self._days_idle() if each.day]
        )
        return [Record(What.NO_TAPPING, day, name, reason=why) for name in names for day in days]

    def _only_since(self) -> bool:
        """`fever since yesterday, I do not tap`: the one day named is when it began; what is said is said of today."""
        since = [each.at for each in self.facts.of("span") if each.name == "since"]
        days = self.facts.of("day")
        return len(days) == 1 and any(0 < days[0].at - at <= 2 for at in since) and self.facts.has("not_tapped")

    def _days_idle(self) -> list[Fact]:
        """The days named; one that something lasts since is none of them where another is named (`sick since yesterday`)."""
        since = [each.at for each in self.facts.of("span") if each.name == "since"]
        days = self.facts.of("day")
        return [each for each in days if not any(0 < each.at - at <= 2 for at in since)] or days

    def _why(self) -> Reason:
        for tag, reason in REASONS:
            found = self.rains() if tag == "rain" else self.facts.of(tag)
            if tag == "other":  # `giỗ` and `giờ` are one word without their marks
                found = [e for e in found if not self.facts.items[e.at].has("oclock", "started", "container")]
            if tag == "other" and all(self.facts.items[e.at].has("flood") for e in found) and self.rains():
                continue  # the water came with the rain
            if found:
                return reason
        if self.all.has("holiday"):
            return Reason.HOLIDAY  # `tomorrow is the feast, today we rest`
        return (
            Reason.REST
            if self.facts.has("not_tapped") and any(item.key in RESTING for item in self.facts.items)
            else Reason.OTHER
        )

    def _idle_blocks(self, said: list[Fact], latex: list[Record]) -> list[Record]:
        """Blocks that rest beside others that gave: `el mango en descanso, la vega 19`."""
        done = {(record.block, record.day) for record in latex}
        idle = [*said, *self.facts.of("rest", "wintering", "sick")]
        out = self._idle_days(said, latex)
        blocks, busy = self.facts.of("block"), {each.clause for each in self.all.of("litres", "number", "kg")}
        for fact in blocks:
            near = [each for each in idle if each.clause == fact.clause and not self._between(fact, each)]
            behind = fact.clause + 1
            if not near and not {fact.clause, behind} & (busy | {b.clause for b in blocks if b is not fact}):
                near = [each for each in idle if each.clause == behind]
            day, _ = self.day_of(fact)
            if (fact.name, day) not in done and near:
                tags = {each.kind for each in near}
                tags |= {e.kind for e in self.facts.of("other", "sick", "wintering") if e.clause == fact.clause}
                tags |= {
                    "rain"
                    for rain in self.facts.of("rain")
                    if rain.clause == fact.clause or (rain.clause == fact.clause + 1 and self._behind_idle(rain))
                }
                reason = next((r for tag, r in REASONS if tag in tags), self._why())
                done.add((fact.name, day))
                out.append(Record(What.NO_TAPPING, day, fact.name, reason=reason))
        return out

    def _between(self, one: Fact, two: Fact) -> bool:
        low, high = sorted((one.at, two.at))
        return any(low < each.at < high for each in self.facts.of("litres", "number", "kg"))

    def _right_behind_day(self, idle: Fact) -> Fact | None:
        """`monday 30 l wednesday rest`: the last day before, where nothing is reported between, in a clause with litres."""
        days = [each for each in self.facts.of("day") if each.clause == idle.clause and each.at < idle.at]
        if not days or not any(each.clause == idle.clause for each in self.facts.of("litres", "number", "kg")):
            return None
        between = [each for each in self.facts.found if days[-1].at < each.at < idle.at]
        reported = any(each.kind in REPORTED - {"not_tapped"} or each.kind == "block" for each in between)
        return None if reported or len(days) < 2 else days[-1]

    def _idle_days(self, said: list[Fact], latex: list[Record]) -> list[Record]:
        """Days of rest beside others with latex: `sat 7 l, sun no tapping`."""
        out: list[Record] = []
        for fact in [*said, *self.facts.of("rest")]:
            beside = [each for each in self.facts.found if each.clause == fact.clause]
            before = [each for each in self.facts.found if each.clause == fact.clause - 1]
            if not any(each.kind in ("day", "block") for each in beside) and not any(
                e.kind in REPORTED for e in before
            ):
                beside = [*before, *beside]  # `yesterday feast, we did not tap`
            behind_day = self._right_behind_day(fact)
            if behind_day is not None:
                beside = [behind_day]
            days = [each.day.day for each in beside if each.kind == "day" and each.day]
            busy = any(each.kind in (*REPORTED - {"not_tapped"}, "block") for each in beside)
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

"""What a text says of today: plans and quotations left out, with the day and the rain that go with each quantity."""

from datetime import date

from parsers import corrections
from parsers.days import log_day
from parsers.facts import Fact, Facts
from parsers.reading import Ask, Intent, Reading, Record, Role, Setting, What

#: Facts that are measured, and those that make a clause a report of its own.
MEASURED = ("litres", "number", "kg", "unmeasured", "sheets", "bags")
SOLID = (*MEASURED, "not_tapped")


#: Signs that end a sentence.
SENTENCE = ".!?\n"

#: What may be said of a day that is another matter's.
IDLE_TALK = frozenset({
    "from", "for", "day", "this_is", "chat", "duration", "persons", "people", "person", "yes", "time", "who", "number", "phone", "cm",
    "price_value", "pay", "goods", "fuel", "requested", "other",
})  # fmt: skip


class Gathering:
    """The facts of one text in its setting, without plans and quotations."""

    def __init__(self, facts: Facts, setting: Setting) -> None:
        self.dated_ahead = False
        self.setting = setting
        self.own = self._own_blocks()
        self.told = self._without_plans(facts)
        self.facts = self.told
        self.all = facts
        self.today = log_day(setting.sent_at)
        self.grounds: list[str] = []
        self.corrects = False
        self.bounded = False

    def _own_blocks(self) -> tuple[str, ...]:
        if self.setting.own_blocks or self.setting.role is Role.TAPPER:
            return self.setting.own_blocks
        return tuple(self.setting.blocks) if self.setting.role is Role.OWNER else ()

    def _without_plans(self, facts: Facts) -> Facts:
        """What is planned or left for later, and what is only quoted, is not said of today."""
        facts = self._without_days_ahead(facts)
        later = {fact.clause for fact in facts.of("about_tomorrow")}
        solid = {fact.clause for fact in facts.of(*SOLID) if not (fact.clause in later and self._is_own_block(fact))}
        quoted = {fact.clause for fact in facts.of("quoted")}
        asks_ready = facts.has("ask") and (facts.has("ready") or (facts.has("dry") and facts.has("sheet")))
        asks_ready = asks_ready or (facts.has("week") and not solid)
        drop = (
            {clause for clause in later if clause not in solid}
            if (solid - later or not solid) and not asks_ready
            else set()
        )
        if quoted and solid - quoted:
            drop |= quoted | self._quoted_lines(facts, quoted)
        facts = self._without_denied(facts)
        old = {*self._before_next_day(facts), *self._asked_about(facts), *self._days_of_others(facts)}
        kept = {fact.at for fact in facts.of("day", "block")} if corrections.set_right(facts) else set()
        put_right = quoted & {fact.clause for fact in facts.of("fix")}  # `what I sent for 6 is wrong, put 13`
        kept |= {
            fact.at
            for fact in facts.of("block", "fix", "number")
            if fact.clause in put_right and (fact.kind != "number" or self._is_own_block(fact))
        }
        return Facts(
            [fact for fact in facts.found if fact.at in kept or (fact.clause not in drop and fact.at not in old)],
            facts.items,
        )

    def _is_own_block(self, fact: Fact) -> bool:
        """`16 tomorrow`: a bare number that is the name of a block, in a clause about what is planned."""
        return fact.kind == "number" and fact.name in self.own

    @staticmethod
    def _days_of_others(facts: Facts) -> set[int]:
        """`church 20, ridge 23 and Saturday is my son's graduation`: a weekday behind all figures, before something else."""
        figures = facts.of("litres", "number", "kg")
        found: set[int] = set()
        for day in facts.of("day"):
            item = facts.items[day.at]
            later = figures and day.at > max(each.at for each in figures)
            behind = facts.items[day.at + 1 : day.at + 6]
            matter = any(each.has("other", "holiday") for each in behind if each.kind == "word")
            if later and item.has("weekday") and len(facts.of("day")) == 1 and matter and not facts.has("not_tapped"):
                found.add(day.at)
        return found

    @staticmethod
    def _before_next_day(facts: Facts) -> range:
        """`yesterday's I sent, north 17, south 12, today north 18`: what was sent reaches to the next day that is named."""
        for quoted in facts.of("quoted"):
            near = [each for each in facts.of("day") if each.clause == quoted.clause and each.at - quoted.at <= 2]
            after = [each for each in facts.of("day") if each.at > max(quoted.at, *(day.at for day in near[:1]), 0)]
            told = any(each.clause == quoted.clause and each.at > quoted.at for each in facts.of(*SOLID))
            sent = [each for each in facts.of(*SOLID) if each.at < quoted.at]
            first = [each for each in facts.of("day") if each.at < quoted.at]
            if (
                sent
                and not told
                and after
                and any(each.at > after[0].at for each in facts.of(*SOLID))
                and len(first) < 2
            ):
                return range(after[0].at)  # `yesterday north 17, that one I sent already. today north 18`
            led = quoted.at == 0 and not near and len(facts.items) > 1 and facts.items[1].text == ":"
            alone = quoted.at < 2 and all(item.kind == "sign" for item in facts.items[quoted.at + 1 : quoted.at + 2])
            days = facts.of("day")
            if alone and len(days) == 2 and any(each.at > days[1].at for each in facts.of(*SOLID)):
                return range(days[1].at)  # `(fwd) yesterday: 25 --- today 22`
            if (near or led) and after and any(each.at > after[0].at for each in facts.of(*SOLID)):
                return range(min([quoted.at, *(day.at for day in near[:1])]), after[0].at)
        return range(0)

    @staticmethod
    def _without_denied(facts: Facts) -> Facts:
        """`not lump`, `I did not take Ana's 40 kg`: a kind that is denied right before, and what was not taken."""
        denials = {each.at for each in facts.of("not", "no")}
        gone = {each.at for each in facts.of("lump", "stimulated") if {each.at - 1, each.at - 2} & denials}
        for taken in facts.of("collected"):
            if {taken.at - 1, taken.at - 2} & denials and len({each.clause for each in facts.of("collected")}) > 1:
                gone |= {each.at for each in facts.found if each.clause == taken.clause}
        return Facts([each for each in facts.found if each.at not in gone], facts.items) if gone else facts

    @staticmethod
    def _asked_about(facts: Facts) -> range:
        """`did you note my 24 litres of yesterday? this morning 22`: a question about what was sent, and then a report."""
        mark = next((each.at for each in facts.of("question")), None)
        if mark is None:
            return range(0)
        start = mark
        while start > 0 and facts.items[start - 1].text not in SENTENCE:
            start -= 1
        inside = [each for each in facts.found if start <= each.at < mark]
        solid = [each for each in facts.of(*SOLID) if start <= each.at < mark]
        after = [each for each in facts.of(*SOLID) if each.at > mark]
        past = any(each.kind == "day" and each.day is not None for each in inside)
        sent = past and any(each.kind in ("texting", "yes", "ask", "quoted") for each in inside)
        again = any(item.kind == "word" and item.has("noted") for item in facts.items[start:mark])
        return range(start, mark) if solid and after and (sent or (past and again)) else range(0)

    @staticmethod
    def _quoted_lines(facts: Facts, quoted: set[int]) -> set[int]:
        """The clauses of the lines on which something is quoted, where another line reports."""
        ends = [at for at, item in enumerate(facts.items) if item.text == "\n"]
        lines = {fact.at: sum(end < fact.at for end in ends) for fact in facts.found}
        told = {lines[fact.at] for fact in facts.found if fact.clause in quoted}
        reports = {lines[fact.at] for fact in facts.of(*SOLID)} - told
        return {fact.clause for fact in facts.found if lines[fact.at] in told} if reports else set()

    def _without_days_ahead(self, facts: Facts) -> Facts:
        """What is said of a day to come is a plan; litres that are dated so have to be asked about."""
        gone: set[int] = set()
        if facts.has("ready") and facts.has("ask", "question"):
            return facts
        for ahead in facts.of("ahead"):
            beside = [fact for fact in facts.found if fact.clause == ahead.clause and fact is not ahead]
            before = [fact for fact in beside if fact.kind in MEASURED and fact.at < ahead.at]
            behind = [fact for fact in beside if fact.at > ahead.at]
            beside_day = [fact for fact in beside if fact.kind == "block" and 0 < ahead.at - fact.at <= 2]
            plan = self._plan_before_day(facts, ahead)
            if plan:
                gone |= plan
                continue
            told = [fact for fact in before if beside_day and fact.at < beside_day[0].at]
            if told and not behind and len([f for f in beside if f.kind == "block"]) > len(told):
                gone |= {ahead.at, beside_day[0].at}  # `river 20 litres hilltop tomorrow`
            elif before and any(fact.kind in (*SOLID, "rest", "block", "all") for fact in behind):
                gone |= {fact.at for fact in behind}
            elif before and all(each.kind == "number" and each.name in self.own for each in before):
                gone |= {fact.at for fact in beside}  # `12 and 14 tomorrow`: blocks, not litres
            elif before and self._goes_on(facts, ahead):
                gone |= {fact.at for fact in behind} | {ahead.at}
            elif any(self._measures(fact, beside) for fact in beside) and not _reports_elsewhere(facts, ahead):
                self.dated_ahead = True
            else:
                gone |= {fact.at for fact in beside}
        return Facts([fact for fact in facts.found if fact.at not in gone], facts.items)

    def _measures(self, fact: Fact, beside: list[Fact]) -> bool:
        """Something measured; the bare number of a block beside what is done to it (`tomorrow I stimulate 7`) is not."""
        done = any(each.kind == "stimulated" for each in beside)
        return fact.kind in MEASURED and not (done and self._is_own_block(fact))

    @staticmethod
    def _plan_before_day(facts: Facts, ahead: Fact) -> set[int]:
        """`tomorrow we tap 12 today 15 gave 20 litres`: a plan reaches to the day that is named next, with its quantities."""
        days = [each.at for each in facts.of("day") if each.at > ahead.at and each.clause == ahead.clause]
        measured = [each.at for each in facts.of(*MEASURED) if each.clause == ahead.clause]
        if not days or not any(at > days[0] for at in measured) or any(at < days[0] for at in measured):
            return set()
        return {each.at for each in facts.found if ahead.at <= each.at < days[0]}

    @staticmethod
    def _goes_on(facts: Facts, ahead: Fact) -> bool:
        """Words behind `tomorrow` say what is planned then; alone at the end it dates what stands before it."""
        behind = [item for item in facts.items[ahead.at + 1 :] if item.kind == "word"]
        return len([item for item in behind if not item.has("chat")]) >= 2

    def day_of(self, fact: Fact | None) -> tuple[date | None, bool]:
        """The day that goes with a fact, and whether it was said. None for one that has to be asked."""
        denied = corrections.day_was(self.facts)
        days = [each for each in self.facts.of("day") if denied is None or each.day is None or each.day.day != denied]
        days = [each for each in days if not self._of_another_matter(each)]
        if fact is not None:
            days = [each for each in days if not self._of_other_work(each, fact)]
        if not days:
            return self.today, False
        if any(each.day is not None and each.day.day is None for each in days):
            return None, True  # `31 June`: which day is meant has to be asked, whatever else is said
        if len(days) == 1 and fact is not None and (self._of_one_block(days[0], fact) or self._of_trees(days[0], fact)):
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

    def _of_other_work(self, day: Fact, fact: Fact) -> bool:
        """`5 gave 13 litres. I stimulated 3 yesterday`: the day is said of the work of a later sentence."""
        if fact.kind not in ("litres", "number", "kg") or fact.at > day.at:
            return False
        start, end = self._between_signs(day.at, SENTENCE)
        work = any(start <= each.at < end for each in self.all.of("stimulated", "dry_trees", "lump"))
        solid = any(start <= each.at < end for each in self.all.of("litres"))
        return work and not solid and not start <= fact.at < end

    def _of_another_matter(self, day: Fact) -> bool:
        """`T1 17 L, my baby was born last night`: behind the latex, a clause of unknown words that reports nothing."""
        behind = any(each.clause < day.clause for each in self.facts.of(*SOLID))
        last_night = self.facts.items[day.at].has("night")
        start, end = self._between_signs(day.at, ",;" + SENTENCE if behind or last_night else SENTENCE)
        inside = [each for each in self.all.found if start <= each.at < end]
        idle = IDLE_TALK | {"late", "late_report"} if last_night else IDLE_TALK
        reports = any(each.kind not in idle for each in inside)
        elsewhere = any(not start <= each.at < end for each in self.facts.of(*SOLID))
        words = [item for item in self.facts.items[start:end] if item.kind == "word"]
        unknown = [item for item in words if not item.tags and len(item.key) > 2]
        enough = len(unknown) * 4 >= len(words) if behind else len(unknown) > 1 and len(unknown) * 5 >= len(words)
        dry = any(each.kind == "dry_sky" for each in inside) and not any(each.kind in SOLID for each in inside)
        return elsewhere and ((not reports and enough) or dry)  # `heavy rain in town yesterday, here not a drop.`

    def _between_signs(self, at: int, signs: str) -> tuple[int, int]:
        """The places between the signs that stand around an item."""
        items = self.facts.items
        start, end = at, at + 1
        while start > 0 and not (items[start - 1].kind == "sign" and items[start - 1].text in signs):
            start -= 1
        while end < len(items) and not (items[end].kind == "sign" and items[end].text in signs):
            end += 1
        return start, end

    def _of_one_block(self, day: Fact, fact: Fact) -> bool:
        """`north 25, south 14, east yesterday 17`: a day between a block and its litres says nothing of those before."""
        beside = any(each.at == day.at - 1 for each in self.all.of("block"))
        quantities = self.all.of("litres", "number", "kg")
        behind = [each for each in quantities if each.at > day.at]
        return beside and bool(behind) and fact.at < day.at and fact.kind in ("litres", "number", "kg")

    def _of_trees(self, day: Fact, fact: Fact) -> bool:
        """`17 litres. 30 trees were left last night`: the day goes with the trees of its own clause."""
        trees = any(each.clause == day.clause for each in self.all.of("trees"))
        return trees and day.clause > fact.clause and fact.kind in ("litres", "number")

    def flags(self, fact: Fact, name: str | None, count: int) -> dict[str, bool]:
        """Rain and late for a quantity: said of it, or of all."""
        out = {}
        if self._rained_on(fact, name, count):
            out["rain"] = True
        if self.facts.has("late") and not self.facts.has("late_report") and self._late_with(name, count):
            out["late"] = True
        return out

    def _late_with(self, name: str | None, count: int) -> bool:
        """Whether late goes with a block: said of all, unless a clause without litres says it of some blocks only."""
        solid = {each.clause for each in self.facts.of("litres", "number", "kg")}
        clauses = {each.clause for each in self.facts.of("late")}
        if count == 1 or clauses & solid:
            return True
        named = {each.name for each in self.all.of("block") if each.clause in clauses}
        return not named or name in named

    def _rained_on(self, fact: Fact, name: str | None, count: int) -> bool:
        """Whether rain goes with a quantity: said of its block, nearest to it where some rain is denied, or said of all."""
        rains = self.rains()
        if not rains:
            return False
        if count == 1:
            return True
        spoken_of = [block for rain in rains if (block := self._spoken_of(rain)) is not None]
        if len(spoken_of) == len(rains):
            return name in spoken_of
        denied = [each for each in self.facts.of("rain") if each not in rains]
        if denied and name is not None:
            of_name = [each for each in (*rains, *denied) if self._said_behind(each) == name]
            if of_name:
                return of_name[-1] in rains
        if denied:
            nearest = min(
                [*rains, *denied],
                key=lambda each: (each.clause != fact.clause, abs(each.at - fact.at), each.at < fact.at),
            )
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
        if all(self._within_pair(rain) for rain in rains):
            return fact.clause in near
        local = near <= solid and near != {min(solid)} and max(near) != max(solid)
        return not local or fact.clause in near

    def _said_behind(self, rain: Fact) -> str | None:
        """The block that was named last before a word of rain."""
        before = [each for each in self.all.of("block") if each.at < rain.at]
        return before[-1].name if before else None

    def _spoken_of(self, rain: Fact) -> str | None:
        """The block that rain right before it speaks of, where that block was named with its litres already."""
        after = [each for each in self.all.of("block") if 0 < each.at - rain.at <= 6]
        before = {each.name for each in self.all.of("block") if each.at < rain.at}
        quantities = self.all.of("litres", "number", "kg")
        if not after or after[0].name not in before or any(each.at > rain.at for each in quantities):
            return None
        return after[0].name

    def _within_pair(self, rain: Fact) -> bool:
        """Rain that is said between a block and its quantity: `block 7 got rain, 12 litres` speaks of that block."""
        before = [each for each in self.facts.of("block") if each.at < rain.at and each.clause == rain.clause]
        after = [e for e in self.facts.of("litres", "number", "kg") if e.at > rain.at and e.clause == rain.clause]
        return bool(before) and bool(after)

    def rains(self) -> list[Fact]:
        """Rain that is reported; `no rain` is none."""
        denials = {each.at for each in self.facts.of("no", "not")}
        plain = {each.at for each in self.facts.of("no")} if not self.facts.has("not_tapped") else set()
        nought = {each.at for each in self.all.of("number") if each.value == 0}  # `0 rain`
        return [
            fact
            for fact in self.facts.of("rain")
            if not {fact.at - 1, fact.at - 2} & denials
            and fact.at - 1 not in nought
            and not self._denied_behind(fact, plain)
            and not self._of_neighbours(fact)
            and not self._dry_here(fact)
            and not (self._idle_clause(fact.clause) or self._behind_idle(fact))
        ]

    def _dry_here(self, rain: Fact) -> bool:
        """`rain in town, here not a drop`: behind rain of which no block is named, it is said that none fell."""
        if any(0 < rain.at - each.at <= 2 and each.clause == rain.clause for each in self.all.of("dry_sky")):
            return True  # `not a drop of rain`
        named = any(each.clause == rain.clause for each in self.all.of("block"))
        places = {each.clause for each in self.all.of("block")}
        return not named and any(each.at > rain.at and each.clause not in places for each in self.all.of("dry_sky"))

    def _of_neighbours(self, rain: Fact) -> bool:
        """`the neighbour had rain`: of somebody else, in the clause that speaks of him."""
        start, end = self._between_signs(rain.at, ",;" + SENTENCE)
        return any(item.kind == "word" and item.has("neighbour") for item in self.facts.items[start:end])

    def _denied_behind(self, rain: Fact, denials: set[int]) -> bool:
        """`rain no, 18 litres`: a plain no behind the word, before a sign or the end where it does not follow at once."""
        items = self.facts.items
        for at in {rain.at + 1, rain.at + 2, rain.at + 3} & denials:
            ends = at == rain.at + 1 or at + 1 >= len(items) or items[at + 1].kind == "sign"
            if ends and all(item.has("ignore") for item in items[rain.at + 1 : at]):
                return True
        return False

    def _idle_clause(self, clause: int) -> bool:
        """A clause that says that there was no tapping, beside others with quantities: its rain is its reason."""
        if not any(each.clause == clause for each in self.facts.of("not_tapped")):
            return False
        solid = {each.clause for each in self.facts.of("litres", "number", "kg")}
        return bool(solid) and clause not in solid

    def _behind_idle(self, rain: Fact) -> bool:
        """Rain in a clause of its own right behind one that says there was no tapping: `b5 no tapping, rain there`."""
        alone = not any(
            each.clause == rain.clause and each.kind in (*MEASURED, "block", "all") for each in self.facts.found
        )
        return alone and self._idle_clause(rain.clause - 1)

    def _quantities(self) -> bool:
        return self.facts.has("litres", "kg", "sheets", "unmeasured", "price_value", "trees") or bool(
            [each for each in self.facts.of("number") if each.value]
        )

    def _ask(self, ask: Ask, pending: list[Record] | tuple[Record, ...], options: tuple[str, ...] = ()) -> Reading:
        return Reading(Intent.LOG, ask=ask, pending=tuple(pending), options=options)

    def _spend(self, *spent: Fact) -> None:
        self.facts = Facts([fact for fact in self.facts.found if fact not in spent], self.facts.items)

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

    def _only_block(self) -> str | None:
        blocks = self.facts.of("block")
        return blocks[0].name if blocks else (self.own[0] if len(self.own) == 1 else None)


def _reports_elsewhere(facts: Facts, ahead: Fact) -> bool:
    """Whether another clause reports something measured, so that this one is a mere plan."""
    return any(fact.kind in MEASURED and fact.clause != ahead.clause for fact in facts.found)

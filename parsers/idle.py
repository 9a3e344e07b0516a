"""Days and blocks without tapping, and why."""

from parsers.facts import REPORTED, Fact
from parsers.lumps import Lumps
from parsers.reading import ALL_BLOCKS, Reading, Reason, Record, Role, What
from parsers.weighing import block_name

#: What makes a day without tapping, in the order in which it counts.
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


class Idle(Lumps):
    """Reads days without tapping."""

    def _not_tapped(self, records: list[Record]) -> list[Record] | Reading:
        said = self.facts.of("not_tapped")
        reasons = self.facts.of("sick", "rest", "holiday", "wintering", "other")
        latex = [record for record in records if record.what is What.LATEX]
        rained = bool(self.rains())
        if latex:
            return self._idle_blocks(said, latex)
        if self.setting.role is Role.COLLECTOR:
            return []
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
        resting = self.facts.has("not_tapped") and any(item.key in RESTING for item in self.facts.items)
        return Reason.REST if resting else Reason.OTHER

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

"""What keeps a reading from being entered: a figure, a block or a unit in the text that it does not explain."""

from decimal import Decimal

from parsers import corrections
from parsers.facts import UNIT_WORDS, VESSEL, Fact
from parsers.reading import ALL_BLOCKS, Record, Role, What
from parsers.spelling import is_latin
from parsers.weighing import LEADING, Weighing, block_name

#: So many times less than usual is little for a block.
LOW = 4

#: What is measured in.
VOLUMES = ("litre", "kg", "container", "own_container", "half")

#: What stands where the next block is named.
NAMING = frozenset({"ignore", "block", "own_block", "from", "chat"})

#: Hours are said up to this number.
LAST_HOUR = 12


def _as_figure(name: str | None) -> Decimal | None:
    """The number that a block is called by."""
    return Decimal(name) if name is not None and name.isdecimal() else None


class Doubting(Weighing):
    """Looks for what the records of a text leave out."""

    def _left_out(self, records: list[Record]) -> str | None:
        """A block of the sender's that is named beside others with latex, of which nothing was understood."""
        done = {record.block for record in records}
        latex = any(record.what is What.LATEX for record in records)
        unsure = corrections.is_fix(self.facts) or self.facts.has("or", "again") or self._takes_a_word_back()
        if not latex or done & {ALL_BLOCKS, None} or unsure or self.setting.role is Role.COLLECTOR:
            return None
        later = [fact.at for fact in self.all.of("ahead", "about_tomorrow", "quoted")]
        blocks = self.told.of("block")
        for n, fact in enumerate(blocks):
            end = blocks[n + 1].at if n + 1 < len(blocks) else len(self.facts.items)
            if fact.name in self.own and fact.name not in done and not any(fact.at < at < end for at in later):
                return fact.name
        return next((each.name for each in self.told.of("number") if self._leads_clause(each, done)), None)

    def _takes_a_word_back(self) -> bool:
        """A word of taking back that is no plain `not` before other words (`el arroyo no lo rayamos`)."""
        items = self.facts.items
        for fact in self.facts.of("self"):
            after = items[fact.at + 1] if fact.at + 1 < len(items) else None
            plain = items[fact.at].has("not", "no") and after is not None and after.kind == "word"
            if not plain or (after is not None and after.has("own_block", "block", "self", "fix")):
                return True
        return False

    def _leads_clause(self, number: Fact, done: set[str | None]) -> bool:
        """`1 gave 18, 3 nothing`: a bare number of a block at the start of a clause without a quantity."""
        items, name = self.facts.items, block_name(number, self.own)
        first = number.at == 0 or items[number.at - 1].text in ",;.\n"
        step = 2 if number.at + 1 < len(items) and items[number.at + 1].text in ":-=" else 1
        after = items[number.at + step] if number.at + step < len(items) else None
        counted = after is None or after.has(*UNIT_WORDS) or after.kind != "word" or not after.tags
        others = [each for each in self.told.of("litres", "number", "kg") if each.clause == number.clause]
        return name is not None and name not in done and first and not counted and len(others) < 2

    def _unread(self, records: list[Record]) -> str | None:
        """The block of latex beside litres whose number was not understood: it may be part of it, or another's."""
        latex = [each for each in records if each.what is What.LATEX]
        return latex[0].block if latex and self.facts.has("unread") else None

    def _counted_things(self, records: list[Record]) -> str | None:
        """A bare number far below what a block gives, right before a word that is not understood (`p1 2 gamelles`): a vessel?"""
        for fact in self.told.of("number"):
            unknown = self._is_unknown(fact.at + 1) or self._two_unknown(fact.at + 1)
            for each in records if unknown else ():
                usual = self._usual(each.block)
                counted = each.what is What.LATEX and each.litres is not None and each.litres == fact.value
                if counted and usual is not None and 2 * (each.litres or 0) < usual:
                    return each.block
            if unknown and self._goes_on_behind(fact) and all(each.litres != fact.value for each in records):
                return next((each.block for each in records if each.what is What.LATEX), None)
        return None

    def _two_unknown(self, at: int) -> bool:
        """Whether two words stand there of which nothing is understood (`4 ka punoan`)."""
        words = self.facts.items[at : at + 2]
        return len(words) == 2 and all(item.kind == "word" and not item.tags for item in words)

    def _entered_denied(self, records: list[Record]) -> str | None:
        """`I did not get 32 litres, I got 22`: the figure that would be entered is the one that is denied."""
        items = self.facts.items
        breaks = {each.at for each in self.told.of("self")}
        for denied in [each for each in self.told.of("not", "no") if each.at not in breaks]:
            beside = items[max(0, denied.at - 1) : denied.at] + items[denied.at + 1 : denied.at + 2]
            of_rain = any(item.has("rain", "late", "sick", "drc", "latex") for item in beside)
            near = [
                each
                for each in self.told.of("litres")
                if 0 < each.at - denied.at <= 2
                and each.clause == denied.clause
                and all(item.tags for item in items[denied.at + 1 : each.at])
            ]
            for each in records:
                if near and not of_rain and each.what is What.LATEX and each.litres == near[0].value:
                    return each.block
        return None

    def _added_unknown(self, records: list[Record]) -> str | None:
        """`2 buckets and vraxol`, `1 bucket and 4 vraxol`: what is added to a volume is not understood."""
        items = self.facts.items
        latex = next((each.block for each in records if each.what is What.LATEX), None)
        bare = {fact.at for fact in self.told.of("number")}
        for at in range(2, len(items)) if latex is not None else ():
            if not self._is_unknown(at):
                continue
            adds = items[at - 1].has("plus") and (items[at - 2].kind == "number" or items[at - 2].has(*VOLUMES))
            plain = at + 1 == len(items) or items[at + 1].tags.keys() <= NAMING
            names_next = at + 1 < len(items) and items[at + 1].kind == "number"
            vessel = items[at - 2].has("container", "own_container")
            more = items[at - 2].has("plus") and at > 2 and items[at - 3].has(*VOLUMES)
            added = at - 1 in bare and (vessel or more)
            if added or (adds and plain and not names_next):
                return latex
        return None

    def _count_unknown(self, records: list[Record]) -> str | None:
        """`vraxol bucket`, `8 litres vraxol a half`, `block four vraxol six litres`: a word that may be part of the figure."""
        items = self.facts.items
        for each in records:
            if each.what is not What.LATEX or each.litres is None:
                continue
            usual, whole = self._usual(each.block), each.litres == int(each.litres)
            one = each.litres in self.setting.containers.values()
            for at in range(len(items) - 1):
                behind = items[at + 1]
                if not self._is_unknown(at):
                    continue
                vessel = one and behind.has("own_container")  # `vraxol bucket`, `2 vraxol bucket`
                share = whole and behind.has("half", "quarter", "three_quarters") and not behind.has("ignore")
                low = usual is not None and 2 * each.litres < usual and each.litres == behind.value
                if vessel or share or (low and behind.has("spelled")):
                    return each.block
        return None

    def _vague_vessel(self, records: list[Record]) -> str | None:
        """`almost 2 buckets`, `a bucket and a bit`: a vessel more or less, and no litres that say how much."""
        items = self.facts.items
        sizes = set(self.setting.containers.values())
        for fact in self.told.of("litres"):
            whole = fact.name == VESSEL and any(fact.value is not None and fact.value % size == 0 for size in sizes)
            near = items[max(0, fact.at - 3) : fact.at + 2]
            vague = any(item.kind == "word" and item.has("vague") and not item.has("own_block") for item in near)
            if whole and vague:
                return next((each.block for each in records if each.litres == fact.value), None)
        return None

    def _unknown_named(self, records: list[Record]) -> str | None:
        """`18 litres from the 3 and from vraxol 22`: a figure behind a name that is not understood."""
        items = self.facts.items
        latex = [each for each in records if each.what is What.LATEX]
        for fact in self.told.of("number") if latex else ():
            behind = items[fact.at + 1] if fact.at + 1 < len(items) else None
            counted = behind is not None and behind.kind == "word" and not behind.tags.keys() <= NAMING
            named = fact.at > 1 and self._is_unknown(fact.at - 1) and items[fact.at - 2].has("from", "block")
            free = all(fact.value not in (each.litres, each.kg, _as_figure(each.block)) for each in latex)
            if named and free and not counted and self._fits(fact.value, None) is not None:
                return latex[0].block
        return None

    def _block_of_another(self, records: list[Record]) -> str | None:
        """`la 7 a donné 15 litres` of somebody whose block is 2: before the litres the number of a block that is not his."""
        items = self.facts.items
        litres = [each.at for each in self.told.of("litres")]
        if not self.own or not litres or self.told.has("block") or len(records) > 1:
            return None
        for fact in self.told.of("number"):
            before = items[fact.at - 1] if fact.at else None
            led = before is None or before.key in LEADING
            if led and fact.at < litres[0] and fact.name in self.setting.blocks and fact.name not in self.own:
                return fact.name
        return None

    def _is_unknown(self, at: int) -> bool:
        """Whether the item there is a word of which nothing is understood."""
        item = self.facts.items[at] if at < len(self.facts.items) else None
        return item is not None and item.kind == "word" and not item.tags and len(item.key) > 2

    def _day_unknown(self) -> bool:
        """`hôm zuplimo`, `hari zuplimo`: a word that leads a day, before one that is not understood."""
        items = self.facts.items
        for at in range(1, len(items)):
            named = at + 1 < len(items) and items[at + 1].kind == "number"
            if is_latin(items[at].key) and items[at - 1].has("date") and self._is_unknown(at) and not named:
                return True
        return False

    def _digits_before(self, records: list[Record]) -> str | None:
        """`block four one nine litres`: a number word right before the one that is entered, behind a block: nineteen?"""
        items = self.facts.items
        for fact in self.told.of("litres"):
            before = items[fact.at - 1] if fact.at > 1 else None
            spelled = before is not None and (
                before.has("spelled") if before.kind == "number" else before.has("number")
            )
            if spelled and items[fact.at].has("spelled") and items[fact.at - 2].kind == "number":
                return next((each.block for each in records if each.litres == fact.value), None)
        return None

    def _goes_on_behind(self, fact: Fact) -> bool:
        """`2 canai less 1 litre`: what is counted is said more of."""
        behind = self.facts.items[fact.at + 2 : fact.at + 4]
        return bool(behind) and (behind[0].has("plus", "less", "half") or behind[0].text == "+")

    def _unexplained(self, records: list[Record]) -> str | None:
        """The block of latex beside a figure that is no part of what would be entered, and of which nothing says what it is."""
        latex = [each for each in records if each.what is What.LATEX]
        if not latex or len(latex) < len(records):
            return None
        lacking = [each for each in self.told.of("litres") if self._lacks(each)]
        if any(self.facts.items[each.at].value in {record.litres for record in latex} for each in lacking):
            return latex[0].block  # `less 3 litres`, and nothing that they are taken from
        if len(latex) == 1 and self._may_be_two_blocks(latex[0]):
            return latex[0].block
        sizes = set(self.setting.containers.values())
        used = sizes | {figure for each in latex for figure in (each.litres, each.kg, each.drc)}
        used |= {name for each in latex if (name := _as_figure(each.block)) is not None}
        figures = [each.value or Decimal(0) for each in self.told.of("litres", "number")]
        pairs = [(one, two) for n, one in enumerate(figures) for m, two in enumerate(figures) if n != m]
        sums = {one + two for one, two in pairs} | {one - two for one, two in pairs}
        litres = {each.litres for each in latex}
        entered = [each for each in self.told.of("litres", "number", "kg") if each.value in used]
        left = [
            each
            for each in self.told.of("litres", "number")
            if each.value not in used and not self._taken_back(each, entered)
        ]
        joined = bool(litres & sums) and any(each.name == VESSEL for each in self.told.of("litres"))
        usual = self._usual(latex[0].block)
        little = usual is not None and latex[0].litres is not None and LOW * latex[0].litres < usual
        better = little and len(latex) == 1 and any(self._fits(each.value, latex[0].block) is not None for each in left)
        doubt = better or any(self._may_be_latex(each) for each in left)
        return latex[0].block if doubt and not joined else None

    def _may_be_two_blocks(self, record: Record) -> bool:
        """`4 3` where there are blocks 3 and 4: bare, the litres are the name of another block, and few for this one."""
        usual = self._usual(record.block)
        bare = not self.told.has("litres", "kg") and record.litres is not None and str(record.litres) in self.own
        return bare and usual is not None and LOW * (record.litres or 0) < usual

    def _may_be_latex(self, fact: Fact) -> bool:
        """Litres, or a bare number near a block and about as large as one gives, that was neither taken back nor a sum.

        Numbers up to twelve may be hours.
        """
        if fact.kind == "number":
            near = any(abs(each.at - fact.at) <= 3 for each in self.told.of("block")) or corrections.is_fix(self.facts)
            if not near or (fact.value or 0) <= LAST_HOUR or self._fits(fact.value, None) is None:
                return False
        sums = self.told.of("total", "together", "or")
        return not any(abs(each.at - fact.at) <= 6 for each in sums)

    def _taken_back(self, fact: Fact, entered: list[Fact]) -> bool:
        """`19 no wait 21`, `21 not 19`: denied, or followed by a word of correction and the figure that is entered."""
        if fact.value == corrections.figure_was(self.told):
            return True
        if any(0 < fact.at - each.at <= 3 for each in self.told.of("not", "no")):
            return True
        marks = self.told.of("self", "fix", "instead", "not", "no", "texting")
        clear = [each for each in marks if not self._denies_unknown(each)]
        return any(fact.at < mark.at < each.at for mark in clear for each in entered)

    def _denies_unknown(self, mark: Fact) -> bool:
        """`18 litres no flurb 19`: a plain no before a word that is not understood."""
        behind = self.facts.items[mark.at + 1] if mark.at + 1 < len(self.facts.items) else None
        return mark.kind in ("no", "not") and behind is not None and behind.kind == "word" and not behind.tags

    def _low_beside_unknown(self, records: list[Record]) -> str | None:
        """Litres far below what the block gives, behind a word that is not understood (`a jerkin less 1 litre`): of what?"""
        items = self.facts.items
        for each in records if not self.facts.has("again") else ():
            usual = self._usual(each.block)
            if each.what is not What.LATEX or each.litres is None or usual is None or LOW * each.litres > usual:
                continue
            for fact in self.told.of("litres"):
                before = items[max(0, fact.at - 3) : fact.at]
                unknown = any(item.kind == "word" and not item.tags and len(item.key) > 2 for item in before)
                if fact.value == each.litres and unknown:
                    return each.block
        return None

    def _again_of_block(self) -> bool:
        """Whether two quantities of a block and day are two collections, and the text says so beside one of them."""
        clauses = {each.clause for each in self.facts.of("litres", "number", "kg")}
        return any(each.clause in clauses for each in self.facts.of("again"))

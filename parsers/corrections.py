"""Corrections and taking back: whether a text says that something that was sent is wrong, and what of it."""

from datetime import date
from decimal import Decimal

from parsers.facts import Fact, Facts
from parsers.reading import Ask, Reading, Setting, What


def denials(facts: Facts) -> list[Fact]:
    """Words that deny what follows them; behind a word of self-correction (`wait no`) they only break off."""
    breaks = {fact.at + 1 for fact in facts.of("self")}
    return [fact for fact in facts.of("not") if fact.at not in breaks]


def block_was(facts: Facts) -> str | None:
    """A block that is said to be wrong: `block 9 not 4`."""
    numbers = facts.of("number")
    lone = numbers if len(numbers) == 1 and not facts.has("litres", "kg", "sheets") else bare_blocks(facts)
    blocks = sorted([*facts.of("block", "badblock"), *lone], key=lambda fact: fact.at)
    if not facts.has("block") and not bare_blocks(facts):
        return None
    measured = facts.has("litres", "kg", "sheets", "number") and not bare_blocks(facts)
    breaks = {fact.at + 1 for fact in facts.of("self")} if measured else set()
    for denied in facts.of("not", "no") if measured else facts.of("not", "no", "self"):
        near = [fact for fact in blocks if 0 < fact.at - denied.at <= 3 and denied.at not in breaks]
        after = [fact for fact in near if fact.clause == denied.clause]
        after = [] if any(item.text == ":" for item in facts.items[denied.at : after[0].at if after else 0]) else after
        if after and len(blocks) > 1:
            return after[0].name if after[0].kind != "number" else str(after[0].value)
    return None


def bare_blocks(facts: Facts) -> list[Fact]:
    """`not the 3, the 2`: the bare numbers, where nothing is measured and each of several is the name of a block."""
    numbers = facts.of("number")
    named = all(facts.items[each.at].has("own_block") for each in numbers)
    other = facts.has("litres", "kg", "sheets", "unmeasured", "drc_value", "trees", "block", "badblock")
    return numbers if len(numbers) > 1 and named and not other else []


def figure_was(facts: Facts) -> Decimal | None:
    """A figure that is said to be wrong: `17 not 18`."""
    quantities = facts.of("litres", "number", "kg", "sheets")
    for denied in denials(facts):
        after = [fact for fact in quantities if 0 < fact.at - denied.at <= 3 and fact.clause == denied.clause]
        if after and not _parted(denied, after[0], facts):
            return after[0].value
    sent = sent_before(facts) or said_before(facts)
    return sent.value if sent is not None else None


def _parted(denied: Fact, figure: Fact, facts: Facts) -> bool:
    """`no le hizo nada: monte 29`: a colon or a block between, so that the no belongs to something else."""
    between = facts.items[denied.at + 1 : figure.at]
    return any(item.text == ":" for item in between) or any(
        denied.at < each.at < figure.at for each in facts.of("block")
    )


def said_before(facts: Facts) -> Fact | None:
    """`I said 13, it is rather 12`: the first of two figures, behind a word for what was sent, a correction between them."""
    quantities = facts.of("litres", "number", "kg", "sheets")
    if len(quantities) != 2:
        return None
    first, second = quantities
    sent = any(0 < first.at - each.at <= 3 for each in facts.of("texting"))
    between = any(first.at < each.at < second.at for each in facts.of("fix", "self"))
    between = between or any(item.has("but") for item in facts.items[first.at : second.at] if item.kind == "word")
    block = any(first.at < each.at < second.at for each in facts.of("block", "day"))
    return first if sent and between and not block else None


def sent_before(facts: Facts) -> Fact | None:
    """The figure behind a word for what was sent, where the right one stands before it: `should be 13.5, I put 12`."""
    quantities = facts.of("litres", "number", "kg", "sheets")
    for sent in facts.of("texting"):
        if facts.items[sent.at].key in ORDERS:
            continue
        behind = [each for each in quantities if 0 < each.at - sent.at <= 2]
        before = [each for each in quantities if each.at < sent.at]
        if behind and len(before) == 1 and len(quantities) == 2 and facts.has("fix"):
            return behind[0]
    return None


#: Words that ask to write something down: the figure behind them is the right one.
ORDERS = frozenset(
    {
        "write",
        "write it",
        "put",
        "enter",
        "note",
        "escribe",
        "escriba",
        "ponga",
        "pon",
        "anote",
        "ecris",
        "ecrivez",
        "mets",
    }
    | {"mettez", "notez", "tulis", "catat", "viet", "ghi", "ghi lai", "เขียน", "จด"}
)


def day_was(facts: Facts) -> date | None:
    """A day that is said to be wrong: `it is yesterday's, not today's`."""
    days = facts.of("day")
    for denied in facts.of("not"):
        after = [
            fact
            for fact in days
            if 0 < fact.at - denied.at <= 2
            and fact.day is not None
            and all(each.has("ignore", "from", "for") for each in facts.items[denied.at + 1 : fact.at])
        ]
        if after and len(days) > 1 and after[0].day is not None:
            return after[0].day.day
    return None


def is_fix(facts: Facts) -> bool:
    """Whether the text corrects something: a word of correction, and something to correct it to."""
    figures = facts.of("litres", "kg", "sheets")
    ordered = facts.has("quoted", "texting") and len(figures) == 1
    if ordered and any(0 < figures[0].at - each.at <= REACH for each in facts.of("instead")):
        return True  # `the K2 figure I sent, change it to 14 litres`
    if set_right(facts) or _sent_wrong(facts) or _takes_back_first(facts) or said_before(facts) is not None:
        return True
    if not facts.has("fix", "not", "instead"):
        return False
    near = facts.of("litres", "number", "kg", "sheets", "block", "badblock", "day", "grade", "price_value", "drc_value")
    planned = {each.clause for each in facts.of("ahead", "about_tomorrow")}
    planned -= {each.clause for each in facts.of("litres", "kg", "sheets", "number")}
    strong = [
        fact
        for fact in facts.of("fix")
        if fact.clause not in planned
        and not _is_denial(fact, facts)
        and not breaks_off(fact, facts)
        and not _excuses(fact, facts)
        and any(abs(each.at - fact.at) <= REACH for each in near)
    ]
    contrast = figure_was(facts) is not None or block_was(facts) is not None or day_was(facts) is not None
    return bool(strong) or contrast or _sorry_it_is(facts)


#: A text of so many words is short.
SHORT = 8


def _sorry_it_is(facts: Facts) -> bool:
    """`perdon el sur son 25`: a short text with a word of excuse at its head, and what the figure of a named block is."""
    words = [facts.items[fact.at] for fact in facts.of("fix")]
    excused = any(item.has("sorry") for item in facts.items[:2])
    states = any(item.has("it_was", "holds", "this_is") for item in words)
    other = facts.has("late", "late_report", "texting", "day", "again", "rain", "ask", "question", "not_tapped")
    named = len({fact.name for fact in facts.of("block")}) == 1 and len(facts.of("litres", "number", "kg")) == 1
    return excused and states and named and not other and len(facts.items) <= SHORT


def _takes_back_first(facts: Facts) -> bool:
    """`ay no, perdón, zapote fueron 16`: two words of correction before anything else is said, and the figure behind them."""
    first = facts.found[:2]
    marks = {fact.at for fact in facts.of("self", "fix", "decline") if fact.clause < 2}
    figures = facts.of("litres", "number", "kg", "sheets")
    opens = bool(first) and first[0].at == 0 and first[0].kind in ("self", "decline")
    if not opens or not figures:
        return False
    words = facts.items[:2]
    if first[0].kind == "self" and " " in words[0].key and len(words) > 1 and words[1].kind == "sign":
        return True  # `à nhầm, 7 lít`
    twice = words[0].key.endswith("ๆ") or (len(words) > 1 and words[0].key == words[1].key)
    return twice or (len(marks) > 1 and figures[0].at > max(marks) and figures[0].clause > 1)


def _sent_wrong(facts: Facts) -> bool:
    """`A1 is 12.5 litres, I wrote the wrong figure`: a word for sending, and right behind it that it was wrong."""
    wrong = any(0 < no.at - sent.at <= 2 for sent in facts.of("texting") for no in facts.of("decline"))
    return wrong and facts.has("litres", "kg", "sheets", "number") and not facts.has("ask", "question")


def _excuses(fact: Fact, facts: Facts) -> bool:
    """`sorry, the text comes late`: an excuse in a clause of its own, which holds no figure."""
    here = {each.kind for each in facts.found if each.clause == fact.clause}
    late = bool(here & {"late", "late_report"}) and "texting" in here
    late = late or "phone" in here  # `my number changed`
    return late and not here & {"litres", "number", "kg", "sheets", "block"}


def set_right(facts: Facts) -> bool:
    """`yesterday I wrote 17, it was 18`: a figure that was sent, and right behind it what it should have been."""
    figures = facts.of("litres", "number", "kg", "sheets")
    for sent in facts.of("quoted", "texting"):
        wrong = [each for each in figures if each.clause == sent.clause and each.at > sent.at]
        right = [each for each in figures if each.clause == sent.clause + 1]
        if len(wrong) == 2 and any(wrong[0].at < fix.at < wrong[1].at for fix in facts.of("fix")):
            return True  # `I said 15 and half but it is 14 and half`
        if len(wrong) == len(right) == 1 and any(
            wrong[0].at < fix.at < right[0].at for fix in facts.of("fix", "no", "self")
        ):
            return not any(each.clause == sent.clause + 1 for each in facts.of("day", "block"))
    return False


def leans(facts: Facts, alone: Reading, setting: Setting) -> bool:
    """A weak word of correction (`sorry`) counts where the book already holds a line for what the text speaks of."""
    if _lowers(alone, facts, setting) or _gainsays(alone, facts, setting):
        return True
    if not facts.has("fix", "self") or facts.has("again", "late_report"):
        return False  # the book is not looked into for a text that corrects nothing
    mine = {(entry.record.what, entry.record.block, entry.record.day) for entry in setting.entered if entry.mine}
    if not mine:
        return False
    if alone.ask is Ask.LITRES and facts.has("block"):
        return any((What.LATEX, record.block, record.day) in mine for record in alone.pending)
    if alone.ask is Ask.WHAT and facts.has("sheets"):
        return any(what in (What.SHEETS_ROLLED, What.SHEETS_DRY) for what, _, _ in mine)
    if alone.ask is Ask.BLOCK:
        return any(what is What.LATEX and day == record.day for what, _, day in mine for record in alone.pending)
    if _of_another_day(alone, setting):
        return True
    return bool(alone.records) and all((each.what, each.block, each.day) in mine for each in alone.records)


def _gainsays(alone: Reading, facts: Facts, setting: Setting) -> bool:
    """`no, block 3 is 17`, `block 3 was 17`: another figure for lines of his that stand in the book."""
    opens, was, one_of = _opens_with_no(facts), _was_so(facts), facts.has("one_of")
    if not (opens or was or one_of) or facts.has(*OF_OTHER_THINGS):
        return False
    stands = standing_latex(setting)
    if alone.ask is Ask.BLOCK and (opens or one_of):
        return bool(stands) and all(record.what is What.LATEX for record in alone.pending)
    told = {(each.block, each.day): each.litres for each in alone.records if each.what is What.LATEX}
    if was and facts.has("texting") and not facts.has("day") and len(told) == 1 == len(alone.records):
        return alone.records[0].block in {block for block, _ in stands}  # `what I sent of A at dawn was 15.5`
    return (
        bool(told)
        and len(told) == len(alone.records)
        and all(key in stands and value is not None and stands[key] != value for key, value in told.items())
    )


#: A text that speaks of these says no other figure of a line of latex.
OF_OTHER_THINGS = ("again", "late_report", "not_tapped", "sheets", "drc", "ask", "question")


def standing_latex(setting: Setting) -> dict[tuple[str | None, date | None], Decimal]:
    """The litres of the sender's own lines by block and day; of several the newest."""
    return {
        (each.record.block, each.record.day): each.record.litres
        for each in setting.entered
        if each.mine and each.record.what is What.LATEX and each.record.litres
    }


def _opens_with_no(facts: Facts) -> bool:
    """`no, ...`, `no block 3 ...`, `no it was ...`: a no at the head that denies nothing behind it (`no visitor today`)."""
    head = facts.items[:3]
    if len(head) < 2 or not head[0].has("nay"):
        return False
    behind = head[1]
    named = behind.kind == "word" and behind.has("block", "own_block")
    said = behind.has("ignore") and len(head) > 2 and head[2].has("it_was")
    return behind.kind == "sign" or named or said


def _was_so(facts: Facts) -> bool:
    """`north was 16`, `3 was 17`: a word for was behind a block or day and right before a figure; or it was measured anew."""
    figures = facts.of("litres", "number", "kg")
    for at, item in enumerate(facts.items):
        before = [each for each in (*facts.of("block", "day", "texting"), *figures) if 0 < at - each.at <= 4]
        if item.has("it_was") and before and any(0 < each.at - at <= 2 for each in figures):
            return True
    return any(item.has("remeasured") for item in facts.items)


def _of_another_day(alone: Reading, setting: Setting) -> bool:
    """`eh, the 15 is yesterday's, today's is 16`: a figure that stands on one of the days is said of another."""
    said = {(each.block, each.day): each.litres for each in alone.records if each.what is What.LATEX}
    if len(said) < 2 or len(said) != len(alone.records):
        return False
    stands = [
        entry.record for entry in setting.entered if entry.mine and (entry.record.block, entry.record.day) in said
    ]
    return any(one.litres in {v for k, v in said.items() if k != (one.block, one.day)} for one in stands)


def _lowers(alone: Reading, facts: Facts, setting: Setting) -> bool:
    """`block 1 is only 18 litres` where the book holds more of it: a word for only, and a lower figure."""
    record = alone.records[0] if len(alone.records) == 1 else None
    only = any(item.kind == "word" and item.has("only") for item in facts.items)
    if not only or record is None or record.what is not What.LATEX or record.litres is None or facts.has("again"):
        return False
    here = [
        each.record.litres
        for each in setting.entered
        if each.mine
        and (each.record.what, each.record.block, each.record.day) == (What.LATEX, record.block, record.day)
    ]
    return len(here) == 1 and here[0] is not None and record.litres < here[0]


#: A word of correction speaks of figures within so many words.
REACH = 9


def breaks_off(fact: Fact, facts: Facts) -> bool:
    """`15, I mean 13`: behind a figure of the same text it corrects the text, not the book."""
    quantities = facts.of("litres", "number", "kg", "sheets")
    before = [each for each in quantities if each.at < fact.at]
    after = [each for each in quantities if each.at > fact.at]
    sent = [each for each in facts.of("texting") if before and each.at < before[0].at]
    if facts.has("quoted") or sent or not before:
        return False
    selves = facts.of("self")
    if not after:  # `12, no 15, pressed wrong`: the figures were set right before
        return any(quantities[0].at < each.at < quantities[-1].at for each in selves)
    if any(each.at == fact.at for each in facts.of("self")):
        return True
    kinds = {before[-1].kind, after[0].kind}
    beside = (
        fact.at - before[-1].at <= 3
        and after[0].at - fact.at <= 2
        and (len(kinds) == 1 or kinds == {"litres", "number"})
    )
    return beside and not any(before[-1].at < each.at < after[0].at for each in facts.of("block", "not", "day"))


def _is_denial(fact: Fact, facts: Facts) -> bool:
    """`no`/`not`/`is` belong to corrections only beside a figure that is taken back."""
    weak = any(each.at == fact.at and each.kind in ("no", "not", "chat", "rest", "late_report") for each in facts.found)
    item = facts.items[fact.at]
    return weak or item.has("ignore", "holds", "late_report", "sorry", "weak")


def stated(facts: Facts) -> frozenset[str]:
    """The fields of a record that the text states."""
    pairs = (
        ("block", "block"),
        ("day", "day"),
        ("litres", "litres"),
        ("number", "litres"),
        ("kg", "kg"),
        ("drc_value", "drc"),
        ("rain", "rain"),
        ("late", "late"),
        ("sheets", "count"),
        ("grade", "grade"),
        ("price_value", "price"),
    )
    return frozenset(field for kind, field in pairs if facts.has(kind))

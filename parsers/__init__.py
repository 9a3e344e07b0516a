"""Reading what people really text: `read(text, setting)` gives a `Reading`. No clock, no network, no database."""

from collections.abc import Sequence
from dataclasses import replace

from parsers import amending, answers, corrections, explaining, managing, moving, others, undoing
from parsers.facts import Facts
from parsers.finding import Finder
from parsers.items import items
from parsers.meanings import Item
from parsers.mending import shares
from parsers.numbers import SHARES, numbered
from parsers.reader import Reader
from parsers.reading import Intent, Reading, Record, Setting, What
from parsers.spelling import LONGEST_TEXT, is_thai
from parsers.words import Words, standard
from parsers.written import as_written

__all__ = ["choose", "explain", "facts_of", "read"]

#: Words that carriers keep for themselves: a text that is nothing but one of them is never a command of ours.
STOP_WORDS = frozenset(
    ["stop", "stopall", "unsubscribe", "cancel", "end", "quit", "revoke", "optout", "arret", "arrete", "arrett"]
)
START_WORDS = frozenset(["start", "unstop"])
HELP_WORDS = frozenset(["help", "info", "aide", "ayuda", "bantuan"])


def facts_of(text: str, setting: Setting, words: Words | None = None) -> Facts:
    """What a text says, before it is weighed."""
    lexicon = (words or standard()).of(setting.language)
    return _found(numbered(items(text, setting, lexicon), setting.blocks), setting, words)


def _found(found: Sequence[Item], setting: Setting, words: Words | None) -> Facts:
    return Finder(list(found), setting, setting.sent_at, shares((words or standard()).of(setting.language))).run()


def read(text: str, setting: Setting, words: Words | None = None) -> Reading:
    """Read a text in its setting. Any text is read without an error; nothing is guessed silently."""
    reserved = _reserved(text)
    if reserved is not None:
        return reserved
    facts = facts_of(text, setting, words)
    beside = _answer_and_report(facts, setting, words)
    reading = as_written(beside or _read(text, facts, setting), text, setting)
    return replace(reading, bounded=True) if len(text) > LONGEST_TEXT else reading


def explain(text: str, setting: Setting, words: Words | None = None) -> tuple[str, ...]:
    """Why a text is read as it is, in lines for whoever looks after the words."""
    return explaining.explanation(facts_of(text, setting, words), read(text, setting, words))


def choose(text: str, setting: Setting, words: Words | None = None) -> str | None:
    """The answer to "more, or instead?": `more`, `instead`, or None where it is neither."""
    return answers.choice(facts_of(text, setting, words))


def _reserved(text: str) -> Reading | None:
    word = text.strip().strip(".!?").casefold()
    if word in STOP_WORDS:
        return Reading(Intent.STOP)
    if word in START_WORDS:
        return Reading(Intent.START)
    return Reading(Intent.HELP) if word in HELP_WORDS else None


def _read(text: str, facts: Facts, setting: Setting) -> Reading:
    speaker = others.speaker(facts, setting)
    if speaker is not None:
        setting = others.as_spoken_by(setting, speaker)
        facts = others.without_introduction(facts, speaker)
    request = managing.request(text, facts, setting)
    if request is not None:
        return Reading(Intent.MANAGE, request=request)
    special = others.about_the_book(facts, setting) or moving.given_away(facts, setting)
    if special is not None:
        return special
    reader = Reader(facts, setting)
    alone = reader.read()
    if setting.question is not None and speaker is None:
        answer = answers.answered(facts, setting.question, setting, alone)
        if answer is not None:
            return answer
    reading = _corrected(alone, facts, setting, reader)
    return reading if speaker is None else replace(reading, person=speaker)


#: So many places are tried where a text that begins with an answer may go on with a report, in texts of so many words.
MOST_PLACES, LONGEST_ANSWER = 6, 60


def _answer_and_report(facts: Facts, setting: Setting, words: Words | None) -> Reading | None:
    """`it is A. and B gave 10 litres`: the answer to the open question, and a report of other blocks that stands by itself."""
    question = setting.question
    figures = facts.of("litres", "kg", "number", "sheets", "trees")
    parted = len({fact.clause for fact in facts.found}) > 1 or len(facts.of("block")) > 1 or len(figures) > 1
    if question is None or not figures or not parted:
        return None
    if len(facts.items) > LONGEST_ANSWER or others.speaker(facts, setting) is not None:
        return None
    for end, start in _breaks(facts.items)[:MOST_PLACES]:
        first = _found(facts.items[:end], setting, words)
        answer = answers.answered(first, question, setting, Reader(first, setting).read())
        if answer is None or answer.intent is not Intent.LOG or answer.ask is not None or not answer.records:
            continue
        if not _says_no_more(first, answer.records):
            continue
        unasked = replace(setting, question=None)
        rest = facts.items[start:]
        report = _read(" ".join(item.text for item in rest), _found(rest, unasked, words), unasked)
        if _stands_by_itself(report, answer.records, setting):
            return replace(answer, records=(*answer.records, *report.records))
    return None


def _breaks(found: Sequence[Item]) -> list[tuple[int, int]]:
    """Where a text may end and begin anew: at a sign, a word for and that no half belongs to, a space between Thai words."""
    breaks = []
    for n, item in enumerate(found[:-1]):
        linked = item.kind == "sign" or (item.has("plus") and not found[n + 1].has(*SHARES))
        spaced = item.kind == "word" and not item.glued and is_thai(item.text)
        if n and (linked or spaced):
            breaks.append((n, n + 1 if linked else n))
    return breaks


def _stands_by_itself(report: Reading, answered: Sequence[Record], setting: Setting) -> bool:
    """Whether a report is clear, and of other blocks than those that were answered or stand in the book."""
    clear = report.intent is Intent.LOG and report.ask is None and bool(report.records) and report.person is None
    known = {(each.record.block, each.record.day) for each in setting.entered if each.record.what is What.LATEX}
    known |= {(each.block, each.day) for each in answered}
    return clear and not any(
        each.what is What.NO_TAPPING or (each.what is What.LATEX and (each.block, each.day) in known)
        for each in report.records
    )


def _says_no_more(facts: Facts, records: Sequence[Record]) -> bool:
    """Whether every figure of an answer is one of the records that it completes, or the name of their block."""
    known = {figure for each in records for figure in amending.figures_of(each)}
    blocks = {each.block for each in records}
    return all(each.value in known or each.name in blocks for each in facts.of("litres", "kg", "number", "sheets"))


def _corrected(alone: Reading, facts: Facts, setting: Setting, reader: Reader) -> Reading:
    """The reading as a correction, an addition or a taking back, where the text is one."""
    if alone.intent in (Intent.STOP, Intent.HELP, Intent.WEEK, Intent.READY, Intent.DOSE):
        return alone
    asks = facts.has("ask") and facts.has("question") and not facts.has("litres", "kg", "sheets", "unmeasured")
    if asks and facts.has("number") and not facts.has("undo"):
        return alone  # a question changes nothing
    quantity = facts.has("litres", "kg", "sheets", "number", "unmeasured", "price_value", "trees")
    not_yet = {fact.at for fact in facts.of("no")}
    planned = {each.clause for each in facts.of("about_tomorrow") if each.at not in not_yet} & {
        fact.clause for fact in facts.of("undo")
    }
    if (
        facts.has("undo")
        and not quantity
        and not facts.has("same")
        and not facts.has("rain")
        and not planned
        and (not _is_dry_out(facts) or facts.has("person"))
    ):
        return undoing.undone(facts, setting)
    if undoing.takes_out_a_figure(facts, setting):
        return undoing.undone(facts, setting)
    tapped_after_all = undoing.tapped_instead(facts, setting) or undoing.tapped_after_all(alone, facts, setting)
    if tapped_after_all is not None:
        return tapped_after_all
    if (
        facts.has("undo")
        and quantity
        and not corrections.is_fix(facts)
        and not facts.has("collected", "lump", "dry", "rolled", "stimulated", "acid")
        and len(facts.items) < 14
        and not _reports_beside(facts)
    ):
        return undoing.undone(facts, setting)
    only_price = bool(alone.records) and alone.records[0].what is What.PRICE and not facts.has("not")
    corrects = corrections.is_fix(facts) or reader.corrects or corrections.leans(facts, alone, setting)
    standing = _of_what_stands(alone, facts, setting, reader)
    if standing is not None:
        return standing
    special = (
        moving.of_another_farm(facts, setting)
        or moving.placed(facts, setting)
        or moving.of_yesterday(facts, setting)
        or moving.redated(facts, setting)
        or amending.weighed_again(facts, setting)
        or moving.of_a_colleague(facts, setting)
    )
    if special is not None:
        return special
    known = amending.known_figure(facts, setting) if alone.ask is not None or facts.has("fix") else None
    if known is not None:
        return known
    if corrects and corrections.bare_blocks(facts) and corrections.block_was(facts):
        moved = moving.moved(facts, setting)
        if moved is not None:
            return moved
    recounted = amending.recounted(facts, setting) if corrects or facts.has("not") else None
    if recounted is not None:
        return recounted
    if corrects and (alone.records or alone.ask) and not only_price:
        return amending.fixed(alone, facts, setting)
    added = amending.added(facts, setting, reader.today, reader.own, bool(reader.rains()))
    whole = any(each.what is What.LATEX and each.litres is not None for each in alone.records)
    whole = whole and (facts.has("drc_value") or not facts.has("drc"))
    if added is not None and not whole:
        return added
    breaks_off = facts.has("self") and corrections.block_was(facts) is not None  # `eh, not block 3, block 1`
    if (facts.has("fix", "not") or breaks_off) and not alone.records and not alone.ask:
        moved = moving.moved(facts, setting)
        return moved or alone
    return alone


def _rain_alone(alone: Reading, facts: Facts, setting: Setting, reader: Reader) -> Reading | None:
    """`it rained on ridge, not on creek`, of blocks that have latex today: rain is added, and no day of no tapping."""
    only_rain = bool(alone.records) and all(each.what is What.NO_TAPPING for each in alone.records)
    if (
        not only_rain
        or not facts.has("rain")
        or facts.has("not_tapped", "sick", "rest", "holiday", "wintering", "other")
    ):
        return None
    return amending.added(facts, setting, reader.today, reader.own, True)


def _of_what_stands(alone: Reading, facts: Facts, setting: Setting, reader: Reader) -> Reading | None:
    """A take with other figures, another grade or price, another price of the day, or rain on latex that stands."""
    regraded = amending.regraded(facts, setting)
    if regraded is not None and any(each.what not in (What.PRICE, What.NO_TAPPING) for each in alone.records):
        regraded = None
    return (
        amending.taken_again(facts, setting)
        or regraded
        or amending.repriced(alone, facts, setting)
        or amending.trees_recounted(facts, setting)
        or _rain_alone(alone, facts, setting, reader)
    )


def _reports_beside(facts: Facts) -> bool:
    """`1 skipped, 2 gave 19 litres`: what is taken out stands in a clause without a quantity, others hold litres."""
    taken = {fact.clause for fact in facts.of("undo")}
    litres = {fact.clause for fact in facts.of("litres")}
    return len(litres - taken) > 0 and not taken & {fact.clause for fact in facts.of("litres", "kg", "block", "number")}


def _is_dry_out(facts: Facts) -> bool:
    clauses = {fact.clause for fact in facts.of("undo")}
    return any(fact.clause in clauses for fact in facts.of("dry", "rolled", "stimulated", "lump"))

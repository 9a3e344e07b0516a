"""Answers to an open question: a word, a number, yes or no, or a whole new message that stands by itself."""

from dataclasses import replace

from parsers import amending, asking
from parsers.days import log_day
from parsers.facts import Facts
from parsers.pairing import IMPLAUSIBLE
from parsers.reading import Ask, Intent, OpenQuestion, Reading, Record, Setting, What

#: What makes a text a message of its own and no answer to "which block?".
OF_ITS_OWN = ("kg", "sheets", "bags", "unmeasured", "lump", "rolled", "not_tapped", "stimulated", "dry_trees", "trees")


def answered(facts: Facts, question: OpenQuestion, setting: Setting, alone: Reading) -> Reading | None:
    """The reading that waits, completed by this text; None where the text is no answer."""
    waiting = question.reading
    if alone.intent in (Intent.UNDO, Intent.STOP, Intent.HELP, Intent.WEEK, Intent.DOSE):
        return None
    if facts.has("decline") and not facts.of("litres", "number"):
        return Reading(Intent.CHAT, answers=True, declined=True)
    complete = {Ask.BLOCK: _block, Ask.LITRES: _litres, Ask.DAY: _day, Ask.KG: _kg, Ask.WHAT: _what}[question.ask]
    return complete(facts, waiting, setting, alone)


def _done(waiting: Reading, records: tuple[Record, ...], *, confirmed: bool = False) -> Reading:
    intent = waiting.intent if waiting.intent in (Intent.LOG, Intent.FIX, Intent.DOSE) else Intent.LOG
    return replace(
        waiting, intent=intent, records=records, ask=None, pending=(), options=(), answers=True, confirmed=confirmed
    )


def _block(facts: Facts, waiting: Reading, setting: Setting, alone: Reading) -> Reading | None:
    """The block that waits, if it is one of his; more than one number, or another volume, is a message of its own."""
    numbers = facts.of("number")
    if len(numbers) > 1 or not waiting.pending or facts.has(*OF_ITS_OWN):
        return None
    names = [fact.name for fact in facts.of("block") if fact.name is not None]
    if not names:
        names = [str(int(n.value)) for n in numbers if n.value is not None and n.value == int(n.value)]
    names = [name for name in names if name in (setting.own_blocks or setting.blocks)]
    volumes = facts.of("litres")
    pending = waiting.pending[0]
    if not names and len(numbers) == 1 and not volumes and str(numbers[0].value) in setting.blocks:
        return replace(waiting, pending=(pending.with_(block=str(numbers[0].value)), *waiting.pending[1:]))
    if len(names) != 1 or (volumes and (volumes[0].value != pending.litres or alone.records)):
        return None
    if pending.litres is None and pending.kg is None and pending.what is What.LATEX:
        return None
    record = pending.with_(block=names[0])
    block = setting.blocks.get(names[0])
    usual = None if block is None else block.usual_litres
    if record.litres is not None and usual is not None and record.litres > IMPLAUSIBLE * usual:
        return replace(waiting, ask=Ask.LITRES, pending=(record, *waiting.pending[1:]), options=(), answers=True)
    if waiting.intent is Intent.FIX:
        record = amending.completed(record, waiting.correction, setting)
    return _done(waiting, (record, *waiting.pending[1:]))


def _litres(facts: Facts, waiting: Reading, setting: Setting, alone: Reading) -> Reading | None:
    if not waiting.pending:
        return None
    pending = waiting.pending[0]
    if len(alone.records) > 1 and alone.ask is None:
        return None  # `north 16 and south 12 litres`: more than was asked
    values = facts.of("litres") or facts.of("number")
    named = [fact.name for fact in facts.of("block")]
    if named and pending.block is not None and named[0] != pending.block:
        return None
    same = bool(values) and values[0].value == pending.litres
    whose = pending.block is not None or pending.what is not What.LATEX
    if (
        whose
        and pending.litres is not None
        and pending.litres > 0
        and facts.has("yes", "keep", "chat")
        and (same or not values)
        and not facts.has("not")
    ):
        return _done(waiting, waiting.pending, confirmed=True)
    if not values or len(facts.of("day")) > 1:
        return None
    days = [each.day.day for each in facts.of("day") if each.day is not None]
    if days and named and days[0] != pending.day and not alone.ask:
        return None  # of another day: a message of its own
    value = values[-1].value if facts.has("self") else values[0].value
    if value is None or (alone.ask is Ask.LITRES and not same and alone.pending):
        return None
    block = named[0] if named else pending.block
    if block is None:
        return None
    record, rest = pending.with_(litres=value, block=block), waiting.pending[1:]
    unclear = tuple(each for each in rest if each.what is What.LATEX and each.litres is None and each.kg is None)
    if unclear:  # `A 2 tins, B 3 tins`: one block after the other
        known = tuple(each for each in rest if each not in unclear)
        return replace(waiting, pending=(*unclear, *known, record), answers=True)
    return _done(waiting, (record, *rest), confirmed=same)


def _day(facts: Facts, waiting: Reading, setting: Setting, alone: Reading) -> Reading | None:
    days = [fact.day.day for fact in facts.of("day") if fact.day and fact.day.day]
    numbers = facts.of("number")
    if not days and len(numbers) == 1 and not facts.has("litres", "kg", "sheets", "block"):
        found = asking.latest_day(numbers[0].value, log_day(setting.sent_at))  # `le 30`
        if found is not None:
            days, alone = [found], replace(alone, records=())
    if not days or alone.records:
        return None
    return _done(
        waiting, tuple(record.with_(day=days[0]) if record.day is None else record for record in waiting.pending)
    )


def _kg(facts: Facts, waiting: Reading, setting: Setting, alone: Reading) -> Reading | None:
    values = facts.of("kg") or facts.of("number")
    if not values or not waiting.pending:
        return None
    if alone.ask is None and any(each.what is not waiting.pending[0].what for each in alone.records):
        return None  # a report of its own
    return _done(waiting, (waiting.pending[0].with_(kg=values[0].value), *waiting.pending[1:]))


def _what(facts: Facts, waiting: Reading, setting: Setting, alone: Reading) -> Reading | None:
    if not waiting.pending or facts.has("litres"):
        return None
    pending = waiting.pending[0]
    if any(each.value not in (pending.kg, pending.count) for each in facts.of("kg", "sheets")):
        return None  # other figures than those that were asked about: a message of its own
    kinds = (
        ("lump", What.LUMP),
        ("dry", What.SHEETS_DRY),
        ("rolled", What.SHEETS_ROLLED),
        ("sheet", What.SHEETS_DRY),
        ("latex", What.LATEX),
    )
    for tag, what in kinds:
        if facts.has(tag):
            names = [fact.name for fact in facts.of("block")]
            default = None if tag in ("dry", "rolled", "sheet") and len(setting.own_blocks) == 1 else pending.block
            record = pending.with_(what=what, block=names[0] if names else default)
            return _done(waiting, (record,))
    return None


def choice(facts: Facts) -> str | None:
    """The answer to "more, or instead?": `more`, `instead`, or None."""
    if facts.has("instead", "fix", "not") and not facts.has("again"):
        return "instead"
    return "more" if facts.has("again", "plus") else None

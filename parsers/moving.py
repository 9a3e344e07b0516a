"""Lines that belong elsewhere: to another block, day, farm, or to somebody else."""

from itertools import pairwise

from parsers.amending import JUST_NOW, figures_of, same_farm
from parsers.corrections import bare_blocks, block_was, figure_was, stated
from parsers.days import log_day
from parsers.facts import Facts
from parsers.reading import Correction, Entered, Intent, Reading, Role, Setting, What


def of_another_farm(facts: Facts, setting: Setting) -> Reading | None:
    """A take that is another farm's: `those 18 sheets are of Palo Hueco, not of La Ceja`."""
    named = facts.of("farm")
    denied = [each for each in named if any(0 < each.at - no.at <= 3 for no in facts.of("not", "no"))]
    meant_now = [each for each in named if each not in denied]
    if not denied and len(meant_now) == 1 and facts.has("fix"):
        return _of_this_farm(str(meant_now[0].name), facts, setting)
    if len(denied) != 1 or len(meant_now) != 1:
        return None
    counts = {fact.value for fact in facts.of("sheets", "kg")}
    takes = [
        each
        for each in reversed(setting.entered)
        if each.mine and each.record.what is What.COLLECTED and same_farm(str(each.record.farm), str(denied[0].name))
    ]
    fitting = [each for each in takes if not counts or counts & {each.record.sheets, each.record.kg}]
    if not fitting:
        return None
    record = fitting[0].record.with_(farm=str(meant_now[0].name))
    return Reading(Intent.FIX, (record,), correction=Correction(said=frozenset({"farm"})), targets=(fitting[0].id,))


def _of_this_farm(farm: str, facts: Facts, setting: Setting) -> Reading | None:
    """`wrong farm, that one is from Tebing Ijuk`: the take sent last, if it was of another."""
    other = facts.has("kg", "sheets", "grade", "price_value", "number", "litres", "undo", "ask", "question")
    takes = [each for each in reversed(setting.entered) if each.mine and each.record.what is What.COLLECTED]
    if other or not takes or same_farm(str(takes[0].record.farm), farm):
        return None
    record = takes[0].record.with_(farm=farm)
    return Reading(Intent.FIX, (record,), correction=Correction(said=frozenset({"farm"})), targets=(takes[0].id,))


def of_yesterday(facts: Facts, setting: Setting) -> Reading | None:
    """`that one was yesterday's, I forgot to send it`: the day of what was sent last, all lines of that text."""
    days = [each.day.day for each in facts.of("day") if each.day is not None and each.day.day is not None]
    other = facts.has(
        "litres",
        "kg",
        "sheets",
        "number",
        "block",
        "not_tapped",
        "rain",
        "ask",
        "question",
        "undo",
        "sick",
        "rest",
        "ahead",
    )
    if len(days) != 1 or other or not facts.has("late_report"):
        return None
    mine = [each for each in setting.entered if each.mine]
    if not mine:
        return None
    newest = max(each.at for each in mine)
    last = [each for each in mine if each.at == newest and each.record.day != days[0]]
    if not last or setting.sent_at - newest > JUST_NOW:
        return None
    return Reading(
        Intent.FIX,
        tuple(each.record.with_(day=days[0]) for each in last),
        correction=Correction(said=frozenset({"day"})),
        targets=tuple(each.id for each in last),
    )


def redated(facts: Facts, setting: Setting) -> Reading | None:
    """`sorry, those 19 are of yesterday`: the day of the one line of the sender's that holds the figure."""
    days = [each.day.day for each in facts.of("day") if each.day is not None and each.day.day is not None]
    figures = facts.of("litres", "number", "kg")
    other = facts.has(
        "block", "badblock", "sheets", "again", "not_tapped", "rain", "drc", "ask", "question", "undo", "ahead"
    )
    if len(days) != 1 or len(figures) != 1 or other or not facts.has("fix", "late_report"):
        return None
    lines = [each for each in setting.entered if each.mine and figures[0].value in figures_of(each.record)]
    if len(lines) != 1 or lines[0].record.day == days[0]:
        return None
    record = lines[0].record.with_(day=days[0])
    return Reading(Intent.FIX, (record,), correction=Correction(said=frozenset({"day"})), targets=(lines[0].id,))


def of_a_colleague(facts: Facts, setting: Setting) -> Reading | None:
    """`change Yaw's A to 16`, of a tapper: the line of somebody else whom the text names; whose it is decides who may."""
    people = {fact.name for fact in facts.of("person") if fact.name != setting.name}
    was = figure_was(facts)
    figures = [each for each in facts.of("litres", "number", "kg") if each.value != was]
    disputes = setting.role is not Role.COLLECTOR and len(people) == 1 and facts.has("fix") and facts.has("kg")
    takes = [e for e in setting.entered if e.by in people and e.record.what is What.COLLECTED] if disputes else []
    if takes:
        record = takes[-1].record.with_(
            kg=facts.of("kg")[0].value
        )  # a collector's weight: only he, or the owner disputes
        return Reading(Intent.FIX, (record,), correction=Correction(said=frozenset({"kg"})), targets=(takes[-1].id,))
    if setting.role is not Role.TAPPER or not facts.has("fix", "instead", "not"):
        return None
    named = {str(each.name) for each in facts.of("block")}
    if facts.has("phone_of", "again_me") or _introduced(facts) or named & set(setting.own_blocks):
        return None
    his = [each for each in setting.entered if each.by in people and not each.mine]
    if not people and len(named) == 1:
        his = _of_somebody(named, facts, setting)
    elif len(people) != 1:
        return None
    if not named:
        led = [each for each in figures if any(0 < one.at - each.at <= 2 for one in facts.of("person"))]
        named = {str(each.name) for each in led} & {str(each.record.block) for each in his}  # `la 2 de Salif`
        figures = [each for each in figures if str(each.name) not in named]
    his = [each for each in his if each.record.block in named] if named else his
    if not his or not (named or was is not None):
        return None
    held = "litres" if his[-1].record.litres is not None else "kg"
    if figures and figures[0].kind not in (held, "number"):
        return None  # kilos of a line of litres
    record = his[-1].record.with_(**{held: figures[0].value}) if figures else his[-1].record
    return Reading(Intent.FIX, (record,), correction=Correction(said=frozenset({held})), targets=(his[-1].id,))


def _introduced(facts: Facts) -> bool:
    """`this is Yaw`: the name of him who texts, not of a colleague."""
    return any(
        abs(each.at - one.at) <= 3 and each.clause == one.clause
        for each in facts.of("this_is")
        for one in facts.of("person")
    )


def _of_somebody(named: set[str], facts: Facts, setting: Setting) -> list[Entered]:
    """`block 3 yesterday of Ut, change to 15`, `change his block 4 to 16`: lines of others on a block that is not his."""
    days = {each.day.day for each in facts.of("day") if each.day} or {log_day(setting.sent_at)}
    return [
        each for each in setting.entered if not each.mine and each.record.block in named and each.record.day in days
    ]


def given_away(facts: Facts, setting: Setting) -> Reading | None:
    """`the hill one is not mine, Anil tapped it`: a line that he sent is the work of somebody else."""
    people = {fact.name for fact in facts.of("person") if fact.name != setting.name}
    known = [each for each in setting.people if each.name in people and each.role is Role.TAPPER]
    items = facts.items
    mine = any(item.has("not_mine") for item in items)
    mine = mine or any(one.has("no", "not") and two.has("mine") for one, two in pairwise(items))
    named = {str(each.name) for each in facts.of("block")}
    measured = facts.has("litres", "kg", "sheets", "number", "ask", "question", "undo")
    if len(known) != 1 or len(people) != 1 or not mine or measured or len(named) != 1:
        return None
    lines = [each for each in reversed(setting.entered) if each.mine and each.record.block in named]
    if not lines:
        return None
    correction = Correction(said=frozenset({"by"}))
    return Reading(Intent.FIX, (lines[0].record,), correction=correction, targets=(lines[0].id,), person=known[0].name)


def placed(facts: Facts, setting: Setting) -> Reading | None:
    """The block of a lump that was sent without one: `that lump is from well`."""
    named = {str(fact.name) for fact in facts.of("block")}
    other = facts.has("kg", "number", "litres", "undo", "ask", "question", "not_tapped", "sheets", "about_tomorrow")
    if not facts.has("lump") or len(named) != 1 or other:
        return None
    lumps = [each for each in reversed(setting.entered) if each.mine and each.record.what is What.LUMP]
    if not lumps or lumps[0].record.block is not None:
        return None
    record = lumps[0].record.with_(block=named.pop())
    return Reading(Intent.FIX, (record,), correction=Correction(said=frozenset({"block"})), targets=(lumps[0].id,))


def moved(facts: Facts, setting: Setting) -> Reading | None:
    """A correction of the block or day alone: `block 9, not 4`; `that was yesterday's`."""
    was = block_was(facts)
    named = [fact.name for fact in (*facts.of("block"), *bare_blocks(facts)) if fact.name != was]
    days = [fact.day.day for fact in facts.of("day") if fact.day and fact.day.day]
    mine = [entry for entry in reversed(setting.entered) if entry.mine]
    fits = [entry for entry in mine if entry.record.block == was] if was else mine
    if not fits or not (named or days):
        return None
    entry = fits[0]
    changes: dict[str, object] = {}
    if named and (was or named[0] != entry.record.block):
        changes["block"] = named[0]
    elif days:
        changes["day"] = days[-1]
    if not changes:
        return None
    correction = Correction(said=stated(facts), block_was=was or entry.record.block)
    return Reading(Intent.FIX, (entry.record.with_(**changes),), correction=correction, targets=(entry.id,))

"""Which entry a correction means, and what it becomes: lines that stand are changed or completed."""

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal

from parsers.corrections import block_was, day_was, figure_was, stated
from parsers.days import log_day
from parsers.facts import Fact, Facts
from parsers.reading import Ask, Correction, Entered, Intent, Reading, Record, Role, Setting, What


def fixed(reading: Reading, facts: Facts, setting: Setting) -> Reading:
    """A reading of figures as a correction, with the entry that it means where the setting shows one."""
    correction = Correction(
        said=stated(facts), was=figure_was(facts), block_was=block_was(facts), day_was=day_was(facts)
    )
    if correction.was is None:
        correction = replace(correction, was=_held_before(reading, facts, setting))
    at_once = _moved_by_figure(facts, correction, setting)
    if at_once is not None:
        return at_once
    led = _led_by_block(reading, facts, setting)
    if led is not None:
        known = replace(correction, said=correction.said | {"block"})
        target = meant(led, known, setting)
        if target is not None:
            return Reading(Intent.FIX, (merged(target.record, led, known),), correction=known, targets=(target.id,))
        if _is_usual(led, setting):
            return Reading(Intent.FIX, (led,), correction=known, person=reading.person)
    if reading.ask is Ask.BLOCK and reading.pending and not facts.has("badblock", "block"):
        his = _only_of_person(reading.pending[0], facts, setting)
        if his is not None:
            one = merged(his.record, reading.pending[0], correction)
            return Reading(Intent.FIX, (one,), correction=correction, targets=(his.id,), person=his.by)
        found = _latest(reading.pending[0], correction, setting)
        if found is not None:
            one = merged(found.record, reading.pending[0], correction)
            return Reading(Intent.FIX, (one,), correction=correction, targets=(found.id,), person=reading.person)
    if facts.has("one_of") and facts.of("number", "litres"):
        said = facts.of("number", "litres")[-1].value
        waits = (Record(What.LATEX, reading.pending[0].day if reading.pending else None, litres=said),)
        return Reading(Intent.FIX, ask=Ask.BLOCK, pending=waits, options=setting.own_blocks, correction=correction)
    if reading.ask is not None:
        return replace(reading, intent=Intent.FIX, correction=correction)
    if _unclear(reading, facts, correction, setting):
        waits = (reading.records[0].with_(block=None),)
        return Reading(Intent.FIX, ask=Ask.BLOCK, pending=waits, options=setting.own_blocks, correction=correction)
    records, targets = [], []
    blocks = {each.block for each in reading.records if each.block is not None}
    if len(blocks) == len(reading.records) > 1 and not correction.block_was:
        correction = replace(
            correction, said=correction.said | {"block"}
        )  # each figure with its block, though by number
    for record in reading.records:
        target = meant(record, correction, setting)
        records.append(record if target is None else merged(target.record, record, correction))
        targets.append("" if target is None else target.id)
    return Reading(
        Intent.FIX,
        tuple(records),
        correction=correction,
        targets=tuple(targets) if any(targets) else (),
        person=reading.person,
        grounds=reading.grounds,
    )


def _held_before(reading: Reading, facts: Facts, setting: Setting) -> Decimal | None:
    """`the 15 litres are really 14`: the first of two figures, which a line of his holds, a word of correction between."""
    figures = facts.of("litres", "number", "kg")
    if len(figures) != 2 or len(reading.records) != 1 or facts.has("block", "again"):
        return None
    first, second = figures
    between = any(first.at < each.at < second.at for each in facts.of("fix"))
    lines = [each.record for each in setting.entered if each.mine and first.value in figures_of(each.record)]
    held = any(each.what is reading.records[0].what and each.day == reading.records[0].day for each in lines)
    return first.value if between and held and second.value in figures_of(reading.records[0]) else None


def _moved_by_figure(facts: Facts, correction: Correction, setting: Setting) -> Reading | None:
    """`the 15 litres are K3's, not K4's`: a line of the denied block with that very figure goes to the other one."""
    figures = facts.of("litres", "kg")
    named = {str(each.name) for each in facts.of("block")} - {correction.block_was}
    if correction.block_was is None or correction.was is not None or len(figures) != 1 or len(named) != 1:
        return None
    lines = [
        each
        for each in reversed(setting.entered)
        if each.mine and each.record.block == correction.block_was and figures[0].value in figures_of(each.record)
    ]
    if not lines:
        return None
    record = lines[0].record.with_(block=named.pop())
    return Reading(Intent.FIX, (record,), correction=correction, targets=(lines[0].id,))


def _only_of_person(record: Record, facts: Facts, setting: Setting) -> Entered | None:
    """`Somsri's of today is 11`: the one line of somebody who is named, of that kind and day."""
    people = {fact.name for fact in facts.of("person") if fact.name != setting.name}
    lines = [
        each
        for each in setting.entered
        if each.by in people and each.record.what is record.what and each.record.day == record.day
    ]
    was = figure_was(facts)
    lines = [each for each in lines if was in figures_of(each.record)] if was is not None and len(lines) > 1 else lines
    return lines[0] if len(people) == 1 and len(lines) == 1 else None


def _is_usual(record: Record, setting: Setting) -> bool:
    """Litres between a third and three times what the block usually gives."""
    block = setting.blocks.get(record.block or "")
    usual = None if block is None else block.usual_litres
    return usual is not None and record.litres is not None and usual / 3 <= record.litres <= usual * 3


def _led_by_block(reading: Reading, facts: Facts, setting: Setting) -> Record | None:
    """`sorry the 3 was 8.5`: a bare number of a block that has a line, and behind it the figure that it should have."""
    numbers = [each for each in facts.of("number") if each.value != figure_was(facts)]
    if reading.ask not in (Ask.BLOCK, None) or len(reading.records) > 1 or len(numbers) != 2:
        return None
    if facts.has("block", "litres", "kg", "sheets"):
        return None
    name = str(numbers[0].name)
    mine = [each.record for each in setting.entered if each.mine and each.record.what is What.LATEX]
    if name not in setting.own_blocks or numbers[1].name in setting.own_blocks:
        return None
    if any(each.block == name for each in reading.records) or facts.has("day"):
        return None
    waits = reading.pending[0].day if reading.pending else None
    day = next((each.day for each in reversed(mine) if each.block == name), waits)
    if day is None:
        return None
    return Record(What.LATEX, day, name, litres=numbers[1].value)


def _unclear(reading: Reading, facts: Facts, correction: Correction, setting: Setting) -> bool:
    """Whether a figure without its block could be meant for more than one line of the last text."""
    one = len(reading.records) == 1 and reading.records[0].what is What.LATEX
    if not one or facts.has("block", "badblock", "again") or len(setting.own_blocks) < 2:
        return False
    if any(fact.name == reading.records[0].block for fact in facts.of("number")):
        return False
    mine = {
        entry.record.block
        for entry in setting.entered
        if entry.mine and entry.record.what is What.LATEX and entry.record.day == reading.records[0].day
    }
    return len(mine) > 1 and _latest(reading.records[0].with_(block=None), correction, setting) is None


def recounted(facts: Facts, setting: Setting) -> Reading | None:
    """Another number of what was counted: `8 trees, not 6`, `11 sheets not 12`; None where the book holds no such line."""
    for unit, kinds in (("trees", (What.DRY_TREES,)), ("sheets", (What.SHEETS_ROLLED, What.SHEETS_DRY))):
        counts = facts.of(unit)
        if not counts and unit == "sheets" and facts.has("sheet") and figure_was(facts) is not None:
            counts = [each for each in facts.of("number") if each.value != figure_was(facts)]
        if not counts and unit == "trees" and _of_counted_trees(facts, setting):
            counts = [each for each in facts.of("number") if each.value != figure_was(facts)]
        if len(counts) != 1 or facts.has("litres", "kg", "collected") or counts[0].value is None:
            continue
        if unit == "sheets" and facts.has("rolled", "dry"):
            kinds = (What.SHEETS_DRY,) if facts.has("dry") else (What.SHEETS_ROLLED,)
        was = figure_was(facts)
        mine = [each for each in reversed(setting.entered) if each.mine and each.record.what in kinds]
        found = [each for each in mine if was is None or each.record.count == was]
        if found:
            record = found[0].record.with_(count=int(counts[0].value))
            correction = Correction(said=frozenset({"count"}), was=was)
            return Reading(Intent.FIX, (record,), correction=correction, targets=(found[0].id,))
    return None


def trees_recounted(facts: Facts, setting: Setting) -> Reading | None:
    """`the dry trees are only 4`: the one count of dry trees of the day is another, where no block is named."""
    words = [each.at for each in facts.of("dry_trees")]
    words += [each.at for each in facts.of("dry") if each.at and facts.items[each.at - 1].has("tree")]
    if not words or facts.has("block", "litres", "kg", "ask", "question", "again"):
        return None
    told = facts.has("this_is", "fix") or any(item.kind == "word" and item.has("only") for item in facts.items)
    counts = [each for each in facts.of("number", "trees") if 0 < each.at - words[0] <= 3]
    lines = [
        each
        for each in setting.entered
        if each.mine and each.record.what is What.DRY_TREES and each.record.day == log_day(setting.sent_at)
    ]
    if not told or not counts or counts[0].value is None or len(lines) != 1:
        return None
    record = lines[0].record.with_(count=int(counts[0].value))
    return Reading(Intent.FIX, (record,), correction=Correction(said=frozenset({"count"})), targets=(lines[0].id,))


def _of_counted_trees(facts: Facts, setting: Setting) -> bool:
    """`counted again, not 6, it is 8`: a figure that only a count of dry trees holds, and no litres of the last days."""
    was = figure_was(facts)
    known = [each.record for each in setting.entered if each.mine and was in figures_of(each.record)]
    return was is not None and bool(known) and all(each.what is What.DRY_TREES for each in known)


def completed(record: Record, correction: Correction | None, setting: Setting) -> Record:
    """A corrected record whose block was asked: what else stands of that line is kept."""
    known = replace(correction or Correction(), said=(correction or Correction()).said | {"block"})
    standing = meant(record, known, setting)
    return record if standing is None else merged(standing.record, record, known)


def meant(record: Record, correction: Correction, setting: Setting) -> Entered | None:
    """The newest entry that a correction fits: its kind, block and day where they were said, its old figure where it was."""
    fits = [
        entry
        for entry in reversed(setting.entered)
        if entry.record.what is record.what and _fits(entry, record, correction)
    ]
    own = [entry for entry in fits if entry.mine]
    with_figure = [
        entry for entry in own or fits if correction.was is None or correction.was in figures_of(entry.record)
    ]
    named = correction.was is None or bool(correction.said & {"block", "day"}) or record.what is not What.LATEX
    chosen = with_figure or ((own or fits) if named else [])  # another figure than the one that was said is not meant
    return chosen[0] if chosen else None


def _latest(record: Record, correction: Correction, setting: Setting) -> Entered | None:
    """The entry that a correction without a block means: the newest with the old figure, or the only line of the last text."""
    own = [
        entry
        for entry in setting.entered
        if entry.mine and entry.record.what is record.what and _fits(entry, record, correction)
    ]
    if not own:
        return None
    newest = max(entry.at for entry in own)
    if correction.was is not None:
        same = [entry for entry in own if correction.was in figures_of(entry.record)]
        return max(same, key=lambda entry: entry.at) if same else None
    latest = next(entry for entry in own if entry.at == newest)
    same_day = {entry.record.block for entry in own if entry.record.day == latest.record.day}
    return latest if len(same_day) == 1 else None


def _fits(entry: Entered, record: Record, correction: Correction) -> bool:
    block = correction.block_was or (record.block if "block" in correction.said else None)
    if block is not None and entry.record.block != block:
        return False
    day = correction.day_was or (record.day if "day" in correction.said else None)
    if day is not None and entry.record.day != day:
        return False
    both = record.farm is not None and entry.record.farm is not None
    return not both or same_farm(str(record.farm), str(entry.record.farm))


def same_farm(one: str, two: str) -> bool:
    a, b = one.casefold(), two.casefold()
    return a in b or b in a


def figures_of(record: Record) -> tuple[object, ...]:
    return (record.litres, record.kg, record.count, record.sheets)


def merged(standing: Record, said: Record, correction: Correction) -> Record:
    """The standing record with what was said changed in it."""
    changes: dict[str, object] = {"day": standing.day} if "day" not in correction.said else {"day": said.day}
    for name in ("litres", "kg", "drc", "count", "sheets", "grade", "price", "reason"):
        if getattr(said, name) is not None:
            changes[name] = getattr(said, name)
    for name in ("rain", "late"):
        if getattr(said, name):
            changes[name] = True
    if said.block is not None and (correction.block_was or "block" in correction.said):
        changes["block"] = said.block
    return standing.with_(**changes)


def added(facts: Facts, setting: Setting, today: date, own: tuple[str, ...], rained: bool) -> Reading | None:
    """What comes later belongs to what it speaks of: `drc block A 31`, `rain too, I left it out`."""
    values = facts.of("drc_value") or ([fact for fact in facts.of("number") if facts.has("drc")])
    late = facts.has("late") and not facts.has("late_report")
    if (
        facts.has("litres", "kg", "unmeasured", "not_tapped", "sheets")
        or not (values or rained or late)
        or facts.has("ask", "question", "acid")
    ):
        return None
    owner = setting.role is Role.OWNER and facts.has("block")
    latex = [each for each in setting.entered if each.record.what is What.LATEX and (each.mine or owner)]
    day = next((fact.day.day for fact in facts.of("day") if fact.day), None) or today
    named = {fact.name for fact in facts.of("block")} - {block_was(facts)}
    if not named and not values:
        named = {str(fact.name) for fact in facts.of("number") if fact.name in own}  # `rain, on the 2 only`
    todays = [entry for entry in latex if entry.record.day == day]
    if not todays and values and not facts.has("day") and latex and latex[-1].record.day == today - timedelta(days=1):
        todays = [
            entry for entry in latex if entry.record.day == latex[-1].record.day
        ]  # the latex of yesterday, measured today
    found = [entry for entry in todays if not named or entry.record.block in named]
    if not found or (named and len({entry.record.block for entry in found}) < len(named)):
        return None
    if not named and values and len(found) > 1 and not facts.has("all", "each"):
        newest = max(entry.at for entry in found)
        found = [entry for entry in found if entry.at == newest]
    changes: dict[str, object] = {}
    if rained:
        changes["rain"] = True
    if late:
        changes["late"] = True
    each_own = _each_its_own(values, facts)
    records = tuple(
        entry.record.with_(**changes, **({"drc": each_own.get(entry.record.block, values[-1].value)} if values else {}))
        for entry in found
    )
    return Reading(
        Intent.FIX,
        records,
        correction=Correction(said=stated(facts), adds=True),
        targets=tuple(entry.id for entry in found),
    )


#: A DRC stands within so many words behind its block.
DRC_NEAR = 4


def _each_its_own(values: list[Fact], facts: Facts) -> dict[str | None, Decimal | None]:
    """`drc: block 1 is 34, block 2 is 29.5`: the DRC behind each block; empty where there is one for all."""
    blocks = facts.of("block")
    if len(values) < 2 or len(values) != len(blocks):
        return {}
    behind = {
        block.name: next((value.value for value in values if 0 < value.at - block.at <= DRC_NEAR), None)
        for block in blocks
    }
    return {} if None in behind.values() else behind


def regraded(facts: Facts, setting: Setting) -> Reading | None:
    """A take whose grade or price alone is corrected: `the one from Otter Bend was rss3`."""
    grades, prices = facts.of("grade"), facts.of("price_value")
    farms = {str(fact.name) for fact in facts.of("farm")}
    prices = prices or (
        [each for each in facts.of("number") if each.value != figure_was(facts)] if facts.has("price") else []
    )
    corrects = facts.has("fix", "not") or bool(farms)
    if not (grades or prices) or facts.has("kg", "sheets", "litres", "ask", "question", "block") or not corrects:
        return None
    takes = [entry for entry in reversed(setting.entered) if entry.mine and entry.record.what is What.COLLECTED]
    found = [e for e in takes if not farms or any(same_farm(str(e.record.farm), farm) for farm in farms)]
    was = figure_was(facts)
    if prices and was is not None and any(each.record.price == was for each in found):
        found = [each for each in found if each.record.price == was]
    if found and facts.has("all") and facts.has("fix", "not") and not farms:
        newest = [each for each in found if each.at == found[0].at]
        records = tuple(
            each.record.with_(
                grade=grades[0].name if grades else each.record.grade,
                price=prices[0].value if prices else each.record.price,
            )
            for each in newest
        )
        correction = Correction(said=stated(facts), everything=True)
        return Reading(Intent.FIX, records, correction=correction, targets=tuple(each.id for each in newest))
    if not found or (not farms and len({e.record.farm for e in found if e.record.day == found[0].record.day}) > 1):
        return None
    record = found[0].record.with_(
        grade=grades[0].name if grades else found[0].record.grade,
        price=prices[0].value if prices else found[0].record.price,
    )
    return Reading(Intent.FIX, (record,), correction=Correction(said=stated(facts)), targets=(found[0].id,))


def taken_again(facts: Facts, setting: Setting) -> Reading | None:
    """`Otter Bend weigh 35.5 kg, I read the scale bad`, of a collector: figures of a take of today, farm by farm.

    A text that names no other take of the farm (no sheets beside kilos, no grade) and says that something was weighed or
    told anew corrects what stands. None where it is a new take, or where it is not clear what a figure is.
    """
    farms = sorted(facts.of("farm"), key=lambda fact: fact.at)
    if setting.role is not Role.COLLECTOR or not farms or facts.has("question", "undo", "collected", "lump", "grade"):
        return None
    takes = [each for each in reversed(setting.entered) if each.mine and each.record.what is What.COLLECTED]
    found = {
        str(farm.name): next((each for each in takes if same_farm(str(each.record.farm), str(farm.name))), None)
        for farm in farms
    }
    anew = facts.has("fix", "not", "self", "weighed", "again", "keep", "this_is")
    if not anew or any(each is None or each.record.day != log_day(setting.sent_at) for each in found.values()):
        return None
    changes: dict[str, dict[str, object]] = {name: {} for name in found}
    for fact in facts.of("kg", "number", "sheets", "price_value", "litres"):
        if fact.value == figure_was(facts):
            continue
        farm = next((each for each in reversed(farms) if each.at < fact.at), farms[0])
        start = max(
            [farm.at, *(each.at for each in facts.of("kg", "number", "sheets", "price_value") if each.at < fact.at)]
        )
        what = _figure_of_take(fact, facts, start)
        own = changes[str(farm.name)]
        if what is None or what in own:
            return None
        own[what] = int(fact.value) if what == "sheets" and fact.value is not None else fact.value
    if any(not own or {"kg", "sheets"} <= set(own) for own in changes.values()):
        return None
    pairs = [(each.record.with_(**changes[name]), each.id) for name, each in found.items() if each is not None]
    said = frozenset(what for own in changes.values() for what in own)
    records, targets = tuple(record for record, _ in pairs), tuple(target for _, target in pairs)
    return Reading(Intent.FIX, records, correction=Correction(said=said), targets=targets)


def _figure_of_take(fact: Fact, facts: Facts, start: int) -> str | None:
    """What a figure of a take is: its own unit says it, or the last word before it (`weight`, `price`, `sheets`)."""
    units = {"kg": "kg", "sheets": "sheets", "price_value": "price"}
    if fact.kind in units:
        priced = fact.kind == "kg" and any(start < each.at < fact.at for each in facts.of("price"))
        return None if priced else units[fact.kind]
    if fact.kind != "number":
        return None
    for item in reversed(facts.items[max(0, start - 4) : fact.at]):
        for tag, what in (("price", "price"), ("weighed", "kg"), ("kg", "kg"), ("sheet", "sheets")):
            if item.kind == "word" and item.has(tag):
                return what
    return None


def _bare_price(facts: Facts, setting: Setting) -> Reading | None:
    """`sorry 785`, right behind a price of 780 that was told."""
    newest = max(setting.entered, key=lambda each: each.at, default=None)
    numbers = [each.value for each in facts.of("number", "price_value") if each.value != figure_was(facts)]
    other = facts.has("litres", "kg", "sheets", "block", "farm", "grade", "day", "ask", "question")
    if newest is None or not newest.mine or newest.record.what is not What.PRICE or other or len(numbers) != 1:
        return None
    if setting.sent_at - newest.at > JUST_NOW:
        return None
    price, before = numbers[0], newest.record.price
    if price is None or not before or abs(price / before - 1) > NEAR_PRICE:
        return None
    correction = Correction(said=frozenset({"price"}))
    return Reading(Intent.FIX, (newest.record.with_(price=price),), correction=correction, targets=(newest.id,))


#: What was sent so long ago was sent just now.
JUST_NOW = timedelta(hours=1)

#: A bare figure within this share of a price that was just told is that price set right. Common practice, no source.
NEAR_PRICE = Decimal("0.5")


def repriced(alone: Reading, facts: Facts, setting: Setting) -> Reading | None:
    """`sorry, the price is 67.50`: another figure for a price of the day that he told before."""
    if not facts.has("fix"):
        return None
    bare = _bare_price(facts, setting) if not alone.records else None
    if bare is not None:
        return bare
    record = alone.records[0] if len(alone.records) == 1 and alone.ask is None else None
    if record is None or record.what is not What.PRICE:
        return None
    key = (record.what, record.day, record.grade)
    told = [each for each in reversed(setting.entered) if each.mine]
    found = next((each for each in told if (each.record.what, each.record.day, each.record.grade) == key), None)
    if found is None or found.record.price == record.price:
        return None
    return Reading(Intent.FIX, (record,), correction=Correction(said=frozenset({"price"})), targets=(found.id,))


def weighed_again(facts: Facts, setting: Setting) -> Reading | None:
    """`block A of yesterday is 17 kg, not 17.5`: the one line of such a weight, which may be latex, lump or sheets."""
    was, kilos = figure_was(facts), [each for each in facts.of("kg") if each.value != figure_was(facts)]
    if was is None or len(kilos) != 1 or facts.has("litres", "sheets", "collected", "price_value", "ask", "question"):
        return None
    named = {str(each.name) for each in facts.of("block")}
    lines = [each for each in setting.entered if each.record.kg == was and (not named or each.record.block in named)]
    lines = [each for each in lines if each.record.what is not What.COLLECTED]
    mine = [each for each in lines if each.mine] or lines
    if len(mine) != 1:
        return None
    correction = Correction(said=frozenset({"kg"}), was=was)
    return Reading(Intent.FIX, (mine[0].record.with_(kg=kilos[0].value),), correction=correction, targets=(mine[0].id,))


def known_figure(facts: Facts, setting: Setting) -> Reading | None:
    """`yesterday's 17 was 16.5`: of two figures the first stands in one line of the sender's, the second is what it should be."""
    figures = facts.of("litres", "number")
    other = facts.has("block", "badblock", "kg", "sheets", "again", "not_tapped", "ask", "question", "drc", "undo")
    far = figures[1].at - figures[0].at > (FAR if facts.has("day") else NEAR) if len(figures) == 2 else True
    if far or other or figures[0].clause != figures[1].clause:
        return None
    days = [each.day.day for each in facts.of("day") if each.day is not None]
    said = days[0] if len(days) == 1 else None
    lines = [each for each in setting.entered if each.mine and each.record.what is What.LATEX]
    lines = [each for each in lines if each.record.day == said] if said is not None else lines
    found = [each for each in lines if each.record.litres == figures[0].value]
    if len(found) != 1 or (said is None and not facts.has("fix")):
        return None
    correction = Correction(said=frozenset({"litres"}), was=figures[0].value)
    record = found[0].record.with_(litres=figures[1].value)
    return Reading(Intent.FIX, (record,), correction=correction, targets=(found[0].id,))


#: Two figures of which the second corrects the first stand so near each other, with a day between them or without.
FAR, NEAR = 6, 3

"""Taking back: which lines a text takes out of the book."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date

from parsers.amending import figures_of, same_farm
from parsers.corrections import stated
from parsers.days import log_day
from parsers.facts import Facts
from parsers.reading import Correction, Entered, Intent, Reading, Setting, What

#: What is taken out by the name of its kind.
KINDS = (
    ("price", What.PRICE),
    ("lump", What.LUMP),
    ("rolled", What.SHEETS_ROLLED),
    ("dry", What.SHEETS_DRY),
    ("acid", What.ACID_STOCK),
    ("stimulated", What.STIMULATED),
)


def takes_out_a_figure(facts: Facts, setting: Setting) -> bool:
    """`remove that 12 that Efe sent for 7`: the text begins with taking out, of somebody's, a figure that stands."""
    undo, people = facts.of("undo"), [each for each in facts.of("person") if each.name != setting.name]
    if not undo or undo[0].at > 1:
        return False
    if not people:
        return _takes_out_a_line(facts, setting)
    known = {figure for entry in setting.entered if entry.by == people[0].name for figure in figures_of(entry.record)}
    return any(each.value in known for each in facts.of("litres", "number", "kg", "sheets") if each.value is not None)


def _takes_out_a_line(facts: Facts, setting: Setting) -> bool:
    """`delete A of the 5th, those 18 litres, nobody tapped that day`: block, day and figure of a line that stands."""
    figures = {each.value for each in facts.of("litres", "kg")}
    blocks = {each.name for each in facts.of("block")}
    days = {each.day.day for each in facts.of("day") if each.day is not None}
    if len(figures) != 1 or len(blocks) != 1 or len(days) != 1:
        return False
    return any(
        each.record.block in blocks and each.record.day in days and figures & set(figures_of(each.record))
        for each in setting.entered
    )


def _untapped(setting: Setting, today: date) -> list[Entered]:
    return [
        each
        for each in setting.entered
        if each.mine and each.record.what is What.NO_TAPPING and each.record.day == today
    ]


def tapped_instead(facts: Facts, setting: Setting) -> Reading | None:
    """`cancel, the rain is over, we tap`: a text that begins with taking out, and nothing measured, on a day of no tapping."""
    undo = facts.of("undo")
    measured = facts.has("litres", "kg", "sheets", "number", "unmeasured", "collected", "person", "ask", "question")
    if not undo or undo[0].at > 0 or measured:
        return None
    named = {each.name for each in facts.of("block")}
    gone = [each for each in _untapped(setting, log_day(setting.sent_at)) if not named or each.record.block in named]
    return _out(gone, facts) if gone else None


def _out(lines: Sequence[Entered], facts: Facts) -> Reading:
    return Reading(
        Intent.UNDO,
        tuple(each.record for each in lines),
        correction=Correction(said=stated(facts), everything=facts.has("all")),
        targets=tuple(each.id for each in lines),
    )


def tapped_after_all(alone: Reading, facts: Facts, setting: Setting) -> Reading | None:
    """`take out the holiday, I tapped after all: north 16 litres`: the day of no tapping goes, the latex is entered."""
    undo = facts.of("undo")
    latex = [each for each in alone.records if each.what is What.LATEX and each.litres is not None]
    if not undo or undo[0].at > 1 or len(latex) != len(alone.records) or not latex:
        return None
    said = facts.has("holiday", "rest", "not_tapped", "sick", "rain", "other")
    gone = [each.id for each in _untapped(setting, latex[0].day or date.min)]
    return replace(alone, targets=tuple(gone)) if gone and said else None


def undone(facts: Facts, setting: Setting) -> Reading:
    """What is to be taken out: the lines of the blocks, persons or days named, otherwise the last text's."""
    named = {fact.name for fact in facts.of("block")}
    days = {fact.day.day for fact in facts.of("day") if fact.day}
    persons = {fact.name for fact in facts.of("person") if fact.name != setting.name}
    clause = facts.of("undo")[0].clause if facts.has("undo") else 0
    kinds = {what for tag, what in KINDS if any(fact.clause == clause for fact in facts.of(tag))}
    if not kinds and any(fact.clause == clause for fact in facts.of("sheet", "sheets")):
        kinds = {What.SHEETS_ROLLED, What.SHEETS_DRY}
    correction = Correction(said=stated(facts), everything=facts.has("all"))
    known = {figure for entry in setting.entered for figure in figures_of(entry.record)}
    figures = {fact.value for fact in facts.of("litres", "number", "kg", "sheets") if fact.value is not None} & known
    if not (named or persons or days or kinds or figures or facts.has("all", "farm")):
        return Reading(Intent.UNDO, correction=correction)
    takers = {str(fact.name) for fact in facts.of("farm")}
    fits = [
        entry
        for entry in setting.entered
        if (not named or entry.record.block in named)
        and (not takers or any(same_farm(str(entry.record.farm), each) for each in takers))
        and (not days or entry.record.day in days)
        and (not persons or entry.by in persons)
        and (not kinds or entry.record.what in kinds)
    ]
    with_figure = [entry for entry in fits if figures & set(figures_of(entry.record))]
    fits = with_figure or fits
    own = fits if persons else ([entry for entry in fits if entry.mine] or fits)
    if not own:
        return Reading(Intent.UNDO, correction=correction)
    newest = max(entry.record.day or date.min for entry in own)
    chosen = [entry for entry in own if entry.record.day == newest] if not days else own
    if named and not facts.has("all"):
        chosen = [
            max((entry for entry in chosen if entry.record.block == name), key=lambda e: e.at)
            for name in named
            if any(e.record.block == name for e in chosen)
        ]
    return _out(chosen, facts)

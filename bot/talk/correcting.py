"""Correcting and taking back: a new line takes the place of an older one, and both can be seen.

Anybody may correct what is his own work. An owner may correct and take back what his tappers entered, and they are told; a
tapper may not touch another's.
"""

from collections.abc import Sequence
from dataclasses import replace

import parsers
from bot.books import disputes, entries
from bot.books.model import Entry, Person
from bot.reckon import batches
from bot.speech import say
from bot.speech.language import Tongue, tongue
from bot.talk import collecting, entering, going_back, questions, remarks
from bot.talk.desk import Desk, Outcome, Told
from bot.talk.exchange import Kind
from parsers.reading import Correction, Intent, Reading, Record, Role, What
from parsers.taking import Lot


def log(desk: Desk, reading: Reading) -> Outcome:
    """Enter the lines, or correct a tapper's where they are the owner's figures for what a tapper reported."""
    corrected = _owners_corrections(desk, reading.records)
    return change_all(desk, corrected) if corrected else entering.log(desk, reading)


def _owners_corrections(desk: Desk, records: Sequence[Record]) -> list[tuple[Entry, Record]]:
    """An owner's figure for a block and day that a tapper reported corrects it: he does not tap himself."""
    if not desk.is_owner or Role.TAPPER in desk.roles or len(records) != 1 or records[0].again:
        return []
    record = records[0]
    met = [
        entry
        for entry in (desk.on(record.day) if batches.is_latex(record) else ())
        if (entry.record.what, entry.record.block) == (record.what, record.block)
        and entry.by.id != desk.me.id
        and not entry.record.again
    ]
    return [(met[-1], record)] if met and not _same_quantity(met[-1].record, record) else []


def _same_quantity(one: Record, two: Record) -> bool:
    return (one.litres, one.kg) == (two.litres, two.kg)


#: A longer text than this is a message of its own, not the answer to a question.
LONGEST_CHOICE = 40


def fix(desk: Desk, reading: Reading) -> Outcome:
    """Put the corrected lines in the place of those that they mean; a line that stands nowhere yet is entered.

    Of two figures in one text for the same line the last one counts.
    """
    worker = desk.named(reading.person) or desk.me
    correction = reading.correction or Correction()
    one_each = len(reading.targets) == len(reading.records)
    pairs = [
        (record, target(desk, record, correction, reading.targets[n : n + 1] if one_each else reading.targets))
        for n, record in enumerate(reading.records)
    ]
    foreign = [entry for _, entry in pairs if entry is not None and not may_change(desk, worker, entry)]
    if foreign:
        return refuse(desk, foreign[0])
    impossible = collecting.refusal(desk, [_lot(record, entry) for record, entry in pairs if _is_take(record)])
    impossible = impossible or _no_such_drc(desk, reading.records)
    if impossible is not None:
        return impossible
    new = tuple(record for record, entry in pairs if entry is None)
    last_said = {entry.id: (record, entry) for record, entry in pairs if entry is not None}
    gives = "by" in correction.said and worker.id != desk.me.id
    changes = [(record, entry) for record, entry in last_said.values() if entry.record != record or gives]
    if new and not changes:
        return _nothing_to_change(desk, reading, new)
    if not changes:
        return _stands_so(desk, [entry for _, entry in last_said.values()])
    given = worker if "by" in correction.said and worker.id != desk.me.id else None
    changed = [(entry, change(desk, entry, record, by=given)) for record, entry in changes]
    if new:
        entering.enter(desk, worker, new)
    return _changed(desk, changed)


def _no_such_drc(desk: Desk, records: Sequence[Record]) -> Outcome | None:
    """A correction may say any figure; a DRC that no latex can have is refused. None where there is none."""
    wrong = [each for each in records if each.what is What.LATEX and each.drc is not None and not 0 < each.drc < 100]
    if not wrong:
        return None
    line = say.lines(desk.tongue, wrong, desk.today)
    text = desk.tongue.say("These figures cannot be right: {line}. Nothing entered.", line=line)
    return Outcome(Kind.REFUSED, text)


def _lot(record: Record, entry: Entry | None) -> Lot:
    return Lot(record) if entry is None else collecting.corrected_lot(entry, record)


def more_or_instead(desk: Desk, reading: Reading) -> Outcome | None:
    """The answer to whether a second figure adds or takes the place of the first; None where the text is none."""
    waiting = questions.open_for(desk)
    if waiting is None or not questions.is_more_or_instead(waiting) or waiting.entry is None:
        return None
    choice = parsers.choose(desk.message.text, desk.setting(None), desk.house.words)
    if choice is None or len(desk.message.text) > LONGEST_CHOICE:
        return None
    questions.settle(desk)
    first = waiting.question.reading
    record, person = first.pending[0], first.person
    entry = entries.as_it_stands(desk.tx, waiting.entry)
    if entry is None:  # it was taken out since the question
        outcome = entering.log(desk, Reading(Intent.LOG, (record,), person=person))
    elif choice == questions.MORE:
        outcome = entering.log(desk, Reading(Intent.LOG, (record.with_(again=True),), person=person))
    else:
        outcome = _changed(desk, [(entry, change(desk, entry, record))])
    return _and_next(desk, outcome, person, waiting.rest)


def _and_next(desk: Desk, outcome: Outcome, person: str | None, rest: Sequence[tuple[Record, str]]) -> Outcome:
    """Ask about the next figure of the same text that met a standing line."""
    found = [(record, entries.as_it_stands(desk.tx, entry_id)) for record, entry_id in rest]
    met = [(record, entry) for record, entry in found if entry is not None]
    if not met:
        return outcome
    question = questions.ask_more_or_instead(desk, person, met)
    return Outcome(outcome.kind, f"{outcome.text or ''} {question}".strip(), outcome.others)


def undo(desk: Desk, reading: Reading) -> Outcome:
    """Take lines out of the book, where they stay visible as taken out, or put back what the last text changed."""
    back = going_back.as_before(desk, reading)
    if back:
        return _changed(desk, [(entry, change(desk, entry, before)) for entry, before in back])
    found = meant_by_undo(desk, reading)
    if not found:
        return _nothing_to_take_out(desk)
    foreign = [entry for entry in found if not may_change(desk, desk.me, entry)]
    if foreign:
        return refuse(desk, foreign[0])
    for entry in found:
        if entry.record.what is What.COLLECTED:
            collecting.settled(desk, entry, disputes.TAKEN_OUT)
        entries.remove(desk.tx, entry.id, message_id=desk.message.id, at=desk.sent)
    said = say.lines(desk.tongue, [entry.record for entry in found], desk.today)
    return Outcome(Kind.REMOVED, desk.tongue.say("Taken out: {lines}.", lines=said), told_of_removal(desk, found))


def change(desk: Desk, entry: Entry, record: Record, notes: tuple[str, ...] = (), by: Person | None = None) -> Entry:
    """A new line in the place of an older one. A corrected take ends its dispute.

    It stays the work of the same person, unless it is given to another (`by`) by him who sent it. `notes` are new reasons
    of a take's grade; without any the old ones stay.
    """
    if entry.record.what is What.COLLECTED:
        collecting.settled(desk, entry, disputes.CORRECTED)
        return collecting.write(desk, entry.by, collecting.corrected_lot(entry, record, notes), replaces=entry)
    batch = desk.batch(record)
    return entries.enter(
        desk.tx,
        farm_id=desk.farm.id,
        message_id=desk.message.id,
        by=by or entry.by,
        via=entry.via if by is None else desk.me.number,
        record=record,
        entered_at=desk.sent,
        confirmed=entry.confirmed,
        computed=None if batch is None else batches.kept(batch, desk.farm),
        replaces=entry.id,
    )


def change_all(desk: Desk, found: list[tuple[Entry, Record]]) -> Outcome:
    """Put figures in the place of standing ones; what else was said of these lines is kept."""
    pairs = [
        (
            entry,
            record.with_(
                rain=record.rain or entry.record.rain,
                late=record.late or entry.record.late,
                drc=record.drc or entry.record.drc,
            ),
        )
        for entry, record in found
    ]
    return _changed(desk, [(entry, change(desk, entry, record)) for entry, record in pairs])


def put_in_place(desk: Desk, entry: Entry, record: Record, notes: tuple[str, ...] = ()) -> Outcome:
    """A record in the place of a standing line, as it is; he whose work it is is told."""
    impossible = collecting.refusal(desk, [collecting.corrected_lot(entry, record)]) if _is_take(record) else None
    return impossible or _changed(desk, [(entry, change(desk, entry, record, notes))])


def _is_take(record: Record) -> bool:
    return record.what is What.COLLECTED


def may_change(desk: Desk, worker: Person, entry: Entry) -> bool:
    """His own work, from any phone that he had, or anything on his own farm; what another entered on his is the other's work.

    What a cooperative's collector took is no owner's to change: he disputes it.
    """
    own = entry.by.id == worker.id or desk.is_mine(entry.by.id)
    return own or (desk.is_owner and not _is_cooperatives(desk, entry))


def _is_cooperatives(desk: Desk, entry: Entry) -> bool:
    return entry.record.what is What.COLLECTED and desk.cooperative is not None


def refuse(desk: Desk, entry: Entry) -> Outcome:
    """Say why a line is not changed, and who can."""
    if _is_cooperatives(desk, entry):
        number = desk.receipt_number(entry)
        text = desk.tongue.say(
            "Receipt {number} is {name}'s. Not right? Answer: {number} and why. Nothing changed.",
            number=number,
            name=entry.by.name,
        )
        return Outcome(Kind.REFUSED, text)
    text = desk.tongue.say(
        "{line} is {name}'s entry: only {name} or the owner can change it. Nothing changed.",
        line=say.sentence(say.line(desk.tongue, entry.record, desk.today)).rstrip("."),
        name=entry.by.name,
    )
    return Outcome(Kind.REFUSED, text)


def target(desk: Desk, record: Record, correction: Correction, targets: tuple[str, ...]) -> Entry | None:
    """The standing line that a corrected record means: the one the reader found, else the newest that fits."""
    block = correction.block_was or record.block
    day = correction.day_was or record.day
    fits = [
        entry
        for entry in reversed(desk.view)
        if entry.record.what is record.what
        and entry.record.day == day
        and (block is None or entry.record.block == block)
        and (record.farm is None or entry.record.farm in (None, record.farm))
    ]
    named = [entry for entry in desk.view if entry.id in targets and entry.record.what is record.what]
    own = [entry for entry in fits if desk.is_mine(entry.by.id)]
    figure = [entry for entry in own or fits if correction.was in (entry.record.litres, entry.record.kg)]
    if correction.was is not None and not named and not figure and not correction.said & {"block", "day", "farm"}:
        return None  # nothing holds the figure that is said to be wrong
    chosen = named or (figure if correction.was is not None else []) or own or fits
    return chosen[0] if chosen else None


def meant_by_undo(desk: Desk, reading: Reading) -> list[Entry]:
    """The lines to take out: those named, or what the sender's last entering text brought."""
    by_id = {entry.id: entry for entry in desk.view}
    named = [by_id[each] for each in reading.targets if each in by_id]
    if named:
        return named
    if going_back.as_before(desk, reading):
        return []  # nothing is taken out: a correction is withdrawn
    if reading.records:
        found = [target(desk, record, reading.correction or Correction(), ()) for record in reading.records]
        return list({entry.id: entry for entry in found if entry is not None}.values())
    mine = [entry for entry in desk.view if desk.is_mine(entry.by.id) or entry.via == desk.me.number]
    if not mine:
        return []
    latest = max(mine, key=lambda entry: (entry.entered_at, entry.id))
    return [entry for entry in mine if entry.message_id == latest.message_id]


def difference(tongue: Tongue, before: Record, now: Record) -> str:
    """What changed, from what to what: `(was 18 L)`."""
    if before.block != now.block:
        return tongue.say("was {before}", before=say.block_name(tongue, before.block))
    if say.amount(tongue, before) != say.amount(tongue, now):
        return tongue.say("was {before}", before=say.amount(tongue, before) or "-")
    if before.day != now.day and before.day is not None:
        return tongue.say("was {before}", before=tongue.date(before.day))
    if before.reason != now.reason:
        return tongue.say("was {before}", before=say.reason(tongue, before.reason))
    if before.drc is not None and before.drc != now.drc:
        return tongue.say("was {before}", before=say.drc(tongue, before.drc))
    return ""


def _changed_line(tongue: Tongue, before: Record, now: Record, desk: Desk) -> str:
    was = difference(tongue, before, now)
    said = say.line(tongue, now, desk.today)
    return f"{said} ({was})" if was else said


def _in_words(tongue: Tongue, old: Entry, new: Entry, desk: Desk) -> str:
    if _is_take(new.record) and collecting.is_of(desk, new.record):
        return collecting.changed_in_words(desk, tongue, old, new)
    return _changed_line(tongue, old.record, new.record, desk)


def _changed(desk: Desk, changed: list[tuple[Entry, Entry]]) -> Outcome:
    said = desk.tongue.several(_in_words(desk.tongue, old, new, desk) for old, new in changed)
    pieces = [desk.tongue.say("Changed: {lines}.", lines=said)]
    if any(_dose_matters(old.record, new.record) for old, new in changed):
        pieces.append(entering.to_do(desk, [new.record for _, new in changed], behind=pieces[0]))
    pieces += [held for old, new in changed if (held := _holds_more(desk, old.record, new.record))]
    others = tuple(_told_of_change(desk, old, new) for old, new in changed if not desk.is_mine(old.by.id))
    return Outcome(Kind.CHANGED, " ".join(piece for piece in pieces if piece), others + _receipts_again(desk, changed))


def _holds_more(desk: Desk, before: Record, now: Record) -> str:
    """What a block holds on a day in all, where a line was moved to one that has latex already; empty elsewhere."""
    if now.what is not What.LATEX or now.day is None or (before.block, before.day) == (now.block, now.day):
        return ""
    return remarks.holds_in_all(desk, now, least=2)


def _dose_matters(before: Record, now: Record) -> bool:
    return now.what is What.LATEX and (before.litres, before.kg, before.drc) != (now.litres, now.kg, now.drc)


def _told_of_change(desk: Desk, old: Entry, new: Entry) -> Told:
    theirs = tongue(old.by.language)
    said = _changed_line(theirs, old.record, new.record, desk)
    return Told(old.by, theirs.say("{name} changed your entry: {lines}.", name=desk.me.name, lines=said))


def told_of_removal(desk: Desk, found: list[Entry]) -> tuple[Told, ...]:
    """Those whose entries somebody else took out, and those who hold the receipt of a take that is out."""
    told = []
    for entry in found:
        if entry.record.what is What.COLLECTED and collecting.is_of(desk, entry.record):
            told += [_told_of_take(desk, entry, person) for person in dict.fromkeys([*desk.owners(), *desk.tappers()])]
        if not desk.is_mine(entry.by.id):
            theirs = tongue(entry.by.language)
            said = say.line(theirs, entry.record, desk.today)
            told.append(
                Told(entry.by, theirs.say("{name} took out your entry: {lines}.", name=desk.me.name, lines=said))
            )
    return tuple(told)


def _told_of_take(desk: Desk, entry: Entry, person: Person) -> Told:
    theirs = tongue(person.language)
    number = desk.receipt_number(entry)
    line = say.sentence(say.line(theirs, entry.record, desk.today)).rstrip(".")
    said = f"{theirs.say('Receipt {number}.', number=number)} {line}"
    return Told(person, theirs.say("{name} took out: {lines}.", name=desk.me.name, lines=said))


def _receipts_again(desk: Desk, changed: list[tuple[Entry, Entry]]) -> tuple[Told, ...]:
    """A changed take is told to those who got its receipt."""
    told = []
    for old, new in changed:
        if new.record.what is What.COLLECTED and collecting.is_of(desk, new.record):
            for person in [*desk.owners(), *desk.tappers()]:
                theirs = tongue(person.language)
                said = _in_words(theirs, old, new, desk)
                told.append(Told(person, theirs.say("{name} changed: {lines}.", name=desk.me.name, lines=said)))
    return tuple(told)


def _stands_so(desk: Desk, standing: list[Entry]) -> Outcome:
    said = say.lines(desk.tongue, [entry.record for entry in standing], desk.today)
    return Outcome(Kind.ANSWERED, desk.tongue.say("So it stands already: {lines}.", lines=said))


def _nothing_to_change(desk: Desk, reading: Reading, new: tuple[Record, ...]) -> Outcome:
    """A correction of something that is not in the book: enter it where it says enough to be entered."""
    complete = tuple(record for record in new if record.what is not What.LATEX or batches.is_latex(record))
    if complete and not (reading.correction and reading.correction.adds):
        return entering.log(desk, replace(reading, intent=Intent.LOG, records=complete))
    said = say.lines(desk.tongue, new, desk.today)
    return Outcome(Kind.REFUSED, desk.tongue.say("I find no entry for that: {lines}. Text the litres too.", lines=said))


def _nothing_to_take_out(desk: Desk) -> Outcome:
    waiting = questions.open_for(desk)
    if waiting is not None:
        questions.settle(desk, "dropped")
        return Outcome(Kind.REMOVED, desk.tongue.say("Dropped. Nothing was entered."))
    return Outcome(Kind.ANSWERED, desk.tongue.say("There is no entry of yours to take out."))

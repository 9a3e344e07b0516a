"""Entering what a text says: the day-book's lines, the dose and what to expect.

Nothing is entered twice and nothing is overwritten here. A line that stands already is answered with what stands; a second
figure for a block and day, without a word that says it adds, is asked about.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta

from bot.books import entries
from bot.books.model import Entry, Person
from bot.reckon import batches
from bot.rubber.coagulation import DoseRefused
from bot.speech import say
from bot.speech.fitting import parts_of
from bot.speech.language import Tongue, tongue
from bot.talk import collecting, questions
from bot.talk.desk import Desk, Outcome, Told
from bot.talk.exchange import Kind
from bot.talk.remarks import remark
from parsers.reading import ALL_BLOCKS, Reading, Record, What
from parsers.taking import Lot

#: Lines of these kinds stand once for a block and day; the same line again is never a second one.
ONCE_A_DAY = frozenset({What.NO_TAPPING, What.STIMULATED, What.DRY_TREES, What.ACID_STOCK, What.PRICE, What.CHECK_IN})

#: Other kinds (lump, sheets, a take) may come twice alike on a day, but not within this time.
SAME_TEXT_AGAIN = timedelta(minutes=30)


@dataclass(frozen=True)
class Sorted:
    """The lines of a text: new ones, ones that stand already, and ones that meet another figure."""

    new: tuple[Record, ...]
    standing: tuple[Entry, ...]
    meeting: tuple[tuple[Record, Entry], ...]


def log(desk: Desk, reading: Reading) -> Outcome:
    """Enter the lines of a reading and answer with what was understood, what to do and what to expect."""
    worker = desk.named(reading.person) or desk.me
    impossible = collecting.not_theirs(desk, reading.records) or collecting.refusal(
        desk, [Lot(each) for each in reading.records if each.what is What.COLLECTED]
    )
    if impossible is not None:
        return impossible
    found = sort(desk, worker, reading.records)
    if found.meeting and not reading.confirmed:
        return _ask_about_meeting(desk, worker, reading, found)
    if not found.new and not found.meeting:
        return _stands_already(desk, found.standing)
    records = found.new + tuple(record for record, _ in found.meeting)
    entered = enter(desk, worker, records, confirmed=reading.confirmed, corrects=reading.correction is not None)
    _take_out_no_tapping(desk, worker, reading.targets)
    return _answer(desk, worker, entered)


def _take_out_no_tapping(desk: Desk, worker: Person, named: Sequence[str]) -> None:
    """His days of no tapping that the text takes out where it reports latex of them; some may be struck out already."""
    if not named:
        return
    standing = {entry.id: entry for entry in entries.standing(desk.tx, desk.farm.id, first=desk.today, last=desk.today)}
    for entry in (standing[each] for each in named if each in standing):
        if entry.record.what is What.NO_TAPPING and entry.by.id == worker.id:
            entries.remove(desk.tx, entry.id, message_id=desk.message.id, at=desk.sent)


def _ask_about_meeting(desk: Desk, worker: Person, reading: Reading, found: Sorted) -> Outcome:
    """Lines that are clear are entered at once; figures that meet standing ones are asked about, so that none is lost."""
    records = [entry.record for entry in enter(desk, worker, found.new)]
    question = questions.ask_more_or_instead(desk, reading.person, found.meeting)
    head = f"{understood(desk, records)} {to_do(desk, records)}".strip() if records else ""
    return Outcome(Kind.ASKED, f"{head} {question}".strip(), _others(desk, worker, records) if records else ())


def enter(
    desk: Desk, worker: Person, records: Sequence[Record], *, confirmed: bool = False, corrects: bool = False
) -> list[Entry]:
    """Write the lines. A line of latex strikes out that the same block was not tapped that day.

    `corrects` says that the text corrects what is not in the book (yet).
    """
    desk.known  # noqa: B018  what was known before these lines is what their figures are held against
    written = []
    struck_out = [_not_tapped_before(desk, worker, record) for record in records]  # before any of them is written
    gone: set[str] = set()
    for record, found in zip(records, struck_out, strict=True):
        if record.what is What.COLLECTED:
            written.append(collecting.write(desk, worker, Lot(record), confirmed=confirmed, corrects=corrects))
            continue
        batch = desk.batch(record)
        struck = None if found is None or found.id in gone else found  # by the first of two lines for that block
        gone |= set() if struck is None else {struck.id}
        written.append(
            entries.enter(
                desk.tx,
                farm_id=desk.farm.id,
                message_id=desk.message.id,
                by=worker,
                via=None if worker.id == desk.me.id else desk.me.number,
                record=record,
                entered_at=desk.sent,
                confirmed=confirmed,
                computed=None if batch is None else batches.kept(batch, desk.farm),
                replaces=None if struck is None else struck.id,
            )
        )
    return written


def sort(desk: Desk, worker: Person, records: Sequence[Record]) -> Sorted:
    """Tell new lines from those that stand already and those that meet another figure for the same block and day."""
    new: list[Record] = []
    standing: list[Entry] = []
    meeting: list[tuple[Record, Entry]] = []
    for record in records:
        same = [entry for entry in desk.on(record.day) if _same_place(entry, worker, record)]
        twin = next((entry for entry in same if _is_twin(desk, entry, record)), None)
        rival = next((entry for entry in same if _is_rival(entry, record)), None)
        if twin is not None:
            standing.append(twin)
        elif rival is not None and rival.entered_at > desk.sent:
            standing.append(rival)  # a late text that its sender has overtaken with a newer one
        elif rival is not None:
            meeting.append((record, rival))
        else:
            new.append(record)
    return Sorted(tuple(new), tuple(standing), tuple(meeting))


def _same_place(entry: Entry, worker: Person, record: Record) -> bool:
    there = entry.record
    return (there.what, there.day, there.block, entry.by.id) == (record.what, record.day, record.block, worker.id)


def _is_twin(desk: Desk, entry: Entry, record: Record) -> bool:
    if entry.record != record:
        return False
    if record.what in ONCE_A_DAY:
        return True
    if record.what is What.LATEX and not record.again:
        return True
    return abs(desk.sent - entry.entered_at) <= SAME_TEXT_AGAIN


def _is_rival(entry: Entry, record: Record) -> bool:
    return batches.is_latex(record) and not record.again and not entry.record.again


def _not_tapped_before(desk: Desk, worker: Person, record: Record) -> Entry | None:
    if record.what is not What.LATEX:
        return None
    only_block = len(desk.own_blocks) == 1
    return next(
        (
            entry
            for entry in desk.on(record.day)
            if entry.record.what is What.NO_TAPPING
            and entry.by.id == worker.id
            and (entry.record.block == record.block or (entry.record.block == ALL_BLOCKS and only_block))
        ),
        None,
    )


def _stands_already(desk: Desk, standing: Sequence[Entry]) -> Outcome:
    said = say.lines(desk.tongue, [entry.record for entry in standing], desk.today)
    return Outcome(Kind.ANSWERED, desk.tongue.say("Already in the book: {lines}.", lines=said))


def _answer(desk: Desk, worker: Person, entered: Sequence[Entry]) -> Outcome:
    records = [entry.record for entry in entered]
    pieces = [
        worker_line(desk.tongue, worker, desk.me),
        understood(desk, records),
        to_do(desk, records),
        *dict.fromkeys(remark(desk, entry) for entry in entered),
    ]
    others = _others(desk, worker, records)
    taken = [entry for entry in entered if entry.record.what is What.COLLECTED]
    if taken:
        pieces = [collecting.taken(desk, taken)]
        others += collecting.receipts(desk, taken)
    if any(record.what is What.CHECK_IN for record in records):
        pieces = [collecting.arrived(desk, record) for record in records if record.what is What.CHECK_IN]
    return Outcome(Kind.ENTERED, " ".join(piece for piece in pieces if piece), others)


def worker_line(tongue: Tongue, worker: Person, me: Person) -> str:
    """Whose work it is, when somebody else's phone was used."""
    return "" if worker.id == me.id else tongue.say("For {name}:", name=worker.name)


def understood(desk: Desk, records: Sequence[Record]) -> str:
    """What was entered, so that a slip is seen at once."""
    not_tapped = [record for record in records if record.what is What.NO_TAPPING]
    others = [record for record in records if record.what is not What.NO_TAPPING]
    pieces = []
    if others:
        pieces.append(say.sentence(say.lines(desk.tongue, others, desk.today)))
    if not_tapped:
        pieces.append(say.not_tapped(desk.tongue, not_tapped, desk.today))
    if not any(batches.is_latex(record) for record in records):
        pieces.append(desk.tongue.say("Noted."))
    return " ".join(pieces)


def to_do(desk: Desk, records: Sequence[Record], *, behind: str | None = None) -> str:
    """Water, acid and what to expect for the latex in the text; the reason when no dose can be given.

    The expectation is left out where it would cost one more part of a text that says something else before it (`behind`).
    """
    found = [batch for batch in (desk.batch(record) for record in records) if batch is not None]
    if not found:
        return ""
    try:
        dose = batches.dose_for(found, desk.farm.settings)
    except DoseRefused as refusal:
        return say.no_dose(desk.tongue, refusal)
    total = desk.tongue.say("For {litres} L:", litres=desk.tongue.number(dose.litres, 1)) if len(found) > 1 else ""
    needed = " ".join(piece for piece in (total, say.dose_line(desk.tongue, dose)) if piece)
    whole = f"{needed} {say.expect_line(desk.tongue, dose)}"
    return needed if behind is not None and parts_of(behind, whole) > parts_of(behind, needed) else whole


def _others(desk: Desk, worker: Person, records: Sequence[Record]) -> tuple[Told, ...]:
    """Who is told: he for whom somebody else entered, and the tappers when the owner enters for their blocks."""
    if worker.id == desk.me.id:
        return ()
    theirs = tongue(worker.language)
    said = say.lines(theirs, records, desk.today)
    return (Told(worker, theirs.say("Entered for you from {name}'s phone: {lines}.", name=desk.me.name, lines=said)),)

"""What a bare `undo` means right after a correction: the lines as they stood before it."""

from bot.books import entries, messages
from bot.books.model import Entry
from bot.talk.desk import Desk
from parsers.reading import Reading, Record, What

#: Lines whose corrections others hold a receipt or a price of: they are taken out or corrected again, never put back.
NEVER_PUT_BACK = frozenset({What.COLLECTED, What.PRICE})


def as_before(desk: Desk, reading: Reading) -> list[tuple[Entry, Record]]:
    """The lines that the sender's last text changed, each with what it held before; empty where the last was no change.

    A change that has been put back already is over: a second `undo` takes the line out.
    """
    named = reading.correction is not None and reading.correction.said
    if reading.targets or reading.records or named:
        return []
    last = _last_written(desk)
    found = [(each, _before(desk, each)) for each in last]
    pairs = [(each, before.record) for each, before in found if before is not None]
    return pairs if len(pairs) == len(last) else []


def _last_written(desk: Desk) -> list[Entry]:
    """The standing lines of the sender's newest text that wrote any, be they his own or another's."""
    wrote: dict[str, bool] = {}
    for entry in sorted(desk.view, key=lambda each: (each.entered_at, each.id), reverse=True):
        if entry.message_id not in wrote:
            text = messages.message(desk.tx, entry.message_id)
            wrote[entry.message_id] = text is not None and text.person_id == desk.me.id
        if wrote[entry.message_id]:
            return [each for each in desk.view if each.message_id == entry.message_id]
    return []


def _before(desk: Desk, entry: Entry) -> Entry | None:
    """The line of the same kind that this one took the place of, unless this one puts back what stood before that."""
    before = None if entry.replaces is None else entries.entry(desk.tx, entry.replaces)
    if before is None or before.record.what is not entry.record.what or entry.record.what in NEVER_PUT_BACK:
        return None
    first = None if before.replaces is None else entries.entry(desk.tx, before.replaces)
    return None if first is not None and first.record == entry.record else before

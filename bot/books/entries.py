"""The lines of the day-book. A line is never overwritten: a newer one takes its place, and both can be seen.

A line stands when nothing took its place and it does not itself take out another.
"""

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from bot.books.convert import Unread, moment_in, moment_out, record_in, record_out
from bot.books.errors import AlreadyReplaced
from bot.books.ids import new_id
from bot.books.model import Entry, Person
from bot.books.people import person_in
from bot.books.store import Transaction
from parsers.reading import Record, What

#: Kinds of lines that change what latex is expected to give.
TEACHING = frozenset({What.SHEETS_ROLLED, What.SHEETS_DRY, What.COLLECTED, What.STIMULATED})

_FIRST_DAY, _LAST_DAY = date.min, date.max


def enter(
    tx: Transaction,
    *,
    farm_id: str,
    message_id: str,
    by: Person,
    via: str | None,
    record: Record,
    entered_at: datetime,
    confirmed: bool = False,
    computed: Mapping[str, Any] | None = None,
    replaces: str | None = None,
    removed: bool = False,
) -> Entry:
    """Write a line. `by` is he whose work it is, `via` the number of another's phone that was used.

    Raises AlreadyReplaced when the line that it should take the place of does not stand any more.
    """
    entry_id = new_id()
    written = tx.run(
        "add_entry",
        id=entry_id,
        farm_id=farm_id,
        message_id=message_id,
        by_person=by.id,
        via=via,
        entered_at=moment_out(entered_at),
        replaces=replaces,
        removed=int(removed),
        confirmed=int(confirmed),
        computed=None if computed is None else json.dumps(dict(computed), ensure_ascii=False),
        **record_out(record),
    )
    if not written:
        raise AlreadyReplaced(f"the entry {replaces} was corrected or taken out before")
    teaches = replaces is not None or _teaches(record, entered_at)
    tx.run("mark_lesson" if teaches else "hold_lesson", farm_id=farm_id, mark=new_id())
    tx.run("drop_learned_with", farm_id=farm_id, id=entry_id, replaces=replaces)
    if replaces is not None and record.what is What.COLLECTED:
        _open_receipt(tx, farm_id, history(tx, entry_id)[0].id, entry_id)
    return _entry(written[0], by)


def _open_receipt(tx: Transaction, farm_id: str, first: str, newest: str) -> None:
    """The money of a cooperative's receipt may be other than what pay-outs hold of it."""
    tx.run("open_receipt", farm_id=farm_id, first=first, newest=newest)


def _teaches(record: Record, entered_at: datetime) -> bool:
    """Whether a line changes what is to be expected: all but today's latex, which counts once its sheets are weighed."""
    if record.what is What.LATEX:
        return record.drc is not None or (record.day or _LAST_DAY) < entered_at.date() - timedelta(days=1)
    return record.what in TEACHING


def lesson(tx: Transaction, farm_id: str) -> str:
    """A mark that changes whenever the book teaches something new; empty while nothing was ever entered."""
    rows = tx.run("lesson", farm_id=farm_id)
    return str(rows[0]["mark"]) if rows else ""


def remove(tx: Transaction, entry_id: str, *, message_id: str, at: datetime) -> Entry:
    """Take a line out: a line that takes its place and stands for nothing. Raises AlreadyReplaced."""
    old = entry(tx, entry_id)
    if old is None:
        raise LookupError(f"there is no entry {entry_id}")
    return enter(
        tx,
        farm_id=old.farm_id,
        message_id=message_id,
        by=old.by,
        via=old.via,
        record=old.record,
        entered_at=at,
        replaces=entry_id,
        removed=True,
    )


def entry(tx: Transaction, entry_id: str) -> Entry | None:
    """A line by its id."""
    rows = tx.run("entry", id=entry_id)
    return entries_in(rows)[0] if rows else None


def successor(tx: Transaction, entry_id: str) -> Entry | None:
    """The line that took its place, if any."""
    rows = tx.run("successor", id=entry_id)
    return entry(tx, rows[0]["id"]) if rows else None


def as_it_stands(tx: Transaction, entry_id: str) -> Entry | None:
    """The line that stands now where this one stood, whatever took its place since; None for one that was taken out."""
    found = entry(tx, entry_id)
    while found is not None and (later := successor(tx, found.id)) is not None:
        found = later
    return None if found is None or found.removed else found


def history(tx: Transaction, entry_id: str) -> list[Entry]:
    """The line with all that went before and after it, oldest first. Raises LookupError."""
    found = entry(tx, entry_id)
    if found is None:
        raise LookupError(f"there is no entry {entry_id}")
    chain = [found]
    while chain[0].replaces is not None and (before := entry(tx, chain[0].replaces)) is not None:
        chain.insert(0, before)
    while (after := successor(tx, chain[-1].id)) is not None:
        chain.append(after)
    return chain


def standing(
    tx: Transaction,
    farm_id: str,
    *,
    first: date | None = None,
    last: date | None = None,
    block: str | None = None,
    by: str | None = None,
    what: What | None = None,
) -> list[Entry]:
    """What stands in a farm's book from `first` to `last`, both included, by day and time of entering."""
    if what is not None:
        found: Sequence[Entry] = entries_in(tx.run("standing_of_kind", what=what.value, **_span(farm_id, first, last)))
    else:
        found = _standing(tx, farm_id, first or _FIRST_DAY, last or _LAST_DAY)
    return [
        each for each in found if (block is None or each.record.block == block) and (by is None or each.by.id == by)
    ]


@dataclass(frozen=True)
class _Read:
    """All that stands from one day to another, as it was read in a transaction."""

    first: date
    last: date
    found: Sequence[Entry]


def _standing(tx: Transaction, farm_id: str, first: date, last: date) -> Sequence[Entry]:
    """What stands in these days; out of more days, where these were read before and nothing was written since."""
    spans: list[_Read] = tx.remembered(("standing", farm_id), list)
    for each in spans:
        if each.first <= first and last <= each.last:
            return [line for line in each.found if first <= (line.record.day or _FIRST_DAY) <= last]
    spans.append(_Read(first, last, entries_in(tx.run("standing", **_span(farm_id, first, last)))))
    return spans[-1].found


def reported_days(tx: Transaction, farm_id: str, first: date, last: date) -> dict[str, list[date]]:
    """The days from `first` to `last` of which somebody reported anything that stands, oldest first, by his id."""
    found: dict[str, list[date]] = {}
    for row in tx.run("reported_days", **_span(farm_id, first, last)):
        found.setdefault(row["by_person"], []).append(date.fromisoformat(row["day"]))
    return found


def tapped_days(tx: Transaction, farm_id: str, first: date, last: date) -> dict[str, list[date]]:
    """The days from `first` to `last` of which latex stands, oldest first, by block."""
    found: dict[str, list[date]] = {}
    for row in tx.run("tapped_days", what=What.LATEX.value, **_span(farm_id, first, last)):
        found.setdefault(row["block"], []).append(date.fromisoformat(row["day"]))
    return found


def computed_latex(tx: Transaction, farm_id: str, first: date, last: date) -> dict[str, list[Mapping[str, Any]]]:
    """What was worked out of each latex with a quantity that stands, by its day."""
    found: dict[str, list[Mapping[str, Any]]] = {}
    for row in tx.run("computed_of_kind", what=What.LATEX.value, **_span(farm_id, first, last)):
        found.setdefault(row["day"], []).append(json.loads(row["computed"]))
    return found


def state(tx: Transaction, farm_id: str, first: date, last: date) -> tuple[str, ...]:
    """Something that changes whenever a line of the days from `first` to `last` is entered, corrected or taken out, or anybody
    in them is called otherwise: who has how many lines, since lines only become more, and the mark, since a correction may
    move one to another day.
    """
    rows = tx.run("lines_by_person", **_span(farm_id, first, last))
    return (lesson(tx, farm_id), *(f"{row['lines']} {row['id']} {row['name']}" for row in rows))


def all_entries(tx: Transaction, farm_id: str, *, first: date | None = None, last: date | None = None) -> list[Entry]:
    """Every line, also those that were replaced or take out another."""
    return entries_in(tx.run("all_entries", **_span(farm_id, first, last)))


def of_message(tx: Transaction, message_id: str) -> list[Entry]:
    """The lines that a text brought."""
    return entries_in(tx.run("entries_of_message", message_id=message_id))


def latest_farm_of(tx: Transaction, person_id: str) -> str | None:
    """The farm for which somebody entered last."""
    rows = tx.run("latest_farm_of", person_id=person_id, most=1)
    return rows[0]["farm_id"] if rows else None


def position(tx: Transaction, farm_id: str, first_id: str) -> int:
    """The running number of the first line of a take in its farm's book, from 1."""
    return int(tx.run("position_of_take", farm_id=farm_id, id=first_id)[0]["position"])


@dataclass(frozen=True)
class Change:
    """A line that was written: the kind of record and the day that it tells of, or told of before it was changed."""

    id: str
    what: What
    day: date


def changes_since(tx: Transaction, farm_id: str, since: str, last: date) -> list[Change]:
    """What was written after the id `since` about days up to `last`, with what it took the place of."""
    found = []
    for row in tx.run("written_since", farm_id=farm_id, since=since, last_day=last.isoformat()):
        for what, day in ((row["what"], row["day"]), (row["old_what"], row["old_day"])):
            if day is not None and day <= last.isoformat():
                found.append(Change(row["id"], What(what), date.fromisoformat(day)))
    return found


def first_day_after(tx: Transaction, farm_id: str, day: date) -> date | None:
    """The first day after another on which a farm's book has a line, standing or not."""
    found = tx.run("first_day_after", farm_id=farm_id, day=day.isoformat())[0]["day"]
    return None if found is None else date.fromisoformat(found)


#: Receipts are numbered from here on in a farm's own book, and from the other in a cooperative's, so that the number of a
#: receipt is hardly ever taken for a block or for litres.
FIRST_RECEIPT, FIRST_OF_COOPERATIVE = 101, 1001


def receipt_number(tx: Transaction, entry: Entry) -> int:
    """The number of a take's receipt: its cooperative's, or its place in its farm's book. A correction keeps the number."""
    first = history(tx, entry.id)[0]
    rows = tx.run("receipt_of", entry_id=first.id)
    if rows:
        return int(rows[0]["number"])
    return FIRST_RECEIPT - 1 + position(tx, entry.farm_id, first.id)


def receipt_numbers(tx: Transaction, farm_id: str) -> dict[str, int]:
    """The numbers of a farm's receipts that are kept, by the id of the first line of the take; the others are its places."""
    return {row["entry_id"]: int(row["number"]) for row in tx.run("receipts_of_farm", farm_id=farm_id)}


def one_at_a_time(tx: Transaction, cooperative_id: str) -> None:
    """Wait for other takes of the cooperative that are being entered: two collectors may text one lot at the same moment."""
    tx.run("lock_receipts", cooperative_id=cooperative_id, before=FIRST_OF_COOPERATIVE - 1)


def number_receipt(tx: Transaction, entry: Entry, cooperative_id: str) -> int:
    """Give the first line of a take the next number of its cooperative's receipts, and none that the farm has already."""
    one_at_a_time(tx, cooperative_id)
    mark = tx.run("receipt_mark", farm_id=entry.farm_id)
    goes_on = bool(mark) and mark[0]["cooperative_id"] == cooperative_id
    least = 0 if goes_on else _highest_receipt(tx, entry) + 1
    number = int(tx.run("count_receipt", cooperative_id=cooperative_id, least=least)[0]["newest"])
    tx.run("add_receipt", entry_id=entry.id, cooperative_id=cooperative_id, number=number)
    tx.run("set_receipt_mark", farm_id=entry.farm_id, cooperative_id=cooperative_id, highest=number)
    _open_receipt(tx, entry.farm_id, entry.id, entry.id)
    return number


def number_own_receipt(tx: Transaction, entry: Entry) -> None:
    """Keep the number of a farm's own receipt where it is not its place: a cooperative may have given that number before."""
    if not tx.run("receipt_mark", farm_id=entry.farm_id):
        return
    place = FIRST_RECEIPT - 1 + position(tx, entry.farm_id, entry.id)
    if place < FIRST_OF_COOPERATIVE:
        return
    number = max(place, _highest_receipt(tx, entry) + 1)
    tx.run("add_own_receipt", entry_id=entry.id, farm_id=entry.farm_id, number=number)
    tx.run("set_receipt_mark", farm_id=entry.farm_id, cooperative_id=None, highest=number)


def _highest_receipt(tx: Transaction, entry: Entry) -> int:
    """The highest number that any receipt of a farm had before one."""
    row = tx.run("highest_receipt", farm_id=entry.farm_id, id=entry.id)[0]
    return max(FIRST_RECEIPT - 1 + int(row["takes"]), row["given"] or 0, row["own"] or 0)


def with_receipt(tx: Transaction, cooperative_id: str, number: int) -> Entry | None:
    """The newest line of the take whose receipt has that number at a cooperative; it may be one that takes it out."""
    rows = tx.run("entry_of_receipt", cooperative_id=cooperative_id, number=number)
    return history(tx, rows[0]["entry_id"])[-1] if rows else None


def _span(farm_id: str, first: date | None, last: date | None) -> dict[str, str]:
    return {
        "farm_id": farm_id,
        "first_day": (first or _FIRST_DAY).isoformat(),
        "last_day": (last or _LAST_DAY).isoformat(),
    }


def entries_in(rows: Iterable[Mapping[str, Any]]) -> list[Entry]:
    """The lines in rows that hold their columns and those of the people whose work they are, each of whom is made once."""
    people: dict[str, Person] = {}
    found = []
    for row in rows:
        by = people.get(row["by_person"])
        if by is None:
            by = people[row["by_person"]] = person_in(row, row["by_person"])
        found.append(_entry(row, by))
    return found


def _entry(row: Mapping[str, Any], by: Person) -> Entry:
    """Made as records are (`record_in`)."""
    found = object.__new__(Entry)
    computed = row["computed"]
    found.__dict__.update(
        id=row["id"],
        farm_id=row["farm_id"],
        message_id=row["message_id"],
        by=by,
        via=row["via"],
        record=record_in(row),
        entered_at=moment_in(row["entered_at"]),
        replaces=row["replaces"],
        removed=row["removed"] == 1,
        confirmed=row["confirmed"] == 1,
        computed=None if computed is None else Unread(computed),
    )
    return found

"""What is remembered of some days holds as long as their state: whatever is done to a line of theirs changes it."""

from collections.abc import Callable
from datetime import timedelta

import pytest

from bot.books import Books, Transaction, entries, farms
from bot.books.model import Entry
from bot.reckon.gaps import Days
from bot.reckon.remembering import Remembered
from tests.books.made import DAY, LATEX, NOW, a_farm, a_line, a_person, a_text, with_a_line

WEEK = timedelta(days=7)


def state(tx: Transaction, line: Entry) -> tuple[str, ...]:
    return entries.state(tx, line.farm_id, DAY - WEEK, DAY)


def once_more(tx: Transaction, line: Entry) -> None:
    a_line(tx, line.farm_id, line.by.id)


def corrected(tx: Transaction, line: Entry) -> None:
    a_line(tx, line.farm_id, line.by.id, replaces=line.id)


def moved_away(tx: Transaction, line: Entry) -> None:
    a_line(tx, line.farm_id, line.by.id, replaces=line.id, record=LATEX.with_(day=DAY - 5 * WEEK))


def taken_out(tx: Transaction, line: Entry) -> None:
    entries.remove(tx, line.id, message_id="m1", at=NOW)


def renamed(tx: Transaction, line: Entry) -> None:
    tx.run("change_person", id=line.by.id, name="Tobias", language="en")


@pytest.mark.parametrize("change", [once_more, corrected, moved_away, taken_out, renamed])
def test_whatever_changes_a_line_or_a_name_in_it_changes_the_state(
    books: Books, change: Callable[[Transaction, Entry], None]
) -> None:
    line = with_a_line(books)
    with books.transaction() as tx:
        before = state(tx, line)
        change(tx, line)

    with books.reading() as tx:
        assert state(tx, line) != before


def test_what_happens_elsewhere_or_to_later_days_changes_nothing(books: Books) -> None:
    line = with_a_line(books)
    with books.transaction() as tx:
        before = state(tx, line)
        a_line(tx, line.farm_id, line.by.id, record=LATEX.with_(day=DAY + WEEK), entered_at=NOW + WEEK)
        other = a_farm(tx, "Far Meadow")
        a_text(tx, "m2", "+447700900103")
        a_line(tx, other.id, a_person(tx, other.id, "+447700900103", "Ama").id, "m2")

    with books.reading() as tx:
        assert state(tx, line) == before


def test_a_farm_is_worked_out_anew_when_a_line_was_entered_or_other_days_are_asked_about(books: Books) -> None:
    line = with_a_line(books)
    done: list[int] = []
    remembered: Remembered[int] = Remembered()

    def asked(last: int = 0) -> int:
        def work_out() -> int:
            done.append(1)
            return len(done)

        with books.reading() as tx:
            farm = farms.farm(tx, line.farm_id)
            return remembered.of(tx, Days(farm, DAY - WEEK, DAY + timedelta(days=last)), work_out)

    assert [asked(), asked(), asked()] == [1, 1, 1]
    with books.transaction() as tx:
        once_more(tx, line)
    assert [asked(), asked()] == [2, 2]
    assert [asked(last=1), asked(last=1)] == [3, 3]

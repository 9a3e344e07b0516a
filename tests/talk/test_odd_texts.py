"""Texts that random calls once made a fault with: each has its answer now."""

from collections.abc import Iterator
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from bot.books import Books, entries, farms, open_books
from bot.books.model import Entry
from bot.carriers.practice import text_as
from bot.talk.exchange import Answer, Kind
from tests.faults import house

NOW = datetime(2026, 3, 18, 3, 30, tzinfo=UTC)
TAPPER, OWNER, COLLECTOR = (house.number(0, role) for role in (house.TAPPER, house.OWNER, house.COLLECTOR))


@pytest.fixture
def books(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Books]:
    monkeypatch.setattr(house, "FARMS", 1)
    with closing(open_books(tmp_path / "books.sqlite")) as opened:
        house.furnish(opened)
        yield opened


def standing(books: Books) -> list[Entry]:
    with books.reading() as tx:
        return entries.standing(tx, farms.all_farms(tx)[0].id)


def litres(books: Books) -> list[tuple[str | None, int]]:
    return [(each.record.block, int(each.record.litres or 0)) for each in standing(books)]


def no_litres(books: Books) -> Answer:
    """He is asked whether he means it, and says so."""
    assert text_as(books, TAPPER, "block 3 0 litres", NOW).kind is Kind.ASKED
    return text_as(books, TAPPER, "block 3 zero litres", NOW)


def test_a_collector_who_has_no_blocks_is_asked_for_one_of_the_farms(books: Books) -> None:
    given = text_as(books, COLLECTOR, "3 18", NOW)

    assert given.kind is Kind.ASKED
    assert "9 or 10" in (given.text or "")


def test_no_litres_at_all_are_entered_and_get_no_dose(books: Books) -> None:
    given = no_litres(books)

    assert given.kind is Kind.ENTERED
    assert "No acid dose for such a volume" in (given.text or "")
    assert litres(books) == [("3", 0)]


@pytest.mark.parametrize("question", ["week", "why", "ready?", "acid for 22 l?"])
def test_questions_about_a_book_with_no_litres_are_answered(books: Books, question: str) -> None:
    no_litres(books)

    assert text_as(books, OWNER, question, NOW + timedelta(hours=1)).kind is Kind.ANSWERED


def test_latex_without_rubber_gets_no_dose(books: Books) -> None:
    text_as(books, TAPPER, "block 3 18 litres", NOW)

    assert text_as(books, TAPPER, "block 4 18 litres drc 0", NOW).kind in (Kind.ENTERED, Kind.ASKED)


def test_one_line_corrected_twice_in_a_text_gets_the_last_figure(books: Books) -> None:
    text_as(books, TAPPER, "block 2 16 litres", NOW)
    given = text_as(books, TAPPER, "correction: block 2 is 13 litres. correction: block 2 is 14 litres", NOW)

    assert given.kind is Kind.CHANGED
    assert litres(books) == [("2", 14)]
    assert "B2 today 14 L (was 16 L)" in (given.text or "")


def test_a_correction_with_figures_that_nothing_explains_is_asked_and_changes_nothing(books: Books) -> None:
    text_as(books, TAPPER, "block 2 16 litres", NOW)
    given = text_as(books, TAPPER, "correction : bloc 2 c 13 l c 13 litres o lieu d 31" * 2, NOW)

    assert given.kind is Kind.ASKED
    assert litres(books) == [("2", 16)]


def test_pay_that_is_due_without_terms_names_who_has_none(books: Books) -> None:
    text_as(books, TAPPER, "block 3 18 litres", NOW)

    given = text_as(books, OWNER, "pay due?", NOW + timedelta(hours=1))
    assert "No terms of pay for Tapper 0" in (given.text or "")


@pytest.mark.parametrize(("choice", "stands"), [("more", [("3", 18), ("3", 21)]), ("instead", [("3", 18)])])
def test_more_or_instead_of_a_line_that_was_corrected_meanwhile_means_the_line_that_stands(
    books: Books, choice: str, stands: list[tuple[str, int]]
) -> None:
    text_as(books, TAPPER, "block 3 20 litres", NOW)
    asked = text_as(books, TAPPER, "block 3 18 litres", NOW + timedelta(minutes=5))
    text_as(books, OWNER, "block 3 21 litres", NOW + timedelta(minutes=6))
    given = text_as(books, TAPPER, choice, NOW + timedelta(minutes=7))

    assert asked.kind is Kind.ASKED
    assert given.kind in (Kind.ENTERED, Kind.CHANGED)
    assert sorted(litres(books)) == stands


@pytest.mark.parametrize("choice", ["more", "instead"])
def test_more_or_instead_of_a_line_that_was_taken_out_meanwhile_enters_the_figure(books: Books, choice: str) -> None:
    text_as(books, TAPPER, "block 3 20 litres", NOW)
    text_as(books, TAPPER, "block 3 18 litres", NOW + timedelta(minutes=5))
    (line,) = standing(books)
    with books.transaction() as tx:
        entries.remove(tx, line.id, message_id=line.message_id, at=NOW)
    text_as(books, TAPPER, choice, NOW + timedelta(minutes=7))

    assert litres(books) == [("3", 18)]


def test_a_correction_to_a_drc_that_no_latex_can_have_is_refused(books: Books) -> None:
    text_as(books, TAPPER, "block 2 16 litres drc 33", NOW)
    given = text_as(books, TAPPER, "no drc 3302", NOW)

    assert given.kind is Kind.REFUSED
    assert "cannot be right" in str(given.text)


def test_two_lines_of_a_text_for_a_block_that_was_not_tapped_strike_that_out_once(books: Books) -> None:
    text_as(books, TAPPER, "block 2 not tapped rain", NOW)
    given = text_as(books, TAPPER, "block 2 18 litres, block 2 4 litres more", NOW)

    assert given.kind is Kind.ENTERED
    with books.reading() as tx:
        standing = entries.standing(tx, farms.all_farms(tx)[0].id)
    assert sorted(each.record.litres for each in standing) == [4, 18]


def test_a_line_moved_to_a_block_that_has_latex_says_what_that_block_holds_in_all(books: Books) -> None:
    text_as(books, TAPPER, "block 3 17 litres", NOW)
    text_as(books, TAPPER, "block 2 19.5 litres", NOW + timedelta(minutes=20))

    given = text_as(books, TAPPER, "sorry, not block 2, block 3", NOW + timedelta(minutes=21))

    assert given.kind is Kind.CHANGED
    assert "B3 today now holds 36.5 L in all." in (given.text or "")

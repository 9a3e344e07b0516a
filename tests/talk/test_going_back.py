"""A bare `undo` right after a correction puts back what stood; the next one takes the line out."""

from collections.abc import Callable, Iterator
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from bot.books import Books, entries, farms, open_books
from bot.carriers.practice import text_as
from bot.talk.exchange import Answer, Kind
from tests.faults import house

NOW = datetime(2026, 3, 18, 3, 30, tzinfo=UTC)
TAPPER, OWNER = (house.number(0, role) for role in (house.TAPPER, house.OWNER))

Say = Callable[..., Answer]


@pytest.fixture
def books(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Books]:
    monkeypatch.setattr(house, "FARMS", 1)
    with closing(open_books(tmp_path / "books.sqlite")) as opened:
        house.furnish(opened)
        yield opened


@pytest.fixture
def say(books: Books) -> Say:
    clock = iter(NOW + timedelta(minutes=2 * n) for n in range(50))

    def send(text: str, who: str = TAPPER) -> Answer:
        return text_as(books, who, text, next(clock))

    return send


def litres(books: Books) -> list[tuple[str | None, int]]:
    with books.reading() as tx:
        lines = entries.standing(tx, farms.all_farms(tx)[0].id)
    return sorted((each.record.block, int(each.record.litres or 0)) for each in lines)


@pytest.mark.parametrize("correction", ["3 was 17", "no, block 3 is 17", "block 3 was 17", "sorry 17 not 18"])
def test_a_correction_is_withdrawn_and_then_the_line(books: Books, say: Say, correction: str) -> None:
    say("block 3 18 litres")
    assert say(correction).kind is Kind.CHANGED
    assert litres(books) == [("3", 17)]

    assert say("undo").kind is Kind.CHANGED
    assert litres(books) == [("3", 18)]

    assert say("undo").kind is Kind.REMOVED
    assert litres(books) == []


def test_an_owner_withdraws_his_correction_of_a_tappers_line_and_no_other_line_goes(books: Books, say: Say) -> None:
    say("block 3 18 litres")
    say("block 2 16 litres", OWNER)
    say("block 3 was 15", OWNER)

    given = say("undo", OWNER)

    assert given.kind is Kind.CHANGED
    assert [each.to for each in given.to_others] == [TAPPER]
    assert litres(books) == [("2", 16), ("3", 18)]


def test_both_lines_of_a_correction_are_put_back(books: Books, say: Say) -> None:
    say("block 2 16 litres, block 3 18 litres")
    say("no, block 2 15 and block 3 19")
    assert litres(books) == [("2", 15), ("3", 19)]

    say("undo")

    assert litres(books) == [("2", 16), ("3", 18)]


def test_rain_that_was_added_is_taken_off_again(books: Books, say: Say) -> None:
    say("block 3 18 litres")
    assert "rain" in str(say("rain too").text)

    assert "rain" not in str(say("undo").text)
    assert litres(books) == [("3", 18)]


def test_a_drc_that_is_taken_off_again_is_named(say: Say) -> None:
    say("block 3 18 litres")
    say("drc 33")

    assert str(say("undo").text).startswith("Changed: B3 today 18 L (was DRC 33%).")


def test_of_a_block_with_latex_that_is_said_not_to_be_tapped_both_stand_and_he_hears_it(books: Books, say: Say) -> None:
    say("block 3 18 litres")

    assert say("block 3 rain no tapping").text == "Not tapped today: B3, rain. Noted. B3 today now holds 18 L in all."
    assert litres(books) == [("3", 0), ("3", 18)]


@pytest.mark.parametrize("text", ["no 3 12", "no rain block 3 17"])
def test_a_no_that_belongs_to_something_else_corrects_nothing(books: Books, say: Say, text: str) -> None:
    say("block 3 18 litres")

    assert say(text).kind is Kind.ASKED
    assert litres(books) == [("3", 18)]

"""What a text costs in statements, and that the cost stays the same as the books grow."""

from collections.abc import Iterator
from contextlib import closing
from datetime import timedelta
from decimal import Decimal

import pytest

from bot.books import Books, entries, open_books
from bot.reckon import keeping, learning
from bot.talk.answer import answer
from bot.talk.exchange import Incoming, Kind
from parsers.reading import Role
from tests.books import made

TEXTS = ("block 3 18 litres rain", "3 17", "thanks", "sorry 17 not 18", "week")

#: The most statements that a text may take, begin and commit left out.
MOST = 40
YEARS, OTHER_FARMS, PEOPLE = 3, 15, 8


@pytest.fixture
def books(tmp_path) -> Iterator[Books]:
    with closing(open_books(tmp_path / "books.sqlite")) as opened:
        with opened.transaction() as tx:
            made.a_person(tx, made.a_farm(tx).id, role=Role.OWNER)
        yield opened


def statements_of(books: Books, text: str, message_id: str) -> int:
    seen: list[str] = []
    books.tracer = lambda name, _: seen.append(name)
    given = answer(books, Incoming(message_id, made.TOBIN, text, made.NOW, made.NOW, "practice"), made.NOW)
    books.tracer = None
    assert given.kind is not Kind.REFUSED
    return len(seen)


def grow(books: Books) -> None:
    """Years of days of an own block, more people, more farms with lines of their own."""
    with books.transaction() as tx:
        home = entries.latest_farm_of(tx, _person(tx)) or tx.run("all_farms")[0]["id"]
        for n in range(OTHER_FARMS):
            other = made.a_farm(tx, f"Farm {n}")
            person = made.a_person(tx, other.id, f"+447700900{300 + n}", f"Person {n}")
            made.a_text(tx, f"other {n}", person.number)
            made.a_line(tx, other.id, person.id, f"other {n}")
        for n in range(PEOPLE):
            made.a_person(tx, home, f"+447700900{400 + n}", f"Tapper {n}")
        for n in range(365 * YEARS):
            at = made.NOW - timedelta(days=n + 30)
            made.a_text(tx, f"old {n}")
            record = made.LATEX.with_(day=at.date(), litres=Decimal(15))
            made.a_line(tx, home, _person(tx), f"old {n}", record=record, entered_at=at)


def test_a_plain_report_reads_the_lines_of_its_own_day_and_a_correction_those_of_ten(books: Books) -> None:
    spans: dict[str, set[str]] = {}
    for text in ("block 3 18 litres rain", "sorry block 3 17 litres"):
        seen = spans.setdefault(text, set())
        books.tracer = lambda name, values, seen=seen: seen.add(values["first_day"]) if name == "standing" else None
        answer(books, Incoming(text, made.TOBIN, text, made.NOW, made.NOW, "practice"), made.NOW)
    books.tracer = None

    today = made.NOW.date()
    assert spans["block 3 18 litres rain"] == {today.isoformat()}
    assert (today - timedelta(days=10)).isoformat() in spans["sorry block 3 17 litres"]


def _person(tx) -> str:
    return tx.run("person_by_number", number=made.TOBIN)[0]["id"]


def test_a_text_takes_few_statements_and_no_more_of_them_as_the_books_grow(books: Books) -> None:
    young = {text: statements_of(books, text, f"young {text}") for text in TEXTS}
    grow(books)
    learning._memory.clear()
    statements_of(books, "week", "first look")  # what three years taught is worked out once, and kept
    old = {text: statements_of(books, text, f"old {text}") for text in TEXTS}

    assert {text: n for text, n in young.items() if n > MOST} == {}
    assert {text: n for text, n in old.items() if n > MOST} == {}


def test_a_repeat_takes_three_statements_at_most(books: Books) -> None:
    statements_of(books, "3 18", "m1")

    assert statements_of(books, "3 18", "m1") <= 3


def test_a_report_does_not_read_the_names_of_all_places_of_a_country(books: Books) -> None:
    seen: list[str] = []
    books.tracer = lambda name, _: seen.append(name)
    answer(books, Incoming("m1", made.TOBIN, "block 3 18 litres rain", made.NOW, made.NOW, "practice"), made.NOW)
    books.tracer = None

    assert "points" not in seen


def test_lines_that_were_read_are_not_read_again_before_something_is_written(books: Books) -> None:
    seen: list[str] = []
    books.tracer = lambda name, _: seen.append(name)
    with books.transaction() as tx:
        farm_id, me = tx.run("all_farms")[0]["id"], _person(tx)
        made.a_text(tx, "m1")
        entries.standing(tx, farm_id).append(None)  # what is given is the caller's own
        assert entries.standing(tx, farm_id) == []

        line = made.a_line(tx, farm_id, me, "m1")

        assert entries.standing(tx, farm_id) == [line]
    books.tracer = None
    assert seen.count("standing") == 2


def test_a_new_day_of_the_same_week_teaches_nothing_by_itself(books: Books) -> None:
    statements_of(books, "block 3 18 litres", "m1")
    statements_of(books, "acid for 20 l?", "m2")
    seen: list[str] = []
    books.tracer = lambda name, _: seen.append(name)
    tomorrow = made.NOW + timedelta(days=1)
    answer(books, Incoming("m3", made.TOBIN, "block 3 17 litres", tomorrow, tomorrow, "practice"), tomorrow)
    books.tracer = None

    assert keeping.week_end(tomorrow.date()) == keeping.week_end(made.NOW.date())
    assert "learned_before" not in seen

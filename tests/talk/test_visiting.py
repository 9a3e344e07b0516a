"""A collector who meets nobody: visited, not taken; the farm is told, and the manager sees it as such."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from bot.books import people, visits
from bot.speech.language import tongue
from bot.talk.exchange import Kind
from tests.talk.cooperative import AMA, ESI, HANA, MUSA, START, TOBIN, YAW, Cooperative, opened

HOME = "Noted: nobody at {farms}. They are told. Not so? Text: cancel nobody {farm}"


@pytest.fixture
def hills(tmp_path: Path) -> Iterator[Cooperative]:
    found = Cooperative(opened(tmp_path))
    found.rolled(AMA, 24, "12.1", day=-20)
    found.rolled(ESI, 9, day=-15)
    yield found
    found.books.close()


def empty(hills: Cooperative) -> list[visits.EmptyVisit]:
    with hills.books.transaction() as tx:
        return visits.on(tx, hills.cooperative.id, START.date())


def test_the_farm_is_visited_not_taken_and_hears_of_it(hills: Cooperative) -> None:
    said = hills.text("nobody at Ama Ridge", hour=9.2)

    assert said.text == ("Noted: nobody at Ama Ridge. They are told. Not so? Text: cancel nobody Ama Ridge")
    assert {each.to for each in said.to_others} == {AMA, TOBIN}
    assert hills.told(AMA)[-1] == (
        "Musa was at Ama Ridge today at 09:12 and met nobody: nothing was taken. Next round: Wed 25 Mar."
    )
    assert hills.told(TOBIN)[-1].startswith("Musa ไปที่ Ama Ridge วันนี้ เวลา 09:12")
    assert hills.book(hills.ama) == []


def test_it_stands_in_the_closing_text_as_such(hills: Cooperative) -> None:
    hills.text("nobody home ama", hour=9.2)

    day = str(hills.text("day", HANA).text)

    assert "1 of 2 places." in day
    assert "Ready, not visited: Esi Bend 9 sheets 4.5 kg." in day
    assert "Nobody home: Ama Ridge 24 sheets 12.1 kg." in day


def test_what_is_taken_later_that_day_counts_instead(hills: Cooperative) -> None:
    hills.text("nobody at Ama Ridge", hour=9)
    hills.text("took 24 sheets 11.8 kg rss3 from Ama", hour=11)

    assert "Nobody home" not in str(hills.text("day", HANA, hour=12).text)


def test_where_something_was_taken_somebody_was_home(hills: Cooperative) -> None:
    hills.text("took 24 sheets 11.8 kg rss3 from Ama", hour=9)

    assert hills.text("nobody at Ama Ridge", hour=9.5).text == "Ama Ridge was taken from today. Nothing entered."
    assert empty(hills) == []


def test_a_text_that_comes_twice_tells_nobody_twice(hills: Cooperative) -> None:
    hills.text("nobody at Ama Ridge", hour=9)
    before = len(hills.told(AMA))

    assert hills.text("nobody at Ama Ridge", hour=9.1).kind is Kind.ANSWERED

    assert len(hills.told(AMA)) == before
    assert len(empty(hills)) == 1


def test_a_late_text_speaks_of_its_own_day(hills: Cooperative) -> None:
    hills.text("nobody at Ama Ridge", hour=9, arrived=hills.at(1, 20))

    assert len(empty(hills)) == 1
    assert "Musa was at Ama Ridge yesterday at 09:00" in hills.told(AMA)[-1]


def test_several_farms_in_one_text(hills: Cooperative) -> None:
    hills.text("nobody at Ama Ridge, Yaw Hollow", hour=9)

    assert {each.farm_id for each in empty(hills)} == {hills.ama.id, hills.yaw.id}


def test_without_a_name_it_is_the_only_farm_of_the_place_or_asked(hills: Cooperative) -> None:
    assert hills.text("nobody home", hour=9).text == "Nobody at which farm: Ama Ridge, Yaw Hollow or Esi Bend?"

    hills.text("at 2", hour=9.5)
    hills.text("nobody home", hour=9.6)

    assert [each.farm_id for each in empty(hills)] == [hills.esi.id]


def test_it_is_taken_back_and_the_farm_hears_of_that_too(hills: Cooperative) -> None:
    hills.text("nobody at Ama Ridge", hour=9)

    assert hills.text("cancel nobody Ama Ridge", hour=9.1).text == "Taken back: nobody at Ama Ridge."
    assert hills.told(AMA)[-1] == "Musa took back that nobody was met at Ama Ridge."
    assert empty(hills) == []
    assert hills.text("cancel nobody Ama Ridge", hour=9.2).kind is Kind.ANSWERED


@pytest.mark.parametrize("number", [AMA, YAW, TOBIN, HANA])
def test_nobody_else_says_so(hills: Cooperative, number: str) -> None:
    hills.text("nobody at Yaw Hollow", number, hour=9)

    assert empty(hills) == []


@pytest.mark.parametrize("language", ["en", "fr", "id", "th", "vi", "es"])
def test_it_is_said_in_each_language_as_the_answer_suggests(hills: Cooperative, language: str) -> None:
    with hills.books.transaction() as tx:
        people.set_language(tx, hills.musa.id, language)
    cancel = tongue(language).say(HOME, farms="", farm="Ama Ridge").rpartition(": ")[2]
    nobody = cancel.split(" ", 1)[1]

    assert hills.text(nobody, MUSA, hour=9).kind is Kind.ENTERED, nobody
    assert hills.text(cancel, MUSA, hour=9.1).kind is Kind.REMOVED, cancel


@pytest.mark.parametrize("text", ["undo", "undo ama", "sorry undo that"])
def test_undo_takes_the_visit_back(hills: Cooperative, text: str) -> None:
    hills.text("nobody at Ama Ridge", hour=9)

    said = hills.text(text, hour=9.1)

    assert (said.kind, said.text) == (Kind.REMOVED, "Taken back: nobody at Ama Ridge.")
    assert hills.told(AMA)[-1] == "Musa took back that nobody was met at Ama Ridge."
    assert empty(hills) == []
    assert "Nobody home" not in str(hills.text("day", HANA).text)
    assert "Ready, not visited: Ama Ridge" in str(hills.text("day", HANA).text)


def test_undo_takes_back_all_visits_of_the_last_text(hills: Cooperative) -> None:
    hills.text("nobody at Esi Bend", hour=8.5)
    hills.text("nobody at Ama Ridge, Yaw Hollow", hour=9)

    assert hills.text("undo", hour=9.1).text == "Taken back: nobody at Ama Ridge, Yaw Hollow."
    assert [each.farm_id for each in empty(hills)] == [hills.esi.id]
    assert hills.text("undo", hour=9.2).text == "Taken back: nobody at Esi Bend."


def test_undo_after_a_take_takes_the_take_and_then_the_visit(hills: Cooperative) -> None:
    hills.text("nobody at Esi Bend", hour=8.5)
    hills.text("took 24 sheets 11.8 kg rss3 from Ama", hour=9)

    take = hills.text("undo", hour=9.1)
    visit = hills.text("undo", hour=9.2)

    assert "Ama Ridge 24 sheets" in str(take.text)
    assert hills.book(hills.ama) == []
    assert visit.text == "Taken back: nobody at Esi Bend."


def test_undo_after_the_visit_leaves_the_take_before_it(hills: Cooperative) -> None:
    hills.text("took 24 sheets 11.8 kg rss3 from Ama", hour=8.5)
    hills.text("nobody at Esi Bend", hour=9)

    assert hills.text("undo", hour=9.1).text == "Taken back: nobody at Esi Bend."
    assert len(hills.book(hills.ama)) == 1


def test_undo_the_next_morning_takes_back_yesterdays_visit(hills: Cooperative) -> None:
    hills.text("nobody at Ama Ridge", hour=9)

    assert hills.text("undo", day=1, hour=8).text == "Taken back: nobody at Ama Ridge."
    assert empty(hills) == []


def test_a_visit_that_was_taken_back_stays_in_the_books_as_such(hills: Cooperative) -> None:
    hills.text("nobody at Ama Ridge", hour=9)
    hills.text("undo", hour=9.1)
    hills.text("nobody at Ama Ridge", hour=9.2)

    assert len(empty(hills)) == 1
    with hills.books.engine.session() as session:
        rows = session.execute("select withdrawn_at from empty_visits order by id")
    assert [row["withdrawn_at"] is None for row in rows] == [False, True]


@pytest.mark.parametrize(("language", "text"), [
    ("fr", "annule"), ("id", "batal"), ("th", "ยกเลิก"), ("vi", "hủy"), ("es", "borra eso"), ("en", "undo"),
])  # fmt: skip
def test_undo_of_a_visit_in_each_language(hills: Cooperative, language: str, text: str) -> None:
    hills.text("nobody at Ama Ridge", hour=9)
    with hills.books.transaction() as tx:
        people.set_language(tx, hills.musa.id, language)

    assert hills.text(text, hour=9.1).kind is Kind.REMOVED, text
    assert empty(hills) == []

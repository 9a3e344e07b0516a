"""Too many texts and talks between machines: kept, answered with silence, and the operator hears of it once."""

from collections.abc import Iterator
from contextlib import closing
from datetime import timedelta
from pathlib import Path

import pytest

from bot.books import alarms, entries, messages, open_books
from bot.talk.answer import answer
from bot.talk.exchange import Answer, Incoming, Kind
from bot.talk.house import PLAIN, House
from bot.talk.pace import Pace
from tests.talk.test_paying import MIRA, START, TOBIN, Farm


class Paced(Farm):
    """The farm behind a house with a pace."""

    house: House = PLAIN

    def say(self, text: str, number: str = TOBIN, *, minutes: float = 0, id_: str | None = None) -> Answer:
        self.n += 1
        at = START + timedelta(minutes=minutes, seconds=self.n)
        return answer(self.books, Incoming(id_ or f"l{self.n}", number, text, at, at, "practice"), at, self.house)

    def alarms(self) -> list[str]:
        with self.books.transaction() as tx:
            return alarms.take(tx, START)


@pytest.fixture
def farm(tmp_path: Path) -> Iterator[Paced]:
    with closing(open_books(tmp_path / "books.sqlite")) as books:
        yield Paced(books)


def test_texts_over_the_limit_are_kept_not_entered_and_told_once(farm: Paced) -> None:
    farm.house = House(pace=Pace(per_hour=3, per_minute=0))
    answers = [farm.say(f"block 1 {n} litres again") for n in range(10, 18)]

    assert [each.kind for each in answers[3:]] == [Kind.LIMITED] * 5
    assert [each.text is not None for each in answers] == [True] * 4 + [False] * 4
    assert "NOT entered" in str(answers[3].text)
    assert farm.say("block 2 15 litres", MIRA).kind is Kind.ENTERED  # others are not burdened
    with farm.books.transaction() as tx:
        assert len(messages.latest_from(tx, TOBIN, 20)) == 8
        assert len(entries.standing(tx, farm.farm.id)) <= 4
    (line,) = farm.alarms()
    assert TOBIN not in line
    assert farm.alarms() == []


def test_a_repeat_of_an_answered_text_is_answered_over_the_limit_too(farm: Paced) -> None:
    farm.house = House(pace=Pace(per_hour=1, per_minute=0))
    first = farm.say("block 1 18 litres", id_="a")

    for _ in range(3):
        again = farm.say("block 1 18 litres", id_="a")
        assert (again.repeat, again.text) == (True, first.text)


def test_the_limit_of_all_holds_for_all(farm: Paced) -> None:
    farm.house = House(pace=Pace(per_hour=0, per_minute=2))
    farm.say("block 1 18 litres")
    farm.say("block 2 15 litres", MIRA)

    assert farm.say("block 2 14 litres", MIRA).kind is Kind.LIMITED
    assert farm.say("block 1 14 litres").kind is Kind.LIMITED
    (line,) = farm.alarms()
    assert "all numbers together" in line


def test_strangers_and_those_who_want_no_texts_are_told_nothing_over_the_limit(farm: Paced) -> None:
    farm.say("stop", MIRA)
    farm.house = House(pace=Pace(per_hour=0, per_minute=1))
    farm.say("block 1 18 litres")

    assert farm.say("hello", "+447700900777").text is None
    assert farm.say("block 2 14 litres", MIRA).text is None


def test_one_who_floods_does_not_use_up_what_all_have(farm: Paced) -> None:
    farm.house = House(pace=Pace(per_hour=2, per_minute=5))
    for n in range(20):
        farm.say(f"hello {n}")

    assert farm.say("block 2 15 litres", MIRA).kind is Kind.ENTERED


def test_no_limit_is_no_limit(farm: Paced) -> None:
    farm.house = House(pace=Pace(per_hour=0, per_minute=0))

    assert Kind.LIMITED not in {farm.say(f"hello {n}").kind for n in range(100)}


def test_the_same_answer_goes_out_five_times_in_ten_minutes_and_no_more(farm: Paced) -> None:
    answers = [farm.say("I am out of the office xyzzy").text for _ in range(8)]

    assert [each is not None for each in answers] == [True] * 5 + [False] * 3
    assert len(set(answers[:5])) == 1
    assert len(farm.alarms()) == 1
    assert farm.say("block 1 18 litres").kind is Kind.ENTERED  # work is entered and answered meanwhile
    assert farm.say("xyzzy qwrt", minutes=11).text is not None


def test_our_own_words_coming_back_get_no_answer(farm: Paced) -> None:
    said = farm.say("block 1 18 litres").text
    assert said is not None
    echo = farm.say(f"  {said.upper()} ")

    assert (echo.kind, echo.text) == (Kind.SILENT, None)
    with farm.books.transaction() as tx:
        assert len(entries.standing(tx, farm.farm.id)) == 1
    assert len(farm.alarms()) == 1


def test_two_of_us_texting_each_other_fall_silent(farm: Paced) -> None:
    text: str | None = "hello there how are you"
    said = 0
    for _ in range(40):
        text = farm.say(text or "").text if text else None
        said += text is not None

    assert said <= 2


def test_a_quoted_answer_with_a_correction_is_read(farm: Paced) -> None:
    farm.say("block 1 18 litres")

    assert farm.say("block 1 was 17 not 18").kind is Kind.CHANGED


def test_a_stranger_that_is_a_machine_gets_one_answer(farm: Paced) -> None:
    texts = [farm.say("your number was called", "+447700900777").text for _ in range(20)]

    assert sum(each is not None for each in texts) == 1

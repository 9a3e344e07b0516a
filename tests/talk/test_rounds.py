"""A collector asks what is ready, and checks in: places however spelled, dry sheets alone, two parts at most."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from bot.books import farms, people, places
from bot.speech.parts import count_parts
from bot.talk.exchange import Kind
from parsers.reading import Block, Role
from tests.talk.cooperative import AMA, ESI, MUSA, START, YAW, Cooperative, opened


@pytest.fixture
def hills(tmp_path: Path) -> Iterator[Cooperative]:
    found = Cooperative(opened(tmp_path))
    yield found
    found.books.close()


def test_a_check_in_tells_what_is_ready_farm_by_farm(hills: Cooperative) -> None:
    hills.rolled(AMA, 24, "12.1", day=-20)
    hills.rolled(YAW, 10, day=-15)

    said = hills.text("at lower gate")

    assert said.kind is Kind.ENTERED
    assert said.text == "Lower Gate: Ama Ridge 24 sheets 12.1 kg, Yaw Hollow 10 sheets 5.0 kg."


def test_sheets_that_still_dry_are_not_ready(hills: Cooperative) -> None:
    hills.rolled(ESI, 9, day=-1)

    said = str(hills.text("at river landing").text)

    assert said.startswith("River Landing: nothing ready.")
    assert "9 sheets dry Sun 22 Mar" in said  # smoke: five days from the rolling


def test_sheets_are_ready_on_the_day_on_which_they_should_be_dry(hills: Cooperative) -> None:
    hills.rolled(ESI, 9, day=-1)

    assert "Esi Bend 9 sheets" not in str(hills.text("ready on saturday").text)
    assert "Esi Bend 9 sheets" in str(hills.text("ready esi bend", day=4).text)


@pytest.mark.parametrize(
    "text", ["at lowr gate", "arrived Lower-Gate", "i reach lower gate", "at 1", "check in 1", "at gate lower gte"]
)
def test_a_place_is_known_however_it_is_spelled_and_by_its_number(hills: Cooperative, text: str) -> None:
    assert str(hills.text(text).text).startswith("Lower Gate:")


def test_a_place_may_be_named_by_a_word_that_means_something_else(hills: Cooperative) -> None:
    with hills.books.transaction() as tx:
        places.set_place(tx, hills.cooperative.id, name="Market Gate", number=3, farm_ids=[hills.esi.id])

    said = hills.text("at Market Gate")

    assert said.kind is Kind.ENTERED
    assert str(said.text).startswith("Market Gate:")
    assert str(hills.text("price at Market Gate?").text).startswith("Prices today")


def test_a_place_that_is_not_known_is_asked_about_and_not_entered(hills: Cooperative) -> None:
    said = hills.text("at school")

    assert said.kind is Kind.ASKED
    assert "1 Lower Gate, 2 River Landing" in str(said.text)


def test_a_place_with_none_of_his_farms_is_not_his(hills: Cooperative) -> None:
    with hills.books.transaction() as tx:
        far = farms.add_farm(
            tx,
            name="Far Meadow",
            timezone="Asia/Bangkok",
            currency="USD",
            language="en",
            blocks={"1": Block(100, None)},
            containers={},
            settings={},
            at=START,
        )
        places.set_place(tx, hills.cooperative.id, name="Far Side", number=3, farm_ids=[far.id])

    said = hills.text("at far side")

    assert said.kind is Kind.ASKED
    assert "Far Meadow" not in str(said.text)


def test_a_check_in_outside_the_hours_tells_them(hills: Cooperative) -> None:
    assert str(hills.text("at 1", hour=13.5).text).startswith("Open 06:00-12:00. Lower Gate:")
    assert str(hills.text("at 1", hour=11.5).text).startswith("Lower Gate:")


def test_todays_round_is_told_before_it_starts(hills: Cooperative) -> None:
    hills.rolled(AMA, 24, "12.1", day=-20)
    hills.text("cup lump block 1 30 kg", YAW, day=-3)
    hills.text("block 1 18 litres", ESI, hour=7)

    said = hills.text("ready", hour=8)

    assert said.text == (
        "1 Lower Gate: Ama Ridge 24 sheets 12.1 kg, Yaw Hollow 30 kg lump. 2 River Landing: Esi Bend 18 L latex."
    )
    assert said.parts == 1


def test_a_day_without_a_round_is_said(hills: Cooperative) -> None:
    assert hills.text("ready", day=1).text == "No round today."


def test_the_round_of_another_weekday_is_that_days(hills: Cooperative) -> None:
    hills.rolled(AMA, 24, "12.1", day=-20)

    assert "Ama Ridge 24 sheets" in str(hills.text("ready on wednesday", day=6).text)
    assert "No round" in str(hills.text("ready tomorrow", day=0).text)


def test_what_is_in_dispute_from_last_time_is_told_at_the_place(hills: Cooperative) -> None:
    hills.rolled(AMA, 24, "12.1", day=-20)
    hills.text("took 24 sheets 11.8 kg rss3 from Ama", day=-7)
    hills.text("1001 it was 12.6 kg", AMA, day=-7)

    assert "In dispute: Ama Ridge 1001 (12.6 kg)." in str(hills.text("at 1").text)


def test_a_place_of_many_farms_takes_two_parts_at_most_and_tells_how_many_are_left_out(hills: Cooperative) -> None:
    with hills.books.transaction() as tx:
        many = []
        for n in range(20):
            farm = farms.add_farm(
                tx,
                name=f"Long Meadow Number {n + 1}",
                timezone="Asia/Bangkok",
                currency="USD",
                language="en",
                blocks={"1": Block(100, None)},
                containers={},
                settings={},
                at=START,
            )
            who = {"language": "en", "farm_id": farm.id, "blocks": (), "at": START, "message_id": None}
            people.enrol(tx, name=f"Owner {n}", number=f"+4477009005{n:02}", role=Role.OWNER, **who)
            people.enrol(tx, name="Musa", number=MUSA, role=Role.COLLECTOR, **who)
            from bot.books import cooperatives

            cooperatives.add_farm(tx, hills.cooperative.id, farm.id)
            many.append(farm.id)
        places.set_place(tx, hills.cooperative.id, name="Long Meadow Shed", number=7, farm_ids=many)
    for n in range(20):
        hills.rolled(f"+4477009005{n:02}", 10 + n, day=-20)

    said = str(hills.text("at 7").text)

    assert count_parts(said).parts == 2
    assert said.startswith("Long Meadow Shed: Long Meadow Number 20 29 sheets 14.5 kg,")  # the most comes first
    assert "+" in said


def test_a_check_in_stands_once_in_the_book(hills: Cooperative) -> None:
    hills.text("at 1")
    hills.text("at lower gate")

    with hills.books.transaction() as tx:
        from datetime import date

        from bot.books import cooperatives
        from parsers.reading import What

        day = date(2026, 3, 18)
        assert len(cooperatives.standing(tx, hills.cooperative.id, What.CHECK_IN, day, day)) == 1


def test_a_take_told_with_the_place_is_no_farm_of_that_name(hills: Cooperative) -> None:
    assert hills.text("at lower gate, ama 5 sheets 2.4 kg rss3").kind is Kind.ENTERED
    assert len(hills.book(hills.ama)) == 1


def test_prices_of_the_day_are_told_to_collector_and_grower(hills: Cooperative) -> None:
    prices = "Prices today: RSS3 1.55, latex 1.2, lump 0.8 USD a kg."

    assert hills.text("price today").text == prices
    assert hills.text("rss3 price?", AMA).text == prices


@pytest.mark.parametrize("text", ["ama not home", "block 3", "where next", "what"])
def test_what_is_not_understood_gets_a_collectors_example(hills: Cooperative, text: str) -> None:
    said = str(hills.text(text).text)

    assert "took 24 sheets 11.8 kg rss3 from" in said
    assert hills.book(hills.ama) == []


def test_help_is_a_collectors(hills: Cooperative) -> None:
    said = hills.text("help")

    assert str(said.text).startswith("Text: ready / at 1 / took 24 sheets")
    assert said.parts == 1

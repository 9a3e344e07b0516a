"""Somebody whose number changed: asked by his name, he is shown with all of his entries, and his own earlier lines stay his."""

from collections.abc import Iterator
from contextlib import closing
from datetime import timedelta
from pathlib import Path

import pytest

from bot.books import open_books, people
from bot.talk.exchange import Kind
from parsers.reading import Role
from tests.talk.test_paying import GUS, MIRA, START, TOBIN, Farm

NEW = "+447700900188"


@pytest.fixture(params=["phone blocked", "left and came again"])
def farm(tmp_path: Path, request: pytest.FixtureRequest) -> Iterator[Farm]:
    """Tobin reported two days from his old phone and one from his new one."""
    with closing(open_books(tmp_path / "books.sqlite")) as books:
        found = Farm(books)
        found.text(0, "block 1 18 litres", TOBIN)
        found.text(1, "block 1 17 litres", TOBIN)
        found.text(1, "block Tobin" if request.param == "phone blocked" else "remove Tobin")
        found.text(1, f"add tapper Tobin {NEW} blocks 1")
        found.text(2, "block 1 16 litres", NEW)
        yield found


@pytest.mark.parametrize("text", ["Tobin this week", "how much did Tobin bring this week?"])
def test_his_week_holds_the_entries_of_both_phones(farm: Farm, text: str) -> None:
    said = str(farm.text(2, text).text)

    assert said.startswith("Tobin")
    assert "= 51 L" in said


def test_he_himself_sees_all_of_his_week(farm: Farm) -> None:
    assert "51 L" in str(farm.text(2, "how many litres this week?", NEW).text)


def test_he_corrects_what_he_sent_from_his_old_phone(farm: Farm) -> None:
    said = farm.text(2, "yesterday 17 was 15", NEW)

    assert said.kind is Kind.CHANGED
    assert said.to_others == ()
    assert "= 49 L" in str(farm.text(2, "Tobin this week").text)


def test_nobody_elses_lines_become_his(farm: Farm) -> None:
    farm.text(2, "block 2 15 litres", MIRA)

    assert "15" not in str(farm.text(2, "Tobin this week").text)
    assert farm.text(2, "block 2 today was 14 not 15", NEW).kind in (Kind.REFUSED, Kind.ASKED)


def test_another_of_his_name_who_is_at_work_too_keeps_his_lines_to_himself(tmp_path: Path) -> None:
    with closing(open_books(tmp_path / "books.sqlite")) as books:
        farm = Farm(books)
        farm.text(0, "block 1 18 litres", TOBIN)
        farm.text(0, f"add tapper Tobin {NEW} blocks 2")
        farm.text(1, "block 2 16 litres", NEW)

        assert "18" not in str(farm.text(1, "how many litres this week?", NEW).text)
        assert "= 34 L" in str(farm.text(1, "Tobin this week").text)


def test_a_collector_of_old_and_new_phone_is_shown_with_all_that_he_took(farm: Farm) -> None:
    farm.text(2, "took 24 sheets 11.8 kg rss3", GUS)
    farm.text(2, "remove Gus")
    with farm.books.transaction() as tx:
        who = {"name": "Gus", "number": "+447700900189", "role": Role.COLLECTOR, "blocks": (), "language": "en"}
        people.enrol(tx, farm_id=farm.farm.id, at=START + timedelta(days=2), message_id=None, **who)
    farm.text(2, "took 10 sheets 5 kg rss3 again", "+447700900189")

    said = str(farm.text(2, "what did Gus take today?").text)

    assert "11.8 kg" in said
    assert "5 kg" in said

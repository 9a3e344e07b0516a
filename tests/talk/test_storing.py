"""The store by text: sheets pressed into bales, bales that leave, what was counted; and that no kilo is made or lost."""

from collections.abc import Iterator
from datetime import date, timedelta
from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from bot.books import cooperatives, people, storeroom
from bot.reckon.store_steps import Flow, flows, steps
from bot.rubber.selling import bales
from bot.speech.language import tongue
from bot.talk.exchange import Answer, Kind
from tests.talk.cooperative import HANA, MUSA, START, Cooperative, opened

TODAY = START.date()


@pytest.fixture
def hills(tmp_path: Path) -> Iterator[Cooperative]:
    found = Cooperative(opened(tmp_path))
    found.text("took 2600 sheets 1340 kg rss3 from Ama")
    yield found
    found.books.close()


def manager(hills: Cooperative, text: str, *, day: int = 0) -> Answer:
    return hills.text(text, HANA, day=day)


def there(hills: Cooperative, day: date = TODAY) -> storeroom.Storeroom:
    with hills.books.transaction() as tx:
        return storeroom.at(tx, hills.cooperative.id, day)


def test_nine_usual_bales_make_a_tonne() -> None:
    """A federation of rubber cooperatives, Chanthaburi: bales of 111.11 kg, nine to the tonne; in India 50 kg."""
    assert abs(9 * cooperatives.USUAL_BALE_KG - 1000) < Decimal("0.02")
    assert bales(Decimal(1000), Decimal(50)) == (20, Decimal(0))


def test_sheets_are_pressed_and_sold_in_bales(hills: Cooperative) -> None:
    pressed = manager(hills, "bales 12 rss3")
    store = manager(hills, "store")
    sold = manager(hills, "store out 5 bales rss3")

    assert pressed.text == "Pressed: 12 bales RSS3 of 111.11 kg = 1,333.32 kg, 6.68 kg left in sheets."
    assert store.text == "Store: RSS3 6.68 kg, 12 bales RSS3 of 111.11 kg."
    assert sold.text == "Out of the store: 5 bales RSS3 of 111.11 kg, 7 left."
    assert "Store: RSS3 7 kg, 7 bales RSS3 of 111.11 kg." in str(manager(hills, "day").text)


def test_no_bale_is_pressed_of_sheets_that_are_not_there(hills: Cooperative) -> None:
    said = manager(hills, "bales 13 rss3")

    assert said.kind is Kind.REFUSED
    assert said.text == (
        "The store should hold 1,340 kg of RSS3: 12 bales. Nothing entered. More there? Weigh it and text: counted 40 kg rss3"
    )
    assert manager(hills, "bales 1 rss4").kind is Kind.REFUSED
    assert there(hills).pieces == {}


def test_no_bale_leaves_that_is_not_there(hills: Cooperative) -> None:
    manager(hills, "bales 2 rss3")

    assert manager(hills, "store out 3 bales rss3").text == (
        "The store should hold 2 bales RSS3 of 111.11 kg. Nothing entered."
    )
    assert manager(hills, "store out 1200 kg rss3").kind is Kind.REFUSED  # that much is in bales


def test_a_cooperative_has_bales_of_its_own_weight(hills: Cooperative) -> None:
    assert manager(hills, "bales 50 kg").text == "A bale weighs 50 kg from now on (was 111.11 kg)."
    assert manager(hills, "bales 3 rss3").text == "Pressed: 3 bales RSS3 of 50 kg = 150 kg, 1,190 kg left in sheets."
    manager(hills, "bales 2 rss3 33.33 kg")

    assert there(hills).pieces == {
        storeroom.Bale("RSS3", Decimal("33.33")): 2,
        storeroom.Bale("RSS3", Decimal("50")): 3,
    }
    assert "3 left" not in str(manager(hills, "store out 2 bales rss3 33.33 kg").text)
    assert manager(hills, "bales 500 kg").text == "A bale weighs 10 to 120 kg. Nothing entered."


def test_a_pressing_entered_wrongly_is_taken_back(hills: Cooperative) -> None:
    manager(hills, "bales 12 rss3")

    assert manager(hills, "cancel bales 2 rss3").text == "Taken back: 2 bales RSS3 of 111.11 kg."
    assert manager(hills, "cancel bales 11 rss3").kind is Kind.REFUSED
    assert there(hills).sheets == {"RSS3": Decimal("228.9")}


def test_what_is_counted_goes_before_the_books_and_the_gap_is_told(hills: Cooperative) -> None:
    manager(hills, "bales 11 rss3")

    said = manager(hills, "counted 80 kg rss3")

    assert said.text == "Counted: RSS3 80 kg, by the books 117.79: 37.79 kg less."
    assert there(hills).sheets == {"RSS3": Decimal(80)}
    with hills.books.transaction() as tx:
        rows = steps(flows(tx, hills.cooperative, TODAY, TODAY))
    assert [(row.told, round(row.expected_kg, 2), round(row.found_kg, 2)) for row in rows] == [
        (True, 1260.0, 1222.21),
        (False, 0.0, 0.0),
    ]
    assert rows[0].question.startswith("The store holds 37.8 kg less than the books: dried out")


def test_bales_are_counted_too(hills: Cooperative) -> None:
    manager(hills, "bales 12 rss3")
    manager(hills, "store out 4 bales rss3")

    assert manager(hills, "counted 7 bales rss3").text == (
        "Counted: 7 bales RSS3 of 111.11 kg 777.77 kg, by the books 888.88: 111.11 kg less."
    )
    with hills.books.transaction() as tx:
        (_, sold) = steps(flows(tx, hills.cooperative, TODAY, TODAY))
    assert sold.told
    assert sold.question == "111.1 kg of bales are neither there nor entered as sold: is a text missing?"


def test_a_count_that_fits_is_no_gap(hills: Cooperative) -> None:
    assert manager(hills, "counted 1340 kg rss3").text == "Counted: RSS3 1,340 kg, as in the books."


@pytest.mark.parametrize("number", [MUSA])
@pytest.mark.parametrize("text", ["bales 2 rss3", "bales 50 kg", "counted 1 kg rss3"])
def test_the_store_is_the_managers(hills: Cooperative, number: str, text: str) -> None:
    hills.text(text, number)

    assert there(hills).sheets == {"RSS3": Decimal(1340)}
    assert there(hills).pieces == {}


@pytest.mark.parametrize("language", ["en", "fr", "id", "th", "vi", "es"])
def test_the_texts_that_are_suggested_are_understood(hills: Cooperative, language: str) -> None:
    with hills.books.transaction() as tx:
        people.set_language(tx, hills.hana.id, language)
    how = tongue(language).say(
        "A bale weighs {kg} kg here. Text: bales 12 rss3 / bales 50 kg / store out 12 bales rss3 / counted 40 kg rss3",
        kg="1",
    )
    press, weight, out, counted = how.partition(": ")[2].split(" / ")

    for text in (press, out, counted):
        assert manager(hills, text).kind is Kind.ENTERED, text
    assert manager(hills, weight).kind is Kind.CHANGED, weight
    assert there(hills).sheets == {"RSS3": Decimal(40)}


DAYS = st.lists(
    st.tuples(
        st.sampled_from(["take", "press", "out", "bales out", "count", "count bales", "apart"]), st.integers(1, 900)
    ),
    max_size=12,
)


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(DAYS)
def test_no_kilo_is_made_or_lost(tmp_path_factory: pytest.TempPathFactory, season: list[tuple[str, int]]) -> None:
    """What came, pressed, left and was counted adds up to what is there, for any days, to the gram."""
    hills = Cooperative(opened(tmp_path_factory.mktemp("store")))
    taken = Decimal(0)
    for day, (what, n) in enumerate(season):
        if what == "take":
            hills.text(f"took {n} sheets {n}.125 kg rss3 from Ama", day=day)
            taken += n + Decimal("0.125")
            continue
        text = {
            "press": f"bales {n % 9 + 1} rss3 50 kg",
            "out": f"store out {n} kg rss3",
            "bales out": f"store out {n % 4 + 1} bales rss3",
            "count": f"counted {n} kg rss3",
            "count bales": f"counted {n % 5} bales rss3 50 kg",
            "apart": f"cancel bales {n % 3 + 1} rss3",
        }[what]
        manager(hills, text, day=day)
    last = TODAY + timedelta(days=len(season))
    with hills.books.transaction() as tx:
        for n in range(0, len(season) + 1, 3):
            seen = flows(tx, hills.cooperative, TODAY + timedelta(days=n), last)
            found: list[Flow] = [*seen.loose.values(), *seen.bales.values()]
            for each in found:
                moved = each.moved
                assert each.start + moved.came - moved.pressed - moved.left + moved.counted == each.end
            pressed = sum((each.moved.pressed for each in seen.loose.values()), Decimal(0))
            assert pressed == sum((each.moved.came for each in seen.bales.values()), Decimal(0))
            whole = flows(tx, hills.cooperative, TODAY, last)
        assert sum((each.moved.came for each in whole.loose.values()), Decimal(0)) == taken
        at_end = storeroom.at(tx, hills.cooperative.id, last)
    assert all(kg >= 0 for kg in at_end.sheets.values())
    assert all(pieces > 0 for pieces in at_end.pieces.values())
    hills.books.close()

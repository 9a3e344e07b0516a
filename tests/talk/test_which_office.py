"""A manager of several cooperatives says which one he means; what he chose holds, and every answer says of which it is."""

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from pathlib import Path

import pytest

from bot.app import create_app
from bot.books import cooperatives, farms, people
from bot.jobs import run_due
from bot.pages import links
from bot.settings import Settings
from bot.talk.exchange import Answer, Kind
from parsers.reading import Block, Role
from tests.talk.cooperative import HANA, MUSA, START, Cooperative, opened

ZOE = "+447700900140"


class Two:
    """Hana manages Three Hills, and then Far Valley too, which has a farm of its own."""

    def __init__(self, folder: Path) -> None:
        self.hills = Cooperative(opened(folder))
        with self.hills.books.transaction() as tx:
            self.valley = cooperatives.add(
                tx, name="Far Valley", timezone="Asia/Bangkok", currency="USD", language="en", closing_hour=19, at=START
            )
            cooperatives.add_manager(tx, self.valley.id, self.hills.hana.id, START)
            self.zoe = farms.add_farm(
                tx, name="Zoe Bank", timezone="Asia/Bangkok", currency="USD", language="en",
                blocks={"1": Block(100, Decimal(9))}, containers={}, settings={"sells": "sheets"}, at=START,
            )  # fmt: skip
            cooperatives.add_farm(tx, self.valley.id, self.zoe.id)
            who = {"language": "en", "farm_id": self.zoe.id, "blocks": (), "at": START, "message_id": None}
            people.enrol(tx, name="Zoe", number=ZOE, role=Role.OWNER, **who)

    def text(self, text: str) -> Answer:
        return self.hills.text(text, HANA)

    def price(self, which: str) -> Decimal | None:
        one = self.valley if which == "Far Valley" else self.hills.cooperative
        with self.hills.books.transaction() as tx:
            return cooperatives.price_on(tx, one.id, "RSS3", START.date())


@pytest.fixture
def two(tmp_path: Path) -> Iterator[Two]:
    found = Two(tmp_path)
    yield found
    found.hills.books.close()


@pytest.mark.parametrize("name", ["Far Valley", "far valley.", "Far Valey", "valley"])
def test_the_name_alone_chooses_and_it_holds(two: Two, name: str) -> None:
    chosen = two.text(name)
    later = two.text("price rss3 1.70")

    assert (chosen.kind, chosen.text) == (Kind.CHANGED, "Far Valley from now on. Also yours: Three Hills.")
    assert later.text == "Far Valley: Prices from today: RSS3 1.7 USD a kg."
    assert (two.price("Far Valley"), two.price("Three Hills")) == (Decimal("1.7"), Decimal("1.55"))


@pytest.mark.parametrize(
    "text",
    [
        "Far Valley price rss3 1.70",
        "price rss3 1.70 far valley",
        "price far valley rss3 1.70",
        "far valley: price rss3 1.70",
        "Far Valey: price rss3 1.70",
        "far valey price rss3 1.70",
    ],
)
def test_the_name_in_a_text_says_for_which_it_is_meant_and_holds(two: Two, text: str) -> None:
    assert str(two.text(text).text).startswith("Far Valley: Prices from today: RSS3 1.7 USD")
    assert two.price("Far Valley") == Decimal("1.7")
    assert str(two.text("day").text).startswith("Far Valley 18 Mar:")
    assert str(two.text("three hills day").text).startswith("Three Hills 18 Mar:")
    assert str(two.text("day").text).startswith("Three Hills 18 Mar:")


def test_before_any_is_chosen_it_is_the_first_and_says_so(two: Two) -> None:
    assert str(two.text("levy 2%").text).startswith("Three Hills: Levy from today: 2%")
    assert two.text("cooperatives?").text == (
        "You write about Three Hills now. Also yours: Far Valley. For another one text its name."
    )


def test_a_farm_says_of_which_cooperative_it_is_and_changes_no_choice(two: Two) -> None:
    said = two.text("advance 5 Zoe Bank")

    assert str(said.text).startswith("Far Valley: Zoe Bank: advance 5.00 USD, off the next pay-out.")
    assert str(two.text("day").text).startswith("Three Hills")
    assert two.hills.told(ZOE) == ["Far Valley: advance 5.00 USD, off the next pay-out."]


def test_a_change_is_confirmed_for_the_cooperative_for_which_it_was_asked(two: Two) -> None:
    two.text("pin 4826")
    asked = two.text("far valley price rss3 1.70")
    two.text("three hills")

    done = two.text("4826")

    assert asked.kind is Kind.ASKED
    assert done.text == "Far Valley: Prices from today: RSS3 1.7 USD a kg."
    assert (two.price("Far Valley"), two.price("Three Hills")) == (Decimal("1.7"), Decimal("1.55"))


def test_a_farm_named_after_the_cooperative_is_not_it(two: Two) -> None:
    with two.hills.books.transaction() as tx:
        farm = farms.add_farm(
            tx, name="Far Valley Farm", timezone="Asia/Bangkok", currency="USD", language="en",
            blocks={"1": Block(100, Decimal(9))}, containers={}, settings={}, at=START,
        )  # fmt: skip
        cooperatives.add_farm(tx, two.valley.id, farm.id)

    said = str(two.text("advance 5 Far Valley Farm").text)

    assert said.startswith("Far Valley: Far Valley Farm: advance 5.00 USD, off the next pay-out.")


def test_what_he_manages_no_more_is_not_meant(two: Two) -> None:
    two.text("far valley")
    with two.hills.books.transaction() as tx:
        cooperatives.end_manager(tx, two.hills.hana.id, START, two.valley.id)

    assert str(two.text("day").text).startswith("Three Hills 18 Mar:")
    assert "Far Valley" not in str(two.text("far valley day").text)
    assert two.text("price rss3 1.60").text == "Prices from today: RSS3 1.6 (was 1.55) USD a kg."


def test_nobody_chooses_what_he_does_not_manage(two: Two) -> None:
    assert "from now on" not in str(two.hills.text("Far Valley", MUSA).text)


@pytest.mark.parametrize("language", ["en", "fr", "id", "th", "vi", "es"])
def test_each_page_lists_all_of_his_and_their_links_last_no_longer(two: Two, tmp_path: Path, language: str) -> None:
    settings = Settings(tmp_path / "books.sqlite", link_key="a key for the test")
    client = create_app(settings, two.hills.books, lambda: datetime.now(UTC)).test_client()
    with two.hills.books.transaction() as tx:
        people.set_language(tx, two.hills.hana.id, language)
    made_at = datetime.now(UTC).replace(microsecond=0) - timedelta(days=29)
    link = links.cooperative_path(settings, two.hills.cooperative.id, two.hills.hana.id, made_at)

    page = client.get(link).get_data(as_text=True)
    other = page.partition(">Far Valley</a>")[0].rpartition('href="')[2].rstrip('"')
    valley = client.get(other).get_data(as_text=True)

    assert "<h1>Far Valley</h1>" in valley
    assert ">Three Hills</a>" in valley
    assert links.opened_cooperative(settings, other.rpartition("/")[2]).made_at == made_at


def test_each_cooperative_has_its_own_closing_text_with_its_name(two: Two) -> None:
    two.hills.text("took 24 sheets 11.8 kg rss3 from Ama")
    run_due(two.hills.books, two.hills.at(0, 19.1), None)

    assert [each.split(":")[0] for each in two.hills.told(HANA)] == ["Three Hills 18 Mar"]


def test_one_who_has_a_farm_too_chooses_by_the_whole_name(two: Two) -> None:
    with two.hills.books.transaction() as tx:
        who = {"name": "Hana", "number": HANA, "language": "en", "role": Role.OWNER, "blocks": ()}
        people.enrol(tx, farm_id=two.zoe.id, at=START, message_id=None, **who)

    assert "from now on" not in str(two.text("valley").text)
    assert str(two.text("1 12 litres").text).startswith("B1 today 12 L")
    assert two.text("far valey").text == "Far Valley from now on. Also yours: Three Hills."

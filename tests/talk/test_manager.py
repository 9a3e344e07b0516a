"""A cooperative's manager by text: the day, prices, disputes, the store, grades; he sees and does only what is his."""

from collections.abc import Iterator
from datetime import timedelta
from decimal import Decimal
from pathlib import Path

import pytest

from bot.books import cooperatives, disputes, farms, outbox, people, storeroom
from bot.jobs import run_due
from bot.speech.language import tongue
from bot.speech.parts import count_parts
from bot.talk.exchange import Answer, Kind
from bot.talk.house import House
from parsers.reading import Block, Role
from tests.talk.cooperative import AMA, ESI, HANA, MUSA, START, TOBIN, YAW, Cooperative, opened


@pytest.fixture
def hills(tmp_path: Path) -> Iterator[Cooperative]:
    found = Cooperative(opened(tmp_path))
    yield found
    found.books.close()


def a_day(hills: Cooperative) -> None:
    """A morning: Ama and Yaw were visited, Esi was not though his sheets are dry."""
    hills.rolled(AMA, 24, "12.1", day=-20)
    hills.rolled(ESI, 9, day=-15)
    hills.text("at 1", hour=9)
    hills.text("took 24 sheets 11.8 kg rss3 from Ama, 10 sheets 5 kg rss2 from Yaw", hour=9.1)
    hills.text("lump 31.5 kg tare 1.5 kg moisture 40% from Yaw", hour=9.2)
    hills.text("1001 it was 12.4 kg", AMA, hour=10)


def manager(hills: Cooperative, text: str, **when: float) -> Answer:
    return hills.text(text, HANA, **when)  # type: ignore[arg-type]


@pytest.mark.parametrize("text", ["day", "today", "closing", "Day?", "what is ready"])
def test_the_day_is_told_whenever_it_is_asked(hills: Cooperative, text: str) -> None:
    a_day(hills)

    said = manager(hills, text, hour=11)

    assert said.text == (
        "Three Hills 18 Mar: 1 of 2 places. lump 18 kg, RSS3 11.8 kg, RSS2 5 kg. Pay out 32.69 USD to 2 growers. "
        "1 without a price. In dispute: 1001 Ama Ridge. Ready, not visited: Esi Bend 9 sheets 4.5 kg. "
        "Store: lump 18 kg, RSS3 12 kg, RSS2 5 kg."
    )
    assert said.parts == 2


def test_the_closing_text_goes_out_once_at_its_hour(hills: Cooperative) -> None:
    a_day(hills)

    run_due(hills.books, hills.at(0, 18.9), None)
    assert not any("places" in each for each in hills.told(HANA))

    run_due(hills.books, hills.at(0, 19.1), None)
    assert run_due(hills.books, hills.at(0, 19.2), None).written == 0

    closings = [each for each in hills.told(HANA) if each.startswith("Three Hills 18 Mar:")]
    assert len(closings) == 1
    assert "1 of 2 places" in closings[0]


def test_a_grower_who_kept_some_back_was_visited(hills: Cooperative) -> None:
    hills.rolled(AMA, 24, "12.1", day=-20)
    hills.text("took 14 sheets 7 kg rss3 from Ama")

    assert "not visited" not in str(manager(hills, "day").text)


def test_a_day_without_collecting_has_no_closing_text(hills: Cooperative) -> None:
    run_due(hills.books, hills.at(1, 19.1), None)  # a Thursday: no rounds, nothing taken

    assert hills.told(HANA) == []


def test_a_closing_that_is_many_hours_late_is_not_sent(hills: Cooperative) -> None:
    a_day(hills)

    run_due(hills.books, hills.at(1, 6), None)

    assert not any(each.startswith("Three Hills") for each in hills.told(HANA))


def test_the_closing_text_of_a_large_day_takes_three_parts_at_most(hills: Cooperative) -> None:
    with hills.books.transaction() as tx:
        for n in range(40):
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
            cooperatives.add_farm(tx, hills.cooperative.id, farm.id)
            who = {"language": "en", "farm_id": farm.id, "blocks": (), "at": START, "message_id": None}
            people.enrol(tx, name=f"Owner {n}", number=f"+4477009005{n:02}", role=Role.OWNER, **who)
            tx.run("add_point_farm", point_id=hills.gate.id, farm_id=farm.id)
    for n in range(40):
        hills.rolled(f"+4477009005{n:02}", 10 + n, day=-20)

    said = str(manager(hills, "day").text)

    assert count_parts(said).parts <= 3
    assert "Ready, not visited: Long Meadow Number 40 49 sheets 24.5 kg," in said


def test_money_of_the_day_adds_up_to_the_last_unit(hills: Cooperative) -> None:
    from bot.week.closing import closing

    for n in range(30):
        hills.text(f"took {n + 1} sheets {(n + 1) * 0.497:.3f} kg rss3 from Ama")

    with hills.books.transaction() as tx:
        seen = closing(tx, hills.cooperative, START.date())

    receipts = sum((Decimal(each.computed["amount"]) for each in hills.book(hills.ama) if each.computed), Decimal(0))
    assert seen.amount == receipts == seen.kinds["RSS3"][1]
    assert seen.kinds["RSS3"][0] == sum((each.record.kg or 0 for each in hills.book(hills.ama)), Decimal(0))
    assert seen.store.sheets["RSS3"] == seen.kinds["RSS3"][0]


def test_rupiah_are_told_without_decimals(tmp_path: Path) -> None:
    hills = Cooperative(opened(tmp_path), currency="IDR")
    hills.price("RSS3", "18500", day=-1)
    hills.text("took 10 sheets 5 kg rss3 from Ama")

    assert "Pay out 92,500 IDR to 1 grower." in str(manager(hills, "day").text)


@pytest.mark.parametrize(
    ("text", "prices"),
    [
        ("price rss3 1.60", {"RSS3": "1.6"}),
        ("rss3 1.60, rss4 1.40", {"RSS3": "1.6", "RSS4": "1.4"}),
        ("price latex 1.3 lump 0.75", {"latex": "1.3", "lump": "0.75"}),
    ],
)
def test_a_manager_sets_the_prices_of_the_day(hills: Cooperative, text: str, prices: dict[str, str]) -> None:
    assert manager(hills, text).kind is Kind.CHANGED

    with hills.books.transaction() as tx:
        now = cooperatives.prices_on(tx, hills.cooperative.id, START.date())
        before = cooperatives.prices_on(tx, hills.cooperative.id, START.date() - timedelta(days=1))
    assert {kind: now[kind] for kind in prices} == {kind: Decimal(price) for kind, price in prices.items()}
    assert before["RSS3"] == Decimal("1.55")


def test_the_other_managers_hear_of_a_new_price(hills: Cooperative) -> None:
    with hills.books.transaction() as tx:
        other = people.known_as(tx, name="Lek", number="+447700900130", language="th", at=START)
        cooperatives.add_manager(tx, hills.cooperative.id, other.id, START)

    manager(hills, "price rss3 1.60")

    (said,) = hills.told("+447700900130")
    assert said.startswith("Hana: ")
    assert "RSS3 1.6" in said


def test_where_more_proof_is_asked_for_money_is_changed_on_the_page_alone(tmp_path: Path) -> None:
    hills = Cooperative(opened(tmp_path), house=House(requires_pin=True))
    a_day(hills)

    for text in ("price rss3 1.60", "set 1001 12.4 kg", "keep 1001"):
        assert manager(hills, text).kind is Kind.REFUSED, text

    with hills.books.transaction() as tx:
        assert cooperatives.price_on(tx, hills.cooperative.id, "RSS3", START.date()) == Decimal("1.55")
        assert len(disputes.open_at_cooperative(tx, hills.cooperative.id)) == 1


def test_a_manager_keeps_a_take_and_both_sides_hear_of_it(hills: Cooperative) -> None:
    a_day(hills)
    assert manager(hills, "disputes").text == "1001 Ama Ridge 24 sheets, 11.8 kg; Ama: 1001 it was 12.4 kg."

    said = manager(hills, "keep 1001")

    assert said.text == "Receipt 1001 stands, the dispute is over."
    assert {each.to for each in said.to_others} == {MUSA, AMA, TOBIN}
    assert manager(hills, "disputes").text == "Nothing is in dispute."


def test_a_manager_corrects_a_take_and_its_money(hills: Cooperative) -> None:
    a_day(hills)

    said = manager(hills, "set 1001 12.4 kg")

    assert said.kind is Kind.CHANGED
    (take,) = hills.book(hills.ama)
    assert take.computed is not None
    assert (take.record.kg, take.computed["amount"], take.by.name) == (Decimal("12.4"), "19.22", "Musa")
    assert "19.22" in hills.told(AMA)[-1]
    assert manager(hills, "disputes").text == "Nothing is in dispute."


def test_a_correction_keeps_the_price_that_the_take_had(hills: Cooperative) -> None:
    a_day(hills)
    manager(hills, "price rss3 1.70")

    manager(hills, "set 1001 12.4 kg")

    (take,) = hills.book(hills.ama)
    assert take.record.price == Decimal("1.55")


def test_a_correction_to_another_grade_takes_that_grades_price(hills: Cooperative) -> None:
    hills.price("RSS4", "1.40", day=-2)
    a_day(hills)

    hills.text("1001 rss4")

    (take,) = hills.book(hills.ama)
    assert (take.record.grade, take.record.price) == ("RSS4", Decimal("1.4"))


def test_the_store_holds_what_was_taken_less_what_left(hills: Cooperative) -> None:
    a_day(hills)

    assert manager(hills, "store out 10 kg rss3").text == "Out of the store: RSS3 10 kg, 1.8 kg left."
    refused = manager(hills, "store out 10 kg rss3")

    assert refused.kind is Kind.REFUSED
    assert refused.text == "The store should hold 1.8 kg of RSS3. Nothing entered."


def test_a_take_that_is_taken_out_is_not_at_the_store(hills: Cooperative) -> None:
    hills.text("took 24 sheets 11.8 kg rss3 from Ama")
    hills.text("undo")

    with hills.books.transaction() as tx:
        assert storeroom.at(tx, hills.cooperative.id, START.date()).sheets == {}


def test_grades_by_grower_tell_why(hills: Cooperative) -> None:
    for n, text in enumerate(["12 sheets 6 kg rss3", "11 sheets 5.5 kg rss4 mould", "10 sheets 5 kg rss4 mould dirt"]):
        hills.text(f"took {text} from Ama", day=n - 5)
    hills.text("took 9 sheets 4 kg rss3 from Esi")

    said = str(manager(hills, "grades ama").text)

    assert said == "Ama Ridge Mar: RSS3 6 kg, RSS4 10.5 kg; mould 2/3, dirt 1/3."


class TestOnlyWhatIsHis:
    """A manager sees nothing of other farms, and nobody else does what is his."""

    def test_receipts_of_another_cooperative_are_not_his(self, hills: Cooperative) -> None:
        a_day(hills)
        with hills.books.transaction() as tx:
            other = cooperatives.add(
                tx,
                name="Far Coast",
                timezone="Asia/Bangkok",
                currency="USD",
                language="en",
                closing_hour=19,
                at=START,
            )
            lek = people.known_as(tx, name="Lek", number="+447700900130", language="en", at=START)
            cooperatives.add_manager(tx, other.id, lek.id, START)

        said = hills.text("set 1001 1 kg", "+447700900130")

        assert said.kind is Kind.REFUSED
        assert [each.record.kg for each in hills.book(hills.ama)] == [Decimal("11.8")]
        assert "Ama" not in str(hills.text("day", "+447700900130").text)
        assert hills.text("disputes", "+447700900130").text == "Nothing is in dispute."

    @pytest.mark.parametrize("number", [MUSA, AMA, TOBIN, YAW])
    @pytest.mark.parametrize("text", ["price rss3 9.99", "keep 1001", "set 1001 99 kg", "store out 5 kg rss3"])
    def test_others_do_not_do_what_is_the_managers(self, tmp_path: Path, number: str, text: str) -> None:
        hills = Cooperative(opened(tmp_path))
        a_day(hills)

        hills.text(text, number)

        with hills.books.transaction() as tx:
            assert cooperatives.price_on(tx, hills.cooperative.id, "RSS3", START.date()) == Decimal("1.55")
            assert len(disputes.open_at_cooperative(tx, hills.cooperative.id)) == 1
            assert storeroom.at(tx, hills.cooperative.id, START.date()).sheets["RSS3"] == Decimal("11.8")
        assert [each.record.kg for each in hills.book(hills.ama)] == [Decimal("11.8")]

    def test_a_manager_enters_no_latex(self, hills: Cooperative) -> None:
        assert manager(hills, "block 1 18 litres").kind is Kind.ANSWERED

    def test_a_manager_who_ended_is_a_stranger(self, hills: Cooperative) -> None:
        with hills.books.transaction() as tx:
            cooperatives.end_manager(tx, hills.hana.id, START)

        assert "This number keeps the book" in str(manager(hills, "day").text)

    def test_a_manager_who_owns_a_farm_writes_about_that_too(self, hills: Cooperative) -> None:
        with hills.books.transaction() as tx:
            who = {"language": "en", "blocks": (), "at": START, "message_id": None}
            people.enrol(tx, name="Hana", number=HANA, farm_id=hills.yaw.id, role=Role.OWNER, **who)

        assert "B1 today 18 L" in str(manager(hills, "block 1 18 litres").text)
        assert str(manager(hills, "day").text).startswith("Three Hills 18 Mar:")


def test_stop_and_start_are_kept(hills: Cooperative) -> None:
    a_day(hills)
    manager(hills, "stop")
    run_due(hills.books, hills.at(0, 19.1), None)
    assert not any(each.startswith("Three Hills") for each in hills.told(HANA))

    assert manager(hills, "start").text
    run_due(hills.books, hills.at(0, 19.5), None)
    assert any(each.startswith("Three Hills") for each in hills.told(HANA))


@pytest.mark.parametrize("language", ["en", "fr", "id", "th", "vi", "es"])
def test_the_commands_that_help_names_are_understood_in_each_language(tmp_path: Path, language: str) -> None:
    hills = Cooperative(opened(tmp_path), house=House(cooperative_link=lambda *_: "https://x.test/1"))
    with hills.books.transaction() as tx:
        people.set_language(tx, hills.hana.id, language)
    hills.text("took 2400 sheets 1180 kg rss3 from Ama")
    hills.text("1001 it was 21 kg", AMA)
    speech = tongue(language)
    _, _, commands = str(manager(hills, "?!").text).partition(": ")
    day, price, listed, keep, set_, store, bales, out, grades, advance, levy, pay_out, link = commands.split(" / ")

    assert str(manager(hills, day).text).startswith("Three Hills")
    assert manager(hills, price).kind is Kind.CHANGED, price
    assert "1001" in str(manager(hills, listed).text)
    assert manager(hills, keep).kind is Kind.CHANGED, keep
    assert manager(hills, set_).kind is Kind.CHANGED, set_
    assert "RSS3 21 kg" in str(manager(hills, store).text), store
    assert "111" in str(manager(hills, bales).text), bales
    out = out.replace("500", "5")
    assert manager(hills, out).kind is Kind.ENTERED, out
    assert "Ama Ridge" in str(manager(hills, grades).text)
    assert "500 Hill Farm / " in str(manager(hills, advance).text)
    _, _, to_set = str(manager(hills, levy).text).rpartition(": ")
    assert manager(hills, to_set).kind is Kind.CHANGED, to_set
    assert "USD" in str(manager(hills, pay_out).text)
    assert "https://x.test/1" in str(manager(hills, link).text)
    assert speech.code == language


def test_nothing_is_told_to_somebody_blocked(hills: Cooperative) -> None:
    a_day(hills)
    with hills.books.transaction() as tx:
        people.block(tx, hills.hana.id, START)

    run_due(hills.books, hills.at(0, 19.1), None)

    with hills.books.transaction() as tx:
        assert not [each for each in outbox.all_to(tx, HANA) if each.text.startswith("Three Hills")]

"""Pay by text: terms, advances, a settlement by hand and by the tool, slips, and corrections after it."""

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from pathlib import Path

import pytest

from bot.books import Books, farms, open_books, outbox, people, wages
from bot.talk.answer import answer
from bot.talk.exchange import Answer, Incoming, Kind
from parsers.reading import Block, Role

START = datetime(2026, 3, 2, 3, 0, tzinfo=UTC)
TOBIN, MIRA, WANDA, GUS = "+447700900102", "+447700900103", "+447700900101", "+447700900104"


class Farm:
    """A farm with two tappers, an owner and a collector, in dollars or rupiah."""

    def __init__(self, books: Books, currency: str = "USD") -> None:
        self.books, self.n = books, 0
        with books.transaction() as tx:
            self.farm = farms.add_farm(
                tx,
                name="Reed Hollow",
                timezone="Asia/Bangkok",
                currency=currency,
                language="en",
                blocks={"1": Block(300, Decimal(18)), "2": Block(200, Decimal(15))},
                containers={},
                settings={"pay_period": "week"},
                at=START,
            )
            for name, number, role, own in (
                ("Tobin", TOBIN, Role.TAPPER, ("1",)),
                ("Mira", MIRA, Role.TAPPER, ("2",)),
                ("Wanda", WANDA, Role.OWNER, ()),
                ("Gus", GUS, Role.COLLECTOR, ()),
            ):
                who = {"name": name, "number": number, "role": role, "blocks": own, "language": "en"}
                people.enrol(tx, farm_id=self.farm.id, at=START, message_id=None, **who)

    def text(self, day: int, text: str, number: str = WANDA) -> Answer:
        self.n += 1
        at = START + timedelta(days=day, minutes=self.n)
        return answer(self.books, Incoming(f"p{self.n}", number, text, at, at, "practice"), at)

    def told(self, number: str) -> list[str]:
        with self.books.transaction() as tx:
            return [each.text for each in outbox.listing(tx, START, START + timedelta(days=90)) if each.to == number]


@pytest.fixture
def farm(tmp_path: Path) -> Iterator[Farm]:
    books = open_books(tmp_path / "books.sqlite")
    yield Farm(books)
    books.close()


def test_a_week_by_hand_and_by_the_tool(farm: Farm) -> None:
    farm.text(0, "pay Tobin 0.40 per kg")
    farm.text(0, "pay Mira 5 a day")
    farm.text(0, "block 1 18 litres", TOBIN)  # 18 L x 0.98168 kg/L x 33 % = 5.83 kg
    farm.text(2, "block 1 20 litres", TOBIN)  # 6.48 kg; together 12.31 kg x 0.40 = 4.92
    farm.text(1, "block 2 15 litres", MIRA)
    farm.text(3, "block 2 14 litres", MIRA)  # two days x 5 = 10.00
    farm.text(4, "advance Mira 4")

    asked = str(farm.text(7, "pay due?").text)

    assert "Tobin 4.92" in asked
    assert "Mira 10.00 - advance 4.00 = 6.00" in asked
    assert "In all 10.92 USD. To settle text: settle 10.92" in asked


def test_nothing_is_settled_without_its_total(farm: Farm) -> None:
    farm.text(0, "pay all 5 a day")
    farm.text(0, "block 1 18 litres", TOBIN)

    for words in ("settle", "settle 4", "yes"):
        assert farm.text(7, words).kind is not Kind.CHANGED
    with farm.books.transaction() as tx:
        assert wages.settlements(tx, farm.farm.id) == []
    assert farm.text(7, "settle 5.00").kind is Kind.CHANGED


def test_every_tapper_gets_his_slip_with_how_it_was_computed(farm: Farm) -> None:
    farm.text(0, "pay Tobin 0.40 per kg")
    farm.text(0, "block 1 18 litres", TOBIN)
    farm.text(3, "advance Tobin 5")
    farm.text(7, "settle 0")

    slip = farm.told(TOBIN)[-1]
    # 5.83 kg x 0.40 = 2.332, rounded half up to 2.33; all of it goes into the advance of 5, of which 2.67 are left.
    assert "By the kilo 5.83 kg dry x 0.40 = 2.33; advance taken back 2.33; paid 0.00 USD; advance left 2.67." in slip


def test_a_price_of_weeks_before_holds_for_a_sale_without_one(farm: Farm) -> None:
    farm.text(0, "price 1.50")
    farm.text(0, "pay Tobin share 50%")
    farm.text(21, "block 1 18 litres", TOBIN)
    farm.text(23, "took 20 sheets 20 kg from reed hollow", GUS)  # 20 kg x 1.50 = 30.00, half of it is his

    assert "Tobin 15.00" in str(farm.text(28, "pay due?").text)


def test_a_share_is_of_the_sales_by_what_each_brought(farm: Farm) -> None:
    farm.text(0, "pay all 50%")
    farm.text(0, "block 1 18 litres", TOBIN)  # 5.83 kg
    farm.text(0, "block 2 9 litres", MIRA)  # 2.92 kg
    farm.text(1, "rss3 price 1.60")
    farm.text(5, "took 17 sheets 8.5 kg rss3 from Reed Hollow", GUS)  # 8.5 x 1.60 = 13.60

    asked = str(farm.text(7, "pay due?").text)

    # 13.60 split 5.83 : 2.92 is 9.06 and 4.54; half of each is 4.53 and 2.27.
    assert "Tobin 4.53; Mira 2.27" in asked


def test_a_correction_of_settled_days_is_an_adjustment_of_the_next_settlement_and_only_once(farm: Farm) -> None:
    farm.text(0, "pay Tobin 1 per kg")
    farm.text(0, "block 1 18 litres", TOBIN)
    farm.text(7, "settle 5.83")
    farm.text(8, "2 mar block 1 was 20 not 18", TOBIN)  # 6.48 kg
    farm.text(9, "block 1 18 litres", TOBIN)

    asked = str(farm.text(14, "pay due?").text)
    assert "Tobin 6.48" in asked  # 5.83 for the new week and 0.65 for the old one
    assert farm.text(14, "settle 6.48").kind is Kind.CHANGED
    assert "adjustment 2-8 Mar = 0.65" in farm.told(TOBIN)[-1]

    farm.text(16, "block 1 18 litres", TOBIN)
    assert "Tobin 5.83" in str(farm.text(21, "pay due?").text)


def test_new_terms_hold_from_their_day_on(farm: Farm) -> None:
    farm.text(0, "pay Tobin 1 per kg")
    farm.text(0, "block 1 18 litres", TOBIN)
    farm.text(2, "pay Tobin 2 per kg")
    farm.text(2, "block 1 18 litres", TOBIN)

    assert "Tobin 17.49" in str(farm.text(7, "pay due?").text)  # 5.83 + 11.66


def test_work_without_terms_is_asked_for_and_nothing_is_invented(farm: Farm) -> None:
    farm.text(0, "block 1 18 litres", TOBIN)

    assert "No terms of pay for Tobin" in str(farm.text(7, "pay due?").text)
    assert farm.text(7, "settle 0").kind is Kind.REFUSED


def test_a_tapper_sees_his_own_pay_only_and_changes_none(farm: Farm) -> None:
    farm.text(0, "pay all 5 a day")
    farm.text(0, "block 1 18 litres", TOBIN)
    farm.text(0, "block 2 15 litres", MIRA)

    said = str(farm.text(3, "my pay?", TOBIN).text)
    assert "Day's wage 1 days x 5 = 5.00" in said
    assert "Mira" not in said
    assert farm.text(3, "pay Tobin 90%", TOBIN).kind is not Kind.CHANGED
    assert farm.text(3, "advance Tobin 100", TOBIN).kind is not Kind.CHANGED


@pytest.mark.parametrize("text", ["pay Tobin 250%", "advance Tobin 0", "advance Tobin 20.005", "advance Nobody 20"])
def test_what_cannot_be_paid_is_refused(farm: Farm, text: str) -> None:
    assert farm.text(0, text).kind is not Kind.CHANGED


def test_who_leaves_is_still_due_what_he_earned(farm: Farm) -> None:
    farm.text(0, "pay all 5 a day")
    farm.text(0, "advance Mira 3")
    farm.text(0, "block 1 18 litres", TOBIN)
    farm.text(0, "block 2 15 litres", MIRA)
    farm.text(1, "dismiss Tobin")

    assert "Mira 5.00 - advance 3.00 = 2.00; Tobin 5.00. In all 7.00 USD" in str(farm.text(7, "pay due?").text)
    assert farm.text(7, "settle 7.00").kind is Kind.CHANGED
    assert "paid 5.00 USD" in farm.told(TOBIN)[-1]

    farm.text(8, "dismiss Mira")  # nothing is due to her any more
    assert "Nothing is due" in str(farm.text(14, "pay due?").text)


def test_the_share_of_who_leaves_does_not_go_to_the_others(farm: Farm) -> None:
    farm.text(0, "pay all 50%")
    farm.text(0, "block 1 18 litres", TOBIN)
    farm.text(0, "block 2 18 litres", MIRA)
    farm.text(1, "dismiss Tobin")
    farm.text(1, "rss3 price 1.60")
    farm.text(5, "took 17 sheets 10 kg rss3 from Reed Hollow", GUS)

    assert "Mira 4.00; Tobin 4.00" in str(farm.text(7, "pay due?").text)


def test_rupiah_have_no_decimals(tmp_path: Path) -> None:
    books = open_books(tmp_path / "rupiah.sqlite")
    farm = Farm(books, "IDR")
    farm.text(0, "pay Tobin 8500 per kg")
    farm.text(0, "block 1 18 litres", TOBIN)

    # The rupiah is paid in whole units (the profile of Indonesia): 5.83 kg x 8500 = 49555.
    assert "In all 49,555 IDR" in str(farm.text(7, "pay due?").text)
    books.close()


def test_more_deducted_than_earned_is_carried_on(farm: Farm) -> None:
    farm.text(0, "pay Tobin 5 a day")
    farm.text(0, "block 1 18 litres", TOBIN)
    farm.text(1, "deduct Tobin 8 boots")
    farm.text(7, "settle 0")

    assert "advance left 3.00" in farm.told(TOBIN)[-1]
    farm.text(8, "block 1 18 litres", TOBIN)
    assert "Tobin 5.00 - advance 3.00 = 2.00" in str(farm.text(14, "pay due?").text)


@pytest.mark.parametrize(
    ("language", "terms", "ask"),
    [
        ("fr", "paie Tobin 50%", "la paie?"),
        ("id", "gaji Tobin 50%", "berapa gaji?"),
        ("th", "ค่าแรง Tobin 50%", "ค่าแรงเท่าไร"),
        ("vi", "lương Tobin 50%", "lương bao nhiêu?"),
        ("es", "pago Tobin 50%", "cuánto es el pago?"),
    ],
)
def test_pay_is_agreed_and_asked_in_every_language(farm: Farm, language: str, terms: str, ask: str) -> None:
    with farm.books.transaction() as tx:
        person = people.person_by_number(tx, WANDA)
        assert person is not None
        people.set_language(tx, person.id, language)

    assert farm.text(0, terms).kind is Kind.CHANGED
    with farm.books.transaction() as tx:
        assert wages.all_terms(tx, farm.farm.id)[0].terms == {"share": "50%"}
    assert farm.text(1, ask).kind is Kind.ANSWERED

"""A second proof for what moves money or people: a PIN that is asked for, hidden, counted, and never kept."""

import hashlib
from collections.abc import Iterator
from contextlib import closing
from datetime import timedelta
from pathlib import Path

import pytest

from bot.books import Books, alarms, entries, messages, open_books, people, pins, wages
from bot.talk.answer import answer
from bot.talk.exchange import Answer, Incoming, Kind
from bot.talk.house import PLAIN, House
from parsers.reading import Role
from tests.books.made import a_farm
from tests.talk.test_paying import MIRA, START, TOBIN, WANDA, Farm

#: Six digits, so that none of the ids and hashes in the books holds them by chance.
PIN, NEW = "482193", "903571"


class Guarded(Farm):
    """The farm, with texts a minute apart."""

    house: House = PLAIN

    def say(self, text: str, number: str = WANDA, *, after: timedelta = timedelta(0), id_: str | None = None) -> Answer:
        self.n += 1
        at = START + timedelta(minutes=self.n) + after
        return answer(self.books, Incoming(id_ or f"g{self.n}", number, text, at, at, "practice"), at, self.house)

    def terms(self) -> int:
        with self.books.transaction() as tx:
            return len(wages.all_terms(tx, self.farm.id))


@pytest.fixture
def farm(tmp_path: Path) -> Iterator[Guarded]:
    with closing(open_books(tmp_path / "books.sqlite")) as books:
        yield Guarded(books)


@pytest.fixture
def with_pin(farm: Guarded) -> Guarded:
    assert farm.say(f"pin {PIN}").kind is Kind.CHANGED
    return farm


def everything_kept(books: Books) -> str:
    """Every value of every table."""
    with books.engine.session() as session:
        tables = [row["name"] for row in session.execute(books.engine.tables)]
        return "\n".join(str(row) for table in tables for row in session.execute(f"select * from {table}"))


def test_scrypt_gives_the_published_value() -> None:
    # RFC 7914, section 12: scrypt("pleaseletmein", "SodiumChloride", N=16384, r=8, p=1), the cost that PINs are kept with.
    made = hashlib.scrypt(
        b"pleaseletmein", salt=b"SodiumChloride", n=pins.COST, r=pins.BLOCK, p=pins.PARALLEL, dklen=64
    )

    assert made.hex().startswith("7023bdcb3afd7348461c06cd81fd38eb")
    assert pins.hashed("pleaseletmein", b"SodiumChloride").endswith(f"${made.hex()[: 2 * pins.HASH_BYTES]}")


def test_the_same_pin_is_kept_differently_each_time() -> None:
    assert pins.hashed(PIN) != pins.hashed(PIN)
    assert pins.fits(PIN, pins.hashed(PIN))
    assert not pins.fits(NEW, pins.hashed(PIN))


@pytest.mark.parametrize(
    ("text", "done"),
    [
        ("pay Tobin 0.40 per kg", "Pay of Tobin"),
        ("advance Tobin 20", "Tobin: advance 20.00 USD noted"),
        ("deduct Tobin 8 boots", "deduction 8.00 USD"),
        ("bonus Tobin 5", "bonus 5.00 USD"),
        ("add tapper Kofi +447700900123 blocks 1", "Enrolled: Kofi"),
        ("remove tapper Mira", "Mira is out"),
        ("rss3 price 1.60", "1.6 a kg"),
        ("acid is 90%", "Acid is now 90%"),
    ],
)
def test_what_moves_money_or_people_waits_for_the_pin(with_pin: Guarded, text: str, done: str) -> None:
    before = with_pin.told(TOBIN) + with_pin.told(MIRA) + with_pin.told("+447700900123")

    asked = with_pin.say(text)
    assert asked.kind is Kind.ASKED
    assert str(asked.text).startswith("Send your PIN to confirm: ")
    assert asked.to_others == ()
    assert with_pin.told(TOBIN) + with_pin.told(MIRA) + with_pin.told("+447700900123") == before

    confirmed = with_pin.say(PIN)
    assert done in str(confirmed.text)
    assert with_pin.say(PIN).kind is Kind.REFUSED  # it is done once


def test_a_settlement_waits_for_the_pin_and_is_reckoned_when_it_comes(with_pin: Guarded) -> None:
    with_pin.say("pay all 5 a day")
    with_pin.say(PIN)
    with_pin.say("block 1 18 litres", TOBIN)
    week = timedelta(days=7)

    assert with_pin.say("settle", after=week).kind is not Kind.CHANGED
    asked = with_pin.say("settle 5.00", after=week)
    assert "settle 5 USD" in str(asked.text)
    assert with_pin.say(PIN, after=week).kind is Kind.CHANGED
    with with_pin.books.transaction() as tx:
        assert len(wages.settlements(tx, with_pin.farm.id)) == 1


def test_a_price_is_corrected_and_taken_out_with_the_pin_alone(with_pin: Guarded) -> None:
    with_pin.say("rss3 price 1.60")
    with_pin.say(PIN)

    assert with_pin.say("undo").kind is Kind.ASKED
    with with_pin.books.transaction() as tx:
        assert len(entries.standing(tx, with_pin.farm.id)) == 1
    assert with_pin.say(PIN).kind is Kind.REMOVED


def test_an_entry_points_at_the_text_that_asked_for_it(with_pin: Guarded) -> None:
    with_pin.say("rss3 price 1.60", id_="the price")
    with_pin.say(PIN)

    with with_pin.books.transaction() as tx:
        (entry,) = entries.standing(tx, with_pin.farm.id)
    assert entry.message_id == "the price"


@pytest.mark.parametrize(
    "text", ["week", "block 1 18 litres", "link", "bucket is 12 litres", "settle", "people", "acid for 22 l?"]
)
def test_other_texts_need_no_pin(with_pin: Guarded, text: str) -> None:
    assert "PIN" not in str(with_pin.say(text).text)


def test_a_pin_is_kept_nowhere_and_never_said_back(farm: Guarded) -> None:
    said = [
        farm.say(text).text
        for text in (
            f"my pin is {PIN}",
            "advance Tobin 20",
            NEW,
            PIN,
            PIN,
            f"pin {NEW}",
            f"{PIN}",
            f"Pin: {NEW}",
            f"pin {PIN} {NEW}",
        )
    ]
    kept = everything_kept(farm.books)

    assert PIN not in kept
    assert NEW not in kept
    assert not any(PIN in str(each) or NEW in str(each) for each in said)
    with farm.books.transaction() as tx:
        assert [each.text for each in messages.latest_from(tx, WANDA, 9)].count("pin ****") == 8


def test_a_pin_of_a_stranger_or_tapper_is_not_kept_either(farm: Guarded) -> None:
    assert farm.say(f"pin {PIN}", TOBIN).kind is Kind.REFUSED
    farm.say(f"pin {PIN}", "+447700900999")

    assert PIN not in everything_kept(farm.books)


def test_a_waiting_change_is_forgotten_after_ten_minutes(with_pin: Guarded) -> None:
    with_pin.say("pay Tobin 50%")

    late = with_pin.say(PIN, after=timedelta(minutes=10))
    assert "No change waits" in str(late.text)
    assert with_pin.terms() == 0


def test_two_changes_at_once_are_both_dropped_since_one_may_be_forged(with_pin: Guarded) -> None:
    with_pin.say("pay Tobin 50%")

    assert "neither is done" in str(with_pin.say("pay Tobin 90%").text)
    assert with_pin.say(PIN).kind is Kind.REFUSED
    assert with_pin.terms() == 0


def test_a_change_that_is_repeated_is_asked_for_again(with_pin: Guarded) -> None:
    with_pin.say("pay Tobin 50%")

    assert with_pin.say("pay Tobin 50%").kind is Kind.ASKED
    assert with_pin.say(PIN).kind is Kind.CHANGED
    assert with_pin.terms() == 1


def test_a_repeated_delivery_of_the_pin_does_nothing_twice(with_pin: Guarded) -> None:
    with_pin.say("advance Tobin 20")
    first = with_pin.say(PIN, id_="the pin")
    again = with_pin.say(PIN, id_="the pin")

    assert again.repeat
    assert again.text == first.text
    with with_pin.books.transaction() as tx:
        assert len(wages.money(tx, with_pin.farm.id)) == 1


def test_a_work_text_between_does_not_confirm(with_pin: Guarded) -> None:
    with_pin.say("advance Tobin 20")

    assert with_pin.say("block 1 18 litres").kind is Kind.ENTERED
    with with_pin.books.transaction() as tx:
        assert wages.money(tx, with_pin.farm.id) == []


def test_five_wrong_pins_in_a_day_block_until_the_operator_resets(with_pin: Guarded) -> None:
    with_pin.say("pay Tobin 50%")
    said = [str(with_pin.say(wrong).text) for wrong in ("5731", "5732", "5733", "5734", "5735")]

    assert [text.startswith("Wrong PIN") for text in said] == [True] * 4 + [False]
    assert "blocked by text" in said[-1]
    for text in (PIN, "pay Tobin 50%", f"pin {NEW}"):
        assert with_pin.say(text, after=timedelta(days=40)).kind is Kind.REFUSED
    assert with_pin.terms() == 0
    wanda = _wanda(with_pin)
    with with_pin.books.transaction() as tx:
        (line,) = alarms.take(tx, START)
        pins.reset(tx, wanda)
    assert "reset-pin" in line
    assert WANDA not in line
    with_pin.say(f"pin {NEW}")
    with_pin.say("pay Tobin 50%")
    assert with_pin.say(NEW).kind is Kind.CHANGED


def test_four_wrong_pins_a_day_do_not_block(with_pin: Guarded) -> None:
    for day in range(3):
        for n in range(4):
            with_pin.say("pay Tobin 50%", after=timedelta(days=2 * day))
            with_pin.say(f"573{n}", after=timedelta(days=2 * day))

    with_pin.say("pay Tobin 50%", after=timedelta(days=9))
    assert with_pin.say(PIN, after=timedelta(days=9)).kind is Kind.CHANGED


def test_a_right_pin_does_not_wipe_out_wrong_ones_of_the_day(with_pin: Guarded) -> None:
    for n in range(4):
        with_pin.say("advance Tobin 20")
        with_pin.say(f"573{n}")
        with_pin.say(PIN)
    with_pin.say("advance Tobin 20")

    assert "blocked by text" in str(with_pin.say("5739").text)


def test_a_new_pin_needs_the_old_one(with_pin: Guarded) -> None:
    assert with_pin.say(f"pin {NEW}").kind is Kind.ASKED
    assert with_pin.say(NEW).kind is Kind.REFUSED
    assert with_pin.say(PIN).kind is Kind.CHANGED
    with_pin.say("pay Tobin 50%")
    assert with_pin.say(NEW).kind is Kind.CHANGED


@pytest.mark.parametrize("pin", ["1234", "0000", "0101", "12", "1234567"])
def test_a_pin_that_is_easy_or_none_is_not_taken(farm: Guarded, pin: str) -> None:
    assert farm.say(f"pin {pin}").kind in (Kind.REFUSED, Kind.ASKED)
    assert farm.say("advance Tobin 20").kind is Kind.CHANGED


def test_without_a_pin_all_works_as_before_with_a_hint_once_a_week(farm: Guarded) -> None:
    first, second = farm.say("advance Tobin 20"), farm.say("advance Tobin 21")

    assert (first.kind, second.kind) == (Kind.CHANGED, Kind.CHANGED)
    assert "choose a PIN" in str(first.text)
    assert "PIN" not in str(second.text)
    assert "choose a PIN" in str(farm.say("advance Tobin 22", after=timedelta(days=7)).text)


def test_where_a_pin_is_required_nothing_is_changed_without_one(farm: Guarded) -> None:
    farm.house = House(requires_pin=True)

    assert "Choose a PIN first" in str(farm.say("advance Tobin 20").text)
    assert farm.say("block 1 18 litres", TOBIN).kind is Kind.ENTERED
    farm.say(f"pin {PIN}")
    farm.say("advance Tobin 20")
    assert farm.say(PIN).kind is Kind.CHANGED


def test_digits_that_answer_another_question_are_an_answer(with_pin: Guarded) -> None:
    assert "how many kg" in str(with_pin.say("collected 20 sheets rss3 from Reed Hollow").text)

    assert with_pin.say("1240").kind is Kind.ENTERED


@pytest.mark.parametrize(
    ("language", "choose", "change"),
    [
        ("fr", "code secret 482193", "avance Tobin 20"),
        ("id", "kode pin 482193", "gaji Tobin 50%"),
        ("th", "รหัส 482193", "ค่าแรง Tobin 50%"),
        ("vi", "mã pin 482193", "lương Tobin 50%"),
        ("es", "mi clave 482193", "pago Tobin 50%"),
    ],
)
def test_a_pin_is_chosen_and_asked_for_in_every_language(
    farm: Guarded, language: str, choose: str, change: str
) -> None:
    wanda = _wanda(farm)
    with farm.books.transaction() as tx:
        people.set_language(tx, wanda, language)

    assert farm.say(choose).kind is Kind.CHANGED
    assert farm.say(change).kind is Kind.ASKED
    assert farm.say(PIN).kind is Kind.CHANGED


def test_one_who_owns_a_farm_and_taps_at_another_confirms_for_the_right_one(with_pin: Guarded) -> None:
    with with_pin.books.transaction() as tx:
        other = a_farm(tx, "Far Meadow").id
        people.enrol(
            tx, name="Wanda", number=WANDA, language="en", farm_id=other, role=Role.TAPPER, blocks=("9",), at=START,
            message_id=None,
        )  # fmt: skip
    with_pin.say("block 9 12 litres")
    with_pin.say("pay Tobin 50%")

    assert with_pin.say(PIN).kind is Kind.CHANGED
    assert with_pin.terms() == 1


def _wanda(farm: Farm) -> str:
    with farm.books.transaction() as tx:
        person = people.person_by_number(tx, WANDA)
    assert person is not None
    return person.id


def test_where_there_are_pages_one_without_a_usable_pin_confirms_there(farm: Guarded) -> None:
    farm.house = House(requires_pin=True, link=lambda *_: "https://bot.example.org/farm/x")

    asked = farm.say("advance Tobin 20")
    assert asked.kind is Kind.ASKED
    assert asked.text == "Confirm within 10 minutes on your page: https://bot.example.org/farm/x/waiting"
    with farm.books.transaction() as tx:
        assert wages.money(tx, farm.farm.id) == []


def test_after_five_wrong_pins_changes_are_confirmed_on_the_page_alone(with_pin: Guarded) -> None:
    with_pin.house = House(link=lambda *_: "https://bot.example.org/farm/x")
    with_pin.say("pay Tobin 50%")
    for n in range(5):
        with_pin.say(f"573{n}")

    assert "/waiting" in str(with_pin.say("pay Tobin 50%").text)
    assert "blocked by text" in str(with_pin.say(PIN).text)
    assert with_pin.terms() == 0

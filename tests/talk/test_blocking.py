"""A lost phone is blocked at once: no texts in or out, no links, not even when it is unblocked later."""

from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from bot.books import open_books, outbox, people
from bot.jobs import run_due
from bot.talk.exchange import Delivery, Fate, Kind
from parsers.reading import Role
from tests.books.made import a_farm
from tests.talk.test_paying import MIRA, START, TOBIN, WANDA, Farm

OTHER_OWNER = "+447700900110"


@pytest.fixture
def farm(tmp_path: Path) -> Iterator[Farm]:
    with closing(open_books(tmp_path / "books.sqlite")) as books:
        yield Farm(books)


def is_blocked(farm: Farm, number: str = TOBIN) -> bool:
    with farm.books.transaction() as tx:
        person = people.person_by_number(tx, number)
    assert person is not None
    return person.blocked_at is not None


@pytest.mark.parametrize(
    ("language", "block", "unblock"),
    [
        ("en", "block Tobin", "unblock Tobin"),
        ("en", "lost phone Tobin", "unblock Tobin please"),
        ("en", "Tobin lost his phone", "unblock +447700900102"),
        ("en", "block +447700900102", "unblock Tobin"),
        ("fr", "bloquer Tobin", "débloquer Tobin"),
        ("fr", "Tobin a perdu son téléphone", "debloquer Tobin"),
        ("id", "blokir Tobin", "buka blokir Tobin"),
        ("th", "ระงับเบอร์ Tobin", "ปลดบล็อก Tobin"),
        ("vi", "chặn Tobin", "bỏ chặn Tobin"),
        ("vi", "chan Tobin", "bo chan Tobin"),
        ("es", "bloquear Tobin", "desbloquear Tobin"),
    ],
)
def test_an_owner_blocks_and_unblocks_by_text(farm: Farm, language: str, block: str, unblock: str) -> None:
    with farm.books.transaction() as tx:
        wanda = people.person_by_number(tx, WANDA)
        assert wanda is not None
        people.set_language(tx, wanda.id, language)

    assert farm.text(0, block).kind is Kind.CHANGED
    assert is_blocked(farm)
    assert farm.text(0, "block 1 18 litres", TOBIN).text is None
    assert farm.text(0, unblock).kind is Kind.CHANGED
    assert farm.text(0, "block 1 18 litres", TOBIN).kind is Kind.ENTERED


@pytest.mark.parametrize(
    "text",
    [
        "block 1",
        "block 1 18 litres",
        "block Tobin 18 litres",
        "block 1 Tobin 18 litres",
        "Tobin block 1 rain",
        "block Nobody",
    ],
)
def test_a_text_about_a_plot_blocks_nobody(farm: Farm, text: str) -> None:
    farm.text(0, text)

    assert not is_blocked(farm)


def test_a_tapper_blocks_nobody(farm: Farm) -> None:
    farm.text(0, "block Mira", TOBIN)

    assert not is_blocked(farm, MIRA)


def test_an_owner_does_not_shut_himself_out(farm: Farm) -> None:
    assert farm.text(0, "block Wanda").kind is Kind.REFUSED
    assert not is_blocked(farm, WANDA)


def test_what_waits_for_a_blocked_phone_is_not_sent(farm: Farm) -> None:
    farm.text(0, "pay Tobin 50%")  # Tobin is told
    farm.text(0, "block Tobin")
    sent: list[str] = []

    def send(waiting: object) -> Delivery:
        sent.append(waiting.to)  # type: ignore[attr-defined]
        return Delivery(Fate.SENT, "SM1")

    run_due(farm.books, START, send)
    farm.text(0, "advance Tobin 5")
    assert TOBIN not in sent
    with farm.books.transaction() as tx:
        assert {each.state for each in outbox.all_to(tx, TOBIN)} == {"failed"}


def test_links_of_a_blocked_phone_stay_void(farm: Farm) -> None:
    farm.text(0, "block Tobin")
    farm.text(0, "unblock Tobin")

    with farm.books.transaction() as tx:
        tobin = people.person_by_number(tx, TOBIN)
        assert tobin is not None
        assert people.links_since(tx, tobin.id) is not None


def test_owners_of_his_other_farms_hear_of_it(farm: Farm) -> None:
    with farm.books.transaction() as tx:
        other = a_farm(tx, "Far Meadow").id
        for name, number, role in (("Tobin", TOBIN, Role.TAPPER), ("Bruno", OTHER_OWNER, Role.OWNER)):
            who = {"name": name, "number": number, "role": role, "blocks": (), "language": "en"}
            people.enrol(tx, farm_id=other, at=START, message_id=None, **who)

    farm.text(0, "block Tobin")

    assert farm.told(OTHER_OWNER) == ["Wanda blocked the phone of Tobin."]


def test_the_owner_sees_who_is_blocked(farm: Farm) -> None:
    farm.text(0, "block Tobin")

    assert "Tobin tapper 1 blocked" in str(farm.text(0, "people").text)


class TestANewPhone:
    """Tobin lost his phone: the number is blocked, and he is enrolled by his name with another one."""

    NEW = "+447700900122"

    @pytest.fixture
    def again(self, farm: Farm) -> Farm:
        farm.text(0, "pay all 5 a day")
        farm.text(0, "pay Tobin 5 a day")
        farm.text(0, "block 1 18 litres", TOBIN)
        farm.text(1, "block Tobin")
        farm.text(2, f"add tapper Tobin {self.NEW} block 1")
        farm.text(2, "block 1 17 litres", self.NEW)
        return farm

    def test_what_is_said_of_him_is_his_who_has_the_new_phone(self, again: Farm) -> None:
        again.text(3, "pay Tobin 6 a day")
        again.text(3, "advance Tobin 2")

        assert any("6 a day" in each for each in again.told(self.NEW))
        assert any("advance 2.00" in each for each in again.told(self.NEW))

    def test_his_pay_can_be_settled(self, again: Farm) -> None:
        again.text(2, "pay Tobin 6 a day")

        assert "In all 11.00 USD" in str(again.text(7, "pay due?").text)
        assert again.text(7, "settle 11.00").kind is Kind.CHANGED

    def test_the_old_one_can_be_let_in_again(self, again: Farm) -> None:
        again.text(3, "unblock Tobin")

        assert not is_blocked(again)
        assert not is_blocked(again, self.NEW)

    def test_the_new_one_can_be_blocked_too(self, again: Farm) -> None:
        again.text(3, "block Tobin")

        assert is_blocked(again, self.NEW)

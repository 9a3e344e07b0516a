"""What holds for every carrier: a text is entered and answered once, and a text to others goes out once."""

from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from bot.app import MOST_BYTES
from bot.books import entries, farms, messages, open_books, outbox
from bot.carriers.carrier import carriers
from bot.jobs import TRY_AGAIN
from bot.settings import Settings
from tests.carriers.networks import NETWORKS, NOW, ByPractice, Network
from tests.faults import house

TAPPER, OWNER, COLLECTOR = (house.number(0, role) for role in (house.TAPPER, house.OWNER, house.COLLECTOR))
LATEX, TAKEN = "block 3 18 litres rain", "took 12 sheets 5 kg"
SIGNED = [each for each in NETWORKS if each.signed]


@pytest.fixture
def network(request: pytest.FixtureRequest, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Network]:
    monkeypatch.setattr(house, "FARMS", 1)
    path = tmp_path / "books.sqlite"
    with closing(open_books(path)) as books:
        house.furnish(books)
        yield request.param.made(path, books)


every = pytest.mark.parametrize("network", NETWORKS, indirect=True, ids=lambda each: each.__name__)
every_signed = pytest.mark.parametrize("network", SIGNED, indirect=True, ids=lambda each: each.__name__)
every_breakable = pytest.mark.parametrize(
    "network", [each for each in NETWORKS if each is not ByPractice], indirect=True, ids=lambda each: each.__name__
)


def kept(network: Network) -> tuple[int, int]:
    """How many texts and lines the books hold."""
    with network.books.reading() as tx:
        texts = messages.listing(tx, NOW - timedelta(days=9), NOW + timedelta(days=9))
        return len(texts), len(entries.standing(tx, farms.all_farms(tx)[0].id))


def states(network: Network) -> list[str]:
    """What became of the texts to others."""
    with network.books.reading() as tx:
        return [each.state for each in outbox.listing(tx, NOW - timedelta(days=9), NOW + timedelta(days=9))]


@every
def test_a_text_is_entered_and_answered(network: Network) -> None:
    reply = network.bring("SM1", TAPPER, LATEX)

    assert reply is not None
    assert reply.startswith("B3 today 18 L, rain.")
    assert kept(network) == (1, 1)


@every
def test_a_text_that_comes_again_gets_the_same_answer_and_is_entered_once(network: Network) -> None:
    replies = {network.bring("SM1", TAPPER, LATEX) for _ in range(3)}

    assert len(replies) == 1
    assert kept(network) == (1, 1)


@every
def test_a_text_that_comes_many_times_at_once_is_entered_once(network: Network) -> None:
    with ThreadPoolExecutor(8) as crowd:
        replies = set(crowd.map(lambda _n: network.bring("SM1", TAPPER, LATEX), range(16)))

    assert len(replies) == 1
    assert kept(network) == (1, 1)


@every
def test_letters_of_any_script_come_and_go_unharmed(network: Network) -> None:
    network.bring("SM1", TAPPER, "แปลง 3 18 ลิตร ฝน 😀 <&>\"'")

    with network.books.reading() as tx:
        (stored,) = messages.latest_from(tx, TAPPER, 9)
    assert stored.text == "แปลง 3 18 ลิตร ฝน 😀 <&>\"'"


@every
def test_a_stranger_is_answered_once_a_day(network: Network) -> None:
    first, second = (network.bring(f"SM{n}", "+447700900999", LATEX) for n in range(2))

    assert "To join" in str(first)
    assert second is None
    assert kept(network) == (2, 0)


@every
def test_one_who_stops_is_told_so_and_hears_no_more(network: Network) -> None:
    last = network.bring("SM1", TAPPER, "STOP")
    after = network.bring("SM2", TAPPER, LATEX)
    network.bring("SM3", COLLECTOR, TAKEN)
    network.pass_on()

    assert last is not None
    assert after is None
    assert [number for number, _ in network.sent if number == TAPPER] == []


@every
def test_the_books_know_by_which_carrier_a_text_came(network: Network) -> None:
    network.bring("SM1", TAPPER, LATEX)

    with network.books.reading() as tx:
        (stored,) = messages.latest_from(tx, TAPPER, 9)
    assert stored.carrier in (network.carrier.name, "whatsapp")


@every_signed
@pytest.mark.parametrize("sender", ["40404", "BANK", "+", "Bank 24/7", ""])
def test_a_sender_that_is_no_number_gets_no_answer(network: Network, sender: str) -> None:
    assert network.bring("SM1", sender, LATEX) is None
    assert kept(network) == (0, 0)


@every_signed
def test_a_forged_text_is_refused_and_leaves_no_trace(network: Network) -> None:
    assert network.call("SM1", TAPPER, LATEX, forged=True).status_code == 403
    assert kept(network) == (0, 0)


@every_signed
def test_an_oversized_text_is_refused_and_leaves_no_trace(network: Network) -> None:
    assert network.call("SM1", TAPPER, "x" * (MOST_BYTES + 1)).status_code == 413
    assert kept(network) == (0, 0)


@every_signed
def test_a_long_text_is_taken_as_far_as_texts_go(network: Network) -> None:
    network.bring("SM1", TAPPER, "x" * 5000)

    with network.books.reading() as tx:
        assert len(messages.latest_from(tx, TAPPER, 9)[0].text) == 1600


@every_signed
@pytest.mark.parametrize("message_id", ["", "SM1' or 1=1", "x" * 65, "ü", "a b"])
def test_an_id_that_is_none_is_refused(network: Network, message_id: str) -> None:
    assert network.call(message_id, TAPPER, LATEX).status_code == 400
    assert kept(network) == (0, 0)


@every_signed
def test_books_that_cannot_be_written_give_a_status_that_makes_it_come_again(network: Network) -> None:
    with network.books.engine.session() as session:
        session.execute("pragma query_only = on")
    assert network.call("SM1", TAPPER, LATEX).status_code == 503
    with network.books.engine.session() as session:
        session.execute("pragma query_only = off")

    assert network.bring("SM1", TAPPER, LATEX) is not None
    assert kept(network) == (1, 1)


@every
def test_what_others_are_told_goes_out_once_to_each(network: Network) -> None:
    network.bring("SM1", COLLECTOR, TAKEN)
    for _ in range(3):
        network.pass_on()

    assert sorted(number for number, _ in network.sent) == [TAPPER, OWNER]
    assert states(network) == ["sent", "sent"]


@every_breakable
def test_a_network_that_takes_nothing_is_tried_again_and_then_takes_each_once(network: Network) -> None:
    network.bring("SM1", COLLECTOR, TAKEN)
    network.pass_on(broken=True)
    assert states(network) == ["new", "new"]
    network.pass_on()
    assert network.sent == []

    network.now += TRY_AGAIN[0]
    network.pass_on()

    assert sorted(number for number, _ in network.sent) == [TAPPER, OWNER]
    assert states(network) == ["sent", "sent"]


@every_breakable
def test_a_network_that_never_takes_anything_is_given_up(network: Network) -> None:
    network.bring("SM1", COLLECTOR, TAKEN)
    for pause in (*TRY_AGAIN, timedelta(days=1)):
        network.pass_on(broken=True)
        network.now += pause

    assert states(network) == ["failed", "failed"]


@every
def test_a_carrier_says_what_it_does_and_lacks_nothing(network: Network) -> None:
    assert network.carrier.says()
    assert list(network.carrier.lacks()) == []


@every
def test_a_carrier_is_there_once(network: Network) -> None:
    names = [each.name for each in carriers(network.settings)]

    assert len(names) == len(set(names))


GATE = {"gateway_keys": {"office": "0" * 64}}
DOOR = {"public_url": "https://bot.example.org", "twilio_auth_token": "a-token-for-the-test"}
SENDS = DOOR | {"twilio_account_sid": "AC" + "0" * 32, "twilio_from": "+15005550006"}


@pytest.mark.parametrize(
    ("chosen", "names"),
    [
        ({}, ["twilio"]),
        (DOOR, ["twilio"]),
        (GATE, ["gateway"]),
        (DOOR | GATE, ["gateway", "twilio"]),
        (SENDS | GATE | {"sends_by": "twilio"}, ["twilio", "gateway"]),
        (SENDS | GATE | {"sends_by": "gateway"}, ["gateway", "twilio"]),
        ({"demonstration": True}, ["practice"]),
        (DOOR | {"demonstration": True}, ["practice", "twilio"]),
        (SENDS | {"demonstration": True}, ["twilio"]),
    ],
)
def test_the_carriers_that_are_set_up_are_there_and_the_first_one_sends(
    chosen: dict[str, Any], names: list[str]
) -> None:
    assert [each.name for each in carriers(Settings(books=Path("unused"), **chosen))] == names

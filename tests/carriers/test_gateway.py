"""The contract of gateways: signatures, bodies, fetching with a lease, receipts, and texts that are posted."""

import json
import threading
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing, contextmanager, suppress
from datetime import UTC, datetime, timedelta
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bot.app import create_app
from bot.books import Books, gateways, messages, open_books, outbox
from bot.books.model import Waiting
from bot.carriers import signing
from bot.carriers.carrier import sender
from bot.carriers.gateway_forms import BadForm, read_body, read_receipts, read_text
from bot.jobs import CALLS_KEPT, LEASE, LEASED_OVER, TRY_AGAIN, run_due
from bot.settings import Settings
from bot.talk.exchange import Fate
from tests.carriers.networks import NOW, SECRET, ByGateway, ByPush
from tests.faults import house

TAPPER, OWNER, COLLECTOR = (house.number(0, role) for role in (house.TAPPER, house.OWNER, house.COLLECTOR))
LATEX, TAKEN = "block 3 18 litres rain", "took 12 sheets 5 kg"


class ByTwo(ByGateway):
    """Two phones; numbers without a country are Thai."""

    @classmethod
    def chosen(cls) -> dict[str, object]:
        return {"gateway_keys": {"office": SECRET, "hill": SECRET[::-1]}, "gateway_country": "TH"}


@pytest.fixture
def phone(where: str, monkeypatch: pytest.MonkeyPatch) -> Iterator[ByTwo]:
    """The phones over a farm, on each engine."""
    monkeypatch.setattr(house, "FARMS", 1)
    with closing(open_books(where)) as books:
        house.furnish(books)
        made = ByTwo.made(Path("unused"), books)
        assert isinstance(made, ByTwo)
        yield made


def fetched(phone: ByGateway, *, name: str = "office", **fields: Any) -> list[dict[str, Any]]:
    answered = phone.post("fetch", fields, name=name)
    assert answered.status_code == 200
    texts = answered.get_json()["texts"]
    assert isinstance(texts, list)
    return texts


def receipt(phone: ByGateway, text_id: str, state: str, *, name: str = "office", **more: Any) -> str:
    answered = phone.post("receipts", {"id": text_id, "state": state, **more}, name=name)
    assert answered.status_code == 200, answered.get_data(as_text=True)
    return str(answered.get_json()["receipts"][0]["state"])


def known(phone: ByGateway, text_id: str) -> Waiting:
    with phone.books.transaction() as tx:
        found = outbox.outgoing(tx, text_id)
    assert found is not None
    return found


# Signatures


def test_a_signature_is_that_of_openssl() -> None:
    # printf 'POST\n/carrier/gateway/texts\n1773286200\nabcdefghijklmnop\n%s' "$(printf '{"id": "1"}' | sha256sum | cut -d' ' -f1)"
    # | openssl dgst -sha256 -hmac 0123456789abcdef0123456789abcdef      (OpenSSL 3.0.19)
    made = signing.signature(
        "0123456789abcdef0123456789abcdef",
        "POST",
        "/carrier/gateway/texts",
        "1773286200",
        "abcdefghijklmnop",
        b'{"id": "1"}',
    )

    assert made == "35442ade7e5d60acc0c015d2c71e61981a7b06265370252577ed128c68dd38aa"


PATH, BODY = "/carrier/gateway/texts", json.dumps({"id": "1", "from": TAPPER, "text": LATEX}).encode()


def signed(**changed: Any) -> dict[str, str]:
    values = {"name": "office", "secret": SECRET, "method": "POST", "path": PATH, "body": BODY, "now": NOW}
    return signing.signed_headers(**(values | changed))


def status(phone: ByGateway, headers: dict[str, str], path: str = PATH, body: bytes = BODY) -> int:
    client = phone.app.test_client()
    return client.post(path, data=body, headers=headers, content_type="application/json").status_code


def kept(phone: ByGateway) -> int:
    with phone.books.transaction() as tx:
        return len(messages.latest_from(tx, TAPPER, 9))


@pytest.mark.parametrize(
    "headers",
    [
        {},
        signed(name="hill"),
        signed(name="nobody"),
        signed(name=""),
        signed(secret=SECRET[:-1] + "0"),
        signed(method="GET"),
        signed(path="/carrier/gateway/fetch"),
        signed(path=PATH + "?a=1"),
        signed(body=BODY + b" "),
        signed(now=NOW + timedelta(seconds=301)),
        signed(now=NOW - timedelta(seconds=301)),
        signed() | {signing.TIME: str(int(NOW.timestamp()) + 1)},
        signed() | {signing.TIME: "1e9"},
        signed() | {signing.TIME: "-1"},
        signed() | {signing.TIME: "9" * 400},
        signed() | {signing.NONCE: "abcdefghijklmnop"},
        signed(nonce="short"),
        signed(nonce="x" * 65),
        signed(nonce="abcdefghijklmno'"),
        signed() | {signing.SIGNATURE: ""},
        signed() | {signing.SIGNATURE: signed()[signing.SIGNATURE].upper()},
        signed() | {signing.SIGNATURE: signed()[signing.SIGNATURE][:-1]},
        signed() | {signing.SIGNATURE: "\u00e9" * 64},
    ],
)
def test_a_call_that_is_not_signed_for_this_is_refused_and_leaves_no_trace(
    phone: ByTwo, headers: dict[str, str]
) -> None:
    assert status(phone, headers) == 403
    assert kept(phone) == 0


@pytest.mark.parametrize("seconds", [-299, 0, 299])
def test_a_clock_that_is_a_little_off_does_no_harm(phone: ByTwo, seconds: int) -> None:
    assert status(phone, signed(now=NOW + timedelta(seconds=seconds))) == 200


def test_a_clock_that_is_off_is_told_the_right_time(phone: ByTwo) -> None:
    headers = signed(now=NOW + timedelta(hours=7))
    answered = phone.app.test_client().post(PATH, data=BODY, headers=headers, content_type="application/json")

    assert str(int(NOW.timestamp())) in answered.get_data(as_text=True)
    assert "set the clock" in answered.get_data(as_text=True)


def test_a_call_is_let_in_once_however_often_it_comes_at_once(phone: ByTwo) -> None:
    headers = signed()
    with ThreadPoolExecutor(8) as crowd:
        found = sorted(crowd.map(lambda _n: status(phone, headers), range(8)))

    assert found == [200, *[403] * 7]


def test_a_nonce_of_one_gateway_does_not_shut_out_another(phone: ByTwo) -> None:
    assert status(phone, signed(nonce="a" * 16)) == 200
    assert status(phone, signed(nonce="a" * 16, name="hill", secret=SECRET[::-1])) == 200


def test_calls_are_forgotten_only_when_their_time_lets_nobody_in_any_more(phone: ByTwo) -> None:
    assert CALLS_KEPT > 2 * signing.WINDOW
    headers = signed()
    status(phone, headers)
    run_due(phone.books, NOW + timedelta(minutes=10), None)
    assert status(phone, headers) == 403
    run_due(phone.books, NOW + CALLS_KEPT + timedelta(minutes=1), None)
    with phone.books.transaction() as tx:
        assert gateways.heard(tx, "office") is None


def test_the_path_is_that_of_the_public_address(phone: ByTwo) -> None:
    chosen = Settings(books=Path("unused"), public_url="https://example.org/bot", gateway_keys={"office": SECRET})
    app = create_app(chosen, phone.books, lambda: NOW)
    for path, expected in ((f"/bot{PATH}", 200), (PATH, 403)):
        headers = signed(path=path)
        got = app.test_client().post(PATH, data=BODY, headers=headers, content_type="application/json")
        assert got.status_code == expected


def test_there_is_no_door_where_no_gateway_is_set(phone: ByTwo) -> None:
    app = create_app(Settings(books=Path("unused")), phone.books, lambda: NOW)

    assert app.test_client().post(PATH, data=BODY, headers=signed()).status_code == 404


@pytest.mark.parametrize("method", ["GET", "HEAD", "PUT", "DELETE", "PATCH"])
@pytest.mark.parametrize("door", ["texts", "fetch", "receipts"])
def test_other_methods_are_refused(phone: ByTwo, method: str, door: str) -> None:
    path = f"/carrier/gateway/{door}"
    headers = signed(method=method, path=path, body=b"")

    assert phone.app.test_client().open(path, method=method, headers=headers).status_code == 405


# Bodies


@pytest.mark.parametrize(
    "body",
    [
        b"[]",
        b"1",
        b"null",
        b"{",
        b"\xff",
        b'{"id": "1", "id": "2"}',
        b"[" * 60_000,
        b'{"a":' * 10_000,
        b'{"id": ' + b"9" * 10_000 + b"}",
        b'{"id": 1, "from": "+447700900000", "text": "x"}',
        b'{"id": "1", "from": "+447700900000"}',
        b'{"id": "1", "from": null, "text": "x"}',
        b'{"id": "1", "from": "+447700900000", "text": "x", "answer": "by pigeon"}',
        b'{"id": "1", "from": "+447700900000", "text": "x", "sent": "yesterday"}',
        b'{"id": "1", "from": "+447700900000", "text": "x", "sent": "2026-03-12T03:00:00"}',
        b'{"id": "1", "from": "+447700900000", "text": "x", "sent": true}',
        b'{"id": "1", "from": "+447700900000", "text": "x", "sent": "99999-01-01T00:00:00Z"}',
    ],
)
def test_a_body_that_says_nothing_is_refused_without_a_fault(phone: ByTwo, body: bytes) -> None:
    assert status(phone, signed(body=body), body=body) == 400
    assert kept(phone) == 0


@given(st.binary(max_size=300), st.sampled_from(["application/json", "application/x-www-form-urlencoded", "x/y", ""]))
@settings(max_examples=300)
def test_whatever_the_body_it_is_read_or_refused(body: bytes, kind: str) -> None:
    with suppress(BadForm):
        fields = read_body(body, kind)
        read_receipts(fields)
        read_text(fields, "office", NOW, "TH")


JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(), lambda each: st.lists(each), max_leaves=5
)
FIELDS = ["id", "from", "text", "sent", "answer", "state", "attempt", "again", "code", "carrier_id", "receipts", "most"]


@given(st.dictionaries(st.sampled_from(FIELDS), JSON))
@settings(max_examples=500)
def test_whatever_the_fields_they_are_read_or_refused(fields: dict[str, Any]) -> None:
    for read in (read_receipts, lambda each: read_text(each, "office", NOW, None)):
        with suppress(BadForm):
            read(fields)


@pytest.mark.parametrize(
    ("sent", "at"),
    [
        (None, NOW),
        ("", NOW),
        ("2026-03-12T08:30:00+07:00", NOW - timedelta(hours=2)),
        ("2026-03-12T01:30:00Z", NOW - timedelta(hours=2)),
        (int(NOW.timestamp()) - 60, NOW - timedelta(minutes=1)),
        (str(int(NOW.timestamp()) - 60), NOW - timedelta(minutes=1)),
        ("2026-03-12T03:34:00Z", NOW + timedelta(minutes=4)),
        ("2026-03-13T03:34:00Z", NOW),
        ("2004-01-01T00:00:00Z", NOW),
        (0, NOW),
    ],
)
def test_the_time_of_sending_counts_unless_it_is_that_of_a_wrong_clock(sent: object, at: datetime) -> None:
    came = read_text({"id": "1", "from": TAPPER, "text": LATEX, "sent": sent}, "office", NOW, None)

    assert came is not None
    assert (came.incoming.at, came.incoming.arrived) == (at, NOW)


@pytest.mark.parametrize("written", ["081 234 5678", "0812345678", "+66 81 234 5678", "+66812345678", "66812345678"])
def test_a_number_is_known_however_the_network_writes_it(written: str) -> None:
    came = read_text({"id": "1", "from": written, "text": LATEX}, "office", NOW, "TH")

    assert came is not None
    assert came.incoming.sender == "+66812345678"


def test_a_number_without_a_country_is_refused_and_the_operator_is_told(phone: ByTwo) -> None:
    chosen = Settings(books=Path("unused"), gateway_keys={"office": SECRET})
    app = create_app(chosen, phone.books, lambda: NOW)
    body = json.dumps({"id": "1", "from": "0812345678", "text": LATEX}).encode()
    answered = app.test_client().post(PATH, data=body, headers=signed(body=body), content_type="application/json")

    assert answered.status_code == 400
    assert [each for each in run_due(phone.books, NOW, None).alarms if "TAPPING_LOG_GATEWAY_COUNTRY" in each]


def test_an_id_of_somebody_elses_text_is_refused_and_gives_no_answer_away(phone: ByTwo) -> None:
    phone.bring("1", TAPPER, LATEX)
    answered = phone.call("1", OWNER, "week")

    assert answered.status_code == 409
    assert "B3" not in answered.get_data(as_text=True)


def test_the_same_id_from_two_gateways_is_two_texts(phone: ByTwo) -> None:
    for name, text in (("office", LATEX), ("hill", "block 4 16 litres")):
        answered = phone.post("texts", {"id": "1", "from": TAPPER, "text": text}, name=name)
        assert answered.get_json()["repeat"] is False

    assert kept(phone) == 2


# Answers through the outbox


def test_an_answer_through_the_outbox_is_fetched_once_however_often_the_text_comes(phone: ByTwo) -> None:
    for _ in range(3):
        said = phone.post("texts", {"id": "1", "from": TAPPER, "text": LATEX, "answer": "outbox"}).get_json()
        assert (said["reply"], said["outcome"]) == (None, "entered")

    (text,) = fetched(phone)
    assert text["to"] == TAPPER
    assert text["text"].startswith("B3 today 18 L")
    assert (text["parts"], text["attempt"]) == (1, 1)


def test_an_answer_is_of_no_use_the_next_day(phone: ByTwo) -> None:
    phone.post("texts", {"id": "1", "from": TAPPER, "text": LATEX, "answer": "outbox"})
    phone.now += timedelta(hours=13)

    assert fetched(phone) == []


def test_where_another_carrier_sends_the_answer_comes_in_the_response(phone: ByTwo) -> None:
    chosen = Settings(books=Path("unused"), gateway_keys={"office": SECRET}, sends_by="twilio")
    other = ByGateway(phone.books, create_app(chosen, phone.books, lambda: NOW), chosen)
    said = other.post("texts", {"id": "1", "from": TAPPER, "text": LATEX, "answer": "outbox"}).get_json()

    assert said["reply"].startswith("B3 today 18 L")
    phone.bring("2", COLLECTOR, TAKEN)
    assert fetched(other) == []


# Fetching


def test_a_text_is_given_to_one_gateway_alone(phone: ByTwo) -> None:
    phone.bring("1", COLLECTOR, TAKEN)
    first, second = fetched(phone, most=1), fetched(phone, name="hill")

    assert len(first) == len(second) == 1
    assert first[0]["id"] != second[0]["id"]
    assert fetched(phone) == fetched(phone, name="hill") == []


def test_gateways_that_fetch_at_once_never_get_the_same(phone: ByTwo) -> None:
    for n in range(8):
        phone.bring(str(n), COLLECTOR, f"took {n + 2} sheets 5 kg")
    with ThreadPoolExecutor(8) as crowd:
        found = list(crowd.map(lambda n: fetched(phone, name=("office", "hill")[n % 2], most=2), range(16)))

    ids = [text["id"] for texts in found for text in texts]
    assert len(ids) == len(set(ids)) == 16


def test_a_text_of_which_nothing_is_heard_is_given_again_to_the_same_gateway_under_the_same_id(phone: ByTwo) -> None:
    phone.bring("1", COLLECTOR, TAKEN)
    before = fetched(phone)
    phone.now += LEASE - timedelta(seconds=1)
    assert fetched(phone) == []
    phone.now += timedelta(seconds=2)

    assert fetched(phone, name="hill") == []
    assert fetched(phone) == before
    assert fetched(phone) == []


def test_a_gateway_that_lost_the_answer_gets_what_it_fetched_at_once(phone: ByTwo) -> None:
    phone.bring("1", COLLECTOR, TAKEN)
    before = fetched(phone)
    phone.now += timedelta(seconds=1)

    assert fetched(phone, again=True) == before


def test_a_text_that_a_gateway_keeps_for_a_day_is_marked_as_unknown_and_still_believed_later(phone: ByTwo) -> None:
    phone.bring("1", COLLECTOR, TAKEN)
    first, second = (text["id"] for text in fetched(phone))
    assert run_due(phone.books, NOW + LEASED_OVER - timedelta(minutes=1), None).unsure == 0
    assert run_due(phone.books, NOW + LEASED_OVER + timedelta(minutes=1), None).unsure == 2
    phone.now += LEASED_OVER + timedelta(hours=1)
    assert fetched(phone) == []

    assert receipt(phone, first, "sent") == "sent"
    assert receipt(phone, second, "failed", again=True, attempt=1) == "new"


def test_no_more_is_given_than_is_asked_for(phone: ByTwo) -> None:
    for n in range(3):
        phone.bring(str(n), COLLECTOR, f"took {n + 2} sheets 5 kg")

    assert [len(fetched(phone, most=most)) for most in (1, 2, 9, 9)] == [1, 2, 3, 0]


def test_at_the_cap_of_a_day_nothing_new_is_given(phone: ByTwo) -> None:
    phone.bring("1", COLLECTOR, TAKEN)
    chosen = Settings(books=Path("unused"), gateway_keys={"office": SECRET}, parts_per_day=1)
    capped = ByGateway(phone.books, create_app(chosen, phone.books, lambda: NOW), chosen)

    assert fetched(capped) == []
    assert len(fetched(phone)) == 2


# Receipts


def one(phone: ByGateway) -> str:
    """A text that was fetched."""
    phone.bring("1", COLLECTOR, TAKEN)
    return str(fetched(phone)[0]["id"])


def test_receipts_may_come_twice_and_in_any_order(phone: ByTwo) -> None:
    text = one(phone)

    assert receipt(phone, text, "delivered") == "delivered"
    assert receipt(phone, text, "sent") == "delivered"
    assert receipt(phone, text, "failed", attempt=1) == "delivered"
    assert receipt(phone, text, "delivered") == "delivered"
    assert known(phone, text).delivered_at == NOW


def test_a_text_that_was_sent_may_still_fail_in_the_network(phone: ByTwo) -> None:
    text = one(phone)

    assert receipt(phone, text, "sent", carrier_id="modem-7") == "sent"
    assert known(phone, text).carrier_id == "modem-7"
    assert receipt(phone, text, "failed", code="no credit") == "failed"
    assert known(phone, text).error_code == "no credit"


def test_a_failure_is_tried_again_only_where_the_gateway_says_so(phone: ByTwo) -> None:
    first, second = one(phone), None
    with phone.books.transaction() as tx:
        second = next(each.id for each in outbox.listing(tx, NOW, NOW + LEASE) if each.id != first)

    assert receipt(phone, first, "failed", again=True, attempt=1) == "new"
    assert receipt(phone, str(second), "failed", attempt=1) == "failed"
    phone.now += TRY_AGAIN[0]
    assert [(text["id"], text["attempt"]) for text in fetched(phone)] == [(first, 2)]


def test_a_failure_of_an_earlier_attempt_does_not_count(phone: ByTwo) -> None:
    text = one(phone)
    receipt(phone, text, "failed", again=True, attempt=1)
    assert receipt(phone, text, "failed", again=True, attempt=1) == "new"
    phone.now += TRY_AGAIN[0]
    fetched(phone)

    assert receipt(phone, text, "failed", again=True, attempt=1) == "sending"


def test_a_text_that_went_out_after_all_is_not_sent_again(phone: ByTwo) -> None:
    text = one(phone)
    receipt(phone, text, "failed", again=True, attempt=1)
    assert receipt(phone, text, "sent", attempt=1) == "sent"
    phone.now += TRY_AGAIN[0]

    assert text not in [each["id"] for each in fetched(phone)]


@pytest.mark.parametrize("state", ["sent", "failed", "delivered"])
def test_a_gateway_speaks_only_for_texts_that_it_was_given(phone: ByTwo, state: str) -> None:
    text = one(phone)

    assert receipt(phone, text, state, name="hill") == "unknown"
    assert receipt(phone, "no-such-text", state) == "unknown"
    assert known(phone, text).state == "sending"


def test_many_receipts_come_in_one_call(phone: ByTwo) -> None:
    phone.bring("1", COLLECTOR, TAKEN)
    said = [{"id": text["id"], "state": "sent"} for text in fetched(phone)]
    answered = phone.post("receipts", {"receipts": [*said, {"id": "x", "state": "sent"}]})

    assert [each["state"] for each in answered.get_json()["receipts"]] == ["sent", "sent", "unknown"]


@pytest.mark.parametrize(
    "said",
    [
        {"receipts": "all"},
        {"receipts": ["x"]},
        {"receipts": [{}] * 101},
        {"id": "x"},
        {"state": "sent"},
        {"id": "x", "state": "gone"},
        {"id": "x", "state": "failed", "code": "x" * 65},
        {"id": "x", "state": "failed", "code": "<script>"},
        {"id": "x", "state": "failed", "attempt": "many"},
        {"id": "x", "state": "failed", "again": "perhaps"},
    ],
)
def test_a_receipt_that_says_nothing_is_refused(phone: ByTwo, said: dict[str, Any]) -> None:
    assert phone.post("receipts", said).status_code == 400


# Posting texts to a gateway


class Adapter(BaseHTTPRequestHandler):
    """Takes texts that are posted to it, and checks what it gets as the contract tells it to."""

    status, taken, refused = 200, list[dict[str, Any]](), list[str]()

    def do_POST(self) -> None:
        body = self.rfile.read(int(self.headers["Content-Length"]))
        try:
            signing.checked({"office": SECRET}, dict(self.headers.items()), "POST", self.path, body, datetime.now(UTC))
        except signing.NotGenuine as fault:
            Adapter.refused.append(str(fault))
        Adapter.taken.append(json.loads(body))
        self.send_response(Adapter.status)
        self.send_header("Content-Length", "0")
        self.end_headers()

    def log_message(self, *args: object) -> None:
        """Quiet."""


@contextmanager
def adapter(status: int) -> Iterator[str]:
    """The address of a running adapter that answers with this status."""
    Adapter.status, Adapter.taken, Adapter.refused = status, [], []
    with ThreadingHTTPServer(("127.0.0.1", 0), Adapter) as server:
        thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.01})
        thread.start()
        try:
            yield f"http://127.0.0.1:{server.server_address[1]}/take?from=us"
        finally:
            server.shutdown()
            thread.join()


@pytest.fixture
def books(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Books]:
    monkeypatch.setattr(house, "FARMS", 1)
    with closing(open_books(tmp_path / "books.sqlite")) as made:
        house.furnish(made)
        ByPush.made(tmp_path / "books.sqlite", made).bring("1", COLLECTOR, TAKEN)
        yield made


def pushed(books: Books, url: str) -> list[Fate]:
    """What became of the texts that wait, posted to an address."""
    chosen = Settings(books=Path("unused"), gateway_keys={"office": SECRET}, gateway_url=url)
    send = sender(chosen, books, lambda: datetime.now(UTC))
    assert send is not None
    fates = []

    def seen(waiting):
        delivery = send(waiting)
        fates.append(delivery.fate)
        return delivery

    run_due(books, NOW, seen)
    return fates


@pytest.mark.parametrize(
    ("status", "fate"),
    [
        (200, Fate.SENT),
        (202, Fate.SENT),
        (204, Fate.SENT),
        (301, Fate.LATER),
        (401, Fate.LATER),
        (403, Fate.LATER),
        (404, Fate.LATER),
        (408, Fate.LATER),
        (429, Fate.LATER),
        (500, Fate.LATER),
        (503, Fate.LATER),
        (400, Fate.NEVER),
        (413, Fate.NEVER),
        (422, Fate.NEVER),
    ],
)
def test_a_posted_text_is_signed_and_its_status_decides(books: Books, status: int, fate: Fate) -> None:
    with adapter(status) as url:
        assert pushed(books, url) == [fate, fate]

    assert Adapter.refused == []
    assert {text["to"] for text in Adapter.taken} == {TAPPER, OWNER}


def test_where_nobody_listens_a_posted_text_waits(books: Books) -> None:
    with adapter(200) as url:
        pass

    assert pushed(books, url) == [Fate.LATER, Fate.LATER]


def test_an_adapter_gives_receipts_for_what_was_posted_to_it(books: Books) -> None:
    chosen = Settings(books=Path("unused"), gateway_keys={"office": SECRET}, gateway_url="https://adapter.example/take")
    phone = ByGateway(books, create_app(chosen, books, lambda: NOW), chosen)
    with adapter(200) as url:
        pushed(books, url)

    first, second = (text["id"] for text in Adapter.taken)
    assert receipt(phone, first, "delivered") == "delivered"
    assert receipt(phone, second, "failed", code="absent", attempt=1) == "failed"
    assert fetched(phone) == []

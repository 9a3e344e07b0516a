"""Attacks on the doors: forged, replayed, altered, oversized and odd calls, names that are code, and every page as everybody."""

import csv
import io
import random
import re
import string
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from pathlib import Path

import pytest
from flask import Flask
from itsdangerous import URLSafeTimedSerializer
from openpyxl import load_workbook
from twilio.request_validator import RequestValidator
from werkzeug.test import TestResponse

from bot.app import MOST_BYTES, SECURITY_HEADERS, create_app
from bot.books import Books, Transaction, entries, farms, messages, open_books, people
from bot.books.model import Person
from bot.pages import links
from bot.settings import Settings
from parsers.reading import Block, Role

TOKEN, KEY, PUBLIC, DOOR = "a-token-for-the-test", "a key for the test", "https://bot.example.org", "/carrier/twilio"
NOW = datetime(2026, 3, 12, 10, 30, tzinfo=UTC)
START = NOW - timedelta(days=60)
TAPPER, OWNER, COLLECTOR, OTHER_OWNER, LEFT, LOST = (f"+44770090040{n}" for n in range(1, 7))
TEXT = {"MessageSid": "SM" + "a" * 32, "From": TAPPER, "To": "+447700900999", "Body": "block 3 18 litres rain"}
SCRIPT, FORMULA, BRACES = "<script>alert(1)</script>", '=HYPERLINK("http://x.example","pay")', "{0.__class__}%(a)s"


@dataclass(frozen=True)
class House:
    """Two farms with their people, and the application as it runs outside a demonstration."""

    books: Books
    app: Flask
    settings: Settings
    farm_id: str
    other_id: str
    who: dict[str, Person]

    def call(self, form: dict[str, str] | None = None, signature: str | None = None, **more: object) -> TestResponse:
        """A call to the carrier's door, signed rightly unless a signature is given."""
        form = TEXT if form is None else form
        signature = signed(form) if signature is None else signature
        headers = {"X-Twilio-Signature": signature, **more.pop("headers", {})}  # type: ignore[dict-item]
        return self.app.test_client().post(DOOR, **{"data": form, "headers": headers, **more})  # type: ignore[arg-type]

    def kept(self) -> tuple[int, int]:
        """How many texts and how many entries the books hold."""
        with self.books.transaction() as tx:
            texts = sum(len(messages.latest_from(tx, number, 100)) for number in (TAPPER, OWNER, OTHER_OWNER))
            return texts, len(entries.all_entries(tx, self.farm_id)) + len(entries.all_entries(tx, self.other_id))

    def link(self, number: str, farm_id: str | None = None) -> str:
        return links.path(self.settings, farm_id or self.farm_id, self.who[number].id)


def signed(form: dict[str, str], address: str = PUBLIC + DOOR, token: str = TOKEN) -> str:
    return str(RequestValidator(token).compute_signature(address, form))


@pytest.fixture
def house(tmp_path: Path) -> Iterator[House]:
    settings = Settings(
        tmp_path / "books.sqlite", public_url=PUBLIC, twilio_auth_token=TOKEN, link_key=KEY, texts_per_hour=0
    )
    with closing(open_books(settings.books)) as books:
        with books.transaction() as tx:
            farm_id, other_id = _farm(tx, "Heron Hill"), _farm(tx, "Far Meadow")
            who = {
                TAPPER: _person(tx, farm_id, SCRIPT, TAPPER, Role.TAPPER),
                OWNER: _person(tx, farm_id, "Ines", OWNER, Role.OWNER),
                COLLECTOR: _person(tx, farm_id, FORMULA, COLLECTOR, Role.COLLECTOR),
                OTHER_OWNER: _person(tx, other_id, "Bruno", OTHER_OWNER, Role.OWNER),
                LEFT: _person(tx, farm_id, "Lena", LEFT, Role.OWNER),
                LOST: _person(tx, farm_id, "Olga", LOST, Role.OWNER),
            }
            people.dismiss(tx, who[LEFT].id, farm_id, None, at=NOW)
            people.block(tx, who[LOST].id, NOW)
        yield House(books, create_app(settings, books, lambda: NOW), settings, farm_id, other_id, who)


def _farm(tx: Transaction, name: str) -> str:
    return farms.add_farm(
        tx,
        name=name,
        timezone="Asia/Bangkok",
        currency="USD",
        language="en",
        blocks={"3": Block(280, Decimal(18))},
        containers={},
        settings={},
        at=START,
    ).id


def _person(tx: Transaction, farm_id: str, name: str, number: str, role: Role) -> Person:
    own = ("3",) if role is Role.TAPPER else ()
    who = {"name": name, "number": number, "language": "en", "role": role, "blocks": own}
    return people.enrol(tx, farm_id=farm_id, at=START, message_id=None, **who).person  # type: ignore[arg-type]


# The carrier's door


@pytest.mark.parametrize(
    "signature",
    [
        "",
        "A" * 28,
        signed(TEXT, token="another token"),
        signed(TEXT, PUBLIC.replace("https", "http") + DOOR),
        signed(TEXT, PUBLIC + DOOR + "/"),
        signed(TEXT, PUBLIC + DOOR + "?a=1"),
        signed(TEXT, "https://evil.example" + DOOR),
        signed(TEXT | {"Body": "block 3 90 litres"}),
        signed({}),
        signed(TEXT)[:-2],
        signed(TEXT) + "=",
        signed(TEXT).swapcase(),
        f"{signed(TEXT)},{signed(TEXT)}",
    ],
)
def test_a_forged_call_is_refused_and_leaves_no_trace(house: House, signature: str) -> None:
    got = house.call(signature=signature)

    assert got.status_code == 403
    assert house.kept() == (0, 0)


@pytest.mark.parametrize("name", [*TEXT, "Extra"])
@pytest.mark.parametrize("how", ["changed", "left out", "twice"])
def test_an_altered_call_is_refused_and_leaves_no_trace(house: House, name: str, how: str) -> None:
    pairs = list(TEXT.items())
    if how == "changed":
        pairs = [(key, value + "1" if key == name else value) for key, value in [*pairs, ("Extra", "")]]
    elif how == "left out":
        pairs = [(key, value) for key, value in pairs if key != name][: len(TEXT) - 1]
    else:
        pairs.append((name, TEXT.get(name, "x") + "2"))
    body = "&".join(f"{key}={value.replace('+', '%2B')}" for key, value in pairs)
    got = house.call(signature=signed(TEXT), data=body, content_type="application/x-www-form-urlencoded")

    assert got.status_code in (400, 403)
    assert house.kept() == (0, 0)


def test_a_replayed_call_gets_the_stored_answer_and_enters_nothing_again(house: House) -> None:
    answers = {house.call().get_data() for _ in range(10)}

    assert len(answers) == 1
    assert house.kept() == (1, 1)


def test_a_replayed_call_under_a_new_id_is_refused(house: House) -> None:
    house.call()
    got = house.call(TEXT | {"MessageSid": "SM" + "b" * 32}, signed(TEXT))

    assert got.status_code == 403
    assert house.kept() == (1, 1)


@pytest.mark.parametrize("size", [MOST_BYTES + 1, 2**20, 2**24])
def test_an_oversized_call_is_refused(house: House, size: int) -> None:
    form = TEXT | {"Body": "x" * size}

    assert house.call(form).status_code == 413
    assert house.kept() == (0, 0)


def test_a_length_that_lies_is_refused(house: House) -> None:
    got = house.call(headers={"Content-Length": str(2**40)}, data=b"", content_type="application/x-www-form-urlencoded")

    assert got.status_code in (400, 403, 413)


def test_thousands_of_fields_are_refused_without_a_fault(house: House) -> None:
    form = TEXT | {f"f{n}": "" for n in range(5000)}

    assert house.call(form, signed(TEXT)).status_code in (403, 413)
    assert house.kept() == (0, 0)


@pytest.mark.parametrize(
    "kind",
    [
        "application/json",
        "text/plain",
        "text/xml",
        "multipart/form-data",
        "multipart/form-data; boundary=",
        "multipart/form-data; boundary=" + "x" * 300,
        "application/x-www-form-urlencoded-not",
        "",
        "\u00e9",
        "application/octet-stream",
    ],
)
@pytest.mark.parametrize(
    "body", [b"", b'{"MessageSid": "SM1"}', b"--x\r\n", bytes(range(256)), b"MessageSid=SM1&From=%2B447700900401"]
)
def test_another_content_type_is_refused_without_a_fault(house: House, kind: str, body: bytes) -> None:
    got = house.call(data=body, content_type=kind)

    assert 400 <= got.status_code < 500
    assert house.kept() == (0, 0)


@pytest.mark.parametrize(
    "headers",
    [
        {"Host": "evil.example"},
        {"X-Forwarded-Host": "evil.example"},
        {"X-Forwarded-Proto": "http"},
        {"X-Forwarded-For": "127.0.0.1"},
        {"Forwarded": "host=evil.example;proto=http"},
        {"X-Original-URL": "/health"},
        {"X-Rewrite-URL": "/health"},
        {"X-HTTP-Method-Override": "GET"},
        {"Accept": "application/json"},
        {"Cookie": "a=" + "b" * 4000},
        {"Authorization": "Basic YTpi"},
    ],
)
def test_headers_change_nothing(house: House, headers: dict[str, str]) -> None:
    assert house.call(signature="", headers=headers).status_code == 403
    assert house.kept() == (0, 0)
    assert house.call(headers=headers).status_code == 200
    assert house.kept() == (1, 1)


@pytest.mark.parametrize("rule", ["", "key=1", "key=a,algorithm=HMAC_SHA256", "algorithm=none", "x" * 2000])
def test_a_header_of_a_rule_does_not_weaken_the_signature(house: House, rule: str) -> None:
    assert house.call(headers={"X-Twilio-Webhooks-Signature-Settings": rule}).status_code == 403
    assert house.kept() == (0, 0)


@pytest.mark.parametrize("method", ["GET", "HEAD", "PUT", "PATCH", "DELETE", "TRACE", "CONNECT", "PROPFIND", "X"])
def test_other_methods_are_refused(house: House, method: str) -> None:
    got = house.app.test_client().open(DOOR, method=method, data=TEXT, headers={"X-Twilio-Signature": signed(TEXT)})

    assert got.status_code == 405
    assert house.kept() == (0, 0)


@pytest.mark.parametrize(
    "path", [DOOR + "/", DOOR + "/..", "//carrier/twilio", DOOR + "%00", DOOR + ";a", "/Carrier/Twilio"]
)
def test_other_ways_to_write_the_address_are_none(house: House, path: str) -> None:
    got = house.app.test_client().post(path, data=TEXT, headers={"X-Twilio-Signature": signed(TEXT)})

    assert got.status_code in (308, 404)
    assert house.kept() == (0, 0)


def test_random_calls_never_make_a_fault_or_an_entry(house: House) -> None:
    dice = random.Random(7)
    letters = string.printable + "\u0e41\u00e9\u0000\ud7ff\U0001f600"
    for _ in range(300):
        form = {dice.choice([*TEXT, "x"]): "".join(dice.choices(letters, k=dice.randrange(40))) for _ in range(4)}
        right = dice.random() < 0.5
        assert house.call(form, signed(form) if right else "x").status_code in (200, 400, 403)
    assert house.kept()[1] == 0


# Names and texts that are code


@pytest.mark.parametrize(
    "name", [SCRIPT, FORMULA, BRACES, "' or 1=1 --", "\u202eevil", "a\r\nSet-Cookie: b=c", "😀" * 50]
)
def test_a_name_that_is_code_is_a_name(house: House, name: str) -> None:
    with house.books.transaction() as tx:
        _person(tx, house.farm_id, name, TAPPER, Role.TAPPER)
    assert house.call().status_code == 200
    client, link = house.app.test_client(), house.link(OWNER)

    tapper = house.who[TAPPER].id
    for path in ("", "/pay", "/chain", "/stock", "/block/3", f"/tapper/{tapper}"):
        got = client.get(link + path)
        assert got.status_code == 200, path
        assert "<script" not in got.get_data(as_text=True), path
        assert "Set-Cookie" not in got.headers
    rows = list(csv.reader(io.StringIO(client.get(f"{link}/papers/day-book.csv").get_data().decode("utf-8-sig"))))
    assert not [cell for row in rows for cell in row if cell.startswith(("=", "+", "-", "@"))]
    book = load_workbook(io.BytesIO(client.get(f"{link}/papers/day-book.xlsx").get_data()))
    assert not [cell for row in book.active.iter_rows() for cell in row if cell.data_type == "f"]


@pytest.mark.parametrize(
    "body", [SCRIPT, FORMULA, BRACES, f"block 3 18 litres {SCRIPT}", f"block 3 18 litres {FORMULA}", "]]>", "&amp;"]
)
def test_a_text_that_is_code_is_a_text(house: House, body: str) -> None:
    got = house.call(TEXT | {"Body": body})

    assert got.status_code == 200
    assert "<script" not in got.get_data(as_text=True)
    assert "<script" not in house.app.test_client().get(house.link(OWNER)).get_data(as_text=True)


def test_somebody_enrolled_by_text_under_a_name_that_is_code_is_told_so_as_text(house: House) -> None:
    body = f"add tapper {SCRIPT} +447700900123 blocks 3"
    got = house.call(TEXT | {"From": OWNER, "Body": body})

    assert got.status_code == 200
    assert "<script" not in got.get_data(as_text=True)


# Every page as everybody


def addresses(house: House, link: str) -> list[tuple[str, str]]:
    """Every page behind a link, with what this farm's ids make of it: method and address."""
    with house.books.transaction() as tx:
        line = entries.standing(tx, house.farm_id)[0].id
    values = {"name": "3", "person": house.who[TAPPER].id, "entry": line, "what": "day-book", "form": "csv"}
    found = []
    for rule in house.app.url_map.iter_rules():
        if "/farm/<token>" in rule.rule:
            path = re.sub(r"<(\w+)>", lambda part: values[part[1]], rule.rule.replace("/farm/<token>", link))
            found += [(method, path) for method in ("GET", "POST") if method in (rule.methods or ())]
    return found


def everybody(house: House) -> dict[str, str]:
    """Links that must open nothing of the first farm, by whose they are."""
    good = house.link(OWNER)
    farm, person = house.farm_id, house.who[OWNER].id
    other_key = URLSafeTimedSerializer("another key of ours", salt="owner-page")
    other_use = URLSafeTimedSerializer(KEY, salt="form")
    return {
        "nobody": "/farm/x",
        "a guess": "/farm/" + farm,
        "a tapper": house.link(TAPPER),
        "a collector": house.link(COLLECTOR),
        "an owner who left": house.link(LEFT),
        "an owner whose phone is lost": house.link(LOST),
        "another farm's owner with this farm's id": house.link(OTHER_OWNER, house.farm_id),
        "another key": f"/farm/{other_key.dumps([farm, person])}",
        "a form's key as a link": f"/farm/{other_use.dumps([farm, person])}",
        "one letter changed": good[:-1] + ("A" if good[-1] != "A" else "B"),
        "cut short": good[:-5],
    }


SECRETS = ("Heron Hill", "Ines", "alert(1)", TAPPER, OWNER)


def test_every_page_opens_for_its_owner_and_for_nobody_else(house: House) -> None:
    house.call()
    client = house.app.test_client()
    mine = addresses(house, house.link(OWNER))
    assert len(mine) >= 14
    assert {client.get(path).status_code for method, path in mine if method == "GET"} == {200}

    tried = 0
    for whose, link in everybody(house).items():
        for method, path in addresses(house, link):
            got = client.open(path, method=method, headers={"Sec-Fetch-Site": "same-origin"})
            tried += 1
            assert got.status_code == 403, (whose, method, path)
            assert not [each for each in SECRETS if each in got.get_data(as_text=True)], (whose, path)
    assert tried >= 150
    assert house.kept() == (1, 1)


def test_an_owner_of_another_farm_sees_nothing_of_this_one_through_his_own_link(house: House) -> None:
    house.call()
    client, before = house.app.test_client(), house.kept()
    for method, path in addresses(house, house.link(OTHER_OWNER, house.other_id)):
        got = client.open(path, method=method, headers={"Sec-Fetch-Site": "same-origin"})

        assert got.status_code in ((200, 404) if method == "GET" else (403,)), path
        assert not [each for each in SECRETS if each in got.get_data(as_text=True)], path
    assert house.kept() == before


def test_forms_of_another_site_another_link_or_none_change_nothing(house: House) -> None:
    house.call()
    client, link = house.app.test_client(), house.link(OWNER)
    theirs = links.form_key(house.settings, links.opened(house.settings, house.link(OTHER_OWNER, house.other_id)[6:]))
    ours = links.form_key(house.settings, links.opened(house.settings, link[6:]))
    same = {"Sec-Fetch-Site": "same-origin"}
    before = house.kept()
    for method, path in addresses(house, link):
        if method == "POST":
            assert client.post(path, headers=same).status_code == 403
            assert client.post(path, data={"key": theirs}, headers=same).status_code == 403
            assert client.post(path, data={"key": link[6:]}, headers=same).status_code == 403
            assert client.post(path, data={"key": ours}, headers={"Sec-Fetch-Site": "cross-site"}).status_code == 403
            assert client.post(path, data={"key": ours}, headers={"Origin": "https://evil.example"}).status_code == 403
            assert client.post(path, data={"key": ours}).status_code == 403
    assert house.kept() == before


def test_a_link_ends_when_it_is_cut_and_when_the_phone_is_blocked(house: House) -> None:
    client, link = house.app.test_client(), house.link(OWNER)
    assert client.get(link).status_code == 200
    with house.books.transaction() as tx:
        people.block(tx, house.who[OWNER].id, NOW)
    assert client.get(link).status_code == 403
    with house.books.transaction() as tx:
        people.unblock(tx, house.who[OWNER].id)
        people.cut_links(tx, house.who[OWNER].id, datetime.now(UTC) + timedelta(seconds=2))
    assert client.get(link).status_code == 403


def test_pages_for_trying_out_are_not_there_outside_a_demonstration(house: House) -> None:
    client = house.app.test_client()

    assert client.get("/practice").status_code == 404
    assert client.post("/practice", data={"as": TAPPER, "text": "3 18"}).status_code == 404
    assert client.get("/owner").status_code == 403
    assert not [each for each in SECRETS if each in client.get("/owner").get_data(as_text=True)]


@pytest.mark.parametrize(
    "path",
    [
        "/",
        "/farm",
        "/farm/",
        "/robots.txt",
        "/.git/config",
        "/../etc/passwd",
        "/look.css/../..",
        "/static/x",
        "/console",
    ],
)
def test_there_is_nothing_else(house: House, path: str) -> None:
    assert house.app.test_client().get(path).status_code == 404


def test_every_answer_carries_the_headers_that_browsers_heed(house: House) -> None:
    client, link = house.app.test_client(), house.link(OWNER)
    for path in ("/health", "/nothing", DOOR, link, "/farm/x"):
        got = client.get(path)
        for name in SECURITY_HEADERS:
            assert name in got.headers, (path, name)
        assert "script-src" not in got.headers["Content-Security-Policy"]
        assert "unsafe" not in got.headers["Content-Security-Policy"]
        assert "Set-Cookie" not in got.headers

"""The practice phone: texts as somebody, answers with their cost, and who may send the form."""

from collections.abc import Mapping

import pytest

from bot.app import create_app
from bot.books import entries, messages, outbox
from bot.carriers.practice import text_as
from bot.pages.practice import LONGEST, SHOWN, STRANGER
from bot.settings import Settings
from tests.pages.conftest import NOW, OWNER, SIZE_LIMIT, TAPPER, House

OURS = {"Origin": "http://localhost"}
FORM = {"as": TAPPER, "text": "block 3 18 litres rain"}


def shown(house: House, number: str) -> str:
    return house.client.get("/practice", query_string={"as": number}).get_data(as_text=True)


def test_a_text_is_entered_and_the_page_shows_what_was_answered_and_its_parts(house: House) -> None:
    answered = house.client.post("/practice", data=FORM, headers=OURS)

    page = house.client.get(answered.location).get_data(as_text=True)
    with house.books.transaction() as tx:
        standing = entries.standing(tx, house.farm.id)
        [stored] = messages.latest_from(tx, TAPPER, 5)
    assert answered.status_code == 303
    assert [float(entry.record.litres or 0) for entry in standing] == [18]
    assert stored.reply is not None
    assert stored.reply in page
    assert f"{stored.parts} SMS part" in page


def test_looking_at_the_page_again_sends_nothing(house: House) -> None:
    house.client.post("/practice", data=FORM, headers=OURS)
    shown(house, TAPPER)
    shown(house, TAPPER)

    with house.books.transaction() as tx:
        assert len(messages.latest_from(tx, TAPPER, 5)) == 1


def test_a_name_that_is_markup_stays_text(house: House) -> None:
    house.client.post("/practice", data={**FORM, "text": "<img src=x onerror=alert(1)>"}, headers=OURS)

    page = shown(house, TAPPER)
    assert "<script" not in page
    assert "<img" not in page
    assert "&lt;script&gt;alert(1)&lt;/script&gt;, tapper of 3, 5 (en)" in page


def test_what_others_were_told_is_shown_on_both_phones(house: House) -> None:
    text_as(house.books, TAPPER, "block 3 18 litres", NOW, message_id="first")
    with house.books.transaction() as tx:
        given = {"to": OWNER, "text": "Told about it.", "parts": 1, "because": "first"}
        outbox.put(tx, **given, due_at=NOW, created_at=NOW)

    assert "Ines was told:</strong> Told about it." in shown(house, TAPPER)
    assert "nothing; told unasked" in shown(house, OWNER)


@pytest.mark.parametrize(
    "headers",
    [
        {},
        {"Origin": "https://elsewhere.example"},
        {"Origin": "null"},
        {"Referer": "https://elsewhere.example/practice"},
        {"Sec-Fetch-Site": "cross-site", "Origin": "http://localhost"},
        {"Sec-Fetch-Site": "same-site"},
    ],
)
def test_a_form_from_elsewhere_enters_nothing(house: House, headers: Mapping[str, str]) -> None:
    refused = house.client.post("/practice", data=FORM, headers=headers)

    with house.books.transaction() as tx:
        assert messages.latest_from(tx, TAPPER, 5) == []
    assert refused.status_code == 403


@pytest.mark.parametrize(
    "headers", [OURS, {"Sec-Fetch-Site": "same-origin"}, {"Referer": "http://localhost/practice?as=x"}]
)
def test_a_form_of_ours_is_taken_however_the_browser_says_so(house: House, headers: Mapping[str, str]) -> None:
    assert house.client.post("/practice", data=FORM, headers=headers).status_code == 303


def test_the_page_lets_the_browser_say_where_its_form_comes_from(house: House) -> None:
    # With `no-referrer` a browser sends `Origin: null` with a form of our own page: Fetch standard, "append a request
    # `Origin` header" (https://fetch.spec.whatwg.org/#append-a-request-origin-header).
    assert house.client.get("/practice").headers["Referrer-Policy"] == "same-origin"


def test_a_stranger_is_answered_and_nothing_is_entered(house: House) -> None:
    house.client.post("/practice", data={**FORM, "as": STRANGER}, headers=OURS)

    with house.books.transaction() as tx:
        assert entries.standing(tx, house.farm.id) == []
    assert "a stranger" in shown(house, STRANGER)


def test_a_number_outside_the_demonstration_cannot_be_played(house: House) -> None:
    assert house.client.post("/practice", data={**FORM, "as": "+447700900777"}, headers=OURS).status_code == 400


def test_an_empty_text_sends_nothing(house: House) -> None:
    assert house.client.post("/practice", data={**FORM, "text": "  "}, headers=OURS).status_code == 303

    with house.books.transaction() as tx:
        assert messages.latest_from(tx, TAPPER, 5) == []


def test_the_page_stays_light_with_the_longest_texts(house: House) -> None:
    for n in range(SHOWN + 2):
        text_as(house.books, TAPPER, "<" * LONGEST, NOW, message_id=str(n))

    assert len(shown(house, TAPPER)) < SIZE_LIMIT


def test_there_is_no_practice_phone_outside_the_demonstration(house: House) -> None:
    app = create_app(Settings(house.settings.books, link_key="a key"), house.books, lambda: NOW)

    assert app.test_client().get("/practice").status_code == 404


def test_the_page_says_that_it_is_a_demonstration(house: House) -> None:
    assert "Demonstration only" in shown(house, TAPPER)

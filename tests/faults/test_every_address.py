"""Every address of the application, those that have no link too, with every method, as everybody: nothing of a farm is shown
to who does not belong to it, and nothing of it changes."""

import re
from collections.abc import Iterator
from dataclasses import replace

import pytest
from flask import Flask

from bot.app import create_app
from bot.books import entries, farms
from bot.pages import links
from tests.faults.test_attacks import (
    COLLECTOR,
    LEFT,
    LOST,
    NOW,
    OTHER_OWNER,
    OWNER,
    SECRETS,
    TAPPER,
    TEXT,
    House,
    addresses,
    everybody,
    house,
)

__all__ = ["house"]

STRANGER = "+447700900555"
METHODS = ("GET", "HEAD", "POST", "PUT", "PATCH", "DELETE", "OPTIONS", "TRACE", "PROPFIND")
KEY = "a-key-for-the-figures"
BROWSER = {"Sec-Fetch-Site": "same-origin"}


def everything(house: House) -> list[dict[str, object]]:
    """All lines and settings that the first farm has."""
    with house.books.reading() as tx:
        lines = [vars(each) if hasattr(each, "__dict__") else each for each in entries.all_entries(tx, house.farm_id)]
        return [*lines, farms.farm(tx, house.farm_id), *farms.blocks(tx, house.farm_id).items()]


def open_addresses(app: Flask) -> Iterator[str]:
    """The addresses that need no link, with anything in their places."""
    for rule in app.url_map.iter_rules():
        if "<token>" not in rule.rule:
            yield re.sub(r"<\w+>", "x", rule.rule)


def test_no_address_without_a_link_shows_anything_of_a_farm_whatever_the_method(house: House) -> None:
    house.call()
    app = create_app(replace(house.settings, metrics_key=KEY), house.books, lambda: NOW)
    before = everything(house)
    tried = [(path, method) for path in open_addresses(app) for method in METHODS]
    for path, method in tried:
        for headers in ({}, BROWSER, {"Authorization": f"Bearer {KEY}"}):
            got = app.test_client().open(path, method=method, headers=headers, data={"as": TAPPER, "text": "3 18"})

            assert got.status_code < 500, (path, method)
            assert not [each for each in SECRETS if each in got.get_data(as_text=True)], (path, method)
    assert len(tried) >= 6 * len(METHODS)
    assert everything(house) == before


def test_no_method_but_get_and_post_does_anything_with_a_good_link(house: House) -> None:
    house.call()
    before = everything(house)
    tried = 0
    for _, path in addresses(house, house.link(OWNER)):
        for method in METHODS[3:]:
            got = house.app.test_client().open(path, method=method, headers=BROWSER)
            tried += 1

            assert got.status_code in (200, 405), (path, method)
            assert method == "OPTIONS" or got.status_code == 405
            assert not [each for each in SECRETS if each in got.get_data(as_text=True)], (path, method)
    assert tried >= 80
    assert everything(house) == before


VALUES = {"do": "take out", "litres": "1", "total": "0", "day": "2026-03-01", "block": "3", "acid": "acetic"}


def test_an_owner_changes_nothing_of_another_farm_with_forms_of_his_own(house: House) -> None:
    """His link and the key of his forms are good; the ids in the addresses are those of the other farm."""
    house.call()
    before = everything(house)
    link = house.link(OTHER_OWNER, house.other_id)
    key = links.form_key(house.settings, links.opened(house.settings, link.rpartition("/")[2]))
    posted = [path for method, path in addresses(house, link) if method == "POST" and not path.endswith("/links")]
    for path in posted:
        got = house.app.test_client().post(path, data=VALUES | {"key": key}, headers=BROWSER)

        assert got.status_code < 500, path
        assert not [each for each in SECRETS if each in got.get_data(as_text=True)], path
    assert len(posted) >= 4
    assert everything(house) == before


def test_the_same_forms_change_it_for_its_own_owner(house: House) -> None:
    """So that the test above cannot pass for another reason."""
    house.call()
    before = everything(house)
    link = house.link(OWNER)
    key = links.form_key(house.settings, links.opened(house.settings, link.rpartition("/")[2]))
    for method, path in addresses(house, link):
        if method == "POST" and not path.endswith("/links"):
            house.app.test_client().post(path, data=VALUES | {"key": key}, headers=BROWSER)

    assert everything(house) != before


def test_a_demonstration_opens_the_pages_of_no_farm_to_a_bad_link_either(house: House) -> None:
    house.call()
    app = create_app(replace(house.settings, demonstration=True), house.books, lambda: NOW)
    for whose, link in everybody(house).items():
        for method, path in addresses(house, link):
            got = app.test_client().open(path, method=method, headers=BROWSER)

            assert got.status_code == 403, (whose, method, path)
            assert not [each for each in SECRETS if each in got.get_data(as_text=True)], (whose, path)


@pytest.mark.parametrize("number", [TAPPER, COLLECTOR, OTHER_OWNER, LEFT, LOST, STRANGER])
def test_nobody_but_an_owner_gets_a_link_to_a_farm_by_text(house: House, number: str) -> None:
    got = house.call(TEXT | {"From": number, "Body": "link", "MessageSid": "SM2"}).get_data(as_text=True)
    found = re.findall(r"/farm/[^\s<]+", got)

    assert (len(found) == 1) == (number == OTHER_OWNER)
    for path in found:
        assert links.opened(house.settings, path.rpartition("/")[2]).farm_id == house.other_id


QUESTIONS = (
    "week",
    "who?",
    "pay due?",
    "why",
    "ready?",
    "at Heron Hill",
    "week Heron Hill",
    "why 5.8",
    "stock?",
    "undo",
)


@pytest.mark.parametrize("number", [OTHER_OWNER, LEFT, LOST, STRANGER])
@pytest.mark.parametrize("question", QUESTIONS)
def test_nobody_of_elsewhere_learns_anything_of_a_farm_by_text(house: House, number: str, question: str) -> None:
    house.call(TEXT | {"Body": "block 3 18.25 litres"})
    before = everything(house)
    got = house.call(TEXT | {"From": number, "Body": question, "MessageSid": "SM2"}).get_data(as_text=True)

    assert not [each for each in (*SECRETS, "18.25", "18.3") if each in got]
    assert everything(house) == before

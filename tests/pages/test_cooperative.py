"""The manager's page: what a collecting day shows, what its forms do, and to whom it stays shut."""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from pathlib import Path

import pytest
from flask import Flask
from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from bot.app import create_app, house_of
from bot.books import cooperatives, disputes, people
from bot.pages import links
from bot.settings import Settings
from tests.talk.cooperative import AMA, ESI, HANA, MUSA, START, Cooperative, opened

#: 18:00 at the farms, on the collecting day.
NOW = datetime(2026, 3, 18, 11, 0, tzinfo=UTC)


@dataclass(frozen=True)
class Office:
    """A cooperative after a morning's round, and the application over its books."""

    hills: Cooperative
    settings: Settings
    app: Flask

    @property
    def client(self) -> FlaskClient:
        return self.app.test_client()

    @property
    def link(self) -> str:
        return links.cooperative_path(self.settings, self.hills.cooperative.id, self.hills.hana.id)

    def page(self, path: str = "") -> str:
        return self.client.get(self.link + path).get_data(as_text=True)

    def post(self, path: str, **form: str) -> TestResponse:
        key = re.findall(r'name="key" value="([^"]+)"', self.page())[0]
        return self.client.post(self.link + path, data={"key": key, **form}, headers={"Sec-Fetch-Site": "same-origin"})


@pytest.fixture
def office(tmp_path: Path) -> Iterator[Office]:
    hills = Cooperative(opened(tmp_path))
    settings = Settings(tmp_path / "books.sqlite", demonstration=True, link_key="a key for the test")
    hills.rolled(AMA, 24, "12.1", day=-20)
    hills.rolled(ESI, 9, day=-15)
    hills.text("at 1", hour=9)
    hills.text("took 24 sheets 11.8 kg rss3 mould from Ama, 10 sheets 5 kg rss2 from Yaw", hour=9.1)
    hills.text("1001 it was <b>12.4</b> kg", AMA, hour=10)
    yield Office(hills, settings, create_app(settings, hills.books, lambda: NOW))
    hills.books.close()


def test_a_day_shows_rounds_kilos_cash_disputes_and_who_was_not_visited(office: Office) -> None:
    page = office.page()

    assert "1 of 2" in page
    assert "2 River Landing" in page
    assert re.search(r"RSS3</th><td>11.8</td><td>18.29", page)
    assert re.search(r"Ama Ridge</th><td>1</td><td>11.8</td><td>18.29", page)
    assert re.search(r"Yaw Hollow</th><td>1</td><td>5</td><td>0.00<br><span class=\"warn\">1 without a price", page)
    assert "1001 Ama Ridge" in page
    assert re.search(r"Esi Bend</th><td>River Landing</td><td>9 sheets 4.5 kg", page)


def test_what_somebody_texted_is_never_markup(office: Office) -> None:
    assert "<b>12.4" not in office.page()
    assert "&lt;b&gt;12.4" in office.page()


def test_another_day_is_shown_by_its_address(office: Office) -> None:
    assert "Nothing was taken." in office.page("?of=2026-03-17")
    assert "Wed 18 Mar" in office.page("?of=2027-03-17")  # a day ahead is today
    assert "Wed 18 Mar" in office.page("?of=nonsense")


def test_a_dispute_is_settled_by_keeping(office: Office) -> None:
    assert office.post("/dispute", number="1001", do="keep", kg="12.4").status_code == 303

    with office.hills.books.transaction() as tx:
        assert disputes.open_at_cooperative(tx, office.hills.cooperative.id) == []
    assert [each.record.kg for each in office.hills.book(office.hills.ama)] == [Decimal("11.8")]
    assert "the dispute is over" in office.hills.told(MUSA)[-1]


def test_a_dispute_is_settled_by_correcting(office: Office) -> None:
    assert office.post("/dispute", number="1001", do="correct", kg="12.4").status_code == 303

    assert [each.record.kg for each in office.hills.book(office.hills.ama)] == [Decimal("12.4")]
    assert "19.22" in office.page()


def test_a_price_counts_from_today(office: Office) -> None:
    assert office.post("/price", kind="rss2", price="1,58").status_code == 303

    with office.hills.books.transaction() as tx:
        found = cooperatives.price_on(tx, office.hills.cooperative.id, "RSS2", START.date())
    assert found == Decimal("1.58")


@pytest.mark.parametrize(
    ("path", "form", "problem"),
    [
        ("/price", {"kind": "rss2", "price": "much"}, "much is no number"),
        ("/price", {"kind": "!", "price": "1"}, "neither a grade"),
        ("/price", {"kind": "rss2", "price": "-1"}, "-1 cannot be"),
        ("/store", {"kind": "rss3", "kg": "5000"}, "The store should hold 11.8 kg of RSS3"),
        ("/dispute", {"number": "1099", "do": "keep", "kg": ""}, "There is no receipt 1099"),
        ("/dispute", {"number": "1001", "do": "correct", "kg": ""}, "Nothing is no number"),
    ],
)
def test_what_cannot_be_is_said_and_changes_nothing(
    office: Office, path: str, form: dict[str, str], problem: str
) -> None:
    answer = office.post(path, **form)

    assert answer.status_code in (400, 409)
    assert problem in answer.get_data(as_text=True)


def test_what_left_the_store_is_entered(office: Office) -> None:
    assert office.post("/store", kind="RSS3", kg="10").status_code == 303

    assert re.search(r"RSS3</th><td>1.8</td>", office.page())


def test_grades_by_grower_show_the_reasons(office: Office) -> None:
    page = office.page("/grades")

    assert re.search(r"Ama Ridge</th><td>Mar 2026</td><td>1</td><td>RSS3 11.8 kg</td><td>mould 1", page)


def test_a_form_from_elsewhere_or_without_its_key_does_nothing(office: Office) -> None:
    form = {"number": "1001", "do": "keep"}

    assert (
        office.client.post(office.link + "/dispute", data=form, headers={"Sec-Fetch-Site": "cross-site"}).status_code
        == 403
    )
    assert (
        office.client.post(office.link + "/dispute", data=form, headers={"Sec-Fetch-Site": "same-origin"}).status_code
        == 403
    )
    with office.hills.books.transaction() as tx:
        assert len(disputes.open_at_cooperative(tx, office.hills.cooperative.id)) == 1


def test_a_farms_link_opens_no_cooperative_and_a_managers_no_farm(office: Office) -> None:
    with office.hills.books.transaction() as tx:
        ama = people.person_by_number(tx, AMA)
    assert ama is not None
    farm_link = links.path(office.settings, office.hills.ama.id, ama.id)

    assert office.client.get(farm_link).status_code == 200
    shut = office.client.get(farm_link.replace("/farm/", "/cooperative/"))
    assert shut.status_code == 403
    assert "not made here" in shut.get_data(as_text=True)
    assert office.client.get(office.link.replace("/cooperative/", "/farm/")).status_code == 403


@pytest.mark.parametrize("how", ["ended", "blocked", "void", "old"])
def test_the_page_stays_shut_to_one_who_manages_no_more(office: Office, how: str) -> None:
    link = office.link
    later = NOW + timedelta(days=31 if how == "old" else 0)
    with office.hills.books.transaction() as tx:
        if how == "ended":
            cooperatives.end_manager(tx, office.hills.hana.id, NOW)
        elif how == "blocked":
            people.block(tx, office.hills.hana.id, NOW)
        elif how == "void":
            people.cut_links(tx, office.hills.hana.id, datetime.now(UTC) + timedelta(seconds=5))
    if how == "old":
        import time_machine

        with time_machine.travel(datetime.now(UTC) + timedelta(days=31), tick=False):
            assert (
                create_app(office.settings, office.hills.books, lambda: later).test_client().get(link).status_code
                == 403
            )
        return

    assert office.client.get(link).status_code == 403


def test_the_manager_gets_the_link_by_text(office: Office) -> None:
    office.hills.house = house_of(office.settings)

    said = str(office.hills.text("link", HANA).text)

    path = said.split("127.0.0.1:8080")[1]
    assert office.client.get(path).status_code == 200


def test_an_owner_changes_no_take_on_his_page(office: Office) -> None:
    with office.hills.books.transaction() as tx:
        ama = people.person_by_number(tx, AMA)
    assert ama is not None
    farm = links.path(office.settings, office.hills.ama.id, ama.id)
    (take,) = office.hills.book(office.hills.ama)
    page = office.client.get(f"{farm}/entry/{take.id}").get_data(as_text=True)
    key = re.findall(r'name="key" value="([^"]+)"', page)[0]

    for form in ({"kg": "99", "do": "correct"}, {"do": "take out"}):
        headers = {"Sec-Fetch-Site": "same-origin"}
        answer = office.client.post(f"{farm}/entry/{take.id}", data={"key": key, **form}, headers=headers)
        assert "disputed by text" in answer.get_data(as_text=True)

    assert [each.record.kg for each in office.hills.book(office.hills.ama)] == [Decimal("11.8")]


def test_a_manager_has_a_practice_phone(office: Office) -> None:
    page = office.client.get(f"/practice?as={HANA.replace('+', '%2B')}").get_data(as_text=True)
    assert "Hana, manager" in page

    headers = {"Sec-Fetch-Site": "same-origin"}
    office.client.post("/practice", data={"as": HANA, "text": "disputes"}, headers=headers)

    page = office.client.get(f"/practice?as={HANA.replace('+', '%2B')}").get_data(as_text=True)
    assert "1001 Ama Ridge" in page


def test_every_page_and_form_of_a_cooperative_stays_shut_without_its_managers_own_link(office: Office) -> None:
    with office.hills.books.transaction() as tx:
        ama = people.person_by_number(tx, AMA)
        other = cooperatives.add(
            tx, name="Far Coast", timezone="Asia/Bangkok", currency="USD", language="en", closing_hour=19, at=START
        )
        cooperatives.add_manager(tx, other.id, office.hills.musa.id, START)
    assert ama is not None
    one = office.hills.cooperative.id
    shut = [
        office.link[:-5] + ("A" if office.link[-5] != "A" else "B") + office.link[-4:],
        "/cooperative/nothing",
        links.cooperative_path(office.settings, one, ama.id),  # an owner of one of its farms
        links.cooperative_path(office.settings, one, office.hills.musa.id),  # the manager of another cooperative
        links.cooperative_path(office.settings, office.hills.ama.id, office.hills.hana.id),
    ]
    rules = [rule for rule in office.app.url_map.iter_rules() if rule.rule.startswith("/cooperative/<token>")]
    tried = 0
    for link in shut:
        for rule in rules:
            for method in {"GET", "POST"} & (rule.methods or set()):
                path = rule.rule.replace("/cooperative/<token>", link)
                answer = office.client.open(path, method=method, headers={"Sec-Fetch-Site": "same-origin"})
                assert answer.status_code == 403, (method, path)
                assert "Ama Ridge" not in answer.get_data(as_text=True)
                tried += 1

    assert tried == len(shut) * 5
    with office.hills.books.transaction() as tx:
        assert len(disputes.open_at_cooperative(tx, one)) == 1

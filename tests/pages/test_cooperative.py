"""The manager's page: what a collecting day shows, what its forms do, and to whom it stays shut."""

import re
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from pathlib import Path

import pytest

from bot.app import create_app, house_of
from bot.books import cooperatives, disputes, payouts, people
from bot.pages import links
from tests.pages.full_cooperative import NOW, Office, office_of
from tests.talk.cooperative import AMA, HANA, MUSA, START


@pytest.fixture
def office(tmp_path: Path) -> Iterator[Office]:
    found = office_of(tmp_path)
    yield found
    found.hills.books.close()


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
        ("/price", {"kind": "rss2", "price": "much"}, "not much"),
        ("/price", {"kind": "!", "price": "1"}, "neither a grade"),
        ("/price", {"kind": "rss2", "price": "-1"}, "-1 cannot be"),
        ("/store", {"kind": "rss3", "kg": "5000"}, "The store should hold 11.8 kg of RSS3"),
        ("/dispute", {"number": "1099", "do": "keep", "kg": ""}, "There is no receipt 1099"),
        ("/dispute", {"number": "1001", "do": "correct", "kg": ""}, "not -"),
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
    assert re.search(
        r"Taken</th><td>11.8</td></tr>\s.*Left the store</th><td>-10</td></tr>\s.*Now</th><td>1.8</td>",
        office.page("/store"),
    )


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

    assert tried == len(shut) * 15
    with office.hills.books.transaction() as tx:
        assert len(disputes.open_at_cooperative(tx, one)) == 1


class TestMoney:
    """Pay-outs on the page: the same as by text, at the sum that the page showed."""

    def test_what_is_due_is_shown_by_grower(self, office: Office) -> None:
        office.post("/money/off", farm=office.hills.ama.id, kind="acid", amount="3,2", litres="2")
        page = office.page("/money")

        assert re.search(r"Ama Ridge</a></th><td>18.29</td><td>3.20</td><td>15.09", page)
        assert "1 without a price" in page
        assert re.search(r"acid 2 L</td><td>3.20", page)
        assert "Pay out 15.09 USD to all" in page

    def test_one_grower_is_paid_and_gets_his_statement(self, office: Office) -> None:
        assert "Pay out 18.29 USD" in office.page(f"/money/{office.hills.ama.id}")

        assert office.post("/money/pay-out", farm=office.hills.ama.id, total="18.29").status_code == 303

        assert office.hills.told(AMA)[-1].startswith(
            "Three Hills, pay-out 1 to Ama Ridge: receipts 1001 18.29; paid 18.29"
        )
        assert re.search(r"1 Ama Ridge, 18.Mar", office.page("/money"))

    def test_all_are_paid_at_the_sum_that_was_shown_and_at_no_other(self, office: Office) -> None:
        stale = office.post("/money/pay-out", farm="", total="18.28")
        assert stale.status_code == 400
        assert "has changed since the page was loaded" in stale.get_data(as_text=True)

        assert office.post("/money/pay-out", farm="", total="18.29").status_code == 303
        assert office.post("/money/pay-out", farm="", total="18.29").status_code == 400  # sent twice: paid once

    def test_a_line_is_taken_back(self, office: Office) -> None:
        office.post("/money/off", farm=office.hills.ama.id, kind="tools", amount="4", note="knife")
        page = office.page(f"/money/{office.hills.ama.id}")
        line = re.findall(r'name="line" value="([^"]+)"', page)

        assert "tools knife" in page
        assert office.post("/money/back", farm=office.hills.ama.id, line=line[0]).status_code == 303
        assert 'name="line"' not in office.page(f"/money/{office.hills.ama.id}")
        assert office.post("/money/back", farm=office.hills.ama.id, line=line[0]).status_code == 400

    def test_a_levy_counts_from_today(self, office: Office) -> None:
        assert office.post("/money/levy", percent="2,5").status_code == 303

        assert re.search(
            r"levy <span class=\"small\">2.5% x 18.29</span></th><td>-0.46",
            office.page(f"/money/{office.hills.ama.id}"),
        )

    @pytest.mark.parametrize(
        ("path", "form"),
        [
            ("/money/off", {"kind": "gift", "amount": "5"}),
            ("/money/off", {"kind": "advance", "amount": "1.234"}),
            ("/money/off", {"kind": "advance", "amount": "-5"}),
            ("/money/off", {"kind": "acid", "amount": "5", "litres": "many"}),
            ("/money/levy", {"percent": "101"}),
        ],
    )
    def test_what_cannot_be_changes_nothing(self, office: Office, path: str, form: dict[str, str]) -> None:
        assert office.post(path, farm=office.hills.ama.id, **form).status_code in (400, 409)
        with office.hills.books.transaction() as tx:
            assert payouts.open_money(tx, office.hills.cooperative.id) == []
            assert payouts.levies(tx, office.hills.cooperative.id) == []

    def test_a_form_of_rubber_is_written_in_the_managers_language(self, office: Office) -> None:
        with office.hills.books.transaction() as tx:
            people.set_language(tx, office.hills.hana.id, "vi")

        assert office.post("/price", kind="tờ", price="1,4").status_code == 303
        with office.hills.books.transaction() as tx:
            assert cooperatives.price_on(tx, office.hills.cooperative.id, "sheets", START.date()) == Decimal("1.4")

    def test_a_farm_of_nobody_here_has_no_page(self, office: Office) -> None:
        assert office.client.get(f"{office.link}/money/nobody").status_code == 404


class TestStore:
    """The store on its page: bales, what left, what was counted."""

    def test_sheets_are_pressed_and_bales_leave(self, office: Office) -> None:
        assert office.post("/store/bales", kind="RSS3", pieces="1", kg="10,5").status_code == 303
        assert re.search(
            r"Taken</th><td>11.8</td></tr>\s.*Baled</th><td>-10.5</td></tr>\s.*Now</th><td>1.3</td>",
            office.page("/store"),
        )
        assert "1 bale of 10.5 kg" in office.page("/store")

        assert office.post("/store", kind="RSS3", pieces="1", kg="").status_code == 303
        assert office.post("/store", kind="RSS3", pieces="1", kg="").status_code == 409

    def test_what_was_counted_is_a_gap_and_a_question(self, office: Office) -> None:
        assert office.post("/store/count", kind="RSS3", kg="11.3", pieces="").status_code == 303

        page = office.page("/store")
        assert "The store holds 0.5 kg less than the books" in page
        assert re.search(r"Baled or sold, of sheets taken</th><td>0.5</td><td>0</td><td>-0.5</td>", page)

    def test_a_cooperative_sets_the_weight_of_its_bales(self, office: Office) -> None:
        assert office.post("/store/weight", kg="50").status_code == 303
        assert office.post("/store/weight", kg="500").status_code == 409

        assert 'value="50"' in office.page("/store")

"""Pay-outs of a cooperative in a grower's papers and whole books: gross, deductions by kind, paid, due, carried."""

from collections.abc import Iterator
from datetime import UTC, date, datetime
from decimal import Decimal
from pathlib import Path

import pytest
from sqlite_utils import Database

from bot.app import create_app
from bot.books import farms
from bot.books.model import Farm
from bot.pages import owner
from bot.papers import shelf
from bot.papers.shelf import File, Paper, Wish
from bot.settings import Settings
from tests.talk.cooperative import AMA, HANA, Cooperative, opened

NOW = datetime(2026, 3, 18, 11, 0, tzinfo=UTC)


@pytest.fixture
def hills(tmp_path: Path) -> Iterator[Cooperative]:
    """A pay-out to Ama with a levy, an advance and acid; a take and tools since; and one to Yaw."""
    found = Cooperative(opened(tmp_path))
    found.text("levy 2 %", HANA)
    found.text("took 24 sheets 11.8 kg rss3 from Ama, 10 sheets 5 kg rss3 from Yaw")
    found.text("advance 5 to Ama Ridge", HANA)
    found.text("acid 2 litres 1.20 for ama ridge", HANA)
    found.text("pay out Ama Ridge 11.72", HANA)
    found.text("pay out Yaw Hollow 7.59", HANA)
    found.text("took 20 sheets 9.3 kg rss3 from Ama")
    found.text("tools 2 Ama Ridge", HANA)
    yield found
    found.books.close()


def paper(hills: Cooperative, farm: Farm, wish: Wish) -> File:
    with hills.books.transaction() as tx:
        write = shelf.gather(tx, farms.farm(tx, farm.id), wish, NOW)
    return write()


def test_the_paper_has_a_row_for_each_pay_out_and_one_for_what_is_due(hills: Cooperative) -> None:
    with hills.books.transaction() as tx:
        (table,) = shelf.tables(tx, hills.ama, Wish(Paper.PAYOUTS), date(2026, 3, 1), date(2026, 3, 31))

    assert table.headings == (
        "Cooperative", "Pay-out", "Day", "How it was computed", "Receipts (USD)", "Levy (USD)", "Advance (USD)", "Acid (USD)",
        "Tools (USD)", "Deduction (USD)", "Taken back (USD)", "Left from before (USD)", "Paid (USD)", "Not paid out yet (USD)",
        "Carried to the next (USD)",
    )  # fmt: skip
    paid, due = table.rows
    assert paid[:3] == ("Three Hills", 1, date(2026, 3, 18))
    assert paid[4:] == tuple(
        None if each is None else Decimal(each)
        for each in ("18.29", "-0.37", "-5.00", "-1.20", "0.00", "0.00", "0.00", "0.00", "11.72", None, "0.00")
    )
    assert due[1:3] == (None, None)
    assert due[4:] == tuple(
        None if each is None else Decimal(each)
        for each in ("14.42", "-0.29", "0.00", "0.00", "-2.00", "0.00", "0.00", "0.00", None, "12.13", "0.00")
    )


def test_each_row_adds_up_to_what_is_paid(hills: Cooperative) -> None:
    hills.text("advance 40 Ama Ridge", HANA)
    hills.text("pay out Ama Ridge 0", HANA)

    with hills.books.transaction() as tx:
        (table,) = shelf.tables(tx, hills.ama, Wish(Paper.PAYOUTS), date(2026, 3, 1), date(2026, 3, 31))

    assert len(table.rows) == 3
    for row in table.rows:
        *parts, paid, due, carried = row[4:]
        assert sum(parts, Decimal(0)) == (paid if paid is not None else due) - carried


def test_the_paper_is_offered_as_files_for_all_days_unless_some_are_named(hills: Cooperative) -> None:
    text = paper(hills, hills.ama, Wish(Paper.PAYOUTS, form="csv")).content.decode("utf-8-sig")

    assert "Three Hills,1,2026-03-18" in text
    assert "Yaw Hollow" not in text
    assert paper(hills, hills.ama, Wish(Paper.PAYOUTS)).name.endswith(".xlsx")


def test_the_whole_books_have_pay_outs_their_lines_and_what_is_due_of_that_farm_alone(
    hills: Cooperative, tmp_path: Path
) -> None:
    path = tmp_path / "copy.sqlite"
    path.write_bytes(paper(hills, hills.ama, Wish(Paper.BOOKS)).content)
    database = Database(path)

    (paid,) = database.query("select * from payouts")
    by_kind = {row["kind"]: row["amount"] for row in database.query("select * from payout_lines where number = 1")}
    since = {row["kind"]: row["amount"] for row in database.query("select * from payout_lines where number is null")}
    (due,) = database.query("select * from due")

    assert (paid["cooperative"], paid["number"], paid["receipts"], paid["paid"]) == ("Three Hills", 1, 18.29, 11.72)
    assert by_kind == {"receipts": 18.29, "levy": -0.37, "advance": -5.0, "acid": -1.2}
    assert since == {"receipts": 14.42, "levy": -0.29, "tools": -2.0}
    assert (due["due"], due["carried"], due["receipts_without_price"]) == (12.13, 0.0, "")


def test_the_owners_page_of_pay_shows_his_pay_outs_and_no_others(hills: Cooperative, tmp_path: Path) -> None:
    settings = Settings(tmp_path / "books.sqlite", link_key="a key for the test")
    client = create_app(settings, hills.books, lambda: NOW).test_client()
    with hills.books.transaction() as tx:
        from bot.books import people

        ama = people.person_by_number(tx, AMA)
        assert ama is not None
    page = client.get(owner.link(settings, hills.ama.id, ama.id) + "/pay").get_data(as_text=True)

    assert "Three Hills" in page
    assert "Pay-out 1, 18 Mar 2026: 11.72 USD" in page
    assert "12.13 USD" in page
    assert "7.59" not in page

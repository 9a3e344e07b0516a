"""A receipt is disputed by answering it; both sides see it, and it stands in the books until it is settled."""

from collections.abc import Iterator
from decimal import Decimal
from pathlib import Path

import pytest

from bot.books import disputes
from bot.books.disputes import Dispute
from bot.talk.exchange import Kind
from tests.talk.cooperative import AMA, ESI, HANA, MUSA, TOBIN, YAW, Cooperative, opened


@pytest.fixture
def hills(tmp_path: Path) -> Iterator[Cooperative]:
    found = Cooperative(opened(tmp_path))
    found.text("took 24 sheets 11.8 kg rss3 from Ama")
    yield found
    found.books.close()


def standing(hills: Cooperative) -> list[Dispute]:
    with hills.books.transaction() as tx:
        return disputes.open_at_cooperative(tx, hills.cooperative.id)


@pytest.mark.parametrize(
    ("text", "kg"),
    [
        ("1001 it was 21 kg", "21"),
        ("1001 21 kg", "21"),
        ("receipt 1001: 12.6 kg on my own scale", "12.6"),
        ("1001 it was 21", "21"),
        ("1001 wrong weight", None),
        ("#1001 too little", None),
        ("1001 the grade was rss2", None),
    ],
)
def test_an_owner_disputes_by_answering_with_the_number(hills: Cooperative, text: str, kg: str | None) -> None:
    said = hills.text(text, AMA)

    assert said.kind is Kind.ANSWERED
    assert "It stands for now" in str(said.text)
    assert [(each.said, each.kg) for each in standing(hills)] == [(text, None if kg is None else Decimal(kg))]
    assert [each.record.kg for each in hills.book(hills.ama)] == [Decimal("11.8")]


def test_both_sides_and_the_manager_hear_of_it(hills: Cooperative) -> None:
    hills.text("1001 it was 21 kg", TOBIN)

    for number in (MUSA, HANA, AMA):
        assert any("1001 it was 21 kg" in each for each in hills.told(number)), number


def test_a_dispute_that_comes_twice_stands_once(hills: Cooperative) -> None:
    hills.text("1001 it was 21 kg", AMA)
    hills.text("1001 it was 21 kg", AMA)

    assert len(standing(hills)) == 1
    assert len(hills.told(MUSA)) == 1


@pytest.mark.parametrize(
    "text", ["sorry ama was 12.6 kg", "1001 12.6 kg", "1001 it was 12.6 kg", "ama 1001 sorry 12.6 kg"]
)
def test_the_collector_settles_it_by_correcting_the_take(hills: Cooperative, text: str) -> None:
    hills.text("1001 it was 12.6 kg", AMA)

    said = hills.text(text)

    assert said.kind is Kind.CHANGED
    assert standing(hills) == []
    (take,) = hills.book(hills.ama)
    assert take.record.kg == Decimal("12.6")
    assert take.computed is not None
    assert take.computed["amount"] == "19.53"
    assert "12.6 kg RSS3 x 1.55 = 19.53 USD (was 24 sheets, 11.8 kg = 18.29)" in hills.told(AMA)[-1]


def test_latex_is_disputed_in_litres_and_corrected_in_litres_or_dry_content(hills: Cooperative) -> None:
    hills.text("18 l latex drc 32 from Esi")
    hills.text("1002 sebenarnya 20 liter", ESI)
    assert [each.said for each in standing(hills)] == ["1002 sebenarnya 20 liter"]

    hills.text("1002 20 litres drc 33")

    (take,) = hills.book(hills.esi)
    assert (take.record.litres, take.record.drc) == (Decimal(20), Decimal(33))
    assert take.computed is not None
    assert take.computed["amount"] == "7.78"  # 20 L x 0.98168 kg/L x 33 % = 6.479 kg x 1.20
    assert standing(hills) == []


def test_he_who_raised_it_takes_it_back(hills: Cooperative) -> None:
    hills.text("1001 it was 21 kg", AMA)

    said = hills.text("1001 ok", AMA)

    assert said.text == "Receipt 1001 stands, the dispute is over."
    assert standing(hills) == []
    assert "the dispute is over" in hills.told(MUSA)[-1]


def test_a_take_that_is_taken_out_ends_its_dispute_and_its_owner_hears_of_it(hills: Cooperative) -> None:
    hills.text("1001 it was 21 kg", AMA)

    hills.text("undo")

    assert standing(hills) == []
    assert hills.told(AMA)[-1].startswith("Musa took out: Receipt 1001.")


def test_an_owner_cannot_change_what_the_collector_weighed(hills: Cooperative) -> None:
    hills.text("sorry collected 24 sheets 21 kg rss3 not 11.8", AMA)

    assert [each.record.kg for each in hills.book(hills.ama)] == [Decimal("11.8")]


def test_another_farms_receipt_is_nobodys_business(hills: Cooperative) -> None:
    hills.text("1001 c'était 21 kg", YAW)

    assert standing(hills) == []


@pytest.mark.parametrize("text", ["block 1 18 litres", "18", "1001 litres", "1 18"])
def test_a_report_is_no_dispute(hills: Cooperative, text: str) -> None:
    hills.text(text, TOBIN)

    assert standing(hills) == []


def test_a_number_that_is_no_receipt_is_not_taken_for_kilos(hills: Cooperative) -> None:
    said = hills.text("1017 it was 12 kg")

    assert said.kind is Kind.ASKED
    assert "There is no receipt 1017 of yours" in str(said.text)

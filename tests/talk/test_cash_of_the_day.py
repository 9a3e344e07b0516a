"""The cash that a manager needs at closing: what is to be paid out after what comes off, in as few parts as without it."""

from collections.abc import Iterator
from decimal import Decimal
from pathlib import Path

import pytest

from bot.books import people
from bot.jobs import run_due
from bot.speech.language import economical, tongue
from bot.speech.parts import count_parts
from bot.week import paying_out
from bot.week.closing import closing, in_words
from tests.talk.cooperative import AMA, ESI, HANA, START, Cooperative, opened


@pytest.fixture
def hills(tmp_path: Path) -> Iterator[Cooperative]:
    """A morning: two lots of Ama and Yaw taken, a farm not visited, a dispute; a levy and an advance."""
    found = Cooperative(opened(tmp_path))
    found.rolled(AMA, 24, "12.1", day=-20)
    found.rolled(ESI, 9, day=-15)
    found.text("levy 2%", HANA, hour=8)
    found.text("at 1", hour=9)
    found.text("took 24 sheets 11.8 kg rss3 from Ama, 10 sheets 5 kg rss3 from Yaw", hour=9.1)
    found.text("1001 it was 12.4 kg", AMA, hour=10)
    found.text("advance 5 Ama Ridge", HANA, hour=10.1)
    yield found
    found.books.close()


def day(hills: Cooperative) -> str:
    return str(hills.text("day", HANA, hour=11).text)


def test_cash_is_told_after_deductions_and_with_them(hills: Cooperative) -> None:
    assert "Pay out 20.51 USD to 2 growers, deductions 5.53." in day(hills)  # 18.29 + 7.75 - 0.37 - 0.16 - 5


def test_the_closing_text_tells_what_paying_all_out_proposes(hills: Cooperative) -> None:
    run_due(hills.books, hills.at(0, 19.1), None)

    (told,) = [each for each in hills.told(HANA) if each.startswith("Three Hills 18 Mar:")]
    assert "Pay out 20.51 USD to 2 growers, deductions 5.53." in told
    assert "Due to 2 growers: 20.51 USD." in str(hills.text("pay out all", HANA, hour=20).text)


def test_receipts_that_were_open_before_are_cash_too_and_those_of_the_day_are_told_beside(hills: Cooperative) -> None:
    hills.text("took 4 sheets 2 kg rss3 from Esi", day=-7, hour=9)

    assert "Receipts 26.04 USD. Pay out 23.61 USD to 3 growers, deductions 5.53." in day(hills)  # no levy before today


def test_what_was_paid_out_during_the_day_is_no_cash_any_more(hills: Cooperative) -> None:
    hills.text("pay out all 20.51", HANA, hour=10.5)

    assert "Receipts 26.04 USD. 1 without" not in day(hills)
    assert "Receipts 26.04 USD. In dispute: 1001" in day(hills)
    assert "Pay out" not in day(hills)


def test_a_day_that_is_over_tells_its_receipts(hills: Cooperative) -> None:
    said = str(hills.text("day 18 mar", HANA, day=1, hour=9).text)

    assert "Receipts 26.04 USD." in said
    assert "Pay out" not in said


def test_more_off_than_is_due_is_told_as_what_comes_off_now(hills: Cooperative) -> None:
    hills.text("advance 100 Ama Ridge", HANA, hour=10.2)

    assert "Pay out 7.59 USD to 2 growers, deductions 18.45." in day(hills)  # Ama: all of 18.29, Yaw: 0.16


def test_the_cash_adds_up(hills: Cooperative) -> None:
    with hills.books.transaction() as tx:
        due = paying_out.to_pay(tx, hills.cooperative, Decimal(0), 0)

    assert due.receipts - due.off == due.paid == Decimal("20.51")


@pytest.mark.parametrize("language", ["en", "fr", "id", "th", "vi", "es"])
def test_it_takes_no_more_parts_than_before(hills: Cooperative, language: str) -> None:
    with hills.books.transaction() as tx:
        hana = people.person_by_number(tx, HANA)
        assert hana is not None
        people.set_language(tx, hana.id, language)
        seen = closing(tx, hills.cooperative, START.date())
        due = paying_out.to_pay(tx, hills.cooperative, seen.amount, len(seen.cash))
        said = in_words(seen, tongue(language), due)
        gross = paying_out.ToPay(due.growers, due.receipts, Decimal(0), due.receipts)
        before = in_words(seen, tongue(language), gross)

    assert count_parts(economical(said)).parts <= count_parts(economical(before)).parts
    assert tongue(language).fixed(due.off, 2) in said


def test_where_no_pay_outs_are_kept_it_is_what_the_days_receipts_came_to(
    tmp_path_factory: pytest.TempPathFactory,
) -> None:
    hills = Cooperative(opened(tmp_path_factory.mktemp("another")))
    hills.text("took 24 sheets 11.8 kg rss3 from Ama", day=-7)
    hills.text("took 10 sheets 5 kg rss3 from Yaw")

    assert "Pay out 7.75 USD to 1 grower." in str(hills.text("day", HANA).text)
    hills.books.close()

"""A manager's texts about his growers' money: advances, acid, tools, levy, pay-outs, and the proof that they need."""

from collections.abc import Iterator, Sequence
from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from bot.books import cooperatives, entries, payouts, people
from bot.reckon import payouts as reckoned
from bot.speech.language import tongue
from bot.talk.exchange import Answer, Kind
from bot.talk.house import House
from parsers.reading import Role
from tests.talk.cooperative import AMA, ESI, HANA, MUSA, START, TOBIN, YAW, Cooperative, opened


@pytest.fixture
def hills(tmp_path: Path) -> Iterator[Cooperative]:
    found = Cooperative(opened(tmp_path))
    yield found
    found.books.close()


def manager(hills: Cooperative, text: str) -> Answer:
    return hills.text(text, HANA)


def closed(hills: Cooperative) -> Sequence[payouts.Closed]:
    with hills.books.transaction() as tx:
        return payouts.closed(tx, hills.cooperative.id, 1000)


def two_takes(hills: Cooperative) -> None:
    hills.text("took 24 sheets 11.8 kg rss3 from Ama, 10 sheets 5 kg rss2 from Yaw")
    hills.text("took 20 sheets 9.3 kg rss3 from Ama")


def test_a_pay_out_is_proposed_confirmed_by_its_sum_and_closed(hills: Cooperative) -> None:
    two_takes(hills)
    manager(hills, "levy 2 %")
    manager(hills, "advance 5 to Ama Ridge")
    manager(hills, "acid 2 litres 1.20 for ama ridge")

    proposed = manager(hills, "pay out Ama Ridge")
    again = manager(hills, "pay out Ama Ridge 20")
    paid = manager(hills, "pay out Ama Ridge 25.86")

    assert proposed.kind is again.kind is Kind.ASKED
    assert (
        proposed.text
        == again.text
        == (
            "Ama Ridge: receipts 1001, 1003 32.71; levy 2% x 32.71 -0.65; advance -5.00; acid 2 L -1.20; to pay 25.86 USD. "
            "To close it text: pay out Ama Ridge 25.86"
        )
    )
    assert paid.kind is Kind.CHANGED
    assert paid.text == "Paid out: Ama Ridge 25.86 USD. The statement goes to the grower."
    assert hills.told(AMA)[-1] == (
        "Three Hills, pay-out 1 to Ama Ridge: receipts 1001, 1003 32.71; levy 2% x 32.71 -0.65; advance -5.00; "
        "acid 2 L -1.20; paid 25.86 USD."
    )
    assert manager(hills, "pay out Ama Ridge 25.86").text == "Nothing is due."


def test_the_statement_is_in_the_growers_language(hills: Cooperative) -> None:
    hills.text("took 10 sheets 5 kg rss3 from Yaw, 10 sheets 5 kg rss3 from Esi")
    manager(hills, "tools 2.5 Yaw Hollow")
    manager(hills, "advance 2 Esi Bend")

    manager(hills, "pay out Yaw Hollow 5.25")
    manager(hills, "pay out Esi Bend 5.75")

    assert hills.told(YAW)[-1] == (
        "Three Hills, paiement 1 à Yaw Hollow: recus 1001 7,75; outils -2,50; payé 5,25 USD."
    )
    assert (
        hills.told(ESI)[-1]
        == "Three Hills, pembayaran 2 untuk Esi Bend: struk 1002 7,75; kasbon -2,00; dibayar 5,75 USD."
    )


def test_more_off_than_is_due_is_carried_and_never_paid_back(hills: Cooperative) -> None:
    two_takes(hills)
    manager(hills, "advance 40 Ama Ridge")

    manager(hills, "pay out Ama Ridge 0")
    hills.text("took 10 sheets 6 kg rss3 from Ama")
    after = manager(hills, "pay out Ama Ridge")

    (first,) = closed(hills)
    assert (first.sums.paid, first.sums.carried) == (Decimal(0), Decimal("7.29"))
    assert "7.29 USD is carried to the next." in hills.told(AMA)[-2]
    assert "receipts 1004 9.30; left from before -7.29; to pay 2.01 USD" in str(after.text)


def test_a_receipt_corrected_after_it_was_paid_comes_as_an_adjustment(hills: Cooperative) -> None:
    two_takes(hills)
    manager(hills, "levy 10%")
    manager(hills, "pay out Ama Ridge 29.44")

    manager(hills, "set 1001 12.4 kg")
    more = manager(hills, "pay out Ama Ridge")
    manager(hills, "pay out Ama Ridge 0.84")
    manager(hills, "set 1001 11.4 kg")
    less = manager(hills, "pay out Ama Ridge")

    assert "receipt changed: 1001 0.93; levy 10% x 0.93 -0.09; to pay 0.84 USD" in str(more.text)
    assert "receipt changed: 1001 -1.55; levy 10% x -1.55 0.16; to pay 0.00 USD. 1.39 USD is carried" in str(less.text)


def test_a_receipt_taken_out_after_it_was_paid_comes_off_the_next(hills: Cooperative) -> None:
    hills.text("took 24 sheets 11.8 kg rss3 from Ama")
    manager(hills, "pay out Ama Ridge 18.29")

    hills.text("undo")

    assert "receipt changed: 1001 -18.29; to pay 0.00 USD. 18.29 USD is carried" in str(
        manager(hills, "pay out ama").text
    )


def test_a_receipt_without_a_price_waits_for_it(hills: Cooperative) -> None:
    two_takes(hills)
    assert manager(hills, "pay out Yaw Hollow").text == "Nothing is due. Without a price, not paid: 1002."

    hills.price("RSS2", "1.50", day=-1)
    manager(hills, "set 1002 5.2 kg")

    assert "receipts 1002 7.80; to pay 7.80 USD" in str(manager(hills, "pay out Yaw Hollow").text)


def test_a_late_text_about_days_that_were_paid_out_is_paid_with_the_next(hills: Cooperative) -> None:
    hills.text("took 24 sheets 11.8 kg rss3 from Ama", day=-2)
    manager(hills, "pay out Ama Ridge 18.29")

    hills.text("took 10 sheets 5 kg rss3 from Ama", day=-3, arrived=START)

    assert "receipts 1002 7.75; to pay 7.75 USD" in str(manager(hills, "pay out Ama Ridge").text)


def test_all_growers_are_paid_at_once_and_each_gets_his_own_statement(hills: Cooperative) -> None:
    hills.text("took 24 sheets 11.8 kg rss3 from Ama, 10 sheets 5 kg rss3 from Esi")
    manager(hills, "advance 9 Yaw Hollow")  # nothing to be paid: it waits

    proposed = manager(hills, "pay out")
    paid = manager(hills, "pay out all 26.04")

    assert (
        proposed.text
        == "Due to 2 growers: 26.04 USD. To close all text: pay out all 26.04. Ama Ridge 18.29, Esi Bend 7.75."
    )
    assert paid.text == "Paid out: all growers 26.04 USD. The statement goes to the grower."
    assert [each.farm for each in closed(hills)] == ["Esi Bend", "Ama Ridge"]
    assert {each.to for each in paid.to_others} == {AMA, ESI}


def test_what_was_wrongly_taken_off_is_taken_back_before_or_after_the_pay_out(hills: Cooperative) -> None:
    two_takes(hills)
    manager(hills, "advance 5 to Ama Ridge")
    manager(hills, "tools 3 Ama Ridge")

    before = manager(hills, "cancel advance 5 Ama Ridge")
    manager(hills, "pay out Ama Ridge 29.71")
    after = manager(hills, "cancel tools Ama Ridge")
    twice = manager(hills, "cancel tools Ama Ridge")

    assert before.text == "Ama Ridge: taken back: advance 5.00 USD."
    assert after.text == "Ama Ridge: taken back: tools 3.00 USD, comes with the next pay-out."
    assert twice.kind is Kind.REFUSED
    assert "taken back: tools 3.00; to pay 3.00 USD" in str(manager(hills, "pay out Ama Ridge").text)


def test_a_levy_counts_for_receipts_from_its_day_on(hills: Cooperative) -> None:
    hills.text("took 24 sheets 10 kg rss3 from Ama", day=-1)
    manager(hills, "levy 10%")
    hills.text("took 24 sheets 20 kg rss3 from Ama")

    assert "receipts 1001-1002 46.50; levy 10% x 31.00 -3.10; to pay 43.40" in str(manager(hills, "pay out ama").text)


@pytest.mark.parametrize(
    "text",
    ["advance Ama Ridge", "advance 0 Ama Ridge", "acid 2 litres Ama Ridge", "advance 5", "tools 1.234 Ama Ridge",
     "deduct 5 Nowhere Farm", "tools 2 knives 45 Ama Ridge"],
)  # fmt: skip
def test_what_cannot_be_is_asked_about_and_nothing_is_entered(hills: Cooperative, text: str) -> None:
    assert manager(hills, text).kind is Kind.ASKED

    with hills.books.transaction() as tx:
        assert payouts.open_money(tx, hills.cooperative.id) == []


@pytest.mark.parametrize("text", ["levy 101%", "levy 1.234%"])
def test_a_levy_that_cannot_be_is_refused(hills: Cooperative, text: str) -> None:
    assert manager(hills, text).kind is Kind.REFUSED


def test_the_other_managers_hear_of_what_comes_off_and_of_pay_outs(hills: Cooperative) -> None:
    with hills.books.transaction() as tx:
        other = people.known_as(tx, name="Lek", number="+447700900130", language="th", at=START)
        cooperatives.add_manager(tx, hills.cooperative.id, other.id, START)
    two_takes(hills)

    for text in ("advance 5 Ama Ridge", "levy 2%", "cancel advance Ama Ridge", "pay out Ama Ridge 32.06"):
        manager(hills, text)

    said = hills.told("+447700900130")
    assert len(said) == 4
    assert all(each.startswith("Hana: ") for each in said)


@pytest.mark.parametrize("number", [MUSA, AMA, TOBIN, YAW])
@pytest.mark.parametrize("text", ["advance 5 Ama Ridge", "levy 50%", "pay out Ama Ridge 18.29", "pay out all 18.29"])
def test_nobody_else_does_what_is_the_managers(hills: Cooperative, number: str, text: str) -> None:
    hills.text("took 24 sheets 11.8 kg rss3 from Ama")

    hills.text(text, number)

    with hills.books.transaction() as tx:
        assert payouts.open_money(tx, hills.cooperative.id) == []
        assert payouts.levies(tx, hills.cooperative.id) == []
    assert closed(hills) == []


def test_a_manager_who_owns_a_farm_pays_his_own_tapper_too(hills: Cooperative) -> None:
    with hills.books.transaction() as tx:
        who = {"language": "en", "blocks": (), "at": START, "message_id": None}
        people.enrol(tx, name="Hana", number=HANA, farm_id=hills.ama.id, role=Role.OWNER, **who)

    assert str(manager(hills, "advance Tobin 20").text).startswith("Tobin: advance 20.00 USD noted.")
    assert manager(hills, "advance 20 Yaw Hollow").text == "Yaw Hollow: advance 20.00 USD, off the next pay-out."
    assert "Acid is now 90%" in str(manager(hills, "acid is 90%").text)


def test_a_grower_who_left_is_paid_what_he_is_owed_and_the_new_cooperative_owes_him_nothing(hills: Cooperative) -> None:
    hills.text("took 24 sheets 11.8 kg rss3 from Ama")
    with hills.books.transaction() as tx:
        new = cooperatives.add(
            tx, name="Far Coast", timezone="Asia/Bangkok", currency="USD", language="en", closing_hour=19, at=START
        )
        cooperatives.add_farm(tx, new.id, hills.ama.id)
        assert reckoned.everybody(tx, new) == []

    assert manager(hills, "pay out Ama Ridge 18.29").kind is Kind.CHANGED


HOW = (
    "Who and how much? Text: advance 500 Hill Farm / acid 2 litres 120 Hill Farm / tools 80 Hill Farm / "
    "deduct 20 Hill Farm"
)


@pytest.mark.parametrize("language", ["en", "fr", "id", "th", "vi", "es"])
def test_money_is_spoken_of_in_each_language(hills: Cooperative, language: str) -> None:
    with hills.books.transaction() as tx:
        people.set_language(tx, hills.hana.id, language)
    two_takes(hills)
    speech = tongue(language)
    first = speech.say(HOW).partition(": ")[2].partition(" 500")[0]
    _, _, forms = str(manager(hills, first).text).partition(": ")
    for form, price in zip(forms.split(" / "), ("5", "1.2", "0.8", "0.2"), strict=True):
        text = form.replace("500", price).replace("120", price).replace("80", price).replace("20 ", f"{price} ")
        assert manager(hills, text.replace("Hill Farm", "Ama Ridge")).kind is Kind.CHANGED, text
    with hills.books.transaction() as tx:
        lines = [(each.kind, each.amount, each.note) for each in payouts.open_money(tx, hills.cooperative.id)]
    assert lines == [
        ("advance", Decimal(5), ""),
        ("acid", Decimal("1.2"), "2 L"),
        ("tools", Decimal("0.8"), ""),
        ("deduction", Decimal("0.2"), ""),
    ]

    _, _, one = str(
        manager(hills, f"{speech.say('pay out {name} {amount}', name='Ama Ridge', amount='')}").text
    ).rpartition(": ")
    assert manager(hills, one).kind is Kind.CHANGED, one
    hills.text("took 2 sheets 1 kg rss3 from Esi")
    everybody = speech.say("To close all text: pay out all {plain}", plain="1.55").rpartition(": ")[2]
    assert manager(hills, everybody).kind is Kind.CHANGED, everybody


class TestProof:
    """A number can be forged: a manager with a PIN is asked for it before money moves."""

    @pytest.fixture
    def hills(self, tmp_path: Path) -> Iterator[Cooperative]:
        found = Cooperative(opened(tmp_path))
        two_takes(found)
        assert manager(found, "pin 4821").kind is Kind.CHANGED
        yield found
        found.books.close()

    @pytest.mark.parametrize(
        "text", ["advance 5 Ama Ridge", "levy 2%", "pay out Ama Ridge 32.71", "pay out all 32.71", "price rss3 1.6"]
    )
    def test_what_moves_money_waits_for_the_pin(self, hills: Cooperative, text: str) -> None:
        asked = manager(hills, text)
        wrong = manager(hills, "1111")
        done = manager(hills, "4821")

        assert asked.kind is Kind.ASKED
        assert str(asked.text).startswith("Send your PIN to confirm: ")
        assert wrong.kind is Kind.REFUSED
        assert done.kind is Kind.CHANGED
        assert manager(hills, "4821").text == "No change waits for a PIN. Nothing changed."

    def test_a_second_change_before_the_pin_drops_both(self, hills: Cooperative) -> None:
        manager(hills, "advance 5 Ama Ridge")

        assert "neither is done" in str(manager(hills, "advance 500 Yaw Hollow").text)
        manager(hills, "4821")

        with hills.books.transaction() as tx:
            assert payouts.open_money(tx, hills.cooperative.id) == []

    def test_the_sum_is_looked_at_again_when_the_pin_comes(self, hills: Cooperative) -> None:
        manager(hills, "pay out Ama Ridge 32.71")
        hills.text("took 2 sheets 1 kg rss3 from Ama")

        assert "to pay 34.26 USD" in str(manager(hills, "4821").text)
        assert closed(hills) == []

    def test_a_change_waits_ten_minutes(self, hills: Cooperative) -> None:
        manager(hills, "advance 5 Ama Ridge")

        hills.text("4821", HANA, day=1)

        with hills.books.transaction() as tx:
            assert payouts.open_money(tx, hills.cooperative.id) == []

    def test_the_pin_is_not_kept_as_it_was_sent(self, hills: Cooperative) -> None:
        manager(hills, "levy 2%")
        manager(hills, "4821")

        with hills.books.engine.session() as session:
            assert session.execute("select id from messages where body like '%4821%'") == []

    def test_five_wrong_pins_block_such_changes_by_text(self, hills: Cooperative) -> None:
        manager(hills, "levy 2%")
        for _ in range(5):
            last = manager(hills, "pin 1111")

        assert "Too many wrong PINs" in str(last.text)
        assert "Too many wrong PINs" in str(manager(hills, "levy 2%").text)

    def test_a_new_pin_needs_the_old_one(self, hills: Cooperative) -> None:
        assert manager(hills, "pin 739104").text == "Send your old PIN to confirm the new one."
        assert manager(hills, "4821").kind is Kind.CHANGED

        manager(hills, "levy 2%")
        assert manager(hills, "739104").kind is Kind.CHANGED

    def test_questions_need_none(self, hills: Cooperative) -> None:
        for text in ("pay out", "pay out Ama Ridge", "levy", "day"):
            assert "PIN" not in str(manager(hills, text).text)

    def test_changes_at_his_farm_and_at_his_cooperative_do_not_mix(self, hills: Cooperative) -> None:
        with hills.books.transaction() as tx:
            who = {"language": "en", "blocks": (), "at": START, "message_id": None}
            people.enrol(tx, name="Hana", number=HANA, farm_id=hills.ama.id, role=Role.OWNER, **who)
        manager(hills, "advance Tobin 20")

        assert "neither is done" in str(manager(hills, "advance 5 Yaw Hollow").text)
        assert manager(hills, "4821").kind is Kind.REFUSED
        manager(hills, "advance 5 Yaw Hollow")
        assert "neither is done" in str(manager(hills, "advance Tobin 20").text)


def test_where_a_pin_is_required_money_moves_with_it_or_on_the_page(tmp_path: Path) -> None:
    hills = Cooperative(opened(tmp_path), house=House(requires_pin=True))
    assert manager(hills, "advance 5 Ama Ridge").kind is Kind.REFUSED
    manager(hills, "pin 4821")

    manager(hills, "advance 5 Ama Ridge")

    assert manager(hills, "4821").kind is Kind.CHANGED


SEASON = st.lists(
    st.one_of(
        st.tuples(st.just("take"), st.integers(100, 60_000)),
        st.tuples(st.just("advance"), st.integers(1, 9_000)),
        st.tuples(st.just("levy"), st.integers(0, 1_500)),
        st.tuples(st.just("set"), st.integers(100, 60_000)),
        st.tuples(st.just("cancel"), st.just(0)),
        st.tuples(st.just("undo"), st.just(0)),
        st.tuples(st.just("pay"), st.just(0)),
    ),
    min_size=3,
    max_size=14,
)


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(SEASON)
def test_a_season_of_texts_adds_up_to_the_last_unit(
    tmp_path_factory: pytest.TempPathFactory, season: list[tuple[str, int]]
) -> None:
    """All receipts as they stand, less levy and what came off, is what was paid and what is carried still."""
    hills = Cooperative(opened(tmp_path_factory.mktemp("season")))
    for n, (what, figure) in enumerate(season):
        if what == "take":
            hills.text(f"took {n + 1} sheets {figure / 1000:.3f} kg rss3 from Ama again")
        elif what == "advance":
            manager(hills, f"advance {figure / 100:.2f} Ama Ridge")
        elif what == "levy":
            manager(hills, f"levy {figure / 100:.2f}%")
        elif what == "set":
            manager(hills, f"set 1001 {figure / 1000:.3f} kg")
        elif what == "cancel":
            manager(hills, "cancel advance Ama Ridge")
        elif what == "undo":
            hills.text("undo")
        else:
            _pay(hills)
    _pay(hills)

    found = closed(hills)
    with hills.books.transaction() as tx:
        standing = [each for each in entries.standing(tx, hills.ama.id) if each.computed]
        money = [each for each in payouts.money_of(tx, hills.cooperative.id, hills.ama.id) if each.kind == "advance"]
        assert reckoned.everybody(tx, hills.cooperative) == []
    receipts = sum((Decimal((each.computed or {})["amount"]) for each in standing), Decimal(0))
    assert sum((each.sums.receipts for each in found), Decimal(0)) == receipts
    assert sum((each.sums.deductions for each in found), Decimal(0)) == sum((e.amount for e in money), Decimal(0))
    left = found[0].sums.carried if found else Decimal(0)
    off = sum((each.sums.levy + each.sums.deductions for each in found), Decimal(0))
    assert receipts - off == sum((each.sums.paid for each in found), Decimal(0)) - left
    assert all(
        sum((Decimal(amount) for *_, amount in each.slip), Decimal(0)) == each.sums.paid - each.sums.carried
        for each in found
    )
    hills.books.close()


def _pay(hills: Cooperative) -> None:
    """Whatever is due is proposed and closed at the sum that was told."""
    said = manager(hills, "pay out Ama Ridge")
    if said.kind is Kind.ASKED:
        assert manager(hills, str(said.text).rpartition(": ")[2]).kind is Kind.CHANGED

"""What is kept of a person: given out whole, and taken out for good without breaking the books."""

from datetime import timedelta
from decimal import Decimal
from pathlib import Path

import pytest

from bot.books import Books, alarms, entries, messages, outbox, people, personal, pins, wages
from bot.books.model import Person
from bot.talk.answer import answer
from bot.talk.exchange import Incoming
from parsers.reading import Role
from tests.books import made

WANDA, MIRA, NOW = "+447700900101", "+447700900103", made.NOW


class Farm:
    """A farm with an owner and two tappers who text."""

    def __init__(self, books: Books) -> None:
        self.books, self.n = books, 0
        with books.transaction() as tx:
            self.id = made.a_farm(tx).id
            self.tobin = made.a_person(tx, self.id)
            made.a_person(tx, self.id, WANDA, "Wanda", Role.OWNER)
            made.a_person(tx, self.id, MIRA, "Mira")

    def text(self, number: str, text: str, day: int = 0) -> str | None:
        self.n += 1
        at = NOW + timedelta(days=day, minutes=self.n)
        return answer(self.books, Incoming(f"t{self.n}", number, text, at, at, "practice"), at).text

    def forget(self) -> Person:
        return self.books.run_transaction(lambda tx: personal.forget(tx, self.tobin, NOW + timedelta(days=30)))

    def everything(self) -> str:
        with self.books.engine.session() as session:
            tables = [row["name"] for row in session.execute(self.books.engine.tables)]
            return "\n".join(str(row) for table in tables for row in session.execute(f"select * from {table}"))


@pytest.fixture
def farm(books: Books) -> Farm:
    """A farm where Tobin worked, was paid, lent his phone, was named by others, and has a PIN."""
    farm = Farm(books)
    farm.text(made.TOBIN, "block 3 18 litres, my leg hurts")
    farm.text(WANDA, "pay Tobin 0.40 per kg")
    farm.text(WANDA, "advance Tobin 2")
    farm.text(made.TOBIN, "this is Mira on Tobins phone, block 3 12 litres")
    farm.text(MIRA, "thanks, call Tobin 07700 900102 or +44 7700 900102")
    farm.text(made.TOBIN, "block 3")
    farm.text(WANDA, "settle 0.33", 20)
    with books.transaction() as tx:
        pins.choose(tx, farm.tobin.id, pins.hashed("4821"), NOW)
        alarms.sound(tx, number=made.TOBIN, kind="loop", line="x", at=NOW)
    return farm


def test_nothing_of_him_is_left_by_name_number_or_words(farm: Farm) -> None:
    before = farm.everything()
    assert all(each in before for each in ("Tobin", made.TOBIN, "my leg hurts", "900102"))

    farm.forget()

    after = farm.everything()
    for each in ("Tobin", made.TOBIN, "my leg hurts", "900102", "7700 900102"):
        assert each not in after, [line for line in after.splitlines() if each in line]


def test_entries_and_pay_stay_as_they_were_under_a_neutral_name(farm: Farm) -> None:
    def figures() -> tuple[list[object], list[object]]:
        with farm.books.transaction() as tx:
            lines = [(each.record, each.by.id, each.replaces) for each in entries.all_entries(tx, farm.id)]
            pay = [(each.person_id, each.amount) for each in wages.money(tx, farm.id)]
            return lines, [*pay, *((each.person_id, each.paid) for each in wages.settlements(tx, farm.id))]

    before = figures()
    neutral = farm.forget()

    assert figures() == before
    with farm.books.transaction() as tx:
        assert neutral.name in {each.by.name for each in entries.all_entries(tx, farm.id)}
    farm.books.check()


def test_texts_of_others_keep_their_other_words(farm: Farm) -> None:
    farm.forget()

    with farm.books.transaction() as tx:
        (said,) = [each.text for each in messages.latest_from(tx, MIRA, 5)]
        owner = [each.text for each in messages.latest_from(tx, WANDA, 5)]
    assert said.startswith("thanks, call Person ")
    assert any(each.startswith("advance Person ") and each.endswith(" 2") for each in owner)


def test_his_number_is_a_strangers_afterwards_and_can_be_enrolled_anew(farm: Farm) -> None:
    farm.forget()

    assert "ask your cooperative" in str(farm.text(made.TOBIN, "block 3 18 litres", 31))
    with farm.books.transaction() as tx:
        again = made.a_person(tx, farm.id)
        assert again.id != farm.tobin.id
        assert people.memberships(tx, farm.tobin.id) == []


def test_nothing_more_is_sent_to_him(farm: Farm) -> None:
    farm.forget()

    with farm.books.transaction() as tx:
        waiting = outbox.listing(tx, NOW - timedelta(days=1), NOW + timedelta(days=60))
    assert {each.state for each in waiting if each.text == ""} == {"failed"}


def test_a_name_that_another_has_too_is_left_in_others_texts(books: Books) -> None:
    farm = Farm(books)
    with books.transaction() as tx:
        made.a_person(tx, farm.id, "+447700900177", "Tobin")
    farm.text(MIRA, "thanks Tobin, +447700900102")

    farm.forget()

    with books.transaction() as tx:
        (said,) = [each.text for each in messages.latest_from(tx, MIRA, 5)]
    assert said.startswith("thanks Tobin, Person ")


def test_all_that_is_kept_is_given_out(farm: Farm) -> None:
    with farm.books.transaction() as tx:
        found = personal.everything_about(tx, farm.tobin)

    assert found["person"]["number"] == made.TOBIN
    assert found["person"]["has_pin"] is True
    assert [each["farm"] for each in found["roles"]] == ["Reed Hollow"]
    assert [each["record"]["litres"] for each in found["entries"]] == [18]
    assert found["texts"][0]["text"] == "block 3 18 litres, my leg hurts"
    assert len(found["texts"]) == 3
    assert any("advance 2.00 USD" in each["text"] for each in found["texts_to_him"])
    assert found["pay_terms"] == [{"since": "2026-03-18", "terms": {"per_kilo": "0.40"}}]
    assert [Decimal(each["amount"]) for each in found["money"]] == [2]
    assert "4821" not in str(found)
    assert "hash" not in str(found)


def test_what_others_are_is_not_given_out(farm: Farm) -> None:
    with farm.books.transaction() as tx:
        found = str(personal.everything_about(tx, farm.tobin))

    assert MIRA not in found
    assert WANDA not in found


def test_a_manager_and_collector_is_given_out_and_forgotten(tmp_path: Path) -> None:
    from bot.books import cooperatives, disputes
    from tests.talk import cooperative as hills_of

    hills = hills_of.Cooperative(hills_of.opened(tmp_path))
    hills.text("took 24 sheets 11.8 kg rss3 from Ama")
    hills.text("1001 it was 21 kg, Musa cheats", hills_of.AMA)
    with hills.books.transaction() as tx:
        ama = people.person_by_number(tx, hills_of.AMA)
        assert ama is not None
        cooperatives.choose(tx, hills.hana.id, hills.cooperative.id, NOW)
        musa, hana = (personal.everything_about(tx, each) for each in (hills.musa, hills.hana))
        assert [each["place"] for each in musa["rounds"]] == ["Lower Gate", "River Landing"]
        assert (hana["manages"], hana["chose_cooperative"]) == (["Three Hills"], "Three Hills")
        assert personal.everything_about(tx, ama)["disputes"][0]["said"] == "1001 it was 21 kg, Musa cheats"

        personal.forget(tx, hills.musa, NOW)
        assert "Musa" not in disputes.open_at_cooperative(tx, hills.cooperative.id)[0].said
        assert not any("Musa" in each.text for each in outbox.all_to(tx, hills_of.HANA))
        personal.forget(tx, ama, NOW)
        assert not any("Ama (" in each.text for each in outbox.all_to(tx, hills_of.HANA))
        personal.forget(tx, hills.hana, NOW)

        assert cooperatives.managers(tx, hills.cooperative.id) == []
        assert cooperatives.chosen(tx, hills.hana.id) is None
        assert personal.everything_about(tx, hills.musa)["rounds"] == []
        (left,) = disputes.open_at_cooperative(tx, hills.cooperative.id)
        assert (left.said, left.kg) == ("", 21)
    hills.books.close()

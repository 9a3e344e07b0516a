"""What a grower asks of his pay-outs: his own alone, line by line, in his words and language."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from bot.books import cooperatives, people
from bot.speech.parts import count_parts
from bot.talk.exchange import Answer, Kind
from parsers.reading import Role
from tests.talk.cooperative import AMA, ESI, HANA, MUSA, START, TOBIN, YAW, Cooperative, opened


@pytest.fixture
def hills(tmp_path: Path) -> Iterator[Cooperative]:
    found = Cooperative(opened(tmp_path))
    yield found
    found.books.close()


def paid_and_gathered(hills: Cooperative) -> None:
    """A pay-out of one take with a levy, an advance and acid; a take and tools since."""
    hills.text("levy 2 %", HANA)
    hills.text("took 24 sheets 11.8 kg rss3 from Ama, 10 sheets 5 kg rss3 from Yaw")
    hills.text("advance 5 to Ama Ridge", HANA)
    hills.text("acid 2 litres 1.20 for ama ridge", HANA)
    assert hills.text("pay out Ama Ridge 11.72", HANA).kind is Kind.CHANGED
    hills.text("took 20 sheets 9.3 kg rss3 from Ama")
    hills.text("tools 2 Ama Ridge", HANA)


def ask(hills: Cooperative, text: str, number: str = AMA) -> Answer:
    return hills.text(text, number)


def test_the_last_pay_out_and_what_has_gathered_since_are_told(hills: Cooperative) -> None:
    paid_and_gathered(hills)

    answer = ask(hills, "my pay-outs?")

    assert answer.kind is Kind.ANSWERED
    assert answer.text == (
        "Three Hills, pay-out 1 of 18 Mar to Ama Ridge: receipts 1001 18.29; levy 2% x 18.29 -0.37; advance -5.00; "
        "acid 2 L -1.20; paid 11.72 USD. Not paid out yet: receipts 1003 14.42; levy 2% x 14.42 -0.29; tools -2.00; "
        "due 12.13 USD."
    )
    assert count_parts(answer.text).parts == 2


@pytest.mark.parametrize(
    "text",
    [
        "pay out", "Pay-out?", "payouts", "my pay outs please", "last pay-out", "what does the cooperative owe me?",
        "what did three hills pay me", "how much does the coop owe", "pay due?",
        "how much is the cooperative paying me", "my balance", "payment from the cooperative?", "statement",
    ],
)  # fmt: skip
def test_it_can_be_asked_in_many_words(hills: Cooperative, text: str) -> None:
    paid_and_gathered(hills)
    with hills.books.transaction() as tx:
        tobin = people.person_by_number(tx, TOBIN)
        assert tobin is not None
        people.dismiss(
            tx, tobin.id, hills.ama.id, Role.TAPPER, at=START
        )  # `pay due?` is about tappers where there are any

    assert str(ask(hills, text).text).startswith("Three Hills, pay-out 1 of 18 Mar to Ama Ridge: receipts 1001")


@pytest.mark.parametrize(
    ("language", "text", "start", "words"),
    [
        ("fr", "mes paiements", "Three Hills, paiement 1 du 18 mars", "Pas encore paye: recus 1003"),
        (
            "id",
            "berapa utang koperasi ke saya",
            "Three Hills, pembayaran 1 tanggal 18 Mar",
            "Belum dibayar: struk 1003",
        ),
        ("th", "สหกรณ์ค้างจ่ายเท่าไหร่", "Three Hills จ่ายเงินครั้งที่ 1", "ยังไม่ได้จ่าย: ใบรับ 1003"),
        ("th", "เงินค่ายางเท่าไหร่", "Three Hills จ่ายเงินครั้งที่ 1", "ยังไม่ได้จ่าย: ใบรับ 1003"),
        ("vi", "hợp tác xã còn nợ tôi bao nhiêu", "Three Hills, lan chi 1 ngày 18 thg 3", "Chua tra: bien lai 1003"),
        ("es", "cuanto me debe la cooperativa", "Three Hills, pago 1 del 18 mar", "Aún sin pagar: recibos 1003"),
    ],
)
def test_it_is_asked_and_answered_in_every_language(
    hills: Cooperative, language: str, text: str, start: str, words: str
) -> None:
    paid_and_gathered(hills)
    with hills.books.transaction() as tx:
        ama = people.person_by_number(tx, AMA)
        assert ama is not None
        people.set_language(tx, ama.id, language)

    answer = str(ask(hills, text).text)

    assert answer.startswith(start)
    assert plain(words) in plain(answer)


def plain(text: str) -> str:
    from bot.speech.language import economical

    return economical(text).replace("ú", "u").replace("é", "e")


def test_a_grower_is_told_of_his_own_alone(hills: Cooperative) -> None:
    paid_and_gathered(hills)

    yaw, esi = ask(hills, "mes paiements", YAW), ask(hills, "koperasi utang berapa", ESI)

    assert str(yaw.text).startswith(
        "Three Hills: pas encore de paiement à Yaw Hollow. Pas encore payé: recus 1002 7,75"
    )
    assert "1001" not in f"{yaw.text} {esi.text}"
    assert esi.text == "Three Hills: belum ada pembayaran untuk Esi Bend. Belum ada yang baru sejak itu."
    assert "1001" not in str(ask(hills, "pay out Ama Ridge", YAW).text)


def test_who_owns_no_farm_is_told_nothing_of_its_money(hills: Cooperative) -> None:
    paid_and_gathered(hills)

    for number in (TOBIN, MUSA):
        assert "18.29" not in str(ask(hills, "pay out", number).text)
        assert "18.29" not in str(ask(hills, "what does the cooperative owe Ama", number).text)


def test_a_grower_pays_nothing_out(hills: Cooperative) -> None:
    paid_and_gathered(hills)

    ask(hills, "pay out Ama Ridge 12.13")

    assert "due 12.13 USD" in str(ask(hills, "pay out").text)


def test_what_was_left_over_and_what_waits_for_its_price_are_told(hills: Cooperative) -> None:
    hills.text("took 24 sheets 11.8 kg rss3 from Ama, 4 sheets 2 kg rss5 from Ama")
    hills.text("advance 30 Ama Ridge", HANA)

    before = str(ask(hills, "pay out").text)
    hills.text("pay out Ama Ridge 0", HANA)
    after = str(ask(hills, "pay out").text)

    assert before == (
        "Three Hills: no pay-out to Ama Ridge yet. Not paid out yet: receipts 1001 18.29; advance -30.00; due 0.00 USD. "
        "11.71 USD is carried to the next. Without a price, not paid: 1002."
    )
    assert "paid 0.00 USD. Not paid out yet: left from before -11.71; due 0.00 USD. 11.71 USD is carried" in after


def test_many_lines_are_told_by_their_kinds(hills: Cooperative) -> None:
    hills.text("took 24 sheets 11.8 kg rss3 from Ama")
    hills.text("pay out Ama Ridge 18.29", HANA)
    for _ in range(30):
        hills.text("took 4 sheets 2 kg rss3 from Ama again")
        hills.text("pay out Ama Ridge 3.10", HANA)
    for n in range(30):
        hills.text(f"set {1002 + n} 2.2 kg", HANA)

    answer = ask(hills, "pay out")

    assert "receipt changed: 30x 9.30; due 9.30 USD" in str(answer.text)
    assert answer.parts <= 3


def test_pay_of_tappers_is_asked_and_set_as_before(hills: Cooperative) -> None:
    paid_and_gathered(hills)

    assert "Pay of Tobin" in str(ask(hills, "pay Tobin 50%").text)
    assert "Three Hills" not in str(ask(hills, "pay due?").text)
    assert "Three Hills" not in str(ask(hills, "pay out Tobin").text)


def test_a_farm_that_went_to_another_cooperative_is_still_told_what_it_is_owed(hills: Cooperative) -> None:
    paid_and_gathered(hills)
    with hills.books.transaction() as tx:
        valley = cooperatives.add(
            tx, name="Far Valley", timezone="Asia/Bangkok", currency="USD", language="en", closing_hour=19, at=START
        )
        cooperatives.add_farm(tx, valley.id, hills.ama.id)

    answer = str(ask(hills, "pay out").text)

    assert "due 12.13 USD" in answer
    assert "Far Valley: no pay-out to Ama Ridge yet." in answer

"""What a collector takes: sheets, latex and lump of several farms in one text, its money, and receipts at once."""

from collections.abc import Iterator
from decimal import Decimal
from pathlib import Path

import pytest

from bot.talk.exchange import Kind
from tests.talk.cooperative import AMA, ESI, MUSA, TOBIN, YAW, Cooperative, opened


@pytest.fixture
def hills(tmp_path: Path) -> Iterator[Cooperative]:
    found = Cooperative(opened(tmp_path))
    yield found
    found.books.close()


def figures(hills: Cooperative, farm: str) -> list[tuple[str, str | None]]:
    """Kilos paid for and amount of each take that stands at a farm."""
    found = hills.book(getattr(hills, farm))
    return [(each.computed["paid_kg"], each.computed.get("amount")) for each in found if each.computed]


def test_several_farms_in_one_text_go_each_to_its_book(hills: Cooperative) -> None:
    hills.rolled(AMA, 24, "12.1", day=-20)

    said = hills.text(
        "took 24 sheets 11.8 kg rss3 from Ama, 10 sheets 4.9 kg rss4 from Yaw at 1.40, latex 20 l drc 31 esi"
    )

    assert said.kind is Kind.ENTERED
    assert figures(hills, "ama") == [("11.8", "18.29")]
    assert figures(hills, "yaw") == [("4.9", "6.86")]
    assert figures(hills, "esi") == [("6.104", "7.32")]  # 20 L x 0.98449 kg/L x 31 % = 6.104 kg x 1.20
    assert "Ama Ridge 24 sheets, 11.8 kg RSS3 x 1.55 = 18.29 USD. Receipt 1001." in str(said.text)


def test_receipts_go_at_once_to_grower_and_tapper_in_their_languages(hills: Cooperative) -> None:
    hills.rolled(AMA, 24, "12.1", day=-20)

    said = hills.text("took 24 sheets 11.8 kg rss3 from Ama, 10 sheets 4.9 kg rss3 from Yaw")

    assert {each.to for each in said.to_others} == {AMA, TOBIN, YAW}
    assert hills.told(AMA) == [
        "Receipt 1001, Musa: 24 sheets, 11.8 kg RSS3 x 1.55 = 18.29 USD. Book: 12.1 kg, fits. Not right? Answer: 1001 and why."
    ]
    assert hills.told(YAW)[0].startswith("Recu 1002, Musa: 10 feuilles, 4,9 kg RSS3 x 1,55 = 7,60 USD.")
    assert "1001" in hills.told(TOBIN)[0]
    assert "แผ่น" in hills.told(TOBIN)[0]


def test_several_lots_of_one_farm_make_one_text_with_two_receipts(hills: Cooperative) -> None:
    hills.text("24 sheets 11.8 kg rss3 and 10 sheets 4 kg rss4 1.3 from Ama")

    (said,) = hills.told(AMA)
    assert "Receipt 1001" in said
    assert "Receipt 1002" in said


@pytest.mark.parametrize(
    ("text", "farm", "paid", "amount"),
    [
        # Worked examples of published rules and prices: 100 kg at 32 % x 67.00 baht; lists of slab by dry content.
        ("latex 100 kg drc 32 from Esi price 67", "esi", "32.000", "2144.00"),
        ("lump 100 kg kkk 60 from Yaw price 20432", "yaw", "60.000", "1225920.00"),
        # By hand: 100 kg at 40 % water are 60 kg dry; the tare goes off before the water does.
        ("lump 100 kg moisture 40% from Yaw price 1", "yaw", "60.000", "60.00"),
        ("lump 101.5 kg tare 1.5 kg moisture 40% from Yaw price 1", "yaw", "60.000", "60.00"),
        # No moisture, no dry content: by weight as it is; age decides nothing about money.
        ("lump 30 kg 5 days old from Yaw price 0.7", "yaw", "30", "21.00"),
        # 250 kg at 7 % as at the 1.5 % that the best raw grade may hold: 250 x 93 / 98.5 = 236.041.
        ("20 sheets 250 kg rss3 moisture 7% from Ama price 2", "ama", "236.041", "472.08"),
        # Within what is allowed nothing is taken off.
        ("20 sheets 10 kg rss3 moisture 1% from Ama price 2", "ama", "10", "20.00"),
        # Halves are rounded up: 4.5 x 1.55 = 6.975.
        ("9 sheets 4.5 kg rss3 from Ama", "ama", "4.5", "6.98"),
    ],
)
def test_the_money_is_that_of_the_worked_examples(tmp_path: Path, text: str, farm: str, paid: str, amount: str) -> None:
    hills = Cooperative(opened(tmp_path))
    for kind in ("latex", "lump", "RSS3"):  # prices of the list that do not stand in the way of those in the text
        hills.price(kind, text.rsplit(" ", 1)[1] if "price" in text else "1.55", day=-1)

    assert hills.text(text).kind is Kind.ENTERED

    assert [(Decimal(kg), money) for kg, money in figures(hills, farm)] == [(Decimal(paid), amount)]


def test_rupiah_have_no_decimals(tmp_path: Path) -> None:
    hills = Cooperative(opened(tmp_path), currency="IDR")
    hills.price("lump", "20432", day=-1)

    hills.text("lump 10 kg kkk 50 from Yaw")

    assert figures(hills, "yaw") == [("5.000", "102160")]


def test_the_price_is_that_of_the_day_of_the_take(hills: Cooperative) -> None:
    hills.price("RSS3", "1.60", day=0)

    hills.text("yesterday took 10 sheets 5 kg rss3 from Ama")
    hills.text("took 10 sheets 5.1 kg rss3 from Ama")

    assert [money for _, money in figures(hills, "ama")] == ["7.75", "8.16"]  # 5 x 1.55, then 5.1 x 1.60


def test_a_price_far_from_the_list_is_asked_about(hills: Cooperative) -> None:
    said = hills.text("took 7 sheets 3 kg rss3 from ama at 15")

    assert said.kind is Kind.REFUSED
    assert said.text == "Price 15? Today it is 1.55. Nothing entered."
    assert hills.book(hills.ama) == []


def test_a_grade_without_a_price_is_taken_and_told(hills: Cooperative) -> None:
    assert "No price today." in str(hills.text("took 10 sheets 5 kg rss2 from Ama").text)
    assert figures(hills, "ama") == [("5", None)]


def test_a_dry_content_that_cannot_be_is_no_price(hills: Cooperative) -> None:
    assert hills.text("took 30 l latex drc 132 from esi").kind is Kind.ASKED
    assert hills.book(hills.esi) == []


def test_less_than_the_book_is_told_with_the_range(hills: Cooperative) -> None:
    hills.rolled(AMA, 24, "12.1", day=-20)

    said = str(hills.text("took 24 sheets 10.9 kg rss3 from Ama").text)

    assert "Book: 12.1 kg (11.7-12.5), 1.2 less." in said


def test_more_sheets_than_the_book_knows_are_told(hills: Cooperative) -> None:
    hills.rolled(YAW, 10, day=-15)

    assert "Book: only 10 sheets." in str(hills.text("took 12 sheets 6 kg rss3 from Yaw").text)


def test_lump_and_latex_are_compared_with_what_was_reported(hills: Cooperative) -> None:
    hills.text("cup lump block 1 30 kg", YAW, day=-3)
    hills.text("block 1 18 litres", ESI, hour=7)

    assert "Book: 30.0 kg (29.1-30.9), 3.0 less." in str(hills.text("lump 27 kg Yaw", hour=9).text)
    assert "Book: 5.8 kg, fits." in str(hills.text("18 l latex drc 33 from Esi", hour=9).text)


def test_what_was_taken_is_not_ready_any_more(hills: Cooperative) -> None:
    hills.rolled(AMA, 24, "12.1", day=-20)
    hills.text("cup lump block 1 30 kg", YAW, day=-3)
    hills.text("took 14 sheets 7 kg rss3 from Ama, lump 30 kg from Yaw")

    assert hills.text("at 1").text == "Lower Gate: Ama Ridge 10 sheets 5.0 kg."


def test_a_farm_that_is_not_known_is_asked_about_and_the_answer_completes_the_text(hills: Cooperative) -> None:
    asked = hills.text("took 10 sheets 5 kg rss3 from Bob, 12 sheets 6 kg rss3 from Esi")

    assert asked.kind is Kind.ASKED
    assert "Bob 10 sheets, 5 kg: from which farm, Ama Ridge, Yaw Hollow or Esi Bend?" in str(asked.text)
    assert hills.book(hills.esi) == []

    assert hills.text("yaw").kind is Kind.ENTERED
    assert figures(hills, "yaw") == [("5", "7.75")]
    assert figures(hills, "esi") == [("6", "9.30")]


@pytest.mark.parametrize("answer", ["yaw", "from yaw", "Yaw Hollow", "yaw holow"])
def test_the_answer_may_be_worded_in_any_way(tmp_path: Path, answer: str) -> None:
    hills = Cooperative(opened(tmp_path))
    hills.text("took 10 sheets 5 kg rss3 from Bob")

    hills.text(answer)

    assert figures(hills, "yaw") == [("5", "7.75")]


def test_of_many_lots_only_what_does_not_fit_is_told_beside_the_money(hills: Cooperative) -> None:
    hills.rolled(AMA, 24, "12.1", day=-20)
    hills.rolled(YAW, 20, "10.0", day=-20)

    said = hills.text("took 24 sheets 12 kg rss3 from Ama, 20 sheets 9 kg rss3 from Yaw, 9 sheets 4 kg rss3 from Esi")

    assert "fits" not in str(said.text)
    assert "Book: 10.0 kg (9.7-10.3), 1.0 less." in str(said.text)
    assert said.parts == 2


@pytest.mark.parametrize("language", ["en", "fr", "id", "th", "vi", "es"])
def test_a_receipt_takes_two_parts_at_most_in_any_language(tmp_path: Path, language: str) -> None:
    hills = Cooperative(opened(tmp_path))
    with hills.books.transaction() as tx:
        from bot.books import people
        from bot.speech.parts import count_parts

        ama = people.person_by_number(tx, AMA)
        assert ama is not None
        people.set_language(tx, ama.id, language)
    hills.text({"th": "รีด 24 แผ่น"}.get(language, "rolled 24 sheets"), AMA, day=-20)

    hills.text("took 24 sheets 9.8 kg rss3 mould from Ama")

    (said,) = hills.told(AMA)
    assert count_parts(said).parts <= 2, said


@pytest.mark.parametrize(
    "text",
    [
        "Took from Ama 24 sheets weight 11.8kg grade rss 3",
        "ama: 24 pcs / 11.8 kg / rss3",
        "picked up 24 sheets 11,8 kilo rss3 ama ridge",
        "hi, collected 24 sheets from ama ridge, 11.8 kg RSS 3",
        "ama 24 11.8 rss3",
        "ama 24 11.8 rss3 1.55",
    ],
)
def test_collectors_write_it_in_their_own_ways(tmp_path: Path, text: str) -> None:
    hills = Cooperative(opened(tmp_path))

    hills.text(text)

    assert figures(hills, "ama") == [("11.8", "18.29")]
    assert [each.record.sheets for each in hills.book(hills.ama)] == [24]


def test_a_correction_in_the_collectors_own_way_changes_the_take_and_adds_none(hills: Cooperative) -> None:
    hills.text("took 24 sheets 11.8 kg rss3 from Ama, 10 sheets 5 kg rss4 1.4 from Ama")

    said = hills.text("sorry ama 24 sheets was 11.9")

    assert said.kind is Kind.CHANGED
    assert sorted(figures(hills, "ama")) == [("11.9", "18.45"), ("5", "7.00")]


def test_a_new_reason_and_grade_by_the_receipts_number(hills: Cooperative) -> None:
    hills.price("RSS4", "1.40", day=-2)
    hills.text("took 24 sheets 11.8 kg rss3 from Ama")

    hills.text("1001 rss4 mould")

    (take,) = hills.book(hills.ama)
    assert take.computed is not None
    assert (take.record.grade, take.computed["notes"], take.computed["amount"]) == ("RSS4", ["mould"], "16.52")


def test_undo_is_no_answer_to_from_whom(hills: Cooperative) -> None:
    hills.text("took 24 sheets 11.8 kg rss3 from Ama")
    hills.text("took 10 sheets 5 kg rss3 from Bob")

    hills.text("undo ama")

    assert hills.book(hills.ama) == []


def test_two_unknown_farms_are_asked_about_in_turn(hills: Cooperative) -> None:
    hills.text("took 10 sheets 5 kg rss3 from Bob, 12 sheets 6 kg rss3 from Zed")

    assert hills.text("yaw").kind is Kind.ASKED
    assert hills.text("ama").kind is Kind.ENTERED
    assert figures(hills, "yaw") == [("5", "7.75")]
    assert figures(hills, "ama") == [("6", "9.30")]


def test_a_lot_without_a_farm_is_of_the_only_farm_at_the_place(hills: Cooperative) -> None:
    hills.text("at 2")

    hills.text("12 sheets 6 kg rss3")

    assert figures(hills, "esi") == [("6", "9.30")]


def test_a_lot_without_a_farm_where_there_are_two_is_asked_about(hills: Cooperative) -> None:
    hills.text("at 1")

    said = hills.text("12 sheets 6 kg rss3")

    assert said.kind is Kind.ASKED
    assert "12 sheets, 6 kg: from which farm, Ama Ridge, Yaw Hollow" in str(said.text)


def test_farms_are_known_by_their_owners_and_with_slips(hills: Cooperative) -> None:
    hills.text(
        "took 24 sheets 11.8 kg rss3 from Ama rige, 10 sheets 4 kg rss3 from yaw holow, 9 sheets 4 kg rss3 from Esi"
    )

    assert [len(hills.book(farm)) for farm in (hills.ama, hills.yaw, hills.esi)] == [1, 1, 1]


def test_reasons_of_a_grade_are_kept_and_told(hills: Cooperative) -> None:
    hills.text("took 24 sheets 11.8 kg rss3 mould bubbles from Ama, 10 sheets 5 kg rss3 dirty from Yaw")

    (ama,), (yaw,) = hills.book(hills.ama), hills.book(hills.yaw)
    assert ama.computed is not None
    assert yaw.computed is not None
    assert ama.computed["notes"] == ["mould", "bubbles"]
    assert yaw.computed["notes"] == ["dirt"]
    assert "RSS3, mould, bubbles x 1.55" in hills.told(AMA)[0]


@pytest.mark.parametrize(
    ("language", "text", "notes"),
    [
        ("fr", "pris 24 feuilles 11,8 kg rss3 moisi de Ama", ["mould"]),
        ("id", "ambil 24 lembar 11,8 kg rss3 kotor dari Ama", ["dirt"]),
        ("es", "recogí 24 láminas 11,8 kg rss3 burbujas de Ama", ["bubbles"]),
        ("vi", "lấy 24 tờ 11,8 kg rss3 mốc từ Ama", ["mould"]),
    ],
)
def test_takes_are_read_in_other_languages(tmp_path: Path, language: str, text: str, notes: list[str]) -> None:
    hills = Cooperative(opened(tmp_path))
    with hills.books.transaction() as tx:
        from bot.books import people

        people.set_language(tx, hills.musa.id, language)

    hills.text(text)

    assert figures(hills, "ama") == [("11.8", "18.29")]
    (ama,) = hills.book(hills.ama)
    assert ama.computed is not None
    assert ama.computed["notes"] == notes


class TestLateDoubleAndOutOfOrder:
    """Texts of a collector without signal do no harm."""

    TEXT = "took 24 sheets 11.8 kg rss3 from Ama"

    def test_the_same_text_again_hours_later_is_no_second_take(self, hills: Cooperative) -> None:
        hills.text(self.TEXT, hour=10)

        said = hills.text(self.TEXT, hour=19)

        assert said.kind is Kind.ANSWERED
        assert said.text == "Already in the book: Ama Ridge 24 sheets, 11.8 kg, 1001."
        assert len(hills.book(hills.ama)) == 1
        assert len(hills.told(AMA)) == 1

    def test_a_further_lot_just_alike_is_one_when_the_text_says_so(self, hills: Cooperative) -> None:
        hills.text(self.TEXT, hour=10)
        hills.text("again took 24 sheets 11.8 kg rss3 from Ama", hour=11)

        assert len(hills.book(hills.ama)) == 2

    def test_the_late_copy_does_not_bring_back_what_was_corrected(self, hills: Cooperative) -> None:
        hills.text(self.TEXT, hour=10)
        hills.text("sorry ama was 12.0 kg", hour=10.2)

        hills.text(self.TEXT, hour=19)

        assert [each.record.kg for each in hills.book(hills.ama)] == [Decimal(12)]

    def test_a_correction_that_overtakes_its_text_stands(self, hills: Cooperative) -> None:
        late = hills.at(0, 20)
        hills.text("sorry ama 24 sheets 12.0 kg rss3", hour=10.2, arrived=late)
        hills.text(self.TEXT, hour=10, arrived=late)

        assert [each.record.kg for each in hills.book(hills.ama)] == [Decimal(12)]

    def test_a_short_correction_that_overtakes_its_text_is_completed_by_it_and_swallows_no_other_lot(
        self, hills: Cooperative
    ) -> None:
        late = hills.at(0, 20)
        hills.text("sorry ama was 12.0 kg", hour=10.2, arrived=late)
        for text in ("took 10 sheets 4 kg rss3 from Ama", self.TEXT, "took 22 sheets 11.5 kg rss3 from Ama", self.TEXT):
            hills.text(text, hour=10, arrived=late)

        found = [(each.record.sheets, each.record.kg, each.record.grade) for each in hills.book(hills.ama)]
        assert sorted(found) == [
            (10, Decimal(4), "RSS3"),
            (22, Decimal("11.5"), "RSS3"),
            (24, Decimal(12), "RSS3"),
        ]

    def test_what_was_taken_out_can_be_entered_anew_but_not_by_an_old_copy(self, hills: Cooperative) -> None:
        hills.text(self.TEXT, hour=10)
        hills.text("undo", hour=10.5)

        hills.text(self.TEXT, hour=10.1, arrived=hills.at(0, 12))
        assert hills.book(hills.ama) == []

        hills.text(self.TEXT, hour=13)
        assert len(hills.book(hills.ama)) == 1

    def test_two_collectors_at_one_gate_make_one_take(self, hills: Cooperative) -> None:
        from bot.books import people
        from parsers.reading import Role
        from tests.talk.cooperative import ABU, START

        with hills.books.transaction() as tx:
            for farm in (hills.ama, hills.yaw):
                who = {"language": "en", "blocks": (), "at": START, "message_id": None}
                people.enrol(tx, name="Abu", number=ABU, farm_id=farm.id, role=Role.COLLECTOR, **who)
        hills.text(self.TEXT, hour=10)

        said = hills.text(self.TEXT, ABU, hour=10.2)

        assert "Already in the book: Ama Ridge 24 sheets, 11.8 kg (Musa), 1001." in str(said.text)
        assert len(hills.book(hills.ama)) == 1

    def test_a_text_that_comes_the_next_day_is_asked_about_then_and_the_answer_completes_it(
        self, hills: Cooperative
    ) -> None:
        asked = hills.text("took 10 sheets 5 kg rss3 from Bob", hour=9, arrived=hills.at(1, 7))
        assert asked.kind is Kind.ASKED

        hills.text("yaw", day=1, hour=7.2)

        assert [(each.record.kg, each.record.day) for each in hills.book(hills.yaw)] == [
            (Decimal(5), hills.at(0, 9).date())
        ]

    def test_a_figure_that_comes_the_next_day_is_asked_about_then_too(self, hills: Cooperative) -> None:
        late = hills.text("block 1 150 litres", TOBIN, hour=9, arrived=hills.at(1, 7))
        assert late.kind is Kind.ASKED

        assert hills.text("15", TOBIN, day=1, hour=7.2).kind is Kind.ENTERED

    def test_a_round_without_signal_comes_in_the_evening_in_any_order(self, tmp_path: Path) -> None:
        texts = [
            (9.0, "at 1"),
            (9.2, "took 24 sheets 11.8 kg rss3 from Ama"),
            (9.4, "yaw 10 sheets 5 kg rss3"),
            (10.5, "at 2"),
            (10.7, "9 sheets 4.4 kg rss3"),
        ]
        books = []
        for n, order in enumerate(([0, 1, 2, 3, 4], [4, 2, 3, 0, 1, 2, 4])):
            (tmp_path / str(n)).mkdir()
            hills = Cooperative(opened(tmp_path / str(n)))
            for k, at in enumerate(order):
                hour, text = texts[at]
                arrived = hills.at(0, 19) if n else hills.at(0, hour)
                hills.text(text, hour=hour, id_=f"{n}-{k}", arrived=arrived)
            if n:  # the one that came before its check-in was asked about, and its copy came later
                hills.text("esi", hour=19.5)
            books.append([[each.record for each in hills.book(farm)] for farm in (hills.ama, hills.yaw, hills.esi)])
            hills.books.close()

        assert books[0] == books[1]
        assert [len(found) for found in books[0]] == [1, 1, 1]


def test_nobody_else_takes(hills: Cooperative) -> None:
    hills.text("took 24 sheets 11.8 kg rss3 from Ama", TOBIN)

    assert hills.book(hills.ama) == []


def test_a_collector_sees_no_farm_that_is_not_his(hills: Cooperative) -> None:
    from bot.books import people

    with hills.books.transaction() as tx:
        people.dismiss(tx, hills.musa.id, hills.esi.id, None, at=hills.at(0, 7))

    said = hills.text("took 9 sheets 4 kg rss3 from Esi")

    assert said.kind is Kind.ASKED
    assert "Esi Bend" not in str(said.text).split("from which farm")[1]
    assert MUSA not in {each.by.number for each in hills.book(hills.esi)}
    assert ESI not in {each.to for each in said.to_others}

"""A walk through the talk as its people would take it: what awkward texts must never do to the book."""

from datetime import UTC, datetime, timedelta
from decimal import Decimal
from pathlib import Path

import pytest

from bot.books import Books, entries, farms, open_books, people
from bot.talk.answer import answer
from bot.talk.exchange import Answer, Incoming, Kind
from parsers.reading import Block, Role, What

START = datetime(2026, 3, 18, 3, 0, tzinfo=UTC)
TOBIN, WANDA = "+447700900102", "+447700900101"


class Phone:
    """Texts of one farm, a few minutes apart."""

    def __init__(self, books: Books, language: str) -> None:
        self.books, self.n = books, 0
        with books.transaction() as tx:
            self.farm = farms.add_farm(
                tx,
                name="Reed Hollow",
                timezone="Asia/Bangkok",
                currency="USD",
                language=language,
                blocks={"1": Block(300, Decimal(18)), "2": Block(260, Decimal(15))},
                containers={},
                settings={},
                at=START,
            )
            for name, number, role, blocks in (
                ("Tobin", TOBIN, Role.TAPPER, ("1", "2")),
                ("Wanda", WANDA, Role.OWNER, ()),
            ):
                who = {"name": name, "number": number, "role": role, "blocks": blocks, "language": language}
                people.enrol(tx, farm_id=self.farm.id, at=START, message_id=None, **who)

    def text(self, text: str, number: str = TOBIN) -> Answer:
        self.n += 1
        at = START + timedelta(minutes=7 * self.n)
        return answer(self.books, Incoming(f"w{self.n}", number, text, at, at, "practice"), at)

    def book(self) -> list[tuple[str, str | None, Decimal | None]]:
        with self.books.transaction() as tx:
            lines = entries.standing(tx, self.farm.id)
        return [(each.record.what.value, each.record.block, each.record.litres or each.record.kg) for each in lines]


@pytest.fixture
def phone(tmp_path: Path) -> Phone:
    return Phone(open_books(tmp_path / "books.sqlite"), "en")


@pytest.mark.parametrize(
    ("language", "text"),
    [("en", "no tap tomorrow"), ("id", "besok libur"), ("fr", "demain pas de saignée"), ("es", "mañana no hay pica")],
)
def test_a_plan_for_tomorrow_is_not_entered(tmp_path: Path, language: str, text: str) -> None:
    phone = Phone(open_books(tmp_path / "books.sqlite"), language)

    phone.text(text)

    assert phone.book() == []


def test_litres_dated_tomorrow_are_asked_about(phone: Phone) -> None:
    assert Kind.ASKED is phone.text("tomorrow block 1 18 litres").kind
    assert phone.book() == []


def test_todays_litres_stand_though_tomorrow_is_a_rest(phone: Phone) -> None:
    phone.text("block 1 18 litres tomorrow i rest no tapping")

    assert [("latex", "1", Decimal(18))] == phone.book()


def test_two_figures_that_meet_standing_ones_are_asked_about_in_turn_and_none_is_lost(phone: Phone) -> None:
    phone.text("block 1 17 l and block 2 15 l")

    first = phone.text("block 1 17.5 and block 2 12")
    second = phone.text("more")
    phone.text("instead")

    assert Kind.ASKED is first.kind
    assert "B2" in (second.text or "")
    assert sorted(phone.book()) == [
        ("latex", "1", Decimal(17)),
        ("latex", "1", Decimal("17.5")),
        ("latex", "2", Decimal(12)),
    ]


def test_what_is_clear_in_a_text_is_entered_though_the_rest_is_asked_about(phone: Phone) -> None:
    phone.text("block 1 17 l")

    said = phone.text("block 1 16 l, block 2 15 l").text or ""

    assert ("latex", "2", Decimal(15)) in phone.book()
    assert "acid 85%" in said  # that latex waits for its dose


def test_a_report_of_lump_is_no_answer_to_which_block(phone: Phone) -> None:
    phone.text("17 l")

    phone.text("cup lump block 1 4kg")

    assert [("lump", "1", Decimal(4))] == phone.book()


def test_a_bare_pair_with_an_implausible_volume_is_asked_about(phone: Phone) -> None:
    assert Kind.ASKED is phone.text("1 170").kind
    assert phone.book() == []


@pytest.mark.parametrize(("language", "text"), [("id", "eh salah 26"), ("en", "sorry 26"), ("fr", "pardon 26")])
def test_a_short_correction_changes_the_only_line(tmp_path: Path, language: str, text: str) -> None:
    phone = Phone(open_books(tmp_path / "books.sqlite"), language)
    first = {"id": "blok 1 27 liter", "en": "block 1 27 litres", "fr": "bloc 1 27 litres"}[language]
    phone.text(first)

    assert Kind.CHANGED is phone.text(text).kind
    assert [("latex", "1", Decimal(26))] == phone.book()


@pytest.mark.parametrize(
    ("language", "text"), [("fr", "prix rss3 1,60"), ("en", "price rss3 1.60"), ("es", "precio rss3 1,60")]
)
def test_an_owner_sets_the_price(tmp_path: Path, language: str, text: str) -> None:
    phone = Phone(open_books(tmp_path / "books.sqlite"), language)

    phone.text(text, WANDA)

    with phone.books.transaction() as tx:
        (line,) = entries.standing(tx, phone.farm.id)
    assert (What.PRICE, Decimal("1.6"), "RSS3") == (line.record.what, line.record.price, line.record.grade)


def test_help_with_acid_says_what_to_do_when_it_burns(phone: Phone) -> None:
    said = phone.text("acid help").text or ""

    assert "never water into acid" in said
    assert "rinse" in said

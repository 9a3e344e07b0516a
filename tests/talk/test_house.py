"""What the operator sets up for the house: local words, and links to the owners' pages."""

from datetime import UTC, datetime
from pathlib import Path

import pytest

from bot.app import house_of
from bot.books import entries, open_books
from bot.settings import BadSettings, Settings, read_settings
from bot.talk.answer import answer
from bot.talk.exchange import Answer, Incoming
from bot.talk.house import PLAIN, House
from tests.talk.test_walk import TOBIN, WANDA, Phone

AT = datetime(2026, 3, 18, 3, 0, tzinfo=UTC)
LOCAL = 'language = "en"\n[words]\nlitre = "jugs"\nrain = "gumdrops"\n'


def text(phone: Phone, words: str, house: House, number: str = TOBIN) -> Answer:
    return answer(phone.books, Incoming(words, number, words, AT, AT, "practice"), AT, house)


@pytest.fixture
def phone(tmp_path: Path) -> Phone:
    return Phone(open_books(tmp_path / "books.sqlite"), "en")


def test_local_words_are_understood_without_touching_the_package(phone: Phone, tmp_path: Path) -> None:
    path = tmp_path / "local.toml"
    path.write_text(LOCAL, encoding="utf-8")
    house = house_of(Settings(tmp_path / "books.sqlite", words=(path,)))

    text(phone, "block 1 17 jugs gumdrops", house)

    with phone.books.transaction() as tx:
        (entry,) = entries.standing(tx, phone.farm.id)
    assert (entry.record.litres, entry.record.rain) == (17, True)


def test_a_file_of_words_that_cannot_be_read_is_told_at_the_start(tmp_path: Path) -> None:
    path = tmp_path / "local.toml"
    path.write_text("[words]\nlitre = 3\n", encoding="utf-8")

    with pytest.raises(BadSettings, match=r"TAPPING_LOG_WORDS: .*language"):
        read_settings({"TAPPING_LOG_WORDS": str(path)})


def test_an_owner_gets_the_link_to_his_page(phone: Phone, tmp_path: Path) -> None:
    house = house_of(Settings(tmp_path / "b", public_url="https://bot.example.org", link_key="k" * 16))

    found = text(phone, "my page", house, WANDA).text

    assert "https://bot.example.org/farm/" in str(found)
    assert "There is no page for you yet" in str(text(phone, "link", PLAIN, WANDA).text)

"""PINs in texts: found in six languages, and no report of work taken for one."""

import pytest

from parsers.pins import is_easy, said
from tests.scoring import CORPUS, messages


@pytest.mark.parametrize(
    "text",
    [
        "pin 4821", "PIN4821", "my pin is 4821", "Pin: 4821", "please pin 4821 thanks", "pin ๔๘๒๑",
        "code 4821", "code secret 4821", "kode pin 4821", "sandi 4821", "รหัส 4821", "รหัสพิน4821", "mã pin 4821",
        "ma pin 4821", "clave 4821", "mi clave 4821",
    ],
)  # fmt: skip
def test_a_pin_behind_a_word_for_it_is_found(text: str) -> None:
    found = said(text)

    assert found is not None
    assert (found.pin, found.worded) == ("4821", True)


@pytest.mark.parametrize("text", ["pin 12", "pin 1234567", "pin: 48 21", "pin 4821 9035", "pin 48.21"])
def test_what_cannot_be_a_pin_is_still_kept_secret(text: str) -> None:
    found = said(text)

    assert found is not None
    assert found.pin is None


@pytest.mark.parametrize(("text", "pin"), [("4821", "4821"), (" 482100 ", "482100"), ("4821.", "4821")])
def test_digits_alone_may_be_one(text: str, pin: str) -> None:
    found = said(text)

    assert found is not None
    assert (found.pin, found.worded) == (pin, False)


@pytest.mark.parametrize(
    "text", ["", "123", "1234567", "3 18", "18.5", "máy hết pin, lô 3 18 lít", "hết pin 3 18", "settle 1240.50"]
)
def test_other_texts_hold_none(text: str) -> None:
    assert said(text) is None


def test_no_text_of_the_corpus_is_taken_for_a_pin() -> None:
    names = [path.name for path in CORPUS.glob("*.jsonl") if not path.name.startswith("dialogues")]
    texts = [message["text"] for name in names for message in messages(name)]

    assert len(texts) > 600
    assert [text for text in texts if said(text) is not None] == []


def test_a_pin_is_not_shown_when_printed() -> None:
    assert "4821" not in repr(said("pin 4821"))


@pytest.mark.parametrize("pin", ["0000", "1234", "987654", "0102", "900102"])
def test_what_anybody_tries_first_is_easy(pin: str) -> None:
    assert is_easy(pin, "+447700900102")


@pytest.mark.parametrize("pin", ["4821", "1243", "1121"])
def test_other_pins_are_not(pin: str) -> None:
    assert not is_easy(pin, "+447700900102")

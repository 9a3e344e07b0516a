"""Parts of a text: the examples of the standard's arithmetic, and two general libraries as judges."""

import gsm0338
import pytest
import smsutil
from hypothesis import given
from hypothesis import strategies as st

from bot.speech.parts import GSM7_CHARACTERS, GSM7_TWO_UNITS, Parts, count_parts, in_gsm7

# Worked from the tables of 3GPP TS 23.038 (alphabet, two-unit characters) and the 153 and 67 units a part of TS 23.040.
EXAMPLES = [
    ("", "GSM-7", 0, 0),
    ("A" * 160, "GSM-7", 160, 1),
    ("A" * 161, "GSM-7", 161, 2),
    ("A" * 306, "GSM-7", 306, 2),
    ("A" * 307, "GSM-7", 307, 3),
    ("A" * 459, "GSM-7", 459, 3),
    ("A" * 460, "GSM-7", 460, 4),
    ("A" * 1600, "GSM-7", 1600, 11),
    ("€" * 80, "GSM-7", 160, 1),
    ("€" * 81, "GSM-7", 162, 2),
    ("A" * 158 + "€", "GSM-7", 160, 1),
    ("A" * 159 + "€", "GSM-7", 161, 2),
    ("A" * 152 + "€" + "A" * 151, "GSM-7", 305, 2),
    ("A" * 152 + "€" + "A" * 152, "GSM-7", 306, 3),
    ("A" * 69 + "’", "UCS-2", 70, 1),
    ("A" * 70 + "’", "UCS-2", 71, 2),
    ("ก" * 70, "UCS-2", 70, 1),
    ("ก" * 71, "UCS-2", 71, 2),
    ("ก" * 134, "UCS-2", 134, 2),
    ("ก" * 135, "UCS-2", 135, 3),
    ("😀" * 35, "UCS-2", 70, 1),
    ("😀" * 36, "UCS-2", 72, 2),
    ("😀" * 67, "UCS-2", 134, 3),
    ("A|B", "GSM-7", 4, 1),
    ("32°C", "UCS-2", 4, 1),
    ("2×3", "UCS-2", 3, 1),
    ("3–5%", "UCS-2", 4, 1),
    ("₹100", "UCS-2", 4, 1),
    ("A3 18.5L DRC32: water 21.0L acid 2% 3.0L exp dry 5.9kg. Reply OK or FIX.", "GSM-7", 72, 1),
]


@pytest.mark.parametrize(("text", "encoding", "units", "parts"), EXAMPLES)
def test_units_and_parts_are_those_of_the_standard(text: str, encoding: str, units: int, parts: int) -> None:
    assert Parts(encoding, units, parts) == count_parts(text)


def test_no_example_occurs_twice() -> None:
    assert len({text for text, *_ in EXAMPLES}) == len(EXAMPLES)


def test_the_alphabet_is_the_one_of_gsm0338() -> None:
    codec = gsm0338.Codec()
    for code in range(0x3000):
        character = chr(code)
        if character == "\x1b":  # the escape itself is not a character that a text can hold
            continue
        octets, _ = codec.encode(character, "ignore")
        expected = 0 if not octets else len(octets)
        assert expected == (0 if not in_gsm7(character) else 2 if character in GSM7_TWO_UNITS else 1), hex(code)


def test_the_alphabet_has_127_characters_and_ten_of_two_units() -> None:
    assert len(GSM7_CHARACTERS - GSM7_TWO_UNITS) == 127
    assert len(GSM7_TWO_UNITS) == 10


GSM7 = st.text(st.sampled_from(sorted(GSM7_CHARACTERS)), min_size=1, max_size=500)
ANY = st.text(st.characters(exclude_categories=["Cs", "Cc"]), min_size=1, max_size=250)
EDGE = st.builds(
    lambda n, edge, m: "A" * n + edge + "A" * m,
    st.integers(60, 160),
    st.sampled_from(["€", "😀", "ก", "[]"]),
    st.integers(0, 160),
)


@given(GSM7 | ANY | EDGE)
def test_smsutil_cuts_a_text_into_as_many_parts(text: str) -> None:
    assert len(smsutil.split(text).parts) == count_parts(text).parts


@given(GSM7 | ANY)
def test_one_more_character_never_makes_fewer_parts(text: str) -> None:
    assert count_parts(text).parts <= count_parts(text + "A").parts


def test_a_text_of_one_part_is_never_longer_than_140_octets() -> None:
    assert count_parts("A" * 160).units * 7 <= 140 * 8
    assert count_parts("ก" * 70).units * 2 <= 140

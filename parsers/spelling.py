"""From what was typed to tokens.

A token is a word, a number or a sign. Words are kept three ways: as written, folded (NFKC, lower case) and bare (folded
without accents), because most people who text in Vietnamese, French or Spanish leave accents out. Words are runs of
letters and combining marks (Python's own word class stops at marks, which would cut Thai and Indic words to pieces).
Compatibility folding splits Thai SARA AM in two; word lists are folded by the same function, so both sides agree.
"""

import re
import sys
import unicodedata
from functools import lru_cache
from typing import NamedTuple

#: Texts are read to this length; a text message of ten parts is shorter.
LONGEST_TEXT = 2000

_FRACTIONS = {
    "½": "1/2", "¼": "1/4", "¾": "3/4", "⅓": "1/3", "⅔": "2/3", "⅛": "1/8", "⅜": "3/8", "⅝": "5/8", "⅞": "7/8",
}  # fmt: skip
_FRACTION = re.compile("[" + "".join(_FRACTIONS) + "]")
_ELISION = re.compile(r"\b(?:[ldLD])['’](?=[^\W\d_])")
_HYPHEN = re.compile(r"(?<=[^\W\d_])-(?=[^\W\d_])")
_THAI_DOT = re.compile(r"(?<=[\u0e01-\u0e2e\u0e34\u0e35])\.(?=[\u0e01-\u0e2e])")
#: A Thai letter that was typed three times and more.
_THAI_LONG = re.compile("([\u0e01-\u0e2e])\\1{2,}")
#: Thai signs above and below that were typed twice, and a tone that was typed before its vowel.
_THAI_TWICE = re.compile("([\u0e31\u0e34-\u0e3a\u0e40-\u0e44\u0e47-\u0e4c])\\1+")
_THAI_ORDER = re.compile("([\u0e48-\u0e4b])([\u0e31\u0e34-\u0e39])")
_APOSTROPHE = re.compile(r"(?<=[^\W\d_])['’`´](?=[^\W\d_])")
_INVISIBLE = re.compile("[\u200b-\u200f\u2060\ufeff\ufe0e\ufe0f\u00ad]")
_VIETNAMESE_D = str.maketrans("đĐ", "dD")


class Token(NamedTuple):
    """A word (`w`), number (`d`) or sign (`p`). `glued` says that no space stands before it."""

    text: str
    word: str
    bare: str
    kind: str
    glued: bool


def fold(text: str) -> str:
    """The form in which words are compared: compatibility composed, lower case, one kind of apostrophe left out."""
    folded = unicodedata.normalize("NFKC", text).casefold()
    if not folded.isascii() and "\u0e00" <= max(folded) <= "\u0e7f":
        folded = _THAI_LONG.sub(r"\1", folded)
        folded = _THAI_TWICE.sub(r"\1", _THAI_ORDER.sub(r"\2\1", folded.replace("เเ", "แ")))
    return folded


@lru_cache(maxsize=8192)
def bare(word: str) -> str:
    """A folded word without its accents. Marks of scripts other than Latin are part of the word and stay."""
    if word.isascii():
        return word
    kept = [each for each in unicodedata.normalize("NFD", word) if not "\u0300" <= each <= "\u036f"]
    return unicodedata.normalize("NFC", "".join(kept)).translate(_VIETNAMESE_D)


def is_latin(word: str) -> bool:
    """True for a word whose first letter is Latin."""
    return word[:1] < "\u0250"


def is_thai(word: str) -> bool:
    """True for a word whose first letter is Thai: such words are written without spaces between them."""
    return "\u0e00" <= word[:1] <= "\u0e7f"


@lru_cache(maxsize=1)
def _pattern() -> re.Pattern[str]:
    marks = [point for point in range(0x0300, 0xFFFF) if unicodedata.category(chr(point))[0] == "M"]
    spans: list[list[int]] = []
    for point in marks:
        if spans and point == spans[-1][1] + 1:
            spans[-1][1] = point
        else:
            spans.append([point, point])
    mark = "".join(f"{chr(first)}-{chr(last)}" for first, last in spans)
    letter = r"[^\W\d_]"
    return re.compile(rf"(\s+)|(\d+(?:[.,]\d+)*)|({letter}(?:{letter}|[{mark}])*)|(.)", re.DOTALL)


def clean(text: str) -> str:
    """One spelling of digits, fractions, apostrophes and invisible signs; letters stay as written."""
    if not text.isascii():
        text = _INVISIBLE.sub("", text)
        text = _FRACTION.sub(lambda found: " " + _FRACTIONS[found.group()] + " ", text)
        text = unicodedata.normalize("NFKC", text).replace("\u2044", "/")
        text = "".join(_digit(each) if each > "\x7f" else each for each in text)
    text = _HYPHEN.sub(" ", _THAI_DOT.sub(" ", text))
    text = _ELISION.sub("", text)
    return _APOSTROPHE.sub("", text)


def _digit(sign: str) -> str:
    if sign.isdecimal():
        return str(unicodedata.decimal(sign))
    return "-" if sign in "‐‑‒–—−" else sign


def tokens(text: str, *, mend_digits: bool = True) -> list[Token]:
    """Cut a text into tokens. Any text is accepted; what is longer than LONGEST_TEXT is left off.

    `mend_digits` reads a small L before a digit as a one (`l8`).
    """
    found = list(_cut(text[:LONGEST_TEXT]))
    return _digits_mistyped(found) if mend_digits else found


@lru_cache(maxsize=4)
def _cut(text: str) -> tuple[Token, ...]:
    """The tokens as they were typed. A text is cut several times one after the other while it is answered."""
    found: list[Token] = []
    glued = False
    for match in _pattern().finditer(clean(text)):
        space, number, word, _ = match.groups()
        if space:
            if "\n" in space:
                found.append(Token("\n", "\n", "\n", "p", False))
            glued = False
            continue
        piece = match.group()
        folded = fold(piece) if word else piece
        kind = "d" if number else "w" if word else "p"
        found.append(Token(piece, sys.intern(folded), bare(folded) if word else folded, kind, glued))
        glued = True
    return tuple(found)


_MISTYPED = {"o": "0", "i": "1", "l": "1"}


def _digits_mistyped(found: list[Token]) -> list[Token]:
    """The letter O for nought inside a number (`1O`, `2O.5`), small L for one before one (`l8`)."""
    out: list[Token] = []
    for token in found:
        if out and token.glued and out[-1].kind == "d" and token.word in {"o", "oo"}:
            out[-1] = _join(out[-1], "0" * len(token.word))
        elif (
            token.kind == "d"
            and token.glued
            and out
            and out[-1].text in {"l", "i", "I"}
            and not out[-1].glued
            and len(token.text) == 1
        ):
            out[-1] = Token("1" + token.text, "1" + token.text, "1" + token.text, "d", False)
        else:
            out.append(token)
    return out


def _join(token: Token, more: str) -> Token:
    digits = token.text + more
    return Token(digits, digits, digits, "d", token.glued)


def composed(text: str) -> str:
    """A Thai name as people write it: the vowel am as one sign, which comparing takes apart."""
    return text.replace("\u0e4d\u0e32", "\u0e33")

"""PINs in texts: found before anything is written down, so that none is ever kept as it was sent."""

import re
from dataclasses import dataclass, field
from functools import lru_cache
from typing import NamedTuple

from parsers.spelling import Token, tokens
from parsers.words import Lexicon, Words, standard

#: How many digits a PIN has.
SHORTEST, LONGEST = 4, 6

#: Longer texts without so many digits in a row hold no PIN.
_DIGITS = re.compile(r"\d[\d.,-]{2,}\d")
_SHORT = 16

#: The longest phrase for a PIN in words.
_PHRASE = 3


@dataclass(frozen=True)
class Said:
    """A PIN that a text holds. `pin` is None where it cannot be one; `worded` says that the text calls it so."""

    pin: str | None = field(repr=False)
    worded: bool


def said(text: str, words: Words | None = None) -> Said | None:
    """The PIN of a text: digits alone, or behind a word for PIN of any language. None for a text that is about none."""
    if len(text) > _SHORT and not _DIGITS.search(text):
        return None
    found = [token for token in tokens(text, mend_digits=False) if token.kind != "p"]
    numbers = [token.word for token in found if token.kind == "d"]
    worded = bool(numbers) and _is_worded(found, (words or standard()).of("en"))
    if not worded and len(found) != 1:
        return None
    usable = len(numbers) == 1 and numbers[0].isdecimal() and SHORTEST <= len(numbers[0]) <= LONGEST
    return Said(numbers[0] if usable else None, worded) if worded or usable else None


def is_easy(pin: str, number: str) -> bool:
    """Whether a PIN is one of the first that anybody would try: one digit, a run, or the end of his own number."""
    steps = {int(after) - int(before) for before, after in zip(pin, pin[1:], strict=False)}
    return steps in ({0}, {1}, {-1}) or number.endswith(pin)


class _Names(NamedTuple):
    """What a PIN is called, and the first words of it."""

    whole: frozenset[str]
    first: frozenset[str]


@lru_cache(maxsize=8)
def _names(lexicon: Lexicon) -> _Names:
    whole = frozenset(key for key, found in lexicon.phrases.items() if any(each.tag == "pin" for each in found))
    return _Names(whole, frozenset(key.partition(" ")[0] for key in whole))


def _is_worded(found: list[Token], lexicon: Lexicon) -> bool:
    """A word for PIN with a long number behind it, at most one word between, or a text that is nothing but the word and numbers."""
    names = _names(lexicon)
    spans = [
        (start, start + length)
        for start, token in enumerate(found)
        if token.bare in names.first
        for length in range(1, _PHRASE + 1)
        if " ".join(each.bare for each in found[start : start + length]) in names.whole
    ]
    return any(_is_long(found[end : end + 2]) or (start == 0 and _are_numbers(found[end:])) for start, end in spans)


def _is_long(after: list[Token]) -> bool:
    return any(token.kind == "d" and len(token.word) >= SHORTEST for token in after)


def _are_numbers(after: list[Token]) -> bool:
    return bool(after) and all(token.kind == "d" for token in after)

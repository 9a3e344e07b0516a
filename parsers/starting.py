"""What somebody answers who is led into a farm of his own: words, blocks with trees, an acid with its strength, a weekday."""

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal

from parsers.spelling import bare, clean, is_latin, tokens
from parsers.words import Lexicon, Words

#: A text that is longer asks for nothing like the beginning of a farm.
LONGEST_OPENING = 6

_BLOCK = re.compile(r"(?P<name>.+?)[\s:=-]+(?P<trees>\d{1,6})\s*(?P<unit>\D*)")
_HOUR = re.compile(r"(?<!\d)(\d{1,2})(?!\d)")
_NUMBER = re.compile(r"\d+(?:[.,]\d+)?")


@dataclass(frozen=True)
class SaidAcid:
    """An acid (`formic`, `acetic`, `sulphuric`; None where none was named) and its strength in percent by mass."""

    name: str | None
    strength: Decimal | None


def opening_language(text: str, words: Words) -> str | None:
    """The language in which a text asks to begin a farm; None where it does not."""
    said = _spelt(text)
    for key, found in words.starting.items():
        for meaning in found:
            if meaning.tag == "starting_begin" and _opens(said, key):
                return meaning.language
    return None


def _opens(said: str, key: str) -> bool:
    return said == key or (said.startswith(f"{key} ") and len(said.split()) <= LONGEST_OPENING)


def command(text: str, words: Words) -> str | None:
    """What the whole text means: `back`, `cancel`, `dont_know`, `nobody`; None where it is none of them."""
    tags = {meaning.tag for meaning in words.starting.get(_spelt(text), ())}
    return next((name for name in ("cancel", "back", "dont_know", "nobody") if f"starting_{name}" in tags), None)


def acid(text: str, words: Words) -> SaidAcid:
    """The acid that is named and its strength."""
    numbers = [Decimal(each.replace(",", ".")) for each in _NUMBER.findall(clean(text))]
    return SaidAcid(
        _longest_of(text, words, ("formic", "acetic", "sulphuric")), numbers[0] if len(numbers) == 1 else None
    )


def drying(text: str, words: Words) -> str | None:
    """The way of drying: `sun`, `smoke`, `solar`, `hot-air`; None where none is named."""
    found = _longest_of(text, words, ("sun", "smoke", "solar", "hot_air"))
    return None if found is None else found.replace("_", "-")


def _longest_of(text: str, words: Words, names: Iterable[str]) -> str | None:
    """Which of these a text names; of two, the one with the longer phrase."""
    said, tags = _spelt(text), {f"starting_{name}": name for name in names}
    fitting = [
        (len(key), tags[meaning.tag])
        for key, found in words.starting.items()
        for meaning in found
        if meaning.tag in tags and _holds(said, key)
    ]
    return max(fitting)[1] if fitting else None


def _holds(said: str, key: str) -> bool:
    return f" {key} " in f" {said} " if is_latin(key) else key in said


def blocks(text: str, lexicon: Lexicon) -> Mapping[str, int] | None:
    """Blocks by name with their trees, from `1 300, 2 250` or `block A: 300 trees; block B: 250 trees`.

    None where a piece is no name and number, or a block stands twice.
    """
    found: dict[str, int] = {}
    for piece in re.split(r"[,;\n]", clean(text)):
        match = _BLOCK.fullmatch(piece.strip())
        if match is None or not _is_unit(match["unit"], lexicon):
            return None
        name = _without_word(match["name"].strip(), lexicon)
        if not name or name in found:
            return None
        found[name] = int(match["trees"])
    return found or None


def _is_unit(written: str, lexicon: Lexicon) -> bool:
    said = _spelt(written)
    return not said or _has(lexicon, said, "tree")


def _without_word(name: str, lexicon: Lexicon) -> str:
    """The name of a block without the word for block before it."""
    first, _, rest = name.partition(" ")
    if rest and _has(lexicon, _spelt(first), "block"):
        return rest.strip()
    glued = [key for key in lexicon.unspaced if _has(lexicon, key, "block") and name.startswith(key)]
    return name[len(max(glued, key=len)) :].strip() or name if glued else name


def _has(lexicon: Lexicon, key: str, tag: str) -> bool:
    return any(meaning.tag == tag for meaning in lexicon.phrases.get(key, ()))


def weekday(text: str, lexicon: Lexicon) -> int | None:
    """The weekday that is named, Monday 0; None where none or several are."""
    said = _spelt(text)
    fitting = [
        (len(key), int(meaning.value))
        for key, found in lexicon.phrases.items()
        for meaning in found
        if meaning.tag == "weekday" and _holds(said, key)
    ]
    longest = max(fitting, default=(0, 0))[0]
    days = {day for length, day in fitting if length == longest}
    return days.pop() if len(days) == 1 else None


def hour(text: str) -> int | None:
    """The hour that stands in the text, 0 to 23; None where none does."""
    found = [int(each) for each in _HOUR.findall(clean(text))]
    return found[0] if found and found[0] <= 23 else None


def _spelt(text: str) -> str:
    """A text as the keys of the words are written."""
    return bare(" ".join(token.word for token in tokens(text) if token.kind != "p" or token.text == "?"))

"""Words as they sound, for languages that people spell by ear: `cassrol` and `casserole`, `rebuelto` and `revuelto`.

The rules are those of the spelling of each language as a speaker hears it, from memory, not yet checked by a native speaker.
"""

import re
from collections.abc import Iterable, Mapping
from functools import lru_cache

from parsers.words import Lexicon

Rules = tuple[tuple[re.Pattern[str], str], ...]


def _rules(*pairs: tuple[str, str]) -> Rules:
    return tuple((re.compile(pattern), heard) for pattern, heard in pairs)


_FRENCH = _rules(
    (r"ph", "f"),
    (r"qu|q", "k"),
    (r"ch", "ʃ"),
    (r"c(?=[eiy])", "s"),
    (r"c", "k"),
    (r"ge?(?=[eiao])(?<=ge)|g(?=[ei])", "j"),
    (r"gu(?=[ei])", "g"),
    (r"eau|au", "o"),
    (r"ai|ei|ay", "e"),
    (r"oi", "wa"),
    (r"h", ""),
    (r"y", "i"),
    (r"[stxdpz]+$", ""),
    (r"(?<=[a-zʃ])e[rz]?$", ""),
    (r"[stxdpz]+$", ""),
    (r"z", "s"),
    (r"m(?=[bp])", "n"),
    (r"(?<=.)e", ""),
    (r"(.)\1+", r"\1"),
)

_SPANISH = _rules(
    (r"hue|güe|gue(?=[^i])", "we"),
    (r"ch", "ʃ"),
    (r"h", ""),
    (r"v", "b"),
    (r"qu", "k"),
    (r"c(?=[ei])|z", "s"),
    (r"c", "k"),
    (r"ll", "y"),
    (r"g(?=[ei])", "j"),
    (r"gu(?=[ei])", "g"),
    (r"(.)\1+", r"\1"),
)

_BY_LANGUAGE: Mapping[str, Rules] = {"fr": _FRENCH, "es": _SPANISH}

#: A word that sounds shorter than this sounds like too many others.
LEAST_HEARD = 4


@lru_cache(maxsize=20000)
def sound(word: str, language: str, least: int = LEAST_HEARD) -> str | None:
    """How a word without its accents sounds; None for short words and for languages that are not spelt by ear.

    `least` is how many letters must be heard; words are written with one more at least.
    """
    rules = _BY_LANGUAGE.get(language)
    if rules is None or len(word) <= least or not word.isascii() or not word.isalpha():
        return None
    for pattern, heard in rules:
        word = pattern.sub(heard, word)
    return word if len(word) >= least else None


def heard_as(word: str, among: Iterable[str], language: str) -> str | None:
    """The one of some words that sounds like this one."""
    heard = sound(word, language)
    if heard is None:
        return None
    alike = {each for each in among if sound(each, language) == heard}
    return alike.pop() if len(alike) == 1 else None


def known_by_sound(word: str, lexicon: Lexicon) -> str | None:
    """A word of the sender's language that sounds like this one, where all that do mean the same."""
    heard = sound(word, lexicon.language)
    alike = _by_sound(lexicon).get(heard, ()) if heard is not None else ()
    meant = {frozenset((each.tag, each.value) for each in lexicon.phrases[key]) for key in alike}
    return alike[0] if len(meant) == 1 else None


@lru_cache(maxsize=32)
def _by_sound(lexicon: Lexicon) -> Mapping[str, tuple[str, ...]]:
    found: dict[str, tuple[str, ...]] = {}
    for key in lexicon.spellable:
        heard = sound(key, lexicon.language)
        if heard is not None:
            found[heard] = (*found.get(heard, ()), key)
    return found

"""English that was left over in what is said in another language."""

import re
from datetime import date
from functools import cache

from bot.speech.language import page_tongue
from tests.speech.sentences import catalogue, of_pages, of_texts


def words_of(text: str) -> set[str]:
    """Words of three letters and more, as small letters."""
    return {word.casefold() for word in re.findall(r"[^\W\d_]{3,}", text)}


@cache
def english_words() -> frozenset[str]:
    """Every word of the messages that pages may show."""
    return frozenset(word for message in of_pages() | of_texts() | plurals() for word in words_of(unfilled(message)))


def plurals() -> set[str]:
    return {form for each in catalogue("fr").values() if isinstance(each.id, tuple) for form in each.id}


def unfilled(message: str) -> str:
    return re.sub(r"{\w+}", " ", message)


@cache
def own_words(language: str) -> frozenset[str]:
    """Every word of the translations: `latex` and `stock` are French too."""
    found = set()
    for message in catalogue(language).values():
        for form in [message.string] if isinstance(message.string, str) else message.string:
            found |= words_of(unfilled(form))
    return frozenset(found)


def english_in(text: str, language: str) -> set[str]:
    """Words of our English messages that are none of that language."""
    return (words_of(text) & english_words()) - own_words(language) - from_cldr(language)


def from_cldr(language: str) -> set[str]:
    """Names of months, days and countries, which CLDR has; some are written as in English."""
    speech = page_tongue(language)
    days = [date(2026, month, month) for month in range(1, 13)]
    named = [speech.full(day) + speech.month(day) for day in days] + [speech.weekday_named(n) for n in range(7)]
    return words_of(" ".join([*named, *(speech.country(code) for code in ("CI", "IN", "ID", "MY", "LK", "TH", "VN"))]))

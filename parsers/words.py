"""The words of a language, as data.

One TOML file a language lies in `words/`. `[words]` gives each meaning its words and phrases, separated by commas;
`[numbers]`, `[times]` and `[adds]` give number words their value; `[days]`, `[weekdays]`, `[months]`, `[spans]` and
`[languages]` do the same for days and languages; `[starting]` holds the words with which somebody is led into a farm of
his own, `[taking]` those that a collector says of a lot; they mean nothing elsewhere. An operator lays local words over these with files (or mappings) of the
same form that begin with `language = "xx"`; a language of its own is one more file. A word that stands in several lists
has several meanings; which one is meant is weighed later.
"""

import gc
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from importlib import resources
from pathlib import Path
from typing import Any, NamedTuple

from parsers.spelling import bare, fold, is_latin, tokens

LANGUAGES = ("en", "fr", "id", "th", "vi", "es")

#: Tables whose keys are values: the tag that their words get.
VALUED = {
    "numbers": "number",
    "times": "times",
    "adds": "adds",
    "days": "day",
    "weekdays": "weekday",
    "months": "month",
}

#: What the words of `[starting]` mean.
STARTING = frozenset(
    f"starting_{key}"
    for key in (
        "begin",
        "back",
        "cancel",
        "dont_know",
        "nobody",
        "sun",
        "smoke",
        "solar",
        "hot_air",
        "formic",
        "acetic",
        "sulphuric",
    )
)

#: What the words of `[taking]` mean.
TAKING = frozenset(
    f"taking_{key}"
    for key in (
        *("tare", "moisture", "mould", "bubbles", "dirt", "colour", "receipt"),
        *("closing", "disputes", "keep", "left", "grades"),
        *("advance", "acid_sold", "tools", "deduct", "levy", "payout", "cancel"),
        *("bales", "counted", "store", "nobody"),
        *("own_payouts", "house", "owes"),
    )
)

#: Tables whose words count only where somebody is led, or takes: their tags and names.
APART = {"starting": STARTING, "taking": TAKING}

#: A very short word of another language than the sender's counts only for these meanings.
SHORT_ABROAD = frozenset({"litre", "kg"})


#: A word of three letters of another language counts only for these.
THINGS_ABROAD = SHORT_ABROAD | {"container", "sheet", "tree", "drc", "block", "half", "stop"}


#: What words of other languages than the sender's and English may mean: things, not the small words of a sentence.
CONTENT = frozenset(
    {
        "litre", "kg", "container", "sheet", "tree", "drc", "block", "latex", "lump", "rolled", "dry", "rain", "sick", "acid",
        "collected", "price", "stimulated", "dry_trees", "not_tapped", "holiday", "wintering", "chat", "day", "weekday",
        "month", "undo", "week", "help", "stop", "language", "number", "times", "adds", "late", "money", "stock", "rest", "pin",
    }
)  # fmt: skip

#: Short words of another language are hardly days or numbers (`vie` is no Friday in French).
CALENDAR = frozenset({"weekday", "month", "day", "number", "times", "adds"})


class WordsError(ValueError):
    """A word file that cannot be used: says which file, table and key."""


class Meaning(NamedTuple):
    """What a word may mean: a tag, a value for numbers and days, how it is spelt with its marks, and its language."""

    tag: str
    value: int | str
    exact: str
    language: str


@dataclass(frozen=True, eq=False)
class Lexicon:
    """The words of all languages as a sender of one language uses them: his own language first."""

    language: str
    phrases: Mapping[str, tuple[Meaning, ...]]
    longest: Mapping[str, int]
    spellable: tuple[str, ...]
    unspaced: frozenset[str]
    real: frozenset[str] = frozenset()


@dataclass(frozen=True)
class Words:
    """All lexicons, by language of the sender; English serves senders of other languages."""

    lexicons: Mapping[str, Lexicon]
    starting: Mapping[str, tuple[Meaning, ...]] = field(default_factory=dict)
    taking: Mapping[str, tuple[Meaning, ...]] = field(default_factory=dict)

    def of(self, language: str) -> Lexicon:
        """The lexicon for a sender of that language."""
        return self.lexicons.get(language) or self.lexicons["en"]


@lru_cache(maxsize=1)
def standard() -> Words:
    """The words that come with the package."""
    return load()


def load(overlays: tuple[Path | Mapping[str, Any], ...] = ()) -> Words:
    """The words of the package with an operator's words laid over them. Raises WordsError."""
    collects = gc.isenabled()
    gc.disable()  # many small things are made and none is waste: looking for it takes a third of the time
    try:
        return _loaded(overlays)
    finally:
        if collects:
            gc.enable()


def _loaded(overlays: tuple[Path | Mapping[str, Any], ...]) -> Words:
    meanings: list[tuple[str, Meaning]] = []
    languages = list(LANGUAGES)
    folder = resources.files("parsers") / "words"
    for language in LANGUAGES:
        meanings += _meanings(tomllib.loads((folder / f"{language}.toml").read_text("utf-8")), language)
    for overlay in overlays:
        data = _overlay(overlay)
        language = str(data["language"])
        meanings += _meanings({key: value for key, value in data.items() if key != "language"}, language)
        if language not in languages:
            languages.append(language)
    by_key: dict[str, list[Meaning]] = {}
    own: dict[str, dict[str, list[Meaning]]] = {language: {} for language in languages}
    apart: dict[str, dict[str, tuple[Meaning, ...]]] = {table: {} for table in APART}
    for key, meaning in meanings:
        table = next((name for name, tags in APART.items() if meaning.tag in tags), None)
        if table is not None:
            apart[table][key] = (*apart[table].get(key, ()), meaning)
            continue
        by_key.setdefault(key, []).append(meaning)
        own[meaning.language].setdefault(key, []).append(meaning)
    abroad = {key: kept for key, found in by_key.items() if (kept := _abroad(key, found))}
    longest = _longest(abroad)
    unspaced = frozenset(_unspaced(abroad))
    lexicons = {language: _lexicon(own[language], abroad, longest, unspaced, language) for language in languages}
    return Words(lexicons, **apart)


def _overlay(overlay: Path | Mapping[str, Any]) -> Mapping[str, Any]:
    try:
        data = tomllib.loads(overlay.read_text("utf-8")) if isinstance(overlay, Path) else overlay
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise WordsError(f"{overlay}: {error}") from error
    if not isinstance(data.get("language"), str):
        raise WordsError(f'{overlay}: say at the top whose words these are, for example language = "en"')
    return data


def _meanings(data: Mapping[str, Any], language: str) -> Iterable[tuple[str, Meaning]]:
    for table, keys in data.items():
        if not isinstance(keys, Mapping):
            raise WordsError(f"{language}: {table} must be a table of words")
        for key, phrases in keys.items():
            if not isinstance(phrases, str):
                raise WordsError(f"{language}: {table}.{key} must be words separated by commas")
            tag, value = _tag(table, key, language)
            for phrase in phrases.split(","):
                exact = _spelt(phrase)
                if exact:
                    yield bare(exact), Meaning(tag, value, exact, language)


def _tag(table: str, key: str, language: str) -> tuple[str, int | str]:
    if table == "words":
        return key, 0
    if table in APART:
        if f"{table}_{key}" not in APART[table]:
            raise WordsError(f"{language}: there is no {table}.{key}; use one of {', '.join(sorted(APART[table]))}")
        return f"{table}_{key}", 0
    if table in ("spans", "languages"):
        return ("date" if key == "date" else table[:-1]), key
    if table not in VALUED:
        raise WordsError(f"{language}: there is no table {table}; use [words] or one of {', '.join(VALUED)}")
    try:
        return VALUED[table], int(key)
    except ValueError as error:
        raise WordsError(f"{language}: {table}.{key} must be a number") from error


#: Thai vowels and tones above and below, which are no letters to Python but part of a word.
THAI_MARKS = {point: None for point in (0x0E31, *range(0x0E34, 0x0E3B), *range(0x0E47, 0x0E4F))}


def _spelt(phrase: str) -> str:
    pieces = phrase.split()
    if all(piece.translate(THAI_MARKS).isalpha() for piece in pieces):  # nothing in them that would be cut: far quicker
        return fold(" ".join(pieces))
    return " ".join(token.word for token in tokens(phrase))


def _lexicon(
    own: Mapping[str, list[Meaning]],
    abroad: Mapping[str, tuple[Meaning, ...]],
    longest_abroad: Mapping[str, int],
    unspaced_abroad: frozenset[str],
    language: str,
) -> Lexicon:
    """A word that the sender's language has means what it means there; other words what they mean elsewhere."""
    real = _real(language)
    phrases = dict(abroad)
    for key in real & abroad.keys():
        if _ordinary_here(abroad[key]):
            del phrases[key]
    phrases.update((key, tuple(found)) for key, found in own.items())
    spellable = tuple(key for key in own if len(key) >= 4 and " " not in key and is_latin(key))
    unspaced = frozenset(key for key in unspaced_abroad if key in phrases) | frozenset(_unspaced(own))
    longest = dict(longest_abroad)
    for first, length in _longest(own).items():
        longest[first] = max(length, longest.get(first, 0))
    return Lexicon(language, phrases, longest, spellable, unspaced, real)


#: A word that means one of these elsewhere does not where it is an ordinary word (`quite` takes nothing back in English).
COMMANDS = frozenset({"undo", "stop", "help", "week"})


def _ordinary_here(found: tuple[Meaning, ...]) -> bool:
    """What an ordinary word of the sender's language does not mean: commands of another, and what it means in none but English."""
    return any(each.tag in COMMANDS for each in found) or all(each.language != "en" for each in found)


def _unspaced(keys: Iterable[str]) -> Iterable[str]:
    """The single words of scripts that put no spaces between words."""
    return (key for key in keys if not is_latin(key) and " " not in key)


def _real(language: str) -> frozenset[str]:
    """Common words of a language that are one slip from a word of ours, and are none: `perro` is not `pero`."""
    path = resources.files("parsers") / "words" / "real" / f"{language}.txt"
    return frozenset(path.read_text("utf-8").split()) if path.is_file() else frozenset()


def _longest(phrases: Iterable[str]) -> Mapping[str, int]:
    """How many words the longest phrase has that begins with a word."""
    longest: dict[str, int] = {}
    for key in phrases:
        first, _, rest = key.partition(" ")
        length = rest.count(" ") + 2 if rest else 1
        if length > longest.get(first, 0):
            longest[first] = length
    return longest


def _abroad(key: str, found: Iterable[Meaning]) -> tuple[Meaning, ...]:
    """What a word means to senders of other languages: English counts whole, the rest for things only."""
    if len(key) < 3 and is_latin(key):
        return tuple(each for each in found if each.tag in SHORT_ABROAD and each.language == "en")
    if len(key) == 3 and is_latin(key):
        found = [each for each in found if each.tag in THINGS_ABROAD]
    return tuple(
        each
        for each in found
        if (each.language == "en" or each.tag in CONTENT)
        and not (each.tag in CALENDAR and len(key) < 5)
        and each.tag != "ignore"
    )

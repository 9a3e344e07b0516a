"""The words of a language, as data.

One TOML file a language lies in `words/`. Its tables are groups (`unit`, `kind`, `day`, ...), its keys meanings, its
values words and phrases separated by commas. `[numbers]` gives number words a value. An operator lays local words over
these with files (or mappings) of the same form; a language of its own is one more file. Words that stand in several
lists have several meanings; which one is meant is weighed later.
"""

import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from importlib import resources
from pathlib import Path
from typing import Any

from parsers.spelling import bare, fold, is_latin, tokens

LANGUAGES = ("en", "fr", "id", "th", "vi", "es")

#: Words that the reader leaves unread. They are listed so that no slip of the thumb is seen in them.
IGNORED = "noise.word"


@dataclass(frozen=True, slots=True)
class Entry:
    """One spelling of a word or phrase: its exact (accented) form, its language and what it may mean."""

    exact: str
    language: str
    tag: str
    value: int = 0


@dataclass(frozen=True)
class Lexicon:
    """The words of all languages as a sender of one language uses them: his own language first."""

    language: str
    phrases: Mapping[str, tuple[Entry, ...]]
    longest: Mapping[str, int]
    spellable: tuple[str, ...]
    unspaced: frozenset[str]
    longest_unspaced: int


@dataclass(frozen=True)
class Words:
    """All lexicons, by language of the sender. `default` serves senders of other languages."""

    lexicons: Mapping[str, Lexicon]
    default: str = "en"

    def of(self, language: str) -> Lexicon:
        """The lexicon for a sender of that language (a two letter code), or the default one."""
        return self.lexicons.get(language) or self.lexicons[self.default]


class WordsError(ValueError):
    """A word file that cannot be used: says which file, table and key."""


@lru_cache(maxsize=1)
def standard() -> Words:
    """The words that come with the package."""
    return load()


def load(overlays: tuple[Path | Mapping[str, Any], ...] = ()) -> Words:
    """The words of the package with an operator's words laid over them.

    An overlay is a TOML file or a mapping of the same form, with `language = "xx"` at its top. Raises WordsError for
    a file that is not of that form.
    """
    entries: list[Entry] = []
    languages = list(LANGUAGES)
    folder = resources.files("parsers") / "words"
    for language in LANGUAGES:
        entries += _entries(tomllib.loads((folder / f"{language}.toml").read_text("utf-8")), language)
    for overlay in overlays:
        data = _overlay(overlay)
        language = str(data["language"])
        entries += _entries({key: value for key, value in data.items() if key != "language"}, language)
        if language not in languages:
            languages.append(language)
    return Words({language: _lexicon(entries, language) for language in languages})


def _overlay(overlay: Path | Mapping[str, Any]) -> Mapping[str, Any]:
    try:
        data = tomllib.loads(overlay.read_text("utf-8")) if isinstance(overlay, Path) else overlay
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise WordsError(f"{overlay}: {error}") from error
    if not isinstance(data.get("language"), str):
        raise WordsError(f'{overlay}: say at the top whose words these are, for example language = "en"')
    return data


def _entries(data: Mapping[str, Any], language: str) -> Iterable[Entry]:
    for group, keys in data.items():
        if not isinstance(keys, Mapping):
            raise WordsError(f"{language}: {group} must be a table of words")
        for key, words in keys.items():
            if not isinstance(words, str):
                raise WordsError(f"{language}: {group}.{key} must be words separated by commas")
            tag, value = _tag(group, key, language)
            for phrase in words.replace("\n", ",").split(","):
                exact = _spelt(phrase)
                if exact:
                    yield Entry(exact, language, tag, value)


def _tag(group: str, key: str, language: str) -> tuple[str, int]:
    if group != "number":
        return f"{group}.{key}", 0
    if key.isdecimal():
        return "number.value", int(key)
    if key.startswith("times"):
        return "number.times", int(key[5:])
    if key.startswith("add"):
        return "number.add", int(key[3:])
    if key == "and":
        return "number.and", 0
    raise WordsError(f"{language}: number.{key} must be a number, times10, add10 or and")


@lru_cache(maxsize=None)
def _spelt(phrase: str) -> str:
    return " ".join(token.word for token in tokens(phrase)) if not phrase.isalpha() else fold(phrase)


_ALWAYS_OPEN = ("unit.", "kind.grade", "kind.drc", "chat.")


def _lexicon(entries: list[Entry], language: str) -> Lexicon:
    by_key: dict[str, list[Entry]] = {}
    for entry in entries:
        by_key.setdefault(bare(entry.exact), []).append(entry)
    phrases: dict[str, tuple[Entry, ...]] = {}
    longest: dict[str, int] = {}
    for key, found in by_key.items():
        chosen = _chosen(key, found, language)
        if not chosen:
            continue
        phrases[key] = chosen
        first, _, rest = key.partition(" ")
        longest[first] = max(longest.get(first, 1), rest.count(" ") + 2 if rest else 1)
    unspaced = frozenset(key for key in phrases if not is_latin(key))
    return Lexicon(
        language=language,
        phrases=phrases,
        longest=longest,
        spellable=tuple(key for key, found in phrases.items() if _may_be_misspelt(key, found, language)),
        unspaced=unspaced,
        longest_unspaced=max((len(key) for key in unspaced), default=1),
    )


def _chosen(key: str, found: list[Entry], language: str) -> tuple[Entry, ...]:
    """A word that the sender's language has means what it means there; very short foreign words are only units."""
    own = tuple(entry for entry in found if entry.language == language)
    if own:
        return own
    if len(key) < 3 and is_latin(key):
        return tuple(entry for entry in found if entry.tag.startswith("unit.") and entry.language == "en")
    return tuple(entry for entry in found if entry.tag != IGNORED or language == "en")


def _may_be_misspelt(key: str, found: tuple[Entry, ...], language: str) -> bool:
    if len(key) < 4 or " " in key or not is_latin(key):
        return False
    return any(entry.language == language for entry in found)

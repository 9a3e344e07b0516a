"""The farm's own names (blocks, vessels, people, farms) by their words, and the shorter forms that name no other."""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache

from parsers.reading import Setting
from parsers.spelling import bare, fold, is_latin, tokens

#: Where a small letter meets a capital: `MamaEbi` is also written in two words.
_CAMEL = re.compile(r"(?<=[a-z])(?=[A-Z])")


@lru_cache(maxsize=4096)
def bare_name(name: str) -> str:
    """A name without its article, spaces and marks, in small letters."""
    words = [word for word in bare(fold(name)).replace("-", " ").split() if word not in _ARTICLES]
    return "".join(words)


#: Words for a farm that stand behind its name, and the Thai one that is written together with it.
WORDS_FOR_FARM = frozenset({"farm", "farms", "estate", "plantation", "plot", "garden", "holding"})
THAI_WORD_FOR_FARM = "สวน"


@dataclass(frozen=True)
class Names:
    """The farm's own names by their tokens: (tag, name) for the key of each."""

    by_key: Mapping[str, tuple[str, str]]
    longest: int
    spellable: tuple[str, ...]
    unspaced: frozenset[str]
    firsts: frozenset[str]

    @staticmethod
    def of(setting: Setting) -> "Names":
        """The names of a setting."""
        return _names(
            tuple(setting.blocks),
            tuple(setting.containers),
            tuple(person.name for person in setting.people),
            setting.farms,
        )


def _by_people(people: tuple[str, ...]) -> dict[str, tuple[str, str]]:
    """People by their whole names, the parts of them, and without a Thai title that is written together with them."""
    by_key: dict[str, tuple[str, str]] = {}
    for name in people:
        for part in (name, *_parts(name)):
            by_key.setdefault(_key(part), ("person", name))
        for title in THAI_TITLES:
            if name.startswith(title) and len(name) > len(title) + 2:
                by_key.setdefault(_key(name.removeprefix(title)), ("person", name))
    return by_key


@lru_cache(maxsize=512)
def _names(
    blocks: tuple[str, ...], containers: tuple[str, ...], people: tuple[str, ...], farms: tuple[str, ...]
) -> Names:
    by_key = _by_people(people)
    for name in farms:
        _, _, rest = name.partition(" ")
        if len(rest) >= 4 and sum(other.endswith(rest) for other in farms) == 1:
            by_key.setdefault(_key(rest), ("farm", name))  # without its word for farm
        first, _, last = name.rpartition(" ")
        if (
            last.casefold() in WORDS_FOR_FARM
            and len(first) >= 4
            and sum(other.startswith(first) for other in farms) == 1
        ):
            by_key.setdefault(_key(first), ("farm", name))
        if name.startswith(THAI_WORD_FOR_FARM) and len(name) > len(THAI_WORD_FOR_FARM) + 3:
            by_key.setdefault(_key(name.removeprefix(THAI_WORD_FOR_FARM)), ("farm", name))
    for name in farms:
        by_key[_key(name)] = ("farm", name)
    for name in containers:
        plurals = name.replace("-", "s-") + "s", name.replace(" ", "s ") + "s"
        for form in (name, name + "s", name + "es", name + "x", name + "nya", *plurals):
            by_key[_key(form)] = ("own_container", name)
    for name in blocks:
        for part in _distinct(name, blocks):
            by_key.setdefault(_key(part), ("own_block", name))
    for name in blocks:
        if (spaced := _CAMEL.sub(" ", name)) != name:
            by_key.setdefault(_key(spaced), ("own_block", name))
        by_key[_key(name)] = ("own_block", name)
        by_key.setdefault(
            "".join(c for c in _key(name) if c.isalnum() or not c.isascii()).replace(" ", ""), ("own_block", name)
        )
    for key, name in _initials(blocks).items():
        by_key.setdefault(key, ("own_block", name))
    for key, meant in list(by_key.items()):
        letter, _, number = key.partition(" ")
        if meant[0] == "own_block" and len(letter) == 1 and number.isdecimal():
            by_key.setdefault(f"{letter} - {number}", meant)  # `t-2`
    longest = max((key.count(" ") + 1 for key in by_key), default=1)
    spellable = tuple(key for key in by_key if len(key) >= 3 and " " not in key and key.isalpha() and is_latin(key))
    unspaced = frozenset(key for key in by_key if not is_latin(key) and " " not in key and not key[:1].isdecimal())
    return Names(by_key, longest, spellable, unspaced, frozenset(key.partition(" ")[0] for key in by_key))


#: Titles that Thai names begin with, without a space.
THAI_TITLES = ("แม่", "พ่อ", "ลุง", "ป้า", "น้า", "พี่", "นาย", "บัก", "ตา", "ยาย", "คุณ", "น้อง", "อา", "เจ๊", "เฮีย", "บัง")
_GENERIC_PREFIX = (THAI_WORD_FOR_FARM, "แปลง", "ทิศ", "ไร่", "ฝั่ง", "โซน", "ล็อก", "ล๊อก")
#: Words before a name that many people share: by itself none of them names anybody.
TITLES = frozenset({
    "pak", "bu", "don", "dona", "doña", "cô", "co", "chu", "chú", "anh", "chi", "chị", "ong", "ông", "ba", "bà",
    "bac", "bác", "u", "ut", "út", "mr", "mrs", "tante", "tonton", "น้า", "ลุง", "ป้า", "พี่", "ตา", "ยาย",
    "บัง", "เฮีย", "เจ๊", "nha", "nhà", "thầy", "mas", "bang", "mak", "cik",
})  # fmt: skip

#: More of them, which are also other words.
SHARED = TITLES | {
    "ibu", "bapak", "mbak", "kak", "abang", "mme", "mlle", "madame", "monsieur", "señor", "senor", "señora", "senora",
    "madam", "sir", "aunty", "uncle", "auntie", "mama", "papa", "pa", "ma", "แม่", "พ่อ", "นาย", "คุณ",
}  # fmt: skip

_ARTICLES = frozenset(["el", "la", "los", "las", "le", "les", "the", "of", "de", "del", "du"])


#: Letters as they are spoken, in the languages of our people.
SPOKEN_LETTERS: Mapping[str, str] = {
    "ka": "k", "pe": "p", "be": "b", "ce": "c", "de": "d", "el": "l", "te": "t", "es": "s", "em": "m", "en": "n", "ha": "h",
    "ge": "g", "ef": "f", "er": "r", "ar": "r", "ele": "l", "eme": "m", "ese": "s", "ene": "n", "bi": "b", "si": "c", "di": "d",
    "pi": "p", "ti": "t", "bee": "b", "cee": "c", "dee": "d", "pee": "p", "tee": "t", "kay": "k", "jay": "j", "elle": "l",
    "enne": "n", "esse": "s", "emme": "m", "erre": "r", "effe": "f", "ache": "h", "hache": "h", "jota": "j", "ell": "l",
    "ess": "s", "vee": "v", "zee": "z", "zed": "z", "aitch": "h", "eff": "f", "gee": "g", "ex": "x", "cue": "q",
    "em mo": "m", "bê": "b", "xê": "c", "dê": "d", "pê": "p", "tê": "t", "เอ": "a", "บี": "b", "ซี": "c", "ดี": "d", "พี": "p",
}  # fmt: skip


def _parts(name: str) -> list[str]:
    pieces = name.split()
    if len(pieces) < 2:
        return []
    return [piece for piece in pieces if len(piece) >= 3 and piece.casefold() not in SHARED]


def _distinct(name: str, blocks: tuple[str, ...]) -> list[str]:
    """Shorter forms that name this block and no other: `mango` for `El Mango`."""
    forms = [piece for piece in name.split() if len(piece) >= 3 and piece.casefold() not in _ARTICLES]
    forms += [name.removeprefix(prefix) for prefix in _GENERIC_PREFIX if name.startswith(prefix) and name != prefix]
    if len(forms) == 1 and forms[0] == name:
        return []
    return [form for form in forms if sum(form.casefold() in other.casefold() for other in blocks) == 1]


def _initials(blocks: tuple[str, ...]) -> dict[str, str]:
    """`e1` for `Estrada 1`: first letter and number, where it names one block alone."""
    found: dict[str, list[str]] = {}
    for name in blocks:
        word, _, number = name.rpartition(" ")
        if word and number.isdecimal() and is_latin(word):
            found.setdefault(f"{bare(fold(word))[0]} {number}", []).append(name)
    return {key: names[0] for key, names in found.items() if len(names) == 1}


@lru_cache(maxsize=4096)
def _key(name: str) -> str:
    found = tokens(name, mend_digits=False)
    return " ".join(bare(token.word) if token.kind == "w" else token.word for token in found)

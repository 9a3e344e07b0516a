"""Slips of the thumb that only the words beside them show.

A word that is not known, one slip from a word with which its neighbours make a known phrase (`avnat hier`), is that word. A
word beside a number or a unit, one slip from a number word, a half or a unit (`vigt neuf litres`, `9 and a halg litres`), is
that one, however short; by itself so short a word would not be mended. Words that are ordinary words of the language stay.
"""

from collections.abc import Mapping, Sequence
from functools import lru_cache

from rapidfuzz import process
from rapidfuzz.distance import OSA

from parsers.farm_names import Names
from parsers.meanings import Item
from parsers.spelling import Token, fold, is_latin
from parsers.words import Lexicon

#: Of words that are not known, so many of a text are looked at; it bounds the time of a text of nothing else.
MOST_MENDED = 24

#: Words from this length on may have two slips in a phrase.
LONG = 8

#: In a phrase of two words only words of this length are mended; in longer phrases shorter ones, too.
LEAST_IN_PAIR, LEAST_IN_PHRASE = 4, 3

MEASURES = frozenset({"litre", "kg", "sheet", "tree", "container"})
SHARES = frozenset({"half", "quarter", "three_quarters"})
NUMBERS = frozenset({"number", "times", "adds"})

#: Number words that people of every language know.
ENGLISH_NUMBERS = frozenset({"one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten"})

Phrase = tuple[str, ...]


@lru_cache(maxsize=32)
def _companions(lexicon: Lexicon) -> Mapping[str, tuple[Phrase, ...]]:
    """The phrases of several words of the sender's language, by each of their words."""
    found: dict[str, list[Phrase]] = {}
    for key, meanings in lexicon.phrases.items():
        words = tuple(key.split(" "))
        if len(words) < 2 or not is_latin(key) or all(each.language != lexicon.language for each in meanings):
            continue
        for word in set(words):
            if len(word) >= LEAST_IN_PHRASE and word.isalpha():
                found.setdefault(word, []).append(words)
    return {word: tuple(phrases) for word, phrases in found.items()}


@lru_cache(maxsize=32)
def _vocabulary(lexicon: Lexicon) -> tuple[str, ...]:
    return tuple(_companions(lexicon))


def is_of_a_phrase(word: str, lexicon: Lexicon) -> bool:
    """Whether a word is known from phrases of the sender's language."""
    return word in _companions(lexicon)


#: Keys that lie beside each other.
_ROWS = ("qwertyuiop", "asdfghjkl", "zxcvbnm")
_NEIGHBOURS = {one + two for row in _ROWS for one, two in zip(row, row[1:], strict=False)} | {
    above + below
    for upper, lower in zip(_ROWS, _ROWS[1:], strict=False)
    for n, below in enumerate(lower)
    for above in upper[n : n + 2]
}


def is_of_the_thumb(typed: str, meant: str) -> bool:
    """Whether a word is another with two letters changed over, one typed twice, or one taken for the key beside it."""
    if typed[:1] != meant[:1] or not typed:
        return False
    if sorted(typed) == sorted(meant):
        return True
    if len(typed) == len(meant) + 1:
        return any(typed[n] == typed[n - 1] and typed[:n] + typed[n + 1 :] == meant for n in range(1, len(typed)))
    apart = [one + two for one, two in zip(typed, meant, strict=False) if one != two]
    return len(typed) == len(meant) and len(apart) == 1 and bool({apart[0], apart[0][::-1]} & _NEIGHBOURS)


def with_phrases(found: Sequence[Token], names: Names, lexicon: Lexicon) -> list[Token]:
    """The tokens with words put right that complete a phrase."""
    out, looked = list(found), 0
    companions = _companions(lexicon)
    for n, token in enumerate(found):
        if looked >= MOST_MENDED:
            break
        if token.kind == "w" and _is_unknown(token.bare, names, lexicon, companions):
            looked += 1
            word = _completing(out, n, lexicon)
            if word is not None:
                out[n] = Token(token.text, word, word, "w", token.glued)
    return out


def _is_unknown(word: str, names: Names, lexicon: Lexicon, companions: Mapping[str, tuple[Phrase, ...]]) -> bool:
    if word in lexicon.phrases or not LEAST_IN_PHRASE <= len(word) <= 20 or not is_latin(word):
        return False
    known = word in lexicon.real or word in lexicon.longest or word in companions
    return not known and word not in names.firsts


def _completing(found: Sequence[Token], at: int, lexicon: Lexicon) -> str | None:
    """The one near word that makes a phrase with the words beside this one: the longest phrase counts."""
    lengths: dict[str, int] = {}
    for word in _near(found[at].bare, _vocabulary(lexicon), LONG):
        for phrase in _companions(lexicon)[word]:
            if len(phrase) == 2 and max(len(word), len(found[at].bare)) < LEAST_IN_PAIR:
                continue
            if any(_stands(phrase, place, found, at) for place, each in enumerate(phrase) if each == word):
                lengths[word] = max(lengths.get(word, 0), len(phrase))
    best = [word for word, length in lengths.items() if length == max(lengths.values())]
    return best[0] if len(best) == 1 else None


def _stands(phrase: Phrase, place: int, found: Sequence[Token], at: int) -> bool:
    """Whether the words of a phrase other than the one at this place stand around a token."""
    start = at - place
    if start < 0 or start + len(phrase) > len(found):
        return False
    return all(n == place or found[start + n].bare == word for n, word in enumerate(phrase))


@lru_cache(maxsize=20000)
def _near(word: str, among: tuple[str, ...], long: int) -> tuple[str, ...]:
    """The words a slip away."""
    cutoff = 2 if len(word) >= long else 1
    return tuple(
        key for key, _, _ in process.extract(word, among, scorer=OSA.distance, score_cutoff=cutoff, limit=None)
    )


@lru_cache(maxsize=64)
def _of_tags(lexicon: Lexicon, tags: frozenset[str], *, latin: bool) -> tuple[str, ...]:
    """The single words of the sender's language that may mean one of these."""
    return tuple(
        key
        for key, meanings in lexicon.phrases.items()
        if " " not in key
        and len(key) >= (LEAST_IN_PHRASE if latin else LEAST_IN_PAIR)
        and is_latin(key) is latin
        and any(each.tag in tags and each.language == lexicon.language for each in meanings)
    )


def shares(lexicon: Lexicon) -> tuple[str, ...]:
    """The sender's words for halves and quarters."""
    return _of_tags(lexicon, SHARES, latin=True) + _of_tags(lexicon, SHARES, latin=False)


def with_measures(found: list[Item], names: Names, lexicon: Lexicon) -> list[Item]:
    """The items with words put right that stand beside a number or a unit."""
    looked = 0
    for n, item in enumerate(found):
        if item.kind != "word" or item.tags or len(item.key) < LEAST_IN_PHRASE or item.key in lexicon.real:
            continue
        if (item.text.istitle() and n) or item.key in ENGLISH_NUMBERS:
            continue
        wanted = _wanted(found, n)
        if not wanted or looked >= MOST_MENDED:
            continue
        looked += 1
        _mend(item, wanted, names, lexicon)
        if not item.tags and not is_latin(item.key):
            _mend_run(found, n, wanted, names, lexicon)
    return found


#: A word of a script without spaces may have been cut into so many pieces that mean nothing.
MOST_PIECES = 4


def _mend_run(found: Sequence[Item], at: int, wanted: frozenset[str], names: Names, lexicon: Lexicon) -> None:
    """`กระ๋อง`: pieces that mean nothing by themselves, together one slip from a word."""
    end = at + 1
    while end < len(found) and end - at < MOST_PIECES and found[end].glued and not found[end].tags:
        end += 1
    for last in range(end, at + 1, -1):
        run = found[at:last]
        whole = Item("".join(each.text for each in run), "".join(each.key for each in run), "word", run[0].glued)
        _mend(whole, wanted, names, lexicon)
        if whole.tags:
            run[0].text, run[0].key, run[0].tags = whole.text, whole.key, whole.tags
            for each in run[1:]:
                each.tags = {"ignore": 0}
            return


def _wanted(found: Sequence[Item], at: int) -> frozenset[str]:
    """What may be meant between these neighbours."""
    before, after = _beside(found, at, -1), _beside(found, at, 1)
    joined = before is not None and before.has("plus", "ignore") and not before.has(*NUMBERS)
    further = _beside(found, at, -2)
    measured = further if joined else before
    wanted: frozenset[str] = frozenset()
    if before is not None and _is_number(before):
        wanted |= MEASURES | {"times", "adds"} | (NUMBERS if before.kind == "word" else frozenset())
    if measured is not None and (measured.has(*MEASURES, "own_container") or _is_number(measured)):
        wanted |= SHARES
    if after is not None and after.kind == "word" and after.has(*NUMBERS, *MEASURES, "own_container"):
        short = len(found[at].key) < LEAST_IN_PAIR and not after.has(*NUMBERS)
        wanted |= SHARES if short else NUMBERS | SHARES
    return wanted


def _beside(found: Sequence[Item], at: int, step: int) -> Item | None:
    item = found[at + step] if 0 <= at + step < len(found) else None
    return None if item is None or item.kind == "sign" else item


def _is_number(item: Item) -> bool:
    return item.kind == "number" or item.has(*NUMBERS)


def _mend(item: Item, wanted: frozenset[str], names: Names, lexicon: Lexicon) -> None:
    latin = is_latin(item.key)
    if len(item.key) < (LEAST_IN_PHRASE if latin else LEAST_IN_PAIR):
        return
    vessels = {key: name for key, (tag, name) in names.by_key.items() if tag == "own_container" and " " not in key}
    own = tuple(key for key in vessels if len(key) >= LEAST_IN_PHRASE and is_latin(key) is latin)
    near_own = _near(item.key, own, LONG) if "container" in wanted and len(item.key) > LEAST_IN_PAIR else ()
    meant = {vessels[key] for key in near_own}
    near = [key for key in _near(item.key, _of_tags(lexicon, wanted, latin=latin), LONG) if _alike(key, item.key)]
    if len(meant) == 1:
        item.tags = {"container": 0, "own_container": meant.pop(), "slip": near_own[0]}
        return
    near = _nearest_with_marks(item, near, wanted, lexicon)
    if near and latin and not item.text.isascii() and _apart(item, near[0], wanted, lexicon) > 1:
        return  # `rửa`, with its marks, is no `rưỡi`
    tags = {frozenset((each.tag, each.value) for each in lexicon.phrases[key] if each.tag in wanted) for key in near}
    if len(tags) == 1:
        item.tags = {**dict(tags.pop()), "slip": near[0]}


def _nearest_with_marks(item: Item, near: Sequence[str], wanted: frozenset[str], lexicon: Lexicon) -> list[str]:
    """Of several words a slip away those that are nearest as they are spelt with their marks (`rưỡu` is `rưỡi`)."""
    if len(near) < 2:
        return list(near)
    apart = {key: _apart(item, key, wanted, lexicon) for key in near}
    return [key for key in near if apart[key] == min(apart.values())]


def _apart(item: Item, key: str, wanted: frozenset[str], lexicon: Lexicon) -> int:
    """How many slips a word is from another as both are spelt with their marks."""
    typed = fold(item.text)
    return min(OSA.distance(typed, each.exact) for each in lexicon.phrases[key] if each.tag in wanted)


def _alike(key: str, word: str) -> bool:
    """Short words begin alike, or have the same letters."""
    return len(word) > LEAST_IN_PAIR or key[0] == word[0] or sorted(key) == sorted(word)

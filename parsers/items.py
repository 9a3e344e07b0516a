"""From tokens to items: words with all that they may mean, numbers with their value, the farm's own names.

The farm's names (blocks, containers, people, farms) come before the words of the language, the longest match before shorter
ones. Scripts without spaces are cut by the words that are known. What is not known is tried as a slip of the thumb: one wrong,
missing, doubled or swapped letter (two in long words), never in numbers, never in words under four letters, never where
two corrections are as near.
"""

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from functools import lru_cache

from rapidfuzz import process
from rapidfuzz.distance import OSA

from parsers.reading import Setting
from parsers.spelling import Token, bare, fold, is_latin, tokens
from parsers.words import Lexicon, Meaning

#: In words up to this length other marks make another word (`dậy` is not `dây`).
SHORT_WORD = 4

#: Names of blocks that would read as numbers with a slip in them (`L5`).
_LETTERED = re.compile(r"[lLiI]\d")

#: Where a small letter meets a capital: `MamaEbi` is also written in two words.
_CAMEL = re.compile(r"(?<=[a-z])(?=[A-Z])")

#: No more items than this are looked at: a text of ten parts holds fewer.
MOST_ITEMS = 400


@dataclass(slots=True)
class Item:
    """A word, number or sign. `tags` gives its possible meanings with their values."""

    text: str
    key: str
    kind: str
    glued: bool
    tags: Mapping[str, int | str] = field(default_factory=dict)
    value: Decimal | None = None
    name: str | None = None
    used: bool = False
    capital: bool = False

    def has(self, *tags: str) -> bool:
        """Whether it may mean any of these."""
        return any(tag in self.tags for tag in tags)


def items(text: str, setting: Setting, lexicon: Lexicon) -> list[Item]:
    """The items of a text in this setting."""
    names = Names.of(setting)
    lettered = any(_LETTERED.fullmatch(name) for name in setting.blocks)
    found = _cut(tokens(text, mend_digits=not lettered)[: 2 * MOST_ITEMS], names, lexicon)[:MOST_ITEMS]
    if lexicon.language == "fr":
        found = _short_de(found, names)
    if lexicon.language == "id":
        found = _once(found, names, lexicon)
    out: list[Item] = []
    at = 0
    while at < len(found):
        item, length = _match(found, at, names, lexicon)
        out.append(item)
        at += length
    if lexicon.language == "vi" and not text.isascii() and any("\u00c0" <= each <= "\u1ef9" for each in text):
        out = [_with_marks_meant(item, lexicon) for item in out]
    return _with_near_blocks(out, setting)


def _with_marks_meant(item: Item, lexicon: Lexicon) -> Item:
    """In a text with its marks, a word without any means what it means without (`mua` is to buy, `mưa` is rain)."""
    if item.kind != "word" or not item.text.isascii() or item.has("slip", "own_block", "own_container", "person"):
        return item
    found = lexicon.phrases.get(item.key, ())
    plain = [each for each in found if each.exact == item.key and each.language == "vi"]
    if plain and len(plain) < len(found):
        item.tags = _tags([each for each in found if each.exact == item.key])
    return item


#: Words behind which French texters write a 2 for `de`: `pa 2 pluie`.
_BEFORE_DE = frozenset(
    {"pa", "pas", "fon", "fond", "fonds", "peu", "bcp", "plus", "rien", "trop", "assez", "ya", "point"}
)


def _short_de(found: list[Token], names: "Names") -> list[Token]:
    """French texters write `d` or, behind some words, `2` for `de`."""
    out: list[Token] = []
    for n, token in enumerate(found):
        behind = found[n + 1] if n + 1 < len(found) else None
        stands = (
            token.text == "2" and bool(out) and out[-1].bare in _BEFORE_DE and behind is not None and behind.kind == "w"
        )
        out.append(Token("de", "de", "de", "w", token.glued) if stands else token)
    return out


def _once(found: list[Token], names: "Names", lexicon: Lexicon) -> list[Token]:
    """`kirim2` is `kirim-kirim`: a 2 behind a word, that no block, unit or vessel takes, only says the word twice."""
    out: list[Token] = []
    for n, token in enumerate(found):
        word = found[n - 1] if n else None
        behind = found[n + 1] if n + 1 < len(found) else None
        doubles = (
            token.text == "2"
            and token.glued
            and word is not None
            and word.kind == "w"
            and len(word.bare) >= 3
            and word.bare not in ("rss", "uss")
            and word.bare not in names.by_key
            and f"{word.bare} 2" not in names.by_key
            and not any(each.tag in _COUNTED for each in lexicon.phrases.get(word.bare, ()))
            and (behind is None or not (behind.glued or _means(behind.bare, lexicon)))
            and (behind is None or behind.kind != "d" or _says_nothing(word.bare, lexicon))
        )
        if not doubles:
            out.append(token)
    return out


def _says_nothing(word: str, lexicon: Lexicon) -> bool:
    """`kira2 13`: a word that says nothing by itself."""
    return any(each.tag == "ignore" for each in lexicon.phrases.get(word, ()))


#: Words behind which a number counts or names.
_COUNTED = frozenset({"block", "litre", "kg", "container", "sheet", "tree", "day", "plus", "acid", "price", "drc"})


def _with_near_blocks(found: list[Item], setting: Setting) -> list[Item]:
    """An unknown word beside a number that is nearly the name of one of the sender's blocks, and of no other, is that name."""
    own = {
        _plain(name): name for name in setting.own_blocks or setting.blocks if len(_plain(name)) >= 5 and is_latin(name)
    }
    if not own:
        return found
    named = {str(item.tags["own_block"]) for item in found if item.has("own_block")}
    for n, item in enumerate(found):
        if item.kind != "word" or item.tags or len(item.key) < 4 or not is_latin(item.key):
            continue
        if not any(0 <= at < len(found) and found[at].kind == "number" for at in (n - 1, n + 1, n + 2)):
            continue
        near = process.extract(item.key, list(own), scorer=OSA.distance, score_cutoff=max(1, len(item.key) // 3))
        fitting = [key for key, _, _ in near if key[0] == item.key[0] and own[key] not in named]
        if len(fitting) == 1:
            item.tags, item.name = {"own_block": own[fitting[0]], "slip": fitting[0]}, own[fitting[0]]
    return found


@lru_cache(maxsize=4096)
def _plain(name: str) -> str:
    """A name without its article, spaces and marks, in small letters."""
    words = [word for word in bare(fold(name)).replace("-", " ").split() if word not in _ARTICLES]
    return "".join(words)


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


@lru_cache(maxsize=512)
def _names(
    blocks: tuple[str, ...], containers: tuple[str, ...], people: tuple[str, ...], farms: tuple[str, ...]
) -> Names:
    by_key: dict[str, tuple[str, str]] = {}
    for name in people:
        for part in (name, *_parts(name)):
            by_key.setdefault(_key(part), ("person", name))
        for title in THAI_TITLES:
            if name.startswith(title) and len(name) > len(title) + 2:
                by_key.setdefault(_key(name.removeprefix(title)), ("person", name))
    for name in farms:
        _, _, rest = name.partition(" ")
        if len(rest) >= 4 and sum(other.endswith(rest) for other in farms) == 1:
            by_key.setdefault(_key(rest), ("farm", name))  # without its word for farm
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
    longest = max((key.count(" ") + 1 for key in by_key), default=1)
    spellable = tuple(key for key in by_key if len(key) >= 3 and " " not in key and key.isalpha() and is_latin(key))
    unspaced = frozenset(key for key in by_key if not is_latin(key) and " " not in key and not key[:1].isdecimal())
    return Names(by_key, longest, spellable, unspaced, frozenset(key.partition(" ")[0] for key in by_key))


#: Titles that Thai names begin with, without a space.
THAI_TITLES = ("แม่", "พ่อ", "ลุง", "ป้า", "น้า", "พี่", "นาย", "บัก", "ตา", "ยาย", "คุณ", "น้อง", "อา", "เจ๊", "เฮีย")
_GENERIC_PREFIX = ("สวน", "แปลง")
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


@lru_cache(maxsize=4096)
def _key(name: str) -> str:
    found = tokens(name, mend_digits=False)
    return " ".join(bare(token.word) if token.kind == "w" else token.word for token in found)


def _cut(found: Sequence[Token], names: Names, lexicon: Lexicon) -> list[Token]:
    """Words of scripts without spaces, cut into known words; Latin words glued to a known word, cut there."""
    out: list[Token] = []
    for token in found:
        if lexicon.language == "vi":
            token = _untelexed(token, names, lexicon)
        if token.kind != "w" or is_latin(token.word) or token.bare in lexicon.phrases or token.bare in names.by_key:
            out += _glued(token, names, lexicon) or _one_measure(token, names)
            continue
        token = _with_near_name(token, names, lexicon)
        before = bool(out) and token.glued and out[-1].kind == "d"
        for n, piece in enumerate(_segments(token.word, names.unspaced, lexicon, before)):
            out.append(Token(piece, piece, bare(piece), "w", token.glued or n > 0))
    return out


#: Names of scripts without spaces are mended from this length on; two slips from the second.
NEAR_NAME, FAR_NAME = 4, 8


def _with_near_name(token: Token, names: Names, lexicon: Lexicon) -> Token:
    """A run of letters that holds one of the farm's names with a slip in it, with the name put right."""
    word = token.word
    if any(name in word for name in names.unspaced) or len(word) < NEAR_NAME:
        return token
    found: set[tuple[int, int, str]] = set()
    for name in names.unspaced:
        if len(name) < NEAR_NAME:
            continue
        most = 2 if len(name) >= FAR_NAME else 1
        for size in range(len(name) - most, len(name) + most + 1):
            for at in range(len(word) - size + 1):
                if word[at : at + size] in lexicon.unspaced or word[at : at + size] in lexicon.real:
                    continue  # a word by itself
                if word[at] == name[0] and OSA.distance(word[at : at + size], name, score_cutoff=most) <= most:
                    found.add((at, size, name))
    meant = {name for _, _, name in found}
    if len(meant) != 1:
        return token
    name = meant.pop()
    at, size, _ = min(found, key=lambda each: (OSA.distance(word[each[0] : each[0] + each[1]], name), -each[1]))
    mended = word[:at] + name + word[at + size :]
    return Token(mended, mended, bare(mended), token.kind, token.glued)


#: Marks as they are typed on a Vietnamese keyboard that did not turn them into letters: `hoom nay`, `ddiaj`.
_TELEX = (
    (re.compile("([aeo])\\1"), r"\1"),
    (re.compile("dd"), "d"),
    (re.compile("([aou])w"), r"\1"),
    (re.compile("[sfrxj]$"), ""),
)


def _untelexed(token: Token, names: Names, lexicon: Lexicon) -> Token:
    """The word that was meant where its marks were left as keys, if that is a word that is known."""
    known = token.kind != "w" or token.bare in lexicon.longest or token.bare in names.firsts
    if known or not token.bare.isascii() or len(token.bare) < 3:
        return token
    plain = token.bare
    for pattern, instead in _TELEX:
        plain = pattern.sub(instead, plain)
    if plain != token.bare and (plain in lexicon.longest or plain in names.firsts):
        return Token(token.text, plain, plain, "w", token.glued)
    return token


#: Two words are taken apart only where both together have so many letters.
LEAST_GLUED = 5


def _glued(token: Token, names: Names, lexicon: Lexicon) -> list[Token]:
    """Two words without their space (`litrosllano`): one of them a name of the farm, the other a name or a unit."""
    word = token.bare
    if token.kind != "w" or not is_latin(word) or len(word) < LEAST_GLUED:
        return []
    if word in lexicon.phrases or word in names.by_key or word in lexicon.real:
        return []
    for at in range(2, len(word) - 1):
        first, second = word[:at], word[at:]
        if min(len(first), len(second)) < 3 and not (
            _means(first, lexicon) == "litre" and _means(second, lexicon) == "block"
        ):
            continue
        if (
            (first in names.by_key and _joins(second, names, lexicon))
            or (second in names.by_key and _joins(first, names, lexicon))
            or (_means(first, lexicon) == "litre" and _means(second, lexicon) == "block")
        ):
            return [Token(first, first, first, "w", token.glued), Token(second, second, second, "w", True)]
    return []


def _means(word: str, lexicon: Lexicon) -> str:
    """The unit or the word for block that a word is first of all."""
    found = lexicon.phrases.get(word, ())
    return next((each.tag for each in found if each.tag in ("litre", "block")), "")


def _joins(word: str, names: Names, lexicon: Lexicon) -> bool:
    return word in names.by_key or any(each.tag in UNITS | {"block", "rain"} for each in lexicon.phrases.get(word, ()))


def _one_measure(token: Token, names: Names) -> list[Token]:
    """`seember` is `satu ember`: the prefix for one, glued to a container."""
    rest = token.bare[2:] if token.kind == "w" and token.bare[:2] in ("se", "sa") else token.bare
    counts = names.by_key.get(rest, ("",))[0] == "own_container" or rest in ("liter", "litre", "ltr")
    if rest == token.bare or not counts or token.bare in names.by_key:
        return [token]
    return [Token("1", "1", "1", "d", token.glued), Token(rest, rest, rest, "w", True)]


@lru_cache(maxsize=4096)
def _segments(word: str, names: frozenset[str], lexicon: Lexicon, after_digit: bool) -> tuple[str, ...]:
    """The cheapest cut: known words cost little, unknown letters much, single letters more than words."""
    known, real = lexicon.unspaced, lexicon.real
    small = _small_phrases(word, names, lexicon)
    best: list[tuple[float, int]] = [(0.0, 0)] + [(1e9, 0)] * len(word)
    for start in range(len(word)):
        base = best[start][0]
        for end in range(start + 1, min(len(word), start + LONGEST_PIECE) + 1):
            piece = word[start:end]
            if piece in names or piece in known:
                alone = len(piece) == 1 and not (start == 0 and after_digit) and end - start < len(word)
                cost = 4.0 if alone else 2.2 if piece in small else 1.0
            elif piece in real:
                cost = 1.3
            elif end == start + 1:
                cost = 3.0
            else:
                continue
            if base + cost < best[end][0]:
                best[end] = (base + cost, start)
    return _joined_unknown(word, best, known | names | real, after_digit)


def _small_phrases(word: str, names: frozenset[str], lexicon: Lexicon) -> frozenset[str]:
    """Known pieces of small meaning that hold a name of the farm's which is in the word (`วัดได้` where a block is `วัด`)."""
    found = set()
    for name in names:
        at = word.find(name)
        while at >= 0:
            found |= {
                piece for piece in _around(word, at, len(name)) if piece not in names and _is_small(piece, lexicon)
            }
            at = word.find(name, at + 1)
    return frozenset(found)


#: No known word of a script without spaces is longer.
LONGEST_PIECE = 24


def _around(word: str, at: int, length: int) -> Iterator[str]:
    """The pieces of a run of letters that hold the letters from `at` on, and more."""
    for start in range(max(0, at + length - LONGEST_PIECE), at + 1):
        for end in range(at + length, min(len(word), start + LONGEST_PIECE) + 1):
            if end - start > length:
                yield word[start:end]


def _is_small(piece: str, lexicon: Lexicon) -> bool:
    """Whether all that a known piece means is small."""
    meanings = lexicon.phrases.get(piece, ())
    return bool(meanings) and {each.tag for each in meanings} <= SMALL


def _joined_unknown(
    word: str, best: list[tuple[float, int]], known: frozenset[str], after_digit: bool
) -> tuple[str, ...]:
    """Pieces of a cut; unknown letters that stand together are one piece. A letter is a word only behind a number or alone."""
    pieces: list[str] = []
    end = len(word)
    while end > 0:
        start = best[end][1]
        pieces.insert(0, word[start:end])
        end = start
    out: list[str] = []
    open_end = False
    for n, piece in enumerate(pieces):
        letter = len(piece) == 1 and not (n == 0 and after_digit) and piece != word
        unknown = piece not in known or letter
        if out and unknown and open_end:
            out[-1] += piece
        else:
            out.append(piece)
        open_end = unknown
    return tuple(out)


def _match(found: Sequence[Token], at: int, names: Names, lexicon: Lexicon) -> tuple[Item, int]:
    """The item that begins at a token, and how many tokens it takes."""
    token = found[at]
    length, item = _named(found, at, names)
    if item is not None and item.has("own_container") and at and found[at - 1].kind == "d":
        return item, length
    longest = lexicon.longest.get(token.bare, 1) if token.kind != "p" else 1
    for size in range(min(longest, len(found) - at), 0, -1):
        if size < length or (size == 1 and token.kind != "w"):
            break
        if size > 1 and token.kind == "d" and token.glued and at and found[at - 1].text == "/":
            continue  # `30/2 lô`: the 2 is a month
        key = " ".join(each.bare for each in found[at : at + size])
        meanings = lexicon.phrases.get(key)
        if (
            meanings
            and size > 1
            and (
                _cuts_a_name(found, at, size, names)
                or _cuts_a_number(found, at, meanings, lexicon)
                or _hides_a_name(found, at, size, meanings, names)
            )
        ):
            continue
        if meanings and (size > length):
            exact = " ".join(each.word for each in found[at : at + size])
            fitting = _fitting(exact, key, meanings)
            if fitting:
                return _as_own_container(_worded(token, key, fitting, _text(found[at : at + size])), names), size
    if item is not None:
        if token.kind == "w" and length == 1 and token.bare in lexicon.phrases:
            item.tags = {**_tags(_beside_a_name(lexicon.phrases[token.bare], lexicon)), **item.tags}
        if token.kind == "d":
            plain = (length == 1 and (item.name or "").isdecimal()) or not item.has("own_block")
            item.value, item.kind = _decimal(token.text), "number" if plain else "word"
        return item, length
    if token.kind == "d":
        return Item(token.text, token.text, "number", token.glued, {}, _decimal(token.text)), 1
    if token.kind == "p":
        return Item(token.text, token.text, "sign", token.glued), 1
    meanings = lexicon.phrases.get(token.bare)
    if meanings:
        worded = _worded(token, token.bare, _fitting(token.word, token.bare, meanings))
        return _as_own_container(worded, names), 1
    return _slip(token, found[at - 1] if at else None, names, lexicon), 1


def _cuts_a_name(found: Sequence[Token], at: int, size: int, names: Names) -> bool:
    """Whether a phrase would swallow the beginning of a longer name of the farm's (`di kebun` of `Kebun Alor`)."""
    return any(_named(found, at + step, names)[0] > size - step for step in range(1, size))


#: Phrases that say little: a name of the farm's within them is meant as the name.
SMALL = frozenset({"ignore", "for", "plus", "from", "chat"})


def _hides_a_name(found: Sequence[Token], at: int, size: int, meanings: Sequence[Meaning], names: Names) -> bool:
    """Whether a phrase of small words holds the name of a block or vessel (`với nhà` where a block is called `nhà`)."""
    if not {each.tag for each in meanings} <= SMALL:
        return False
    held = (_named(found, at + step, names)[1] for step in range(size))
    return any(item is not None and item.has("own_block", "own_container") for item in held)


def _beside_a_name(meanings: Sequence[Meaning], lexicon: Lexicon) -> list[Meaning]:
    """What else a name of the farm's may mean: no number word of a language that is not the sender's."""
    return [each for each in meanings if each.language == lexicon.language or each.tag not in ("number", "times")]


def _cuts_a_number(found: Sequence[Token], at: int, meanings: Sequence[Meaning], lexicon: Lexicon) -> bool:
    """`ba mốt ký` is 31 kilos: `một ký` would take the one away from the three."""
    before = lexicon.phrases.get(found[at - 1].bare, ()) if at else ()
    tens = any(each.tag == "number" and 2 <= int(each.value) <= 9 for each in before)
    return tens and any(each.tag == "per_kg" for each in meanings)


def _as_own_container(item: Item, names: Names) -> Item:
    """A word for a vessel that is a slip away from one that the farm has (`jerican` for its `jerrican`) is that one."""
    if not item.has("container") or item.has("own_container") or len(item.key) < 5:
        return item
    own = [key for key, (tag, _) in names.by_key.items() if tag == "own_container" and len(key) >= 5]
    near = process.extractOne(item.key, own, scorer=OSA.distance, score_cutoff=1)
    if near is not None:
        item.tags = {**item.tags, "own_container": names.by_key[near[0]][1]}
    return item


def _named(found: Sequence[Token], at: int, names: Names) -> tuple[int, Item | None]:
    for size in range(min(names.longest, len(found) - at), 0, -1):
        run = found[at : at + size]
        if any(token.kind == "p" and not token.glued for token in run[1:]):
            continue
        key = " ".join(token.bare if token.kind == "w" else token.word for token in run)
        name = names.by_key.get(key)
        if name is not None:
            tag, meant = name
            text = run[0].text
            item = Item(text, key, "word", run[0].glued, {tag: meant}, name=meant, capital=text[:1].isupper())
            return size, item
    return 0, None


def _text(run: Sequence[Token]) -> str:
    """The words of a phrase as they were written."""
    return run[0].text + "".join(each.text if each.glued else f" {each.text}" for each in run[1:])


def _worded(token: Token, key: str, meanings: Sequence[Meaning], text: str | None = None) -> Item:
    return Item(text or token.text, key, "word", token.glued, _tags(meanings), capital=token.text[:1].isupper())


def _fitting(exact: str, key: str, meanings: Sequence[Meaning]) -> Sequence[Meaning]:
    """Where marks were typed, the meanings that are spelt with these marks, if there are any."""
    if exact == key:
        return meanings
    same = [each for each in meanings if each.exact == exact]
    plain = [each for each in meanings if each.exact == key]
    marked = len(key) <= SHORT_WORD and any(each.exact != key for each in meanings)
    if marked and not same and all(each.language == "vi" for each in meanings):
        return ()  # `lò` is a kiln and no `lô`, for which `lo` is typed
    return same or plain or (meanings if len(key) > SHORT_WORD else ())


def _tags(meanings: Sequence[Meaning]) -> dict[str, int | str]:
    return {each.tag: each.value for each in meanings}


#: What a common word that is no word of ours may stand for right behind a number: autocorrect made it (`18 litters`).
UNITS = frozenset({"litre", "kg", "sheet", "tree"})


def _slip(token: Token, before: Token | None, names: Names, lexicon: Lexicon) -> Item:
    corrected = _corrected(token.bare, names.spellable, lexicon)
    real = corrected is not None and corrected not in names.by_key and token.bare in lexicon.real
    counted = before is not None and before.kind == "d"
    if real and not (counted and any(each.tag in UNITS for each in lexicon.phrases[corrected or ""])):
        corrected = None
    unknown = Item(token.text, token.bare, "word", token.glued, {}, capital=token.text[:1].isupper())
    if corrected is None:
        vessel = _without_vowels(token.bare, names) if counted else None
        unknown.tags = {"container": 0, "own_container": vessel} if vessel else {}
        return unknown
    if corrected in names.by_key:
        tag, meant = names.by_key[corrected]
        unknown.tags, unknown.name = {tag: meant, "slip": corrected}, meant
    else:
        unknown.tags = {**_tags(lexicon.phrases[corrected]), "slip": corrected}
    return unknown


_VOWELS = re.compile("[aeiouy]")


def _without_vowels(word: str, names: Names) -> str | None:
    """`2 jrgn`: a vessel of the farm written by its consonants."""
    if len(word) < 3 or _VOWELS.search(word):
        return None
    vessels = {name: meant for name, (tag, meant) in names.by_key.items() if tag == "own_container"}
    fitting = {meant for name, meant in vessels.items() if _VOWELS.sub("", name) == word}
    return fitting.pop() if len(fitting) == 1 else None


@lru_cache(maxsize=20000)
def _corrected(word: str, names: tuple[str, ...], lexicon: Lexicon) -> str | None:
    """The one known word that is a slip away; None when there is none, or more than one with other meanings."""
    if len(word) < 3 or len(word) > 30 or not is_latin(word):
        return None
    near_names = [name for name, distance, _ in process.extract(word, names, scorer=OSA.distance, score_cutoff=1)]
    if len(near_names) == 1:
        return near_names[0]
    if len(word) < 4 or near_names:
        return None
    cutoff = 1 if len(word) < 8 else 2
    near = process.extract(word, lexicon.spellable, scorer=OSA.distance, score_cutoff=cutoff, limit=6)
    if not near:
        return None
    least = min(distance for _, distance, _ in near)
    nearest = [key for key, distance, _ in near if distance == least]
    meant = {frozenset((each.tag, each.value) for each in lexicon.phrases[key]) for key in nearest}
    if len(word) < 5 and any(each.tag in ("number", "times") for each in lexicon.phrases[nearest[0]]):
        return None
    return nearest[0] if len(meant) == 1 else None


def _decimal(text: str) -> Decimal:
    """`18.5`, `18,5`; a group of three digits after a point or comma and another group are thousands."""
    pieces = text.replace(",", ".").split(".")
    if len(pieces) == 1:
        return Decimal(text[:12])
    if len(pieces) == 2:
        return Decimal(f"{pieces[0][:9]}.{pieces[1][:6]}")
    return Decimal("".join(pieces)[:12])


def folded(text: str) -> str:
    """A text as its words are compared."""
    return bare(fold(text.strip()))

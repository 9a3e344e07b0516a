"""From tokens to items: words with all that they may mean, numbers with their value, the farm's own names.

The farm's names (blocks, containers, people, farms) come before the words of the language, the longest match before shorter
ones. Scripts without spaces are cut by the words that are known. What is not known is tried as a slip of the thumb: one wrong,
missing, doubled or swapped letter (two in long words), never in numbers, never in words under four letters, never where
two corrections are as near.
"""

import re
from collections.abc import Sequence
from decimal import Decimal
from functools import lru_cache

from rapidfuzz import process
from rapidfuzz.distance import OSA

from parsers.cutting import SMALL, UNITS, cut, once, short_de
from parsers.farm_names import Names, bare_name
from parsers.meanings import Item
from parsers.mending import is_of_a_phrase, is_of_the_thumb, with_measures, with_phrases
from parsers.reading import Setting
from parsers.sounds import heard_as, known_by_sound, sound
from parsers.spelling import Token, bare, fold, is_latin, tokens
from parsers.words import Lexicon, Meaning

#: In words up to this length other marks make another word (`dậy` is not `dây`).
SHORT_WORD = 4

#: What a short word that is not known is taken for only with a plain slip: it would move a day, or take something back.
GRAVE, LEAST_GRAVE = frozenset({"day", "undo", "stop", "week", "phone_of", "span"}), 6

#: Names of blocks that would read as numbers with a slip in them (`L5`).
_LETTERED = re.compile(r"[lLiI]\d")

#: No more items than this are looked at: a text of ten parts holds fewer.
MOST_ITEMS = 400


def items(text: str, setting: Setting, lexicon: Lexicon) -> list[Item]:
    """The items of a text in this setting."""
    names = Names.of(setting)
    lettered = any(_LETTERED.fullmatch(name) for name in setting.blocks) or _short_for_block(text, setting)
    found = cut(tokens(text, mend_digits=not lettered)[: 2 * MOST_ITEMS], names, lexicon)[:MOST_ITEMS]
    if lexicon.language == "fr":
        found = short_de(found, lexicon)
    if lexicon.language == "id":
        found = once(found, names, lexicon)
    found = with_phrases(found, names, lexicon)
    out: list[Item] = []
    at = 0
    while at < len(found):
        item, length = _match(found, at, names, lexicon)
        out.append(item)
        at += length
    if lexicon.language == "vi" and not text.isascii() and any("\u00c0" <= each <= "\u1ef9" for each in text):
        out = [_with_marks_meant(item, lexicon) for item in out]
    return with_measures(_with_near_blocks(out, setting), names, lexicon)


def _short_for_block(text: str, setting: Setting) -> bool:
    """`l1 18l` where there is a block 1 and none is called 11: a Vietnamese `lô`, not a one."""
    if setting.language != "vi":
        return False
    led = [name for name in re.findall(r"(?<!\w)[lL](\d)(?!\d)", text) if name in setting.blocks]
    return bool(led) and all(f"1{name}" not in setting.blocks for name in led)


def _with_marks_meant(item: Item, lexicon: Lexicon) -> Item:
    """In a text with its marks, a word without any means what it means without (`mua` is to buy, `mưa` is rain)."""
    if item.kind != "word" or not item.text.isascii() or item.has("slip", "own_block", "own_container", "person"):
        return item
    found = lexicon.phrases.get(item.key, ())
    plain = [each for each in found if each.exact == item.key and each.language == "vi"]
    if plain and len(plain) < len(found):
        item.tags = _tags([each for each in found if each.exact == item.key])
    return item


def _with_near_blocks(found: list[Item], setting: Setting) -> list[Item]:
    """An unknown word beside a number that is nearly the name of one of the sender's blocks, and of no other, is that name."""
    own = {
        bare_name(name): name
        for name in setting.own_blocks or setting.blocks
        if len(bare_name(name)) >= 5 and is_latin(name)
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
    before, after = found[at - 1] if at else None, found[at + 1] if at + 1 < len(found) else None
    return _slip(token, before, after, names, lexicon), 1


def _cuts_a_name(found: Sequence[Token], at: int, size: int, names: Names) -> bool:
    """Whether a phrase would swallow the beginning of a longer name of the farm's (`di kebun` of `Kebun Alor`)."""
    return any(_named(found, at + step, names)[0] > size - step for step in range(1, size))


#: Longer phrases say more than a name of one of their words (`chúc mừng năm mới`).
SMALL_PHRASE = 3


def _hides_a_name(found: Sequence[Token], at: int, size: int, meanings: Sequence[Meaning], names: Names) -> bool:
    """Whether a phrase of small words holds the name of a block or vessel (`với nhà` where a block is called `nhà`)."""
    if size > SMALL_PHRASE or not {each.tag for each in meanings} <= SMALL:
        return False
    held = (_named(found, at + step, names)[1] for step in range(size))
    return any(item is not None and item.has("own_block", "own_container") for item in held)


def _beside_a_name(meanings: Sequence[Meaning], lexicon: Lexicon) -> list[Meaning]:
    """What else a name of the farm's may mean: no number word of a language that is not the sender's."""
    return [each for each in meanings if each.language == lexicon.language or each.tag not in ("number", "times")]


def _cuts_a_number(found: Sequence[Token], at: int, meanings: Sequence[Meaning], lexicon: Lexicon) -> bool:
    """`ba mốt ký` is 31 kilos: `một ký` would take the one away from the three; `mười lăm được` is 15, not `làm được`."""
    before = lexicon.phrases.get(found[at - 1].bare, ()) if at else ()
    tens = any(each.tag == "number" and 2 <= int(each.value) <= 10 for each in before)
    if not tens:
        return False
    marked = not found[at].word.isascii()
    own = [each for each in lexicon.phrases.get(found[at].bare, ()) if each.exact == found[at].word]
    digit = marked and any(each.tag == "number" and int(each.value) < 10 for each in own)
    return any(each.tag == "per_kg" for each in meanings) or (digit and all(each.tag != "number" for each in meanings))


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
        measures = size > 1 and len(run[0].bare) == 1 and run[0].glued and at and found[at - 1].kind == "d"
        if measures and not run[1].glued:
            continue  # `9L 4 trees`: the letter is the unit of the figure before it
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
    if not exact.isascii() and not same and all(each.language == "vi" for each in meanings):
        meanings = [each for each in meanings if each.tag not in NEVER_BY_OTHER_MARKS]
        plain = [each for each in plain if each.tag not in NEVER_BY_OTHER_MARKS]
    return same or plain or (meanings if len(key) > SHORT_WORD else ())


#: What a Vietnamese phrase typed with other marks never means: `đo là` (to measure it is) is no `đổ lá` (leaf fall).
NEVER_BY_OTHER_MARKS = frozenset({"wintering", "sick", "not_tapped", "holiday", "stop", "undo"})


def _tags(meanings: Sequence[Meaning]) -> dict[str, int | str]:
    return {each.tag: each.value for each in meanings}


def _slip(token: Token, before: Token | None, after: Token | None, names: Names, lexicon: Lexicon) -> Item:
    corrected = _corrected(token.bare, names.spellable, lexicon)
    if corrected is not None and corrected not in names.by_key and _is_number_word(corrected, lexicon):
        corrected = corrected if _counts(before, lexicon) or _counts(after, lexicon) else None
    real = corrected is not None and corrected not in names.by_key and token.bare in lexicon.real
    counted = before is not None and before.kind == "d"
    if real and not (counted and any(each.tag in UNITS for each in lexicon.phrases[corrected or ""])):
        corrected = None
    if corrected is not None and corrected not in names.by_key and _may_be_called(token, before):
        tags = {each.tag for each in lexicon.phrases[corrected]}
        corrected = None if tags & OF_NO_NAME else corrected
    if corrected is None:
        corrected = _heard(token, names, lexicon)
    stem = _stem(token.bare, lexicon) if corrected is None else None
    if stem is not None:
        return Item(token.text, stem, "word", token.glued, _tags(lexicon.phrases[stem]))
    if corrected in names.by_key and is_of_a_phrase(token.bare, lexicon):
        corrected = None  # `faut` where a block is called `haut`
    unknown = Item(token.text, token.bare, "word", token.glued, {}, capital=token.text[:1].isupper())
    if corrected is None:
        block = _by_consonants(token.bare, names)
        if block is not None:
            unknown.tags, unknown.name = {"own_block": block, "slip": token.bare}, block
            return unknown
        vessel = _vessel(token.bare, names, lexicon) if counted else None
        unknown.tags = {"container": 0, "own_container": vessel} if vessel else {}
        return unknown
    if corrected in names.by_key:
        tag, meant = names.by_key[corrected]
        unknown.tags, unknown.name = {tag: meant, "slip": corrected}, meant
    else:
        unknown.tags = {**_tags(lexicon.phrases[corrected]), "slip": corrected}
    return unknown


def _heard(token: Token, names: Names, lexicon: Lexicon) -> str | None:
    """A name of the farm's, or a word, that sounds like a word that is not known."""
    if token.bare in lexicon.real or is_of_a_phrase(token.bare, lexicon):
        return None
    own = heard_as(token.bare, names.spellable, lexicon.language)
    if own is not None:
        return own
    known = known_by_sound(token.bare, lexicon)
    named = token.text[:1].isupper() or len(token.bare) < LEAST_HEARD_GRAVE
    graves = OF_NO_NAME if named else GRAVE | {"not", "no"}
    grave = known is not None and any(each.tag in graves for each in lexicon.phrases[known])
    return None if grave else known


#: From so many letters on a word that is heard may also take something back.
LEAST_HEARD_GRAVE = 6

#: What stands beside a number: a unit, another number, a block.
_BESIDE_NUMBERS = frozenset(
    {*UNITS, "number", "times", "adds", "block", "percent", "half", "quarter", "ml", "kg10", "kg100", "less", "plus"}
)


def _is_number_word(word: str, lexicon: Lexicon) -> bool:
    return any(each.tag in ("number", "times") for each in lexicon.phrases[word])


def _counts(token: Token | None, lexicon: Lexicon) -> bool:
    """Whether a token beside a word speaks for that word's being a number."""
    if token is None or token.kind == "p":
        return False
    return token.kind == "d" or any(each.tag in _BESIDE_NUMBERS for each in lexicon.phrases.get(token.bare, ()))


#: What a name with a slip's look would do harm as (`don Rigo` is no `digo`).
OF_NO_NAME = frozenset(
    {"fix", "self", "undo", "stop", "not", "no", "day", "holiday", "sick", "rest", "other", "again", "dispute"}
)


def _may_be_called(token: Token, before: Token | None) -> bool:
    """Whether a word is written as a name: a capital within a sentence, not in capitals throughout."""
    within = before is not None and before.kind == "w"
    return within and token.text[:1].isupper() and not token.text.isupper()


#: What Indonesian and Malay put behind a word.
_BEHIND = ("nya", "lah", "kah", "pun")


def _stem(word: str, lexicon: Lexicon) -> str | None:
    """`hujannya` is `hujan`: the known word before a small one that is written together with it."""
    if lexicon.language != "id":
        return None
    stems = [word.removesuffix(each) for each in _BEHIND if word.endswith(each)]
    return next((stem for stem in stems if len(stem) > SHORT_WORD and stem in lexicon.phrases), None)


#: So many letters of a vessel must be heard behind a number.
SHORTEST_VESSEL = 2


def _vessel(word: str, names: Names, lexicon: Lexicon) -> str | None:
    """A vessel of the farm behind a number, by its consonants or its sound (`1 seo`, a `seau`)."""
    vessels = {key: meant for key, (tag, meant) in names.by_key.items() if tag == "own_container" and " " not in key}
    heard = sound(word, lexicon.language, SHORTEST_VESSEL)
    alike = {
        meant for key, meant in vessels.items() if heard and sound(key, lexicon.language, SHORTEST_VESSEL) == heard
    }
    return alike.pop() if len(alike) == 1 else _without_vowels(word, names)


_VOWELS = re.compile("[aeiouy]")
_TWICE = re.compile(r"(.)\1+")


def _without_vowels(word: str, names: Names) -> str | None:
    """`2 jrgn`: a vessel of the farm written by its consonants."""
    if len(word) < 3 or _VOWELS.search(word):
        return None
    vessels = {name: meant for name, (tag, meant) in names.by_key.items() if tag == "own_container"}
    fitting = {meant for name, meant in vessels.items() if _VOWELS.sub("", name) == word}
    return fitting.pop() if len(fitting) == 1 else None


#: A name is written by its consonants from so many on; one of them may be left out (`cbg` for `cabang`).
LEAST_CONSONANTS = 3


def _by_consonants(word: str, names: Names) -> str | None:
    """`kdl` where a block is called Kidul: the one block of the farm that a word without vowels is short for."""
    if len(word) < LEAST_CONSONANTS or not word.isalpha() or not is_latin(word) or _VOWELS.search(word[1:]):
        return None
    blocks = {key: meant for key, (tag, meant) in names.by_key.items() if tag == "own_block" and key.isalpha()}
    fitting = {meant for key, meant in blocks.items() if len(key) > len(word) and _is_short_for(word, key)}
    return fitting.pop() if len(fitting) == 1 else None


def _is_short_for(word: str, name: str) -> bool:
    consonants = name[0] + _TWICE.sub(r"\1", _VOWELS.sub("", name[1:]))
    if name[0] != word[0] or consonants[-1:] != word[-1:] or len(word) < len(consonants) - 1:
        return False
    rest = iter(consonants)
    return all(letter in rest for letter in word)


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
    if (len(word) < 5 or least > 1) and any(each.tag in ("number", "times") for each in lexicon.phrases[nearest[0]]):
        return None
    grave = len(word) < LEAST_GRAVE and all(each.tag in GRAVE for each in lexicon.phrases[nearest[0]])
    if grave and not (len(nearest) == 1 and is_of_the_thumb(word, nearest[0])):
        return None
    return nearest[0] if len(meant) == 1 else None


#: Groups of three digits behind one mark, and a fraction behind the other.
_GROUPED = re.compile(r"\d{1,3}(?:(?:\.\d{3})+,|(?:,\d{3})+\.)\d+")


def _decimal(text: str) -> Decimal:
    """`18.5`, `18,5`; a group of three digits after a point or comma and another group are thousands."""
    if _GROUPED.fullmatch(text):  # `1.250,5`, `1,150.5`: the last mark is the decimal one
        mark = next(each for each in reversed(text) if each in ".,")
        whole, _, rest = text.replace("," if mark == "." else ".", "").partition(mark)
        return Decimal(f"{whole[:9]}.{rest[:6]}")
    pieces = text.replace(",", ".").split(".")
    if len(pieces) == 1:
        return Decimal(text[:12])
    if len(pieces) == 2:
        return Decimal(f"{pieces[0][:9]}.{pieces[1][:6]}")
    return Decimal("".join(pieces)[:12])


def folded(text: str) -> str:
    """A text as its words are compared."""
    return bare(fold(text.strip()))

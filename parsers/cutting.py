"""Where words end: scripts without spaces, words glued to each other, and what stands for another word beside it.

Words of scripts without spaces are cut by the words that are known, the cheapest way. Latin words are only taken apart where
one part is a name of the farm's or a unit.
"""

import re
from collections.abc import Iterator, Sequence
from functools import lru_cache

from rapidfuzz.distance import OSA

from parsers.farm_names import Names
from parsers.spelling import Token, bare, is_latin
from parsers.words import Lexicon

#: Phrases that say little: a name of the farm's within them is meant as the name.
SMALL = frozenset({"ignore", "for", "plus", "from", "chat"})

#: What a common word that is no word of ours may stand for right behind a number: autocorrect made it (`18 litters`).
UNITS = frozenset({"litre", "kg", "sheet", "tree"})

#: Words behind which French texters write a 2 for `de`: `pa 2 pluie`.
_BEFORE_DE = frozenset(
    {"pa", "pas", "fon", "fond", "fonds", "peu", "bcp", "plus", "rien", "trop", "assez", "ya", "point"}
)


def short_de(found: list[Token], lexicon: Lexicon) -> list[Token]:
    """French texters write `d` or, behind some words, `2` for `de`."""
    out: list[Token] = []
    for n, token in enumerate(found):
        behind = found[n + 1] if n + 1 < len(found) else None
        stands = (
            token.text == "2"
            and bool(out)
            and out[-1].bare in _BEFORE_DE
            and behind is not None
            and behind.kind == "w"
            and not (out[-1].bare == "plus" and any(each.tag in UNITS for each in lexicon.phrases.get(behind.bare, ())))
        )
        out.append(Token("de", "de", "de", "w", token.glued) if stands else token)
    return out


def once(found: list[Token], names: Names, lexicon: Lexicon) -> list[Token]:
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


def cut(found: Sequence[Token], names: Names, lexicon: Lexicon) -> list[Token]:
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

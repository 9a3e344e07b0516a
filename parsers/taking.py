"""What a collector says of each lot besides its weight: form, tare, moisture, age, and why it got its grade.

The words for these lie in `[taking]` of a language's words and mean nothing elsewhere.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from decimal import Decimal

from parsers import asking
from parsers.facts import Fact, Facts
from parsers.reader import Reader
from parsers.reading import Record, Setting, What
from parsers.spelling import bare, fold, is_latin, tokens
from parsers.words import Meaning, Words, standard

#: What a grade can be given for.
NOTES = ("moisture", "mould", "bubbles", "dirt", "colour")

#: What is said of a lot; other words of `[taking]` begin a text (a receipt's number, what a manager wants).
OF_LOT = frozenset({"tare", *NOTES})

#: Words of a phrase at most.
LONGEST = 3


@dataclass(frozen=True)
class Lot:
    """One lot that was taken. `form` is `sheets`, `latex` or `lump`.

    The weight of `record` is without `tare_kg`. `moisture` is percent of the wet weight, `age_days` days since a lump was
    brought together, `notes` why the grade was given (`moisture`, `mould`, `bubbles`, `dirt`, `colour`). `unclear` says that a
    dry content was spoken of and its figure cannot be one.
    """

    record: Record
    form: str = "sheets"
    tare_kg: Decimal | None = None
    moisture: Decimal | None = None
    age_days: int | None = None
    notes: tuple[str, ...] = ()
    unclear: bool = False

    @property
    def is_plain(self) -> bool:
        """Sheets with nothing said but what a record holds."""
        return self == Lot(self.record)


@dataclass(frozen=True)
class _Mark:
    """A word of `[taking]` at an item, and the number that belongs to it."""

    kind: str
    at: int
    value: Decimal | None = None
    used: frozenset[int] = frozenset()


def lots(facts: Facts, setting: Setting, words: Words | None = None) -> tuple[Lot, ...]:
    """Every lot of a collector's text, in its order; none where no weight, litres or sheets are said.

    A lot whose day cannot be told has none in its record.
    """
    marks = _marks(facts, words or standard())
    used = {at for mark in marks for at in mark.used}
    left = _with_units(Facts([fact for fact in facts.found if fact.at not in used], facts.items))
    denied = left.of("not", "no")
    quantities = [
        fact
        for fact in left.of("sheets", "kg", "litres")
        if fact.value and not any(0 < fact.at - each.at <= 2 for each in denied)
    ]
    groups = _groups(quantities)
    farms = _farms(left, used, setting)
    reader = Reader(left, setting)
    return tuple(_lot(left, marks, groups, n, farms, reader) for n in range(len(groups)))


#: A sheet weighs so many kg at least and at most, for two bare numbers to be sheets and kilos. Common practice, no source.
LIGHTEST, HEAVIEST = Decimal("0.1"), Decimal(3)


def _with_units(facts: Facts) -> Facts:
    """`Ama 24 11.8 rss3`: beside a grade, and without any unit, a whole number and a likely weight are sheets and kilos."""
    numbers = [fact for fact in facts.of("number") if fact.value]
    counted = facts.of("sheets")
    if facts.has("fix") and len(numbers) == len(counted) == 1 and not facts.has("kg", "litres", "block"):
        likely = LIGHTEST <= (numbers[0].value or Decimal(0)) / (counted[0].value or Decimal(1)) <= HEAVIEST
        weight_said = {id(numbers[0]): "kg"} if likely else {}  # `sorry ama 24 sheets was 11.9`
        return Facts([replace(each, kind=weight_said.get(id(each), each.kind)) for each in facts.found], facts.items)
    if len(numbers) < 2 or not facts.has("grade") or facts.has("kg", "sheets", "litres", "block"):
        return facts
    sheets, kg = numbers[0], numbers[1]
    count, weight = sheets.value or Decimal(0), kg.value or Decimal(0)
    if count != count.to_integral_value() or not LIGHTEST <= weight / count <= HEAVIEST:
        return facts
    units = {id(sheets): "sheets", id(kg): "kg"}
    return Facts([replace(each, kind=units.get(id(each), each.kind)) for each in facts.found], facts.items)


def _lot(
    facts: Facts,
    marks: list[_Mark],
    groups: list[list[Fact]],
    n: int,
    farms: list[tuple[int, str]],
    reader: Reader,
) -> Lot:
    group = groups[n]
    start = 0 if n == 0 else group[0].at
    end = groups[n + 1][0].at if n + 1 < len(groups) else 10**6
    form = _form(facts, group, start, end)
    own = [mark for mark in marks if start <= mark.at < end]
    percent = next((fact.value for fact in facts.of("drc_value") if start <= fact.at < end), None)
    named = any(start <= fact.at < end for fact in facts.of("drc"))
    unclear = named and percent is None
    moisture = next((mark.value for mark in own if mark.kind == "moisture" and mark.value is not None), None)
    if form != "latex" and percent is not None and not named and moisture is None:
        moisture, percent = percent, None
    tare = next((mark.value for mark in own if mark.kind == "tare" and mark.value is not None), None)
    age = next((fact.value for fact in facts.of("duration") if start <= fact.at < end), None)
    record = Record(
        What.COLLECTED,
        reader.day_of(group[0])[0],
        litres=_of(group, "litres"),
        kg=_net(_of(group, "kg"), tare),
        drc=percent if form in ("latex", "lump") else None,
        sheets=None if (count := _of(group, "sheets")) is None else int(count),
        grade=asking._within(facts.of("grade"), start, end, len(groups)) if form == "sheets" else None,
        price=_price(facts, group, start, end),
        farm=asking._farm_of(farms, group, groups, n),
    )
    notes = tuple(note for note in NOTES if any(mark.kind == note and mark.value is None for mark in own))
    days = int(age) if age is not None and form == "lump" else None
    return Lot(record, form, tare, moisture, days, notes, unclear)


def notes_in(facts: Facts, words: Words | None = None) -> tuple[str, ...]:
    """The reasons of a grade that a text gives."""
    kinds = {mark.kind for mark in _marks(facts, words or standard()) if mark.value is None}
    return tuple(note for note in NOTES if note in kinds)


def _farms(facts: Facts, used: set[int], setting: Setting) -> list[tuple[int, str]]:
    """Farms with their places in the text: those known, and unknown names behind `from` or at the head of a clause."""
    there = [bare(fold(name)) for name in setting.places]
    runs = [
        run
        for run in asking._unknown_runs(facts)
        if run[0] not in used and not any(bare(fold(run[1])) in place for place in there)
    ]
    known = _known(facts, dict(runs))
    runs = [run for run in runs if run[0] not in dict(known)]
    behind = [run for run in runs if run[0] > 0 and asking._is_link(facts, run[0] - 1)]
    heads = [run for run in runs if run not in behind and _is_head(facts, run[0])]
    clauses = {_clause_of(facts, at) for at, _ in (*known, *behind)}
    return sorted([*known, *behind, *(run for run in heads if _clause_of(facts, run[0]) not in clauses)])


def _known(facts: Facts, runs: dict[int, str]) -> list[tuple[int, str]]:
    """Farms that the reader knows; where one is part of a longer name that it does not know, the whole name as written."""
    found: list[tuple[int, str]] = []
    until = -1
    for fact in facts.of("farm"):
        if fact.at == until and found:  # `yaw holow`: two names side by side are one, written in another way
            start, before = found[-1]
            found[-1] = (start, f"{before} {facts.items[fact.at].text}")
            until = fact.at + 1
        elif fact.at > until:
            start = next((at for at, name in runs.items() if at <= fact.at < at + len(name.split())), fact.at)
            written = runs.get(start, "")
            length = len(written.split())
            found.append((start, written if length > 1 else str(fact.name)))
            until = start + max(length, 1)
    return found


def _is_head(facts: Facts, at: int) -> bool:
    return at == 0 or facts.items[at - 1].kind == "sign" or facts.items[at - 1].has("collected", "lump", "latex")


def _clause_of(facts: Facts, at: int) -> int:
    """The clause of a place in the text: signs before it count."""
    near = [fact for fact in facts.found if fact.at >= at] or facts.found
    return min(near, key=lambda fact: fact.at).clause if near else 0


def _net(kg: Decimal | None, tare: Decimal | None) -> Decimal | None:
    return kg if kg is None or tare is None else max(kg - tare, Decimal(0))


def _of(group: list[Fact], kind: str) -> Decimal | None:
    return next((fact.value for fact in group if fact.kind == kind), None)


def _groups(quantities: list[Fact]) -> list[list[Fact]]:
    """Quantities of one lot together: sheets and their weight; litres alone; a weight of another clause is another lot."""
    groups: list[list[Fact]] = []
    for fact in quantities:
        before = groups[-1] if groups else []
        kinds = {each.kind for each in before}
        weighed = "kg" in kinds and fact.clause != before[-1].clause
        if before and fact.kind not in kinds and "litres" not in (*kinds, fact.kind) and not weighed:
            before.append(fact)
        else:
            groups.append([fact])
    return groups


def _form(facts: Facts, group: list[Fact], start: int, end: int) -> str:
    """By the words of the quantity's own clause, or else of what follows up to the next lot."""
    if _of(group, "litres") is not None:
        return "latex"
    if _of(group, "sheets") is not None:
        return "sheets"
    clause = {fact.clause for fact in group}
    for near in (
        [fact for fact in facts.found if fact.clause in clause],
        [fact for fact in facts.found if start <= fact.at < end],
    ):
        kinds = {fact.kind for fact in near}
        if "lump" in kinds:
            return "lump"
        if "latex" in kinds:
            return "latex"
        if "drc" in kinds and "grade" not in kinds:
            return "latex"
    return "sheets"


def _price(facts: Facts, group: list[Fact], start: int, end: int) -> Decimal | None:
    """A price that is marked as one, or else a bare number behind the weight."""
    marked = [fact for fact in facts.of("price_value") if start <= fact.at < end]
    content = [fact.at for fact in facts.of("drc")]
    bare = [
        fact
        for fact in facts.of("number")
        if group[-1].at < fact.at < end and not any(0 < fact.at - at <= 2 for at in content)
    ]
    found = marked or bare
    return found[-1].value if found else None


def _marks(facts: Facts, words: Words) -> list[_Mark]:
    found = []
    at = 0
    while at < len(facts.items):
        kind, length = _kind_at(facts, words, at)
        if kind is not None:
            found.append(_valued(facts, kind, at, length))
        at += length
    return found


def is_receipt(word: str, words: Words | None = None) -> bool:
    """Whether a word before a number makes it that of a receipt."""
    return said(word, words) == "receipt"


def said(text: str, words: Words | None = None) -> str | None:
    """What a whole text means among the words of `[taking]` (`closing`, `disputes`, `receipt`, ...); None where nothing."""
    key = bare(" ".join(token.word for token in tokens(text) if token.kind != "p"))
    found = (words or standard()).taking.get(key)
    return None if found is None else _kind(found, of_lot=False)


def opening(text: str, words: Words | None = None) -> tuple[str | None, str]:
    """What the first words of a text mean among those of `[taking]`, the longest first, and the rest of the text."""
    pieces = text.strip().split()
    for length in range(min(LONGEST, len(pieces)), 0, -1):
        kind = said(" ".join(pieces[:length]), words)
        if kind is not None:
            return kind, " ".join(pieces[length:])
    return None, text


def begins(text: str, kind: str, words: Words | None = None) -> bool:
    """Whether the first words of a text can mean this among those of `[taking]`, whatever else they mean."""
    known, pieces = (words or standard()).taking, _pieces(text)
    if any(_is(known, " ".join(pieces[:length]), kind) for length in range(1, LONGEST + 1)):
        return True
    return not text.isascii() and any(text.strip().startswith(key) for key in _glued(known, kind))


def speaks_of(text: str, kind: str, words: Words | None = None) -> bool:
    """Whether words of a text, wherever they stand, can mean this among those of `[taking]`."""
    known, pieces = (words or standard()).taking, _pieces(text)
    spans = ((at, at + length) for length in range(1, LONGEST + 1) for at in range(len(pieces) - length + 1))
    if any(_is(known, " ".join(pieces[first:last]), kind) for first, last in spans):
        return True
    return not text.isascii() and any(key in text for key in _glued(known, kind))


def _pieces(text: str) -> list[str]:
    return [bare(token.word) for token in tokens(text) if token.kind != "p"]


def _is(known: Mapping[str, tuple[Meaning, ...]], key: str, kind: str) -> bool:
    return any(meaning.tag == f"taking_{kind}" for meaning in known.get(key, ()))


def _glued(known: Mapping[str, tuple[Meaning, ...]], kind: str) -> list[str]:
    """Words of scripts that put no spaces between them: they are found within what was written."""
    return [key for key in known if not is_latin(key) and _is(known, key, kind)]


def _kind_at(facts: Facts, words: Words, at: int) -> tuple[str | None, int]:
    """What the item at a place means among the words of `[taking]`, and how many items that takes."""
    item = facts.items[at]
    if item.kind != "word":
        return None, 1
    for length in range(min(LONGEST, len(facts.items) - at), 0, -1):
        phrase = facts.items[at : at + length]
        key = " ".join(each.key for each in phrase)
        kind = _kind(words.taking.get(key, ()), of_lot=True)
        if kind is not None and all(each.kind == "word" for each in phrase):
            return kind, length
    inside = [] if item.text.isascii() else [key for key in words.taking if not is_latin(key) and key in item.text]
    return (_kind(words.taking[max(inside, key=len)], of_lot=True), 1) if inside else (None, 1)


def _kind(meanings: tuple[Meaning, ...], *, of_lot: bool) -> str | None:
    """The first meaning that is said of a lot, or else the first that begins a text."""
    kinds = [meaning.tag.removeprefix("taking_") for meaning in meanings]
    return next((kind for kind in kinds if (kind in OF_LOT) is of_lot), None)


def _valued(facts: Facts, kind: str, at: int, length: int) -> _Mark:
    """A mark with its number: that of a tare is kilos beside it, that of moisture a percentage or number behind it."""
    near = (_tare if kind == "tare" else _behind)(facts, kind, at, length)
    if near is None:
        return _Mark(kind, at, None, frozenset(range(at, at + length)))
    return _Mark(kind, at, near.value, frozenset({*range(at, at + length), near.at}))


def _behind(facts: Facts, kind: str, at: int, length: int) -> Fact | None:
    """The number within two items behind a word; only moisture has one."""
    kinds = ("drc_value", "number", "duration") if kind == "moisture" else ()
    found = [fact for fact in facts.of(*kinds) if 0 <= fact.at - at - length < 2 and fact.value is not None]
    return found[0] if found else None


def _tare(facts: Facts, _kind: str, at: int, length: int) -> Fact | None:
    """`tare 1.5 kg`, `30 kg less 2 kg sack`, or a bare number behind the word: a weight before it only beside another."""
    kilos = [fact for fact in facts.of("kg") if fact.value is not None]
    behind = [fact for fact in kilos if 0 <= fact.at - at - length < 2]
    before = [fact for fact in kilos if 0 < at - fact.at <= 2]
    another = before and any(fact.at < before[-1].at and fact.clause == before[-1].clause for fact in kilos)
    bare = [fact for fact in facts.of("number", "price_value") if 0 <= fact.at - at - length < 1]
    found = behind or (before[-1:] if another else []) or bare
    return found[0] if found else None


def named_farm(lot: Lot, name: str) -> Lot:
    """The lot as taken from a farm of that name."""
    return replace(lot, record=lot.record.with_(farm=name))

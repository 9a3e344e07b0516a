"""Numbers: words put together, halves and quarters, fractions, and the hundreds of thousands that prices are short for."""

from collections.abc import Collection
from decimal import Decimal

from parsers.farm_names import SPOKEN_LETTERS
from parsers.meanings import Item

HALF, QUARTER, THREE_QUARTERS = Decimal("0.5"), Decimal("0.25"), Decimal("0.75")
NAMED_SHARES = {HALF: "half", QUARTER: "quarter", THREE_QUARTERS: "three_quarters"}
SHARES = {
    "half": HALF,
    "quarter": QUARTER,
    "three_quarters": THREE_QUARTERS,
    "third": Decimal(1) / 3,
    "two_thirds": Decimal(2) / 3,
}

#: What may stand before or after a number word that also means something else (`six`/`after`) to make it a number.
NEIGHBOURS = (
    "litre",
    "kg",
    "own_container",
    "container",
    "sheet",
    "tree",
    "block",
    "half",
    "quarter",
    "three_quarters",
    "number",
    "times",
    "adds",
    "gram100",
    "decimal",
)


#: Small words within a number: between tens and ones, and between hundreds and the rest.
JOINS_TENS = frozenset({"y", "et", "and", "e"})
JOINS_HUNDREDS = frozenset({"and", "y", "et", "le", "linh"})


#: Words before a name that may be a number.
BEFORE_NAMES = frozenset(
    {"anh", "chi", "chu", "co", "bac", "di", "cau", "ong", "ba", "a", "c", "thim", "duong", "mo", "cua"}
)

#: Vietnamese words for ones that stand only behind tens, also where the word for tens is left out.
UNITS_BEHIND_TENS = frozenset({"mot", "lam", "nham"})


def numbered(found: list[Item], blocks: Collection[str] = ()) -> list[Item]:
    """Number words become numbers; fractions and halves join the number that they belong to.

    `blocks` are the farm's: behind a word for block, ten and four are block 14 where there is one.
    """
    return _with_fractions(_with_decimals(_with_words(found, blocks)))


def _with_decimals(found: list[Item]) -> list[Item]:
    """`twenty three point five`, `ba phẩy năm mươi` (3.50)."""
    out: list[Item] = []
    at = 0
    while at < len(found):
        after = found[at + 1] if at + 1 < len(found) else None
        digit = after.value if after is not None and after.kind == "number" else None
        written = bool(out) and out[-1].kind == "number" and (out[-1].value or 0) == int(out[-1].value or 0)
        spoken = (
            found[at].kind == "word" and found[at].has("decimal") and (out[-1].has("spelled") or written)
            if out
            else False
        )
        if spoken and digit is not None and digit < 100 and digit == int(digit):
            value = (out[-1].value or 0) + digit / (10 if digit < 10 else 100)
            second = found[at + 2] if at + 2 < len(found) and digit < 10 and found[at].has("decimal") else None
            both = (
                second is not None
                and second.kind == "number"
                and second.has("spelled")
                and 0 < (second.value or 0) < 10
            )
            if both and second is not None:
                value += (second.value or Decimal(0)) / 100  # `seven point two five`
            out[-1] = Item(out[-1].text, out[-1].key, "number", out[-1].glued, {"spelled": 1, "share": 1}, value)
            at += 3 if both else 2
        else:
            out.append(found[at])
            at += 1
    return out


def _with_words(found: list[Item], blocks: Collection[str]) -> list[Item]:
    out: list[Item] = []
    at = 0
    while at < len(found):
        value, length = _spelled(found, at, blocks)
        if length:
            first = found[at]
            text = " ".join(item.text for item in found[at : at + length])
            tags: dict[str, int | str] = {"spelled": 1}
            if first.name and length == 1:
                tags["own_block"] = first.name
            at += length
            digit = (
                found[at].value if at < len(found) and found[at].kind == "number" and len(found[at].text) == 1 else None
            )
            if digit and value in (20, 30, 40, 50, 60, 70, 80, 90):  # `vin 4`
                value, at = value + int(digit), at + 1
            out.append(Item(text, first.key, "number", first.glued, tags, Decimal(value), name=first.name))
        else:
            out.append(found[at])
            at += 1
    return out


def _spelled(found: list[Item], at: int, blocks: Collection[str]) -> tuple[int, int]:
    """The value of the number words from here, and how many items they take (0: none)."""
    first = found[at]
    if first.kind != "word" or not first.has("number", "times") or not _is_number_here(found, at, blocks):
        return 0, 0
    before = found[at - 1] if at else None
    if (
        before is not None
        and before.kind == "number"
        and not first.has("number")
        and not _names_block(found, at, blocks)
    ):
        return 0, 0
    behind = found[at + 1] if at + 1 < len(found) else None
    if first.has("own_block") and not first.has("slip") and behind is not None and behind.kind == "number":
        return 0, 0  # `nam 19 lít` where a block is called `nam`
    letter = _spoken_letter(before)
    if letter and first.has("number"):
        value, length = _named_by_letter(found, at, letter, blocks)
        if length:
            return value, length  # `เอหนึ่งสิบเก้า`: block A1 and nineteen
    after_block = before is not None and before.kind == "word" and before.has("block") and first.has("number")
    if after_block and at + 1 < len(found) and found[at + 1].has("number", "times") and not found[at + 1].has("adds"):
        value, length = _number_from(found, at)
        while length > 1 and str(value) not in blocks:
            value, length = _number_from(found[: at + length - 1], at)
        return value, length
    return _number_from(found, at)


def _spoken_letter(before: Item | None) -> str | None:
    """The letter that a word says: `pé`, or the letter itself."""
    if before is None or before.kind != "word":
        return None
    return SPOKEN_LETTERS.get(before.key) or (before.key if len(before.key) == 1 and before.key.isascii() else None)


def _named_by_letter(found: list[Item], at: int, letter: str, blocks: Collection[str]) -> tuple[int, int]:
    """The number words that name a block together with the letter before them; no items where there is no such block."""
    named = {each.casefold() for each in blocks}
    value, length = _number_from(found, at)
    while length > 0 and f"{letter}{value}" not in named:
        value, length = _number_from(found[: at + length - 1], at) if length > 1 else (0, 0)
    return value, length


def _names_block(found: list[Item], at: int, blocks: Collection[str]) -> bool:
    """`แปลง4สิบสาม`: the digits before a number word name a block, right behind the word for one."""
    return at > 1 and found[at - 2].kind == "word" and found[at - 2].has("block") and found[at - 1].text in blocks


def _number_from(found: list[Item], at: int) -> tuple[int, int]:
    """The value of all number words that go together from here, and how many items they take."""
    total, current, index = 0, -1, at
    while index < len(found) and (index == at or _goes_on(found, index, total, current)):
        item = found[index]
        if item.kind == "sign" or (item.has("plus", "ignore") and not item.has("number", "times", "adds")):
            index += 1
            continue
        total, current = _added(item, total, max(current, 0) if index > at else -1)
        index += 1
    return total + max(current, 0), index - at


def _added(item: Item, total: int, current: int) -> tuple[int, int]:
    if item.has("adds") and current >= 0:
        return total, (current or 1) + int(item.tags["adds"])
    if item.has("times") and (current >= 0 or not item.has("number")):
        times = int(item.tags["times"])
        unit = current % 10 if times == 10 and current > 0 else current
        rest = current - unit if times == 10 and current > 0 else 0
        value = (unit if unit > 0 else 1) * times + rest
        return (total + value, 0) if times >= 100 else (total, value)
    value = int(item.tags["number"])
    if 2 <= current <= 9 and item.key in UNITS_BEHIND_TENS:  # `ba mốt` is 31
        return total, current * 10 + value
    return total, value if current < 0 else current + value


def _goes_on(found: list[Item], index: int, total: int, current: int) -> bool:
    """Whether the item belongs to the same number: `twenty` `five`, `dua` `puluh`, `vingt` `et` `un`."""
    item = found[index]
    if (item.kind == "sign" and item.text == "-") or (item.has("plus") and not item.has("number")):
        after = found[index + 1] if index + 1 < len(found) else None
        if after is None or not after.has("number"):
            return False
        value = int(after.tags["number"])
        if item.kind == "word" and total > 0 and current == 0:  # `one hundred and twelve`, `một trăm lẻ một`
            return item.key in JOINS_HUNDREDS and 0 < value < 100
        joins = item.kind == "sign" or item.key in JOINS_TENS
        return joins and current >= 20 and current % 10 == 0 and 0 < value < 10
    if item.kind != "word":
        return False
    if item.has("times"):
        times = int(item.tags["times"])
        if current == 0:  # `หนึ่งร้อยสิบ`: ten without a one before it
            return total > 0 and (times < 100 or (times == 100 and total % 1000 == 0 and not item.has("number")))
        if times == 10 and current % 100 >= 10:  # `สิบสี่ สิบหก` are two numbers
            return False
        return current > 0 and (times >= 100 or current % 10 > 0 or not item.has("number"))
    if item.has("adds"):
        return 0 < current % 100 < 10
    if not item.has("number"):
        return False
    value = int(item.tags["number"])
    if current == 0:
        return True
    if 2 <= current <= 9 and item.key in UNITS_BEHIND_TENS and (item.key != "mot" or item.text != "một"):
        return True
    room = 10 if current % 10 == 0 and current >= 10 else 0
    room = 20 if current in (60, 80) else room
    room = 100 if current % 100 == 0 and current >= 100 else room
    return 0 < value < room


def _is_number_here(found: list[Item], at: int, blocks: Collection[str]) -> bool:
    item = found[at]
    before = found[at - 1] if at else None
    letter = _spoken_letter(before)
    if letter and any(each.casefold() == f"{letter}{item.tags.get('number')}" for each in blocks):
        return True  # `pé un` where a block is called P1
    called = before is not None and before.key in BEFORE_NAMES and not before.has("container", "number")
    behind = found[at + 1] if at + 1 < len(found) else None
    measured = behind is not None and (behind.kind == "number" or behind.has(*NEIGHBOURS))
    further = found[at + 2] if at + 2 < len(found) else None
    if behind is not None and behind.has("again") and further is not None and further.has("litre"):
        return True  # `and one more litre`
    if (
        called
        and (item.capital or not measured)
        and item.text[:1].isalpha()
        and before is not None
        and before.text[:1].isalpha()
    ):
        return False  # `anh Tám`: people are called by the order of their birth
    after = found[at + 1] if at + 1 < len(found) else None
    if at and behind is not None and not measured and _is_name(item) and _is_name(behind):
        return False  # `của Sáu Rẫy`: a name in two words
    if before is not None and after is not None and _in_nonsense(item, before, after):
        return False
    others = set(item.tags) - {"number", "times", "adds", "slip"}
    if not others or (others <= {"ignore", "same"} and not _is_small_article(item)):
        return True
    neighbours = [found[each] for each in (at - 1, at + 1) if 0 <= each < len(found)]
    if behind is not None and behind.has("plus") and further is not None and further.has("quarter", "three_quarters"):
        return True  # `one and quarter`
    return any(each.kind == "word" and each.has(*NEIGHBOURS) for each in neighbours)


def _is_name(item: Item) -> bool:
    return item.kind == "word" and item.text.istitle() and not item.has("times", "adds", "plus", "day", "weekday")


def _in_nonsense(item: Item, before: Item, after: Item) -> bool:
    """Whether letters of a number word stand glued between others that mean nothing."""
    glued = not item.key.isascii() and item.glued and after.glued
    return glued and before.kind == after.kind == "word" and not before.tags and not after.tags


def _is_small_article(item: Item) -> bool:
    """`un`, `una`, `a`: a number only before a measure."""
    return item.tags.get("number") == 1


#: Halves that add to a one before them: `satu setengah ember` is one and a half.
MORE_THAN_ONE = frozenset({"setengah", "stengah", "stgh", "satangah", "sentengah"})


def _with_fractions(found: list[Item]) -> list[Item]:
    out: list[Item] = []
    at = 0
    while at < len(found):
        item = found[at]
        share = _fraction(found, at)
        if (
            share is not None
            and out
            and out[-1].kind == "number"
            and out[-1].value is not None
            and not out[-1].has("share")
        ):
            out[-1] = _more(out[-1], share)
            at += 3
        elif share in NAMED_SHARES and _behind_measure(out) and not _before_measure(found, at + 3):
            out.append(Item("1/2", "1/2", "word", False, {NAMED_SHARES[share]: 1}))
            at += 3
        elif share is not None and _before_measure(found, at + 3):
            out.append(Item("1/2", "1/2", "number", item.glued, {"share": 1}, share))
            at += 3
        elif item.kind == "word" and (word := _share_word(item)) and _share_belongs(out, found, at):
            only = (
                out[-1].has("spelled")
                and out[-1].value == 1
                and " " not in item.key
                and item.key not in MORE_THAN_ONE
                and _before_measure(found, at + 1)
            )
            out[-1] = _more(out[-1], word - 1 if only else word)
            at += 1
        elif (
            item.has("plus")
            and at + 1 < len(found)
            and (word := _share_word(found[at + 1]))
            and _share_belongs(out, found, at + 1)
        ):
            out[-1] = _more(out[-1], word)
            at += 2
        else:
            out.append(item)
            at += 1
    return out


def _more(item: Item, share: Decimal) -> Item:
    return Item(item.text, item.key, "number", item.glued, {**item.tags, "share": 1}, (item.value or 0) + share)


def _fraction(found: list[Item], at: int) -> Decimal | None:
    if (
        at + 2 >= len(found)
        or found[at + 1].text != "/"
        or found[at].kind != "number"
        or found[at + 2].kind != "number"
    ):
        return None
    pair = (found[at].value, found[at + 2].value)
    known = {(1, 2): HALF, (1, 4): QUARTER, (3, 4): THREE_QUARTERS, (1, 3): Decimal(1) / 3, (2, 3): Decimal(2) / 3}
    return known.get((int(pair[0] or 0), int(pair[1] or 0))) if all(each == int(each or 0) for each in pair) else None


def _share_word(item: Item) -> Decimal | None:
    return next((SHARES[tag] for tag in ("three_quarters", "quarter", "half") if item.has(tag)), None)


def _share_belongs(out: list[Item], found: list[Item], at: int) -> bool:
    """`18 and a half`: the number just before takes it, unless the word is the name of a block (`tengah`)."""
    number = bool(out) and out[-1].kind == "number" and not out[-1].has("share") and not found[at].has("own_block")
    named = number and out[-1].has("own_block") and not out[-1].has("spelled")
    named = named or (number and len(out) > 1 and out[-1].has("own_block") and out[-2].has("block"))
    return number and not (named and _before_vessel(found, at + 1))


def _before_vessel(found: list[Item], at: int) -> bool:
    """`lote 1 tres cuartos de cubeta`: the share is of the vessel behind it, not of the block's number."""
    at += 1 if at < len(found) and found[at].has("ignore", "from") and found[at].kind == "word" else 0
    return at < len(found) and found[at].has("own_container", "container")


def _behind_measure(out: list[Item]) -> bool:
    """`1 bucket and 1/4`: a fraction behind a vessel or a unit, with a small word between at most."""
    before = out[-2:] if out and out[-1].has("plus") else out[-1:]
    return bool(before) and before[0].kind == "word" and before[0].has("own_container", "container")


def _before_measure(found: list[Item], at: int) -> bool:
    return at < len(found) and found[at].has("own_container", "container", "litre", "kg")

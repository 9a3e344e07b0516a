"""Questions to the day-book, what a collector took, and the place that he is at."""

from collections.abc import Callable
from datetime import date, timedelta
from decimal import Decimal

from parsers.facts import BREAKS, Fact, Facts
from parsers.farm_names import THAI_TITLES, TITLES
from parsers.reading import About, Query, Record, Role, Setting, What
from parsers.spelling import composed

DayOf = Callable[[Fact | None], tuple[date | None, bool]]


#: What a text that asks of a block and a day does not hold.
REPORTS = (
    "litres", "number", "kg", "sheets", "unmeasured", "not_tapped", "rain", "rest", "sick", "holiday", "wintering", "other",
    "stimulated", "dry_trees", "trees", "lump", "dry", "rolled", "late", "about_tomorrow", "ahead", "fix", "not", "undo", "same",
    "collected", "drc", "drc_value", "quoted", "again", "acid", "water", "price", "keep",
)  # fmt: skip


def query(facts: Facts, setting: Setting, today: date) -> Query | None:
    """The question that a text asks of the book, or None where it asks none."""
    asks = facts.has("ask", "question", "who", "total")
    state = _of_now(facts, setting, asks)
    if state is not None:
        return state
    people = [fact.name for fact in facts.of("person") if fact.name != setting.name]
    blocks = [fact.name for fact in facts.of("block")]
    spans = facts.of("span", "day")
    if not (
        facts.has("week")
        or (len(facts.items) <= 3 and any(fact.kind == "span" and fact.name != "since" for fact in spans))
        or (asks and (people or blocks or spans or facts.has("who", "collected", "acid", "price", "pay", "total")))
        or (people and spans)
        or (asks and dated(facts, today) is not None)
        or (setting.role is Role.OWNER and blocks and facts.has("day") and not facts.has(*REPORTS))
    ):
        return None
    if facts.has("fix") and facts.has("number", "litres", "kg") and not facts.has("ask", "question"):
        return None
    if (facts.has("not_tapped") and not asks) or (
        facts.has("undo") and (facts.of("undo")[0].at < 3 or not facts.has("ask", "question"))
    ):
        return None
    first, last = dated(facts, today) or _days(facts, today)
    if {fact.name for fact in facts.of("span")} & {"year", "last_year"} and not (people or blocks):
        return Query(About.WEEK, first=first, last=last)
    return Query(
        _about(facts, people, blocks),
        block=blocks[0] if blocks else None,
        person=people[0] if people else None,
        first=first,
        last=last,
    )


def _of_now(facts: Facts, setting: Setting, asks: bool) -> Query | None:
    """What is in the store, what a panel has left, what is due tomorrow: questions that need no days."""
    short = len([item for item in facts.items if item.kind == "word"]) <= 3
    if facts.has("bark") and (asks or short) and not facts.has("rain", "wet", "dry_trees", "cm"):
        blocks = [fact.name for fact in facts.of("block")]
        return Query(About.BARK, block=blocks[0] if blocks else None)
    if setting.role is not Role.OWNER:
        return None
    if facts.has("in_store") and (asks or short) and not facts.has("litres", "kg", "block", "collected"):
        return Query(About.STOCK)
    return None


def of_tomorrow(facts: Facts, setting: Setting) -> Query | None:
    """`what is due tomorrow?` of an owner; a plan of somebody, or of a block, is no question to the book."""
    tomorrow = any(item.has("tomorrow") for item in facts.items if item.kind == "word")
    asks = tomorrow and facts.has("ask", "question", "who")
    other = facts.has("week", "block", "person", "price", "collected", "litres", "kg", "sheets", "number", "self")
    return Query(About.DUE_TOMORROW) if setting.role is Role.OWNER and asks and not other else None


def _about(facts: Facts, people: list[str | None], blocks: list[str | None]) -> About:
    if facts.has("collected") and (people or facts.has("ask", "question")):
        return About.TAKEN
    if facts.has("who") and not people:
        return About.WHO
    for tag, about in (("acid", About.ACID), ("price", About.PRICE), ("pay", About.PAY)):
        if facts.has(tag):
            return about
    if facts.has("not_tapped", "rain"):
        return About.NO_TAPPING
    if blocks or people or facts.has("total") or facts.of("day"):
        return About.LITRES
    return About.WEEK


def _days(facts: Facts, today: date) -> tuple[date | None, date | None]:
    days = [fact.day.day for fact in facts.of("day") if fact.day is not None and fact.day.day is not None]
    spans = {fact.name for fact in facts.of("span")}
    monday = today - timedelta(days=today.weekday())
    lasts = [int(fact.value) for fact in facts.of("duration") if fact.value and 1 < fact.value <= 60]
    if lasts and not spans - {"since"}:
        return today - timedelta(days=lasts[0] - 1), today
    linked = between(facts, today)
    if linked is not None and not days:
        return linked
    if "since" in spans and days:
        return days[0], today
    if days:
        return min(days), max(days)
    if "last_year" in spans:
        return today.replace(year=today.year - 1, month=1, day=1), today.replace(year=today.year - 1, month=12, day=31)
    if "year" in spans:
        return today.replace(month=1, day=1), today
    if "last_week" in spans:
        return monday - timedelta(days=7), monday - timedelta(days=1)
    if "month" in spans:
        return today.replace(day=1), today
    if "last_month" in spans:
        last = today.replace(day=1) - timedelta(days=1)
        return last.replace(day=1), last
    return (monday, today) if "week" in spans or facts.has("week") else (None, None)


#: Words before the number of a day.
_BEFORE_DAYS = frozenset({"le", "el", "the", "tanggal", "tgl", "ngay", "วันที่", "du", "del"})


def dated(facts: Facts, today: date) -> tuple[date, date] | None:
    """`how much on the 3rd and the 5th?`: bare numbers behind a word for the day, or behind a day, are days of a month."""
    numbers = facts.of("number")
    days = [each.day.day for each in facts.of("day") if each.day is not None and each.day.day is not None]
    if not numbers or not facts.has("ask", "total") or facts.has("litres", "kg", "sheets", "unmeasured"):
        return None
    if facts.has("total") and not facts.has("ask", "question"):
        return None
    led = facts.items[numbers[0].at - 1] if numbers[0].at else None
    if led is None:
        return None
    counted = all(_is_ordinal(facts, each) for each in numbers)  # `for 14th and 15th?`
    if not (counted or led.key in _BEFORE_DAYS or (days and (led.has("plus") or led.text in "-,&"))):
        return None
    found = [latest_day(each.value, today) for each in numbers]
    every = [*days, *(each for each in found if each is not None)]
    return (min(every), max(every)) if None not in found else None


def _is_ordinal(facts: Facts, number: Fact) -> bool:
    """`14th`: the ending of a day stands glued behind the number."""
    behind = facts.items[number.at + 1] if number.at + 1 < len(facts.items) else None
    return behind is not None and behind.glued and behind.key in ("th", "st", "nd", "rd")


def latest_day(number: Decimal | None, today: date) -> date | None:
    """The last day, up to today, with that number in its month."""
    if number is None or number != int(number) or not 1 <= number <= 31:
        return None
    for month in (today, today.replace(day=1) - timedelta(days=1)):
        try:
            day = month.replace(day=int(number))
        except ValueError:
            continue
        if day <= today:
            return day
    return None


def between(facts: Facts, today: date) -> tuple[date, date] | None:
    """`from the 18th to the 20th`: two bare days of this month, or of the last one where they still lie ahead."""
    numbers = [fact for fact in facts.of("number") if fact.value is not None and fact.value == int(fact.value)]
    linked = any(0 < numbers[0].at - each.at <= 2 for each in facts.of("from", "span")) if numbers else False
    if len(numbers) != 2 or not linked:
        return None
    first, last = (int(fact.value or 0) for fact in numbers)
    month = today if last <= today.day else today.replace(day=1) - timedelta(days=1)
    try:
        return (month.replace(day=first), month.replace(day=last)) if first <= last else None
    except ValueError:
        return None


def takes(facts: Facts, setting: Setting, day_of: DayOf) -> list[Record]:
    """What a collector took: one record for each farm in the text."""
    denied = facts.of("not", "no")
    quantities = [fact for fact in facts.of("sheets", "kg") if not any(0 < fact.at - each.at <= 2 for each in denied)]
    if not quantities or not (facts.has("collected", "grade", "farm", "price_value") or setting.role is Role.COLLECTOR):
        return []
    bare = setting.role is Role.COLLECTOR and not facts.has(
        "sheets", "collected", "grade", "farm", "price_value", "fix", "not"
    )
    if bare and not _farms(facts, setting) and not setting.entered:
        return []
    groups = _groups(quantities)
    farms = _farms(facts, setting)
    if 1 < len(groups) > len(farms):
        farms = _at_heads(facts, groups) or farms
    if len(farms) < 2 and len(groups) > 1 and not facts.has("fix", "not", "self"):
        groups = _without_deducted(groups)
    out = []
    for n, group in enumerate(groups):
        day, _ = day_of(group[0])
        span = (group[0].at, groups[n + 1][0].at if n + 1 < len(groups) else 10**6)
        start = 0 if n == 0 else span[0]
        sheets = next((fact.value for fact in group if fact.kind == "sheets"), None)
        out.append(
            Record(
                What.COLLECTED,
                day,
                sheets=None if sheets is None else int(sheets),
                kg=next((fact.value for fact in group if fact.kind == "kg"), None),
                grade=_within(facts.of("grade"), start, span[1], len(groups)),
                price=_price(facts, start, span[1], len(groups)),
                farm=_farm_of(farms, group, groups, n),
            )
        )
    return out


def _without_deducted(groups: list[list[Fact]]) -> list[list[Fact]]:
    """Without weights that are a small part of another and stand alone: a sack, moisture (`2 kg off for the sack`)."""
    weights = [fact.value or Decimal(0) for group in groups for fact in group if fact.kind == "kg"]
    most = max(weights, default=Decimal(0))
    small = [group for group in groups if len(group) == 1 and group[0].kind == "kg"]
    return [group for group in groups if group not in small or 10 * (group[0].value or Decimal(0)) > most]


def _groups(quantities: list[Fact]) -> list[list[Fact]]:
    groups: list[list[Fact]] = []
    for fact in quantities:
        if groups and fact.kind not in {each.kind for each in groups[-1]}:
            groups[-1].append(fact)
        else:
            groups.append([fact])
    return groups


def _within(found: list[Fact], start: int, end: int, groups: int) -> str | None:
    inside = [fact for fact in found if start <= fact.at < end]
    chosen = inside or (found if groups == 1 else [])
    return chosen[0].name if chosen else None


def _price(facts: Facts, start: int, end: int, groups: int) -> Decimal | None:
    found = facts.of("price_value") or (facts.of("number") if facts.has("grade", "price") and groups == 1 else [])
    inside = [fact for fact in found if start <= fact.at < end] or (found if groups == 1 else [])
    each = [fact for fact in inside if is_for_each(fact, facts)]  # `62.50 a kilo, paid 4450`
    values = [fact.value for fact in each or inside if fact.value is not None]
    kilos = [fact.value for fact in facts.of("kg") if start <= fact.at < end and fact.value]
    whole = max(values, default=Decimal(0))
    if len(values) == 2 and whole and any(abs(min(values) * kg / whole - 1) <= CLOSE for kg in kilos):
        return min(values)  # `4.8 kg, 62.50, paid 300`
    if values and max(values) > TOTAL * min(values):
        return min(values)  # `48,500, paid 2,691,750`
    return values[-1] if values else None


#: Of two amounts the one that is so many times the other is what was paid in all. Common practice, no source.
TOTAL = 8

#: A price times the kilos comes so near to what was paid: people round. Common practice, no source.
CLOSE = Decimal("0.02")


def is_for_each(fact: Fact, facts: Facts) -> bool:
    """Whether a word for each kilo stands beside a price."""
    beside = facts.items[max(0, fact.at - 1) : fact.at + 3]
    behind = facts.items[fact.at + 1 : fact.at + 4]
    slashed = any(one.text == "/" and two.has("kg") for one, two in zip(behind, behind[1:], strict=False))
    return slashed or any(item.kind == "word" and item.has("per_kg") for item in beside)


def _farm_of(farms: list[tuple[int, str]], group: list[Fact], groups: list[list[Fact]], n: int) -> str | None:
    if not farms:
        return None
    if len(groups) == 1:
        return farms[0][1]
    if len(farms) == len(groups):
        return farms[n][1]
    return min(farms, key=lambda each: abs(each[0] - group[-1].at))[1]


def _farms(facts: Facts, setting: Setting) -> list[tuple[int, str]]:
    """Farms that are named: those known, otherwise a run of words behind `from` or at the start that mean nothing else."""
    known = [(fact.at, str(fact.name)) for fact in facts.of("farm")]
    if known:
        return known
    left = _left_behind(facts)
    runs = [run for run in _unknown_runs(facts) if not any(run[0] in span for span in left)]
    after = [run for run in runs if run[0] > 0 and _is_link(facts, run[0] - 1)]
    return after or (_nearest_run(facts, runs) if setting.role is Role.COLLECTOR else [])


def _nearest_run(facts: Facts, runs: list[tuple[int, str]]) -> list[tuple[int, str]]:
    """Of several unknown names the one of the sentence that holds the first quantity (`typing mistake, Ama was 89 kg`)."""
    first = next((fact.at for fact in facts.of("sheets", "kg")), None)
    if first is None or len(runs) < 2 or not facts.has("fix"):
        return runs[:1]
    start = max((at for at in range(first) if facts.items[at].text in BREAKS), default=-1)
    return [run for run in runs if start < run[0] < first][:1] or runs[:1]


def _at_heads(facts: Facts, groups: list[list[Fact]]) -> list[tuple[int, str]]:
    """`Asep 35 sheets 31 kg, Yanti 20 sheets 18 kg`: a name right before each quantity, none where one is missing."""
    runs = {at + len(name.split()): (at, name) for at, name in _unknown_runs(facts)}
    heads = [runs[group[0].at] for group in groups if group[0].at in runs]
    return heads if len(heads) == len(groups) else []


def _left_behind(facts: Facts) -> list[range]:
    """Where it is said what was not taken: `I did not take Ana's, still wet.`"""
    items = facts.items
    found = []
    for at, item in enumerate(items[1:], 1):
        denied = items[at - 1].has("not", "no", "about_tomorrow") or (at > 1 and items[at - 2].has("not", "no"))
        if not (item.kind == "word" and item.has("collected") and denied):
            continue
        start, end = at, at
        while start > 0 and items[start - 1].text not in ".!?\n":
            start -= 1
        while end < len(items) and items[end].text not in ".!?\n":
            end += 1
        found.append(range(start, end))
    return found


def _is_link(facts: Facts, at: int) -> bool:
    item = facts.items[at]
    return item.kind == "word" and item.has("from", "collected", "block")


def _unknown_runs(facts: Facts) -> list[tuple[int, str]]:
    runs: list[tuple[int, list[str]]] = []
    previous = -5
    for at, item in enumerate(facts.items):
        titled = bool(runs) and at == previous + 1 and item.glued and runs[-1][1][0] in THAI_TITLES
        is_name = item.kind == "word" and (
            (titled and not item.has("sheet", "kg", "latex", "collected", "grade"))
            or not item.tags
            or item.key in THAI_TITLES
            or item.has("slip", "person")
            or item.key in TITLES
            or (
                item.capital
                and not item.has("collected", "kg", "sheet", "price", "money", "per_kg", "day", "weekday", "from")
            )
        )
        if not is_name or item.key in ("rss", "uss"):
            continue
        if runs and at == previous + 1:
            runs[-1][1].append("\0" + item.text if item.glued else item.text)
        else:
            runs.append((at, [item.text]))
        previous = at
    named = [(at, composed(" ".join(words).replace(" \0", "").replace("\0", ""))) for at, words in runs]
    return [run for run in named if folded_title(run[1]) is False]


def folded_title(name: str) -> bool:
    """Whether a run of words is nothing but a title."""
    return all(word.casefold() in TITLES or word in THAI_TITLES for word in name.split())


def place(facts: Facts, setting: Setting) -> str | None:
    """The place that a collector says he is at: the words behind `at`, up to the next thing that is said."""
    for known in setting.places:
        if known.casefold() in " ".join(item.text for item in facts.items).casefold():
            return known
    links = facts.of("at_place")
    if not links and not any(item.has("place") for item in facts.items if item.kind == "word"):
        return None
    for start in ([fact.at for fact in reversed(links)] or [-1]) + [-1]:
        words = _place_words(facts, start + 1)
        if words:
            return words
    return None


SKIPPED = frozenset({
    "the", "a", "an", "el", "la", "los", "las", "le", "les", "al", "à", "au", "aux", "de", "at", "di",
    "i", "in", "en", "stoy", "estoy", "toy", "je", "suis", "saya", "aku", "ako", "nasa", "sa",
    "nandito", "mi", "nau", "ที่", "tại", "ở", "kat", "yang", "lah", "po", "na",
})  # fmt: skip


def _place_words(facts: Facts, at: int) -> str | None:
    words: list[str] = []
    if at < len(facts.items) and facts.items[at].kind == "number":
        return None  # an hour, not a place
    for n, item in enumerate(facts.items[at:], at):
        hour = item.kind == "number" and n + 1 < len(facts.items) and facts.items[n + 1].has("oclock")
        if hour and not words:
            return None
        if item.kind == "sign":
            if words:
                break
            continue
        if (
            item.kind == "word"
            and item.has("collected", "sheet", "ask", "about_tomorrow", "day", "chat", "keep", "latex", "again_me")
            and not item.has("place")
            and not item.capital
            and not (words and item.glued and not item.key.isascii())
        ):
            if words:
                break
            continue
        if not words and (
            item.text.casefold() in SKIPPED
            or item.has("at_place", "started", "this_is")
            or (item.has("ignore") and not item.capital)
        ):
            continue
        small = (
            item.kind == "word"
            and item.has("ignore", "at_place", "yes")
            and not item.has("place", "from", "number", "tree")
        )
        if words and small and not item.capital and not (item.key in SKIPPED and words[-1].casefold() in SKIPPED):
            break
        words.append(item.text if not words or not item.glued else "\0" + item.text)
    return composed(" ".join(words).replace(" \0", "").strip()) or None

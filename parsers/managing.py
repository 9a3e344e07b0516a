"""What an owner asks of his farm: people, the strength of the acid, containers, the hour of the summary, the language."""

import re
from decimal import Decimal

from parsers import panels
from parsers.facts import Facts
from parsers.meanings import Item
from parsers.reading import Manage, Request, Role, Setting

_NUMBER = re.compile(r"\+?\d[\d\s().-]{6,}\d")


def request(text: str, facts: Facts, setting: Setting) -> Request | None:
    """The request of a text, or None. Only an owner's text is one, but for the language and for
    reminders, so that anybody who asks for that is told who can."""
    words = [item for item in facts.items if item.kind == "word"]
    language = next((str(item.tags["language"]) for item in words if item.has("language")), None)
    if language is not None and any(item.has("speak") for item in words) and len(words) <= 6:
        return Request(Manage.LANGUAGE, word=language)
    reminders = _reminders(words, facts)
    if reminders is not None:
        return reminders
    bark = panels.measured(text, facts, setting)
    if bark is not None:
        return bark
    if setting.role is not Role.OWNER:
        return None
    phone = _NUMBER.search(text)
    if phone is not None and any(item.has("enrol", "tapper", "collector") for item in words):
        return _enrolment(text, phone.group(), words, facts, setting)
    barred = _barring(text, words, facts, None if phone is None else phone.group())
    if barred is not None:
        return barred
    if any(item.has("people") for item in words) and not facts.of("litres", "kg"):
        return Request(Manage.PEOPLE)
    if (any(item.has("dismiss") for item in words) or _removes(words, facts)) and facts.of("person"):
        return Request(Manage.DISMISS, name=facts.of("person")[0].name)
    return _money(text, words, facts) or _setting(words, facts)


#: A share as people write it: `50%`, `45:55`, `1/3`.
_SHARE = re.compile(r"(?<![\d.,])(\d{1,2}(?:[.,]\d+)?\s*%|\d{1,2}\s*[:/]\s*\d{1,2})(?![\d.,])")


def _money(text: str, words: list[Item], facts: Facts) -> Request | None:
    """Terms of pay, advances, deductions, and settling: `pay Tobin 50%`, `advance Tobin 20`, `settle 80.40`."""
    names = [fact.name for fact in facts.of("person")]
    name = names[0] if len(set(names)) == 1 else None
    numbers = [item.value for item in facts.items if item.kind == "number" and item.value is not None]
    for tag, manage in (
        ("settle", Manage.SETTLE),
        ("advance", Manage.ADVANCE),
        ("deduct", Manage.DEDUCTION),
        ("bonus", Manage.BONUS),
    ):
        if any(item.has(tag) for item in words) and (manage is Manage.SETTLE or (name and len(numbers) == 1)):
            note = " ".join(
                item.text for item in words if not item.has(tag, "person", "money", "ignore", "for", "from")
            )
            return Request(manage, name=name, value=numbers[-1] if numbers else None, word=note or None)
    if not any(item.has("pay") for item in words) or facts.has("ask", "question") or not numbers:
        return None
    return _terms(text, words, facts, name, numbers)


def _removes(words: list[Item], facts: Facts) -> bool:
    """`remove Tobin`, and nothing else: him, and no line of his."""
    others = [item for item in words if not item.has("undo", "person", "ignore")]
    return (
        bool(words) and words[0].has("undo") and len(facts.of("person")) == 1 and not others and not facts.has("number")
    )


def _terms(text: str, words: list[Item], facts: Facts, name: str | None, numbers: list[Decimal]) -> Request | None:
    everybody = facts.has("all") or any(item.has("tapper") for item in words)
    if name is None and not everybody:
        return None
    if any(item.has("norm") for item in words) and len(numbers) == 3:
        return Request(Manage.PAY_TERMS, name=name, word="norm", number="/".join(str(each) for each in numbers))
    share = _SHARE.search(text)
    if share is not None:
        return Request(
            Manage.PAY_TERMS, name=name, word="share", number=share.group().replace(" ", "").replace(",", ".")
        )
    if any(item.has("tree") for item in words) and Decimal(100) in numbers and len(numbers) == 2:
        rate = next(each for each in numbers if each != 100)
        return Request(Manage.PAY_TERMS, name=name, word="per_100_trees", number=str(rate))
    if any(item.has("per_day") for item in words) and len(numbers) == 1:
        return Request(Manage.PAY_TERMS, name=name, word="per_day", number=str(numbers[0]))
    if any(item.has("per_kg") for item in words) or facts.has("price_value"):
        rate = (facts.of("price_value")[0].value if facts.has("price_value") else None) or numbers[-1]
        return Request(Manage.PAY_TERMS, name=name, word="per_kilo", number=str(rate))
    return None


#: What a text that blocks a phone may say besides: fillers and courtesies.
_BESIDE_BARRING = (
    "block",
    "bar",
    "unbar",
    "person",
    "phone_of",
    "ignore",
    "this_is",
    "from",
    "for",
    "chat",
    "again_me",
)


def _barring(text: str, words: list[Item], facts: Facts, phone: str | None) -> Request | None:
    """`block Tobin`, `unblock Tobin`, `block +44 ...`: one person or number, and nothing of work beside it."""
    names = {fact.name for fact in facts.of("person")}
    unbars = any(item.has("unbar") for item in words)
    bars = any(item.has("bar") for item in words) or (bool(words) and words[0].has("block"))
    if not (bars or unbars) or len(names) + (phone is not None) != 1:
        return None
    others = [item for item in words if not item.has(*_BESIDE_BARRING) and item.tags]
    if others or (phone is None and any(item.kind == "number" for item in facts.items)):
        return None
    number = None if phone is None else re.sub(r"[\s().-]", "", phone)
    return Request(Manage.UNBLOCK if unbars else Manage.BLOCK, name=next(iter(names), None), number=number)


def _setting(words: list[Item], facts: Facts) -> Request | None:
    strength = facts.of("strength", "drc_value")
    if strength and any(item.has("acid_strength", "acid") for item in words) and not facts.has("litres", "ask"):
        return Request(Manage.ACID_STRENGTH, value=strength[0].value)
    if any(item.has("summary_time") for item in words):
        return _summary(words, facts)
    if any(item.has("link") for item in words) and len(words) <= 5:
        return Request(Manage.LINK)
    return _container(words, facts)


def _reminders(words: list[Item], facts: Facts) -> Request | None:
    """`reminders off`, `reminders on 14`: the hour as a value, `off` as a word."""
    reports = any(item.has("rain", "sick", "rest", "holiday", "wintering", "not_tapped") for item in words)
    if len(words) > 6 or reports or facts.has("litres", "kg", "sheets", "person"):
        return None
    if any(item.has("reminders_off") for item in words):
        return Request(Manage.REMINDERS, word="off")
    if not any(item.has("reminders") for item in words):
        return None
    return Request(Manage.REMINDERS, value=next((item.value for item in facts.items if item.kind == "number"), None))


def _container(words: list[Item], facts: Facts) -> Request | None:
    vessels = [item for item in words if item.has("own_container", "container")]
    holds = any(item.has("holds") for item in words) or any(item.text == "=" for item in facts.items)
    if len(vessels) != 1 or not holds or facts.has("block", "day", "acid", "rain", "ask"):
        return None
    volumes = [fact.value for fact in facts.of("litres") if fact.value is not None]
    numbers = [item.value for item in facts.items if item.kind == "number" and item.value is not None]
    value = numbers[-1] if numbers else (volumes[-1] if volumes else None)
    return Request(Manage.CONTAINER, word=vessels[0].name or vessels[0].text, value=value)


def _summary(words: list[Item], facts: Facts) -> Request:
    weekday = next((str(item.tags["weekday"]) for item in words if item.has("weekday")), None)
    hour = next((item.value for item in facts.items if item.kind == "number"), None)
    return Request(Manage.SUMMARY_TIME, word=weekday, value=hour)


def _enrolment(text: str, number: str, words: list[Item], facts: Facts, setting: Setting) -> Request:
    role = Role.COLLECTOR if any(item.has("collector") for item in words) else Role.TAPPER
    names = [
        item.text
        for item in words
        if item.capital and not item.has("enrol", "block", "tapper", "collector", "own_block")
    ]
    unknown = [item.text for item in words if not item.tags or item.has("slip")]
    tail = text.split(number, 1)[1]
    blocks = [name for name in setting.blocks if re.search(rf"(?<![\w]){re.escape(name)}(?![\w])", tail, re.IGNORECASE)]
    name = " ".join(names or unknown) or None
    return Request(Manage.ENROL, name=name, number=re.sub(r"[\s().-]", "", number), role=role, blocks=tuple(blocks))

"""What an owner asks of his farm: people, the strength of the acid, containers, the hour of the summary, the language."""

import re

from parsers.facts import Facts
from parsers.items import Item
from parsers.reading import Manage, Request, Role, Setting

_NUMBER = re.compile(r"\+?\d[\d\s().-]{6,}\d")


def request(text: str, facts: Facts, setting: Setting) -> Request | None:
    """The request of a text, or None. Only an owner's text is one, but for the language."""
    words = [item for item in facts.items if item.kind == "word"]
    language = next((str(item.tags["language"]) for item in words if item.has("language")), None)
    if language is not None and any(item.has("speak") for item in words) and len(words) <= 6:
        return Request(Manage.LANGUAGE, word=language)
    if setting.role is not Role.OWNER:
        return None
    phone = _NUMBER.search(text)
    if phone is not None and any(item.has("enrol", "tapper", "collector") for item in words):
        return _enrolment(text, phone.group(), words, facts, setting)
    if any(item.has("people") for item in words) and not facts.of("litres", "kg"):
        return Request(Manage.PEOPLE)
    if any(item.has("dismiss") for item in words) and facts.of("person"):
        return Request(Manage.DISMISS, name=facts.of("person")[0].name)
    return _setting(words, facts)


def _setting(words: list[Item], facts: Facts) -> Request | None:
    strength = facts.of("strength", "drc_value")
    if strength and any(item.has("acid_strength", "acid") for item in words) and not facts.has("litres", "ask"):
        return Request(Manage.ACID_STRENGTH, value=strength[0].value)
    if any(item.has("summary_time") for item in words):
        return _summary(words, facts)
    if any(item.has("link") for item in words) and len(words) <= 5:
        return Request(Manage.LINK)
    return _container(words, facts)


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

"""Terms and lines of pay in words: for texts, slips, pages and papers."""

import re
from collections.abc import Mapping
from datetime import date
from decimal import Decimal

from bot.speech.language import Tongue


def in_words(speech: Tongue, given: Mapping[str, str]) -> str:
    """Terms of pay as people say them."""
    words = {
        "share": lambda rate: speech.say("share of the sale {rate}", rate=rate),
        "per_kilo": lambda rate: speech.say("{rate} a kg dry", rate=rate),
        "per_100_trees": lambda rate: speech.say("{rate} for 100 trees", rate=rate),
        "per_day": lambda rate: speech.say("{rate} a day", rate=rate),
        "norm": lambda rate: speech.say("norm {rate} (base/kg/over)", rate=rate),
    }
    return speech.several(words[name](figures(speech, rate)) for name, rate in given.items())


def label(speech: Tongue, name: str) -> str:
    """What a line of pay is called."""
    words = {
        "advance": speech.say("advance"),
        "deduction": speech.say("deduction"),
        "bonus": speech.say("bonus"),
        "adjustment": speech.say("adjustment"),
        "by the kilo": speech.say("by the kilo"),
        "by trees": speech.say("by trees"),
        "day's wage": speech.say("day's wage"),
        "above the norm": speech.say("above the norm"),
        "share of the sale": speech.say("share of the sale"),
    }
    return words.get(name) or figures(speech, name.replace("norm of", speech.say("norm of")))


def rule(speech: Tongue, text: str) -> str:
    """How a line was worked out, with its units, numbers and days as the listener writes them."""
    words = {"kg dry": speech.say("kg dry"), "x 100 trees": speech.say("x 100 trees"), "days": speech.say("days")}
    for english, own in words.items():
        text = text.replace(english, own)
    shared = _SHARED.fullmatch(text)
    if shared is not None:
        text = speech.say("{share} of {sales}", share=shared["share"], sales=shared["sales"])
    return figures(speech, text)


#: A rule of a share: its part of the sales less what was taken off them.
_SHARED = re.compile(r"(?P<share>\S+) of (?P<sales>\(.*)")

#: A span of days, a day, or a number by itself, within a rule.
_FIGURE = re.compile(
    r"(?P<day>\d{4}-\d{2}-\d{2})(?:/(?P<last>\d{4}-\d{2}-\d{2}))?|(?<![\w.,])(?P<number>\d+\.\d+)(?![\w.,]\w)"
)


def figures(speech: Tongue, text: str) -> str:
    """Numbers and days within some words as the listener writes them, with all their digits."""

    def own(found: re.Match[str]) -> str:
        if found["day"]:
            return speech.days(*(date.fromisoformat(found[name] or found["day"]) for name in ("day", "last")))
        places = len(found["number"].partition(".")[2])
        return speech.fixed(Decimal(found["number"]), places)

    return _FIGURE.sub(own, text)

"""Settings that are one of a few: what each choice is called on a page."""

from collections.abc import Mapping
from itertools import combinations

from bot.speech.language import Later, Tongue, later

#: Choices of each setting with their words, in the order in which they are shown.
_CHOICES: Mapping[str, Mapping[str, Later]] = {
    "acid": {"formic": later("formic acid"), "acetic": later("acetic acid")},
    "drying": {
        "sun": later("in the sun"),
        "smoke": later("in the smoke-house"),
        "solar": later("in a solar dryer"),
        "hot-air": later("in hot air"),
    },
    "ready": {
        "next-day": later("the next day"),
        "same-day": later("the same day"),
        "quick": later("as soon as it can be"),
    },
    "pay_period": {"week": later("week"), "fortnight": later("half a month"), "month": later("month")},
}

#: Countries with their ISO 3166 codes, by which CLDR names them.
_COUNTRIES: Mapping[str, str] = {
    "cote_d_ivoire": "CI",
    "india": "IN",
    "indonesia": "ID",
    "malaysia": "MY",
    "sri_lanka": "LK",
    "thailand": "TH",
    "vietnam": "VN",
}

#: What a farm may sell: a setting of one or several of them.
_FORMS: Mapping[str, Later] = {"sheets": later("sheets"), "latex": later("latex"), "lump": later("lump")}

_WEEKDAYS = ("rest_weekday", "summary_weekday")

#: Settings that may be left empty.
_MAY_BE_NONE = ("rest_weekday",)


def choices(speech: Tongue, name: str) -> tuple[tuple[str, str], ...]:
    """What a setting may be and what that is called; nothing for a setting that is written into a field."""
    if name in _CHOICES:
        return tuple((value, speech.say(words)) for value, words in _CHOICES[name].items())
    if name == "country":
        named = sorted((speech.country(code), value) for value, code in _COUNTRIES.items())
        return (*((value, words) for words, value in named), ("neutral", speech.say("another country")))
    if name == "sells":
        some = [each for n in range(1, len(_FORMS) + 1) for each in combinations(_FORMS, n)]
        return tuple((" ".join(each), speech.several(speech.say(_FORMS[form]) for form in each)) for each in some)
    if name in _WEEKDAYS:
        none = (("", speech.say("no day")),) if name in _MAY_BE_NONE else ()
        return (*none, *((str(n), speech.weekday_named(n)) for n in range(7)))
    return ()


def called(speech: Tongue, name: str, value: str) -> str:
    """What the value of a setting is called."""
    return dict(choices(speech, name)).get(value, value)

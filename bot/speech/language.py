"""The language that somebody is answered in: catalogue, numbers, days, and the alphabet of cheap texts.

The language comes from the person and is passed along; nothing is global. Catalogues are gettext files, one a language,
in `catalogues/`; they are read once and turned into translations in memory, so that no compiled file has to be kept.
Texts in Latin script are folded to the GSM-7 alphabet at the end: a single letter outside of it would more than double the
cost of the whole text.
"""

import datetime as dates
import gettext
import io
import unicodedata
from collections.abc import Iterable
from decimal import ROUND_HALF_UP, Decimal
from functools import cache, lru_cache
from importlib import resources

from babel import Locale
from babel.dates import format_date
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po
from babel.numbers import format_decimal

from bot.speech.parts import in_gsm7

LANGUAGES = ("en", "fr", "id", "th", "vi", "es")
SOURCE = "en"


class Tongue:
    """One language: says messages, numbers and days in it."""

    def __init__(self, code: str, translations: gettext.NullTranslations) -> None:
        self.code = code
        self._translations = translations
        self._locale = Locale.parse(code)

    def say(self, message: str, **values: object) -> str:
        """The message in this language with its values put in."""
        return self._translations.gettext(message).format(**values)

    def count(self, one: str, many: str, n: int, **values: object) -> str:
        """The message in the plural form that `n` needs; `{n}` is the number."""
        return self._translations.ngettext(one, many, n).format(n=n, **values)

    def number(self, value: Decimal | float, places: int = 2) -> str:
        """A number as it is written here, rounded half up, without needless zeros."""
        exact = Decimal(str(value)).quantize(Decimal(1).scaleb(-places), ROUND_HALF_UP)
        return _written(exact, "#,##0.######", self.code)

    def fixed(self, value: Decimal | float, places: int) -> str:
        """A number with exactly so many places, for money and sums."""
        exact = Decimal(str(value)).quantize(Decimal(1).scaleb(-places), ROUND_HALF_UP)
        pattern = "#,##0." + "0" * places if places else "#,##0"
        return _written(exact, pattern, self.code)

    def measured(self, value: Decimal | float) -> str:
        """Litres, kilos that were measured, and their sums: to the last digit that the books keep (ml, g), on every text, page
        and paper alike."""
        return self.number(value, 3)

    def day(self, day: dates.date, today: dates.date) -> str:
        """`today`, `yesterday`, a weekday of the last six days with its date, otherwise day and month."""
        if day == today:
            return self.say("today")
        if day == today - dates.timedelta(days=1):
            return self.say("yesterday")
        return self.date(day)

    def date(self, day: dates.date) -> str:
        """Day and month, short: `9 Mar`."""
        return str(format_date(day, "d MMM", locale=self._locale)).rstrip(".")

    def days(self, first: dates.date, last: dates.date) -> str:
        """A span of days: `9-15 Mar`, `28 Feb-6 Mar`, or one day."""
        if first == last:
            return self.date(first)
        head = str(first.day) if (first.year, first.month) == (last.year, last.month) else self.date(first)
        return f"{head}-{self.date(last)}"

    def weekday(self, day: dates.date) -> str:
        """The short name of the weekday: `Thu`."""
        return str(format_date(day, "EEE", locale=self._locale)).rstrip(".")

    def month(self, day: dates.date) -> str:
        """The short name of the month: `Mar`."""
        return str(format_date(day, "LLL", locale=self._locale)).rstrip(".")

    def several(self, items: Iterable[str]) -> str:
        """Items with commas."""
        return ", ".join(items)

    def alternatives(self, items: Iterable[str]) -> str:
        """`3, 5 or 7`; nothing where there are none."""
        *rest, last = list(items) or [""]
        return self.say("{several} or {last}", several=", ".join(rest), last=last) if rest else last


@lru_cache(maxsize=8192)
def _written(exact: Decimal, pattern: str, code: str) -> str:
    """The same figures come again and again, and writing one takes as long as a statement of the books."""
    return str(format_decimal(exact, format=pattern, locale=Locale.parse(code)))


@cache
def tongue(code: str) -> Tongue:
    """The language of that code; English for one that we do not have."""
    if code not in LANGUAGES or code == SOURCE:
        return Tongue(SOURCE, gettext.NullTranslations())
    return Tongue(code, _translations(code))


def _translations(code: str) -> gettext.GNUTranslations:
    source = resources.files("bot.speech").joinpath(f"catalogues/{code}.po").read_bytes()
    compiled = io.BytesIO()
    write_mo(compiled, read_po(io.BytesIO(source), locale=code))
    compiled.seek(0)
    return gettext.GNUTranslations(compiled)


def economical(text: str) -> str:
    """The text in characters of the GSM-7 alphabet where that only takes off marks; other scripts stay as they are.

    `Đắk` becomes `Dak`, a curly quote a straight one; a text with Thai or any other script is left alone, since it needs the
    other alphabet anyhow.
    """
    if in_gsm7(text):
        return text
    folded = "".join(character if in_gsm7(character) else _folded(character) for character in text)
    return folded if in_gsm7(folded) else text


_LOOKALIKES = {
    "đ": "d", "Đ": "D", "ł": "l", "ı": "i", "œ": "oe", "Œ": "OE", "’": "'", "‘": "'", "“": '"', "”": '"', "–": "-",
    "—": "-", "…": "...", "\u00a0": " ", "\u202f": " ", "\u2009": " ", "\u200b": "", "×": "x", "½": "1/2", "ç": "c",
}  # fmt: skip


def _folded(character: str) -> str:
    if character in _LOOKALIKES:
        return _LOOKALIKES[character]
    bare = "".join(c for c in unicodedata.normalize("NFD", character) if not unicodedata.combining(c))
    return bare if in_gsm7(bare) else character

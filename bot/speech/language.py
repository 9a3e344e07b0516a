"""The language that somebody is answered in: catalogue, numbers, days, and the alphabet of cheap texts.

The language comes from the person and is passed along; nothing is global. Catalogues are gettext files, one a language,
in `catalogues/`; they are read once and turned into translations in memory, so that no compiled file has to be kept.
Texts in Latin script are folded to the GSM-7 alphabet at the end: a single letter outside of it would more than double the
cost of the whole text. Words of pages are not folded and carry all their marks; they stand in the catalogues with the context
`page`, since the same English words may be shorter in a text.
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
from babel.dates import format_date, format_skeleton, format_time
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po
from babel.numbers import format_decimal

from bot.speech.parts import in_gsm7

LANGUAGES = ("en", "fr", "id", "th", "vi", "es")
SOURCE = "en"

#: The context of what is written on pages.
PAGE = "page"


class Later(str):
    """A message that is said later, when it is known in which language."""

    __slots__ = ()


later = Later


class Tongue:
    """One language: says messages, numbers and days in it."""

    def __init__(self, code: str, translations: gettext.NullTranslations) -> None:
        self.code = code
        self._translations = translations
        self._locale = Locale.parse(code)

    def say(self, message: str, **values: object) -> str:
        """The message in this language with its values put in."""
        return self.unfilled(message).format(**values)

    def unfilled(self, message: str) -> str:
        """The message in this language, its places for values still empty."""
        return self._translations.gettext(message)

    def count(self, one: str, many: str, n: int, **values: object) -> str:
        """The message in the plural form that `n` needs; `{n}` is the number."""
        return self.unfilled_count(one, many, n).format(n=n, **values)

    def unfilled_count(self, one: str, many: str, n: int) -> str:
        """The plural form that `n` needs, its places for values still empty."""
        return self._translations.ngettext(one, many, n)

    def number(self, value: Decimal | float, places: int = 2) -> str:
        """A number as it is written here, rounded half up, without needless zeros."""
        exact = _rounded(value, places)
        return _written(exact, "#,##0.######", self.code)

    def fixed(self, value: Decimal | float, places: int) -> str:
        """A number with exactly so many places, for money and sums."""
        exact = _rounded(value, places)
        pattern = "#,##0." + "0" * places if places else "#,##0"
        return _written(exact, pattern, self.code)

    def measured(self, value: Decimal | float) -> str:
        """Litres, kilos that were measured, and their sums: to the last digit that the books keep (ml, g), on every text, page
        and paper alike."""
        return self.number(value, 3)

    def signed(self, value: Decimal | float, places: int) -> str:
        """A difference with its sign: `+4`, `-0.5`; 0 has none."""
        written = self.number(value, places)
        return f"+{written}" if value > 0 and written != "0" else written

    def plain(self, value: Decimal) -> str:
        """A number as it is typed into a field: all its digits, the decimal mark of the language, nothing between thousands."""
        return str(format_decimal(value, format="0.######", locale=self._locale, decimal_quantization=False))

    def day(self, day: dates.date, today: dates.date) -> str:
        """`today`, `yesterday`, a weekday of the last six days with its date, otherwise day and month."""
        if day == today:
            return self.say("today")
        if day == today - dates.timedelta(days=1):
            return self.say("yesterday")
        return self.date(day)

    def date(self, day: dates.date) -> str:
        """Day and month as they stand within a sentence, without a point at their end: `9 Mar`."""
        return self._unpointed(self.short(day))

    def short(self, day: dates.date) -> str:
        """Day and month by themselves: `9 Mar`, `9 févr.`"""
        return str(format_date(day, "d MMM", locale=self._locale))

    def dated(self, day: dates.date) -> str:
        """Weekday, day and month: `Mon 9 Mar`, `จันทร์ 9 มี.ค.`"""
        return self._by_skeleton("MMMEd", "EEE d MMM", day)

    def full(self, day: dates.date) -> str:
        """Weekday, day, month and year: `Mon 9 Mar 2026`."""
        return self._by_skeleton("yMMMEd", "EEE d MMM y", day)

    def dated_year(self, day: dates.date) -> str:
        """Day, month and year: `9 Mar 2026`, `9 thg 3, 2026`."""
        return self._by_skeleton("yMMMd", "d MMM y", day)

    def month(self, day: dates.date) -> str:
        """Month and year: `March 2026`, `tháng 3 năm 2026`."""
        return self._by_skeleton("yMMMM", "MMMM y", day)

    def figures(self, day: dates.date) -> str:
        """Day and month in figures: `9.3.`, `09/03`."""
        return self._by_skeleton("Md", "d.M.", day)

    def clock(self, moment: dates.datetime) -> str:
        """The time of day, of 24 hours: `06:05`, `06.05`."""
        usual = self._locale.time_formats["short"].pattern
        return str(format_time(moment, "HH:mm" if "a" in usual else usual, locale=self._locale))

    def _by_skeleton(self, skeleton: str, english: str, day: dates.date) -> str:
        """As CLDR writes it in that language; the English of CLDR is that of the United States, ours is not."""
        if self.code == SOURCE:
            return str(format_date(day, english, locale=self._locale))
        return str(format_skeleton(skeleton, day, locale=self._locale))

    def _unpointed(self, written: str) -> str:
        """Without the point of an abbreviation, which would stand before that of the sentence; in Thai it belongs to the word."""
        return written if self.code == "th" else written.rstrip(".")

    def days(self, first: dates.date, last: dates.date) -> str:
        """A span of days: `9-15 Mar`, `28 Feb-6 Mar`, or one day."""
        if first == last:
            return self.date(first)
        head = str(first.day) if (first.year, first.month) == (last.year, last.month) else self.date(first)
        return f"{head}-{self.date(last)}"

    def full_days(self, first: dates.date, last: dates.date) -> str:
        """A span of days with its year or years: `1 Mar - 31 Mar 2026`."""
        head = self.short(first) if first.year == last.year else self.dated_year(first)
        return f"{head} - {self.dated_year(last)}"

    def weekday(self, day: dates.date) -> str:
        """The short name of the weekday: `Thu`."""
        return self._unpointed(str(format_date(day, "EEE", locale=self._locale)))

    def weekday_in_a_column(self, day: dates.date) -> str:
        """The name of the weekday where there is little room: `Mon`, `lun.`, `T2`."""
        pattern = "EEEEEE" if self.code in ("th", "vi") else "EEE"
        return str(format_date(day, pattern, locale=self._locale))

    def weekday_named(self, number: int) -> str:
        """The whole name of a weekday by itself; 0 is Monday."""
        return str(self._locale.days["stand-alone"]["wide"][number])

    def country(self, code: str) -> str:
        """The name of a country by its ISO 3166 code."""
        return str(self._locale.territories[code])

    def short_month(self, day: dates.date) -> str:
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
    """The language of that code, for texts; English for one that we do not have."""
    if code not in LANGUAGES or code == SOURCE:
        return Tongue(SOURCE, gettext.NullTranslations())
    return Tongue(code, _translations(code, None))


@cache
def page_tongue(code: str) -> Tongue:
    """The language of that code, for pages: words of the context `page` come first, then those of texts."""
    if code not in LANGUAGES or code == SOURCE:
        return tongue(SOURCE)
    words = _translations(code, PAGE)
    words.add_fallback(tongue(code)._translations)
    return Tongue(code, words)


def _translations(code: str, context: str | None) -> gettext.GNUTranslations:
    """The messages of one context of a catalogue."""
    source = resources.files("bot.speech").joinpath(f"catalogues/{code}.po").read_bytes()
    whole = read_po(io.BytesIO(source), locale=code)
    kept = [message for message in whole if message.id and message.context == context]
    for message in [message for message in whole if message.id]:
        whole.delete(message.id, message.context)  # what stays is the head, with the plural forms of the language
    for message in kept:
        whole.add(message.id, message.string)
    compiled = io.BytesIO()
    write_mo(compiled, whole)
    compiled.seek(0)
    return gettext.GNUTranslations(compiled)


def _rounded(value: Decimal | float, places: int) -> Decimal:
    """Rounded half up; nothing is `-0`."""
    exact = Decimal(str(value)).quantize(Decimal(1).scaleb(-places), ROUND_HALF_UP)
    return exact if exact else abs(exact)


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

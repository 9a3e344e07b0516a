"""From what is in a table to what Python holds, and back.

Measured things are whole numbers in the tables: millilitres, grams, hundredths of a percent, ten-thousandths of the
currency's unit. Moments are ISO 8601 texts in UTC with microseconds: their order as text is their order in time.
"""

import json
import re
import unicodedata
from collections.abc import Iterator, Mapping
from datetime import UTC, date, datetime
from decimal import Decimal
from functools import lru_cache
from typing import Any

from parsers.reading import Reason, Record, What

_UNSTORABLE = re.compile("[\0\ud800-\udfff]")


def moment_out(at: datetime) -> str:
    """A moment as text. Raises ValueError for one without a zone."""
    if at.tzinfo is None:
        raise ValueError("a moment needs a zone")
    return at.astimezone(UTC).replace(tzinfo=None).isoformat(timespec="microseconds") + "Z"


def moment_in(text: str) -> datetime:
    """A moment from the books, in UTC."""
    return datetime.fromisoformat(text)


def moment_or_none(text: str | None) -> datetime | None:
    """A moment that may be missing."""
    return None if text is None else moment_in(text)


def midnight_utc(now: datetime) -> datetime:
    """The beginning of this day by UTC, by which parts are counted."""
    return now.astimezone(UTC).replace(hour=0, minute=0, second=0, microsecond=0)


def scaled(value: Decimal | None, by: int) -> int | None:
    """A Decimal as a whole number of smaller units. Raises ValueError where it does not fit without a rest."""
    if value is None:
        return None
    exact = value * by
    if exact != exact.to_integral_value():
        raise ValueError(f"{value} is finer than the books keep (1/{by})")
    return int(exact)


@lru_cache(maxsize=8192)
def unscaled(value: int | None, by: int) -> Decimal | None:
    """A whole number of smaller units as a Decimal without needless zeros."""
    if value is None:
        return None
    exact = (Decimal(value) / by).normalize()
    return exact.quantize(Decimal(1)) if exact == exact.to_integral_value() else exact


def folded(name: str) -> str:
    """A name as a key: without case, marks, spaces and punctuation (`El Mango` and `el-mangó` are one)."""
    bare = unicodedata.normalize("NFKD", name.casefold())
    kept = "".join(c for c in bare if unicodedata.category(c)[0] in "LN" or _is_vowel_mark(c))
    return unicodedata.normalize("NFKC", kept)


def _is_vowel_mark(character: str) -> bool:
    """Marks that carry the word in scripts such as Thai; the accents of Latin letters are left out."""
    return unicodedata.category(character)[0] == "M" and not "\u0300" <= character <= "\u036f"


def storable(text: str) -> str:
    """A text without what no database holds: NUL and halves of surrogate pairs become U+FFFD."""
    if text.isascii():
        return text.replace("\0", "\ufffd")
    return _UNSTORABLE.sub("\ufffd", text)


def rounded(value: Decimal | None, by: int) -> Decimal | None:
    """A Decimal rounded half to even to the finest unit that the books keep."""
    return None if value is None else (value * by).quantize(Decimal(1)) / by


def record_out(record: Record) -> dict[str, Any]:
    """A record's columns. Quantities finer than the books keep are rounded to a millilitre, a gram, a hundredth."""
    return {
        "what": record.what.value,
        "day": None if record.day is None else record.day.isoformat(),
        "block": record.block,
        "ml": scaled(rounded(record.litres, 1000), 1000),
        "grams": scaled(rounded(record.kg, 1000), 1000),
        "drc_hundredths": scaled(rounded(record.drc, 100), 100),
        "rain": int(record.rain),
        "late": int(record.late),
        "again": int(record.again),
        "reason": None if record.reason is None else record.reason.value,
        "pieces": record.count,
        "sheets": record.sheets,
        "taken_from": record.farm,
        "grade": record.grade,
        "price_ten_thousandths": scaled(rounded(record.price, 10000), 10000),
        "place": record.place,
    }


class Unread(Mapping[str, Any]):
    """A JSON object as text, which is read when it is first looked into: most lines are read for their record alone."""

    __slots__ = ("_found", "_text")

    def __init__(self, text: str) -> None:
        self._text = text
        self._found: dict[str, Any] | None = None

    def _read(self) -> dict[str, Any]:
        if self._found is None:
            self._found = json.loads(self._text)
        return self._found

    def __getitem__(self, name: str) -> Any:
        return self._read()[name]

    def get(self, name: str, default: Any = None) -> Any:
        return self._read().get(name, default)

    def __iter__(self) -> Iterator[str]:
        return iter(self._read())

    def __len__(self) -> int:
        return len(self._read())

    def __repr__(self) -> str:
        return repr(self._read())


_WHAT = {each.value: each for each in What}
_REASON = {None: None} | {each.value: each for each in Reason}


def record_in(row: Mapping[str, Any]) -> Record:
    """The record of a row of entries.

    Made with all its fields at once, in a quarter of the time: a frozen dataclass would set each of them by a call of its own,
    and years of lines are read at once. No default is filled in and no field is checked.
    """
    found = object.__new__(Record)
    found.__dict__.update(
        what=_WHAT[row["what"]],
        day=None if row["day"] is None else date.fromisoformat(row["day"]),
        block=row["block"],
        litres=unscaled(row["ml"], 1000),
        kg=unscaled(row["grams"], 1000),
        drc=unscaled(row["drc_hundredths"], 100),
        rain=row["rain"] == 1,
        late=row["late"] == 1,
        again=row["again"] == 1,
        reason=_REASON[row["reason"]],
        count=row["pieces"],
        sheets=row["sheets"],
        farm=row["taken_from"],
        grade=row["grade"],
        price=unscaled(row["price_ten_thousandths"], 10000),
        place=row["place"],
    )
    return found

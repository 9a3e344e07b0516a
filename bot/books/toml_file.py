"""A TOML file that people write: every fault names its line and what to write there."""

import re
import tomllib
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from decimal import Decimal, InvalidOperation
from pathlib import Path
from typing import Any

from bot.books.errors import BadFile

#: What may be written for keys that have to be there.
EXAMPLES = {"timezone": "Asia/Bangkok", "currency": "USD", "language": "en", "region": "GB"}

_HEADER = re.compile(r"\[+\s*(.+?)\s*\]+")


class TomlFile:
    """The file that is read: its data, and its text for the numbers of lines. Raises BadFile for one that cannot be read."""

    def __init__(self, path: Path) -> None:
        self.name = path.name
        try:
            self.text = path.read_text(encoding="utf-8-sig")
            self.data: dict[str, Any] = tomllib.loads(self.text)
        except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
            raise BadFile(f"{path.name} cannot be read: {error}") from error

    def fault(self, message: str, key: str, table: str = "", nth: int = 0) -> BadFile:
        """The error for a key of the nth table of that name."""
        return BadFile(f"{self.where(key, table, nth)}: {message}")

    def where(self, key: str, table: str = "", nth: int = 0) -> str:
        """The file and the line of a key."""
        line = line_of(self.text, key, table, nth)
        return self.name if line is None else f"{self.name}, line {line}"

    def only(self, found: Mapping[str, Any], allowed: Iterable[str], table: str = "", nth: int = 0) -> None:
        """Raises BadFile for a key that is none of these."""
        for key in found:
            if key not in allowed:
                raise self.fault(f"there is no key {key}; use {', '.join(sorted(allowed))}.", key, table, nth)

    def written(self, key: str) -> str:
        """A text that has to be there."""
        value = self.data.get(key)
        if not isinstance(value, str) or not value.strip():
            raise self.fault(f'{key} is missing; write {key} = "{EXAMPLES.get(key, "...")}" at the top.', key)
        return value.strip()

    def one_of(self, key: str, allowed: Iterable[str], usual: str | None = None) -> str:
        """A text that is one of these, or the usual one where it is left out."""
        value = usual if usual is not None and key not in self.data else self.written(key)
        if value not in set(allowed):
            raise self.fault(f'{key} {value!r} is not known; write one such as {key} = "{EXAMPLES[key]}".', key)
        return value


def number(value: object) -> Decimal:
    """A number of the file; NaN for anything else."""
    try:
        return Decimal("NaN") if isinstance(value, bool) else Decimal(str(value))
    except InvalidOperation:
        return Decimal("NaN")


def line_of(text: str, key: str, table: str = "", nth: int = 0) -> int | None:
    """The line, from 1, where a key of the nth table of a name is set, or else where that table begins.

    Only to show a place to a reader: values over several lines may hide one.
    """
    lines: dict[tuple[str, int, str], int] = {}
    for place, line in _places(text):
        lines.setdefault(place, line)
    places = ((table, nth, key), (table, nth, ""), ("", 0, table))
    return next((lines[place] for place in places if place in lines), None)


def _places(text: str) -> Iterator[tuple[tuple[str, int, str], int]]:
    """Each line that begins a table or sets a key: (table, which of that name, key) and its number."""
    table, seen = "", Counter[str]()
    for number, line in enumerate(text.splitlines(), 1):
        bare = line.strip()
        if header := _HEADER.match(bare):
            table = _unquoted(header[1])
            seen[table] += 1
            parent, _, child = table.rpartition(".")
            yield (table, seen[table] - 1, ""), number
            yield (parent, 0, child), number
        elif "=" in bare:
            parent, _, child = _unquoted(bare.split("=")[0].strip()).rpartition(".")
            yield (table or parent, max(seen[table] - 1, 0), child), number


def _unquoted(name: str) -> str:
    return name.replace('"', "").replace("'", "")

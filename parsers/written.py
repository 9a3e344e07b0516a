"""Names of farms and places as they stand in the text, with the hyphens and apostrophes that reading leaves out."""

import re
from collections.abc import Mapping
from dataclasses import replace

from parsers.reading import Reading, Record, Setting

#: Signs that people write within a name.
_WITHIN = "'’‘`´-"


def as_written(reading: Reading, text: str, setting: Setting) -> Reading:
    """The reading with names that nobody knows spelt as in the text (`Songon-Té`, `K'Brôi`); known ones stay as they are."""
    if not any(sign in text for sign in _WITHIN):
        return reading
    known = {*setting.farms, *setting.places}
    return replace(
        reading,
        records=tuple(_with_names(each, text, known) for each in reading.records),
        pending=tuple(_with_names(each, text, known) for each in reading.pending),
    )


def _with_names(record: Record, text: str, known: set[str]) -> Record:
    written: Mapping[str, str] = {
        field: found
        for field in ("farm", "place")
        if (name := getattr(record, field)) is not None
        and name not in known
        and (found := _found(name, text)) is not None
    }
    return record.with_(**written) if written else record


def _found(name: str, text: str) -> str | None:
    """The name where it stands as whole words, letter by letter, with signs between them."""
    letters = rf"[{_WITHIN}]?".join(rf"(?:\s+|\s*[{_WITHIN}]\s*)" if each == " " else re.escape(each) for each in name)
    found = re.search(rf"(?<!\w){letters}(?!\w)", text)
    return found.group() if found is not None else None

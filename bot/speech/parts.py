"""How many parts a text is sent, and billed, in.

A text of the GSM-7 alphabet has 160 units in one part or 153 in each of several, any other text 70 or 67 units of
UCS-2: 140 octets a part, less six octets of header where there are several (3GPP TS 23.038 and 23.040). A character
that takes two units is never cut: it moves whole to the next part, so that units alone do not tell the parts.
"""

from collections.abc import Iterable
from dataclasses import dataclass

GSM7_ONE_UNIT = frozenset(
    "@£$¥èéùìòÇ\nØø\rÅåΔ_ΦΓΛΩΠΨΣΘΞÆæßÉ !\"#¤%&'()*+,-./0123456789:;<=>?"
    "¡ABCDEFGHIJKLMNOPQRSTUVWXYZÄÖÑÜ§¿abcdefghijklmnopqrstuvwxyzäöñüà"
)
GSM7_TWO_UNITS = frozenset("\f^{}\\[~]|€")
GSM7_CHARACTERS = GSM7_ONE_UNIT | GSM7_TWO_UNITS


@dataclass(frozen=True)
class Parts:
    """The alphabet (`GSM-7` or `UCS-2`), the units of it that a text takes, and the parts that it is sent in."""

    encoding: str
    units: int
    parts: int


def in_gsm7(text: str) -> bool:
    """Whether every character of the text is in the GSM-7 alphabet or its extension table."""
    return GSM7_CHARACTERS.issuperset(text)


def count_parts(text: str) -> Parts:
    """The parts of a text; none for an empty text, which cannot be sent."""
    if in_gsm7(text):
        if GSM7_TWO_UNITS.isdisjoint(text):
            return _even("GSM-7", len(text), single=160, each=153)
        return _counted("GSM-7", (2 if character in GSM7_TWO_UNITS else 1 for character in text), single=160, each=153)
    return _counted("UCS-2", (2 if character > "\uffff" else 1 for character in text), single=70, each=67)


def _even(encoding: str, units: int, *, single: int, each: int) -> Parts:
    """Characters of one unit each: nothing has to move."""
    return Parts(encoding, units, -(-units // each) if units > single else min(units, 1))


def _counted(encoding: str, sizes: Iterable[int], *, single: int, each: int) -> Parts:
    units = filled = 0
    parts = 1
    for size in sizes:
        units += size
        if filled + size > each:
            parts += 1
            filled = 0
        filled += size
    if units <= single:
        parts = 1 if units else 0
    return Parts(encoding, units, parts)

"""What all printed papers share: the fonts that come with the package, and lengths in mm.

One font prints Latin script with all marks of Vietnamese, and Thai, whose marks HarfBuzz puts in their places (fpdf2 asks
it). A second font to fall back on is avoided: fpdf2 2.8.9 then writes some figures of the first in the letters of the second.
Letters of other scripts come out as empty boxes.
"""

import re
import unicodedata
from contextlib import ExitStack
from datetime import datetime
from importlib import resources
from typing import Literal

from fpdf import FPDF
from fpdf.fonts import TTFFont

Weight = Literal["", "B"]
Align = Literal["L", "R"]

FONT = "NotoSansLatinThai"

#: Width and height in mm (ISO 216).
SIZES: dict[str, tuple[float, float]] = {"a4": (210, 297), "a5": (148, 210), "a6": (105, 148)}

#: Letters may be squeezed to this share of their width.
NARROWEST = 0.7

#: A line is so many times as high as its letters.
LEADING = 1.3

#: How light the lines between rows are, 0 (black) to 255.
GREY = 150

_MM_A_POINT = 25.4 / 72
_THAI = re.compile("[\u0e00-\u0e7f]")


class Ink(FPDF):
    """A document of upright pages of one size, to be used in a `with`, which closes its fonts.

    `made_at` is kept in the file.
    """

    def __init__(self, size: str, title: str, made_at: datetime) -> None:
        super().__init__(unit="mm", format=SIZES[size])
        self.set_title(title)
        self.set_creation_date(made_at)
        self.set_auto_page_break(False)
        self.c_margin = 0
        self._open = ExitStack()
        self._add("", "Regular")
        self._add("B", "Bold")
        self.use("", 10)

    def _add(self, weight: Weight, name: str) -> None:
        path = self._open.enter_context(resources.as_file(resources.files("bot.papers") / f"fonts/{FONT}-{name}.ttf"))
        self.add_font(FONT, weight, path)

    def __enter__(self) -> "Ink":
        return self

    def __exit__(self, *_: object) -> None:
        for font in self.fonts.values():
            if isinstance(font, TTFFont):
                font.close()
        self._open.close()

    def use(self, weight: Weight, points: float) -> None:
        """Write on in this weight and size."""
        self.set_font(FONT, weight, points)

    @property
    def line_mm(self) -> float:
        """The height of a line of the present size."""
        return float(self.font_size_pt) * _MM_A_POINT * LEADING

    def put_line(self, text: str, x: float, y: float, width: float, align: Align = "L") -> None:
        """One line in a box: where the text is too long its letters get narrower, then the end is cut off with dots."""
        shown = self._shaped(text)
        while shown and NARROWEST * self.get_string_width(shown) > width:
            shown = shown.rstrip("…")[:-1] + "…" if len(shown) > 1 else ""
        self.set_stretching(100 * min(1.0, width / max(self.get_string_width(shown), 0.01)))
        self.set_xy(x, y)
        self.cell(width, self.line_mm, shown, align=align)
        self.set_stretching(100)

    def put_lines(self, text: str, x: float, y: float, width: float, align: Align = "L") -> float:
        """A text over as many lines as it needs; returns where the next one begins."""
        for line in self._wrapped(text, width):
            self.put_line(line, x, y, width, align)
            y += self.line_mm
        return y

    def height_of(self, text: str, width: float) -> float:
        """The height that a text takes at this width."""
        return len(self._wrapped(text, width)) * self.line_mm

    def _wrapped(self, text: str, width: float) -> list[str]:
        """Lines broken at spaces alone: fpdf2 breaks a long word of Thai between a letter and its mark."""
        lines: list[str] = []
        for word in self._shaped(text).split():
            longer = f"{lines[-1]} {word}" if lines else word
            if lines and self.get_string_width(longer) <= width:
                lines[-1] = longer
            else:
                lines.append(word)
        return lines

    def _shaped(self, text: str) -> str:
        """The text with composed letters, and HarfBuzz told its script: it would go by the first letter alone."""
        script = "Thai" if _THAI.search(text) else "Latn"
        self.set_text_shaping(True, script=script)
        return unicodedata.normalize("NFC", text)

    def rule(self, x: float, y: float, width: float, thickness: float = 0.2, *, grey: bool = False) -> None:
        """A line across, from its left end."""
        self.set_line_width(thickness)
        self.set_draw_color(GREY if grey else 0)
        self.line(x, y, x + width, y)

    def finished(self) -> bytes:
        """The file."""
        return bytes(self.output())

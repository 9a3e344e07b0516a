"""A month on one page that can be printed and signed, A4 or A5.

Drawn for A5 and enlarged for A4, whose sides are the square root of two longer: both look alike.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from zoneinfo import ZoneInfo

from bot.books import Transaction, entries, farms
from bot.books.model import Farm
from bot.papers.crop import all_blocks, day_cells, day_columns
from bot.papers.ink import SIZES, Align, Ink, Weight
from bot.papers.periods import month_name
from bot.papers.table import Cell
from bot.reckon.takes import amount_of
from bot.speech import say
from bot.speech.language import Tongue
from bot.week.figures import Crop, Span, gather

#: Lengths on A5, mm.
_MARGIN, _LEFT_WIDTH, _GAP = 8.0, 84.0, 4.0
_HEADS, _ROW, _SIGNING = 26.0, 4.5, 22.0
_DAY_WIDTHS = (11.0, 11.0, 9.5, 10.5, 8.5, 8.5, 11.0, 14.0)
_BLOCK_WIDTHS = (14.0, 8.0, 11.0, 11.0)

#: Blocks that the page has room for; more of them share the last line.
MOST_BLOCKS = 18


@dataclass(frozen=True)
class MonthPaper:
    """All that the page of a month says, as written."""

    farm: str
    month: str
    heads: tuple[str, ...]
    days: tuple[tuple[str, ...], ...]
    together: tuple[str, ...]
    block_heads: tuple[str, ...]
    blocks: tuple[tuple[str, ...], ...]
    besides: tuple[tuple[str, str], ...]
    signing: tuple[str, ...]
    notes: tuple[str, ...]


def look_at(tx: Transaction, farm: Farm, tongue: Tongue, first: date, last: date, now: datetime) -> MonthPaper:
    """The figures of a month in words of a language; `now` is when it is printed."""
    span = gather(tx, farm, first, last)
    days = [date.fromordinal(n) for n in range(first.toordinal(), last.toordinal() + 1)]
    return MonthPaper(
        farm=farm.name,
        month=month_name(tongue, first),
        heads=tuple(column.heading for column in day_columns(tongue)),
        days=tuple((_day(tongue, day), *_written(tongue, day_cells(tongue, span, day))) for day in days),
        together=_together(tongue, span),
        block_heads=(
            tongue.say("Block"),
            tongue.say("Days"),
            f"{tongue.say('Latex measured')} (L)",
            f"{tongue.say('Dry rubber expected')} (kg)",
        ),
        blocks=_blocks(tongue, list(farms.blocks(tx, farm.id)), span),
        besides=_besides(tongue, farm, span, _changed_lines(tx, farm, first, last)),
        signing=(tongue.say("Owner: name, day, signature"), tongue.say("Seen by: name, day, signature")),
        notes=_notes(tongue, farm, now),
    )


def month_pdf(papers: Sequence[MonthPaper], size: str, now: datetime) -> bytes:
    """A page for each month. `size` is `a4` or `a5`."""
    title = f"{papers[0].farm}, {papers[0].month}" if papers else ""
    with Ink(size, title, now) as ink:
        for paper in papers:
            ink.add_page()
            _Page(ink, SIZES[size][0] / SIZES["a5"][0]).draw(paper)
        return ink.finished()


def _day(tongue: Tongue, day: date) -> str:
    return f"{day.day} {tongue.weekday(day)}"


def _written(tongue: Tongue, cells: Sequence[Cell]) -> tuple[str, ...]:
    return tuple(_figure(tongue, cell) for cell in cells)


def _figure(tongue: Tongue, cell: Cell) -> str:
    if cell is None:
        return ""
    return tongue.measured(cell) if isinstance(cell, Decimal) else str(cell)


def _together(tongue: Tongue, span: Span) -> tuple[str, ...]:
    figures = (
        tongue.measured(span.total.litres),
        tongue.measured(span.total.kg),
        tongue.fixed(span.total.dry_kg, 1),
        str(span.sheets_rolled),
        tongue.measured(span.lump_kg),
        tongue.measured(span.taken_kg),
    )
    return (tongue.say("Together"), *figures, "")


def _blocks(tongue: Tongue, known: Sequence[str], span: Span) -> tuple[tuple[str, ...], ...]:
    names = all_blocks(known, span)
    rows = [_block(tongue, say.block_name(tongue, name or None), [span.by_block.get(name, Crop())]) for name in names]
    if len(rows) <= MOST_BLOCKS:
        return tuple(rows)
    rest = [span.by_block.get(name, Crop()) for name in names[MOST_BLOCKS - 1 :]]
    return (*rows[: MOST_BLOCKS - 1], _block(tongue, tongue.say("{n} others", n=len(rest)), rest))


def _block(tongue: Tongue, name: str, crops: Sequence[Crop]) -> tuple[str, ...]:
    litres = sum((crop.litres for crop in crops), Decimal(0))
    days = sum(crop.days for crop in crops)
    return (name, str(days), tongue.measured(litres), tongue.fixed(sum(crop.dry_kg for crop in crops), 1))


def _besides(tongue: Tongue, farm: Farm, span: Span, changed: int) -> tuple[tuple[str, str], ...]:
    amount = amount_of(farm, span.entries)
    return (
        (tongue.say("Tapping days"), str(span.total.days)),
        (tongue.say("Dry sheets"), f"{span.sheets_dry}"),
        (f"{tongue.say('Dry sheets')} (kg)", tongue.measured(span.dry_sheets_kg)),
        (tongue.say("Sheets collected"), str(span.taken_sheets)),
        (f"{tongue.say('Amount')} ({farm.currency})", tongue.number(amount, 4)),
        (tongue.say("Block-days lost to rain"), str(span.rain_days)),
        (tongue.say("Lines changed later"), str(changed)),
    )


def _changed_lines(tx: Transaction, farm: Farm, first: date, last: date) -> int:
    """How many lines of these days do not stand any more."""
    lines = [entry for entry in entries.all_entries(tx, farm.id, first=first, last=last) if not entry.removed]
    return len(lines) - len(entries.standing(tx, farm.id, first=first, last=last))


def _notes(tongue: Tongue, farm: Farm, now: datetime) -> tuple[str, ...]:
    printed = now.astimezone(ZoneInfo(farm.timezone))
    return (
        tongue.say(
            "Dry rubber expected is worked out from litres and DRC, not weighed. Amounts count where a price stands."
        ),
        tongue.say("From the day-book as it stood on {moment}.", moment=f"{printed:%Y-%m-%d %H:%M}"),
    )


def _side(place: int, columns: int) -> Align:
    """Figures stand to the right; the first column and the remarks of the days are words."""
    return "L" if place == 0 or (columns == len(_DAY_WIDTHS) and place == columns - 1) else "R"


def _pad(place: int, columns: int) -> float:
    """Room at the left of a cell; words after figures need more."""
    return 2.0 if place and _side(place, columns) == "L" else 0.4


@dataclass(frozen=True)
class _Page:
    """The drawing of a page; `scale` is 1 on A5."""

    ink: Ink
    scale: float

    def draw(self, paper: MonthPaper) -> None:
        self._write("B", 13, f"{paper.farm}", _MARGIN, 7, 90)
        self._write("B", 11, paper.month, 90, 8, 50, "R")
        self._rows(_MARGIN, _DAY_WIDTHS, (paper.heads, *paper.days, paper.together), last_bold=True)
        right = _MARGIN + _LEFT_WIDTH + _GAP
        below = self._rows(right, _BLOCK_WIDTHS, (paper.block_heads, *paper.blocks), last_bold=False)
        self._besides(right, below + _ROW, paper.besides)
        self._sign(paper)

    def _rows(self, left: float, widths: Sequence[float], rows: Sequence[Sequence[str]], *, last_bold: bool) -> float:
        head, *body = rows
        y = self._head(left, widths, head)
        for number, row in enumerate(body, 1):
            bold = last_bold and number == len(body)
            self._row(left, y, widths, row, bold=bold)
            y += _ROW
            self.ink.rule(left * self.scale, y * self.scale, sum(widths) * self.scale, 0.1, grey=True)
        return y

    def _head(self, left: float, widths: Sequence[float], titles: Sequence[str]) -> float:
        """Titles of several lines, standing on the line below them; returns where the rows begin."""
        bottom, x = _HEADS, left
        self.ink.use("B", 5 * self.scale)
        for place, (title, width) in enumerate(zip(titles, widths, strict=True)):
            room = (width - 0.8) * self.scale
            height = self.ink.height_of(title, room)
            above = bottom * self.scale - height
            self.ink.put_lines(
                title, (x + _pad(place, len(titles))) * self.scale, above, room, _side(place, len(titles))
            )
            x += width
        self.ink.rule(left * self.scale, bottom * self.scale, sum(widths) * self.scale, 0.4)
        return bottom

    def _row(self, left: float, y: float, widths: Sequence[float], row: Sequence[str], *, bold: bool) -> None:
        x = left
        for place, (text, width) in enumerate(zip(row, widths, strict=True)):
            weight: Weight = "B" if bold else ""
            self._write(weight, 6.5, text, x + _pad(place, len(row)), y + 0.6, width - 0.8, _side(place, len(row)))
            x += width

    def _besides(self, left: float, y: float, rows: Sequence[tuple[str, str]]) -> None:
        for name, figure in rows:
            self._write("", 6.5, name, left + 0.4, y + 0.6, 28)
            self._write("B", 6.5, figure, left + 28, y + 0.6, 15.6, "R")
            y += _ROW
            self.ink.rule(left * self.scale, y * self.scale, sum(_BLOCK_WIDTHS) * self.scale, 0.1, grey=True)

    def _sign(self, paper: MonthPaper) -> None:
        y = SIZES["a5"][1] - _SIGNING
        for place, who in enumerate(paper.signing):
            x = _MARGIN + place * 68
            self.ink.rule(x * self.scale, (y + 6) * self.scale, 62 * self.scale, 0.3)
            self._write("", 6.5, who, x, y + 6.6, 62)
        for number, note in enumerate(paper.notes):
            self._write("", 5.5, note, _MARGIN, y + 11.5 + 3 * number, 132)

    def _write(
        self, weight: Weight, points: float, text: str, x: float, y: float, width: float, align: Align = "L"
    ) -> None:
        self.ink.use(weight, points * self.scale)
        self.ink.put_line(text, x * self.scale, y * self.scale, width * self.scale, align)

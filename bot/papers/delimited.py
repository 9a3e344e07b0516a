"""Tables as CSV (RFC 4180): UTF-8 with its mark, so that spreadsheets take Thai for Thai; days as ISO 8601."""

import csv
import io
from datetime import datetime
from decimal import Decimal

from bot.papers.table import Cell, Table

#: A cell that begins so is taken for a formula by spreadsheets (also in the full width of East Asian letters).
FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")


def csv_of(table: Table) -> bytes:
    """The table with its headings in the first line. Numbers have a decimal point and no other marks.

    Texts come from strangers: one that would begin a formula gets an apostrophe before it.
    """
    lines = io.StringIO(newline="")
    writer = csv.writer(lines)
    writer.writerow([harmless(heading) for heading in table.headings])
    writer.writerows([_written(cell) for cell in row] for row in table.rows)
    return lines.getvalue().encode("utf-8-sig")


def harmless(text: str) -> str:
    """The text as one that no spreadsheet takes for a formula."""
    return "'" + text if text.lstrip(" ").startswith(FORMULA_STARTS) else text


def _written(cell: Cell) -> str:
    if cell is None:
        return ""
    if isinstance(cell, str):
        return harmless(cell)
    if isinstance(cell, datetime):
        return cell.strftime("%Y-%m-%d %H:%M")
    return f"{cell:f}" if isinstance(cell, Decimal) else str(cell)

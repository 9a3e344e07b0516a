"""Tables as an XLSX workbook, a sheet each: numbers stay numbers, days stay days, texts are never formulas."""

import io
import re
from collections.abc import Sequence
from datetime import date, datetime
from decimal import Decimal
from typing import Any

import xlsxwriter

from bot.papers.table import Cell, Table

_OPTIONS = {
    "in_memory": True,
    "strings_to_formulas": False,
    "strings_to_urls": False,
    "strings_to_numbers": False,
    "default_date_format": "yyyy-mm-dd",
}
_NOT_IN_A_SHEETS_NAME = re.compile(r"[\[\]:*?/\\]")

#: The format's limits: letters of a sheet's name, letters of a cell.
LONGEST_NAME, LONGEST_CELL = 31, 32_767

#: Widths in letters of a usual font.
_NARROWEST, _WIDEST = 8, 60


def xlsx_of(tables: Sequence[Table], made_at: datetime) -> bytes:
    """The tables as sheets of one workbook, with a fixed first line and filters."""
    content = io.BytesIO()
    book = xlsxwriter.Workbook(content, _OPTIONS)
    book.set_properties({"created": made_at.replace(tzinfo=None)})
    head = book.add_format({"bold": True, "bottom": 1, "text_wrap": True, "valign": "top"})
    moment = book.add_format({"num_format": "yyyy-mm-dd hh:mm"})
    for number, table in enumerate(tables, 1):
        _fill(book.add_worksheet(_name(table.title, number)), table, head, moment)
    book.close()
    return content.getvalue()


def _fill(sheet: Any, table: Table, head: Any, moment: Any) -> None:
    for place, heading in enumerate(table.headings):
        sheet.write_string(0, place, heading, head)
    for line, row in enumerate(table.rows, 1):
        for place, cell in enumerate(row):
            _write(sheet, line, place, cell, moment)
    for place, width in enumerate(_widths(table)):
        sheet.set_column(place, place, width)
    sheet.freeze_panes(1, 0)
    sheet.autofilter(0, 0, len(table.rows), len(table.columns) - 1)
    sheet.set_landscape()
    sheet.fit_to_pages(1, 0)
    sheet.repeat_rows(0)


def _write(sheet: Any, line: int, place: int, cell: Cell, moment: Any) -> None:
    if isinstance(cell, str):
        sheet.write_string(line, place, cell[:LONGEST_CELL])
    elif isinstance(cell, datetime):
        sheet.write_datetime(line, place, cell.replace(tzinfo=None), moment)
    elif isinstance(cell, date):
        sheet.write_datetime(line, place, cell)
    elif isinstance(cell, int | Decimal):
        sheet.write_number(line, place, cell)


def _widths(table: Table) -> list[int]:
    columns = zip(*[[str(cell or "") for cell in row] for row in (table.headings, *table.rows)], strict=True)
    return [min(max(_NARROWEST, *map(len, column)), _WIDEST) for column in columns]


def _name(title: str, number: int) -> str:
    """A name that the format allows; sheets may not share one, so the second and later ones are numbered."""
    bare = _NOT_IN_A_SHEETS_NAME.sub(" ", title).strip("' ")
    return (bare if number == 1 else f"{number} {bare}")[:LONGEST_NAME].strip("' ")

"""A table as plain data: what every writer of files takes."""

from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

#: A moment is in the farm's own time; None is an empty cell.
Cell = str | int | Decimal | date | datetime | None


@dataclass(frozen=True)
class Column:
    """A column with its unit, which is empty where there is none."""

    title: str
    unit: str = ""

    @property
    def heading(self) -> str:
        """Title and unit in one: `Latex (L)`."""
        return f"{self.title} ({self.unit})" if self.unit else self.title


@dataclass(frozen=True)
class Table:
    """Rows under columns. Numbers are exact and in the unit of their column."""

    title: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[Cell, ...], ...]

    def __post_init__(self) -> None:
        if any(len(row) != len(self.columns) for row in self.rows):
            raise ValueError(f"a row of {self.title!r} has not one cell for each column")

    @property
    def headings(self) -> tuple[str, ...]:
        """What stands above the columns."""
        return tuple(column.heading for column in self.columns)

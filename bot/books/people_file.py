"""People from a CSV file. Every fault names its line and what to write there."""

import csv
from pathlib import Path

from bot.books.errors import BadFile
from bot.books.plans import PersonPlan, check_one_name_a_number, person_plan

NEEDED = ("number", "name", "role", "farm")
COLUMNS = (*NEEDED, "blocks", "language", "region")


def read_people_file(path: Path) -> list[PersonPlan]:
    """People from a CSV file with the columns number, name, role, farm, blocks, language (and region, such as GB, for
    numbers without +). Raises BadFile."""
    try:
        with path.open(encoding="utf-8-sig", newline="") as lines:
            plans = _plans(path.name, csv.DictReader(lines, skipinitialspace=True, strict=True))
    except (OSError, UnicodeDecodeError, csv.Error) as error:
        raise BadFile(f"{path.name} cannot be read: {error}") from error
    check_one_name_a_number(plans)
    return plans


def _plans(file: str, rows: "csv.DictReader[str]") -> list[PersonPlan]:
    named = list(rows.fieldnames or ())
    for column in (*(name for name in NEEDED if name not in named), *(name for name in named if name not in COLUMNS)):
        what = "is missing" if column in NEEDED else "is not known"
        raise BadFile(f"{file}, line 1: the column {column!r} {what}; write {','.join(COLUMNS[:-1])}.")
    return [_plan(f"{file}, line {rows.line_num}", row) for row in rows]


def _plan(where: str, row: dict[str, str]) -> PersonPlan:
    if None in row or None in row.values():
        raise BadFile(f"{where}: there are more or fewer commas than in line 1; several blocks are written 3;4.")
    region = row.get("region", "").strip().upper() or None
    return person_plan(where, row, language="en", region=region, farm=row["farm"].strip())

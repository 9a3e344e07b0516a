"""All tables of the day-book handled alike: what is copied, counted and compared whole."""

import hashlib
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from graphlib import TopologicalSorter
from itertools import groupby
from typing import Any

from bot.books.engines import Session, Table

#: What can be worked out again from other tables: neither copied nor compared, and emptied where those are replaced.
DERIVED = frozenset({"learned"})

#: What belongs to one database and is not copied to another.
HOUSEKEEPING = frozenset({"schema_changes", "schema_lock", "heartbeats", "last_done"}) | DERIVED

_COLUMNS = """
select m.name as table_name, c.name, c.type, c.pk
from sqlite_master m join pragma_table_info(m.name) c
where m.type = 'table' and m.name not like 'sqlite%'
order by m.name, c.cid
"""

_REFERENCES = """
select m.name as table_name, f."table" as refers_to
from sqlite_master m join pragma_foreign_key_list(m.name) f
where m.type = 'table' and f."table" <> m.name
"""


@dataclass(frozen=True)
class Measure:
    """What a table holds: its rows, the sum of each column of whole numbers, and the characters of each column of texts."""

    rows: int
    sums: Mapping[str, int]
    characters: Mapping[str, int]


def tables(session: Session) -> tuple[Table, ...]:
    """The tables of a SQLite file of any version of the schema, each after those that it refers to."""
    columns = groupby(session.execute(_COLUMNS), key=lambda row: str(row["table_name"]))
    found = {name: _table(name, list(rows)) for name, rows in columns if name not in HOUSEKEEPING}
    order: TopologicalSorter[str] = TopologicalSorter({name: () for name in found})
    for row in (each for each in session.execute(_REFERENCES) if each["table_name"] in found):
        order.add(row["table_name"], row["refers_to"])
    return tuple(found[name] for name in order.static_order())


def _table(name: str, columns: list[dict[str, Any]]) -> Table:
    return Table(
        name,
        columns=tuple(row["name"] for row in columns),
        whole=frozenset(row["name"] for row in columns if row["type"].lower() == "integer"),
        key=tuple(row["name"] for row in sorted(columns, key=lambda row: row["pk"]) if row["pk"]),
    )


def measured(session: Session, found: Iterable[Table]) -> dict[str, Measure]:
    """What each table holds at the moment of the transaction, in any engine."""
    return {table.name: _measure(session, table) for table in found}


def _measure(session: Session, table: Table) -> Measure:
    parts = [
        f"coalesce(sum({column if column in table.whole else f'length({column})'}), 0) as {column}"
        for column in table.columns
    ]
    row = session.execute(f"select count(*) as all_rows, {', '.join(parts)} from {table.name}")[0]
    counted = {column: int(row[column]) for column in table.columns}
    return Measure(
        int(row["all_rows"]),
        sums={column: n for column, n in counted.items() if column in table.whole},
        characters={column: n for column, n in counted.items() if column not in table.whole},
    )


class Fingerprint:
    """A sum over rows that any changed, missing or doubled row changes, whatever their order."""

    def __init__(self) -> None:
        self.value = 0

    def over(self, rows: Iterable[tuple[Any, ...]]) -> Iterator[tuple[Any, ...]]:
        """The rows, each added as it passes."""
        for row in rows:
            digest = hashlib.blake2b(repr(tuple(row)).encode(), digest_size=8).digest()
            self.value = (self.value + int.from_bytes(digest)) % 2**64
            yield row


def fingerprint(session: Session, table: Table) -> int:
    """The fingerprint of all rows of a table."""
    mark = Fingerprint()
    for _ in mark.over(session.rows(table)):
        pass
    return mark.value

"""What the commands share: settings, books, the clock, the farm that is named, and how a fault is said."""

import json
import os
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from datetime import UTC, date, datetime
from typing import Any

import click

from bot.books import Books, BooksError, Transaction, cooperatives, farms, open_books
from bot.books.convert import folded
from bot.books.cooperatives import Cooperative
from bot.books.engines import shown
from bot.books.model import Farm
from bot.carriers import carrier
from bot.jobs import Send
from bot.settings import BadSettings, Settings, read_settings


class BadInput(click.ClickException):
    """Something that was given cannot be used; the message is one line."""

    exit_code = 2


def now() -> datetime:
    """The present moment. Commands pass it along, so that nothing below them has a clock."""
    return datetime.now(UTC)


def settings() -> Settings:
    """The settings of this process; faults end the command with a line each."""
    try:
        return read_settings(os.environ)
    except BadSettings as fault:
        raise BadInput(str(fault)) from fault


@contextmanager
def opened(chosen: Settings | None = None) -> Iterator[Books]:
    """The books, closed in the end. What goes wrong with them ends the command with one line."""
    where = (chosen or settings()).books
    try:
        books = open_books(where)
    except BooksError as fault:
        raise click.ClickException(f"The books {shown(where)} cannot be opened: {fault}") from fault
    try:
        yield books
    except BooksError as fault:
        raise click.ClickException(f"The books {shown(where)} cannot be used: {fault}") from fault
    finally:
        books.close()


def sender(chosen: Settings, books: Books) -> Send | None:
    """How waiting texts are sent by the carrier that is set up; None where they are fetched or cannot be sent."""
    return carrier.sender(chosen, books, now)


def cooperative_called(tx: Transaction, name: str | None) -> Cooperative:
    """The cooperative of a name, or the only one where none is said. Raises BadInput."""
    known = cooperatives.everyone(tx)
    found = known if name is None else [each for each in known if folded(each.name) == folded(name)]
    if len(found) != 1:
        there = ", ".join(each.name for each in known) or "none yet; add one with `tapping-log cooperative add`"
        raise BadInput(f"Say which cooperative with --cooperative. There are: {there}")
    return found[0]


def farm_called(tx: Transaction, name: str) -> Farm:
    """The farm of that name. Raises BadInput that tells which there are."""
    found = farms.farm_named(tx, name)
    if found is None:
        there = ", ".join(farm.name for farm in farms.all_farms(tx)) or "none yet; add one with `tapping-log farm add`"
        raise BadInput(f"There is no farm {name!r}. There are: {there}")
    return found


class Day(click.ParamType[date]):
    """A day as 2026-03-15."""

    name = "day"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> date:
        """Read the day; a fault says the form."""
        if isinstance(value, date):
            return value
        try:
            return date.fromisoformat(value)
        except ValueError:
            self.fail(f"{value!r} is not a day; write it like 2026-03-15", param, ctx)


def as_json(value: Any) -> str:
    """JSON on one line, in the letters of the text itself."""
    return json.dumps(value, ensure_ascii=False)


def say_list(items: Iterable[Mapping[str, Any]]) -> None:
    """A JSON list, an item a line."""
    lines = ",\n".join(as_json(item) for item in items)
    click.echo(f"[{lines}]")


def say_table(heads: tuple[str, ...], rows: list[tuple[str, ...]]) -> None:
    """Columns as wide as they need to be."""
    widths = [max(map(len, column)) for column in zip(heads, *rows, strict=True)]
    for row in (heads, *rows):
        click.echo("  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip())


def say_each(found: Sequence[Mapping[str, Any]], plain_json: bool, columns: Mapping[str, Callable[[Any], str]]) -> None:
    """The same things as JSON, or as a table: each column's head with what stands in it of a thing."""
    if plain_json:
        say_list(found)
    else:
        say_table(tuple(columns), [tuple(cell(each) for cell in columns.values()) for each in found])


#: Shared options.
FARM = click.option(
    "--farm", "farm_name", required=True, metavar="NAME", help="The farm's name, for example 'Rim Farm'."
)
JSON = click.option("--json", "plain_json", is_flag=True, help="Print JSON.")

Command = Callable[..., Any]

"""`farm` and `people`: which farms there are, who is enrolled, and adding both from files."""

from collections.abc import Mapping
from functools import partial
from pathlib import Path
from typing import Any

import click

from bot.books import Transaction, farms, personal, pins
from bot.books import people as enrolled
from bot.books.errors import BadFile
from bot.books.load import load_farm, load_people, read_farm_file, read_people_file
from bot.books.model import Person
from bot.commands.common import JSON, BadInput, as_json, now, opened, say_each
from bot.talk import blocking

FILE = click.Path(exists=True, dir_okay=False, path_type=Path)


@click.group()
def farm() -> None:
    """Add farms, and see which there are.

    \b
    Example:
      tapping-log farm add rim-farm.toml
    """


@farm.command()
@click.argument("file", type=FILE)
def add(file: Path) -> None:
    """Add the farm of a TOML file: name, timezone, currency, language, blocks, containers, people, points.

    \b
    Example:
      tapping-log farm add rim-farm.toml
    """
    try:
        plan = read_farm_file(file)
        with opened() as books:
            added = books.run_transaction(lambda tx: load_farm(tx, plan, now()))
    except BadFile as fault:
        raise BadInput(f"{file}: {fault}") from fault
    click.echo(f"{added.name} is in the books.")


@farm.command(name="list")
@JSON
def list_farms(plain_json: bool) -> None:
    """The farms with their blocks.

    \b
    Example:
      tapping-log farm list
    """
    with opened() as books, books.transaction() as tx:
        found: list[dict[str, Any]] = [
            {
                "name": each.name,
                "timezone": each.timezone,
                "currency": each.currency,
                "language": each.language,
                "blocks": list(farms.blocks(tx, each.id)),
            }
            for each in farms.all_farms(tx)
        ]
    say_each(
        found,
        plain_json,
        {
            "Farm": lambda each: each["name"],
            "Zone": lambda each: each["timezone"],
            "Currency": lambda each: each["currency"],
            "Language": lambda each: each["language"],
            "Blocks": lambda each: " ".join(each["blocks"]),
        },
    )


@click.group(invoke_without_command=True)
@JSON
@click.pass_context
def people(context: click.Context, plain_json: bool) -> None:
    """Who is enrolled: number, name, roles, farm, blocks, language; one line a person and farm.

    \b
    Example:
      tapping-log people --json
    """
    if context.invoked_subcommand is not None:
        return
    with opened() as books, books.transaction() as tx:
        found = _enrolled(tx)
    shown = ("number", "name", "roles", "farm", "blocks", "language", "texts")
    say_each(found, plain_json, {name.capitalize(): partial(_cell, name) for name in shown})


def _enrolled(tx: Transaction) -> list[dict[str, object]]:
    """A row for each person at each farm, with all his roles and blocks there."""
    rows: dict[tuple[str, str], dict[str, object]] = {}
    names = {each.id: each.name for each in farms.all_farms(tx)}
    for each in enrolled.everybody(tx):
        key = each.person.id, each.farm_id
        before = rows.get(key, {"roles": [], "blocks": []})
        rows[key] = {
            "number": each.person.number,
            "name": each.person.name,
            "roles": _joined(before["roles"], [each.role.value]),
            "farm": names[each.farm_id],
            "blocks": _joined(before["blocks"], each.blocks),
            "language": each.person.language,
            "texts": _texts(each.person),
        }
    return list(rows.values())


def _texts(person: Person) -> str:
    if person.blocked_at is not None:
        return "blocked"
    return "wanted" if person.opted_out_at is None else "stopped"


def _joined(before: object, more: list[str] | tuple[str, ...]) -> list[str]:
    known = list(before) if isinstance(before, list) else []
    return list(dict.fromkeys([*known, *more]))


def _cell(name: str, each: Mapping[str, object]) -> str:
    value = each[name]
    return " ".join(value) if isinstance(value, list) else str(value)


@people.command(name="import")
@click.argument("file", type=FILE)
def import_people(file: Path) -> None:
    """Enrol the people of a CSV file with the columns number, name, role, farm, blocks, language.

    Nobody is enrolled when a line is wrong. A number that is known keeps its other roles.

    \b
    Example:
      tapping-log people import people.csv
    """
    try:
        plans = read_people_file(file)
        with opened() as books:
            books.run_transaction(lambda tx: load_people(tx, plans, now()))
    except BadFile as fault:
        raise BadInput(f"{file}: {fault}") from fault
    click.echo(f"{len(plans)} lines are in the books.")


NUMBER = click.argument("number")


@people.command()
@NUMBER
def block(number: str) -> None:
    """Block a lost or stolen phone at once: no texts in or out, and its links open nothing.

    \b
    Example:
      tapping-log people block +447700900102
    """
    with opened() as books:
        person = books.run_transaction(lambda tx: _block(tx, number))
    click.echo(f"{person.name} is blocked.")


def _block(tx: Transaction, number: str) -> Person:
    person = _called(tx, number)
    blocking.block(tx, person, now())
    return person


@people.command()
@NUMBER
def unblock(number: str) -> None:
    """Let a blocked phone do again what it could. Links that were made before stay void.

    \b
    Example:
      tapping-log people unblock +447700900102
    """
    with opened() as books:
        person = books.run_transaction(lambda tx: _called(tx, number))
        books.run_transaction(lambda tx: enrolled.unblock(tx, person.id))
    click.echo(f"{person.name} is not blocked.")


@people.command(name="reset-pin")
@NUMBER
def reset_pin(number: str) -> None:
    """Take away a PIN that was forgotten, or blocked after five wrong ones. Call the owner first: is it he who asks?

    \b
    Example:
      tapping-log people reset-pin +447700900101
    """
    with opened() as books:
        person = books.run_transaction(lambda tx: _called(tx, number))
        books.run_transaction(lambda tx: pins.reset(tx, person.id))
    click.echo(f"{person.name} has no PIN now and can choose one by text.")


@people.command(name="export")
@NUMBER
def export_person(number: str) -> None:
    """All that the books hold about a person, as JSON: roles, entries, texts both ways, pay.

    \b
    Example:
      tapping-log people export +447700900102 > tobin.json
    """
    with opened() as books, books.transaction() as tx:
        found = personal.everything_about(tx, _called(tx, number))
    click.echo(as_json(found))


@people.command()
@NUMBER
@click.option("--yes", is_flag=True, help="Do not ask first.")
def forget(number: str, yes: bool) -> None:
    """Take a person's data out for good: name, number and the words of his texts; entries stay under a neutral name.

    Backups and papers that were made before still hold them.

    \b
    Example:
      tapping-log people forget +447700900102
    """
    with opened() as books:
        person = books.run_transaction(lambda tx: _called(tx, number))
        if not yes:
            click.confirm(f"Forget {person.name} for good?", abort=True)
        left = books.run_transaction(lambda tx: personal.forget(tx, person, now()))
    click.echo(f"Forgotten. The entries stand under {left.name}.")


def _called(tx: Transaction, number: str) -> Person:
    person = enrolled.person_by_number(tx, number)
    if person is None:
        raise BadInput(
            f"Nobody has the number {number}; write it as `tapping-log people` shows it, such as +447700900102."
        )
    return person

"""`read` and `dose`: the reader and the arithmetic on their own. They need no books; `read` uses an operator's local words."""

import json
from collections.abc import Iterator
from typing import Any, TextIO

import click

import parsers
from bot.app import house_of
from bot.commands.common import JSON, BadInput, as_json, settings
from bot.rubber.coagulation import Dose, DoseRefused
from bot.rubber.coagulation import dose as work_out
from parsers.reading import Setting


@click.command()
@click.option("--why", is_flag=True, help="Add what spoke for and against each reading.")
@click.argument("file", type=click.File("r", encoding="utf-8"), default="-")
def read(file: TextIO, why: bool) -> None:
    """Read texts as the bot does, without entering anything.

    FILE (standard input if left out) holds one JSON object a line: `text`, `sent_at`, `farm`, `sender`, `id`. For each,
    one line comes out: `id` and `reading` (intent, records, what has to be asked).

    \b
    Example:
      echo '{"id": "1", "text": "block 3 18 litres rain", "sent_at": "2026-03-12T10:30",
        "farm": {"blocks": {"3": {"usual_litres": 18}}},
        "sender": {"role": "tapper", "blocks": ["3"], "lang": "en"}}' | tr -d '\\n' | tapping-log read
    """
    words = house_of(settings()).words
    for number, message in _messages(file):
        try:
            text, setting = message["text"], Setting.from_json(message)
        except KeyError as fault:
            raise BadInput(f"Line {number}: {fault} is missing") from fault
        except (ValueError, TypeError, AttributeError) as fault:
            raise BadInput(f"Line {number}: not a message ({fault})") from fault
        reading = parsers.read(text, setting, words)
        out = {"id": message.get("id"), "reading": reading.to_json()}
        click.echo(as_json(out | {"why": parsers.explain(text, setting, words)} if why else out))


def _messages(file: TextIO) -> Iterator[tuple[int, Any]]:
    """The objects of the lines with their line numbers; blank lines are skipped."""
    try:
        for number, line in enumerate(file, start=1):
            if line.strip():
                yield number, _object(number, line)
    except UnicodeDecodeError as fault:
        raise BadInput(f"The file is not UTF-8 text ({fault.reason})") from fault


def _object(number: int, line: str) -> Any:
    try:
        found = json.loads(line)
    except ValueError as fault:
        raise BadInput(f"Line {number}: not JSON ({fault})") from fault
    if not isinstance(found, dict) or not isinstance(found.get("text"), str):
        raise BadInput(f"Line {number}: must be an object with a `text`")
    return found


@click.command()
@click.option("--litres", type=float, required=True, help="Litres of field latex.")
@click.option("--drc", type=float, default=33.0, show_default=True, help="Its dry rubber content, percent.")
@click.option("--acid", default="formic", metavar="formic|acetic", show_default=True, help="Which acid.")
@click.option("--strength", type=float, default=85.0, show_default=True, help="Strength of the acid bottle, percent.")
@click.option(
    "--ready",
    type=click.Choice(["same-day", "next-day"]),
    default="next-day",
    show_default=True,
    help="When the sheet is to be rolled.",
)
@click.option("--target-drc", type=float, default=15.0, show_default=True, help="DRC after water is added, percent.")
@JSON
def dose(
    litres: float, drc: float, acid: str, strength: float, ready: str, target_drc: float, plain_json: bool
) -> None:
    """Water and acid for so much latex, and the dry rubber and sheets to expect. Nothing is entered.

    \b
    Example:
      tapping-log dose --litres 18 --drc 33 --acid formic --strength 85 --json
    """
    try:
        found = work_out(litres, drc, acid=acid, strength_percent=strength, ready=ready, target_drc_percent=target_drc)
    except DoseRefused as refusal:
        raise BadInput(str(refusal)) from refusal
    if plain_json:
        click.echo(as_json(_as_json(found)))
    else:
        _say(found)


def _as_json(found: Dose) -> dict[str, Any]:
    keys = ("drc_percent", "latex_kg", "dry_kg", "dry_kg_low", "dry_kg_high", "water_litres", "acid_ml")
    values: dict[str, Any] = {key: round(getattr(found, key), 6) for key in keys}
    values["acid_solution_litres"] = round(found.acid_solution_litres, 6)
    return values | {"sheets": found.sheets, "sources": list(found.sources)}


def _say(found: Dose) -> None:
    click.echo(f"Latex    {found.litres:g} L of {found.drc_percent:g} % DRC, {found.latex_kg:.1f} kg")
    click.echo(f"Water    {found.water_first_litres:.1f} L into the latex")
    click.echo(
        f"Acid     {found.acid_ml:.0f} ml of {found.acid} acid {found.strength_percent:g} %,"
        f" thinned in {found.thinning_water_litres:.1f} L of water"
    )
    click.echo(
        f"Expect   {found.dry_kg:.1f} kg dry ({found.dry_kg_low:.1f}-{found.dry_kg_high:.1f}), {found.sheets} sheets"
    )
    click.echo(
        "Caution  Acid into water, never water into acid. Gloves, goggles, fresh air; follow the bottle's label."
    )
    click.echo(f"Sources  {'; '.join(found.sources)}")

"""`why`: how the figures of an entry were worked out."""

from dataclasses import asdict
from typing import Any

import click

from bot.books import Transaction, farms
from bot.books import entries as lines
from bot.books.model import Entry, Farm
from bot.commands.common import JSON, BadInput, as_json, opened
from bot.reckon import batches
from bot.rubber import explain
from bot.rubber.coagulation import Dose
from bot.speech import why as explaining
from bot.speech.language import tongue


@click.command()
@click.argument("entry")
@JSON
def why(entry: str, plain_json: bool) -> None:
    """Why the figures of an entry of latex are what they are: inputs, rule, and source with its status.

    ENTRY is the id that `entries --json` prints.

    \b
    Example:
      tapping-log why 01990b4e-7a31-7c55-9a10-2f4be0c3a7d1
    """
    with opened() as books, books.transaction() as tx:
        found = lines.entry(tx, entry)
        if found is None:
            raise BadInput(f"There is no entry {entry}. `tapping-log entries --farm NAME --json` prints their ids")
        if found.computed is None:
            raise BadInput("Nothing was worked out for this entry: it is what was texted")
        farm = farms.farm(tx, found.farm_id)
        dose = _dose(tx, found, farm)
    if plain_json:
        click.echo(as_json(_as_json(found, dose)))
    else:
        _say(farm, found, dose)


def _dose(tx: Transaction, entry: Entry, farm: Farm) -> Dose | None:
    """The dose that was said for the text that brought the entry."""
    together = [
        each for each in lines.of_message(tx, entry.message_id) if each.computed is not None and not each.removed
    ]
    return batches.dose_kept(together, farm.settings)


def _as_json(entry: Entry, dose: Dose | None) -> dict[str, Any]:
    figures = {} if dose is None else {
        "dry_weight": asdict(explain.dry_weight(dose)),
        "water": asdict(explain.water(dose)),
        "acid": asdict(explain.acid(dose)),
    }  # fmt: skip
    return {
        "id": entry.id,
        "record": entry.record.to_json(),
        "computed": dict(entry.computed or {}),
        "figures": figures,
    }


def _say(farm: Farm, entry: Entry, dose: Dose | None) -> None:
    speech = tongue(farm.language)
    click.echo(explaining.dry_weight(speech, entry))
    if dose is not None:
        click.echo(explaining.expected_range(speech, dose))
        click.echo(explaining.water(speech, dose))
        click.echo(explaining.acid(speech, dose))
        click.echo(
            explaining.sheets(speech, dose, (entry.computed or {}).get("sheet_dry_g", farm.settings.sheet_dry_g))
        )

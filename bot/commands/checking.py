"""`check`: looks over everything that the day-book needs, and says how to mend what is wrong."""

import os
from collections.abc import Mapping
from datetime import datetime

import click

from bot.commands.checks import (
    Finding,
    of_backups,
    of_carrier,
    of_certificate,
    of_disk,
    of_languages,
    of_settings,
)
from bot.commands.checks_books import of_books
from bot.commands.common import JSON, as_json, now


@click.command()
@JSON
def check(plain_json: bool) -> None:
    """Look over settings, languages, books, clock, texts, carrier, certificate, disk and backups.

    Each is a line; what is wrong is followed by how to mend it. Exit status 1 means that something is wrong. The server may
    go on; nothing is changed but the count that shows that the books can be written.

    \b
    Example:
      tapping-log check
    """
    found = look_over(os.environ, now())
    if plain_json:
        click.echo(as_json([_plain(each) for each in found]))
    else:
        for each in found:
            click.echo(f"{'WRONG' if each.wrong else 'ok':5}  {each.what:11}  {each.says}")
            if each.wrong:
                click.echo(f"{'':20}{each.mend}")
    if any(each.wrong for each in found):
        raise click.exceptions.Exit(1)


def look_over(environment: Mapping[str, str], at: datetime) -> list[Finding]:
    """Everything that is found; with broken settings only those."""
    chosen, found = of_settings(environment)
    if chosen is None:
        return found
    return [
        *found,
        *of_languages(chosen),
        *of_books(chosen, at),
        *of_carrier(chosen),
        *of_certificate(chosen, at),
        *of_disk(chosen),
        of_backups(chosen, at),
    ]


def _plain(finding: Finding) -> dict[str, object]:
    return {"what": finding.what, "wrong": finding.wrong, "says": finding.says, "mend": finding.mend or None}

"""`due`: do what is due now. A timer runs it each minute."""

from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from time import monotonic

import click

from bot.app import house_of
from bot.books import BooksError, Transaction
from bot.carriers import carrier
from bot.commands.common import now, opened, sender, settings
from bot.jobs import Due, run_due, sound_silent
from bot.settings import Settings
from bot.watching import needs
from bot.watching.direct import NotedBeside
from bot.watching.needs import existing
from bot.week.operator import Operators
from bot.week.reminders import COST_DAYS, Reminded

#: Seconds after which no other text is begun. The service is cut off after 300, which would leave a text in doubt.
LONGEST = 240


@click.command()
def due() -> None:
    """Write the summaries and reminders whose hour has come, and send the texts that wait.

    Without a carrier in the settings nothing is sent and the texts wait on. Running it twice does no harm. Exit status
    1 means that a person has to see to something; each thing is a line.

    \b
    Example:
      tapping-log due
    """
    chosen, begun = settings(), monotonic()
    beside = NotedBeside(existing(chosen.backup_folder))
    try:
        done = _done(chosen, lambda: monotonic() - begun < LONGEST)
    except click.ClickException as ended:
        if isinstance(ended.__cause__, BooksError):
            beside.tell(_operators(chosen), ended.__cause__, carrier.sender(chosen, None, now), now())
        raise
    beside.over()
    click.echo(
        f"Written {done.written}, sent {done.sent}, later {done.later}, given up {done.given_up}, unsure {done.unsure}."
    )
    if done.reminded != Reminded():
        click.echo(_reminders(done.reminded))
    for alarm in done.alarms:
        click.echo(alarm, err=True)
    if done.alarms:
        raise click.exceptions.Exit(1)


def _done(chosen: Settings, goes_on: Callable[[], bool]) -> Due:
    with opened(chosen) as books:
        books.run_transaction(lambda tx: _look_around(tx, chosen, books.engine.size(), now()))
        return run_due(
            books,
            now(),
            sender(chosen, books),
            house_of(chosen),
            chosen.parts_per_day,
            goes_on,
            _operators(chosen),
            carrier.asker(chosen, books, now),
        )


def _look_around(tx: Transaction, chosen: Settings, size: int, at: datetime) -> None:
    """Raise what no text brings to light: gateways that are silent, room, backups, the clock."""
    if chosen.gateway_url is None:
        sound_silent(tx, chosen.gateway_keys, at)
    local = isinstance(chosen.books, Path)
    places = [chosen.books.parent, chosen.backup_folder] if isinstance(chosen.books, Path) else [chosen.backup_folder]
    needs.sound_disk(tx, places, size if local else 0, at)
    if not chosen.demonstration:
        needs.sound_backup(tx, at)
    needs.sound_clock(tx, at, needs.running(chosen.boot))


def _operators(chosen: Settings) -> Operators:
    return Operators(chosen.operators, chosen.operator_language)


def _reminders(done: Reminded) -> str:
    return (
        f"Reminders: {done.tappers} to tappers, {done.owners} to owners, {done.parts} parts now, "
        f"{done.parts_of_late} parts sent in {COST_DAYS} days."
    )

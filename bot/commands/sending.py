"""`due`: do what is due now. A timer runs it each minute."""

import click

from bot.app import house_of
from bot.commands.common import now, opened, sender, settings
from bot.jobs import run_due


@click.command()
def due() -> None:
    """Write the summaries whose hour has come, and send the texts that wait.

    Without a carrier in the settings nothing is sent and the texts wait on. Running it twice does no harm. Exit status
    1 means that a person has to see to something; each thing is a line.

    \b
    Example:
      tapping-log due
    """
    chosen = settings()
    with opened(chosen) as books:
        done = run_due(books, now(), sender(chosen), house_of(chosen), chosen.parts_per_day)
    click.echo(
        f"Written {done.written}, sent {done.sent}, later {done.later}, given up {done.given_up}, unsure {done.unsure}."
    )
    for alarm in done.alarms:
        click.echo(alarm, err=True)
    if done.alarms:
        raise click.exceptions.Exit(1)

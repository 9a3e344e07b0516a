"""`due`: do what is due now. A timer runs it each minute."""

from time import monotonic

import click

from bot.app import house_of
from bot.commands.common import now, opened, sender, settings
from bot.jobs import run_due, sound_silent
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
    with opened(chosen) as books:
        if chosen.gateway_url is None:
            books.run_transaction(lambda tx: sound_silent(tx, chosen.gateway_keys, now()))
        done = run_due(
            books,
            now(),
            sender(chosen, books),
            house_of(chosen),
            chosen.parts_per_day,
            lambda: monotonic() - begun < LONGEST,
        )
    click.echo(
        f"Written {done.written}, sent {done.sent}, later {done.later}, given up {done.given_up}, unsure {done.unsure}."
    )
    if done.reminded != Reminded():
        click.echo(_reminders(done.reminded))
    for alarm in done.alarms:
        click.echo(alarm, err=True)
    if done.alarms:
        raise click.exceptions.Exit(1)


def _reminders(done: Reminded) -> str:
    return (
        f"Reminders: {done.tappers} to tappers, {done.owners} to owners, {done.parts} parts now, "
        f"{done.parts_of_late} parts sent in {COST_DAYS} days."
    )

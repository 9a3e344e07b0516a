"""The operator's shell: `tapping-log` with its commands."""

import click

from bot.commands.enrolling import farm, people
from bot.commands.harvest import panel, tapping
from bot.commands.looking import entries, messages_command, week
from bot.commands.paying import pay
from bot.commands.practising import demo, talk
from bot.commands.reading import dose, read
from bot.commands.replaying import replay
from bot.commands.sending import due
from bot.commands.serving import serve

COMMANDS = (
    serve,
    talk,
    demo,
    read,
    replay,
    due,
    week,
    entries,
    messages_command,
    farm,
    people,
    dose,
    tapping,
    panel,
    pay,
)


@click.group()
@click.version_option(package_name="tapping-log")
def main() -> None:
    """A day-book by text message for people who live from rubber trees.

    \b
    Example:
      tapping-log talk --as +447700900102 "block 1 18 litres rain"
    """


for command in COMMANDS:
    main.add_command(command)

"""The operator's shell: `tapping-log` with its commands."""

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import click
from click.exceptions import NoArgsIsHelpError

from bot.commands.checking import check
from bot.commands.collecting import cooperative, place, round_group
from bot.commands.enrolling import farm, people
from bot.commands.explaining import why
from bot.commands.exporting import export
from bot.commands.gapping import gaps
from bot.commands.harvest import panel, tapping
from bot.commands.keeping import backup, copy, restore_command
from bot.commands.looking import entries, messages_command, week
from bot.commands.lotting import lot
from bot.commands.paying import pay
from bot.commands.plotting import plot
from bot.commands.practising import demo, talk
from bot.commands.processing import drc, drying
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
    export,
    messages_command,
    farm,
    people,
    plot,
    lot,
    gaps,
    cooperative,
    place,
    round_group,
    dose,
    drc,
    drying,
    why,
    tapping,
    panel,
    pay,
    check,
    backup,
    restore_command,
    copy,
)


class Commands(click.Group):
    """A group whose faults are one line: no usage before it."""

    def make_context(self, *args: Any, **extra: Any) -> click.Context:
        """As in click, for the options of the group itself."""
        with _one_line():
            return super().make_context(*args, **extra)

    def invoke(self, ctx: click.Context) -> Any:
        """As in click, for the command that is named."""
        with _one_line():
            return super().invoke(ctx)


@contextmanager
def _one_line() -> Iterator[None]:
    try:
        yield
    except NoArgsIsHelpError:
        raise
    except click.UsageError as fault:
        fault.ctx = None  # with a context, click prints two lines of usage first
        raise


@click.group(cls=Commands)
@click.version_option(package_name="tapping-log")
def main() -> None:
    """A day-book by text message for people who live from rubber trees.

    \b
    Example:
      tapping-log talk --as +447700900102 "block 1 18 litres rain"
    """


for command in COMMANDS:
    main.add_command(command)

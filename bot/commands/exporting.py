"""`export`: papers to hand on."""

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date
from pathlib import Path

import click

from bot.commands.common import FARM, BadInput, Day, farm_called, now, opened, settings
from bot.papers import shelf
from bot.papers.refusal import PaperRefused
from bot.papers.shelf import MEDIA_TYPES, PAGE_SIZES, Paper, Wish
from bot.speech.language import LANGUAGES

STDOUT = "-"


@click.command()
@FARM
@click.option("--what", type=click.Choice([each.value for each in Paper]), required=True, help="The paper.")
@click.option("--as", "form", type=click.Choice(list(MEDIA_TYPES)), help="The form; else the paper's usual one.")
@click.option("--from", "first", type=Day(), help="The first day; else the paper's usual one.")
@click.option("--to", "last", type=Day(), help="The last day; else the paper's usual one.")
@click.option(
    "--paper", "size", type=click.Choice(PAGE_SIZES), default="a4", show_default=True, help="Size of a month."
)
@click.option(
    "--language",
    "languages",
    type=click.Choice(LANGUAGES),
    multiple=True,
    help="Language of the paper, else the farm's; cards: one page for each given, else for all.",
)
@click.option("--output", type=click.Path(dir_okay=False, allow_dash=True), help="The file to write; - prints it.")
def export(
    farm_name: str,
    what: str,
    form: str | None,
    first: date | None,
    last: date | None,
    size: str,
    languages: tuple[str, ...],
    output: str | None,
) -> None:
    """Write a paper of a farm to a file: tables, a month to sign, tappers' cards, the whole books, a calendar.

    day-book, crop, collections, pay, payouts, year: xlsx or csv; month: pdf, xlsx, csv; card: pdf; books: sqlite; calendar: ics.
    A month or a year named by any of its days is taken whole.

    \b
    Example:
      tapping-log export --farm "Ironwood Bend" --what month --from 2026-03-01 --paper a5 --output march.pdf
    """
    chosen = settings()
    with opened(chosen) as books, refusals_said(), books.transaction() as tx:
        farm = farm_called(tx, farm_name)
        wish = Wish(
            paper=Paper(what),
            form=form,
            first=first,
            last=last,
            language=_one_language(Paper(what), languages) or farm.language,
            languages=languages or LANGUAGES,
            size=size,
            number=chosen.twilio_from,
        )
        write = shelf.gather(tx, farm, wish, now())
    with refusals_said():
        made = write()
    _keep(output or made.name, made.content)


@contextmanager
def refusals_said() -> Iterator[None]:
    """Why a paper cannot be made ends the command with one line."""
    try:
        yield
    except PaperRefused as refusal:
        raise BadInput(str(refusal)) from refusal


def _one_language(paper: Paper, languages: tuple[str, ...]) -> str | None:
    if len(languages) > 1 and paper is not Paper.CARD:
        raise BadInput("Only cards can be had in several languages at once; give --language once.")
    return languages[0] if languages else None


def _keep(output: str, content: bytes) -> None:
    if output == STDOUT:
        sys.stdout.buffer.write(content)
        return
    try:
        Path(output).write_bytes(content)
    except OSError as fault:
        raise BadInput(f"{output} cannot be written: {fault.strerror}") from fault
    click.echo(f"{output} is written.")

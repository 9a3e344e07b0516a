"""`talk` and `demo`: a practice phone in the terminal, and the invented cooperative to try it on."""

import sys
from collections.abc import Iterable

import click

from bot.app import house_of
from bot.books import Books, people
from bot.carriers.practice import deliver, text_as
from bot.commands.common import BadInput, now, opened, settings
from bot.demonstration import DEMONSTRATION_TEXTS, fill
from bot.demonstration.fill import BooksNotEmpty
from bot.jobs import run_due
from bot.talk.exchange import Answer


@click.command()
@click.option("--as", "number", required=True, metavar="NUMBER", help="The number that the texts come from.")
@click.argument("texts", nargs=-1)
def talk(number: str, texts: tuple[str, ...]) -> None:
    """Text the bot as the owner of NUMBER. What is said is entered in the books in use.

    Each TEXT is sent; without any, lines are read from the terminal until it ends (Ctrl-D) or Ctrl-C.

    \b
    Example:
      tapping-log talk --as +447700900102 "block 1 18 litres rain"
    """
    lines: Iterable[str] = texts or sys.stdin
    with opened() as books:
        for text in lines:
            if text.strip():
                _send(books, number, text.strip())


@click.command()
@click.option("--texts", is_flag=True, help="Then send three texts that show the main job, and print the talk.")
def demo(texts: bool) -> None:
    """Fill empty books with an invented cooperative: three farms and sixty days of texts.

    \b
    Example:
      TAPPING_LOG_BOOKS=demo.sqlite tapping-log demo --texts
    """
    with opened() as books:
        try:
            played = fill(books, now())
            run_due(books, now(), deliver, house_of(settings()))
        except BooksNotEmpty as fault:
            raise BadInput(str(fault)) from fault
        click.echo(f"The demonstration is in the books: {played} texts.")
        if texts:
            for number, text in DEMONSTRATION_TEXTS:
                _send(books, number, text)


def _send(books: Books, number: str, text: str) -> None:
    with books.transaction() as tx:
        person = people.person_by_number(tx, number)
    click.echo(f"{person.name if person else number}> {text}")
    say_answer(text_as(books, number, text, now(), house=house_of(settings())))


def say_answer(answer: Answer) -> None:
    """What was answered, how many parts it costs, and what others are told."""
    if answer.text is None:
        click.echo("  (no answer)")
    else:
        parts = "1 part" if answer.parts == 1 else f"{answer.parts} parts"
        click.echo(f"  {answer.text}  ({parts})")
    for other in answer.to_others:
        click.echo(f"  to {other.to}: {other.text}")

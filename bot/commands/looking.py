"""`entries`, `messages`, `week`, `bark`: what the books hold."""

from collections.abc import Iterator
from datetime import date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import click

from bot.books import Transaction, messages, outbox
from bot.books import entries as lines
from bot.books.model import Entry
from bot.commands.common import FARM, JSON, BadInput, Day, farm_called, now, opened, say_list, say_table
from bot.reckon.bark import BarkOfBlock, bark_of_blocks
from bot.speech.language import tongue
from bot.week.words import summary

WEEK = timedelta(days=7)


@click.command()
@FARM
@click.option("--from", "first", type=Day(), help="The first day.")
@click.option("--to", "last", type=Day(), help="The last day.")
@JSON
def entries(farm_name: str, first: date | None, last: date | None, plain_json: bool) -> None:
    """What stands in a farm's day-book: corrected and removed entries are left out.

    \b
    Example:
      tapping-log entries --farm "Ironwood Bend" --from 2026-03-01 --json
    """
    _check_order(first, last)
    with opened() as books, books.transaction() as tx:
        farm = farm_called(tx, farm_name)
        standing = [_entry(each) for each in lines.standing(tx, farm.id, first=first, last=last)]
    if plain_json:
        say_list(standing)
    else:
        _say_entries(standing)


def _entry(entry: Entry) -> dict[str, Any]:
    """The clerk's form of the record, and where it comes from."""
    return {
        **entry.record.to_json(),
        "id": entry.id,
        "by": entry.by.number,
        "via": entry.via,
        "message": entry.message_id,
        "entered_at": entry.entered_at.isoformat(),
        "replaces": entry.replaces,
    }


def _say_entries(standing: list[dict[str, Any]]) -> None:
    about = {"id", "by", "via", "message", "entered_at", "replaces", "what", "day", "block"}
    rows: list[tuple[str, ...]] = [
        (
            str(each.get("day", "")),
            each["what"],
            str(each.get("block") or ""),
            " ".join(f"{key}={value}" for key, value in each.items() if key not in about),
            each["by"],
        )
        for each in standing
    ]
    say_table(("Day", "What", "Block", "Figures", "By"), rows)


@click.command(name="messages")
@click.option("--from", "first", type=Day(), help="The first day (UTC); a week ago if left out.")
@click.option("--to", "last", type=Day(), help="The last day (UTC); today if left out.")
@click.option("--number", help="Only texts from or to this number.")
@JSON
def messages_command(first: date | None, last: date | None, number: str | None, plain_json: bool) -> None:
    """Texts that came, what was answered, and texts that went or wait to go, by time.

    \b
    Example:
      tapping-log messages --number +447700900102
    """
    today = now().date()
    first, last = first or (last or today) - WEEK, last or today
    _check_order(first, last)
    with opened() as books, books.transaction() as tx:
        found = sorted(_passed(tx, first, last), key=lambda each: str(each["at"]))
    found = [each for each in found if number in (None, each["number"])]
    if plain_json:
        say_list(found)
    else:
        heads = ("At", "Way", "Number", "State", "Parts", "Text")
        say_table(heads, [_row(each) for each in found])


def _passed(tx: Transaction, first: date, last: date) -> Iterator[dict[str, Any]]:
    since, until = _midnight(first), _midnight(last + timedelta(days=1))
    for came in messages.listing(tx, since, until):
        about = {"id": came.id, "number": came.number, "at": came.arrived.isoformat()}
        yield about | {"way": "in", "text": came.text, "state": came.kind, "parts": None}
        if came.reply is not None:
            yield about | {"way": "answer", "text": came.reply, "state": None, "parts": came.parts}
    for out in outbox.listing(tx, since, until):
        about = {"id": out.id, "number": out.to, "at": out.created_at.isoformat(), "way": "out", "text": out.text}
        yield about | {
            "state": out.state,
            "parts": out.parts,
            "error": out.error_code,
            "delivered": _at(out.delivered_at),
        }


def _at(moment: datetime | None) -> str | None:
    return None if moment is None else moment.isoformat()


def _row(passed: dict[str, Any]) -> tuple[str, ...]:
    shown = ("at", "way", "number", "state", "parts", "text")
    return tuple("" if passed[key] is None else " ".join(str(passed[key]).split()) for key in shown)


@click.command()
@FARM
@click.option("--of", "day", type=Day(), help="The last day of the week; today if left out.")
def week(farm_name: str, day: date | None) -> None:
    """The summary of seven days as the owner gets it, in the farm's language.

    \b
    Example:
      tapping-log week --farm "Ironwood Bend" --of 2026-03-15
    """
    with opened() as books, books.transaction() as tx:
        farm = farm_called(tx, farm_name)
        last = day or now().astimezone(ZoneInfo(farm.timezone)).date()
        text = summary(tx, farm, tongue(farm.language), last - timedelta(days=6), last)
    click.echo(text)


def _check_order(first: date | None, last: date | None) -> None:
    if first is not None and last is not None and last < first:
        raise BadInput(f"--to {last} is before --from {first}")


def _midnight(day: date) -> datetime:
    return datetime(day.year, day.month, day.day, tzinfo=ZoneInfo("UTC"))


@click.command()
@FARM
@JSON
def bark(farm_name: str, plain_json: bool) -> None:
    """How much bark each block's panel has left, from what was measured and the tappings since.

    \b
    Example:
      tapping-log bark --farm "Ironwood Bend"
    """
    with opened() as books, books.transaction() as tx:
        farm = farm_called(tx, farm_name)
        today = now().astimezone(ZoneInfo(farm.timezone)).date()
        found = [_bark(block, each) for block, each in bark_of_blocks(tx, farm, today).items()]
    if plain_json:
        say_list(found)
    elif not found:
        click.echo("No bark was measured yet. Text the bot: block 3 bark 42 cm")
    else:
        heads = ("block", "measured", "cm", "left cm", "mm a tapping", "allowed", "tappings", "until")
        say_table(heads, [tuple("-" if value is None else str(value) for value in _bark_row(each)) for each in found])


def _bark(block: str, found: BarkOfBlock) -> dict[str, Any]:
    return {
        "block": block,
        "panel": found.measured.panel,
        "measured": found.measured.day.isoformat(),
        "measured_cm": found.measured.cm,
        "tappings_since": found.tappings,
        "left_cm": round(found.left_cm, 1),
        "mm_a_tapping": round(found.mm_a_tapping, 2),
        "from_measures": found.from_measures,
        "allowed_mm": None if found.allowed_mm is None else round(found.allowed_mm, 2),
        "over": found.over,
        "tappings_left": found.tappings_left,
        "until": None if found.last_day is None else found.last_day.isoformat(),
    }


def _bark_row(each: dict[str, Any]) -> tuple[Any, ...]:
    names = ("block", "measured", "measured_cm", "left_cm", "mm_a_tapping", "allowed_mm", "tappings_left", "until")
    return tuple(each[name] for name in names)

"""`replay`: texts from a file, through the same talk as all others, at their own times."""

import hashlib
import json
import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import Any, TextIO
from zoneinfo import ZoneInfo

import click

from bot.app import house_of
from bot.books import Books, Transaction, farms, people
from bot.commands.common import JSON, BadInput, as_json, opened, settings
from bot.commands.practising import say_answer
from bot.jobs import run_due
from bot.talk.answer import answer
from bot.talk.exchange import Answer, Incoming
from bot.talk.house import House

KEYS = ("from", "at", "text", "id", "arrived")


@dataclass(frozen=True)
class Line:
    """A text of the file. Times without a zone are on the clock of the sender's farm."""

    number: int
    id: str
    sender: str
    text: str
    at: datetime
    arrived: datetime


@click.command()
@click.argument("file", type=click.File("r", encoding="utf-8"))
@JSON
def replay(file: TextIO, plain_json: bool) -> None:
    """Play the texts of FILE into the books in use, in the order of the file and at their own times.

    Each line is a JSON object: `from`, `at` (with a zone, or on the farm's clock), `text`, and if known `id` and
    `arrived`; other keys are passed over. A text that was played before is a repeat and enters nothing. Nothing is sent: what others are told
    waits for `tapping-log due`.

    \b
    Example:
      echo '{"from": "+447700900102", "at": "2026-03-12T10:30", "text": "block 1 18"}' > day.jsonl
      tapping-log replay day.jsonl --json
    """
    lines = list(_lines(file))
    house = house_of(settings())
    with opened() as books:
        for line in lines:
            given = _play(books, line, house)
            if plain_json:
                click.echo(as_json(_plain(line, given)))
            else:
                click.echo(f"{line.sender}> {line.text}")
                say_answer(given)


def _play(books: Books, line: Line, house: House) -> Answer:
    with books.transaction() as tx:
        zone = _zone(tx, line)
    at, arrived = _zoned(line.at, zone), _zoned(line.arrived, zone)
    run_due(books, arrived, None)
    return answer(books, Incoming(line.id, line.sender, line.text, at, arrived, "replay"), arrived, house)


def _zone(tx: Transaction, line: Line) -> ZoneInfo:
    """The zone of the sender's farm: of his first one if there are several, of the first farm of all for a stranger."""
    person = people.person_by_number(tx, line.sender)
    own = [farms.farm(tx, place.farm_id) for place in people.memberships(tx, person.id)] if person else []
    return ZoneInfo(next((farm.timezone for farm in [*own, *farms.all_farms(tx)]), "UTC"))


def _zoned(moment: datetime, zone: ZoneInfo) -> datetime:
    return moment if moment.tzinfo is not None else moment.replace(tzinfo=zone)


def _plain(line: Line, given: Answer) -> dict[str, Any]:
    others = [{"to": other.to, "text": other.text} for other in given.to_others]
    return {
        "id": line.id,
        "reply": given.text,
        "parts": given.parts,
        "to_others": others,
        "kind": given.kind.value,
    }


def _lines(file: TextIO) -> Iterator[Line]:
    """The texts of the file; all lines are checked before the first is played."""
    seen: dict[str, int] = {}
    try:
        for number, text in enumerate(file, start=1):
            if text.strip():
                yield _line(number, text, seen)
    except UnicodeDecodeError as fault:
        raise BadInput(f"The file is not UTF-8 text ({fault.reason})") from fault


def _line(number: int, text: str, seen: dict[str, int]) -> Line:
    try:
        given = json.loads(text)
    except ValueError as fault:
        raise BadInput(f"Line {number}: not JSON ({fault})") from fault
    if not isinstance(given, dict):
        raise BadInput(f"Line {number}: must be an object with from, at, text, and if known id and arrived")
    given = {key: given[key] for key in KEYS if given.get(key) is not None}
    if wrong := [
        key for key in KEYS if not isinstance(given.get(key, ""), str) or (key in KEYS[:3] and key not in given)
    ]:
        raise BadInput(f"Line {number}: {', '.join(wrong)} must be there and be text")
    if not re.fullmatch(r"\+[1-9][0-9]{1,14}", given["from"]):
        raise BadInput(f"Line {number}: `from` must be a number like +447700900102, not {given['from']!r}")
    at, arrived = _moment(number, "at", given["at"]), _moment(number, "arrived", given.get("arrived") or given["at"])
    return Line(number, given.get("id") or _derived(given, seen), given["from"], given["text"], at, arrived)


def _moment(number: int, key: str, text: str) -> datetime:
    try:
        return datetime.fromisoformat(text)
    except ValueError as fault:
        raise BadInput(f"Line {number}: `{key}` must be a time like 2026-03-12T10:30, not {text!r}") from fault


def _derived(given: dict[str, str], seen: dict[str, int]) -> str:
    """An id made from the text itself, so that the same file enters nothing twice; equal lines of a file count up."""
    content = json.dumps([given[key] for key in ("from", "at", "text")], ensure_ascii=False)
    seen[content] = seen.get(content, 0) + 1
    return "replay-" + hashlib.sha256(f"{seen[content]} {content}".encode()).hexdigest()[:24]

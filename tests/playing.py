"""Play a written conversation through the real talk on real books, and compare what stands in the end.

A conversation is one line of a `dialogues-*.jsonl` file: a farm with its people, turns in the order of arrival with the
kind of answer that a careful clerk would give, and the entries that stand in the day-book at the end.
"""

import json
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from pathlib import Path
from zoneinfo import ZoneInfo

from bot.books import Books, entries, farms, people
from bot.talk.answer import answer
from bot.talk.exchange import Answer, Incoming
from parsers.reading import Role, block_from_json

CORPUS = Path(__file__).parent / "corpus"


@dataclass(frozen=True)
class Played:
    """A conversation with what was answered to each turn and what stood in the end, in the clerk's form."""

    dialogue: dict
    answers: tuple[Answer, ...]
    standing: tuple[dict, ...]

    def faults(self) -> list[str]:
        """What differs from the clerk: kinds of answers, questions, entries."""
        return [*self._wrong_kinds(), *self._wrong_entries()]

    def _wrong_kinds(self) -> list[str]:
        found = []
        for turn, given in zip(self.dialogue["turns"], self.answers, strict=True):
            expected = turn["expect"]
            allowed = {expected["kind"], *expected.get("or", ())}
            if given.kind not in allowed and not (given.repeat and "silent" in allowed):
                found.append(f"{turn['text']!r}: {given.kind}, not {'/'.join(sorted(allowed))}: {given.text}")
        return found

    def _wrong_entries(self) -> list[str]:
        wanted = summed([canonical(entry, self.dialogue) for entry in self.dialogue["entries"]])
        got = summed([canonical(entry, self.dialogue) for entry in self.standing])
        missing = [f"missing {entry}" for entry in wanted if entry not in got]
        extra = [f"too much {entry}" for entry in got if entry not in wanted]
        return missing + extra


def dialogues(name: str) -> list[dict]:
    """The conversations of a file of the corpus."""
    lines = (CORPUS / name).read_text(encoding="utf-8").splitlines()
    return [json.loads(line) for line in lines if line.strip()]


def set_up(books: Books, dialogue: dict) -> str:
    """The farm of a conversation with its people; returns the farm's id."""
    described = dialogue["farm"]
    zone = ZoneInfo(described["timezone"])
    at = datetime.fromisoformat(dialogue["turns"][0]["at"]).replace(tzinfo=zone)
    with books.transaction() as tx:
        farm = farms.add_farm(
            tx,
            name=described["name"],
            timezone=described["timezone"],
            currency="USD",
            language=dialogue["lang"],
            blocks={name: block_from_json(block) for name, block in described["blocks"].items()},
            containers={name: Decimal(str(size)) for name, size in (described.get("containers") or {}).items()},
            settings={},
            other_farms=described.get("other_farms", ()),
            at=at,
        )
        for person in described["people"]:
            people.enrol(
                tx,
                name=person["name"],
                number=person["number"],
                language=person["lang"],
                farm_id=farm.id,
                role=Role(person["role"]),
                blocks=tuple(person["blocks"]),
                at=at,
                message_id=None,
            )
    return farm.id


def play(books: Books, dialogue: dict) -> Played:
    """Send every turn at its own time and look at the book afterwards."""
    farm_id = set_up(books, dialogue)
    zone = ZoneInfo(dialogue["farm"]["timezone"])
    answers = tuple(_send(books, dialogue, n, turn, zone) for n, turn in enumerate(dialogue["turns"]))
    with books.transaction() as tx:
        standing = tuple(_clerks_form(entry) for entry in entries.standing(tx, farm_id))
    return Played(dialogue, answers, standing)


def _send(books: Books, dialogue: dict, n: int, turn: dict, zone: ZoneInfo) -> Answer:
    at = datetime.fromisoformat(turn["at"]).replace(tzinfo=zone)
    arrived = datetime.fromisoformat(turn.get("arrived", turn["at"])).replace(tzinfo=zone)
    message_id = turn.get("id", f"{dialogue['id']}-{n}")
    return answer(books, Incoming(message_id, turn["from"], turn["text"], at, arrived, "practice"), now=arrived)


def _clerks_form(entry: entries.Entry) -> dict:
    via = {} if entry.via is None else {"via": entry.via}
    return {"by": entry.by.number, **via, **entry.record.to_json()}


def canonical(entry: dict, dialogue: dict) -> dict:
    """One spelling for what may be written in two ways."""
    out = {key: value for key, value in entry.items() if value is not None and value is not False}
    for key in ("farm", "place"):
        if key in out:
            out[key] = str(out[key]).casefold()
    if out["what"] == "no_tapping" and out.get("block", "*") == "*":
        person = next(each for each in dialogue["farm"]["people"] if each["number"] == out["by"])
        out["block"] = ",".join(sorted(person["blocks"]))
    return out


def summed(found: list[dict]) -> list[dict]:
    """Two records for two collections of a block on a day are as good as one with their sum."""
    out: dict[tuple, dict] = {}
    for entry in found:
        key = tuple(sorted((k, str(v)) for k, v in entry.items() if k not in ("litres", "rain", "late", "drc")))
        if entry["what"] == "latex" and "litres" in entry and key in out:
            out[key] = {**entry, **out[key], "litres": round(out[key]["litres"] + entry["litres"], 3)}
        else:
            out[(*key, len(out)) if key in out else key] = dict(entry)
    return list(out.values())

"""Open questions: what was asked, what waits for the answer, and how it is said.

A question belongs to a person and a farm and expires. What waits is kept as the reading that raised it; the reader sees it
again with the next text and says whether that answers it.
"""

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

from bot.books import questions as store
from bot.books.model import Entry
from bot.speech import say
from bot.talk.desk import Desk, Outcome
from bot.talk.exchange import Kind
from parsers.reading import Ask, Correction, Intent, OpenQuestion, Reading, Record, What

#: This long after it was asked an answer would be guesswork: a bare number then stands for itself. A late text is asked about
#: when it comes.
EXPIRES = timedelta(hours=14)

#: The two answers to "more, or instead of what stands?"
MORE, INSTEAD = "more", "instead"


@dataclass(frozen=True)
class Waiting:
    """An open question with what it needs to be settled.

    `entry` is the line that a second figure met; `rest` are further figures of the same text with the lines that they met,
    to be asked about in turn.
    """

    question: OpenQuestion
    entry: str | None = None
    rest: tuple[tuple[Record, str], ...] = ()


def open_for(desk: Desk) -> Waiting | None:
    """The question that waits for the sender at this farm, if any."""
    stored = desk.asked
    if stored is None or stored.farm_id != desk.farm.id:
        return None
    body = json.loads(stored.body)
    return _from_body(body) if "ask" in body else None  # a change that waits for a PIN is no question to the reader


def settle(desk: Desk, how: str = "answered") -> None:
    """Close what was asked of the sender."""
    store.close(desk.tx, desk.me.id, desk.sent, how)


def repeated_by(desk: Desk, reading: Reading) -> bool:
    """Whether a whole new message says what waited for an answer, so that the answer is not needed any more."""
    waiting = open_for(desk)
    if waiting is None or reading.ask is not None:
        return False
    amounts = {record.litres for record in waiting.question.reading.pending if record.litres is not None}
    wanted = {(each.what, each.block, each.day) for each in waiting.question.reading.pending if each.block is not None}
    whole = sum((each.litres for each in reading.records if each.litres is not None), Decimal(0))
    if len(reading.records) > 1 and whole in amounts:
        return True  # `30 litres of both` and then `18 and 12`
    return any(
        record.litres in amounts or (record.what, record.block, record.day) in wanted
        for record in reading.records
        if record.what is not What.DOSE
    )


def ask(desk: Desk, reading: Reading) -> Outcome:
    """Keep the reading and ask the one question that it needs."""
    assert reading.ask is not None
    _keep(desk, Waiting(OpenQuestion(reading.ask, reading, reading.options)))
    return Outcome(Kind.ASKED, wording(desk, reading))


def ask_more_or_instead(desk: Desk, person: str | None, met: Sequence[tuple[Record, Entry]]) -> str:
    """A second figure for a block and day: does it add, or does it take the place of the first? One is asked at a time."""
    (record, entry), *others = met
    waits = Reading(Intent.LOG, ask=Ask.LITRES, pending=(record,), options=(MORE, INSTEAD), person=person)
    rest = tuple((other, line.id) for other, line in others)
    _keep(desk, Waiting(OpenQuestion(Ask.LITRES, waits, (MORE, INSTEAD)), entry.id, rest))
    tongue = desk.tongue
    return tongue.say(
        "{block} {day} stands at {before}. Is {now} more, or instead?",
        block=say.block_name(tongue, record.block),
        day=tongue.day(entry.record.day or desk.today, desk.today),
        before=say.amount(tongue, entry.record),
        now=say.amount(tongue, record),
    )


def wording(desk: Desk, reading: Reading) -> str:
    """The question in the sender's language, with the likely answers in it."""
    first = reading.pending[0] if reading.pending else None
    words = {
        Ask.BLOCK: _which_block,
        Ask.LITRES: _how_many_litres,
        Ask.DAY: _which_day,
        Ask.KG: _how_many_kg,
        Ask.WHAT: _of_what,
    }
    assert reading.ask is not None
    return words[reading.ask](desk, reading, first)


def _which_block(desk: Desk, reading: Reading, first: Record | None) -> str:
    tongue = desk.tongue
    options = tongue.alternatives(reading.options or desk.own_blocks or desk.setting(None).blocks)
    if first is not None and first.block is not None and first.block not in desk.own_blocks:
        known = first.block in desk.setting(None).blocks
        name = first.block
        if known:
            return tongue.say("Block {name} is not yours. Which block, {options}?", name=name, options=options)
        return tongue.say("There is no block {name} here. Which block, {options}?", name=name, options=options)
    said = say.amount(tongue, first) if first is not None else ""
    if said:
        return tongue.say("{amount} from which block, {options}?", amount=said, options=options)
    return tongue.say("Which block, {options}?", options=options)


def _how_many_litres(desk: Desk, _reading: Reading, first: Record | None) -> str:
    tongue = desk.tongue
    if first is None or first.block is None:
        return tongue.say("How many litres, from which block?")
    name = say.block_name(tongue, first.block)
    usual = desk.setting(None).blocks[first.block].usual_litres if first.block in desk.setting(None).blocks else None
    if first.litres is not None and usual is not None:
        return tongue.say(
            "{block} {litres} L? It usually gives about {usual}. How many litres?",
            block=name,
            litres=tongue.number(first.litres),
            usual=tongue.number(usual),
        )
    return tongue.say("{block}: how many litres?", block=name)


def _which_day(desk: Desk, _reading: Reading, first: Record | None) -> str:
    said = say.line(desk.tongue, first.with_(day=None), desk.today) if first is not None else ""
    return desk.tongue.say("{line}: which day was it?", line=said) if said else desk.tongue.say("Which day was it?")


def _how_many_kg(desk: Desk, _reading: Reading, first: Record | None) -> str:
    said = say.line(desk.tongue, first, desk.today) if first is not None else ""
    return desk.tongue.say("{line}: how many kg?", line=said) if said else desk.tongue.say("How many kg?")


def _of_what(desk: Desk, _reading: Reading, first: Record | None) -> str:
    tongue = desk.tongue
    said = say.amount(tongue, first) if first is not None else ""
    if said:
        return tongue.say("{amount} of what: latex, lump or dry sheets?", amount=said)
    return tongue.say("Of what: latex, lump or sheets?")


def _keep(desk: Desk, waiting: Waiting) -> None:
    store.ask(
        desk.tx,
        person_id=desk.me.id,
        farm_id=desk.farm.id,
        message_id=desk.message.id,
        body=json.dumps(_to_body(waiting), ensure_ascii=False),
        asked_at=desk.sent,
        expires_at=desk.now + EXPIRES,
    )


def _to_body(waiting: Waiting) -> dict[str, Any]:
    reading = waiting.question.reading
    return {
        "ask": waiting.question.ask.value,
        "options": list(waiting.question.options),
        "intent": reading.intent.value,
        "pending": [record_out(record) for record in reading.pending],
        "person": reading.person,
        "correction": None if reading.correction is None else correction_out(reading.correction),
        "entry": waiting.entry,
        "rest": [[record_out(record), entry] for record, entry in waiting.rest],
    }


def _from_body(body: Mapping[str, Any]) -> Waiting:
    ask = Ask(body["ask"])
    reading = Reading(
        Intent(body["intent"]),
        ask=ask,
        pending=tuple(record_in(record) for record in body["pending"]),
        options=tuple(body["options"]),
        person=body["person"],
        correction=None if body["correction"] is None else correction_in(body["correction"]),
    )
    rest = tuple((record_in(record), str(entry)) for record, entry in body.get("rest", ()))
    return Waiting(OpenQuestion(ask, reading, reading.options), body["entry"], rest)


def record_out(record: Record) -> dict[str, Any]:
    """A record as it waits in the store."""
    out = record.to_json()
    for name in ("litres", "kg", "drc", "price"):  # as text, so that no figure changes on its way
        value = getattr(record, name)
        if value is not None:
            out[name] = str(value)
    return out | {"again": record.again}


def record_in(data: Mapping[str, Any]) -> Record:
    """A record that waited in the store."""
    return Record.from_json(data)


def correction_out(correction: Correction) -> dict[str, Any]:
    """A correction as it waits in the store."""
    return {
        "said": sorted(correction.said),
        "was": None if correction.was is None else str(correction.was),
        "block_was": correction.block_was,
        "day_was": None if correction.day_was is None else correction.day_was.isoformat(),
        "everything": correction.everything,
        "adds": correction.adds,
    }


def correction_in(data: Mapping[str, Any]) -> Correction:
    """A correction that waited in the store."""
    return Correction(
        said=frozenset(data["said"]),
        was=None if data["was"] is None else Decimal(data["was"]),
        block_was=data["block_was"],
        day_was=None if data["day_was"] is None else date.fromisoformat(data["day_was"]),
        everything=data["everything"],
        adds=data["adds"],
    )


def is_more_or_instead(waiting: Waiting) -> bool:
    """Whether the question is the one about a second figure."""
    return waiting.question.options == (MORE, INSTEAD)

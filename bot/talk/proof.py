"""A second proof for what moves money or people: a PIN, since the number that a text comes from can be forged.

A change waits as an open question until the next text is the PIN. The PIN is cut out of a text before anything is written
down; what is kept is `pin ****`. Pages need none: the link to them goes to the owner's own phone.
"""

import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from bot.books import Transaction, entries, messages, office_waiting, people
from bot.books import pins as store
from bot.books import questions as open_questions
from bot.books.model import Question
from bot.talk import correcting, pinned
from bot.talk.desk import Desk, Outcome
from bot.talk.exchange import Incoming, Kind
from bot.talk.house import House
from bot.talk.in_words import in_words
from bot.talk.pending import reading_in, reading_out
from parsers import pins
from parsers.pins import Said
from parsers.reading import Intent, Manage, Reading, Request, What

#: What is kept of a text that holds a PIN.
HIDDEN = "pin ****"

#: What needs the proof: money, people, and the strength of the acid, since a wrong one makes a dose that hurts.
GUARDED = frozenset(
    {
        Manage.ENROL,
        Manage.DISMISS,
        Manage.PAY_TERMS,
        Manage.ADVANCE,
        Manage.DEDUCTION,
        Manage.BONUS,
        Manage.SETTLE,
        Manage.UNBLOCK,
        Manage.ACID_STRENGTH,
    }
)

Do = Callable[[Desk, Reading], Outcome]


@dataclass(frozen=True)
class Heard:
    """A text as it may be written down, and apart from it the PIN that it held."""

    message: Incoming
    said: Said | None = None


def heard(tx: Transaction, incoming: Incoming, now: datetime, house: House) -> Heard:
    """A text without its PIN. Digits alone are one from somebody who has a PIN, unless another question waits for them."""
    said = pins.said(incoming.text, house.words)
    if said is None or not (said.worded or _awaits_pin(tx, incoming.sender, now)):
        return Heard(incoming)
    return Heard(replace(incoming, text=HIDDEN), said)


def _awaits_pin(tx: Transaction, number: str, now: datetime) -> bool:
    me = people.person_by_number(tx, number)
    if me is None or not store.of(tx, me.id).chosen:
        return False
    question = open_questions.open_question(tx, me.id, now)
    if office_waiting.waiting(tx, me.id, now) is not None:
        return True
    return question is None or _waiting(question) is not None


def asked_for(desk: Desk, reading: Reading) -> Outcome | None:
    """Ask for a proof before a change that needs it; None where it needs none, or its owner has no PIN and needs none."""
    if not _needs_proof(desk, reading):
        return None
    pin = store.of(desk.tx, desk.me.id)
    if not pin.chosen and not desk.house.requires_pin:
        return None
    by_text = pin.chosen and pin.blocked_at is None
    if not by_text and desk.house.link is None:
        return pinned.blocked(desk) if pin.chosen else pinned.none_chosen(desk)
    wanted = reading_out(reading)
    if _another_waits(desk, wanted):
        drop(desk.tx, desk.me.id, desk.now)
        office_waiting.drop(desk.tx, desk.me.id)
        return pinned.two_at_once(desk)
    what = in_words(desk, reading)
    _keep(desk, {"reading": wanted, "words": what})
    return pinned.to_confirm(desk, what) if by_text else Outcome(Kind.ASKED, _page(desk))


def _page(desk: Desk) -> str:
    """Where to confirm without a PIN: the link reaches the owner's own phone and nobody who forged its number."""
    assert desk.house.link is not None
    address = f"{desk.house.link(desk.farm.id, desk.me.id)}/waiting"
    return desk.tongue.say("Confirm within 10 minutes on your page: {address}", address=address)


def _another_waits(desk: Desk, wanted: Mapping[str, Any]) -> bool:
    _, waiting = _open(desk)
    if office_waiting.waiting(desk.tx, desk.me.id, desk.now) is not None:
        return True
    return waiting is not None and waiting.get("reading") != wanted


def waits(tx: Transaction, person_id: str, now: datetime) -> bool:
    """Whether a change of somebody at a farm waits for his PIN."""
    question = open_questions.open_question(tx, person_id, now)
    return question is not None and _waiting(question) is not None


def drop(tx: Transaction, person_id: str, now: datetime) -> None:
    """No change of somebody at a farm waits any more, since another was asked for before its PIN came."""
    if waits(tx, person_id, now):
        open_questions.close(tx, person_id, now, "two at once")


def _open(desk: Desk) -> tuple[Question | None, Mapping[str, Any] | None]:
    """The question that is open, and what waits for a proof in it."""
    question = open_questions.open_question(desk.tx, desk.me.id, desk.now)
    return question, None if question is None else _waiting(question)


def waiting_in_words(tx: Transaction, person_id: str, farm_id: str, now: datetime) -> str | None:
    """What waits for somebody's proof at a farm, as it was understood; None where nothing does."""
    question = open_questions.open_question(tx, person_id, now)
    waiting = None if question is None or question.farm_id != farm_id else _waiting(question)
    return None if waiting is None else str(waiting["words"])


def confirmed_on_page(desk: Desk, do: Do) -> Outcome | None:
    """Do what waits, since its owner says so on his page; None where nothing waits any more."""
    question, waiting = _open(desk)
    if question is None or waiting is None or question.farm_id != desk.farm.id or not desk.is_owner:
        return None
    return _done(desk, question, waiting, do)


def with_hint(desk: Desk, reading: Reading, outcome: Outcome) -> Outcome:
    """What was done, with word now and then of how to choose a PIN where none is set."""
    return pinned.with_hint(desk, outcome) if _needs_proof(desk, reading) else outcome


def answer(places: list[Desk], said: Said, do: Do) -> Outcome:
    """A text that is a PIN: it confirms what waits, or chooses a PIN where none is asked for."""
    desk = next((each for each in places if each.is_owner), None)
    if desk is None:
        return Outcome(Kind.REFUSED, places[0].tongue.say("Only the owner can change that. Nothing changed."))
    pin = store.of(desk.tx, desk.me.id)
    if pin.blocked_at is not None:
        return pinned.blocked(desk)
    if said.pin is None:
        return pinned.no_pin(desk)
    question, waiting = _open(desk)
    if pin.chosen and question is not None and waiting is not None:
        return _confirm(places, question, waiting, said.pin, do)
    return _choose(desk, said.pin, pin) if said.worded else pinned.nothing_waits(desk)


def _choose(desk: Desk, pin: str, before: store.Pin) -> Outcome:
    if pins.is_easy(pin, desk.me.number):
        return pinned.too_easy(desk)
    kept = store.hashed(pin)
    if before.chosen:
        open_questions.close(desk.tx, desk.me.id, desk.now, "gave way")
        _keep(desk, {"pin": kept, "words": desk.tongue.say("new PIN")})
        return pinned.old_one_first(desk)
    return pinned.chosen(desk, kept)


def _confirm(places: list[Desk], question: Question, waiting: Mapping[str, Any], pin: str, do: Do) -> Outcome:
    desk = next((each for each in places if each.farm.id == question.farm_id and each.is_owner), None)
    if desk is None:
        return pinned.nothing_waits(places[0])
    if not store.attempt(desk.tx, desk.me.id, pin, desk.now):
        return _wrong(desk)
    return _done(desk, question, waiting, do)


def _done(desk: Desk, question: Question, waiting: Mapping[str, Any], do: Do) -> Outcome:
    open_questions.close(desk.tx, desk.me.id, desk.now, "confirmed")
    if "pin" in waiting:
        return pinned.chosen(desk, waiting["pin"])
    return do(_as_asked(desk, question), reading_in(waiting["reading"]))


def _wrong(desk: Desk) -> Outcome:
    if store.of(desk.tx, desk.me.id).blocked_at is not None:
        open_questions.close(desk.tx, desk.me.id, desk.now, "wrong PIN")
    return pinned.wrong(desk)


def _as_asked(desk: Desk, question: Question) -> Desk:
    """The desk with the text that asked for the change before it, so that what is entered points at that text."""
    first = messages.message(desk.tx, question.message_id)
    if first is None:
        return desk
    text = replace(desk.message, id=first.id, text=first.text, at=first.at, arrived=first.arrived)
    return Desk(desk.tx, desk.farm, desk.me, desk.roles, desk.own_blocks, text, desk.now, desk.house)


def _needs_proof(desk: Desk, reading: Reading) -> bool:
    if not desk.is_owner:
        return False
    request = reading.request
    if request is not None:
        return request.manage in GUARDED and _is_complete(request)
    if reading.intent is Intent.UNDO:
        return any(entry.record.what is What.PRICE for entry in correcting.meant_by_undo(desk, reading))
    targets = (entries.entry(desk.tx, each) for each in reading.targets)
    return any(record.what is What.PRICE for record in reading.records) or any(
        entry is not None and entry.record.what is What.PRICE for entry in targets
    )


def _is_complete(request: Request) -> bool:
    """Whether the request says enough to do anything; otherwise its handler asks."""
    if request.manage is Manage.SETTLE:
        return request.value is not None
    return request.manage is not Manage.ENROL or (request.name is not None and request.number is not None)


def _keep(desk: Desk, waiting: Mapping[str, Any]) -> None:
    open_questions.ask(
        desk.tx,
        person_id=desk.me.id,
        farm_id=desk.farm.id,
        message_id=desk.message.id,
        body=json.dumps({"proof": waiting}, ensure_ascii=False),
        asked_at=desk.now,
        expires_at=desk.now + pinned.WAITS,
    )


def _waiting(question: Question) -> Mapping[str, Any] | None:
    """What waits for a PIN; None for a question of another kind."""
    body: Mapping[str, Any] = json.loads(question.body)
    return body.get("proof")

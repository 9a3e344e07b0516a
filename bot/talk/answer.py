"""The one door of the talk: a text comes in, is written down, read, entered and answered, all in one transaction.

The text is written first, under the carrier's id: a known id is a repeat and gets the stored answer again. Whatever is said
to others is put in the outbox within the same transaction, so that a crash loses none and a repeat sends none twice.
"""

from collections.abc import Callable
from datetime import datetime

import parsers
from bot.books import Books, Transaction, cooperatives, messages, office_waiting, outbox, people
from bot.books.model import Person, StoredMessage
from bot.speech.language import economical
from bot.speech.parts import count_parts
from bot.talk import (
    cooperative,
    correcting,
    disputing,
    growers_own,
    limiting,
    managing,
    office_proof,
    proof,
    queries,
    questions,
    rounds,
    service,
    starting,
    which_office,
)
from bot.talk.desk import Desk, Outcome, desks
from bot.talk.exchange import Answer, Incoming, Kind, Outgoing
from bot.talk.house import PLAIN, House
from bot.talk.office import Office
from parsers.reading import Intent, Reading

Handler = Callable[[Desk, Reading], Outcome]

HANDLERS: dict[Intent, Handler] = {
    Intent.LOG: correcting.log,
    Intent.FIX: correcting.fix,
    Intent.UNDO: correcting.undo,
    Intent.DOSE: queries.dose,
    Intent.WEEK: queries.query,
    Intent.READY: queries.ready,
    Intent.WHY: queries.why,
    Intent.HELP: service.help_,
    Intent.CHAT: service.chat,
    Intent.UNKNOWN: service.unknown,
    Intent.MANAGE: managing.manage,
    Intent.DISPUTE: disputing.dispute,
}


def answer(books: Books, incoming: Incoming, now: datetime, house: House = PLAIN) -> Answer:
    """Read a text, enter what it says, and answer it.

    `now` is the clock of the house. Raises the errors of `bot.books` when the books cannot be written: then nothing was
    entered and the carrier should try again.
    """
    return house.around(incoming, lambda: books.run_transaction(lambda tx: _answer(tx, incoming, now, house)))


def act(
    books: Books,
    incoming: Incoming,
    now: datetime,
    farm_id: str,
    action: Callable[[Desk], Outcome],
    house: House = PLAIN,
) -> Answer:
    """Do for somebody at a farm what he asks for elsewhere than by text: the same rules, history and texts to others.

    `incoming` stands in the messages as what he did. Raises LookupError for one who has no place at that farm.
    """
    return house.around(
        incoming, lambda: books.run_transaction(lambda tx: _act(tx, incoming, now, farm_id, action, house))
    )


def _act(
    tx: Transaction, incoming: Incoming, now: datetime, farm_id: str, action: Callable[[Desk], Outcome], house: House
) -> Answer:
    me = people.person_by_number(tx, incoming.sender)
    if me is None or me.blocked_at is not None:
        raise LookupError(incoming.sender)
    stored = _received(tx, incoming)
    if stored is not None:
        return _again(tx, stored)
    desk = next(desk for desk in desks(tx, me, incoming, now, house) if desk.farm.id == farm_id)
    return _close(tx, me, incoming, action(desk), now)


def act_for_cooperative(
    books: Books,
    incoming: Incoming,
    now: datetime,
    cooperative_id: str,
    action: Callable[[Office], Outcome],
    house: House = PLAIN,
) -> Answer:
    """Do for a manager what he asks for on his page. Raises LookupError for one who does not manage that cooperative."""
    return books.run_transaction(lambda tx: _act_for_cooperative(tx, incoming, now, cooperative_id, action, house))


def _act_for_cooperative(
    tx: Transaction,
    incoming: Incoming,
    now: datetime,
    cooperative_id: str,
    action: Callable[[Office], Outcome],
    house: House,
) -> Answer:
    me = people.person_by_number(tx, incoming.sender)
    managed = [] if me is None else [each for each in cooperatives.managed_by(tx, me.id) if each.id == cooperative_id]
    if me is None or me.blocked_at is not None or not managed:
        raise LookupError(incoming.sender)
    stored = _received(tx, incoming)
    if stored is not None:
        return _again(tx, stored)
    return _close(tx, me, incoming, action(Office(tx, managed[0], me, incoming, now, house, proven=True)), now)


def _received(tx: Transaction, incoming: Incoming) -> StoredMessage | None:
    """Write a text down; the stored one where it was there before."""
    return messages.receive(
        tx,
        message_id=incoming.id,
        carrier=incoming.carrier,
        number=incoming.sender,
        text=incoming.text,
        at=incoming.at,
        arrived=incoming.arrived,
    )


def _answer(tx: Transaction, incoming: Incoming, now: datetime, house: House) -> Answer:
    heard = proof.heard(tx, incoming, now, house)  # before it is written down, so that no PIN ever is
    incoming = heard.message
    stored = _received(tx, incoming)
    if stored is not None:
        return _again(tx, stored)
    me = people.person_by_number(tx, incoming.sender)
    outcome = limiting.too_many(tx, house.pace, me, incoming) or _unless_machine(tx, me, heard, now, house)
    return _close(tx, me, incoming, outcome, now)


def _unless_machine(tx: Transaction, me: Person | None, heard: proof.Heard, now: datetime, house: House) -> Outcome:
    """What to do and say, unless another machine is answering our answers."""
    answered = limiting.answered_of_late(tx, heard.message)
    if limiting.is_echo(heard.message, answered):
        return limiting.silenced(tx, heard.message, Outcome(Kind.SILENT, None))
    outcome = starting.stranger(tx, heard.message, now, house) if me is None else _to_member(tx, me, heard, now, house)
    return limiting.silenced(tx, heard.message, outcome) if limiting.is_loop(outcome, answered) else outcome


def _again(tx: Transaction, stored: StoredMessage) -> Answer:
    """The stored answer of a text that was delivered before."""
    others = tuple(Outgoing(each.to, each.text) for each in messages.to_others_of(tx, stored.id))
    return Answer(Kind(stored.kind or Kind.SILENT), stored.reply, stored.parts or 0, others, repeat=True)


def _to_member(tx: Transaction, me: Person, heard: proof.Heard, now: datetime, house: House) -> Outcome:
    if me.blocked_at is not None:
        return Outcome(Kind.SILENT, None)
    places = desks(tx, me, heard.message, now, house)
    managed = cooperatives.managed_by(tx, me.id)
    offices = [Office(tx, each, me, heard.message, now, house, of_several=len(managed) > 1) for each in managed]
    of_cooperative = None
    if offices and heard.said is None:
        of_cooperative = which_office.answered(
            offices, lambda at: cooperative.answered(at, has_desk=bool(places)), has_desk=bool(places)
        )
    elif offices and heard.said is not None and _is_of_office(tx, me, places, now):
        of_cooperative = office_proof.answer(offices, heard.said, _proven)
    if of_cooperative is not None:
        return _to_one_who_stopped(people.person_by_number(tx, me.number) or me, of_cooperative)
    if not places:
        return starting.stranger(tx, heard.message, now, house)
    if heard.said is not None:
        return _to_one_who_stopped(me, proof.answer(places, heard.said, do))
    collector = rounds.of(places)
    special = disputing.answered(places) or growers_own.answered(places)
    if special is None and collector is not None:
        special = rounds.answered(collector)
    if special is not None:
        return _to_one_who_stopped(me, special)
    seats = [rounds.seat(collector)] if collector is not None and collector.only else places
    desk, reading = _best_reading(seats)
    if reading.intent in (Intent.STOP, Intent.START):
        return service.stop_or_start(desk, reading)
    return _to_one_who_stopped(me, correcting.more_or_instead(desk, reading) or _handle(desk, reading))


def _proven(office: Office) -> Outcome | None:
    """What a manager asked for, once his PIN has come."""
    outcome = cooperative.answered(office, has_desk=False)
    return outcome if outcome is None else which_office.signed(office, outcome)


def _is_of_office(tx: Transaction, me: Person, places: list[Desk], now: datetime) -> bool:
    """Whether a manager's PIN is meant for what he does at his cooperative, and not at a farm of his own."""
    return office_waiting.waiting(tx, me.id, now) is not None or not any(each.is_owner for each in places)


def _to_one_who_stopped(me: Person, outcome: Outcome) -> Outcome:
    """Somebody who asked for no more texts gets none; what he reports is still his work and stands in the book."""
    return outcome if me.opted_out_at is None else Outcome(_quiet(outcome.kind), None, outcome.others)


def _quiet(kind: Kind) -> Kind:
    return kind if kind in (Kind.ENTERED, Kind.CHANGED, Kind.REMOVED) else Kind.SILENT


def _handle(desk: Desk, reading: Reading) -> Outcome:
    if reading.answers or questions.repeated_by(desk, reading):
        questions.settle(desk)
    if reading.ask is not None:
        return questions.ask(desk, reading)
    return proof.asked_for(desk, reading) or proof.with_hint(desk, reading, do(desk, reading))


def do(desk: Desk, reading: Reading) -> Outcome:
    """Do what a reading says, without asking for anything more."""
    return HANDLERS[reading.intent](desk, reading)


def _best_reading(places: list[Desk]) -> tuple[Desk, Reading]:
    """The farm that the text speaks of: the first (he wrote about it last) unless only another one makes sense of it."""
    read = [(desk, _read(desk)) for desk in places]
    named = [pair for pair in read if pair[0].farm.name.casefold() in pair[0].message.text.casefold()]
    clear = [pair for pair in read if pair[1].ask is None and pair[1].intent is not Intent.UNKNOWN]
    return (named or clear or read)[0]


def _read(desk: Desk) -> Reading:
    waiting = questions.open_for(desk)
    question = None if waiting is None or questions.is_more_or_instead(waiting) else waiting.question
    return parsers.read(desk.message.text, desk.setting(question), desk.house.words)


def _close(tx: Transaction, me: Person | None, incoming: Incoming, outcome: Outcome, now: datetime) -> Answer:
    text = None if outcome.text is None else economical(outcome.text)
    parts = 0 if text is None else count_parts(text).parts
    messages.close(
        tx, incoming.id, person_id=None if me is None else me.id, kind=outcome.kind.value, reply=text, parts=parts
    )
    return Answer(outcome.kind, text, parts, _tell_others(tx, incoming, outcome, now))


def _tell_others(tx: Transaction, incoming: Incoming, outcome: Outcome, now: datetime) -> tuple[Outgoing, ...]:
    told: dict[str, Outgoing] = {}
    for each in outcome.others:
        silent = each.person.opted_out_at is not None or each.person.blocked_at is not None
        if silent or each.person.number in told or each.person.number == incoming.sender:
            continue
        text = economical(each.text)
        outbox.put(
            tx,
            to=each.person.number,
            text=text,
            parts=count_parts(text).parts,
            because=incoming.id,
            key=f"{incoming.id}>{each.person.number}",
            due_at=now,
            created_at=now,
        )
        told[each.person.number] = Outgoing(each.person.number, text)
    return tuple(told.values())

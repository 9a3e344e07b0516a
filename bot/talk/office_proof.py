"""A manager's second proof for what moves money: his PIN, since the number that a text comes from can be forged.

What waits is the text that asked for the change: it is read again when the PIN has come. His page needs none, since the link
to it went to his own phone.
"""

from collections.abc import Callable, Sequence
from dataclasses import replace

from bot.books import messages, office_waiting
from bot.books import pins as store
from bot.books.office_waiting import Waiting
from bot.talk import pinned, proof
from bot.talk.desk import Outcome
from bot.talk.exchange import Kind
from bot.talk.office import Office
from parsers import pins
from parsers.pins import Said

Do = Callable[[Office], Outcome | None]


def asked_for(office: Office, words: str) -> Outcome | None:
    """Ask for the PIN before a change; None where it came, or where none is chosen and none is required."""
    if office.proven:
        return None
    pin = store.of(office.tx, office.me.id)
    if not pin.chosen:
        if not office.house.requires_pin:
            return None
        return Outcome(Kind.REFUSED, office.tongue.say("Change that on your page: text link. Nothing changed."))
    if pin.blocked_at is not None:
        return pinned.blocked(office)
    if _another_waits(office):
        office_waiting.drop(office.tx, office.me.id)
        proof.drop(office.tx, office.me.id, office.now)
        return pinned.two_at_once(office)
    _keep(office, words, None)
    return pinned.to_confirm(office, words)


def _another_waits(office: Office) -> bool:
    waiting = office_waiting.waiting(office.tx, office.me.id, office.now)
    if waiting is None:
        return proof.waits(office.tx, office.me.id, office.now)
    before = messages.message(office.tx, waiting.message_id)
    return before is None or before.text != office.message.text


def answer(offices: Sequence[Office], said: Said, do: Do) -> Outcome:
    """A text that is a PIN: it confirms what waits, or chooses a PIN where none is asked for."""
    waiting = office_waiting.waiting(offices[0].tx, offices[0].me.id, offices[0].now)
    own = [each for each in offices if waiting is not None and each.cooperative.id == waiting.cooperative_id]
    office = (own or offices)[0]
    pin = store.of(office.tx, office.me.id)
    if pin.blocked_at is not None:
        return pinned.blocked(office)
    if said.pin is None:
        return pinned.no_pin(office)
    if pin.chosen and waiting is not None and own:
        return _confirm(office, waiting, said.pin, do)
    return _choose(office, said.pin, pin) if said.worded else pinned.nothing_waits(office)


def _choose(office: Office, pin: str, before: store.Pin) -> Outcome:
    if pins.is_easy(pin, office.me.number):
        return pinned.too_easy(office)
    kept = store.hashed(pin)
    if before.chosen:
        _keep(office, office.tongue.say("new PIN"), kept)
        return pinned.old_one_first(office)
    return pinned.chosen(office, kept)


def _confirm(office: Office, waiting: Waiting, pin: str, do: Do) -> Outcome:
    if not store.attempt(office.tx, office.me.id, pin, office.now):
        outcome = pinned.wrong(office)
        if store.of(office.tx, office.me.id).blocked_at is not None:
            office_waiting.drop(office.tx, office.me.id)
        return outcome
    office_waiting.drop(office.tx, office.me.id)
    if waiting.new_pin is not None:
        return pinned.chosen(office, waiting.new_pin)
    first = messages.message(office.tx, waiting.message_id)
    if first is None:
        return pinned.nothing_waits(office)
    text = replace(office.message, id=first.id, text=first.text, at=first.at, arrived=first.arrived)
    return do(replace(office, message=text, proven=True)) or pinned.nothing_waits(office)


def _keep(office: Office, words: str, new_pin: str | None) -> None:
    what = Waiting(office.cooperative.id, office.message.id, words, new_pin)
    office_waiting.wait(office.tx, office.me.id, what, office.now + pinned.WAITS)

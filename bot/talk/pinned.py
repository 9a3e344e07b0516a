"""What owners and managers have in common where a PIN is asked for: choosing one, a wrong one, and none any more."""

from datetime import datetime, timedelta
from typing import Protocol

from bot.books import Transaction, alarms
from bot.books import pins as store
from bot.books.model import Person
from bot.speech.language import Tongue
from bot.speech.numbers import shortened
from bot.talk.desk import Outcome
from bot.talk.exchange import Kind

#: So long a change waits for its PIN.
WAITS = timedelta(minutes=10)

#: How often somebody without a PIN is told how to choose one.
HINT_EVERY = timedelta(days=7)


class Seat(Protocol):
    """Somebody with a text before him, at a farm or at a cooperative."""

    @property
    def tx(self) -> Transaction:
        """The open transaction."""

    @property
    def me(self) -> Person:
        """Who texts."""

    @property
    def now(self) -> datetime:
        """The clock of the house."""

    @property
    def tongue(self) -> Tongue:
        """The sender's language."""


def none_chosen(seat: Seat) -> Outcome:
    """A change that needs a PIN, from somebody without one."""
    text = seat.tongue.say("Choose a PIN first: text pin and 4 to 6 digits. Nothing changed.")
    return Outcome(Kind.REFUSED, text)


def to_confirm(seat: Seat, what: str) -> Outcome:
    """A change is done when the PIN comes."""
    return Outcome(Kind.ASKED, seat.tongue.say("Send your PIN to confirm: {what}", what=what))


def two_at_once(seat: Seat) -> Outcome:
    """The PIN might be meant for another change: somebody who forges the number could slip his own in between."""
    refused = seat.tongue.say("Another change was waiting for your PIN: neither is done. Text one, then the PIN.")
    return Outcome(Kind.REFUSED, refused)


def no_pin(seat: Seat) -> Outcome:
    """A text about a PIN whose digits cannot be one."""
    return Outcome(Kind.ASKED, seat.tongue.say("A PIN is 4 to 6 digits. Text it like: pin and the digits."))


def too_easy(seat: Seat) -> Outcome:
    """A PIN that anybody would try first."""
    return Outcome(Kind.REFUSED, seat.tongue.say("That PIN is too easy to guess. Choose another."))


def old_one_first(seat: Seat) -> Outcome:
    """Whoever has a PIN needs it for a new one."""
    return Outcome(Kind.ASKED, seat.tongue.say("Send your old PIN to confirm the new one."))


def nothing_waits(seat: Seat) -> Outcome:
    """A PIN that nobody asked for."""
    return Outcome(Kind.REFUSED, seat.tongue.say("No change waits for a PIN. Nothing changed."))


def chosen(seat: Seat, kept: str) -> Outcome:
    """A new PIN, hashed, is his from now on."""
    store.choose(seat.tx, seat.me.id, kept, seat.now)
    return Outcome(
        Kind.CHANGED,
        seat.tongue.say("Your PIN is set. Delete your text, tell nobody. Was it not you? Call the operator at once."),
    )


def wrong(seat: Seat) -> Outcome:
    """A wrong PIN; the last of too many sounds an alarm."""
    if store.of(seat.tx, seat.me.id).blocked_at is None:
        return Outcome(Kind.REFUSED, seat.tongue.say("Wrong PIN. Nothing changed. Send it again."))
    line = f"{store.MOST_WRONG} wrong PINs from {shortened(seat.me.number)}: call him, then `tapping-log people reset-pin`."
    alarms.sound(seat.tx, number=seat.me.number, kind="pin", line=line, at=seat.now, who=shortened(seat.me.number))
    return blocked(seat)


def blocked(seat: Seat) -> Outcome:
    """No PIN is taken by text any more."""
    text = seat.tongue.say(
        "Too many wrong PINs: such changes are blocked by text. Use your page (text: link) or call the operator."
    )
    return Outcome(Kind.REFUSED, text)


def with_hint(seat: Seat, outcome: Outcome) -> Outcome:
    """What was done, with word now and then of how to choose a PIN where none is set."""
    done = outcome.kind in (Kind.ENTERED, Kind.CHANGED, Kind.REMOVED, Kind.ANSWERED)
    pin = store.of(seat.tx, seat.me.id)
    if outcome.text is None or not done or pin.chosen:
        return outcome
    if pin.hinted_at is not None and seat.now - pin.hinted_at < HINT_EVERY:
        return outcome
    store.hinted(seat.tx, seat.me.id, seat.now)
    hint = seat.tongue.say("Against forged texts choose a PIN: text pin and 4 to 6 digits.")
    return Outcome(outcome.kind, f"{outcome.text} {hint}", outcome.others)

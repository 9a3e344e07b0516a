"""Too many texts, and talks between machines: answered with silence, and the operator hears of it."""

from collections.abc import Sequence
from datetime import timedelta

from bot.books import Transaction, alarms, messages
from bot.books.model import Person
from bot.speech.language import economical, tongue
from bot.speech.numbers import shortened
from bot.talk.desk import Outcome
from bot.talk.exchange import Incoming, Kind
from bot.talk.pace import Over, Pace

#: The same answer goes to a number so many times within this time; then another machine is thought to answer it.
SAME_ANSWERS, WITHIN = 5, timedelta(minutes=10)

#: How many of the last answers are looked at.
LOOKED_AT = 30

#: A text shorter than this may be ours by chance (`ok`).
SHORTEST_ECHO = 12


def too_many(tx: Transaction, pace: Pace | None, me: Person | None, incoming: Incoming) -> Outcome | None:
    """What to say to one text too many; None while there are not too many. It is kept and not read.

    Somebody who is enrolled is told once an hour; strangers are told nothing, since each answer costs.
    """
    over = None if pace is None else pace.over(incoming.sender)
    if pace is None or over is None:
        return None
    _sound_pace(tx, over, incoming)
    if me is None or me.opted_out_at is not None or me.blocked_at is not None or not pace.may_tell(incoming.sender):
        return Outcome(Kind.LIMITED, None)
    return Outcome(
        Kind.LIMITED,
        tongue(me.language).say("Too many texts. This one was kept and NOT entered. Send it again in an hour."),
    )


def _sound_pace(tx: Transaction, over: Over, incoming: Incoming) -> None:
    """Let the operator know, once a day for a number and once for all together."""
    number, who = (incoming.sender, shortened(incoming.sender)) if over is Over.ONE else ("", "all numbers together")
    line = f"More texts from {who} than are answered: they are kept, and nothing of them is entered."
    kind = "pace" if over is Over.ONE else "pace all"
    alarms.sound(tx, number=number, kind=kind, line=line, at=incoming.arrived, who=who)


def answered_of_late(tx: Transaction, incoming: Incoming) -> list[str]:
    """What the sender was answered a short while ago."""
    since = incoming.arrived - WITHIN
    return messages.answers_since(tx, incoming.sender, since, except_id=incoming.id, most=LOOKED_AT)


def is_echo(incoming: Incoming, answered: Sequence[str]) -> bool:
    """Whether the text is word for word what its sender was answered: a machine sends our texts back."""
    body = _bare(incoming.text)
    return len(body) >= SHORTEST_ECHO and any(_bare(each) == body for each in answered)


def is_loop(outcome: Outcome, answered: Sequence[str]) -> bool:
    """Whether the sender got the same answer again and again."""
    return outcome.text is not None and list(answered).count(economical(outcome.text)) >= SAME_ANSWERS


def silenced(tx: Transaction, incoming: Incoming, outcome: Outcome) -> Outcome:
    """The outcome without its answer; the operator hears of the machine."""
    line = f"{shortened(incoming.sender)} seems to be a machine that answers our texts: it gets no answer."
    alarms.sound(
        tx, number=incoming.sender, kind="loop", line=line, at=incoming.arrived, who=shortened(incoming.sender)
    )
    return Outcome(outcome.kind, None, outcome.others)


def _bare(text: str) -> str:
    return " ".join(text.casefold().split())

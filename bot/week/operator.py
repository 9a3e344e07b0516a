"""What the operators are texted when something needs a person: one short sentence a kind, in their language.

Each alarm is texted once to each operator; the same comes again a day later at the earliest, if it is still the case
(`bot.books.alarms`). These texts go out before all others and do not wait where the parts of the day are used up: there are
few of them, and without them nobody would know.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from bot.books import Transaction, alarms, outbox, people
from bot.speech.language import Tongue, economical, tongue
from bot.speech.parts import count_parts

Figures = Mapping[str, str]

#: A text that could not go out for so long is of no use: by then the alarm was raised again.
NOT_AFTER = timedelta(hours=20)


@dataclass(frozen=True)
class Operators:
    """Who is texted: numbers in E.164 form, and the language of those who are not in the books."""

    numbers: tuple[str, ...] = ()
    language: str = "en"


NOBODY = Operators()


def _books_damaged(speech: Tongue, _: Figures) -> str:
    return speech.say("The books are damaged. Stop the server, keep the file, restore the last backup.")


def _books_unusable(speech: Tongue, _: Figures) -> str:
    return speech.say("The books cannot be used: no text is answered. Run tapping-log check.")


def _backup_failed(speech: Tongue, _: Figures) -> str:
    return speech.say("The backup failed. Run tapping-log backup and see why.")


def _backup_old(speech: Tongue, given: Figures) -> str:
    return speech.say("No backup since {day}. Run tapping-log backup.", day=given["day"])


def _backup_none(speech: Tongue, _: Figures) -> str:
    return speech.say("There is no backup of the books yet. Run tapping-log backup.")


def _disk(speech: Tongue, given: Figures) -> str:
    return speech.say("The disk is nearly full: {free} GB free. Make room.", free=given["free"])


def _clock(speech: Tongue, given: Figures) -> str:
    return speech.say("The server's clock jumped by {minutes} minutes. Set it right.", minutes=given["minutes"])


def _cost(speech: Tongue, given: Figures) -> str:
    return speech.say("Cost limit reached: {parts} of {limit} parts today. Texts that wait: {waiting}.", **given)


def _carrier(speech: Tongue, given: Figures) -> str:
    return speech.say("The carrier refuses texts (code {code}). Run tapping-log check.", code=given["code"])


def _doubt(speech: Tongue, _: Figures) -> str:
    return speech.say("The carrier does not say whether it takes texts. They wait.")


def _unsure(speech: Tongue, given: Figures) -> str:
    return speech.say("Texts that may or may not have gone out: {count}. Ask the carrier.", count=given["count"])


def _gateway(speech: Tongue, given: Figures) -> str:
    return speech.say("The gateway {name} does not call any more: see its power and network.", name=given["name"])


def _pace(speech: Tongue, given: Figures) -> str:
    return speech.say("Too many texts from {who}: they are kept, not entered.", who=given["who"])


def _pace_of_all(speech: Tongue, _: Figures) -> str:
    return speech.say("Too many texts from all numbers together: they are kept, not entered.")


def _loop(speech: Tongue, given: Figures) -> str:
    return speech.say("{who} seems to be a machine that answers our texts: it gets no answer.", who=given["who"])


def _pin(speech: Tongue, given: Figures) -> str:
    return speech.say("Wrong PINs from {who}: call him, then reset his PIN.", who=given["who"])


def _other(speech: Tongue, _: Figures) -> str:
    return speech.say("Something needs you. Run tapping-log check.")


SENTENCES: Mapping[str, Callable[[Tongue, Figures], str]] = {
    "books damaged": _books_damaged,
    "books unusable": _books_unusable,
    "backup failed": _backup_failed,
    "backup old": _backup_old,
    "backup none": _backup_none,
    "disk": _disk,
    "clock": _clock,
    "cost": _cost,
    "carrier": _carrier,
    "doubt": _doubt,
    "unsure": _unsure,
    "silent": _gateway,
    "pace": _pace,
    "pace all": _pace_of_all,
    "loop": _loop,
    "pin": _pin,
}


def sentence(speech: Tongue, kind: str, given: Figures) -> str:
    """What an operator is told of an alarm. The kind is its first word or words, what follows tells one from another."""
    said = SENTENCES.get(kind) or SENTENCES.get(kind.partition(" ")[0]) or _other
    try:
        return said(speech, given)
    except KeyError:  # raised by an earlier version, which kept no figures
        return _other(speech, given)


def write(tx: Transaction, operators: Operators, now: datetime) -> int:
    """Put what the operators were not texted yet in the outbox; returns how many texts. A lost phone gets none."""
    if not operators.numbers:
        return 0
    found = alarms.to_text(tx, now)
    return sum(_put(tx, each, number, operators.language, now) for each in found for number in operators.numbers)


def _put(tx: Transaction, alarm: alarms.Alarm, number: str, language: str, now: datetime) -> bool:
    me = people.person_by_number(tx, number)
    if me is not None and (me.opted_out_at is not None or me.blocked_at is not None):
        return False
    text = economical(sentence(tongue(language if me is None else me.language), alarm.kind, alarm.figures))
    put = outbox.put(
        tx,
        to=number,
        text=text,
        parts=count_parts(text).parts,
        because=None,
        key=f"alarm>{alarm.id}>{number}",
        due_at=now,
        created_at=now,
        not_after=now + NOT_AFTER,
    )
    return put is not None


def spoken(operators: Operators, kind: str) -> Sequence[tuple[str, str]]:
    """Number and text for each operator where the books cannot be asked who he is."""
    text = economical(sentence(tongue(operators.language), kind, {}))
    return [(number, text) for number in operators.numbers]

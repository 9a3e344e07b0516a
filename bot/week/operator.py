"""What the operators are texted when something needs a person: one short sentence a kind, in their language.

Each alarm is texted once to each operator; the same comes again a day later at the earliest, if it is still the case
(`bot.books.alarms`). These texts go out before all others and do not wait where the parts of the day are used up: there are
few of them, and without them nobody would know.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from bot.books import Transaction, alarms, outbox, people
from bot.speech.language import Tongue, economical, later, tongue
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


#: What is said of each kind of alarm; its figures are put in.
SENTENCES: Mapping[str, str] = {
    "books damaged": later("The books are damaged. Stop the server, keep the file, restore the last backup."),
    "books unusable": later("The books cannot be used: no text is answered. Run tapping-log check."),
    "backup failed": later("The backup failed. Run tapping-log backup and see why."),
    "backup old": later("No backup since {day}. Run tapping-log backup."),
    "backup none": later("There is no backup of the books yet. Run tapping-log backup."),
    "disk": later("The disk is nearly full: {free} GB free. Make room."),
    "clock": later("The server's clock jumped by {minutes} minutes. Set it right."),
    "cost": later("Cost limit reached: {parts} of {limit} parts today. Texts that wait: {waiting}."),
    "carrier": later("The carrier refuses texts (code {code}). Run tapping-log check."),
    "doubt": later("The carrier does not say whether it takes texts. They wait."),
    "unsure": later("Texts that may or may not have gone out: {count}. Ask the carrier."),
    "silent": later("The gateway {name} does not call any more: see its power and network."),
    "pace": later("Too many texts from {who}: they are kept, not entered."),
    "pace all": later("Too many texts from all numbers together: they are kept, not entered."),
    "loop": later("{who} seems to be a machine that answers our texts: it gets no answer."),
    "pin": later("Wrong PINs from {who}: call him, then reset his PIN."),
}

OTHER = later("Something needs you. Run tapping-log check.")


def sentence(speech: Tongue, kind: str, given: Figures) -> str:
    """What an operator is told of an alarm. The kind is its first word or words, what follows tells one from another."""
    message = SENTENCES.get(kind) or SENTENCES.get(kind.partition(" ")[0]) or OTHER
    try:
        return speech.say(message, **given)
    except KeyError:  # raised by an earlier version, which kept no figures
        return speech.say(OTHER)


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

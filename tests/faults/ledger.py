"""What has to hold in the books after every kill."""

from collections import Counter
from dataclasses import dataclass, field
from datetime import datetime, timedelta

from bot.books import Transaction, entries, messages, outbox
from bot.books.model import StoredMessage, Waiting
from bot.talk.exchange import Kind
from tests.faults.house import Text


@dataclass
class Found:
    """What was counted, and every fault."""

    texts: int = 0
    lines: int = 0
    kinds: Counter[str] = field(default_factory=Counter)
    faults: list[str] = field(default_factory=list)


def look(tx: Transaction, since: datetime, answers: dict[str, str | None], sent: dict[str, Text], found: Found) -> None:
    """Every answered text is there with its answer; of texts that arrived since then, none is there by half."""
    for text_id, reply in answers.items():
        message = messages.message(tx, text_id)
        if message is None:
            found.faults.append(f"{text_id} was answered and is not in the books")
        elif message.reply != reply:
            found.faults.append(f"{text_id} was answered {reply!r}; the books say {message.reply!r}")
    told = Counter(each.because for each in outbox.listing(tx, since, since + timedelta(days=2)))
    for message in messages.listing(tx, since, since + timedelta(days=2)):
        found.faults += _half(tx, message, sent[message.id], told[message.id], found)


def _half(tx: Transaction, message: StoredMessage, text: Text, told: int, found: Found) -> list[str]:
    """A text has its answer, its line and its texts to others, or it is not there at all."""
    found.texts += 1
    found.kinds[message.kind or "none"] += 1
    lines = [
        (entry.record.litres, entry.record.kg) for entry in entries.of_message(tx, message.id) if not entry.removed
    ]
    found.lines += len(lines)
    if message.kind is None:
        return [f"{message.id} was never closed"]
    if message.kind != Kind.ENTERED:
        return [f"{message.id} is {message.kind} and has lines {lines}"] if lines else []
    wanted = (text.ml, text.grams)
    got = [tuple(None if each is None else int(each * 1000) for each in line) for line in lines]
    faults = [] if got == [wanted] else [f"{message.id} {text.body!r}: the books hold {got}"]
    return faults if told == text.told else [*faults, f"{message.id}: {told} others are told, not {text.told}"]


def outgoing(waiting: list[Waiting], taken: Counter[str]) -> list[str]:
    """Every text went out once; or it may have gone out, once at most, and is marked as unknown."""
    faults = [f"{text_id} went out {n} times" for text_id, n in taken.items() if n > 1]
    for each in waiting:
        if each.state not in ("sent", "unsure"):
            faults.append(f"{each.id} is still {each.state}")
        elif each.state == "sent" and taken[each.id] != 1:
            faults.append(f"{each.id} is said to be sent and went out {taken[each.id]} times")
    unknown = taken.keys() - {each.id for each in waiting}
    return faults + [f"{text_id} went out and is not in the books" for text_id in unknown]

"""What is due now: weekly summaries, closing texts of cooperatives and reminders are written to the outbox, and waiting texts are sent.

Run each minute by a timer. Running it twice, late, or on two machines at once does no harm: a summary has a key that exists
once, and a text is claimed before it is sent.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from functools import partial
from zoneinfo import ZoneInfo

from bot.books import Books, Transaction, alarms, beginnings, farms, gateways, messages, outbox, people
from bot.books.convert import midnight_utc
from bot.books.model import Farm, Person, Waiting
from bot.speech.language import economical, tongue
from bot.speech.parts import count_parts
from bot.talk.exchange import Delivery, Fate
from bot.talk.house import PLAIN, House
from bot.week import operator, words
from bot.week.closing import write_closings
from bot.week.reminders import Reminded, write_reminders

Send = Callable[[Waiting], Delivery]

#: Asks the carrier after a text of which it is not known whether it went out: SENT it did, LATER it did not and may be sent
#: again, UNSURE it cannot tell.
Ask = Callable[[Waiting], Delivery]

#: When a text that a carrier could not take now is tried again, by the number of tries so far; then it is given up.
TRY_AGAIN = (timedelta(minutes=2), timedelta(minutes=15), timedelta(hours=1), timedelta(hours=4))

#: A text that has been on its way to the carrier for so long was left there by something that broke.
LEFT_OVER = timedelta(minutes=15)

#: So many texts are asked after in a run, each again after LEFT_OVER, until it is so old that an answer would help nobody.
ASKED_AT_ONCE, ASKED_WITHIN = 20, timedelta(hours=24)

#: A gateway that fetched a text and was silent gets the same one again after the first time, and for as long as the second:
#: it knows what it has passed on, and may have been without power or network.
LEASE, LEASED_OVER = timedelta(minutes=5), timedelta(hours=24)

#: A gateway that fetches texts and was silent for so long needs a person: texts come in by it too.
SILENT = timedelta(hours=1)

#: Calls of gateways are kept so long; longer than their time stamps let them in.
CALLS_KEPT = timedelta(hours=24)

#: A summary whose hour passed longer ago than this (the machine was off) is not sent any more: the next one comes.
SUMMARY_LATEST = timedelta(days=2)

#: After so many texts in a row of which the carrier does not say whether it took them, a run sends no more: else a carrier
#: that hangs would leave all in doubt.
MOST_IN_DOUBT = 2

#: A text that was put so long after the present was put by a clock that has been set back since.
CLOCKS_DIFFER = timedelta(minutes=10)

#: The heartbeat that counts runs, so that somebody who looks can see that the timer runs.
RUNS = "due"

#: A summary due before noon speaks of the days up to the one before.
NOON = 12


@dataclass(frozen=True)
class Due:
    """What a run did. `alarms` are lines for the operator."""

    written: int = 0
    sent: int = 0
    later: int = 0
    given_up: int = 0
    unsure: int = 0
    reminded: Reminded = field(default_factory=Reminded)
    alarms: tuple[str, ...] = field(default_factory=tuple)


def run_due(
    books: Books,
    now: datetime,
    send: Send | None,
    house: House = PLAIN,
    parts_per_day: int = 0,
    goes_on: Callable[[], bool] = lambda: True,
    operators: operator.Operators = operator.NOBODY,
    ask: Ask | None = None,
) -> Due:
    """Write what is due and send what waits. With `send` None nothing is sent: texts stay in the outbox.

    No other text is begun once `goes_on` says no. Once `parts_per_day` parts have gone out since midnight UTC, answers
    included, texts wait for the next day (0: no limit). What needs a person is texted to the operators. Of
    texts that may or may not have gone out the carrier is asked, where it can be.
    """
    written = write_summaries(books, now, house)
    written += books.run_transaction(lambda tx: write_closings(tx, now, house.cooperative_link))
    reminded = books.run_transaction(lambda tx: write_reminders(tx, now))
    books.run_transaction(lambda tx: drop_what_is_over(tx, now))
    left = books.run_transaction(lambda tx: note_left_over(tx, now))
    lost = left if ask is None else _ask_after(books, now, ask)
    books.run_transaction(lambda tx: _sound_unsure(tx, lost, now))
    raised = books.run_transaction(lambda tx: alarms.take(tx, now))
    books.run_transaction(lambda tx: operator.write(tx, operators, now))
    deliveries = [] if send is None else _send_waiting(books, now, send, parts_per_day, goes_on)
    held = [] if send is None else books.run_transaction(lambda tx: _held_alarm(tx, now, parts_per_day))
    books.run_transaction(lambda tx: _sound_of_sending(tx, deliveries, now))
    return Due(
        written=written,
        sent=sum(each.fate is Fate.SENT for each in deliveries),
        later=sum(each.fate is Fate.LATER for each in deliveries),
        given_up=sum(each.fate in (Fate.NEVER, Fate.OPTED_OUT) for each in deliveries),
        unsure=lost + sum(each.fate is Fate.UNSURE for each in deliveries),
        reminded=reminded,
        alarms=tuple(
            dict.fromkeys(
                [
                    *raised,
                    *_left_over_alarm(lost),
                    *(each.alarm for each in deliveries if each.alarm),
                    *_doubt_alarm(deliveries),
                    *held,
                ]
            )
        ),
    )


def sound_silent(tx: Transaction, names: Iterable[str], now: datetime) -> None:
    """Tell the operator, once a day, of gateways that do not call any more."""
    for name in names:
        last = gateways.heard(tx, name)
        if last is None or now - last > SILENT:
            since = "for a day" if last is None else f"since {last:%Y-%m-%d %H:%M} UTC"
            line = f"The gateway {name} has not called {since}: see that it has power, network and the right clock."
            alarms.sound(tx, number="", kind=f"silent {name}", line=line, at=now, name=name)


def drop_what_is_over(tx: Transaction, now: datetime) -> None:
    """Give up texts that would come too late, and forget what was said to begin a farm and never ended; count the run."""
    outbox.set_right(tx, now, now + CLOCKS_DIFFER)
    outbox.lapse(tx, now)
    beginnings.drop_expired(tx, now)
    gateways.drop_calls(tx, now - CALLS_KEPT)
    tx.beat(RUNS)


def note_left_over(tx: Transaction, now: datetime) -> int:
    """Mark texts that were being sent when something broke: whether they went out is not known, so they are not sent again."""
    found = outbox.left_sending(tx, now - LEFT_OVER, now - LEASED_OVER)
    for waiting in found:
        outbox.unsure(tx, waiting.id, at=now)
    return len(found)


def _ask_after(books: Books, now: datetime, ask: Ask) -> int:
    """Ask the carrier after texts of which it is not known whether they went out; returns of how many it is not known still."""
    found = books.run_transaction(
        lambda tx: outbox.to_ask_after(tx, now, now - LEFT_OVER, now - ASKED_WITHIN, ASKED_AT_ONCE)
    )
    unknown = 0
    for waiting in found:
        answer = ask(waiting)
        books.run_transaction(partial(_note_answer, waiting=waiting, answer=answer, now=now))
        unknown += answer.fate is Fate.UNSURE
    return unknown


def _note_answer(tx: Transaction, waiting: Waiting, answer: Delivery, now: datetime) -> None:
    if answer.fate is Fate.UNSURE:
        outbox.asked_after(tx, waiting.id, at=now)
    else:
        _note_unless_settled(tx, waiting, answer, now, "unsure")


def _sound_unsure(tx: Transaction, count: int, now: datetime) -> None:
    for line in _left_over_alarm(count):
        alarms.sound(tx, number="", kind="unsure", line=line, at=now, told=True, count=count)


def _sound_of_sending(tx: Transaction, deliveries: Sequence[Delivery], now: datetime) -> None:
    """Raise what the carrier said, so that the operators are texted of it once a day; the run prints it each time.

    Texts of which it does not say what became of them are asked after, or told of, when LEFT_OVER has passed.
    """
    for line in _doubt_alarm(deliveries):
        alarms.sound(tx, number="", kind="doubt", line=line, at=now, told=True)
    for each in deliveries:
        if each.alarm:
            kind = f"carrier {each.code}"
            alarms.sound(tx, number="", kind=kind, line=each.alarm, at=now, told=True, code=each.code or "-")


def _left_over_alarm(lost: int) -> list[str]:
    line = f"{lost} texts may or may not have gone out: look at them with tapping-log messages and ask the carrier."
    return [line] if lost else []


def write_summaries(books: Books, now: datetime, house: House = PLAIN) -> int:
    """Put the summaries in the outbox whose hour has come, one for each owner and week. Returns how many.

    Each is written in a transaction of its own, so that texts that come in meanwhile wait for one farm and not for all.
    """
    due = books.run_transaction(lambda tx: owners_due(tx, now))
    return sum(books.run_transaction(partial(_write_summary, owner=each, now=now, house=house)) for each in due)


@dataclass(frozen=True)
class OwnerDue:
    """Somebody whose summary is due: the farms that it speaks of, its last day, and its key in the outbox."""

    owner: Person
    farm_ids: tuple[str, ...]
    last: date
    key: str


def owners_due(tx: Transaction, now: datetime) -> list[OwnerDue]:
    """The owners whose hour has come and who have no summary of the week yet."""
    owned: dict[str, tuple[Person, list[str]]] = {}
    for each in people.owners(tx):
        owned.setdefault(each.person.id, (each.person, []))[1].append(each.farm_id)
    found = (_due(tx, owner, farm_ids, now) for owner, farm_ids in owned.values())
    return [each for each in found if each is not None]


def _due(tx: Transaction, owner: Person, farm_ids: Sequence[str], now: datetime) -> OwnerDue | None:
    """The week of all farms of an owner is told at the hour of the first of them."""
    if owner.opted_out_at is not None or owner.blocked_at is not None:
        return None
    due = last_due(farms.farm(tx, farm_ids[0]), now)
    last = due.date() if due.hour >= NOON else due.date() - timedelta(days=1)
    key = f"week:{owner.id}:{last:%G-W%V}"  # another weekday set within the week brings no second one
    late = now - due > SUMMARY_LATEST or outbox.has(tx, key)
    return None if late else OwnerDue(owner, tuple(farm_ids), last, key)


def _write_summary(tx: Transaction, owner: OwnerDue, now: datetime, house: House) -> bool:
    """The week of all farms of an owner in one text; False where another run was quicker."""
    if outbox.has(tx, owner.key):
        return False
    owned, person = [farms.farm(tx, each) for each in owner.farm_ids], owner.owner
    link = None if house.link is None else house.link(owned[0].id, person.id)
    text = economical(words.weekly(tx, owned, tongue(person.language), owner.last, link))
    put = outbox.put(
        tx,
        to=person.number,
        text=text,
        parts=count_parts(text).parts,
        because=None,
        key=owner.key,
        due_at=now,
        created_at=now,
    )
    return put is not None


def last_due(farm: Farm, now: datetime) -> datetime:
    """The latest moment, not after now, at which the farm's summary falls due, on its own clock."""
    local = now.astimezone(ZoneInfo(farm.timezone))
    back = (local.weekday() - farm.settings.summary_weekday) % 7
    day = local.date() - timedelta(days=back)
    due = _at_hour(day, farm.settings.summary_hour, farm.timezone)
    return due if due <= now else _at_hour(day - timedelta(days=7), farm.settings.summary_hour, farm.timezone)


def _at_hour(day: date, hour: int, zone: str) -> datetime:
    return datetime(day.year, day.month, day.day, hour, tzinfo=ZoneInfo(zone))


def _doubt_alarm(deliveries: Sequence[Delivery]) -> list[str]:
    line = "The carrier does not say whether it takes texts: those that are left wait for the next run."
    return [line] if _in_doubt(deliveries) else []


def _in_doubt(deliveries: Sequence[Delivery]) -> bool:
    """Whether the carrier seems to hang."""
    last = deliveries[-MOST_IN_DOUBT:]
    return len(last) == MOST_IN_DOUBT and all(each.fate is Fate.UNSURE for each in last)


def _send_waiting(
    books: Books, now: datetime, send: Send, parts_per_day: int, goes_on: Callable[[], bool]
) -> list[Delivery]:
    deliveries: list[Delivery] = []
    while goes_on() and not _in_doubt(deliveries):
        waiting = books.run_transaction(lambda tx: outbox.claim_alarm(tx, now))
        if waiting is None:
            break
        deliveries.append(_hand_over(books, waiting, send, now))
    spent = books.run_transaction(lambda tx: _parts_today(tx, now)) if parts_per_day else -1
    while spent < parts_per_day and goes_on() and not _in_doubt(deliveries):
        waiting = books.run_transaction(lambda tx: outbox.claim(tx, now))
        if waiting is None:
            break
        deliveries.append(_hand_over(books, waiting, send, now))
        spent += waiting.parts if parts_per_day else 0
    return deliveries


def _hand_over(books: Books, waiting: Waiting, send: Send, now: datetime) -> Delivery:
    delivery = send(waiting)
    books.run_transaction(lambda tx: _note_unless_settled(tx, waiting, delivery, now, "sending"))
    return delivery


def _note_unless_settled(tx: Transaction, waiting: Waiting, delivery: Delivery, now: datetime, state: str) -> None:
    """What became of a text, unless a receipt has said so while the carrier was asked."""
    current = outbox.outgoing(tx, waiting.id)
    if current is not None and (current.state, current.attempts) == (state, waiting.attempts):
        note(tx, waiting, delivery, now)


def _parts_today(tx: Transaction, now: datetime) -> int:
    """Parts that went out since midnight UTC: answers, and texts that were sent or may have been."""
    return messages.parts_answered(tx, midnight_utc(now)) + outbox.parts_sent(tx, midnight_utc(now))


def _held_alarm(tx: Transaction, now: datetime, parts_per_day: int) -> list[str]:
    """What to tell where texts wait since the parts of the day have gone out."""
    waiting, parts = outbox.waiting_count(tx), _parts_today(tx, now) if parts_per_day else -1
    line = f"{parts} parts went out today, TAPPING_LOG_PARTS_PER_DAY is {parts_per_day}: {waiting} texts wait for midnight UTC."
    if not waiting or parts < parts_per_day:
        return []
    figures = {"parts": parts, "limit": parts_per_day, "waiting": waiting}
    alarms.sound(tx, number="", kind="cost", line=line, at=now, told=True, **figures)
    return [line]


def fetch(
    books: Books, now: datetime, gateway: str, most: int, *, again: bool = False, parts_per_day: int = 0
) -> list[Waiting]:
    """What a gateway is to send now, at most so many: first what it fetched before and of which nothing was heard.

    With `again` it does not know what it fetched last and gets that at once. Once the parts of the day have gone out, nothing
    new is given but texts to the operators.
    """
    before = now - (timedelta(milliseconds=1) if again else LEASE)

    def one(tx: Transaction) -> Waiting | None:
        again = outbox.renew_lease(tx, gateway, now, before) or outbox.claim_alarm(tx, now, gateway)
        if again is not None or (parts_per_day and _parts_today(tx, now) >= parts_per_day):
            return again
        return outbox.claim(tx, now, gateway)

    found: list[Waiting] = []
    while len(found) < most and (waiting := books.run_transaction(one)) is not None:
        found.append(waiting)
    return found


def note(tx: Transaction, waiting: Waiting, delivery: Delivery, now: datetime) -> None:
    """What became of a text that was handed over: it is sent, waits for another try, is given up, or may have gone out."""
    if delivery.fate is Fate.SENT:
        outbox.sent(tx, waiting.id, delivery.carrier_id, at=now)
    elif delivery.fate is Fate.UNSURE:
        outbox.unsure(tx, waiting.id, at=now)
    elif delivery.fate is Fate.LATER and waiting.attempts <= len(TRY_AGAIN):
        outbox.failed(tx, waiting.id, delivery.code, now + TRY_AGAIN[waiting.attempts - 1], at=now)
    else:
        outbox.failed(tx, waiting.id, delivery.code, None, at=now)
    if delivery.fate is Fate.OPTED_OUT:
        person = people.person_by_number(tx, waiting.to)
        if person is not None:
            people.opt_out(tx, person.id, now)

"""Reminders: a tapper without a word on a tapping day, and his owner the next morning if there is still none.

Reminders that escalate to a supervisor cut overdue work; without the escalation they lose their effect (DeRenzi et al.,
"Improving community health worker performance through automated SMS", ICTD 2012).

Each text has a key of person and day in the outbox, so that it exists once whatever crashes or runs twice, and a moment
after which it is not sent any more, so that no later try falls into the night.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from bot.books import Transaction, entries, farms, messages, outbox, people
from bot.books.farm_settings import QUIET_FROM
from bot.books.model import Entry, Farm, Membership, Person
from bot.reckon.tapping import FAULTS, is_tapping_day, most_tasks
from bot.speech.language import Tongue, economical, tongue
from bot.speech.parts import count_parts
from bot.week.concerns import LITRES_DAYS, usual_pause
from parsers.reading import ALL_BLOCKS, Reason, Role, What

#: The hour at which an owner is told of the day before.
MORNING = 8

#: Texts of this kind that one person gets at most in seven days.
MOST_A_WEEK = 2

#: So many names are said to an owner; of more, only their number.
MOST_NAMES = 6

#: What it costs is told for so many days.
COST_DAYS = 30

_REMIND, _UNHEARD = "remind", "unheard"


@dataclass(frozen=True)
class Reminded:
    """What was written now: texts to tappers, texts to owners, the parts of all; and parts that went out in COST_DAYS days."""

    tappers: int = 0
    owners: int = 0
    parts: int = 0
    parts_of_late: int = 0


def write_reminders(tx: Transaction, now: datetime) -> Reminded:
    """Put the reminders in the outbox whose hour has come."""
    watched = [farm for farm in farms.all_farms(tx) if farm.settings.reminder_hour is not None]
    tappers = [part for farm in watched for part in _remind(tx, farm, now)]
    owners = list(_tell_owners(tx, watched, now))
    late = outbox.parts_with_an_end(tx, now - timedelta(days=COST_DAYS))
    return Reminded(len(tappers), len(owners), sum(tappers) + sum(owners), late)


def silent_tappers(tx: Transaction, farm: Farm, day: date, tappers: Sequence[Membership]) -> list[Membership]:
    """Which of these tappers of a farm gave no word about a day on which one was to be expected.

    Nobody where no tapping system is set (or it makes no calendar), where the day is no tapping day, or where rain was
    entered for it. A word is anything that he texted since that day began, or a line about his work or his blocks.
    """
    tasks = _tasks(farm, day) if tappers else 0
    if not tasks:
        return []
    standing = entries.standing(tx, farm.id, first=day, last=day)
    if any(each.record.rain or each.record.reason is Reason.RAIN for each in standing):
        return []
    owners = {each.id for each in _with_role(tx, farm, Role.OWNER)}
    quiet = [
        each
        for each in tappers
        if not _is_accounted_for(each, standing, owners) and not _texted_since(tx, each.person, _at(farm, day, 0))
    ]
    first, before = day - timedelta(days=LITRES_DAYS), day - timedelta(days=1)
    reported = entries.reported_days(tx, farm.id, first, before) if quiet else {}
    return [each for each in quiet if _is_his_turn(each, reported.get(each.person.id, ()), day, tasks)]


def _with_role(tx: Transaction, farm: Farm, role: Role) -> list[Person]:
    return [each.person for each in people.members(tx, farm.id) if each.role is role]


def _tappers(tx: Transaction, farm: Farm, day: date, *, reminded: bool) -> list[Membership]:
    """The tappers who were reminded on a day, or who were not."""
    return [
        each
        for each in people.members(tx, farm.id)
        if each.role is Role.TAPPER and outbox.has(tx, _key(_REMIND, each.person, day)) == reminded
    ]


def _tasks(farm: Farm, day: date) -> int:
    """How many tasks are tapped in turn; none where the day is no tapping day."""
    try:
        return most_tasks(farm) if is_tapping_day(farm, day) else 0
    except FAULTS:
        return 0


def _is_his_turn(tapper: Membership, reported: Sequence[date], day: date, tasks: int) -> bool:
    """Whether he usually reports again by now. Before the book tells, one of few blocks is tapped as often as its task."""
    pause = usual_pause(reported) or max(1, tasks // max(1, len(tapper.blocks)))
    return not reported or (day - reported[-1]).days >= pause


def _is_accounted_for(tapper: Membership, standing: Iterable[Entry], owners: set[str]) -> bool:
    return any(
        entry.by.id == tapper.person.id
        or (entry.record.what in (What.LATEX, What.NO_TAPPING) and entry.record.block in tapper.blocks)
        or (entry.record.what is What.NO_TAPPING and entry.record.block in (None, ALL_BLOCKS) and entry.by.id in owners)
        for entry in standing
    )


def _texted_since(tx: Transaction, person: Person, moment: datetime) -> bool:
    return any(each.arrived >= moment for each in messages.latest_from(tx, person.number, 1))


def _remind(tx: Transaction, farm: Farm, now: datetime) -> Iterator[int]:
    """Parts of each reminder to a tapper that was put."""
    local = now.astimezone(ZoneInfo(farm.timezone))
    hour = farm.settings.reminder_hour
    if hour is None or not hour <= local.hour < QUIET_FROM:
        return
    candidates = [
        each for each in _tappers(tx, farm, local.date(), reminded=False) if _may(tx, each.person, local.date())
    ]
    for tapper in silent_tappers(tx, farm, local.date(), candidates):
        text = _reminder(tongue(tapper.person.language), farm, tapper)
        yield from _put(tx, _REMIND, tapper.person, text, local.date(), now, _at(farm, local.date(), QUIET_FROM))


def _reminder(speech: Tongue, farm: Farm, tapper: Membership) -> str:
    return speech.say(
        "{farm}: hello {name}, no word from you today yet. Text it like: block {block} 18 litres / no tapping, rain",
        farm=farm.name,
        name=tapper.person.name,
        block=next(iter(tapper.blocks), "3"),
    )


def _tell_owners(tx: Transaction, watched: Sequence[Farm], now: datetime) -> Iterator[int]:
    """Parts of each text to an owner that was put: one for all his farms."""
    told: dict[str, tuple[Person, list[str], Farm]] = {}
    for farm in watched:
        local = now.astimezone(ZoneInfo(farm.timezone))
        if not MORNING <= local.hour < QUIET_FROM:
            continue
        owners = [
            each for each in _with_role(tx, farm, Role.OWNER) if not outbox.has(tx, _key(_UNHEARD, each, local.date()))
        ]
        day = local.date() - timedelta(days=1)
        unheard = silent_tappers(tx, farm, day, _tappers(tx, farm, day, reminded=True)) if owners else []
        for owner in owners:
            names = [each.person.name for each in unheard if each.person.id != owner.id]
            if names:
                told.setdefault(owner.id, (owner, [], farm))[1].append(
                    _unheard(tongue(owner.language), farm, names, day)
                )
    for owner, lines, farm in told.values():
        today = now.astimezone(ZoneInfo(farm.timezone)).date()
        yield from _put(tx, _UNHEARD, owner, " ".join(lines), today, now, _at(farm, today, QUIET_FROM))


def _unheard(speech: Tongue, farm: Farm, names: Sequence[str], day: date) -> str:
    said = speech.several(names[:MOST_NAMES]) + (f" +{len(names) - MOST_NAMES}" if len(names) > MOST_NAMES else "")
    return speech.say("{farm}: no word about {day} from {names}.", farm=farm.name, day=speech.weekday(day), names=said)


def _put(
    tx: Transaction, kind: str, person: Person, text: str, day: date, now: datetime, not_after: datetime
) -> Iterator[int]:
    """The parts of the text, if it was put: not twice for a day, not to one who wants none or has had enough."""
    if not _may(tx, person, day):
        return
    cheap = economical(text)
    parts = count_parts(cheap).parts
    put = outbox.put(
        tx,
        to=person.number,
        text=cheap,
        parts=parts,
        because=None,
        key=_key(kind, person, day),
        due_at=now,
        created_at=now,
        not_after=not_after,
    )
    if put is not None:
        yield parts


def _may(tx: Transaction, person: Person, day: date) -> bool:
    """Whether he wants texts and has had fewer of these than he may get in the seven days up to this one."""
    if person.opted_out_at is not None or person.blocked_at is not None:
        return False
    week = [_key(kind, person, day - timedelta(days=n)) for kind in (_REMIND, _UNHEARD) for n in range(7)]
    return sum(outbox.has(tx, key) for key in week) < MOST_A_WEEK


def _key(kind: str, person: Person, day: date) -> str:
    return f"{kind}:{person.id}:{day.isoformat()}"


def _at(farm: Farm, day: date, hour: int) -> datetime:
    return datetime.combine(day, time(hour), ZoneInfo(farm.timezone))

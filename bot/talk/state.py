"""What stands now, and what is due: the store, acid, tomorrow."""

from collections.abc import Iterator
from datetime import date, timedelta

from bot.books import wages
from bot.reckon import acid
from bot.reckon.learning import chain_of
from bot.reckon.tapping import FAULTS, calendars
from bot.reckon.wages import next_time
from bot.rubber.calendar import tapping_days
from bot.rubber.recovery import tasks_by_letter
from bot.speech import say
from bot.talk.desk import Desk
from bot.week import words
from bot.week.concerns import dry_by


def stock(desk: Desk) -> str:
    """Sheets that wait and that dry, and what is left of the acid."""
    left = acid.litres_left(desk.tx, desk.farm, desk.today)
    pieces = [words.ready_line(desk.tx, desk.farm, desk.tongue, desk.today)]
    if left is not None:
        pieces.append(desk.tongue.say("Acid about {litres} L.", litres=desk.tongue.number(left, 1)))
        days = acid.days_left(desk.tx, desk.farm, left, desk.today)
        if days is not None:
            pieces.append(say.acid_lasts(desk.tongue, days))
    return " ".join(pieces)


def due_tomorrow(desk: Desk) -> str:
    """Tasks to tap, sheets that should be dry, acid that runs out, and pay that is to be settled."""
    day = desk.today + timedelta(days=1)
    head = f"{desk.tongue.weekday(day)} {desk.tongue.date(day)}"
    return f"{head}: {' '.join([*_tapping(desk, day), *_drying(desk, day), *_acid(desk), *_pay(desk, day)])}"


def _tapping(desk: Desk, day: date) -> Iterator[str]:
    try:
        plans = calendars(desk.farm)
    except FAULTS as fault:
        yield desk.tongue.say("The tapping system makes no calendar ({fault}).", fault=fault)
        return
    if not plans:
        yield desk.tongue.say("no tapping system is set.")
        return
    tasks = [
        letter
        for plan in plans
        for letter, task in tasks_by_letter(plan).items()
        if plan.start <= day and list(tapping_days(plan, day, day, task))
    ]
    if tasks:
        yield desk.tongue.say("tapping, task {tasks}.", tasks=desk.tongue.several(dict.fromkeys(tasks)))
    else:
        yield desk.tongue.say("no tapping.")


def _drying(desk: Desk, day: date) -> Iterator[str]:
    chain = chain_of(desk.tx, desk.farm, desk.today, desk.today)
    dry = sum(each.count for each in chain.hanging if dry_by(desk.farm, each) == day)
    if dry:
        yield desk.tongue.count("{n} sheet should be dry.", "{n} sheets should be dry.", dry)


def _acid(desk: Desk) -> Iterator[str]:
    days = words.acid_days_left(desk.tx, desk.farm, desk.today)
    if days is not None:
        yield say.sentence(desk.tongue.count("acid for {n} day", "acid for {n} days", days))


def _pay(desk: Desk, day: date) -> Iterator[str]:
    period = next_time(desk.tx, desk.farm, day)
    if period is not None and wages.all_terms(desk.tx, desk.farm.id):
        yield desk.tongue.say("Pay to settle: {days}.", days=desk.tongue.days(*period))

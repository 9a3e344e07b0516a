"""How long the bark of each panel lasts: from what was measured on the trunk and the tappings in the book since."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from bot.books import Transaction, bark, entries
from bot.books.bark import Measured
from bot.books.model import Farm
from bot.reckon.tapping import FAULTS, calendars
from bot.rubber.calendar import Calendar
from bot.rubber.intensity import tappings_a_year, visits_a_day
from bot.rubber.panel import bark_cm, mm_allowed, vertical_mm
from bot.rubber.profiles import Profile, ProfileError, bark_limit, profile

#: Tappings between two measures before they tell what a tapping takes. Common practice, no source.
ENOUGH_TAPPINGS = 5

#: A height read off a trunk may be off by so much (mm); only what is over the limit in spite of it is said.
READ_MM = 5

#: A panel with bark for so few tappings needs the owner's eye: the next one has to be marked. Common practice, no source.
SOON_TAPPINGS = 20

DAYS_A_YEAR = 365


@dataclass(frozen=True)
class BarkOfBlock:
    """Bark left on a block's panel today, from its last measure and the tappings since.

    `mm_a_tapping` is vertical; `from_measures` tells whether two measures gave it or the country's usual shaving.
    `last_day` is None where the farm has set no tapping system; `allowed_mm` (a tapping) where no limit is known for it.
    """

    measured: Measured
    tappings: int
    mm_a_tapping: float
    from_measures: bool
    left_cm: float
    tappings_left: int
    last_day: date | None
    allowed_mm: float | None
    over: bool

    @property
    def ends_soon(self) -> bool:
        """Whether the next panel has to be marked."""
        return self.tappings_left <= SOON_TAPPINGS


def bark_of_blocks(tx: Transaction, farm: Farm, today: date) -> dict[str, BarkOfBlock]:
    """The bark of every block on which any was measured."""
    measures = bark.measured(tx, farm.id, today)
    if not measures:
        return {}
    panels = {block: of_one_panel(found) for block, found in measures.items()}
    first = min(panel[0].day for panel in panels.values())
    tapped = entries.tapped_days(tx, farm.id, first, today)
    system = _system(farm)
    country = profile(farm.settings.country)
    return {block: _reckoned(panel, tapped.get(block, ()), system, country, today) for block, panel in panels.items()}


def _reckoned(
    panel: Sequence[Measured], days: Sequence[date], system: Calendar | None, country: Profile, today: date
) -> BarkOfBlock:
    last = panel[-1]
    since = _between(days, last.day, today)
    used, tappings = panel[0].mm - last.mm, _between(days, panel[0].day, last.day)
    told = tappings >= ENOUGH_TAPPINGS and used > 0
    each = used / tappings if told else usual_mm(country)
    left = max(last.cm - bark_cm(since, each), 0.0)
    more = math.floor(10 * left / each + 1e-9)
    allowed = None if system is None else _allowed(system, country)
    over = told and allowed is not None and (used - 2 * READ_MM) / tappings > allowed
    return BarkOfBlock(last, since, each, told, left, more, _end(system, more, today), allowed, over)


def of_one_panel(measures: Sequence[Measured]) -> Sequence[Measured]:
    """The last measures that are of one panel: no other panel is named, and the bark only becomes less."""
    start = len(measures) - 1
    while start and _same(measures[start - 1], measures[start]):
        start -= 1
    return measures[start:]


def _same(before: Measured, after: Measured) -> bool:
    return before.mm >= after.mm and (before.panel is None or after.panel is None or before.panel == after.panel)


def _between(days: Sequence[date], after: date, until: date) -> int:
    """Tapping days behind the day of a measure, which is made after that day's tapping, up to another day."""
    return sum(1 for day in days if after < day <= until)


def usual_mm(country: Profile) -> float:
    """What a tapping takes off the panel (mm, vertical) by the country's shaving and slope."""
    return vertical_mm(country.figure("shaving").value, country.figure("slope").value)


def _system(farm: Farm) -> Calendar | None:
    """The farm's first system; none where it has set none, or one that makes no calendar (its settings page says so)."""
    try:
        return next(iter(calendars(farm)), None)
    except FAULTS:
        return None


def _allowed(system: Calendar, country: Profile) -> float | None:
    """What a tapping may take (mm, vertical) for the country's limit of a year; None where no limit is known."""
    try:
        every = 1 / visits_a_day(system.system)
        limit = bark_limit(country, int(every)) if every == int(every) else None
        return None if limit is None else mm_allowed(limit.value, tappings_a_year(system.system))
    except (ProfileError, *FAULTS):
        return None


def _end(system: Calendar | None, tappings: int, today: date) -> date | None:
    if system is None:
        return None
    return today + timedelta(days=math.floor(tappings * DAYS_A_YEAR / tappings_a_year(system.system)))

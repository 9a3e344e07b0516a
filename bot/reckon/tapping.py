"""The farm's own tapping calendar, from its settings."""

from datetime import date

from bot.books.model import Farm
from bot.rubber.calendar import Calendar, CalendarError, tapping_calendar, tasks_in_turn
from bot.rubber.intensity import IncompleteSystemError
from bot.rubber.notation import NotationError, read

#: What can be wrong with settings that make no calendar.
FAULTS = (NotationError, CalendarError, IncompleteSystemError)


def calendars(farm: Farm) -> list[Calendar]:
    """A calendar for each system that has days of its own; cuts joined by + are tapped on the same day.

    None where the farm has not set its tapping system and first day. Raises one of FAULTS where they make no calendar.
    """
    if not farm.settings.tapping or farm.settings.tapping_from is None:
        return []
    notation, weekday = read(farm.settings.tapping), farm.settings.rest_weekday
    start = date.fromisoformat(farm.settings.tapping_from)
    rest = () if weekday is None else (weekday,)
    joined = (";", *notation.joiners)
    own = [system for joiner, system in zip(joined, notation.systems, strict=True) if joiner == ";"]
    return [tapping_calendar(system, start, rest) for system in own]


def is_tapping_day(farm: Farm, day: date) -> bool:
    """Whether any task of the farm is tapped on that day; no where no calendar is set. Raises one of FAULTS.

    All the tasks that can be tapped in turn fill every day of work, so that this is one from the first day on.
    """
    return any(calendar.start <= day and calendar.works(day) for calendar in calendars(farm))


def most_tasks(farm: Farm) -> int:
    """How many tasks a tapper of the farm can tap in turn: three at d3; 1 where no calendar is set. Raises one of FAULTS."""
    return max((tasks_in_turn(calendar) for calendar in calendars(farm)), default=1)

"""All that a farm's book taught up to the end of a day, as a text and back, so that only later lines need be read.

The work of a whole book is cut in two at a day: what is settled by its end is learned for good, the rest waits. A weighing
still to come can only speak of latex that is not rolled or sheets that hang; readings and weighings of earlier latex are
settled. The parts are worked through in the order in which the whole book would be, so that the result is the same to the
last bit; `Milestone.through` and the lines after it are all that is needed.
"""

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from bot.books.model import Entry
from bot.reckon.chain import Chain, Part, Rolling, Sheets, Stand, follow
from bot.reckon.teaching import Lessons, batches, litres_after, readings
from bot.rubber import estimate, levels
from bot.rubber.filtering import Learned

#: A new number whenever the same lines teach something else than before (a test tells when).
METHOD = 1

ONE_DAY = timedelta(days=1)


@dataclass(frozen=True)
class Milestone:
    """What the lines up to the end of the day `through` taught.

    `rubber` holds the readings and batches that no later line can come before; `waiting` are those that come after them.
    `litres` holds all latex of these days.
    """

    through: date
    stand: Stand
    waiting: tuple[estimate.Event, ...]
    rubber: Learned
    litres: Learned

    @property
    def first_needed(self) -> date:
        """The first day of whose latex or rollings something is still to be weighed."""
        days = [day_of(each) for each in self.stand.latex]
        for sheets in self.stand.hanging:
            days += [sheets.rolling.day, *(day_of(part.entry) for part in sheets.rolling.latex)]
        return min(days, default=self.through + ONE_DAY)


def beginning(usual_percent: float, usual_litres: Mapping[str, float]) -> Milestone:
    """Before the first line."""
    return Milestone(date.min, Stand(), (), estimate.prior(usual_percent), levels.prior_litres(usual_litres))


def events_after(
    start: Milestone, known: Lessons, later: Sequence[Entry], farm_name: str
) -> tuple[list[estimate.Event], Chain]:
    """The readings and batches that are not learned yet once the lines of later days are read, and the chain of these days."""
    chain = follow(later, farm_name, start.stand)
    return [*start.waiting, *readings(known, later), *batches(known, chain)], chain


def reached(start: Milestone, known: Lessons, later: Sequence[Entry], farm_name: str, through: date) -> Milestone:
    """The milestone at the end of a later day; `later` is what stands between the two, and `known` tells stimulations."""
    events, chain = events_after(start, known, later, farm_name)
    stand = chain.stand.after(through)
    settled = _settled(stand, through)
    return Milestone(
        through,
        stand,
        tuple(event for event in events if estimate.event_day(event) > settled),
        estimate.refit((event for event in events if estimate.event_day(event) <= settled), start=start.rubber),
        litres_after(start.litres, known, later),
    )


def _settled(stand: Stand, through: date) -> date:
    """The last day of whose latex no later line can tell anything new: before all that is still to be weighed.

    A batch counts on the last day of its latex. Sheets that are not known to be of any latex teach nothing.
    """
    last_days = [max(day_of(part.entry) for part in each.rolling.latex) for each in stand.hanging if each.rolling.latex]
    return min([through, *(day - ONE_DAY for day in (*last_days, *map(day_of, stand.latex)))])


def chain_written(milestone: Milestone) -> str:
    """The chain and the events that wait, with entries by their ids."""
    return json.dumps(
        {
            "needed": milestone.first_needed.isoformat(),
            "rolled": min(
                (each.rolling.day for each in milestone.stand.in_store), default=milestone.through
            ).isoformat(),
            "latex": [each.id for each in milestone.stand.latex],
            "hanging": [
                [each.rolling.entry.id, each.count, [[part.entry.id, part.share] for part in each.rolling.latex]]
                for each in milestone.stand.hanging
            ],
            "in_store": [[each.rolling.entry.id, each.count] for each in milestone.stand.in_store],
            "waiting": [_event_written(each) for each in milestone.waiting],
        },
        ensure_ascii=False,
        separators=(",", ":"),
    )


@dataclass(frozen=True)
class ChainText:
    """A chain as it was written: which lines it needs before it can be read back."""

    found: Mapping[str, Any]

    @classmethod
    def of(cls, text: str) -> "ChainText":
        """The chain in a text of `chain_written`."""
        return cls(json.loads(text))

    @property
    def needed(self) -> date:
        """All that stands is needed from this day on."""
        return date.fromisoformat(self.found["needed"])

    @property
    def rolled(self) -> date | None:
        """The rollings are needed from this day on; None where no sheets are in store."""
        return date.fromisoformat(self.found["rolled"]) if self.found["in_store"] else None

    def stand(self, needed: Iterable[Entry]) -> Stand:
        """The chain, from the lines that it needs. Raises KeyError where one of them is not given."""
        by_id = {each.id: each for each in needed}
        return Stand(
            tuple(by_id[each] for each in self.found["latex"]),
            tuple(
                Sheets(_rolling(by_id[entry], [Part(by_id[part], share) for part, share in latex]), count)
                for entry, count, latex in self.found["hanging"]
            ),
            tuple(Sheets(_rolling(by_id[entry], ()), count) for entry, count in self.found["in_store"]),
        )

    def waiting(self) -> tuple[estimate.Event, ...]:
        """The readings and batches that wait."""
        return tuple(_event(each) for each in self.found["waiting"])


def _rolling(entry: Entry, latex: Sequence[Part]) -> Rolling:
    return Rolling(entry, entry.record.count or 0, tuple(latex))


def _event_written(event: estimate.Event) -> list[Any]:
    if isinstance(event, estimate.Reading):
        return [event.key, [_latex_written(event.latex)], event.drc_percent, None]
    return [event.key, [_latex_written(each) for each in event.latex], None, event.dry_kg]


def _event(found: Sequence[Any]) -> estimate.Event:
    key, written, percent, dry_kg = found
    latex = tuple(
        estimate.Latex(date.fromisoformat(day), block, litres, rain, since)
        for day, block, litres, rain, since in written
    )
    return estimate.Batch(key, latex, dry_kg) if percent is None else estimate.Reading(key, latex[0], percent)


def _latex_written(each: estimate.Latex) -> list[Any]:
    return [each.day.isoformat(), each.block, each.litres, each.rain, each.days_since_stimulation]


def day_of(entry: Entry) -> date:
    """The day of a line that stands in a book."""
    assert entry.record.day is not None
    return entry.record.day

"""What stands of some spans of days, read once and found by its day."""

from collections.abc import Iterable, Sequence
from datetime import date, timedelta

from bot.books import Transaction, entries
from bot.books.model import Entry
from parsers.reading import What


class Days:
    """What stands of some spans of days, each day once: what was brought, and what was taken."""

    def __init__(self, tx: Transaction, farm_id: str, spans: Sequence[tuple[date, date]]) -> None:
        self._by_day: dict[date, list[Entry]] = {}
        for first, last in joined(spans):
            for each in entries.standing(tx, farm_id, first=first, last=last):
                assert each.record.day is not None
                self._by_day.setdefault(each.record.day, []).append(each)

    def latex(self, first: date, last: date) -> Iterable[Entry]:
        """Latex of the days from `first` to `last`, in order."""
        return self._of(What.LATEX, first, last)

    def taken(self, first: date, last: date) -> Iterable[Entry]:
        """What was collected from `first` to `last`, in order."""
        return self._of(What.COLLECTED, first, last)

    def _of(self, what: What, first: date, last: date) -> Iterable[Entry]:
        days = [first + timedelta(days=n) for n in range((last - first).days + 1)]
        return (each for day in days for each in self._by_day.get(day, ()) if each.record.what is what)


def joined(spans: Iterable[tuple[date, date]]) -> list[tuple[date, date]]:
    """The same days in spans that do not overlap."""
    found: list[tuple[date, date]] = []
    for first, last in sorted(spans):
        if found and first <= found[-1][1]:
            found[-1] = found[-1][0], max(found[-1][1], last)
        else:
            found.append((first, last))
    return found

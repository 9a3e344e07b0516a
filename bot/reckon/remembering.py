"""What was worked out of a farm's lines, remembered by this process until any of them changes."""

from collections.abc import Callable
from typing import Generic, TypeVar

from bot.books import Transaction, entries
from bot.reckon.gaps import Days

Found = TypeVar("Found")

#: Farms of which something is remembered, of each some twenty kilobytes.
FARMS_KEPT = 512


class Remembered(Generic[Found]):
    """The newest of each farm that was asked about."""

    def __init__(self) -> None:
        self._kept: dict[str, tuple[tuple[Days, tuple[str, ...]], Found]] = {}

    def of(self, tx: Transaction, days: Days, work_out: Callable[[], Found]) -> Found:
        """What was worked out of the lines of these days and those looked back on, as they are now.

        It must hang on nothing else but the farm with its settings, and the transaction must enter no lines itself. The state is
        read first: lines that others enter meanwhile change it, so that what holds some of them is not found by it again.
        """
        now = (days, entries.state(tx, days.farm.id, days.looked_back, days.last))
        kept = self._kept.pop(days.farm.id, None)
        found = kept[1] if kept is not None and kept[0] == now else work_out()
        while len(self._kept) >= FARMS_KEPT:
            self._kept.pop(next(iter(self._kept)), None)
        self._kept[days.farm.id] = (now, found)
        return found

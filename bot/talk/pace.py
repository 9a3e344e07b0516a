"""How many texts are answered: of one number in an hour, and of all in a minute.

The counts are those of this process; where several serve, each has its own, so that together they let that many times more
through.
"""

from enum import StrEnum

from limits import RateLimitItemPerHour, RateLimitItemPerMinute
from limits.storage import MemoryStorage
from limits.strategies import SlidingWindowCounterRateLimiter


class Over(StrEnum):
    """The limit that a text is over: that of its number, or that of all."""

    ONE = "one"
    ALL = "all"


class Pace:
    """Counts texts and says when there are too many. 0 is no limit."""

    def __init__(self, per_hour: int, per_minute: int) -> None:
        self._counts = SlidingWindowCounterRateLimiter(MemoryStorage())
        self._of_one = RateLimitItemPerHour(per_hour, namespace="one") if per_hour else None
        self._of_all = RateLimitItemPerMinute(per_minute, namespace="all") if per_minute else None
        self._told = RateLimitItemPerHour(1, namespace="told")

    def over(self, number: str) -> Over | None:
        """Count a text of this number; which limit it is over. What one number has too many does not burden all."""
        if self._of_one is not None and not self._counts.hit(self._of_one, number):
            return Over.ONE
        return Over.ALL if self._of_all is not None and not self._counts.hit(self._of_all, "all") else None

    def may_tell(self, number: str) -> bool:
        """Whether the number has not been told in the last hour that it texts too much; it counts as told now."""
        return self._counts.hit(self._told, number)

"""Who may use the one connection to the books: one thread at a time, in the order in which they came."""

import threading
from collections import deque
from collections.abc import Iterator
from contextlib import contextmanager


class _Place:
    """A place in the queue. Its gate is opened when its turn has come; `joins` says that it goes on in an open transaction."""

    __slots__ = ("called", "gate", "joins")

    def __init__(self, joins: bool) -> None:
        self.joins, self.called, self.gate = joins, False, shut_gate()


def shut_gate() -> threading.Lock:
    """A gate at which one thread waits until another one opens it (`release`)."""
    gate = threading.Lock()
    gate.acquire()
    return gate


class Turns:
    """First come, first served. A thread that has the turn may take it again within it."""

    def __init__(self) -> None:
        self._mutex = threading.Lock()
        self._waiting: deque[_Place] = deque()
        self._taken = False
        self._owner: int | None = None
        self._depth = 0

    @property
    def waiting(self) -> int:
        """How many wait."""
        return len(self._waiting)

    @property
    def is_within(self) -> bool:
        """Whether this thread has the turn already."""
        return self._owner == threading.get_ident()

    @contextmanager
    def turn(self, seconds: float) -> Iterator[bool]:
        """The turn for a block; False where it does not come in time."""
        came = self.take(seconds)
        try:
            yield came
        finally:
            if came:
                self.leave()

    def take(self, seconds: float, *, joins: bool = False) -> bool:
        """Wait so long for the turn; whether it came."""
        if self.is_within:
            self._depth += 1
            return True
        with self._mutex:
            place = None if not self._taken else _Place(joins)
            self._taken = True
            if place is not None:
                self._waiting.append(place)
        if place is not None and not place.gate.acquire(timeout=seconds) and not self._came_late(place):
            return False
        self._owner, self._depth = threading.get_ident(), 1
        return True

    def _came_late(self, place: _Place) -> bool:
        """Whether the turn came just when the waiting was over; otherwise the place is given up."""
        with self._mutex:
            if not place.called:
                self._waiting.remove(place)
            return place.called

    def leave(self) -> None:
        """The next one's turn."""
        self._depth -= 1
        if self._depth:
            return
        self._owner = None
        with self._mutex:
            if self._waiting:
                self._call()
            else:
                self._taken = False

    def pass_on(self) -> bool:
        """Leave to one who joins, if such a one is next; otherwise the turn is kept."""
        with self._mutex:
            if not self._waiting or not self._waiting[0].joins:
                return False
            self._owner, self._depth = None, 0
            self._call()
            return True

    def _call(self) -> None:
        place = self._waiting.popleft()
        place.called = True
        place.gate.release()

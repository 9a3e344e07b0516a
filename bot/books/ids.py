"""Ids of the day-book: text, unique, and rising with time, so that the order of keys is the order of writing."""

import secrets
import threading
import time

_ALPHABET = "0123456789abcdefghjkmnpqrstvwxyz"
_lock = threading.Lock()
_last = 0


def new_id() -> str:
    """22 characters: microseconds since 1970 (10 characters, rising within a process) and 60 random bits."""
    global _last
    with _lock:
        _last = max(time.time_ns() // 1000, _last + 1)
        moment = _last
    return _written(moment, 10) + _written(secrets.randbits(60), 12)


def _written(number: int, width: int) -> str:
    characters = []
    for _ in range(width):
        number, rest = divmod(number, 32)
        characters.append(_ALPHABET[rest])
    return "".join(reversed(characters))

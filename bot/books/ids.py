"""Ids of the day-book: text, unique, and rising with time, so that the order of keys is the order of writing."""

import secrets
import threading
import time
from datetime import timedelta

_ALPHABET = "0123456789abcdefghjkmnpqrstvwxyz"

#: Characters of an id, and the bytes that it takes when it is packed.
WIDTH, PACKED = 22, 14

#: Characters of an id that tell when it was made.
_MOMENT = 10

_lock = threading.Lock()
_last = 0


def new_id() -> str:
    """22 characters: microseconds since 1970 (10 characters, rising within a process) and 60 random bits."""
    global _last
    with _lock:
        _last = max(time.time_ns() // 1000, _last + 1)
        moment = _last
    return _written(moment, _MOMENT) + _written(secrets.randbits(60), WIDTH - _MOMENT)


def made_before(id_: str, by: timedelta) -> str:
    """Where ids stood so long before another was made, so that what clocks of several machines differ by does not matter."""
    moment = sum(_ALPHABET.index(each) << 5 * at for at, each in enumerate(reversed(id_[:_MOMENT])))
    return _written(max(0, moment - by // timedelta(microseconds=1)), _MOMENT) + _ALPHABET[0] * (WIDTH - _MOMENT)


def packed(id_: str) -> bytes:
    """An id in 14 bytes, for where characters are dear. Raises ValueError for one that was not made here."""
    if len(id_) != WIDTH:
        raise ValueError(f"an id has {WIDTH} characters")
    return sum(_ALPHABET.index(each) << 5 * at for at, each in enumerate(reversed(id_))).to_bytes(PACKED, "big")


def unpacked(found: bytes) -> str:
    """The id that was packed. Raises ValueError for what is no packed id."""
    number = int.from_bytes(found, "big")
    if len(found) != PACKED or number >> 5 * WIDTH:
        raise ValueError("these bytes are no id")
    return _written(number, WIDTH)


def _written(number: int, width: int) -> str:
    characters = []
    for _ in range(width):
        number, rest = divmod(number, 32)
        characters.append(_ALPHABET[rest])
    return "".join(reversed(characters))

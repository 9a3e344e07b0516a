"""PINs: kept as salted hashes that cannot be read back, with the wrong tries of a day.

A PIN of four to six digits is guessed in at most a million tries; what protects it is that only five wrong ones are taken
in a day. Whoever has the books themselves can try them all: the hash makes each try cost some hundredths of a second.
"""

import hashlib
import hmac
import secrets
from dataclasses import dataclass
from datetime import datetime, timedelta

from bot.books.convert import moment_in, moment_or_none, moment_out
from bot.books.store import Transaction

#: scrypt's cost, block size and parallelism (RFC 7914): 16 MB and some hundredths of a second for each try.
COST, BLOCK, PARALLEL = 2**14, 8, 1
SALT_BYTES, HASH_BYTES = 16, 32

#: So many wrong PINs within this time, and no more are taken until the operator resets it.
MOST_WRONG, WITHIN = 5, timedelta(days=1)


@dataclass(frozen=True)
class Pin:
    """What stands of somebody's PIN: `chosen` if he has one; `blocked_at` since when none is taken any more."""

    chosen: bool
    blocked_at: datetime | None
    hinted_at: datetime | None


def hashed(pin: str, salt: bytes | None = None) -> str:
    """A PIN as it is kept: salt and scrypt hash, hexadecimal, with a `$` between. A new salt if none is given."""
    salt = secrets.token_bytes(SALT_BYTES) if salt is None else salt
    made = hashlib.scrypt(pin.encode(), salt=salt, n=COST, r=BLOCK, p=PARALLEL, dklen=HASH_BYTES)
    return f"{salt.hex()}${made.hex()}"


def fits(pin: str, kept: str) -> bool:
    """Whether a PIN is the one that is kept; takes as long for a wrong one."""
    salt, _, _ = kept.partition("$")
    return hmac.compare_digest(hashed(pin, bytes.fromhex(salt)), kept)


def of(tx: Transaction, person_id: str) -> Pin:
    """What stands of somebody's PIN."""
    rows = tx.run("pin", person_id=person_id)
    if not rows:
        return Pin(False, None, None)
    row = rows[0]
    return Pin(row["hash"] is not None, moment_or_none(row["blocked_at"]), moment_or_none(row["hinted_at"]))


def choose(tx: Transaction, person_id: str, kept: str, at: datetime) -> None:
    """A new PIN, `hashed`; wrong tries before it count no more."""
    tx.run("set_pin", person_id=person_id, hash=kept, set_at=moment_out(at))


def attempt(tx: Transaction, person_id: str, pin: str, at: datetime) -> bool:
    """Whether the PIN is right. A wrong one is counted; the fifth within a day blocks, and then none is right any more.

    The try is counted before it is looked at, so that many at once do not slip through one count.
    """
    rows = tx.run("begin_try", person_id=person_id)
    if not rows or rows[0]["hash"] is None or rows[0]["blocked_at"] is not None:
        return False
    since, tries = moment_in(rows[0]["tries_since"]), rows[0]["tries"]
    if at - since >= WITHIN:
        since, tries = at, 1
    right = fits(pin, rows[0]["hash"])
    wrong = tries - 1 if right else tries
    blocked = moment_out(at) if wrong >= MOST_WRONG else None
    tx.run("set_tries", person_id=person_id, tries=wrong, since=moment_out(since), blocked_at=blocked)
    return right


def reset(tx: Transaction, person_id: str) -> None:
    """No PIN any more: he can choose a new one. For the operator, who knows whom he speaks to."""
    tx.run("forget_pin", person_id=person_id)


def hinted(tx: Transaction, person_id: str, at: datetime) -> None:
    """He was told how to choose a PIN."""
    tx.run("hint_at_pin", person_id=person_id, at=moment_out(at))

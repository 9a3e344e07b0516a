"""The signature of calls between us and a gateway: HMAC-SHA256 (RFC 2104, FIPS 180-4) over all that a call says.

Signed are, a line each: the method, the path with its query, the time stamp, the nonce, and the SHA-256 of the body in
hexadecimal digits. A call counts for a while around its time stamp, and once.
"""

import hashlib
import hmac
import re
import secrets
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

NAME, TIME, NONCE, SIGNATURE = (f"X-Gateway-{part}" for part in ("Name", "Time", "Nonce", "Signature"))

#: How far the clock of a caller may be from ours.
WINDOW = timedelta(minutes=5)

_SECONDS = re.compile(r"[0-9]{1,12}")
_NONCE = re.compile(r"[A-Za-z0-9_-]{16,64}")

#: Compared with where a caller is not known, so that it takes as long.
_NOBODY = "0" * 64


class NotGenuine(ValueError):
    """A call that must not be let in; the message says what the caller has to mend and no secret."""


@dataclass(frozen=True)
class Caller:
    """Who called, with what no other call may have."""

    name: str
    nonce: str


def signature(secret: str, method: str, path: str, time: str, nonce: str, body: bytes) -> str:
    """The signature as hexadecimal digits. `path` has the query with it, `time` is seconds since 1970."""
    said = "\n".join((method, path, time, nonce, hashlib.sha256(body).hexdigest()))
    return hmac.new(secret.encode(), said.encode(), hashlib.sha256).hexdigest()


def signed_headers(
    name: str, secret: str, method: str, path: str, body: bytes, now: datetime, nonce: str = ""
) -> dict[str, str]:
    """The headers of a genuine call. Without a nonce a new one is taken."""
    time, nonce = str(int(now.timestamp())), nonce or secrets.token_urlsafe(18)
    return {NAME: name, TIME: time, NONCE: nonce, SIGNATURE: signature(secret, method, path, time, nonce, body)}


def checked(
    keys: Mapping[str, str], headers: Mapping[str, str], method: str, path: str, body: bytes, now: datetime
) -> Caller:
    """Who called, if the call is signed with his secret and its time is near ours. Raises NotGenuine.

    Whether the same call came before has to be asked of the books.
    """
    name, time, nonce = headers.get(NAME, ""), headers.get(TIME, ""), headers.get(NONCE, "")
    wanted = signature(keys.get(name, _NOBODY), method, path, time, nonce, body)
    same = hmac.compare_digest(wanted.encode(), headers.get(SIGNATURE, "").encode("utf-8", "replace"))
    if name not in keys or not same:
        raise NotGenuine("The name is not known or the signature is wrong: compare the secret, the path and the body.")
    if not _NONCE.fullmatch(nonce):
        raise NotGenuine(f"{NONCE} must be 16 to 64 letters, digits, hyphens or underscores, new with each call.")
    if not _SECONDS.fullmatch(time) or abs(int(time) - now.timestamp()) > WINDOW.total_seconds():
        at = now.astimezone(UTC)
        raise NotGenuine(f"{TIME} is too far from {int(now.timestamp())} ({at:%Y-%m-%d %H:%M:%S} UTC): set the clock.")
    return Caller(name, nonce)

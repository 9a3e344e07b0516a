"""Signed links: whoever holds one gets in, at one farm, until it expires. There are no passwords."""

import hashlib
import secrets
from dataclasses import dataclass
from datetime import datetime

from itsdangerous import BadSignature, SignatureExpired, TimestampSigner, URLSafeTimedSerializer
from itsdangerous.encoding import base64_decode, base64_encode

from bot.books.ids import PACKED, packed, unpacked
from bot.settings import Settings
from bot.speech.language import later
from bot.speech.refusal import Refusal

#: How long a link opens the page, in seconds.
LINK_LASTS = 30 * 24 * 3600

#: How long a form may be filled in, in seconds.
FORM_LASTS = 6 * 3600

#: What links are for: one that opens a farm opens no cooperative, and the other way round.
OWNER, COOPERATIVE = "owner-page", "manager-page"

#: Signs links where no key is set: they then last until the program is started again.
_OWN_KEY = secrets.token_hex(16)


class BadLink(Refusal):
    """A link that opens nothing; the message says why."""


@dataclass(frozen=True)
class Opened:
    """What a link opens: the page of a farm, for one of its people."""

    farm_id: str
    person_id: str
    made_at: datetime


def path(settings: Settings, farm_id: str, person_id: str) -> str:
    """The path of the page of a farm for one of its owners."""
    return f"/farm/{_link_signer(settings).sign(_pair(farm_id, person_id)).decode()}"


def cooperative_path(settings: Settings, cooperative_id: str, person_id: str, made_at: datetime | None = None) -> str:
    """The path of the page of a cooperative for one of its managers.

    `made_at` is when the link was made from which this one is reached: it expires with that one, and is void where that is.
    """
    signer = _link_signer(settings, COOPERATIVE, made_at)
    return f"/cooperative/{signer.sign(_pair(cooperative_id, person_id)).decode()}"


def opened_cooperative(settings: Settings, token: str) -> Opened:
    """What a manager's link opens: `farm_id` is the cooperative's. Raises BadLink as `opened` does."""
    return opened(settings, token, COOPERATIVE)


def opened(settings: Settings, token: str, use: str = OWNER) -> Opened:
    """What the link opens. Raises BadLink for one that has expired or was not signed with our key for that use."""
    try:
        return _opened(settings, token, LINK_LASTS, use)
    except SignatureExpired as old:
        raise BadLink(later("This link has expired: it was made more than 30 days ago.")) from old
    except (BadSignature, ValueError) as wrong:
        raise BadLink(later("This link is not complete, or it was not made here.")) from wrong


def whose(settings: Settings, token: str) -> Opened | None:
    """Whose link it is or was, however old, so that he is told in his own language; None where it was never made here."""
    for use in (OWNER, COOPERATIVE):
        try:
            return _opened(settings, token, None, use)
        except (BadSignature, ValueError):
            continue
    return None


def _opened(settings: Settings, token: str, max_age: int | None, use: str) -> Opened:
    signed, made_at = _link_signer(settings, use).unsign(token, max_age=max_age, return_timestamp=True)
    pair = base64_decode(signed)
    return Opened(unpacked(pair[:PACKED]), unpacked(pair[PACKED:]), made_at)


def _pair(farm_id: str, person_id: str) -> bytes:
    return base64_encode(packed(farm_id) + packed(person_id))


class _Signer(TimestampSigner):
    """Signs with the moment that it is given, or else with the present one."""

    made_at: datetime | None = None

    def get_timestamp(self) -> int:
        return super().get_timestamp() if self.made_at is None else int(self.made_at.timestamp())


def _link_signer(settings: Settings, use: str = OWNER, made_at: datetime | None = None) -> TimestampSigner:
    """Short, since a link goes out at the end of a text: a Thai one has 201 characters in all."""
    signer = _Signer(settings.link_key or _OWN_KEY, salt=use, digest_method=_short_digest)
    signer.made_at = made_at
    return signer


def _short_digest(start: bytes = b"") -> hashlib.blake2s:
    """120 bits: beyond any guessing, and letters of six bits without one to spare, so that no other letters open the same."""
    return hashlib.blake2s(start, digest_size=15)


def form_key(settings: Settings, opened: Opened) -> str:
    """What a form of ours carries, so that no other site can send it: bound to the link, for some hours."""
    return _form_signer(settings).dumps([opened.farm_id, opened.person_id])


def check_form_key(settings: Settings, opened: Opened, key: str) -> None:
    """Raises BadLink for a form that is not ours, not for this link, or too old."""
    try:
        found = _form_signer(settings).loads(key, max_age=FORM_LASTS)
    except SignatureExpired as old:
        raise BadLink(later("This form is too old. Go back, load the page again and send it then.")) from old
    except BadSignature as wrong:
        raise BadLink(later("This form was not made here.")) from wrong
    if found != [opened.farm_id, opened.person_id]:
        raise BadLink(later("This form belongs to another link."))


def _form_signer(settings: Settings) -> URLSafeTimedSerializer:
    return URLSafeTimedSerializer(settings.link_key or _OWN_KEY, salt="form")

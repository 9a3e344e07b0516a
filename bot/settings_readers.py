"""How the settings of phones and modems that pass texts on are read. A secret is never repeated in a fault."""

import re
from collections.abc import Callable, Mapping
from types import MappingProxyType

import phonenumbers

#: Characters of a secret: 32 hexadecimal digits are 128 bits (common practice, no source).
LEAST_SECRET = 32

_NAME = re.compile(r"[a-z0-9][a-z0-9-]{0,31}")


def gateway_keys(text: str) -> Mapping[str, str]:
    """Secrets by the gateway's name, from `name:secret name:secret`. Raises ValueError."""
    found: dict[str, str] = {}
    for pair in text.split():
        name, _, secret = pair.partition(":")
        if not _NAME.fullmatch(name):
            raise ValueError("must look like office:SECRET; a name is small letters, digits and hyphens, at most 32")
        if len(secret) < LEAST_SECRET:
            raise ValueError(
                f"the secret of {name} must be {LEAST_SECRET} characters or more, for example openssl rand -hex 32"
            )
        if name in found:
            raise ValueError(f"{name} is named twice")
        found[name] = secret
    return MappingProxyType(found)


def numbers(text: str) -> tuple[str, ...]:
    """Phone numbers with their country, each once. Raises ValueError."""
    for each in text.split():
        if not re.fullmatch(r"\+[1-9][0-9]{6,14}", each):
            raise ValueError(f"must be numbers such as +447700900100, with spaces between, not {each!r}")
    return tuple(dict.fromkeys(text.split()))


def country(text: str) -> str:
    """A country by its two letters. Raises ValueError."""
    if text.upper() not in phonenumbers.SUPPORTED_REGIONS:
        raise ValueError(f"must be a country by two letters, such as TH, not {text!r}")
    return text.upper()


def one_of(*words: str) -> Callable[[str], str]:
    """A reader of one of these words."""

    def read(text: str) -> str:
        if text.lower() not in words:
            raise ValueError(f"must be {' or '.join(words)}, not {text!r}")
        return text.lower()

    return read

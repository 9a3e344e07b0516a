"""What logs never hold: whole phone numbers, links that open pages, PINs, and words that somebody texted.

Nothing here is needed where the code logs with care; it is the net below it, also for the libraries that we use.
"""

import logging
import re

from bot.speech.numbers import shortened

_NUMBER = re.compile(r"(?:\+|%2B)\d{8,15}")
_LINK = re.compile(r"(/farm/)[^\s/?\"']+")
_PIN = re.compile(r"\b(pin\W{1,3})\d+", re.IGNORECASE)

#: Libraries that log whole requests, with numbers and texts, when the level is low.
TALKATIVE = ("twilio", "urllib3", "requests", "werkzeug")


def discreet(text: str) -> str:
    """A line for a log with numbers shortened, and without the secret part of links and without PINs."""
    text = _NUMBER.sub(lambda found: shortened(found.group().replace("%2B", "+")), text)
    return _PIN.sub(r"\1****", _LINK.sub(r"\1...", text))


class Discreet(logging.Formatter):
    """Writes log lines discreetly."""

    def format(self, record: logging.LogRecord) -> str:
        """The line as usual, then made discreet; faults are written by their place only."""
        return discreet(super().format(record))

    def formatException(self, ei: object) -> str:  # noqa: N802  the name is logging's
        """No message of a fault: it may hold what somebody texted."""
        return ""


def begin(level: str) -> None:
    """Log to standard error from this level on, discreetly."""
    handler = logging.StreamHandler()
    handler.setFormatter(Discreet("%(asctime)s %(levelname)s %(name)s: %(message)s"))
    logging.basicConfig(level=level, handlers=[handler], force=True)
    for name in TALKATIVE:
        logging.getLogger(name).setLevel(logging.WARNING)

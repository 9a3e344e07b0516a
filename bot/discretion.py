"""Log lines: one JSON object each, that never holds whole phone numbers, links that open pages, PINs, or what somebody texted.

Nothing here is needed where the code logs with care; it is the net below it, also for the libraries that we use.
"""

import json
import logging
import re
from datetime import UTC, datetime

from bot.speech.numbers import shortened

_NUMBER = re.compile(r"(?:\+|%2B)\d{8,15}")
_LINK = re.compile(r"(/(?:farm|cooperative)/)[^\s/?\"']+")
_PIN = re.compile(r"\b(pin\W{1,3})\d+", re.IGNORECASE)

#: Libraries that log whole requests, with numbers and texts, when the level is low.
TALKATIVE = ("twilio", "urllib3", "requests", "werkzeug")


def discreet(text: str) -> str:
    """A line for a log with numbers shortened, and without the secret part of links and without PINs."""
    text = _NUMBER.sub(lambda found: shortened(found.group().replace("%2B", "+")), text)
    return _PIN.sub(r"\1****", _LINK.sub(r"\1...", text))


class Discreet(logging.Formatter):
    """Writes each log line as one JSON object, discreetly.

    `at` (UTC), `level`, `where` (the logger) and `says`; then what the line brings as `fields`, and `fault`, the name of a
    fault's kind: its message may hold what somebody texted.
    """

    def format(self, record: logging.LogRecord) -> str:
        """The line; whatever was in it, it stays one."""
        line = {
            "at": datetime.fromtimestamp(record.created, UTC).isoformat(timespec="milliseconds"),
            "level": record.levelname,
            "where": record.name,
            "says": record.getMessage(),
            **getattr(record, "fields", {}),
        }
        if record.exc_info and record.exc_info[0] is not None:
            line["fault"] = record.exc_info[0].__name__
        text = json.dumps({name: _discreet(value) for name, value in line.items()}, ensure_ascii=False, default=str)
        return text.encode(errors="backslashreplace").decode()  # half a pair of surrogates, as JSON writes it


def _discreet(value: object) -> object:
    return discreet(value) if isinstance(value, str) else value


def begin(level: str) -> None:
    """Log to standard error from this level on, discreetly."""
    handler = logging.StreamHandler()
    handler.setFormatter(Discreet())
    logging.basicConfig(level=level, handlers=[handler], force=True)
    for name in TALKATIVE:
        logging.getLogger(name).setLevel(logging.WARNING)

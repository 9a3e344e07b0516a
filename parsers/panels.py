"""Bark left on a panel, as somebody measured it: `block 3 bark 42 cm`."""

import re

from parsers.facts import Facts
from parsers.reading import Manage, Request, Setting

#: A panel by its name in the notation of tapping: base or high, virgin or renewed bark, its number.
_PANEL = re.compile(r"(?<![A-Za-z])([BH][OI0])[- ]?([1-9])(?!\d)", re.IGNORECASE)


def panel_named(text: str) -> str | None:
    """The panel that a text names, as it is written: `BO-1` for `bo 1` and for `B0-1` with a zero."""
    named = _PANEL.search(text)
    return None if named is None else f"{named.group(1).upper().replace('0', 'O')}-{named.group(2)}"


def measured(text: str, facts: Facts, setting: Setting) -> Request | None:
    """The bark of one panel in cm, with its block where that is said or clear; None where the text says no such thing.

    Of several measures in one text none is taken: `value` is None then, and the sender is asked for one at a time.
    """
    found = facts.of("cm")
    if not found or not facts.has("bark") or facts.has("litres", "kg", "sheets"):
        return None
    blocks = tuple(dict.fromkeys(str(fact.name) for fact in facts.of("block") if fact.name))
    if not blocks and len(setting.own_blocks) == 1:
        blocks = setting.own_blocks
    one = len(found) == 1 and len(blocks) <= 1
    return Request(
        Manage.BARK, blocks=blocks if one else (), value=found[0].value if one else None, word=panel_named(text)
    )

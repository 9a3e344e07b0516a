"""What was learned as a text and back, to the last bit: Python writes a float so that reading gives the same float."""

import json
from collections.abc import Mapping
from dataclasses import astuple, replace
from datetime import date
from typing import Any

from bot.rubber.filtering import Belief, Forecast, Learned, Name, Surprise


def written(learned: Learned) -> str:
    """What was learned, without the priors that it began from."""
    return json.dumps(
        {
            "names": list(learned.belief.index),
            "mean": learned.belief.mean,
            "covariance": learned.belief.covariance,
            "day": None if learned.day is None else learned.day.isoformat(),
            "reach": learned.reach,
            "scored": learned.scored,
            "held": learned.held,
            "seen": _pairs(learned.seen),
            "side": _pairs(learned.side),
            "surprises": [
                [each.key, each.day.isoformat(), each.value, astuple(each.expected), each.deviations]
                for each in learned.surprises
            ],
        },
        ensure_ascii=False,
        separators=(",", ":"),
    )


def read(text: str, start: Learned) -> Learned:
    """What was written, on the priors of `start`, which must be those that it began from."""
    found = json.loads(text)
    belief = Belief()
    belief.index = {(kind, which): at for at, (kind, which) in enumerate(found["names"])}
    belief.mean, belief.covariance = found["mean"], found["covariance"]
    return replace(
        start,
        belief=belief,
        day=None if found["day"] is None else date.fromisoformat(found["day"]),
        reach=found["reach"],
        scored=found["scored"],
        held=found["held"],
        seen=_named(found["seen"]),
        side=_named(found["side"]),
        surprises=tuple(
            Surprise(key, date.fromisoformat(day), value, Forecast(*expected), deviations)
            for key, day, value, expected, deviations in found["surprises"]
        ),
    )


def _pairs(values: Mapping[Name, Any]) -> list[list[Any]]:
    return [[*name, value] for name, value in values.items()]


def _named(pairs: list[list[Any]]) -> dict[Name, Any]:
    return {(kind, which): value for kind, which, value in pairs}

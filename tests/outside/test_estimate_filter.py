"""The filter against a general library: the same system, the same means and covariances after every observation.

The numbers are statsmodels' (`numbers/kalman_statsmodels.py` made them); the library itself is not needed here.
"""

import json
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest

from bot.rubber.filtering import Kind, Learned, Name, Observation, learn

NUMBERS = json.loads((Path(__file__).parent / "numbers" / "kalman_statsmodels.json").read_text())
FIRST = date(2026, 1, 1)
NAMES: list[Name] = [(name, "") for name, *_ in NUMBERS["quantities"]]
START = Learned({name: Kind(mean, variance, drift) for name, mean, variance, drift in NUMBERS["quantities"]})


def observation(number: int, row: dict[str, Any]) -> Observation:
    weights = {name: weight for name, weight in zip(NAMES, row["weights"], strict=True) if weight}
    return Observation(str(number), FIRST + timedelta(days=row["day"]), weights, row["value"], row["noise"])


def test_the_filter_equals_statsmodels_after_every_observation() -> None:
    learned, worst = START, 0.0
    for number, row in enumerate(NUMBERS["rows"]):
        learned = learn(learned, [observation(number, row)])
        met = [(at, learned.belief.index[name]) for at, name in enumerate(NAMES) if name in learned.belief.index]
        for at, own in met:
            worst = max(worst, abs(row["mean"][at] - learned.belief.mean[own]))
            for other, own_other in met:
                worst = max(worst, abs(row["covariance"][at][other] - learned.belief.covariance[own][own_other]))
    assert len(learned.belief.index) == len(NAMES)
    assert worst < 1e-6


def test_the_numbers_hold_no_surprise_so_the_plain_filter_is_compared() -> None:
    learned = learn(START, [observation(number, row) for number, row in enumerate(NUMBERS["rows"])])
    assert learned.surprises == ()
    assert learned.belief.mean == pytest.approx(
        [NUMBERS["rows"][-1]["mean"][NAMES.index(n)] for n in learned.belief.index]
    )

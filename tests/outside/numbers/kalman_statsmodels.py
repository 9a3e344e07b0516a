"""Makes `kalman_statsmodels.json`: numbers for the filter from a general library.

Run by hand, with statsmodels installed beside the project (it is not a dependency, not even of the tests):

    python tests/outside/numbers/kalman_statsmodels.py

It draws a system of seven quantities and eighty observations, each a weighted sum of up to four of them, on days with
gaps, runs statsmodels' `KalmanFilter` over it (time-varying design and noise, known initialisation, random-walk drift
in proportion to the days since the quantity was first met) and writes the system, and after every observation the
filtered means and covariances.
"""

import json
from importlib.metadata import version
from pathlib import Path
from random import Random

import numpy as np
from statsmodels.tsa.statespace.kalman_filter import KalmanFilter

QUANTITIES = ("farm", "rain", "instrument", "block 1", "block 2", "block 3", "block 4")
PRIOR_MEAN = (324.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0)
PRIOR_VARIANCE = (800.0, 800.0, 350.0, 550.0, 550.0, 550.0, 550.0)
DRIFT = (2.0, 0.0, 0.04, 0.57, 0.57, 0.57, 0.57)


def drawn_system(random: Random, count: int) -> list[dict[str, object]]:
    """Observations in the order of their days: weights, value, noise."""
    truth = [random.gauss(mean, variance**0.5) for mean, variance in zip(PRIOR_MEAN, PRIOR_VARIANCE, strict=True)]
    day, rows = 0, []
    for _ in range(count):
        gone = random.choice((0, 0, 1, 1, 2, 3, 20))
        day += gone
        truth = [each + random.gauss(0, (drift * gone) ** 0.5) for each, drift in zip(truth, DRIFT, strict=True)]
        weights = drawn_weights(random)
        noise = random.uniform(50, 500) if weights[0] == 1.0 else random.uniform(0.01, 0.1)
        value = sum(weight * each for weight, each in zip(weights, truth, strict=True)) + random.gauss(0, noise**0.5)
        rows.append({"day": day, "weights": weights, "value": value, "noise": noise})
    return rows


def drawn_weights(random: Random) -> list[float]:
    """A reading of one block, or a batch of two."""
    first, second = random.sample(range(3, 7), 2)
    weights = [0.0] * len(QUANTITIES)
    if random.random() < 0.4:
        for at in (0, 2, first):
            weights[at] = 1.0
        return weights
    litres = {first: random.uniform(5, 30), second: random.uniform(5, 30)}
    weights[0] = sum(litres.values()) / 1000
    weights[1] = weights[0] if random.random() < 0.3 else 0.0
    for at, each in litres.items():
        weights[at] = each / 1000
    return weights


def filtered(rows: list[dict[str, object]]) -> tuple[np.ndarray, np.ndarray]:
    """statsmodels' filtered means and covariances after each row."""
    size, count = len(QUANTITIES), len(rows)
    days = np.array([row["day"] for row in rows], dtype=float)
    ahead = np.append(np.diff(days), 0.0)
    model = KalmanFilter(k_endog=1, k_states=size)
    model.bind(np.array([[row["value"] for row in rows]], dtype=float))
    model["design"] = np.array([row["weights"] for row in rows], dtype=float).T[np.newaxis]
    model["obs_cov"] = np.array([row["noise"] for row in rows], dtype=float)[np.newaxis, np.newaxis]
    model["transition"] = np.eye(size)
    model["selection"] = np.eye(size)
    met = np.cumsum([np.array(row["weights"]) != 0 for row in rows], axis=0) > 0
    model["state_cov"] = np.einsum("ij,ti,t->ijt", np.diag(DRIFT), met, ahead)
    model.initialize_known(np.array(PRIOR_MEAN), np.diag(PRIOR_VARIANCE))
    model.tolerance = 0
    found = model.filter()
    assert found.filtered_state.shape == (size, count)
    return found.filtered_state.T, np.moveaxis(found.filtered_state_cov, 2, 0)


def main() -> None:
    """Write the numbers beside this script."""
    rows = drawn_system(Random(5), 80)
    means, covariances = filtered(rows)
    for row, mean, covariance in zip(rows, means, covariances, strict=True):
        row["mean"], row["covariance"] = mean.tolist(), covariance.tolist()
    kinds = [list(each) for each in zip(QUANTITIES, PRIOR_MEAN, PRIOR_VARIANCE, DRIFT, strict=True)]
    made = {"made_with": f"statsmodels {version('statsmodels')}", "quantities": kinds, "rows": rows}
    Path(__file__).with_suffix(".json").write_text(json.dumps(made) + "\n")


if __name__ == "__main__":
    main()

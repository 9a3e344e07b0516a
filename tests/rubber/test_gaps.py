"""Whose gap it is and how unusual, against figures worked by hand and against least squares done apart from the program."""

from dataclasses import replace
from datetime import date, timedelta
from random import Random

import numpy as np
import pytest

from bot.rubber import estimate
from bot.rubber.filtering import Kind, Learned, Observation, foresee, learn
from bot.rubber.gaps import ALL_SPREAD, CALM, SPREAD, Gap, Held, Search

FIRST = date(2026, 3, 2)


def compared(
    n: int, percent: float, kg: float = 10.0, error: float = 0.3, one: str = "Mara", other: str = "home"
) -> Held:
    """Sheets of some kilos at home that another balance shows so many percent more of; `error` is a standard deviation, kg."""
    day = FIRST + timedelta(days=n)
    seen = Observation(f"c{n:03}", day, {}, kg * percent / 100, error**2)
    return Held(seen, 0.0, {one: kg, other: -kg})


def search(*events: Held) -> Search:
    return Search(estimate.prior(33.0), tuple(sorted(events, key=lambda each: each.observation.day)))


def test_a_balance_that_reads_low_each_time_is_as_unusual_as_the_mean_over_its_error() -> None:
    # Nine comparisons of 10 kg, each with an error of 0.3 kg or 3 %: the mean of 5 % has an error of 3 / 3 = 1 %.
    found = {gap.key: gap for gap in search(*(compared(n, -5.0) for n in range(9))).each()}

    assert found["Mara"].fraction == pytest.approx(-0.05)
    assert found["Mara"].spread == pytest.approx(0.01)
    assert found["Mara"].deviations == pytest.approx(-5.0)
    assert found["Mara"].weighings == 9


def test_of_two_balances_that_differ_one_stands_for_both() -> None:
    told = [gap for gap in search(*(compared(n, -5.0) for n in range(9))).each() if gap.found]

    assert len(told) == 1


def test_few_or_coarse_weighings_tell_nothing() -> None:
    # One comparison with an error of 12 %, wider than the 10 % thought before.
    found = search(compared(0, -30.0, error=1.2)).each()

    assert [gap.deviations for gap in found] == [None, None]
    assert not any(gap.found for gap in found)


def test_what_is_usual_is_not_told() -> None:
    assert not any(gap.found for gap in search(*(compared(n, -2.9) for n in range(9))).each())
    assert any(gap.found for gap in search(*(compared(n, -3.1) for n in range(9))).each())
    assert not any(gap.found for gap in search(*(compared(n, -3.1) for n in range(9))).each(unusual=3.5))


@pytest.mark.parametrize("slip", [0, 4, 8])
def test_one_slip_of_the_pen_makes_no_gap(slip: int) -> None:
    # Eight comparisons agree and one is typed 60 % too low: the plain mean would be -6.7 % with an error of 1 %.
    events = [compared(n, -60.0 if n == slip else 0.0) for n in range(9)]

    assert not any(gap.found for gap in search(*events).each())


def test_some_bad_days_among_good_ones_are_no_pattern() -> None:
    # Three of nine are 12 % low, four times their error: the plain mean would be -4 % with an error of 1 %.
    events = [compared(n, -12.0 if n in (2, 5, 8) else 0.0) for n in range(9)]

    assert not any(gap.found for gap in search(*events).each())
    assert any(gap.found for gap in search(*(compared(n, -4.5) for n in range(9))).each())


def test_a_gap_too_large_to_fit_is_a_gap_and_no_new_level_of_the_block() -> None:
    random = Random(5)
    grams = estimate.KINDS["farm"].mean
    held: list[Observation | Held] = []
    for n in range(40):
        litres = {"1": random.uniform(5, 25), "2": random.uniform(5, 25)}
        true = litres["1"] * 0.324 * (0.55 if n >= 20 else 1.0) + litres["2"] * 0.324
        seen = estimate.observation(batch(n, litres, round(true * (1 + random.gauss(0, 0.02)), 2))[0])
        kilos = {f"tapper {block}": litre * grams / 1000 for block, litre in litres.items()}
        held.append(Held(seen, sum(kilos.values()), kilos) if n >= 20 else seen)
    before = learn(estimate.prior(33.0), [each for each in held[:20] if isinstance(each, Observation)])

    told = Search(before, tuple(held[20:])).each()[0]

    assert (told.key, told.found) == ("tapper 1", True)
    assert told.fraction == pytest.approx(-0.45, abs=0.12)


def test_of_three_balances_the_one_that_is_off_is_found_alone() -> None:
    random = Random(7)
    events = []
    for n in range(30):
        one, other = (("Mara", "home"), ("Nuno", "home"), ("Mara", "Nuno"))[n % 3]
        off = -6.0 * ((one == "Mara") - (other == "Mara")) + random.gauss(0, 3)
        events.append(compared(n, off, one=one, other=other))

    told = [gap for gap in search(*events).each() if gap.found]

    assert [gap.key for gap in told] == ["Mara"]
    assert told[0].fraction == pytest.approx(-0.06, abs=0.02)


def batch(n: int, litres: dict[str, float], shown: float) -> tuple[estimate.Batch, dict[str, float]]:
    latex = tuple(estimate.Latex(FIRST + timedelta(days=n), block, each) for block, each in litres.items())
    return estimate.Batch(f"b{n:03}", latex, shown), litres


def test_a_tapper_s_gap_is_that_of_generalised_least_squares() -> None:
    """The same model as matrices, solved whole with numpy: state of farm and blocks as random walks, all weighings at once."""
    random = Random(3)
    kinds = estimate.KINDS
    made = []
    for n in range(24):
        litres = {"1": random.uniform(5, 25), "2": random.uniform(5, 25)}
        true = litres["1"] * 0.324 * (0.9 if n >= 12 else 1.0) + litres["2"] * 0.324
        made.append(batch(n, litres, round(true * (1 + random.gauss(0, 0.02)), 2)))
    grams = kinds["farm"].mean
    held: list[Observation | Held] = []
    for n, (each, litres) in enumerate(made):
        seen = estimate.observation(each)
        kilos = {f"tapper {block}": litre * grams / 1000 for block, litre in litres.items()}
        held.append(Held(seen, sum(kilos.values()), kilos) if n >= 12 else seen)
    start = estimate.prior(33.0)
    found = next(gap for gap in Search(start, tuple(held)).each() if gap.key == "tapper 1")

    # Unknowns: farm and two blocks on each of 24 days, the tapper's fraction, everybody's fraction.
    size, days = 24 * 3 + 2, 24
    cov = np.zeros((size, size))
    for place, kind in enumerate(("farm", "block", "block")):
        for a in range(days):
            for b in range(days):
                cov[a * 3 + place, b * 3 + place] = kinds[kind].variance + kinds[kind].drift * min(a, b)
    cov[-2, -2], cov[-1, -1] = SPREAD**2, ALL_SPREAD**2
    mean = np.zeros(size)
    mean[0 : days * 3 : 3] = start.kind(("farm", "")).mean
    rows, noise, shown = np.zeros((days, size)), np.zeros(days), np.zeros(days)
    for n, (each, litres) in enumerate(made):
        one, two = litres["1"] / 1000, litres["2"] / 1000
        rows[n, n * 3 : n * 3 + 3] = one + two, one, two
        if n >= 12:
            rows[n, -2], rows[n, -1] = one * grams, (one + two) * grams
        noise[n], shown[n] = estimate.observation(each).noise, each.dry_kg
    gain = cov @ rows.T @ np.linalg.inv(rows @ cov @ rows.T + np.diag(noise))
    fraction = (mean + gain @ (shown - rows @ mean))[-2]
    variance = (cov - gain @ rows @ cov)[-2, -2]

    told = 1 - variance / SPREAD**2
    assert found.deviations is not None
    assert found.fraction == pytest.approx(fraction / told, rel=1e-6)
    assert found.deviations == pytest.approx(fraction / told / np.sqrt(variance / told), rel=1e-6)
    assert found.fraction == pytest.approx(-0.1, abs=0.06)


def in_the_filter(start: Learned, events: list[Observation | Held], key: str) -> tuple[float, float]:
    """Mean and variance of a key's fraction as a quantity of the filter itself, which goes the whole way for each key; what
    lies beyond CALM standard deviations is given more noise.
    """
    own = {("gap", key): Kind(0.0, SPREAD**2), ("gap", "of all"): Kind(0.0, ALL_SPREAD**2)}
    known = replace(start, own={**start.own, **own})
    for each in events:
        seen = each.observation if isinstance(each, Held) else each
        if isinstance(each, Held):
            gaps = {("gap", key): each.kilos.get(key, 0.0), ("gap", "of all"): each.whole}
            seen = replace(seen, weights={**seen.weights, **{name: kg for name, kg in gaps.items() if kg}}, levels=())
        expected = foresee(known, seen.day, seen.weights, seen.noise)
        far = ((seen.value - expected.mean) / CALM) ** 2 - expected.variance
        known = learn(known, [replace(seen, noise=seen.noise + max(far, 0.0))])
    at = known.belief.index["gap", key]
    return known.belief.mean[at], known.belief.covariance[at][at]


@pytest.mark.parametrize("seed", range(12))
def test_all_keys_on_one_way_tell_what_each_tells_as_a_quantity_of_the_filter(seed: int) -> None:
    """Blocks that are met late, readings between, comparisons, a tapper who is a third off, and slips of the pen."""
    random = Random(seed)
    grams = estimate.KINDS["farm"].mean
    events: list[Observation | Held] = []
    for n in range(40):
        litres = {str(block): random.uniform(5, 25) for block in range(3 if n < 15 else 5)}
        true = sum(0.324 * litre * (0.67 if block == "1" else 1.0) for block, litre in litres.items())
        slip = random.choice((0.3, 3.0)) if random.random() < 0.15 else 1.0
        seen = estimate.observation(batch(n, litres, round(true * slip * random.gauss(1, 0.02), 2))[0])
        kilos = {f"tapper {block}": litre * grams / 1000 for block, litre in litres.items()}
        events.append(Held(seen, sum(kilos.values()), kilos))
        if n % 3 == 0:
            latex = estimate.Latex(FIRST + timedelta(days=n), "0", 10.0, rain=n % 2 == 0)
            events.append(estimate.observation(estimate.Reading(f"r{n}", latex, random.gauss(31, 3))))
        if n % 5 == 0:
            events.append(compared(n, random.gauss(-2, 4), one="tapper 1", other="home"))
    start = estimate.prior(33.0)

    found = {gap.key: gap for gap in Search(start, tuple(events)).each(unusual=100)}

    assert sorted(found) == ["home", *(f"tapper {n}" for n in range(5))]
    for key, gap in found.items():
        mean, variance = in_the_filter(start, events, key)
        told = 1 - variance / SPREAD**2
        if gap.deviations is None:
            assert (gap.fraction, gap.spread) == pytest.approx((mean, variance**0.5), rel=1e-9)
        else:
            assert (gap.fraction, gap.spread) == pytest.approx((mean / told, (variance / told) ** 0.5), rel=1e-9)


def of_two_tappers(less: float, litres_say: float) -> Search:
    """Twenty weighings of two tappers' latex, the first's weigh so much less; and what litres say of the two, give or take 7 %."""
    random = Random(11)
    grams = estimate.KINDS["farm"].mean
    held: list[Observation | Held] = []
    for n in range(40):
        litres = {"1": random.uniform(5, 25), "2": random.uniform(5, 25)}
        true = 0.324 * (litres["1"] * (1 - less * (n >= 20)) + litres["2"]) * random.gauss(1, 0.02)
        seen = estimate.observation(batch(n, litres, round(true, 2))[0])
        kilos = {f"tapper {block}": litre * grams / 1000 for block, litre in litres.items()}
        held.append(Held(seen, sum(kilos.values()), kilos) if n >= 20 else seen)
    before = learn(estimate.prior(33.0), [each for each in held[:20] if isinstance(each, Observation)])
    said = Observation("litres", FIRST + timedelta(days=20), {}, litres_say, 0.07**2)
    return Search(before, tuple(held[20:]), beside=(Held(said, 0.0, {"tapper 1": 1.0, "tapper 2": -1.0}),))


def of_the_first(found: Search) -> Gap:
    return next(gap for gap in found.each() if gap.key == "tapper 1")


def test_litres_that_say_the_same_make_a_gap_surer() -> None:
    both = of_the_first(of_two_tappers(0.1, -0.1))
    alone = of_the_first(replace(of_two_tappers(0.1, -0.1), beside=()))

    assert both.deviations is not None
    assert alone.deviations is not None
    assert both.deviations < alone.deviations < 0
    assert both.spread < alone.spread


def test_litres_alone_make_no_gap_whatever_they_say() -> None:
    assert not any(gap.found for gap in of_two_tappers(0.0, -0.6).each())


def test_what_comes_over_all_between_two_periods_is_no_news() -> None:
    # All of five weighings are 5 % low, then 15 %: everybody's gap of 3 % either side is usual.
    def all_low(percent: float) -> Gap:
        random, held = Random(2), list[Observation | Held]()
        for n in range(60):
            true = 20 * 0.324 * (1 - percent / 100 * (n >= 30)) * random.gauss(1, 0.01)
            seen = estimate.observation(batch(n, {"1": 20.0}, round(true, 2))[0])
            held.append(Held(seen, 20 * 0.324, {"tapper": 20 * 0.324}) if n >= 30 else seen)
        before = learn(estimate.prior(33.0), [each for each in held[:30] if isinstance(each, Observation)])
        return Search(before, tuple(held[30:])).together()

    little, much = all_low(5), all_low(20)
    assert little.deviations is not None
    assert much.deviations is not None
    assert abs(little.deviations) < 3 < abs(much.deviations)
    assert little.spread > ALL_SPREAD

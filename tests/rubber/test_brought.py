"""Litres of tappers against each other: by hand, and over tappings drawn at random."""

from datetime import date, timedelta
from random import Random

import pytest

from bot.rubber.brought import LEAST, WANDER, Brought, beside, changes

FIRST = date(2026, 3, 2)
SINCE = FIRST + timedelta(days=40)


def litres(day: int, who: str, block: str, value: float) -> Brought:
    return Brought(who, block, FIRST + timedelta(days=day), value)


def drawn(seed: int, days: int = 60, **times: float) -> list[Brought]:
    """Two tappers of two blocks; from the fortieth day on each reads so many times his litres."""
    dice = Random(seed)
    return [
        litres(day, who, block, 15 * dice.gammavariate(40, 1 / 40) * (times.get(who, 1.0) if day >= 40 else 1.0))
        for day in range(days)
        for who, block in (("Ama", "1"), ("Ama", "2"), ("Yaw", "3"), ("Yaw", "4"))
        if (day + int(block)) % 2
    ]


def test_eight_litres_that_are_called_ten_are_a_fifth_less() -> None:
    before = [litres(day, who, who, 20.0) for day in range(40) for who in ("Ama", "Yaw")]
    after = [litres(day, who, who, 25.0 if who == "Ama" else 20.0) for day in range(40, 60) for who in ("Ama", "Yaw")]

    ama, yaw = changes([*before, *after], SINCE)

    # All litres alike: a tapping is off by 3 % at least, and tappers wander by 6 %.
    assert ama.fraction == pytest.approx(-0.2)
    assert yaw.fraction == pytest.approx(0.0)
    assert ama.variance == pytest.approx(WANDER**2 + LEAST**2 * (1 / 20 + 1 / 40))


@pytest.mark.parametrize("seed", range(5))
def test_with_the_scatter_that_litres_have_the_size_is_seen(seed: int) -> None:
    ama, yaw = changes(drawn(seed, Ama=1.25), SINCE)

    assert ama.fraction == pytest.approx(-0.2, abs=0.12)
    assert yaw.fraction == pytest.approx(0.0, abs=0.1)


def test_a_slip_of_the_pen_moves_little() -> None:
    plain, slipped = drawn(7), drawn(7)
    last = next(n for n in reversed(range(len(slipped))) if slipped[n].who == "Ama")
    slipped[last] = litres(59, "Ama", slipped[last].block, 150.0)

    assert changes(slipped, SINCE)[0].fraction == pytest.approx(changes(plain, SINCE)[0].fraction, abs=0.02)


def test_what_comes_over_all_tappers_says_nothing_of_one() -> None:
    (one,) = beside(drawn(3, Ama=1.3, Yaw=1.3), SINCE)

    assert abs(one.observation.value) < 2 * one.observation.noise**0.5
    assert one.kilos == pytest.approx({"Yaw": 1.0, "Ama": -1.0})
    assert one.whole == 0


def test_what_is_said_of_several_is_independent() -> None:
    seen = drawn(4) + [litres(day, "Esi", "5", 12 + day % 3) for day in range(60)]

    found = beside(seen, SINCE)

    # Each against the weighted mean of those before him: the products of their kilos with the variances vanish.
    variance = {each.who: each.variance for each in changes(seen, SINCE)}
    assert len(found) == 2
    assert sum(found[0].kilos.get(who, 0) * found[1].kilos[who] * variance[who] for who in variance) == pytest.approx(0)


def test_one_tapper_alone_or_a_new_block_says_nothing() -> None:
    assert beside([each for each in drawn(5, Ama=1.25) if each.who == "Ama"], SINCE) == ()
    assert beside([each for each in drawn(5, Ama=1.25) if each.day >= SINCE], SINCE) == ()


def test_tappers_who_always_wandered_are_believed_less() -> None:
    steady, astray = drawn(6), drawn(6)
    astray = [
        litres(
            (each.day - FIRST).days,
            each.who,
            each.block,
            each.litres * (2.5 if each.who == "Ama" and week(each) else 1.0),
        )
        for each in astray
    ]

    assert changes(astray, SINCE)[0].variance > 1.5 * changes(steady, SINCE)[0].variance


def week(each: Brought) -> bool:
    """Every second week before the fortieth day."""
    return (each.day.toordinal() // 7) % 2 == 0

"""Wet sheets and litres: what is expected, and what is learned."""

from datetime import date, timedelta

import pytest

from bot.rubber.estimate import Latex
from bot.rubber.levels import (
    Brought,
    WetSheets,
    expect_dry_from_wet,
    expect_litres,
    refit_litres,
    refit_sheets,
)

DAY = date(2026, 3, 2)


def brought(days: int, litres: float, block: str = "3", *, rain: bool = False) -> Brought:
    return Brought(f"{days} {block}", Latex(DAY + timedelta(days=days), block, litres, rain))


def test_wet_sheets_start_from_thirty_percent_moisture() -> None:
    found = expect_dry_from_wet(refit_sheets([]), DAY, 10)

    assert found.middle == pytest.approx(7)
    assert found.low < 6.7
    assert found.high > 7.3
    assert found.observations == 0


def test_wet_sheets_are_learned_from_the_farm() -> None:
    events = [WetSheets(str(n), DAY + timedelta(days=n), 10, 6.5) for n in range(8)]
    found = expect_dry_from_wet(refit_sheets(events), DAY + timedelta(days=9), 20)

    assert found.middle == pytest.approx(13, abs=0.15)
    assert found.observations == 8


def test_dry_sheets_are_never_expected_above_the_wet() -> None:
    events = [WetSheets(str(n), DAY, 10, 9.9) for n in range(8)]

    assert expect_dry_from_wet(refit_sheets(events), DAY, 10).high <= 10


def test_a_block_starts_from_its_usual_litres() -> None:
    learned = refit_litres([], {"3": 18})
    own, unknown = (expect_litres(learned, Latex(DAY, block, 0)) for block in ("3", "9"))

    assert own.middle == pytest.approx(18)
    assert own.low < 14
    assert own.high > 23
    assert unknown.high - unknown.low > own.high - own.low


def test_litres_are_learned_block_by_block() -> None:
    events = [brought(day, litres, block) for day in range(10) for block, litres in (("3", 24), ("5", 9))]
    learned = refit_litres(events)

    assert expect_litres(learned, brought(10, 1, "3").latex).middle == pytest.approx(24, rel=0.05)
    assert expect_litres(learned, brought(10, 1, "5").latex).middle == pytest.approx(9, rel=0.05)


def test_less_comes_under_rain_once_the_farm_has_shown_it() -> None:
    events = [brought(day, 12 if day % 3 == 0 else 18, rain=day % 3 == 0) for day in range(30)]
    learned = refit_litres(events)
    dry, wet = (expect_litres(learned, brought(30, 1, rain=rain).latex).middle for rain in (False, True))

    assert wet < 0.8 * dry


def test_ten_times_the_usual_litres_is_a_surprise() -> None:
    learned = refit_litres([*(brought(day, 18) for day in range(10)), brought(10, 180)])

    assert [each.key for each in learned.surprises] == ["10 3"]


@pytest.mark.parametrize(
    "wrong",
    [
        lambda: refit_litres([brought(0, 0)]),
        lambda: refit_sheets([WetSheets("1", DAY, 0, 1)]),
        lambda: refit_sheets([WetSheets("1", DAY, 1, 0)]),
        lambda: expect_dry_from_wet(refit_sheets([]), DAY, 0),
    ],
)
def test_nothing_is_learned_from_nothing(wrong: object) -> None:
    with pytest.raises(ValueError, match="more than 0"):
        wrong()  # type: ignore[operator]

"""Rules of tapping practice against figures in print: hours, cold, leaf change."""

from datetime import time

import pytest

from bot.rubber.lump import share_of_crop
from bot.rubber.start_hour import after_start_loss, start_hour
from bot.rubber.wintering import leaf_rest, too_cold


@pytest.mark.parametrize(
    ("at", "loss"),
    [
        (time(5, 30), 0),
        (time(7, 0), 3),
        (time(10, 0), 20),
        (time(13, 0), 31),
        (time(16, 0), 23),
        (time(19, 0), 6),
        (time(22, 0), 0),
    ],
)
def test_losses_by_hour(at: time, loss: float) -> None:
    """Bands of a Thai growers' table (rakayang.net, copy). Printed."""
    found = start_hour(at, "Thailand")

    assert (found.loss_low_percent, found.loss_high_percent, found.between) == (loss, loss, False)


@pytest.mark.parametrize(("at", "losses"), [(8, (3, 20)), (11, (20, 31)), (14, (23, 31)), (17, (6, 23))])
def test_hours_that_the_table_leaves_open_lie_between_both_sides(at: int, losses: tuple[float, float]) -> None:
    """The same table has no entry for 08-09, 11-12, 14-15 and 17-18 h."""
    found = start_hour(time(at, 30), "Thailand")

    assert (found.loss_low_percent, found.loss_high_percent) == losses
    assert found.between


def test_twenty_kilos_expected_are_sixteen_from_a_start_at_ten() -> None:
    """Derived from the same table."""
    assert after_start_loss(20.0, start_hour(time(10), "Thailand")) == pytest.approx((16.0, 16.0))


def test_the_range_for_other_regions_holds_a_malaysian_report() -> None:
    """23 % more at 04 h than at 06 h (Vietnamese lecture citing a Malaysian report, copy): 18.7 % less. Printed."""
    found = start_hour(time(7))

    assert found.loss_low_percent <= 100 - 100 / 1.23 <= found.loss_high_percent


@pytest.mark.parametrize(
    ("flushing", "what"), [(0, "nothing"), (1, "flushing trees"), (29, "flushing trees"), (30, "block")]
)
def test_a_block_rests_from_thirty_percent_of_flushing_trees(flushing: int, what: str) -> None:
    """Vietnam Rubber Group, technical procedure 2012. Printed rule."""
    assert leaf_rest(flushing, 100).what == what


@pytest.mark.parametrize(
    ("means", "cold"),
    [([14, 14, 14], True), ([14, 14, 16], False), ([16, 14, 14, 14], True), ([14, 14], False), ([15, 14, 14], False)],
)
def test_three_cold_days_stop_tapping(means: list[float], cold: bool) -> None:
    """Vietnam Rubber Group, technical procedure 2012: below 15 C on three days running. Printed rule."""
    assert too_cold(means) == cold


@pytest.mark.parametrize("scrap", [20, 25, 30])
def test_a_fifth_to_three_tenths_of_the_crop_come_as_scrap(scrap: float) -> None:
    """Kerala Agricultural University, crop collection: 70 to 80 % of the crop is latex. Printed."""
    assert share_of_crop(100 - scrap, scrap).verdict == "usual"


def test_more_scrap_than_that_is_noticed() -> None:
    """Derived from the same figure."""
    assert share_of_crop(69, 31).verdict == "high"

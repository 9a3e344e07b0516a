"""The tapping panel: length and drop of the cut, bark used and left, when the panel ends and which opens next.

Published limits in cm a year are vertical. Shaving thickness is measured square to the cut, so that a sloping cut takes
more bark off the panel: 1.5 mm is 1.73 mm down the trunk at 30 degrees. Knives cut: keep the edge covered on the way.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Literal

from bot.rubber.tapping_system import Panel

HALF_MM = 0.05
"""In cm: no finer is a height read off a trunk."""

DEFAULT_ORDER: tuple[Panel, ...] = (
    Panel("B", "O", 1),
    Panel("B", "O", 2),
    Panel("B", "I", 1),
    Panel("B", "I", 2),
)
"""Virgin bark of both sides, then renewed bark; what opens above the base panels differs, and is a farm's own list."""


class PanelError(ValueError):
    """Measures that no panel can have."""


@dataclass(frozen=True)
class CutLine:
    """A cut on the trunk in cm: its length along the slope, its share of the girth, and the drop from end to end."""

    length_cm: float
    girth_share_cm: float
    drop_cm: float


def cut_line(girth_cm: float, fraction: float, slope_degrees: float) -> CutLine:
    """The cut of a share of the girth (0.5 for S/2) at a slope to the horizontal.

    Plain trigonometry on the unrolled trunk. Raises PanelError for a girth, share or slope that cannot be.
    """
    _above_zero(girth_cm, "the girth")
    if not 0 < fraction <= 1:
        raise PanelError("the share of the girth lies above 0 and is at most 1")
    slope = _slope(slope_degrees)
    across = girth_cm * fraction
    return CutLine(across / math.cos(slope), across, across * math.tan(slope))


def vertical_mm(shaving_mm: float, slope_degrees: float) -> float:
    """Bark taken down the trunk by one tapping (mm), from the shaving's thickness square to the cut (mm).

    Raises PanelError for a shaving of nothing, or a slope not between 0 and 80 degrees.
    """
    return _above_zero(shaving_mm, "the shaving") / math.cos(_slope(slope_degrees))


def bark_cm(tappings: float, mm_a_tapping: float) -> float:
    """Bark used (cm) by so many tappings of so many mm each, both vertical.

    Raises PanelError for values below 0.
    """
    if tappings < 0 or mm_a_tapping < 0:
        raise PanelError("tappings and bark cannot be below 0")
    return tappings * mm_a_tapping / 10


def mm_allowed(limit_cm_a_year: float, tappings_a_year: float) -> float:
    """The bark that one tapping may take (mm, vertical) for a year's limit to last.

    Raises PanelError for a limit or a number of tappings of 0 or less.
    """
    return 10 * _above_zero(limit_cm_a_year, "the limit") / _above_zero(tappings_a_year, "the tappings a year")


def panel_years(opening_cm: float, lowest_cm: float, limit_cm_a_year: float) -> float:
    """Years that a downward panel lasts from its opening height to the lowest cut, at so many cm a year.

    Raises PanelError if the opening does not lie above the lowest cut.
    """
    if opening_cm <= lowest_cm:
        raise PanelError("the opening height has to lie above the lowest cut")
    return (opening_cm - lowest_cm) / _above_zero(limit_cm_a_year, "the limit")


@dataclass(frozen=True)
class BarkLeft:
    """Bark used and left on a panel (cm, vertical), the tappings that it serves, the last day and the next panel.

    `last_day` is None where the days given do not reach the end, `next_panel` where the order has no more.
    """

    panel: Panel
    used_cm: float
    left_cm: float
    mm_a_tapping: float
    tappings_left: int
    last_day: date | None
    next_panel: Panel | None


def bark_left(
    panel: Panel,
    opening_cm: float,
    now_cm: float,
    end_cm: float,
    mm_a_tapping: float,
    days: Sequence[date] = (),
    order: Sequence[Panel] = DEFAULT_ORDER,
) -> BarkLeft:
    """How long a panel still serves. Heights in cm above the union: opened at, cut now at, and the last cut.

    An upward panel ends above its opening. `days` are the tapping days to come (see `calendar`), which date the end.
    Raises PanelError if the cut does not lie between opening and end, or nothing is taken off.
    """
    if not (opening_cm >= now_cm >= end_cm or opening_cm <= now_cm <= end_cm) or opening_cm == end_cm:
        raise PanelError(f"the cut at {now_cm:g} cm does not lie between {opening_cm:g} and {end_cm:g} cm")
    left = abs(_above_zero(now_cm, "the height of the cut") - end_cm)
    # A tenth of a tapping is lost to rounding of heights, not of bark.
    tappings = math.floor(10 * left / _above_zero(mm_a_tapping, "the bark of a tapping") + 1e-9)
    last_day = days[tappings - 1] if 0 < tappings <= len(days) else None
    used = abs(opening_cm - now_cm)
    return BarkLeft(panel, used, left, mm_a_tapping, tappings, last_day, next_panel(panel, order))


def next_panel(panel: Panel, order: Sequence[Panel] = DEFAULT_ORDER) -> Panel | None:
    """The panel opened after this one in the farm's order; None after the last.

    Raises PanelError for a panel that the order does not hold.
    """
    if panel not in order:
        raise PanelError(f"{panel} is not in the order of panels: {', '.join(map(str, order))}")
    rest = order[order.index(panel) + 1 :]
    return rest[0] if rest else None


@dataclass(frozen=True)
class BarkUse:
    """Bark use of a tapping year against its limit, all in cm, vertical.

    `needed_cm` is what the tappings still to come take, `total_cm` the year's end. "over" has passed the limit already,
    "heading over" will pass it, "within" will not.
    """

    used_cm: float
    needed_cm: float
    total_cm: float
    limit_cm: float
    mm_allowed: float | None
    kind: Literal["within", "heading over", "over"]


def bark_use(used_cm: float, tappings_left: int, mm_a_tapping: float, limit_cm: float) -> BarkUse:
    """Whether a year's bark use keeps to its limit, at so many tappings still to come of so many mm each.

    `mm_allowed` is what each of them may take for the limit to hold; None if no bark or no tapping is left.
    Raises PanelError for values below 0.
    """
    if used_cm < 0:
        raise PanelError("the bark used cannot be below 0")
    needed = bark_cm(tappings_left, mm_a_tapping)
    left = _above_zero(limit_cm, "the limit") - used_cm
    allowed = mm_allowed(left, tappings_left) if left > 0 and tappings_left else None
    kind: Literal["within", "heading over", "over"] = (
        "within" if used_cm + needed <= limit_cm + HALF_MM else "heading over"
    )
    return BarkUse(used_cm, needed, used_cm + needed, limit_cm, allowed, "over" if left < 0 else kind)


@dataclass(frozen=True)
class Renewed:
    """Whether renewed bark may be opened again: its thickness (mm) and age (years) against the limits of the farm."""

    ready: bool
    thickness_mm: float
    needed_mm: float
    age_years: float | None
    needed_years: float | None


def renewed_bark(
    thickness_mm: float, needed_mm: float, age_years: float | None = None, needed_years: float | None = None
) -> Renewed:
    """Whether renewed bark is thick enough to be tapped, or (where the farm's rule has an age) old enough.

    Sources ask for 6 mm (Vietnam 2004), or for 8 mm or ten years (a Vietnamese plan): a setting, not a constant.
    Raises PanelError for a thickness of 0 or less.
    """
    thick = _above_zero(thickness_mm, "the bark") >= _above_zero(needed_mm, "the bark needed")
    old = age_years is not None and needed_years is not None and age_years >= needed_years
    return Renewed(thick or old, thickness_mm, needed_mm, age_years, needed_years)


def opening_ready(tappable: int, trees: int, share_percent: float) -> bool:
    """True if enough trees of a block have the girth to open it (50 to 70 % of them, by country).

    Raises PanelError if there are no trees, or more tappable ones than there are.
    """
    if trees <= 0 or not 0 <= tappable <= trees:
        raise PanelError("tappable trees cannot be fewer than 0 or more than the trees of the block")
    return 100 * tappable >= share_percent * trees


def trees_needed(trees: int, share_percent: float) -> int:
    """The trees that must have the girth before a block is opened.

    Raises PanelError for a share that is not between 0 and 100 %.
    """
    if not 0 <= share_percent <= 100:
        raise PanelError("the share of trees lies between 0 and 100 %")
    return math.ceil(trees * share_percent / 100 - 1e-9)


def _above_zero(number: float, what: str) -> float:
    if not 0 < number < math.inf:
        raise PanelError(f"{what} has to be above 0")
    return number


def _slope(degrees: float) -> float:
    if not 0 <= degrees <= 80:
        raise PanelError("the slope lies between 0 and 80 degrees")
    return math.radians(degrees)

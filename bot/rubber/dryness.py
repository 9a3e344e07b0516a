"""Dry trees: their share, whether it calls for a look, and how much of the cuts is dry."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from bot.rubber.harvest_reference import DRY_CUT_SCALE, source, value


@dataclass(frozen=True)
class Dryness:
    """Share of dry trees in %, against a limit of the farm and published shares in %.

    "usual" below the farm's limit, "watch" from there, "high" above the highest share published for smallholdings.
    """

    dry: int
    trees: int
    percent: float
    watch_percent: float
    published_percent: tuple[float, float]
    kind: Literal["usual", "watch", "high"]
    sources: tuple[str, ...]


def dry_share(dry: int, trees: int, watch_percent: float | None = None) -> Dryness:
    """The share of trees whose cut gives no latex. 12 to 32 % were given up as dry in 989 Chinese smallholdings.

    From when on to look is the farm's own (5 % if not set: common practice, no source).
    Raises ValueError if there are no trees, or more dry ones than there are.
    """
    if trees <= 0 or not 0 <= dry <= trees:
        raise ValueError("dry trees cannot be fewer than 0 or more than the trees of the block")
    watch = value("dry_watch") if watch_percent is None else watch_percent
    percent = 100 * dry / trees
    published = (value("dry_share_low"), value("dry_share_high"))
    kind: Literal["usual", "watch", "high"] = "watch" if percent >= watch else "usual"
    sources = source("dry_watch", "dry_share_low")
    return Dryness(dry, trees, percent, watch, published, "high" if percent > published[1] else kind, sources)


def new_dry_trees(before: int, after: int, trees: int) -> float:
    """Trees that went dry between two counts, in points of the block's share (below 0 if some recovered).

    Raises ValueError as `dry_share` does.
    """
    return dry_share(after, trees).percent - dry_share(before, trees).percent


def dry_cut_percent(trees_by_class: Sequence[int]) -> float:
    """Diseased length of the cuts in % by the scale of seven classes (0 none, 1 to 20 %, ... 6 fully dry).

    `trees_by_class` counts the trees of class 0 to 6. The scale and its class middles are from memory.
    Raises ValueError unless there are seven counts, none below 0 and not all 0.
    """
    if len(trees_by_class) != len(DRY_CUT_SCALE) or min(trees_by_class) < 0 or not sum(trees_by_class):
        raise ValueError("seven counts of trees are needed, class 0 to 6, none below 0 and not all 0")
    dry = sum(count * middle.value for count, middle in zip(trees_by_class, DRY_CUT_SCALE, strict=True))
    return dry / sum(trees_by_class)


def rest_tree(dry_percent_of_cut: float, limit_percent: float | None = None) -> bool:
    """True if a tree's cut is so far dry that it is rested. The limit (half of the cut) is from memory: set your own.

    Raises ValueError outside 0 to 100 %.
    """
    if not 0 <= dry_percent_of_cut <= 100:
        raise ValueError("the dry part of the cut lies between 0 and 100 %")
    return dry_percent_of_cut >= (value("dry_cut_rest") if limit_percent is None else limit_percent)

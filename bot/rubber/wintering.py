"""When trees are rested: while they change leaf, and in cold spells (rules of the Vietnamese procedure of 2012)."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from bot.rubber.harvest_reference import source, value


@dataclass(frozen=True)
class Rest:
    """What to rest and why: share of trees with bursting buds in %, the rule's limit, sources."""

    what: Literal["nothing", "flushing trees", "block"]
    flushing_percent: float
    limit_percent: float
    sources: tuple[str, ...]


def leaf_rest(flushing: int, trees: int, limit_percent: float | None = None) -> Rest:
    """What to rest while trees change leaf: a tree when its buds burst, the block once 30 % of its trees show it.

    The block is started again when the leaves are firm. Other places differ (Thailand rests about three months; a trial
    found no penalty without rest), so the limit can be the farm's own.
    Raises ValueError if there are no trees, or more flushing than there are.
    """
    if trees <= 0 or not 0 <= flushing <= trees:
        raise ValueError("flushing trees cannot be fewer than 0 or more than the trees of the block")
    limit = value("flushing_rest") if limit_percent is None else limit_percent
    share = 100 * flushing / trees
    what: Literal["nothing", "flushing trees", "block"] = "flushing trees" if flushing else "nothing"
    return Rest("block" if share >= limit else what, share, limit, source("flushing_rest"))


def too_cold(daily_means: Sequence[float]) -> bool:
    """True if tapping stops for cold: the mean air temperatures (C) of the last three days were all below 15 C.

    The latest day stands last. Tapping starts again on a day above 15 C.
    """
    days = int(value("cold_days"))
    return len(daily_means) >= days and all(mean < value("cold_limit") for mean in daily_means[-days:])

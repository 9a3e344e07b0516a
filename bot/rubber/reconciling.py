"""Field against factory: what each tapper was credited with, adjusted to what was weighed in the end.

That the sums agree checks the average only: a tapper whose latex is richer or poorer than the batch is still credited
wrong, by about 3 % for each DRC point (Smith 1947). No published tolerance was found; the limits are settings.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Generic, TypeVar

from bot.rubber import reference
from bot.rubber.money import MoneyError, split
from bot.rubber.selling_reference import value

Name = TypeVar("Name")


@dataclass(frozen=True)
class Reconciliation(Generic[Name]):
    """Estimated and weighed kg, their ratio, the difference in % of the estimate, each one's adjusted kg, and a flag.

    The adjusted kilos add up to what was weighed.
    """

    estimated_kg: Decimal
    weighed_kg: Decimal
    factor: Decimal
    difference_percent: Decimal
    adjusted_kg: dict[Name, Decimal]
    limit_percent: float
    flagged: bool


def reconcile(
    estimates: Mapping[Name, Decimal], weighed_kg: Decimal, places: int = 2, limit_percent: float | None = None
) -> Reconciliation[Name]:
    """Adjusts dry kg by tapper or block to what was weighed in all, in proportion, to so many decimals of a kg.

    Beyond the limit (5 % if not set: no published value) it is flagged: somebody should look before anybody is paid.
    Raises MoneyError if estimates are below 0 or all 0, or the weight has more decimals than asked for.
    """
    limit = value("batch_flag") if limit_percent is None else limit_percent
    adjusted = split(weighed_kg, estimates, places)
    total = sum(estimates.values(), Decimal(0))
    factor = weighed_kg / total
    difference = 100 * (factor - 1)
    return Reconciliation(total, weighed_kg, factor, difference, adjusted, limit, abs(difference) > Decimal(str(limit)))


def apart(own_kg: Decimal, usual_kg: Decimal, limit_percent: float | None = None) -> tuple[Decimal, bool]:
    """How far a tapper's kg lies from his usual, in %, and whether that is beyond the limit (10 % if not set).

    Raises MoneyError if the usual is not above 0.
    """
    if not usual_kg > 0:
        raise MoneyError("the usual weight has to be above 0 kg")
    percent = 100 * (own_kg / usual_kg - 1)
    limit = value("tapper_flag") if limit_percent is None else limit_percent
    return percent, abs(percent) > Decimal(str(limit))


def miscredit_percent(own_drc_percent: float, average_drc_percent: float) -> float:
    """By how many % a tapper is credited too much (above 0) or too little, if his latex is reckoned as the average.

    His true, undiluted DRC against the average (or the 35 % that a hydrometer's scale assumes): 3 % a point.
    """
    return reference.value("hydrometer_bias") * (own_drc_percent - average_drc_percent)

"""How fast a farm uses acid, and how long what it has will last."""

from datetime import date, timedelta
from decimal import Decimal

from bot.books import Transaction, entries
from bot.books.model import Farm
from bot.reckon.batches import Batch, dose_for, of_kept
from bot.rubber.coagulation import DoseRefused
from parsers.reading import What

#: The pace of so many days tells how long the acid lasts.
PACE_DAYS = 14

#: A count of acid that is older tells nothing any more.
COUNT_DAYS = 60


def days_left(tx: Transaction, farm: Farm, litres: Decimal, today: date) -> int | None:
    """Days with latex that so much acid lasts at the pace of the last two weeks; None without any latex in them."""
    used = ml_a_day(tx, farm, today)
    return None if not used else int(float(litres) * 1000 / used)


def litres_left(tx: Transaction, farm: Farm, today: date) -> Decimal | None:
    """What is left of the acid that was last counted, less what the latex since should have taken; None if none was."""
    first = today - timedelta(days=COUNT_DAYS)
    counted = entries.standing(tx, farm.id, first=first, last=today, what=What.ACID_STOCK)
    if not counted or counted[-1].record.litres is None or counted[-1].record.day is None:
        return None
    used = ml_used(tx, farm, counted[-1].record.day + timedelta(days=1), today)
    return max(counted[-1].record.litres - Decimal(str(round(used / 1000, 3))), Decimal(0))


def ml_a_day(tx: Transaction, farm: Farm, today: date) -> float:
    """Millilitres of the farm's acid that a day with latex took in the last two weeks; 0 without any."""
    doses = _daily_doses(tx, farm, today - timedelta(days=PACE_DAYS), today)
    return sum(doses) / len(doses) if doses else 0.0


def ml_used(tx: Transaction, farm: Farm, first: date, last: date) -> float:
    """Millilitres of acid that the latex of these days should have taken."""
    return sum(_daily_doses(tx, farm, first, last))


def _daily_doses(tx: Transaction, farm: Farm, first: date, last: date) -> list[float]:
    by_day = entries.computed_latex(tx, farm.id, first, last).values()
    batches = ([batch for batch in map(of_kept, kept) if batch is not None] for kept in by_day)
    return [ml for ml in (_acid_ml(farm, each) for each in batches if each) if ml is not None]


def _acid_ml(farm: Farm, batches: list[Batch]) -> float | None:
    try:
        return dose_for(batches, farm.settings).acid_ml
    except DoseRefused:  # latex too thin for sheet took no acid
        return None

"""What a cooperative owes a grower: receipts as they stand now less what was paid for them, less levy, advances and goods.

A receipt that is corrected, priced or taken out after it was paid comes again with the difference, as an adjustment. The
levy is that of the receipt's own day. A receipt in dispute is paid as it stands; one without a price waits for its price.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from itertools import groupby

from bot.books import Transaction, cooperatives, farms, payouts
from bot.books.cooperatives import Cooperative
from bot.books.payouts import GrowerMoney, OpenReceipt
from bot.reckon.pay_terms import decimals
from bot.rubber.money import rounded
from bot.rubber.payout import PayOut, levies, pay_out

ZERO = Decimal(0)


@dataclass(frozen=True)
class Owed:
    """What a pay-out to a grower would come to now: the sums, the receipts and lines that it would hold, and how it came about.

    `slip` are lines of kind, rule and amount, what comes off below 0. `unpriced` are receipts that wait for their price.
    """

    farm_id: str
    farm: str
    sums: PayOut
    receipts: tuple[OpenReceipt, ...]
    lines: tuple[GrowerMoney, ...]
    slip: tuple[tuple[str, str, Decimal], ...]
    unpriced: tuple[int, ...]

    @property
    def is_nothing(self) -> bool:
        """Whether there is nothing that a pay-out would settle."""
        return not self.lines and not any(each.owed for each in self.receipts)

    @property
    def has_receipts(self) -> bool:
        """Whether there is money to be paid for, and not only something to be taken off."""
        return any(each.owed for each in self.receipts)


@dataclass(frozen=True)
class _Ledger:
    """What all growers of a cooperative have in common, read once."""

    cooperative: Cooperative
    places: int
    levies: Sequence[tuple[date, Decimal]]
    money: Mapping[str, Sequence[GrowerMoney]]

    def levy_on(self, day: date) -> Decimal:
        """The levy of a day, percent: the newest that counts since then or before."""
        return next((percent for since, percent in reversed(self.levies) if since <= day), ZERO)


def owed(tx: Transaction, cooperative: Cooperative, farm_id: str) -> Owed:
    """What a cooperative owes one of its growers."""
    return _owed(tx, _ledger(tx, cooperative), farm_id, farms.farm(tx, farm_id).name)


def everybody(tx: Transaction, cooperative: Cooperative) -> list[Owed]:
    """What a cooperative owes each grower with whom something is open, by name of the farm."""
    ledger, names = _ledger(tx, cooperative), cooperatives.farm_names(tx, cooperative.id)
    found = [
        _owed(tx, ledger, farm_id, names.get(farm_id) or farms.farm(tx, farm_id).name)
        for farm_id in payouts.farms_with_open_money(tx, cooperative.id)
    ]
    return sorted((each for each in found if not each.is_nothing or each.unpriced), key=lambda each: each.farm)


def _ledger(tx: Transaction, cooperative: Cooperative) -> _Ledger:
    money: dict[str, list[GrowerMoney]] = {}
    for each in payouts.open_money(tx, cooperative.id):
        money.setdefault(each.farm_id, []).append(each)
    return _Ledger(cooperative, decimals(cooperative.currency), payouts.levies(tx, cooperative.id), money)


def _owed(tx: Transaction, ledger: _Ledger, farm_id: str, name: str) -> Owed:
    found = payouts.open_receipts(tx, ledger.cooperative.id, farm_id)
    receipts = tuple(each for each in found if each.amount is not None)
    lines = tuple(ledger.money.get(farm_id, ()))
    brought = payouts.brought(tx, ledger.cooperative.id, farm_id)
    base: dict[Decimal, Decimal] = {}
    for each in receipts:
        percent = ledger.levy_on(each.day)
        base[percent] = base.get(percent, ZERO) + each.owed
    taken = levies({percent: amount for percent, amount in base.items() if percent}, ledger.places)
    sums = pay_out(
        [each.owed for each in receipts], taken.values(), [each.off for each in lines], brought, ledger.places
    )
    slip = [
        *_of_receipts(receipts),
        *(
            ("levy", f"{percent}% x {rounded(base[percent], ledger.places)}", -amount)
            for percent, amount in taken.items()
            if amount
        ),
        *((each.kind, each.note, -each.off) for each in lines),
        *([("brought", "", -brought)] if brought else []),
    ]
    exact = tuple((kind, rule, rounded(amount, ledger.places)) for kind, rule, amount in slip)
    unpriced = tuple(each.number for each in found if each.amount is None)
    return Owed(farm_id, name, sums, receipts, lines, exact, unpriced)


def _of_receipts(receipts: Sequence[OpenReceipt]) -> list[tuple[str, str, Decimal]]:
    """All that are paid for the first time in one line, each that was paid before in a line of its own."""
    new = [each for each in receipts if not each.was_paid and each.owed]
    first = (
        [("receipts", in_runs([each.number for each in new]), sum((each.owed for each in new), ZERO))] if new else []
    )
    return first + [("adjustment", str(each.number), each.owed) for each in receipts if each.was_paid and each.owed]


def in_runs(numbers: Sequence[int]) -> str:
    """Rising numbers with runs of them shortened: `1001-1003, 1007`."""
    runs = [list(run) for _, run in groupby(enumerate(numbers), key=lambda pair: pair[1] - pair[0])]
    return ", ".join(f"{run[0][1]}-{run[-1][1]}" if len(run) > 1 else str(run[0][1]) for run in runs)


def close(tx: Transaction, cooperative: Cooperative, due: Owed, *, day: date, at: datetime, message_id: str) -> int:
    """Close a pay-out as it was reckoned; its number."""
    return payouts.close(
        tx,
        cooperative.id,
        due.farm_id,
        due.sums,
        slip=[(kind, rule, str(amount)) for kind, rule, amount in due.slip],
        receipts=due.receipts,
        lines=due.lines,
        day=day,
        at=at,
        message_id=message_id,
    )

"""What a farm's cooperative paid out to it and still owes it: as a table, and as rows of the whole books."""

from collections.abc import Iterator, Sequence
from datetime import date
from decimal import Decimal
from typing import Any
from zoneinfo import ZoneInfo

from bot.books import Transaction
from bot.books.model import Farm
from bot.books.payouts import BACK, Closed
from bot.papers.table import Cell, Column, Table
from bot.reckon.growers_own import Account, accounts, lines_of
from bot.reckon.pay_terms import decimals
from bot.reckon.payouts import in_runs
from bot.rubber.money import rounded
from bot.rubber.payout import PayOut
from bot.speech.language import Tongue
from bot.speech.payouts import Line, in_words, label

#: A farm has so many pay-outs at most: one a day for longer than anybody keeps papers.
ALL = 20_000

#: What comes off, each in a column of its own.
KINDS = ("levy", "advance", "acid", "tools", "deduction", BACK)


def payouts(tx: Transaction, farm: Farm, tongue: Tongue, first: date, last: date) -> Table:
    """The pay-outs of the days from `first` to `last`, oldest first, and below them what is not paid out yet.

    What is due is of now, whatever days were named: it has no number and no day. Amounts that come off are below 0.
    """
    columns = (
        Column(tongue.say("Cooperative")),
        Column(tongue.say("Pay-out")),
        Column(tongue.say("Day")),
        Column(tongue.say("How it was computed")),
        Column(label(tongue, "receipts").capitalize(), farm.currency),
        *(Column(label(tongue, kind).rstrip(":").capitalize(), farm.currency) for kind in KINDS),
        Column(label(tongue, "brought").capitalize(), farm.currency),
        Column(tongue.say("Paid"), farm.currency),
        Column(tongue.say("Not paid out yet"), farm.currency),
        Column(tongue.say("Carried to the next"), farm.currency),
    )
    rows = [row for each in accounts(tx, farm, ALL) for row in _rows(tongue, each, first, last)]
    return Table(tongue.say("Pay-outs of the cooperative"), columns, tuple(rows))


def _rows(speech: Tongue, account: Account, first: date, last: date) -> Iterator[tuple[Cell, ...]]:
    for each in reversed(account.closed):
        if first <= each.day <= last:
            yield _row(speech, account, (each.number, each.day), lines_of(each), each.sums, is_paid=True)
    if account.due.slip or account.due.unpriced:
        yield _row(speech, account, (None, None), account.due.slip, account.due.sums, is_paid=False)


def _row(
    speech: Tongue,
    account: Account,
    which: tuple[int | None, date | None],
    lines: Sequence[Line],
    sums: PayOut,
    *,
    is_paid: bool,
) -> tuple[Cell, ...]:
    places = decimals(account.cooperative.currency)
    of_kind = {kind: sum((amount for each, _, amount in lines if each == kind), Decimal(0)) for kind in KINDS}
    return (
        account.cooperative.name,
        *which,
        in_words(speech, lines, places),
        rounded(sums.receipts, places),
        *(rounded(of_kind[kind], places) for kind in KINDS),
        rounded(-sums.brought, places),
        rounded(sums.paid, places) if is_paid else None,
        None if is_paid else rounded(sums.paid, places),
        rounded(sums.carried, places),
    )


Rows = tuple[dict[str, Any], ...]


def rows_of_payouts(farm: Farm, found: Sequence[Account]) -> Rows:
    """One row a pay-out, oldest first."""
    return tuple(_payout(farm, account, each) for account in found for each in reversed(account.closed))


def _payout(farm: Farm, account: Account, each: Closed) -> dict[str, Any]:
    return {
        "cooperative": account.cooperative.name,
        "number": each.number,
        "day": each.day.isoformat(),
        **_sums(each.sums),
        "paid": float(each.sums.paid),
        "carried": float(each.sums.carried),
        "closed_at": each.closed_at.astimezone(ZoneInfo(farm.timezone)).isoformat(timespec="seconds"),
    }


def rows_of_lines(found: Sequence[Account]) -> Rows:
    """One row a line of a pay-out; those that no pay-out holds yet have no number."""
    return tuple(
        {
            "cooperative": account.cooperative.name,
            "number": number,
            "kind": kind,
            "how": rule,
            "amount": float(amount),
        }
        for account in found
        for number, lines in (
            *((each.number, lines_of(each)) for each in reversed(account.closed)),
            (None, account.due.slip),
        )
        for kind, rule, amount in lines
    )


def rows_of_due(found: Sequence[Account]) -> Rows:
    """What each cooperative owes the farm when the books are copied."""
    return tuple(
        {
            "cooperative": account.cooperative.name,
            **_sums(account.due.sums),
            "due": float(account.due.sums.paid),
            "carried": float(account.due.sums.carried),
            "receipts_without_price": in_runs(account.due.unpriced),
        }
        for account in found
    )


def _sums(sums: PayOut) -> dict[str, float]:
    return {name: float(getattr(sums, name)) for name in ("receipts", "levy", "deductions", "brought")}


_SUMS: dict[str, type] = {"receipts": float, "levy": float, "deductions": float, "brought": float}

#: The columns of the tables.
TABLES: dict[str, dict[str, type]] = {
    "payouts": {
        "cooperative": str,
        "number": int,
        "day": str,
        **_SUMS,
        "paid": float,
        "carried": float,
        "closed_at": str,
    },
    "payout_lines": {"cooperative": str, "number": int, "kind": str, "how": str, "amount": float},
    "due": {"cooperative": str, **_SUMS, "due": float, "carried": float, "receipts_without_price": str},
}

"""The cash that a cooperative's growers are to be paid at the end of a collecting day: what comes off is told beside it."""

from dataclasses import dataclass
from decimal import Decimal

from bot.books import Transaction, payouts
from bot.books.cooperatives import Cooperative
from bot.reckon import payouts as reckoned
from bot.reckon.pay_terms import decimals
from bot.speech.language import Tongue

ZERO = Decimal(0)


@dataclass(frozen=True)
class ToPay:
    """What all growers with receipts that are not paid out would be paid now: the sum that `pay out all` proposes.

    `receipts` is what these come to, `off` what levy, advances and goods take of it; `receipts` - `off` = `paid`.
    """

    growers: int
    receipts: Decimal
    off: Decimal
    paid: Decimal


def to_pay(tx: Transaction, cooperative: Cooperative, of_day: Decimal, growers: int) -> ToPay:
    """The cash that pay-outs to all growers need now.

    Where pay-outs were never used, receipts of years are open that were paid elsewhere: it is what the day's receipts came to.
    """
    if not payouts.in_use(tx, cooperative.id):
        return ToPay(growers, of_day, ZERO, of_day)
    due = [each for each in reckoned.everybody(tx, cooperative) if each.has_receipts]
    receipts = sum((each.sums.receipts for each in due), ZERO)
    paid = sum((each.sums.paid for each in due), ZERO)
    return ToPay(len(due), receipts, receipts - paid, paid)


def in_words(speech: Tongue, cooperative: Cooperative, of_day: Decimal, growers: int, due: ToPay | None) -> list[str]:
    """Receipts of a day and the cash to pay out now, after what comes off; one sentence where one tells both.

    `due` is None for a day that is over: what was to be paid then is not known any more.
    """
    if due is None or not due.growers:
        return [_receipts(speech, cooperative, of_day)] if growers else []
    amount = _money(speech, cooperative, due.paid)
    if due.off > 0:
        said = speech.count(
            "Pay out {amount} to {n} grower, deductions {off}.",
            "Pay out {amount} to {n} growers, deductions {off}.",
            due.growers,
            amount=amount,
            off=speech.fixed(due.off, decimals(cooperative.currency)),
        )
    else:
        said = speech.count(
            "Pay out {amount} to {n} grower.", "Pay out {amount} to {n} growers.", due.growers, amount=amount
        )
    told = not growers or (due.receipts == of_day and due.growers == growers)
    return [said] if told else [_receipts(speech, cooperative, of_day), said]


def _receipts(speech: Tongue, cooperative: Cooperative, amount: Decimal) -> str:
    return speech.say("Receipts {amount}.", amount=_money(speech, cooperative, amount))


def _money(speech: Tongue, cooperative: Cooperative, amount: Decimal) -> str:
    return f"{speech.fixed(amount, decimals(cooperative.currency))} {cooperative.currency}"

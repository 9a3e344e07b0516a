"""What the cooperative paid out to the owner of a page and still owes him, on his page of pay."""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from bot.books import Transaction
from bot.books.payouts import Closed
from bot.pages.opening import Page
from bot.reckon.growers_own import Account, accounts, lines_of
from bot.reckon.pay_terms import decimals
from bot.reckon.payouts import in_runs
from bot.speech.payouts import Line, label, rule

#: So many closed pay-outs are shown; the paper has all.
MOST_CLOSED = 30

#: A line of a table: what, how it came about, the amount.
Written = tuple[str, str, str]


@dataclass(frozen=True)
class OwnPayOut:
    """A pay-out that was closed; `carried` is empty where nothing was."""

    number: int
    day: str
    lines: tuple[Written, ...]
    paid: str
    carried: str


@dataclass(frozen=True)
class OwnAccount:
    """The account with one cooperative: what is due line by line (empty: nothing), and what was paid out, newest first."""

    name: str
    due: tuple[Written, ...]
    carried: str
    unpriced: str
    closed: tuple[OwnPayOut, ...]


def look(tx: Transaction, page: Page) -> tuple[OwnAccount, ...]:
    """The accounts of the farm; none for one that grows for no cooperative."""
    return tuple(_seen(page, each) for each in accounts(tx, page.farm, MOST_CLOSED))


def _seen(page: Page, account: Account) -> OwnAccount:
    due = account.due
    return OwnAccount(
        account.cooperative.name,
        _lines(page, account, due.slip, page.speech.say("to pay"), due.sums.paid) if due.slip else (),
        _carried(page, account, due.sums.carried),
        in_runs(due.unpriced),
        tuple(_pay_out(page, account, each) for each in account.closed),
    )


def _pay_out(page: Page, account: Account, closed: Closed) -> OwnPayOut:
    return OwnPayOut(
        closed.number,
        page.speech.dated_year(closed.day),
        _lines(page, account, lines_of(closed), page.speech.say("paid"), closed.sums.paid),
        _money(page, account, closed.sums.paid),
        _carried(page, account, closed.sums.carried),
    )


def _lines(page: Page, account: Account, lines: Sequence[Line], last: str, sum_: Decimal) -> tuple[Written, ...]:
    speech, places = page.speech, decimals(account.cooperative.currency)
    said = (
        (label(speech, kind), rule(speech, kind, text), speech.fixed(amount, places)) for kind, text, amount in lines
    )
    return (*said, (last, "", _money(page, account, sum_)))


def _carried(page: Page, account: Account, amount: Decimal) -> str:
    return _money(page, account, amount) if amount else ""


def _money(page: Page, account: Account, amount: Decimal) -> str:
    currency = account.cooperative.currency
    return f"{page.speech.fixed(amount, decimals(currency))} {currency}"

"""What a grower asks of his pay-outs: the last one, line by line, and what has gathered since. Only an owner, only his own.

`pay out`, `my pay-outs`, `what does the cooperative owe me?` Nothing is changed by it: a manager pays out.
"""

from collections.abc import Callable, Sequence
from decimal import Decimal

from bot.books.convert import folded
from bot.books.payouts import Closed
from bot.reckon.growers_own import Account, accounts, lines_of
from bot.reckon.pay_terms import decimals
from bot.reckon.payouts import in_runs
from bot.speech.fitting import fits, fitting
from bot.speech.language import Tongue
from bot.speech.payouts import Line, by_kind, in_words
from bot.talk.desk import Desk, Outcome
from bot.talk.exchange import Kind
from parsers import taking

#: Parts that an answer may take: a statement of one pay-out and what is due since.
MOST_PARTS = 3


#: How the lines of pay-outs are shortened, step by step, until an answer fits: all, those of one kind together, and of what
#: was paid only its sum.
Shorten = Callable[[Sequence[Line]], Sequence[Line]]
DETAILS: tuple[tuple[Shorten, Shorten], ...] = (
    (lambda lines: lines, lambda lines: lines),
    (by_kind, by_kind),
    (lambda _: (), by_kind),
)


def answered(desks: Sequence[Desk]) -> Outcome | None:
    """What comes of a grower's question for his pay-outs; None for any other text, or where he grows for no cooperative."""
    asked = [desk for desk in desks if desk.is_owner and _asks(desk)]
    if not asked:
        return None
    said = folded(asked[0].message.text)
    named = [desk for desk in asked if folded(desk.farm.name) in said]
    text = in_words_of(named or asked)
    return None if text is None else Outcome(Kind.ANSWERED, text)


def _asks(desk: Desk) -> bool:
    """Whether a text asks for money of the cooperative: by the words it begins with, or by those of the cooperative and of owing.

    One that names a tapper, or any figure, is about something else.
    """
    text, words = desk.message.text, desk.house.words
    if any(character.isdigit() for character in text):
        return False
    if taking.begins(text, "own_payouts", words):
        return not _names_another(desk, text)
    return taking.speaks_of(text, "owes", words) and _names_the_house(desk, text)


def _names_the_house(desk: Desk, text: str) -> bool:
    if taking.speaks_of(text, "house", desk.house.words):
        return True
    return desk.cooperative is not None and folded(desk.cooperative.name) in folded(text)


def _names_another(desk: Desk, text: str) -> bool:
    said = {folded(word) for word in text.split()}
    return any(folded(each.name) in said for each in desk.tappers())


def in_words_of(desks: Sequence[Desk]) -> str | None:
    """The last pay-outs to these farms and what is due since, as fully as the parts hold; None without any cooperative."""
    found = [(desk, account) for desk in desks for account in accounts(desk.tx, desk.farm, most=1)]
    ways = [[piece for pair in found for piece in _said(*pair, *detail)] for detail in DETAILS]
    pieces = next((way for way in ways if fits(way, MOST_PARTS)), ways[-1])
    return fitting(pieces, parts=MOST_PARTS) if pieces else None


def _said(desk: Desk, account: Account, of_paid: Shorten, of_due: Shorten) -> list[str]:
    speech, due = desk.tongue, account.due
    pieces = [_last(desk, account, account.closed[0], of_paid) if account.closed else _none_yet(desk, account)]
    if due.slip:
        lines = in_words(speech, of_due(due.slip), decimals(account.cooperative.currency))
        amount = _money(speech, account, due.sums.paid)
        pieces.append(speech.say("Not paid out yet: {lines}; due {amount}.", lines=lines, amount=amount))
    else:
        pieces.append(speech.say("Nothing has gathered since."))
    if due.sums.carried:
        amount = _money(speech, account, due.sums.carried)
        pieces.append(speech.say("{amount} is carried to the next.", amount=amount))
    if due.unpriced:
        pieces.append(speech.say("Without a price, not paid: {list}.", list=in_runs(due.unpriced)))
    return pieces


def _none_yet(desk: Desk, account: Account) -> str:
    values = {"cooperative": account.cooperative.name, "name": desk.farm.name}
    return desk.tongue.say("{cooperative}: no pay-out to {name} yet.", **values)


def _last(desk: Desk, account: Account, last: Closed, shorten: Shorten) -> str:
    speech, lines = desk.tongue, shorten(lines_of(last))
    values = {
        "cooperative": account.cooperative.name,
        "number": last.number,
        "day": speech.date(last.day),
        "name": desk.farm.name,
        "amount": _money(speech, account, last.sums.paid),
    }
    if not lines:
        return speech.say("{cooperative}, pay-out {number} of {day} to {name}: paid {amount}.", **values)
    said = in_words(speech, lines, decimals(account.cooperative.currency))
    return speech.say(
        "{cooperative}, pay-out {number} of {day} to {name}: {lines}; paid {amount}.", lines=said, **values
    )


def _money(speech: Tongue, account: Account, amount: Decimal) -> str:
    currency = account.cooperative.currency
    return f"{speech.fixed(amount, decimals(currency))} {currency}"

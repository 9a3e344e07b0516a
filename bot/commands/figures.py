"""What commands of the trade's arithmetic share: exact numbers, and refusals said in one line."""

from collections.abc import Iterator
from contextlib import contextmanager
from decimal import Decimal, InvalidOperation
from typing import Any

import click

from bot.commands.common import BadInput
from bot.rubber.calendar import CalendarError
from bot.rubber.intensity import IncompleteSystemError
from bot.rubber.money import MoneyError
from bot.rubber.notation import NotationError
from bot.rubber.panel import PanelError
from bot.rubber.profiles import ProfileError


class Amount(click.ParamType[Decimal]):
    """A number of 0 or more, exact."""

    name = "number"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Decimal:
        """Read the number; a fault says what is wanted."""
        try:
            amount = Decimal(value)
        except InvalidOperation:
            amount = Decimal("NaN")
        if not amount.is_finite() or amount < 0:
            self.fail(f"{value!r} is not a number of 0 or more", param, ctx)
        return amount


@contextmanager
def one_line() -> Iterator[None]:
    """Whatever the arithmetic refuses ends the command with its reason."""
    try:
        yield
    except (NotationError, CalendarError, IncompleteSystemError, PanelError, ProfileError, MoneyError) as refusal:
        raise BadInput(str(refusal)) from refusal

"""Measuring the bark of a panel on a block's page. The same rules as by text."""

from collections.abc import Callable
from dataclasses import replace
from datetime import datetime
from urllib.parse import quote

from flask import Blueprint, redirect, request
from flask.typing import ResponseReturnValue

from bot.books import Books
from bot.pages.changing import CannotChange, number
from bot.pages.opening import do
from bot.settings import Settings
from bot.speech.language import later
from bot.talk import bark
from bot.talk.desk import Desk, Outcome
from bot.talk.exchange import Kind
from bot.talk.house import House
from parsers.panels import panel_named
from parsers.reading import Manage, Request


def add_to(blueprint: Blueprint, settings: Settings, books: Books, clock: Callable[[], datetime], house: House) -> None:
    """Put the form's door into the pages of a farm."""

    @blueprint.post("/block/<name>/bark")
    def measure(token: str, name: str) -> ResponseReturnValue:
        cm, panel = request.form.get("cm", "").strip(), request.form.get("panel", "").strip()
        what = f"bark {name} {cm} {panel}".strip()
        do(settings, books, token, clock(), what, lambda desk: measure_bark(desk, name, cm, panel), house)
        return redirect(f"/farm/{token}/block/{quote(name)}#bark", code=303)


def measure_bark(desk: Desk, block: str, cm: str, panel: str) -> Outcome:
    """Write down the bark left on a block's panel. Raises CannotChange."""
    name = panel_named(panel) if panel else None
    if panel and name is None:
        raise CannotChange(later("{panel} is no panel; panels are named like BO-1, BI-2, HO-3."), panel=panel)
    value = number(cm, later("The bark"))
    if value is None:
        raise CannotChange(later("Write how many cm of bark are left."))
    outcome = bark.measured(desk, Request(Manage.BARK, blocks=(block,), value=value, word=name))
    if outcome.kind is not Kind.ENTERED:
        raise CannotChange(later("Nothing was written down. {why}"), why=outcome.text or "")
    return replace(outcome, text=None)

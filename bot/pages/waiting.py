"""The page on which an owner confirms a change that was asked for by text, instead of sending his PIN."""

from collections.abc import Callable
from datetime import datetime

from flask import Blueprint, render_template
from flask.typing import ResponseReturnValue

from bot.books import Books
from bot.pages import changing
from bot.pages.opening import do, opened_page
from bot.settings import Settings
from bot.talk import proof
from bot.talk.desk import Desk, Outcome
from bot.talk.house import House


def add_to(blueprint: Blueprint, settings: Settings, books: Books, clock: Callable[[], datetime], house: House) -> None:
    """Add the page to the pages of a farm."""

    def waiting(token: str) -> ResponseReturnValue:
        with books.transaction() as tx:
            page = opened_page(tx, settings, token, clock())
            words = proof.waiting_in_words(tx, page.owner.id, page.farm.id, clock())
        return render_template("waiting.html", page=page, said=None, waiting=words)

    def confirm(token: str) -> ResponseReturnValue:
        told: list[str] = []

        def confirmed(desk: Desk) -> Outcome:
            outcome = changing.confirm(desk)
            told.append(outcome.text or "")  # before it is folded to the letters of cheap texts
            return outcome

        do(settings, books, token, clock(), "confirm", confirmed, house)
        with books.transaction() as tx:
            page = opened_page(tx, settings, token, clock())
        return render_template("waiting.html", page=page, said=told[-1], waiting=None)

    blueprint.add_url_rule("/waiting", view_func=waiting, methods=["GET"])
    blueprint.add_url_rule("/waiting", view_func=confirm, methods=["POST"])

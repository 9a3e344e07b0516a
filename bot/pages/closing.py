"""Pages that say why something does not open or was not done, in the language of the one whose link it is."""

from collections.abc import Callable
from datetime import datetime

from flask import render_template, request
from flask.typing import ResponseReturnValue

from bot.books import Books, people
from bot.pages import links
from bot.settings import Settings
from bot.speech.language import LANGUAGES, SOURCE, Later, Tongue, page_tongue
from bot.speech.refusal import Refusal

Clock = Callable[[], datetime]


def closed(books: Books, settings: Settings, why: Refusal | Later, status: int) -> ResponseReturnValue:
    """The page that says why. Only one who has no link that opens (403) is told how to get another."""
    speech = reader(books, settings)
    said = why.said(speech) if isinstance(why, Refusal) else speech.say(why)
    demonstration = settings.demonstration and status == 403
    return (
        render_template(
            "closed.html", speech=speech, why=said, ask_for_link=status == 403, demonstration=demonstration
        ),
        status,
    )


def reader(books: Books, settings: Settings) -> Tongue:
    """The language of the one whose link it is, also where it is too old; otherwise the one that the browser asks for."""
    opened = links.whose(settings, (request.view_args or {}).get("token", ""))
    if opened is not None:
        with books.transaction() as tx:
            person = people.person(tx, opened.person_id)
        if person is not None:
            return page_tongue(person.language)
    return page_tongue(request.accept_languages.best_match(LANGUAGES) or SOURCE)

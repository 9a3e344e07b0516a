"""How templates speak: every word on a page is said in the language of the one who looks at it.

A template writes `{{ say("Litres by day") }}`. The language is that of the `page` that is rendered, or `speech` where there
is no page of a farm. What is said is markup: messages and values are escaped, values that are markup themselves are not.
"""

from datetime import date, datetime

from flask import Flask
from jinja2 import pass_context
from jinja2.runtime import Context
from markupsafe import Markup, escape

from bot.speech.language import SOURCE, Tongue, page_tongue


def add_to(app: Flask) -> None:
    """Give the words to all templates of an application."""
    app.jinja_env.globals.update(
        say=_say,
        count=_count,
        language=_language,
        dated=_dated,
        full=_full,
        short=_short,
        weekday=_weekday,
        clock=_clock,
    )


def speech_of(context: Context) -> Tongue:
    """The language in which a template is rendered."""
    page = context.get("page")
    found = context.get("speech") or (page.speech if page is not None else page_tongue(SOURCE))
    assert isinstance(found, Tongue)
    return found


@pass_context
def _say(context: Context, message: str, **values: object) -> Markup:
    return escape(speech_of(context).unfilled(message)).format(**values)


@pass_context
def _count(context: Context, one: str, many: str, n: int, **values: object) -> Markup:
    return escape(speech_of(context).unfilled_count(one, many, n)).format(n=n, **values)


@pass_context
def _language(context: Context) -> str:
    return speech_of(context).code


@pass_context
def _dated(context: Context, day: date) -> str:
    return speech_of(context).dated(day)


@pass_context
def _full(context: Context, day: date) -> str:
    return speech_of(context).full(day)


@pass_context
def _short(context: Context, day: date) -> str:
    """On one line, since it stands in narrow columns."""
    return speech_of(context).short(day).replace(" ", "\N{NO-BREAK SPACE}")


@pass_context
def _clock(context: Context, moment: datetime) -> str:
    return speech_of(context).clock(moment)


@pass_context
def _weekday(context: Context, day: date) -> str:
    return speech_of(context).weekday_in_a_column(day)

"""Sentences that were reckoned with their figures (`bot.reckon.wording`), in the language of whoever reads them."""

from datetime import date
from decimal import Decimal

from bot.reckon.wording import Said
from bot.speech.language import Tongue


def said(speech: Tongue, text: object) -> str:
    """What was reckoned, in this language; what is no sentence of ours is as it is, such as a name."""
    if isinstance(text, Said):
        return speech.say(text.message, **{name: said(speech, each) for name, each in text.values.items()})
    if isinstance(text, Decimal):
        exponent = text.as_tuple().exponent
        return speech.fixed(text, -exponent if isinstance(exponent, int) else 0)
    if isinstance(text, date):
        return speech.date(text)
    return str(text)

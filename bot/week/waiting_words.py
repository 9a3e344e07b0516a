"""What waits at a farm, in words."""

from bot.reckon.waiting import Waiting
from bot.speech import say
from bot.speech.language import Tongue


def ready_words(speech: Tongue, what: Waiting) -> str:
    """`24 sheets 12.1 kg`, `18 L latex (5.8 kg dry)`, `30 kg lump`."""
    pieces = []
    if what.sheets:
        sheets = speech.count("{n} sheet", "{n} sheets", what.sheets)
        pieces.append(f"{sheets} {speech.fixed(what.weight.kg, 1)} kg")
    if what.latex:
        pieces.append(f"{say.litres(speech, what.latex)} {speech.say('latex')}")
    if what.lump:
        pieces.append(f"{say.kilos(speech, what.lump)} {speech.say('lump')}")
    return " + ".join(pieces)

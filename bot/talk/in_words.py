"""A change that waits, said as it was understood, so that nobody confirms what he did not mean."""

from bot.speech import pay, say
from bot.talk import correcting, paying
from bot.talk.desk import Desk
from parsers.reading import Intent, Manage, Reading, Request


def in_words(desk: Desk, reading: Reading) -> str:
    """What is to be done, as it was understood."""
    if reading.request is not None:
        return _request_in_words(desk, reading.request)
    if reading.intent is Intent.UNDO:
        found = [entry.record for entry in correcting.meant_by_undo(desk, reading)]
        return desk.tongue.say("take out {lines}", lines=say.lines(desk.tongue, found, desk.today))
    return say.lines(desk.tongue, reading.records, desk.today)


def _request_in_words(desk: Desk, request: Request) -> str:
    speech = desk.tongue
    who = request.name or speech.say("all tappers")
    amount = "" if request.value is None else speech.number(request.value)
    if request.manage is Manage.ENROL:
        return speech.several([who, str(request.number), *(say.block_name(speech, each) for each in request.blocks)])
    if request.manage is Manage.PAY_TERMS:
        return f"{who}: {pay.in_words(speech, {str(request.word): str(request.number)})}"
    if request.manage in paying.KINDS:
        return f"{who}: {pay.label(speech, paying.KINDS[request.manage])} {amount} {desk.farm.currency}"
    if request.manage is Manage.SETTLE:
        return speech.say("settle {amount}", amount=f"{amount} {desk.farm.currency}")
    if request.manage is Manage.ACID_STRENGTH:
        return speech.say("acid is {strength}%", strength=amount)
    if request.manage is Manage.UNBLOCK:
        return speech.say("unblock {name}", name=request.name or request.number)
    return speech.say("{name} leaves the day-book", name=who)

"""What is not about the book: greetings, help, gibberish, opting out and in, and strangers."""

from datetime import datetime, timedelta

from bot.books import Transaction, farms, messages, people
from bot.speech.language import Tongue, tongue
from bot.talk.desk import Desk, Outcome, Told
from bot.talk.exchange import Incoming, Kind
from parsers.reading import Intent, Reading

#: A stranger gets one answer in this time; more would cost the cooperative money for nothing.
STRANGER_EVERY = timedelta(days=1)


def chat(desk: Desk, reading: Reading) -> Outcome:
    """Thanks and greetings get no answer: it would cost a part and say nothing. A declined figure is confirmed as dropped."""
    if reading.declined:
        return Outcome(Kind.ANSWERED, desk.tongue.say("Dropped. Nothing was entered."))
    if reading.confirmed:
        return Outcome(Kind.ANSWERED, desk.tongue.say("Noted. Nothing was changed."))
    return Outcome(Kind.SILENT, None)


def unknown(desk: Desk, _reading: Reading) -> Outcome:
    """A text that nothing could be made of: one good example."""
    example = desk.tongue.say("block {name} 18 litres rain", name=_own_block(desk))
    return Outcome(
        Kind.ASKED, desk.tongue.say("I did not understand. Nothing entered. Text it like: {example}", example=example)
    )


def help_(desk: Desk, reading: Reading) -> Outcome:
    """Help by examples. The carrier answers its own help word itself: then we keep silent."""
    if desk.message.keeps_words and desk.message.text.strip().casefold() in ("help", "info"):
        return Outcome(Kind.SILENT, None)
    if reading.query is not None:
        return Outcome(Kind.ANSWERED, acid_help(desk.tongue))
    values = {"name": _own_block(desk)}
    examples = desk.tongue.say(
        "Text as you talk: block {name} 18 litres rain / no tapping, sick / sorry 17 not 18 / acid for 22 l? / "
        "rolled 12 sheets / week",
        **values,
    )
    return Outcome(Kind.ANSWERED, examples)


def acid_help(speech: Tongue) -> str:
    """What to do with acid and when it went wrong (ICSC 0485, formic acid; CLP limits: 10 % is still corrosive)."""
    return speech.say(
        "Acid burns, at 10% too. Acid into water, never water into acid; gloves, goggles. Skin: clothes off, much water. "
        "Eyes: rinse minutes long. Swallowed: rinse mouth, no vomiting. Always: doctor. Keep from children and food."
    )


def stop_or_start(desk: Desk, reading: Reading) -> Outcome:
    """Mark somebody as opted out or in again, and let the owner know who gets no texts."""
    if reading.intent is Intent.STOP:
        people.opt_out(desk.tx, desk.me.id, desk.now)
        last = desk.tongue.say("No more texts to you. What you report is still entered. START brings them back.")
        told = tuple(
            Told(owner, tongue(owner.language).say("{name} wants no more texts from us.", name=desk.me.name))
            for owner in desk.owners()
            if owner.id != desk.me.id
        )
        return Outcome(Kind.ANSWERED, None if desk.message.keeps_words else last, told)
    people.opt_in(desk.tx, desk.me.id)
    again = desk.tongue.say("On again. Text as before, for example: block {name} 18 litres", name=_own_block(desk))
    return Outcome(Kind.ANSWERED, None if desk.message.keeps_words else again)


def stranger(tx: Transaction, incoming: Incoming, now: datetime, *, open_enrolment: bool = False) -> Outcome:
    """A number that nobody enrolled: one polite answer a day; the text is kept for the operator, nothing is entered."""
    last = messages.last_reply_to_stranger(tx, incoming.sender)
    if last is not None and now - last < STRANGER_EVERY:
        return Outcome(Kind.SILENT, None)
    houses = farms.all_farms(tx)
    language = houses[0].language if houses else "en"
    text = tongue(language).say(
        "This number keeps the book of rubber growers. To join, ask your cooperative's office. Nothing was entered."
    )
    if open_enrolment:
        text = f"{text} {tongue(language).say('To begin a book of your own text: start farm')}"
    return Outcome(Kind.ANSWERED, text)


def _own_block(desk: Desk) -> str:
    return next(iter(desk.own_blocks), "3")

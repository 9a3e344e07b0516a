"""Bark left on a panel: what somebody measured, and what is asked of it."""

from decimal import Decimal

from bot.books import bark, farms
from bot.books.bark import Measured
from bot.reckon.bark import BarkOfBlock, bark_of_blocks
from bot.speech import say
from bot.talk.desk import Desk, Outcome
from bot.talk.exchange import Kind
from parsers.reading import Query, Request

#: No panel has more bark than this below its cut (cm): a cut higher than a person reaches with a ladder.
MOST_CM = 300


def measured(desk: Desk, request: Request) -> Outcome:
    """Write down the bark of one block's panel. A tapper measures on his own blocks, an owner on any."""
    example = desk.tongue.say("block {name} bark 42 cm", name=next(iter(desk.own_blocks), "3"))
    if request.value is None or not request.blocks:
        return Outcome(Kind.ASKED, desk.tongue.say("Bark of which block? One a text, like: {example}", example=example))
    block = request.blocks[0]
    if block not in desk.own_blocks:
        there = desk.tongue.several(desk.own_blocks)
        return Outcome(
            Kind.REFUSED,
            desk.tongue.say("There is no block {name} here; there are {blocks}.", name=block, blocks=there),
        )
    if not 0 <= request.value <= MOST_CM:
        text = desk.tongue.say(
            "Bark left is measured in cm, 0 to {most}. Text it like: {example}", most=MOST_CM, example=example
        )
        return Outcome(Kind.REFUSED, text)
    found = Measured(block, desk.today, round(request.value * 10), request.word)
    bark.measure(desk.tx, desk.farm.id, found, person_id=desk.me.id, message_id=desk.message.id, at=desk.sent)
    head = desk.tongue.say(
        "{block} today: {cm} cm of bark left.",
        block=say.block_name(desk.tongue, block),
        cm=desk.tongue.number(request.value),
    )
    lasts = _lasts(desk, bark_of_blocks(desk.tx, desk.farm, desk.today)[block])
    return Outcome(Kind.ENTERED, f"{head} {lasts}")


def asked(desk: Desk, query: Query) -> str:
    """The bark of a block, or of each block of the sender's on which any was measured."""
    found = bark_of_blocks(desk.tx, desk.farm, desk.today)
    seen = [name for name in farms.blocks(desk.tx, desk.farm.id) if name in found and name in desk.own_blocks]
    wanted = [query.block] if query.block is not None else seen
    told = [_of_block(desk, name, found[name]) for name in wanted if name in seen]
    if told:
        return " ".join(told)
    name = query.block or next(iter(desk.own_blocks), "3")
    return desk.tongue.say(
        "No bark was measured yet. Measure in cm from the cut down to the panel's end and text: {example}",
        example=desk.tongue.say("block {name} bark 42 cm", name=name),
    )


def _of_block(desk: Desk, name: str, found: BarkOfBlock) -> str:
    head = desk.tongue.say(
        "{block}: about {cm} cm of bark left ({was} on {day}).",
        block=say.block_name(desk.tongue, name),
        cm=desk.tongue.number(Decimal(str(found.left_cm)), 1),
        was=desk.tongue.number(Decimal(str(found.measured.cm)), 1),
        day=desk.tongue.date(found.measured.day),
    )
    return f"{head} {_lasts(desk, found)}"


def _lasts(desk: Desk, found: BarkOfBlock) -> str:
    """How many tappings it serves at what a tapping takes, until when, and whether that is too much."""
    values = {"mm": desk.tongue.fixed(found.mm_a_tapping, 1)}
    lasts = desk.tongue.count(
        "About {n} tapping at {mm} mm.", "About {n} tappings at {mm} mm.", found.tappings_left, **values
    )
    pieces = [lasts]
    if found.last_day is not None:
        day = f"{desk.tongue.date(found.last_day)} {found.last_day.year}"
        pieces.append(desk.tongue.say("Until about {day}.", day=day))
    if found.over and found.allowed_mm is not None:
        allowed = desk.tongue.fixed(found.allowed_mm, 1)
        pieces.append(desk.tongue.say("For the year's limit it should be {allowed} mm.", allowed=allowed))
    return " ".join(pieces)

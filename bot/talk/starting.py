"""A number that nobody enrolled begins a farm by text, where the operator allows it: led through a few questions.

What was said is kept in the books until the last answer, or for three days. Then the farm is loaded as from a file: the
same checks, the same rows.
"""

from dataclasses import replace
from datetime import datetime, timedelta

import parsers
from bot.books import Transaction, beginnings, farms, people
from bot.books.errors import BadFile
from bot.books.load import load_farm
from bot.books.model import Farm
from bot.speech.language import tongue
from bot.talk import service
from bot.talk.desk import Outcome
from bot.talk.exchange import Incoming, Kind
from bot.talk.homeland import region_of, zones
from bot.talk.house import House
from bot.talk.managing import welcome
from bot.talk.starting_draft import Draft, Step, plan_of
from bot.talk.starting_steps import Asked, NotTaken, check_free, question, take
from parsers import starting
from parsers.reading import Role
from parsers.words import standard

#: What was said is forgotten when nothing more comes for so long.
EXPIRES = timedelta(days=3)

#: A beginning that takes more texts than this is no beginning; every answer costs.
MOST_TEXTS = 40


def stranger(tx: Transaction, incoming: Incoming, now: datetime, house: House) -> Outcome:
    """A number that nobody enrolled: it goes on with what it began, begins, or gets the usual answer."""
    if not house.open_enrolment:
        return service.stranger(tx, incoming, now)
    body = beginnings.kept(tx, incoming.sender, now)
    asked = Asked(tx, incoming, house.words or standard())
    if body is not None:
        return _go_on(asked, Draft.from_json(body), now, house)
    language = starting.opening_language(incoming.text, asked.words)
    region = None if language is None else region_of(incoming.sender)
    if language is None or region is None:
        return service.stranger(tx, incoming, now, open_enrolment=True)
    only = zones(region)
    return _ask(asked, Draft(language, region, zone=only[0] if len(only) == 1 else ""), now)


def _go_on(asked: Asked, draft: Draft, now: datetime, house: House) -> Outcome:
    command = starting.command(asked.incoming.text, asked.words)
    if command == "cancel" or _is_stop(asked.incoming.text) or draft.texts >= MOST_TEXTS:
        return _forget(asked, draft)
    draft = replace(draft, texts=draft.texts + 1)
    if command == "back":
        return _ask(asked, draft.back(), now)
    if starting.opening_language(asked.incoming.text, asked.words) is not None:
        return _ask(asked, draft, now)
    try:
        taken = take(asked, draft, command)
    except NotTaken as fault:
        return _ask(asked, draft, now, str(fault))
    return _ask(asked, taken.forward(), now) if taken.forward() is not taken else _finish(asked, taken, now, house)


def _is_stop(text: str) -> bool:
    return text.strip().strip(".!?").casefold() in parsers.STOP_WORDS


def _ask(asked: Asked, draft: Draft, now: datetime, text: str | None = None) -> Outcome:
    beginnings.keep(asked.tx, asked.incoming.sender, draft.to_json(), now + EXPIRES)
    return Outcome(Kind.ASKED, text or question(draft))


def _forget(asked: Asked, draft: Draft) -> Outcome:
    """The carrier answers its own words itself, `cancel` among them: then we keep silent."""
    beginnings.drop(asked.tx, asked.incoming.sender)
    silent = asked.incoming.keeps_words and _is_stop(asked.incoming.text)
    return Outcome(
        Kind.ANSWERED, None if silent else tongue(draft.language).say("Forgotten. No farm was put in the book.")
    )


def _finish(asked: Asked, draft: Draft, now: datetime, house: House) -> Outcome:
    """The farm with its people, all at once."""
    try:
        check_free(asked, draft)
    except NotTaken as fault:
        return _ask(asked, replace(draft, step=Step.TAPPERS), now, str(fault))
    try:
        farm = load_farm(asked.tx, plan_of(draft, asked.incoming.sender), now)
    except BadFile:  # somebody else has taken the name since
        taken = tongue(draft.language).say("There is a farm {name} already. Another name?", name=draft.name)
        return _ask(asked, replace(draft, step=Step.NAME), now, taken)
    beginnings.drop(asked.tx, asked.incoming.sender)
    members = people.members(asked.tx, farm.id)
    told = tuple(
        welcome(draft.owner, farm.name, each)
        for each in members
        if each.role is Role.TAPPER and each.person.number != asked.incoming.sender
    )
    return Outcome(Kind.ANSWERED, _done(asked, draft, farm, house), told)


def _done(asked: Asked, draft: Draft, farm: Farm, house: House) -> str:
    speech = tongue(draft.language)
    known = farms.blocks(asked.tx, farm.id).values()
    said = speech.say(
        "{farm} is in the book: {blocks} blocks, {trees} trees, {acid} {strength}%, {tappers} tappers. Text: help. Nobody "
        "under 18 may do hazardous work such as tapping with acid or at night (ILO C138).",
        farm=farm.name,
        blocks=len(known),
        trees=sum(each.trees or 0 for each in known),
        acid=draft.acid_said,
        strength=speech.number(farm.settings.acid_strength_percent),
        tappers=len(draft.people),
    )
    owner = people.person_by_number(asked.tx, asked.incoming.sender)
    if house.link is None or owner is None:
        return said
    return f"{said} {house.link(farm.id, owner.id)}"

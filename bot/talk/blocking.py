"""A lost or stolen phone: its number may do nothing from this moment on, and nothing more goes to it."""

from datetime import datetime

from bot.books import Transaction, outbox, people, questions
from bot.books.model import Person
from bot.speech.language import tongue
from bot.talk.desk import Told
from parsers.reading import Role


def block(tx: Transaction, person: Person, at: datetime) -> None:
    """No texts in or out, no links: also not those that were made before, when the number is unblocked later."""
    people.block(tx, person.id, at)
    people.cut_links(tx, person.id, at)
    outbox.withdraw(tx, person.number, "blocked", at=at)
    questions.close(tx, person.id, at, "blocked")


def owners_told(tx: Transaction, person: Person, by: Person, *, blocked: bool) -> tuple[Told, ...]:
    """Every other owner of the farms that he is at hears of it: a number is blocked for all of them."""
    farms = dict.fromkeys(each.farm_id for each in people.memberships(tx, person.id))
    owners = {
        each.person.id: each.person
        for farm_id in farms
        for each in people.members(tx, farm_id)
        if each.role is Role.OWNER and each.person.id not in (by.id, person.id)
    }
    return tuple(Told(each, _told(each, person, by, blocked)) for each in owners.values())


def _told(owner: Person, person: Person, by: Person, blocked: bool) -> str:
    theirs, names = tongue(owner.language), {"by": by.name, "name": person.name}
    if blocked:
        return theirs.say("{by} blocked the phone of {name}.", **names)
    return theirs.say("{by} unblocked the phone of {name}.", **names)

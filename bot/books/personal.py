"""What the books hold about one person: all of it on request, and taken out without breaking the books.

Taken out are name, number, the words of his texts and of the answers, and what others were told with his name or number.
His entries, pay and settlements stay under a neutral name: they are the farm's books, and other people's pay hangs on them.
"""

import re
from collections.abc import Iterator
from datetime import datetime, timedelta
from typing import Any

from bot.books import (
    alarms,
    beginnings,
    cooperatives,
    disputes,
    messages,
    office_waiting,
    outbox,
    people,
    pins,
    places,
    wages,
)
from bot.books.convert import moment_in, moment_out, record_in
from bot.books.model import Person, StoredMessage, Waiting
from bot.books.store import Transaction

#: Texts of others are looked through in spans of this length, so that long books do not fill the memory.
SPAN = timedelta(days=7)

#: So many digits at the end of a number tell whose it is, whatever stands before them.
TELLING_DIGITS = 9

#: What stands in the place of the words of a text.
BLANK = ""


def everything_about(tx: Transaction, person: Person) -> dict[str, Any]:
    """All that is kept of a person, as plain data for JSON."""
    roles = tx.run("roles_of", person_id=person.id)
    farm_ids = list(dict.fromkeys(row["farm_id"] for row in roles))
    return {
        "person": {
            "number": person.number,
            "name": person.name,
            "language": person.language,
            "stopped_since": _moment(person.opted_out_at),
            "blocked_since": _moment(person.blocked_at),
            "has_pin": pins.of(tx, person.id).chosen,
        },
        "roles": [{key: row[key] for key in ("farm", "role", "blocks", "since", "until")} for row in roles],
        "entries": [_line(row) for row in tx.run("entries_of", person_id=person.id)],
        "bark_measured": [
            {key: row[key] for key in ("farm", "block", "panel", "day", "mm")}
            for row in tx.run("bark_of_person", person_id=person.id)
        ],
        "texts": [_text(each) for each in messages.all_of(tx, person.number)],
        "texts_to_him": [_text_out(each) for each in outbox.all_to(tx, person.number)],
        **_pay(tx, farm_ids, person),
        **_collecting(tx, person),
    }


def _collecting(tx: Transaction, person: Person) -> dict[str, Any]:
    """Cooperatives that he manages, rounds that he goes, and what he disputed."""
    rounds, chosen = places.stops_of(tx, person.id), cooperatives.chosen(tx, person.id)
    return {
        "manages": [each.name for each in cooperatives.managed_by(tx, person.id)],
        "chose_cooperative": None if chosen is None else cooperatives.cooperative(tx, chosen).name,
        "rounds": [{"weekday": weekday, "place": name} for weekday, name in rounds],
        "disputes": [
            {"at": each.raised_at.isoformat(), "said": each.said, "outcome": each.outcome}
            for each in disputes.by(tx, person.id)
        ],
    }


def _line(row: dict[str, Any]) -> dict[str, Any]:
    about = {key: row[key] for key in ("id", "entered_at", "replaces", "via")}
    return about | {"removed": bool(row["removed"]), "record": record_in(row).to_json()}


def _text(each: StoredMessage) -> dict[str, Any]:
    return {"at": each.arrived.isoformat(), "carrier": each.carrier, "text": each.text, "answer": each.reply}


def _text_out(each: Waiting) -> dict[str, Any]:
    return {"at": each.created_at.isoformat(), "text": each.text, "state": each.state}


def _moment(at: datetime | None) -> str | None:
    return None if at is None else at.isoformat()


def _pay(tx: Transaction, farm_ids: list[str], person: Person) -> dict[str, Any]:
    """Terms, advances and settlements of his at every farm where he ever had a role."""
    terms = [each for farm_id in farm_ids for each in wages.all_terms(tx, farm_id) if each.person_id == person.id]
    lines = [each for farm_id in farm_ids for each in wages.money(tx, farm_id) if each.person_id == person.id]
    settled = [each for farm_id in farm_ids for each in wages.settlements(tx, farm_id, person.id)]
    return {
        "pay_terms": [{"since": each.since.isoformat(), "terms": dict(each.terms)} for each in terms],
        "money": [
            {"day": each.day.isoformat(), "kind": each.kind, "amount": str(each.amount), "note": each.note}
            for each in lines
        ],
        "settlements": [
            {
                "first": each.first.isoformat(),
                "last": each.last.isoformat(),
                "earned": str(each.earned),
                "paid": str(each.paid),
                "slip": [list(line) for line in each.slip],
            }
            for each in settled
        ],
    }


def forget(tx: Transaction, person: Person, at: datetime) -> Person:
    """Take a person's data out of the books for good; the person without name and number that stays.

    Backups, papers already made, and the carrier's own records are not reached from here.
    """
    neutral = f"Person {person.id[-6:]}"
    instead = f"forgotten-{person.id}"
    farms = dict.fromkeys(row["farm_id"] for row in tx.run("roles_of", person_id=person.id))
    others = _others_of(tx, list(farms), person)
    _forget_his_texts(tx, person, instead, at)
    _forget_among_others(tx, person, others, neutral, instead)
    for other in (*others, person):
        tx.run("blank_questions", person_id=other.id)
    for farm_id in farms:
        people.dismiss(tx, person.id, farm_id, None, at=at)
        for row in tx.run("entries_of_farm_via", farm_id=farm_id, via=person.number):
            tx.run("set_via", id=row["id"], via=instead)
    cooperatives.end_manager(tx, person.id, at)
    tx.run("forget_chosen_cooperative", person_id=person.id)
    tx.run("clear_rounds", person_id=person.id)
    tx.run("blank_disputes", person_id=person.id)
    people.cut_links(tx, person.id, at)
    pins.reset(tx, person.id)
    alarms.forget(tx, person.number)
    beginnings.drop(tx, person.number)
    tx.run("forget_person", id=person.id, name=neutral, number=instead, at=moment_out(at))
    return people.person_in(tx.run("person", id=person.id)[0])


def _others_of(tx: Transaction, farm_ids: list[str], person: Person) -> list[Person]:
    """Who may have been told of him: the people of his farms and of those that he manages, and managers of these."""
    managed = cooperatives.managed_by(tx, person.id)
    reached = {*farm_ids, *(farm_id for one in managed for farm_id in cooperatives.farm_names(tx, one.id))}
    found = {each.person.id: each.person for farm_id in sorted(reached) for each in people.members(tx, farm_id)}
    of_farms = [one for farm_id in farm_ids if (one := cooperatives.of_farm(tx, farm_id)) is not None]
    for one in {each.id: each for each in (*managed, *of_farms)}.values():
        found |= {each.id: each for each in cooperatives.managers(tx, one.id)}
    return [each for each in found.values() if each.id != person.id]


def _forget_his_texts(tx: Transaction, person: Person, instead: str, at: datetime) -> None:
    outbox.withdraw(tx, person.number, "forgotten", at=at)
    tx.run("close_questions", person_id=person.id, at=moment_out(at), outcome="forgotten")
    office_waiting.drop(tx, person.id)
    for came in messages.all_of(tx, person.number):
        messages.rewrite(tx, came.id, number=instead, text=BLANK, reply=None if came.reply is None else BLANK)
    for went in outbox.all_to(tx, person.number):
        outbox.rewrite(
            tx, went.id, number=instead, text=BLANK, key=None if went.key is None else f"forgotten-{went.id}"
        )


def _forget_among_others(tx: Transaction, person: Person, others: list[Person], neutral: str, instead: str) -> None:
    """Put the neutral name in the place of name and number in texts from and to others.

    A name that somebody else of his farms has too is left: it is not clear whose it is there.
    """
    named = any(other.name.casefold() == person.name.casefold() for other in others)
    pattern = re.compile("|".join(_forms(person, with_name=not named)), re.IGNORECASE)
    for row in tx.run("disputes_over_work_of", person_id=person.id):
        if (said := pattern.sub(neutral, row["said"])) != row["said"]:
            tx.run("set_dispute_said", id=row["id"], said=said)
    numbers = {other.number for other in others}
    for came in _texts_since(tx, person):
        if came.number in numbers:
            text, reply = (
                pattern.sub(neutral, came.text),
                None if came.reply is None else pattern.sub(neutral, came.reply),
            )
            if (text, reply) != (came.text, came.reply):
                messages.rewrite(tx, came.id, number=came.number, text=text, reply=reply)
    for other in others:
        for went in outbox.all_to(tx, other.number):
            if pattern.search(went.text):
                outbox.rewrite(tx, went.id, number=went.to, text=pattern.sub(neutral, went.text), key=went.key)


def _forms(person: Person, *, with_name: bool) -> list[str]:
    """How he is written: his number in any of its forms, and his name as words of their own."""
    number = r"(?<!\d)(?:\+?\d{1,3}[\s().-]*|0)?" + r"[\s().-]*".join(person.number[-TELLING_DIGITS:]) + r"(?!\d)"
    name = rf"(?<!\w){re.escape(person.name)}(?!\w)"
    return [number, name] if with_name else [number]


def _texts_since(tx: Transaction, person: Person) -> Iterator[StoredMessage]:
    """All texts from a day before he came into the books, in the order of arrival."""
    created = moment_in(tx.run("person", id=person.id)[0]["created_at"])
    newest = tx.run("text_since", since=moment_out(created), most=1)
    since, until = created - timedelta(days=1), moment_in(newest[0]["at"]) if newest else created
    while since <= until:
        yield from messages.listing(tx, since, since + SPAN)
        since += SPAN

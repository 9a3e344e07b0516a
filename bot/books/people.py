"""People: their phones, their roles at farms, and whether they want texts at all."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from bot.books.convert import folded, moment_in, moment_or_none, moment_out
from bot.books.ids import new_id
from bot.books.model import Membership, Person
from bot.books.store import Transaction
from parsers.reading import Role

#: Blocks of a role are kept in one column, one a line: names may hold anything but a line break.
_LINE = "\n"


def person_by_number(tx: Transaction, number: str) -> Person | None:
    """Somebody by his phone, in E.164 form."""
    rows = tx.run("person_by_number", number=number)
    return person_in(rows[0]) if rows else None


def person(tx: Transaction, person_id: str) -> Person | None:
    """Somebody by his id."""
    rows = tx.run("person", id=person_id)
    return person_in(rows[0]) if rows else None


def enrol(
    tx: Transaction,
    *,
    name: str,
    number: str,
    language: str,
    farm_id: str,
    role: Role,
    blocks: Sequence[str],
    at: datetime,
    message_id: str | None,
) -> Membership:
    """Give somebody a role at a farm. A known number keeps its other roles; the same role gets the new blocks."""
    person = known_as(tx, name=name, number=number, language=language, at=at)
    tx.run("end_role", person_id=person.id, farm_id=farm_id, role=role.value, at=moment_out(at))
    tx.run(
        "add_role",
        id=new_id(),
        person_id=person.id,
        farm_id=farm_id,
        role=role.value,
        blocks=_LINE.join(blocks),
        since=moment_out(at),
        message_id=message_id,
    )
    return Membership(person, farm_id, role, tuple(blocks))


def known_as(tx: Transaction, *, name: str, number: str, language: str, at: datetime) -> Person:
    """Somebody by this name and language: new, or known by his number; he has no role by this alone."""
    values = {"name": name, "language": language, "number": number, "created_at": moment_out(at)}
    return person_in(tx.run("enrol_person", id=new_id(), **values)[0])


def dismiss(tx: Transaction, person_id: str, farm_id: str, role: Role | None, *, at: datetime) -> None:
    """End a role, or all roles, of somebody at a farm. What he entered stays."""
    if role is None:
        tx.run("end_roles", person_id=person_id, farm_id=farm_id, at=moment_out(at))
    else:
        tx.run("end_role", person_id=person_id, farm_id=farm_id, role=role.value, at=moment_out(at))


def memberships(tx: Transaction, person_id: str) -> list[Membership]:
    """What somebody is, and where."""
    return [_membership(row) for row in tx.run("memberships", person_id=person_id)]


def members(tx: Transaction, farm_id: str) -> list[Membership]:
    """Everybody of a farm, in the order of enrolment."""
    return [_membership(row) for row in tx.run("members", farm_id=farm_id)]


def since_when(tx: Transaction, farm_id: str, role: Role) -> dict[str, datetime]:
    """Since when each person has had a role at a farm that he has now, by his id; a role that was only changed goes on."""
    found: dict[str, datetime] = {}
    for row in tx.run("roles_at_farm", farm_id=farm_id, role=role.value):
        began, ended = moment_in(row["since"]), moment_or_none(row["until"])
        if ended is None or found.get(row["person_id"]) == ended:
            found[row["person_id"]] = began
    return found


def selves(tx: Transaction, farm_id: str, name: str) -> tuple[str, ...]:
    """The ids of everybody who goes or went by a name at a farm: a number that changed makes somebody a new person here.

    Two who are at work there under one name are two people, and yet nobody who names them can tell which he means.
    """
    here = [each.person for each in members(tx, farm_id)]
    gone = [person_in(row) for row in tx.run("left_farm", farm_id=farm_id)]
    return tuple(dict.fromkeys(each.id for each in (*here, *gone) if folded(each.name) == folded(name)))


def earlier_selves(tx: Transaction, farm_id: str, person: Person) -> tuple[str, ...]:
    """The ids of those whom somebody was at a farm before his number changed: of his name, blocked, or without a role now."""
    blocked = [each.person for each in members(tx, farm_id) if each.person.blocked_at is not None]
    gone = [person_in(row) for row in tx.run("left_farm", farm_id=farm_id)]
    same = (each.id for each in (*blocked, *gone) if folded(each.name) == folded(person.name) and each.id != person.id)
    return tuple(dict.fromkeys(same))


def former_tappers(tx: Transaction, farm_id: str) -> list[Person]:
    """Who was a tapper of a farm and is none now, each once."""
    rows = tx.run("former_tappers", farm_id=farm_id)
    return list({row["id"]: person_in(row) for row in rows}.values())


def everybody(tx: Transaction) -> list[Membership]:
    """Everybody of every farm."""
    return [_membership(row) for row in tx.run("all_members")]


def owners(tx: Transaction) -> list[Membership]:
    """Every owner of every farm."""
    return [_membership(row) for row in tx.run("all_owners")]


def cut_links(tx: Transaction, person_id: str, at: datetime) -> None:
    """Links to pages that were made for him before now open nothing any more."""
    tx.run("cut_links", person_id=person_id, since=moment_out(at))


def links_since(tx: Transaction, person_id: str) -> datetime | None:
    """Since when links made for him count; None where all do."""
    rows = tx.run("link_cut", person_id=person_id)
    return moment_in(rows[0]["since"]) if rows else None


def opt_out(tx: Transaction, person_id: str, at: datetime) -> None:
    """He wants no more texts."""
    tx.run("set_opted_out", id=person_id, at=moment_out(at))


def opt_in(tx: Transaction, person_id: str) -> None:
    """He wants texts again."""
    tx.run("set_opted_out", id=person_id, at=None)


def block(tx: Transaction, person_id: str, at: datetime) -> None:
    """His number may do nothing any more (a lost phone)."""
    tx.run("set_blocked", id=person_id, at=moment_out(at))


def unblock(tx: Transaction, person_id: str) -> None:
    """His number may do what it could before."""
    tx.run("set_blocked", id=person_id, at=None)


def set_language(tx: Transaction, person_id: str, language: str) -> None:
    """The language that he is answered in."""
    row = tx.run("person", id=person_id)[0]
    tx.run("change_person", id=person_id, name=row["name"], language=language)


def person_in(row: Mapping[str, Any], person_id: str | None = None) -> Person:
    """The person in a row that holds his columns."""
    return Person(
        id=person_id or row["id"],
        number=row["number"],
        name=row["name"],
        language=row["language"],
        opted_out_at=moment_or_none(row["opted_out_at"]),
        blocked_at=moment_or_none(row["blocked_at"]),
    )


def _membership(row: Mapping[str, Any]) -> Membership:
    names = tuple(row["blocks"].split(_LINE)) if row["blocks"] else ()
    return Membership(person_in(row), row["farm_id"], Role(row["role"]), names)

"""Small things that the tests of the books put into them."""

from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any

from bot.books import Books, Transaction, entries, farms, messages, outbox, people
from bot.books.convert import moment_out, record_out
from bot.books.ids import new_id
from bot.books.model import Entry, Farm, Person
from parsers.reading import Block, Record, Role, What

NOW = datetime(2026, 3, 18, 3, 30, tzinfo=UTC)
DAY = date(2026, 3, 18)
TOBIN = "+447700900102"
LATEX = Record(What.LATEX, DAY, "3", Decimal("18.5"))


def a_farm(tx: Transaction, name: str = "Reed Hollow", **changes: Any) -> Farm:
    """A farm with one block."""
    plain: dict[str, Any] = {
        "timezone": "Asia/Bangkok",
        "currency": "USD",
        "language": "en",
        "blocks": {"3": Block(280, Decimal(16))},
        "containers": {},
        "settings": {},
        "at": NOW,
    }
    return farms.add_farm(tx, name=name, **plain | changes)


def a_person(
    tx: Transaction, farm_id: str, number: str = TOBIN, name: str = "Tobin", role: Role = Role.TAPPER
) -> Person:
    """Somebody of a farm."""
    return people.enrol(
        tx,
        name=name,
        number=number,
        language="en",
        farm_id=farm_id,
        role=role,
        blocks=("3",),
        at=NOW,
        message_id=None,
    ).person


def a_text(tx: Transaction, message_id: str = "m1", number: str = TOBIN, text: str = "3 18.5") -> bool:
    """A text that came in; whether it is new."""
    return (
        messages.receive(tx, message_id=message_id, carrier="practice", number=number, text=text, at=NOW, arrived=NOW)
        is None
    )


def a_line(tx: Transaction, farm_id: str, person_id: str, message_id: str = "m1", **changes: Any) -> Entry:
    """A line of the day-book."""
    plain: dict[str, Any] = {"via": None, "record": LATEX, "entered_at": NOW}
    by = people.person(tx, person_id) or Person(person_id, number=TOBIN, name="nobody", language="en")
    return entries.enter(tx, farm_id=farm_id, message_id=message_id, by=by, **plain | changes)


def a_waiting_text(tx: Transaction, key: str | None = None, **changes: Any) -> str | None:
    """A text in the outbox; its id if it is new."""
    plain: dict[str, Any] = {
        "to": TOBIN,
        "text": "hi",
        "parts": 1,
        "because": None,
        "due_at": NOW,
        "created_at": NOW,
    }
    return outbox.put(tx, key=key, **plain | changes)


def with_a_line(books: Books) -> Entry:
    """Books with a farm, somebody there, and one line of his."""
    with books.transaction() as tx:
        farm = a_farm(tx)
        tobin = a_person(tx, farm.id)
        a_text(tx)
        return a_line(tx, farm.id, tobin.id)


def with_a_line_of_old(books: Books) -> Entry:
    """The same with a line that was written before other tables than those of the first version were known."""
    with books.transaction() as tx:
        farm = a_farm(tx)
        tobin = a_person(tx, farm.id)
        a_text(tx)
        plain = {"via": None, "entered_at": moment_out(NOW), "replaces": None, "removed": 0, "confirmed": 0}
        line = {"farm_id": farm.id, "message_id": "m1", "by_person": tobin.id, "computed": None, **plain}
        tx.run("add_entry", id=new_id(), **line, **record_out(LATEX))
        return entries.standing(tx, farm.id)[0]

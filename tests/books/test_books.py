"""The day-book store on a real SQLite file: nothing overwritten, nothing twice, nothing half."""

import sqlite3
import threading
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bot.books import (
    AlreadyReplaced,
    BadFile,
    Books,
    NotADayBook,
    entries,
    farms,
    load,
    messages,
    open_books,
    outbox,
    people,
)
from bot.books.convert import folded, record_in, record_out
from bot.books.ids import new_id
from bot.books.migrations import files
from bot.books.statements import parse, statements
from parsers.reading import Block, Record, Role, What

NOW = datetime(2026, 3, 18, 3, 30, tzinfo=UTC)
FARM = """
name = "Reed Hollow"
timezone = "Asia/Bangkok"
[blocks]
"3" = { trees = 280, usual_litres = 16 }
[[people]]
name = "Tobin"
number = "+447700900102"
blocks = ["3"]
"""


@pytest.fixture
def books(tmp_path: Path) -> Books:
    return open_books(tmp_path / "books.sqlite")


def a_line(books: Books) -> tuple[str, str]:
    """A farm with one line in its book; returns the ids of the farm and the line."""
    with books.transaction() as tx:
        plain = {
            "timezone": "Asia/Bangkok",
            "currency": "USD",
            "language": "en",
            "containers": {},
            "settings": {},
            "at": NOW,
        }
        farm = farms.add_farm(tx, name="Reed Hollow", blocks={"3": Block(280, Decimal(16))}, **plain)
        who = {"name": "Tobin", "number": "+447700900102", "language": "en", "role": Role.TAPPER, "blocks": ("3",)}
        tobin = people.enrol(tx, farm_id=farm.id, at=NOW, message_id=None, **who).person
        messages.receive(tx, message_id="m1", carrier="practice", number=tobin.number, text="3 18", at=NOW, arrived=NOW)
        record = Record(What.LATEX, date(2026, 3, 18), "3", Decimal("18.5"))
        line = entries.enter(tx, farm_id=farm.id, message_id="m1", by=tobin.id, via=None, record=record, entered_at=NOW)
    return farm.id, line.id


def test_a_correction_takes_the_place_of_a_line_and_both_can_be_seen(books: Books) -> None:
    farm_id, line_id = a_line(books)

    with books.transaction() as tx:
        old = entries.entry(tx, line_id)
        new = entries.enter(
            tx,
            farm_id=farm_id,
            message_id="m1",
            by=old.by.id,
            via=None,
            record=old.record.with_(litres=Decimal(17)),
            entered_at=NOW,
            replaces=line_id,
        )
        assert [new.id] == [entry.id for entry in entries.standing(tx, farm_id)]
        assert [line_id, new.id] == [entry.id for entry in entries.history(tx, line_id)]


def test_a_line_is_taken_out_once_and_never_twice(books: Books) -> None:
    farm_id, line_id = a_line(books)

    with books.transaction() as tx:
        entries.remove(tx, line_id, message_id="m1", at=NOW)
        assert entries.standing(tx, farm_id) == []
        with pytest.raises(AlreadyReplaced):
            entries.remove(tx, line_id, message_id="m1", at=NOW)


def test_a_broken_transaction_leaves_no_trace(books: Books) -> None:
    farm_id, line_id = a_line(books)

    def breaks(tx) -> None:
        entries.remove(tx, line_id, message_id="m1", at=NOW)
        raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        books.run_transaction(breaks)

    with books.transaction() as tx:
        assert len(entries.standing(tx, farm_id)) == 1


def test_a_known_message_is_a_repeat(books: Books) -> None:
    a_line(books)

    with books.transaction() as tx:
        again = messages.receive(tx, message_id="m1", carrier="x", number="+44", text="other", at=NOW, arrived=NOW)

    assert again is not None
    assert again.text == "3 18"


def test_a_text_is_put_once_for_its_key_and_claimed_once(books: Books) -> None:
    put = {
        "to": "+447700900102",
        "text": "hi",
        "parts": 1,
        "because": None,
        "key": "k",
        "due_at": NOW,
        "created_at": NOW,
    }
    with books.transaction() as tx:
        assert outbox.put(tx, **put) is not None
        assert outbox.put(tx, **put) is None

    claimed = []

    def claim() -> None:
        claimed.append(books.run_transaction(lambda tx: outbox.claim(tx, NOW)))

    threads = [threading.Thread(target=claim) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()

    assert sum(each is not None for each in claimed) == 1


def test_settings_keep_their_history(books: Books) -> None:
    farm_id, _ = a_line(books)

    with books.transaction() as tx:
        for n, strength in enumerate(("85", "90")):
            at = NOW + timedelta(hours=n)
            farms.change_setting(tx, farm_id, "acid_strength_percent", Decimal(strength), at=at, message_id=None)
        assert Decimal(90) == farms.farm(tx, farm_id).settings.acid_strength_percent
        assert len(farms.settings_history(tx, farm_id)) == 2


def test_an_edited_migration_is_noticed(tmp_path: Path) -> None:
    path = tmp_path / "books.sqlite"
    open_books(path).close()
    with sqlite3.connect(path) as raw:
        raw.execute("update schema_changes set checksum = 'other'")

    with pytest.raises(NotADayBook, match="edited"):
        open_books(path)


def test_books_of_a_newer_version_are_left_alone(tmp_path: Path) -> None:
    path = tmp_path / "books.sqlite"
    open_books(path).close()
    with sqlite3.connect(path) as raw:
        raw.execute("insert into schema_changes values ('9999_later', 'x')")

    with pytest.raises(NotADayBook, match="newer"):
        open_books(path)


@pytest.mark.parametrize("content", ["garbage" * 200, ""])
def test_a_file_that_is_no_day_book_is_refused_or_empty(tmp_path: Path, content: str) -> None:
    path = tmp_path / "books.sqlite"
    path.write_text(content, encoding="utf-8")

    if content:
        with pytest.raises(NotADayBook):
            open_books(path)
    else:
        open_books(path).check()


def test_a_database_of_somebody_else_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "other.sqlite"
    with sqlite3.connect(path) as raw:
        raw.execute("create table things (id text)")

    with pytest.raises(NotADayBook):
        open_books(path)


def test_every_statement_is_named_once_and_used() -> None:
    source = "\n".join(path.read_text(encoding="utf-8") for path in Path("bot").rglob("*.py"))

    assert [name for name in statements() if f'"{name}"' not in source] == []
    with pytest.raises(ValueError, match="twice"):
        parse("-- name: a\nselect 1;\n-- name: a\nselect 2;\n")


def test_migrations_are_numbered() -> None:
    assert [f"{n:04}" for n in range(1, len(files()) + 1)] == [name[:4] for name in files()]


@given(
    litres=st.decimals(min_value="0.001", max_value=9999, places=3),
    drc=st.none() | st.decimals(min_value=10, max_value=60, places=2),
    rain=st.booleans(),
)
def test_a_record_comes_out_as_it_went_in(litres: Decimal, drc: Decimal | None, rain: bool) -> None:
    record = Record(What.LATEX, date(2026, 3, 18), "3", litres, drc=drc, rain=rain)

    assert record == record_in(record_out(record))


def test_ids_rise_in_the_order_in_which_they_are_made() -> None:
    made = [new_id() for _ in range(500)]

    assert sorted(made) == made
    assert len(set(made)) == len(made)


def test_names_fold_to_one_key() -> None:
    assert folded("El Mangó") == folded("el-mango")


def test_a_farm_file_fills_the_books(books: Books, tmp_path: Path) -> None:
    path = tmp_path / "farm.toml"
    path.write_text(FARM, encoding="utf-8")

    with books.transaction() as tx:
        farm = load.load_farm(tx, load.read_farm_file(path), NOW)
        assert [member.person.name for member in people.members(tx, farm.id)] == ["Tobin"]
        with pytest.raises(BadFile, match="already"):
            load.load_farm(tx, load.read_farm_file(path), NOW)


@pytest.mark.parametrize(
    ("before", "after", "says"),
    [
        ("Asia/Bangkok", "Asia/Nowhere", "timezone"),
        ('name = "Reed Hollow"', "", "name is missing"),
        ("+447700900102", "12", "phone number"),
        ('blocks = ["3"]', 'blocks = ["4"]', "no block 4"),
        ("trees = 280", "tres = 280", "write a block as"),
        ("[blocks]", "colour = 1\n[blocks]", "no key colour"),
    ],
)
def test_a_fault_in_a_farm_file_says_what_to_write(tmp_path: Path, before: str, after: str, says: str) -> None:
    path = tmp_path / "farm.toml"
    path.write_text(FARM.replace(before, after), encoding="utf-8")

    with pytest.raises(BadFile, match=says):
        load.read_farm_file(path)

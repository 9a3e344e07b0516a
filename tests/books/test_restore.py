"""Restoring: nothing newer is overwritten unless told, what would be lost is told, no text goes out twice; copies."""

import signal
import sqlite3
import subprocess
from contextlib import closing, suppress
from datetime import timedelta
from pathlib import Path
from random import Random

import pytest

from bot.books import Books, BooksUnavailable, NotADayBook, entries, farms, learned, messages, open_books, outbox
from bot.books.backup import back_up, check_whole
from bot.books.errors import BadBackup, BooksDamaged
from bot.books.migrations import files, migrate
from bot.books.restore import NewerBooks, move, restore
from bot.books.store import engine_at
from bot.reckon.learning import known_then
from tests.books import made
from tests.books.test_backup import contents, damage, flowing
from tests.books.test_processes import go, start

LATER = made.NOW + timedelta(hours=1)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return tmp_path / "backups"


@pytest.fixture
def backup(where: str, folder: Path) -> Path:
    """Of books with one line; the books themselves are closed again."""
    with closing(open_books(where)) as books:
        made.with_a_line(books)
        return back_up(where, folder, made.NOW, keep=9).file


def enter_more(where: str, *message_ids: str) -> None:
    with closing(open_books(where)) as books, books.transaction() as tx:
        first = entries.of_message(tx, "m1")[0]
        for each in message_ids:
            made.a_text(tx, each)
            made.a_line(tx, first.farm_id, first.by.id, each)


def texts_of(where: str | Path) -> set[str]:
    with closing(open_books(where)) as books, books.reading() as tx:
        return {each.id for each in messages.latest_from(tx, made.TOBIN, 100_000)}


def test_books_that_are_gone_come_back_whole(where: str, backup: Path, folder: Path) -> None:
    drop(where)

    done = restore(backup, where, folder, LATER)

    assert done.lost == ()
    assert done.kept is None
    assert contents(back_up(where, folder, LATER, keep=9).file) == contents(backup)


def drop(where: str) -> None:
    if "://" not in where:
        for each in Path(where).parent.glob("books.sqlite*"):
            each.unlink()
        return
    with closing(engine_at(where)) as engine, engine.session() as session:
        for row in session.execute(engine.tables):
            session.execute(f"drop table {row['name']} cascade")


def test_books_that_hold_no_more_than_the_backup_are_replaced_without_asking(
    where: str, backup: Path, folder: Path
) -> None:
    assert restore(backup, where, folder, LATER).lost == ()


def test_what_was_learned_is_neither_missed_nor_left_behind(where: str, folder: Path) -> None:
    """It can be worked out again: books that hold it besides are replaced unasked, and it does not outlive their lines."""
    with closing(open_books(where)) as books:
        line = made.with_a_line(books)
        backup = back_up(where, folder, made.NOW, keep=9).file
        with books.transaction() as tx:
            known_then(tx, farms.farm(tx, line.farm_id), made.DAY, made.DAY + timedelta(days=60))
            assert learned.newest(tx, line.farm_id) is not None

    assert restore(backup, where, folder, LATER).lost == ()

    with closing(open_books(where)) as books, books.transaction() as tx:
        assert learned.newest(tx, line.farm_id) is None


def test_newer_books_are_not_overwritten_and_it_is_told_what_would_be_lost(
    where: str, backup: Path, folder: Path
) -> None:
    enter_more(where, "m2", "m3")

    with pytest.raises(NewerBooks, match="4 rows that would be lost") as refused:
        restore(backup, where, folder, LATER)

    lost = {each.table: each for each in refused.value.lost}
    assert lost["messages"].missing == ("m2", "m3")
    assert lost["messages"].first == "2026-03-18T03:30:00.000000Z"
    assert len(lost["entries"].missing) == 2
    assert texts_of(where) == {"m1", "m2", "m3"}


def test_a_change_without_a_new_row_counts_as_newer_too(where: str, backup: Path, folder: Path) -> None:
    """Somebody who was blocked since the backup must not come back unnoticed."""
    with closing(open_books(where)) as books, books.transaction() as tx:
        tx.run("set_blocked", id=entries.of_message(tx, "m1")[0].by.id, at="2026-03-18T04:00:00.000000Z")

    with pytest.raises(NewerBooks, match="0 rows that would be lost, and 1 that differ"):
        restore(backup, where, folder, LATER)


def test_told_to_it_replaces_newer_books_and_keeps_them(where: str, backup: Path, folder: Path) -> None:
    enter_more(where, "m2")

    done = restore(backup, where, folder, LATER, replace_newer=True)

    assert texts_of(where) == {"m1"}
    assert done.kept is not None
    assert texts_of(done.kept) == {"m1", "m2"}
    assert {each.table for each in done.lost} >= {"messages", "entries"}


def test_a_restore_does_not_change_the_backup(where: str, backup: Path, folder: Path) -> None:
    before = backup.read_bytes()
    enter_more(where, "m2")

    restore(backup, where, folder, LATER, replace_newer=True)

    assert backup.read_bytes() == before


def test_what_went_out_since_the_backup_does_not_go_out_again(where: str, folder: Path) -> None:
    with closing(open_books(where)) as books:
        made.with_a_line(books)
        with books.transaction() as tx:
            sent, waits = (str(made.a_waiting_text(tx, key=key)) for key in ("sent", "waits"))
        backup = back_up(where, folder, made.NOW, keep=9).file
        with books.transaction() as tx:
            outbox.sent(tx, sent, "SM1", at=LATER)
            late_sent, late_waits = (str(made.a_waiting_text(tx, key=key)) for key in ("late", "later"))
            outbox.sent(tx, late_sent, "SM2", at=LATER)

    done = restore(backup, where, folder, LATER, replace_newer=True)

    with closing(open_books(where)) as books, books.reading() as tx:
        states = {each.id: each.state for each in outbox.listing(tx, made.NOW, LATER)}
    assert states == {sent: "sent", waits: "new", late_sent: "sent", late_waits: "unsure"}
    assert done.unsure == 1


def test_where_nothing_is_known_waiting_texts_are_left_in_doubt(where: str, folder: Path) -> None:
    with closing(open_books(where)) as books:
        with books.transaction() as tx:
            made.a_waiting_text(tx)
        backup = back_up(where, folder, made.NOW, keep=9).file
    drop(where)

    assert restore(backup, where, folder, LATER).unsure == 1


def test_moved_books_go_on_sending_what_waits(where: str, tmp_path: Path, folder: Path) -> None:
    with closing(open_books(where)) as books:
        with books.transaction() as tx:
            made.a_waiting_text(tx)
        backup = back_up(where, folder, made.NOW, keep=9).file

    done = move(backup, tmp_path / "other.sqlite", folder, LATER)

    assert done.unsure == 0
    with closing(open_books(tmp_path / "other.sqlite")) as books, books.reading() as tx:
        assert outbox.waiting_count(tx) == 1


def test_corrections_come_over_in_whatever_order_their_ids_have(tmp_path: Path, where: str, folder: Path) -> None:
    """A clock that jumped back gives a correction a smaller id than the line that it replaces."""
    source = tmp_path / "source.sqlite"
    with closing(open_books(source)) as books:
        made.with_a_line(books)
    with closing(sqlite3.connect(source)) as raw:
        raw.execute(
            "insert into entries select '0', farm_id, message_id, by_person, via, what, day, block, 1, grams, drc_hundredths,"
            " rain, late, again, reason, pieces, sheets, taken_from, grade, price_ten_thousandths, place, entered_at, id,"
            " removed, confirmed, computed from entries"
        )
        raw.commit()
    backup = back_up(source, folder, made.NOW, keep=9).file

    done = move(backup, where, folder, LATER)

    assert done.measures["entries"].rows == 2
    assert contents(back_up(where, folder, LATER, keep=9).file)["entries"] == contents(source)["entries"]


def test_there_and_back_again_every_row_is_the_same(tmp_path: Path, postgres: str, folder: Path) -> None:
    source, back = tmp_path / "books.sqlite", tmp_path / "back.sqlite"
    with closing(open_books(source)) as books:
        made.with_a_line(books)
        with books.transaction() as tx:
            made.a_text(tx, "m2", text="ตัดยาง 18 ลิตร 😀 \\N \\. \t\r\n \u2028 \x01")
    first = back_up(source, folder, made.NOW, keep=9).file

    move(first, postgres, folder, LATER)
    second = back_up(postgres, folder, LATER, keep=9).file
    move(second, back, folder, LATER)

    assert contents(back) == contents(source) | {"heartbeats": []}


def test_books_can_be_copied_while_lines_are_entered(tmp_path: Path, postgres: str, folder: Path) -> None:
    with closing(open_books(tmp_path / "books.sqlite")) as books, flowing(books):
        for n in range(3):
            backup = back_up(tmp_path / "books.sqlite", folder, made.NOW + timedelta(minutes=n), keep=9).file
            done = move(backup, postgres, folder, made.NOW + timedelta(minutes=n))

            assert done.measures == back_up(postgres, folder, LATER + timedelta(minutes=n), keep=9).measures


def test_books_in_use_are_not_replaced(tmp_path: Path, folder: Path) -> None:
    path = tmp_path / "books.sqlite"
    with closing(open_books(path)) as books:
        made.with_a_line(books)
        backup = back_up(path, folder, made.NOW, keep=9).file

        with pytest.raises(BooksUnavailable, match="stop the server"):
            restore(backup, path, folder, LATER, replace_newer=True)

        books.check()


def test_others_are_kept_out_of_a_database_while_it_is_replaced(
    postgres: str, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("bot.books.postgres.LOCK_MS", 50)
    with closing(open_books(postgres)) as books:
        made.with_a_line(books)
        backup = back_up(postgres, folder, made.NOW, keep=9).file
        refused: list[Exception] = []

        def try_to_write(self, table, rows) -> None:
            with pytest.raises(BooksUnavailable) as fault, books.transaction() as tx:
                made.a_text(tx, "meanwhile")
            refused.append(fault.value)
            raise BooksUnavailable("stop here")

        monkeypatch.setattr("bot.books.postgres._Session.fill", try_to_write)
        with pytest.raises(BooksUnavailable, match="stop here"):
            restore(backup, postgres, folder, LATER)

        assert len(refused) == 1
        with books.reading() as tx:
            assert messages.message(tx, "m1") is not None  # as before: the transaction was rolled back


def test_damaged_books_are_moved_aside_when_told_to(tmp_path: Path, folder: Path) -> None:
    path = tmp_path / "books.sqlite"
    with closing(open_books(path)) as books:
        made.with_a_line(books)
    backup = back_up(path, folder, made.NOW, keep=9).file
    damage(path)
    with pytest.raises(BooksDamaged):
        restore(backup, path, folder, LATER)

    done = restore(backup, path, folder, LATER, replace_newer=True)

    assert texts_of(path) == {"m1"}
    assert done.kept is not None
    assert done.kept.parent == tmp_path
    assert "damaged" in done.kept.name


def test_a_damaged_backup_is_refused_and_nothing_is_changed(where: str, backup: Path, folder: Path) -> None:
    enter_more(where, "m2")
    damage(backup)

    with pytest.raises(BadBackup, match="take another"):
        restore(backup, where, folder, LATER, replace_newer=True)

    assert texts_of(where) == {"m1", "m2"}


def test_a_cut_off_backup_is_refused(where: str, backup: Path, folder: Path) -> None:
    backup.write_bytes(backup.read_bytes()[:20_000])

    with pytest.raises(BadBackup, match="take another"):
        restore(backup, where, folder, LATER, replace_newer=True)

    assert texts_of(where) == {"m1"}


def test_a_backup_of_a_newer_version_is_refused(where: str, backup: Path, folder: Path) -> None:
    with closing(sqlite3.connect(backup)) as raw:
        raw.execute("insert into schema_changes values ('9999_later', 'x')")
        raw.commit()

    with pytest.raises(NotADayBook, match="newer version"):
        restore(backup, where, folder, LATER, replace_newer=True)


@pytest.mark.parametrize("version", range(1, len(files())))
def test_a_backup_of_an_earlier_version_is_brought_up(tmp_path: Path, where: str, folder: Path, version: int) -> None:
    early = dict(list(files().items())[:version])
    engine = engine_at(tmp_path / "early.sqlite")
    with engine.session() as session:
        migrate(engine, session, early)
    with closing(Books(engine)) as books, books.transaction() as tx:
        made.a_text(tx, "m1")
    backup = back_up(tmp_path / "early.sqlite", folder, made.NOW, keep=9).file

    restore(backup, where, folder, LATER)

    assert texts_of(where) == {"m1"}


@pytest.mark.parametrize("seed", range(4))
def test_a_restore_that_is_killed_leaves_the_old_books_or_the_new(where: str, folder: Path, seed: int) -> None:
    with closing(open_books(where)) as books:
        line = made.with_a_line(books)
        backup = back_up(where, folder, made.NOW, keep=9).file
        with books.transaction() as tx:
            for n in range(400):
                made.a_text(tx, f"n{n}", text="x" * 500)
                made.a_line(tx, line.farm_id, line.by.id, f"n{n}")
    whole = texts_of(where)

    worker = start("restore", f"{where} {backup}")
    go(worker)
    with suppress(subprocess.TimeoutExpired):
        worker.wait(timeout=Random(seed).uniform(0.02, 0.4))
    worker.send_signal(signal.SIGKILL)
    worker.communicate(timeout=30)

    assert texts_of(where) in (whole, {"m1"})
    if "://" not in where:
        check_whole(Path(where))


def test_restoring_where_the_old_books_cannot_be_kept_leaves_them(where: str, backup: Path, tmp_path: Path) -> None:
    """The folder in which replaced books are to be kept cannot be made: then nothing is replaced."""
    enter_more(where, "m2")
    (tmp_path / "file").touch()

    with pytest.raises(BooksUnavailable, match="Nothing was changed"):
        restore(backup, where, tmp_path / "file" / "kept", LATER, replace_newer=True)

    assert texts_of(where) == {"m1", "m2"}

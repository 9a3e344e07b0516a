"""The command `gaps`, over books on the disk."""

import json
from datetime import timedelta
from decimal import Decimal
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from bot.books import Books, entries, farms, lots, open_books, people
from bot.cli import main
from parsers.reading import Block, Role, What
from tests.books.made import NOW, a_text
from tests.reckon.simulated_books import FIRST, Planted, a_book

#: A season in which Mara's balance shows 8 % less from day 75 on; the farm has a balance at home.
SEASON = next(book for book in (a_book(seed, Planted("balance", "Mara", 0.08, 75)) for seed in range(9)) if book.home)
LAST = str(FIRST + timedelta(days=134))


@pytest.fixture
def where(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("TAPPING_LOG_BOOKS", str(tmp_path / "books.sqlite"))
    books = open_books(tmp_path / "books.sqlite")
    for name in ("Heron Hill", "Far Meadow"):
        fill(books, name)
    books.close()
    return tmp_path / "books.sqlite"


def fill(books: Books, name: str) -> None:
    with books.transaction() as tx:
        blocks = {block: Block(200) for own in SEASON.blocks_of.values() for block in own}
        plain = {"timezone": "UTC", "currency": "USD", "language": "en", "containers": {}, "settings": {}}
        farm = farms.add_farm(tx, name=name, blocks=blocks, at=NOW, **plain)
        ids = {}
        for n, who in enumerate(("Ama", "Yaw", "Mara", "Nuno")):
            role = Role.COLLECTOR if n > 1 else Role.TAPPER
            number = f"+44770090010{n}" if n > 1 else f"+4477009001{len(name)}{n}"
            enrolled = {"name": who, "number": number, "language": "en", "role": role, "blocks": ()}
            ids[who] = people.enrol(tx, farm_id=farm.id, at=NOW, message_id=None, **enrolled).person
        for line in SEASON.entries:
            a_text(tx, f"{name} {line.message_id}", text="-")
            entries.enter(
                tx,
                farm_id=farm.id,
                message_id=f"{name} {line.message_id}",
                by=ids[line.by.name],
                via=None,
                record=line.record,
                entered_at=line.entered_at,
                computed=line.computed,
            )


def run(*arguments: str) -> Result:
    done = CliRunner().invoke(main, ["gaps", "--to", LAST, *arguments])
    assert done.exit_code == 0, done.output
    return done


def test_the_steps_of_a_farm_stand_under_each_other_with_what_to_ask(where: Path) -> None:
    found = json.loads(run("--farm", "Heron Hill", "--json").output)

    assert [row["what"] for row in found] == [
        "Latex that was rolled",
        "Rolled sheets that were weighed or still dry",
        "Weighed, by its latex",
        "Taken, by the weight at home",
        "Sold in lots, by receipts",
    ]
    taken = found[3]
    assert taken["gap_kg"] == pytest.approx(taken["found_kg"] - taken["expected_kg"], abs=0.002)
    assert taken["deviations"] < -2


def test_a_balance_that_reads_low_is_asked_about_for_each_farm_and_for_all_together(where: Path) -> None:
    (one, *_) = json.loads(run("--farm", "Heron Hill", "--by", "balance", "--json").output)
    both = [row for row in json.loads(run("--by", "balance", "--json").output) if row["what"] == "Mara's balance"]

    assert one["told"]
    assert "Hang the same weight on both" in one["question"]
    assert [row["farm"] for row in both] == ["all farms"]
    assert both[0]["percent"] == pytest.approx(-8, abs=3)
    assert both[0]["told"]
    assert both[0]["question"].endswith("Hang a known weight on it.")
    assert "2026-03-21" <= both[0]["since"] <= "2026-05-02"  # it began on 21 March


def test_days_that_are_named_are_looked_at_as_a_whole(where: Path) -> None:
    named = [json.loads(run("--by", by, "--from", "2026-04-01", "--json").output) for by in ("balance", "collector")]

    assert all(row["since"] is None for rows in named for row in rows)
    assert any(row["told"] and row["what"] == "Mara's balance" for row in named[0])
    assert named[1]
    assert not any("The balance at" in row["what"] for row in named[1])


def test_the_table_for_people_ends_with_the_questions(where: Path) -> None:
    shown = run("--farm", "Heron Hill", "--by", "balance").output

    assert shown.splitlines()[0].startswith("Farm")
    assert "?" in shown.splitlines()[-1]
    assert "Nothing to ask about." in run("--farm", "Heron Hill", "--by", "block", "--from", LAST).output


def test_days_the_wrong_way_round_are_refused(where: Path) -> None:
    done = CliRunner().invoke(main, ["gaps", "--from", "2026-05-02", "--to", "2026-05-01"])

    assert done.exit_code == 2
    assert "is before the first day" in done.output


def test_what_a_lot_weighs_less_than_its_receipts_is_a_gap_of_the_farm(where: Path) -> None:
    books = open_books(where)
    with books.transaction() as tx:
        farm = farms.farm_named(tx, "Heron Hill")
        assert farm is not None
        takes = [each for each in entries.standing(tx, farm.id, what=What.COLLECTED) if each.record.kg]
        lot = lots.new(tx, "A", "rubber", "", at=NOW)
        whole = 0
        for take in takes[:8]:
            grams = int((take.record.kg or Decimal(0)) * 1000)
            whole += grams
            lots.add_take(tx, lot, farm.id, take.id, grams, grams, at=NOW)
        lots.close(tx, lot, round(whole * 0.9), "", {}, at=NOW)
    books.close()

    day = NOW.date()
    arguments = ("--farm", "Heron Hill", "--from", str(day), "--to", str(day), "--json")
    row = json.loads(CliRunner().invoke(main, ["gaps", *arguments]).output)[-1]

    assert row["percent"] == pytest.approx(-10, abs=0.01)
    assert row["told"]
    assert "The lots weigh" in row["question"]

"""The commands over real books: what they print, and how they refuse bad input."""

import json
from datetime import UTC, datetime
from decimal import Decimal
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from bot.books import farms, open_books, people
from bot.cli import main
from parsers.reading import Block, Role

TAPPER, OWNER, STRANGER = "+447700900301", "+447700900302", "+447700900399"
START = datetime(2026, 1, 1, tzinfo=UTC)
LINE = {"from": TAPPER, "at": "2026-03-12T10:30", "text": "block 3 18 litres rain"}


@pytest.fixture
def where(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    path = tmp_path / "books.sqlite"
    monkeypatch.setenv("TAPPING_LOG_BOOKS", str(path))
    return path


@pytest.fixture
def farm(where: Path) -> Path:
    books = open_books(where)
    with books.transaction() as tx:
        added = farms.add_farm(
            tx,
            name="Heron Hill",
            timezone="Asia/Bangkok",
            currency="USD",
            language="en",
            blocks={"3": Block(280, Decimal(18))},
            containers={},
            settings={},
            at=START,
        )
        for number, name, role in ((TAPPER, "Sefu", Role.TAPPER), (OWNER, "Ines", Role.OWNER)):
            people.enrol(
                tx,
                name=name,
                number=number,
                language="en",
                farm_id=added.id,
                role=role,
                blocks=("3",),
                at=START,
                message_id=None,
            )
    books.close()
    return where


def run(*arguments: str, given: str = "") -> Result:
    return CliRunner().invoke(main, arguments, input=given)


def replay(folder: Path, *lines: dict[str, object]) -> list[dict]:
    file = folder / "texts.jsonl"
    file.write_text("".join(json.dumps(line) + "\n" for line in lines), encoding="utf-8")
    result = run("replay", str(file), "--json")
    assert result.exit_code == 0, result.output
    return [json.loads(line) for line in result.output.splitlines()]


@pytest.mark.usefixtures("farm")
def test_other_keys_of_a_line_are_passed_over_and_a_stranger_is_on_the_farms_clock(tmp_path: Path) -> None:
    known, stranger = replay(
        tmp_path,
        LINE | {"id": None, "expect": {"kind": "entered"}},
        LINE | {"from": STRANGER, "arrived": "2026-03-12T10:31"},
    )

    assert known["kind"] == "entered"
    assert stranger["kind"] == "answered"
    assert [each["by"] for each in entries()] == [TAPPER]


@pytest.mark.parametrize(
    "arguments",
    [("dose",), ("dose", "--litres", "x"), ("nonsense",), ("--nonsense",), ("people", "nonsense"), ("week",)],
)
def test_what_cannot_be_understood_is_one_line_and_status_2(arguments: tuple[str, ...]) -> None:
    result = run(*arguments)

    assert result.exit_code == 2
    assert len(result.stderr.splitlines()) == 1


def test_acid_that_must_not_be_used_is_refused_with_the_reason() -> None:
    result = run("dose", "--litres", "18", "--acid", "sulphuric")

    assert result.exit_code == 2
    assert "spoils the rubber" in result.stderr


def entries(*arguments: str) -> list[dict]:
    return json.loads(run("entries", "--farm", "heron hill", *arguments, "--json").output)


@pytest.mark.usefixtures("farm")
def test_a_replayed_text_is_entered_on_its_own_day(tmp_path: Path) -> None:
    (answered,) = replay(tmp_path, LINE | {"id": "a1"})
    (entry,) = entries()

    assert answered.keys() == {"id", "reply", "parts", "to_others", "kind"}
    assert (answered["id"], answered["kind"], answered["to_others"]) == ("a1", "entered", [])
    assert (entry["day"], entry["block"], entry["litres"], entry["rain"]) == ("2026-03-12", "3", 18, True)
    assert (entry["by"], entry["via"], entry["message"], entry["replaces"]) == (TAPPER, None, "a1", None)


@pytest.mark.usefixtures("farm")
def test_playing_a_file_again_enters_nothing_twice_and_answers_the_same(tmp_path: Path) -> None:
    first = replay(tmp_path, LINE)

    assert replay(tmp_path, LINE) == first
    assert len(entries()) == 1


@pytest.mark.usefixtures("farm")
def test_equal_lines_of_a_file_are_two_texts(tmp_path: Path) -> None:
    first, second = replay(tmp_path, LINE, LINE)

    assert first["id"] != second["id"]


@pytest.mark.usefixtures("farm")
def test_between_the_texts_a_summary_falls_due(tmp_path: Path) -> None:
    replay(tmp_path, LINE, LINE | {"at": "2026-03-16T10:30", "text": "block 3 17 litres"})
    passed = json.loads(run("messages", "--from", "2026-03-01", "--to", "2026-03-31", "--json").output)

    assert [each["number"] for each in passed if each["way"] == "out"] == [OWNER]


@pytest.mark.usefixtures("farm")
@pytest.mark.parametrize(
    "line",
    [
        "{",
        "[]",
        '{"from": "+447700900301", "at": "2026-03-12T10:30"}',
        '{"from": "+447700900301", "at": "noon", "text": "hello"}',
        '{"from": "Sefu", "at": "2026-03-12T10:30", "text": "hello"}',
        '{"from": "+447700900301", "at": "2026-03-12T10:30", "text": 5}',
    ],
)
def test_a_bad_line_to_replay_is_one_line_and_status_2(tmp_path: Path, line: str) -> None:
    file = tmp_path / "bad.jsonl"
    file.write_text(line + "\n", encoding="utf-8")
    result = run("replay", str(file))

    assert result.exit_code == 2
    assert result.stderr.startswith("Error: Line 1:")
    assert len(result.stderr.splitlines()) == 1


@pytest.mark.usefixtures("farm")
def test_entries_of_some_days(tmp_path: Path) -> None:
    replay(tmp_path, LINE, LINE | {"at": "2026-03-14T10:30"})

    assert [each["day"] for each in entries("--from", "2026-03-13")] == ["2026-03-14"]
    assert [each["day"] for each in entries("--to", "2026-03-13")] == ["2026-03-12"]


@pytest.mark.usefixtures("farm")
def test_the_week_is_told_for_the_day_named(tmp_path: Path) -> None:
    replay(tmp_path, LINE)
    told = run("week", "--farm", "Heron Hill", "--of", "2026-03-15")

    assert told.exit_code == 0
    assert "18 L" in told.output


@pytest.mark.usefixtures("farm")
def test_who_is_enrolled() -> None:
    found = json.loads(run("people", "--json").output)

    assert [(each["number"], each["roles"], each["farm"]) for each in found] == [
        (TAPPER, ["tapper"], "Heron Hill"),
        (OWNER, ["owner"], "Heron Hill"),
    ]


@pytest.mark.usefixtures("farm")
def test_a_talk_in_the_terminal() -> None:
    result = run("talk", "--as", TAPPER, given="block 3 18 litres rain\n\n")

    assert result.exit_code == 0
    assert "Sefu> block 3 18 litres rain" in result.output
    assert "part" in result.output


@pytest.mark.usefixtures("farm")
@pytest.mark.parametrize(
    "arguments",
    [
        ("entries", "--farm", "Nowhere"),
        ("entries", "--farm", "Heron Hill", "--from", "2026-03-02", "--to", "2026-03-01"),
        ("entries", "--farm", "Heron Hill", "--from", "2026-02-30"),
        ("week", "--farm", "Nowhere"),
        ("farm", "add", "missing.toml"),
        ("people", "import", "missing.csv"),
        ("dose", "--litres", "-1"),
        ("dose", "--litres", "many"),
        ("demo",),
    ],
)
def test_bad_input_is_status_2(arguments: tuple[str, ...]) -> None:
    result = run(*arguments)

    assert result.exit_code == 2
    assert "Error:" in result.stderr


@pytest.mark.usefixtures("where")
def test_nothing_due_is_said() -> None:
    result = run("due")

    assert (result.exit_code, result.output) == (0, "Written 0, sent 0, later 0, given up 0, unsure 0.\n")


def test_a_bad_setting_is_one_line(where: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PORT", "many")
    result = run("due")

    assert result.exit_code == 2
    assert result.stderr == "Error: PORT: must be a whole number from 1 to 65535, not 'many'\n"
    assert not where.exists()


def test_the_dose_has_the_keys_that_others_rely_on() -> None:
    keys = "drc_percent latex_kg dry_kg dry_kg_low dry_kg_high water_litres acid_ml acid_solution_litres sheets sources"

    assert set(json.loads(run("dose", "--litres", "18", "--json").output)) == set(keys.split())

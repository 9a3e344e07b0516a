"""The operator enrols a cooperative from a file and by command; every fault is one line that says what to write."""

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from bot.books import cooperatives, open_books, people, places
from bot.cli import main
from parsers.reading import Role
from tests.books import made

MUSA = "+447700900111"

FILE = """
name = "Three Hills"
timezone = "Asia/Bangkok"
currency = "USD"
closing_hour = 18
farms = ["Reed Hollow", "Far Meadow"]
[prices]
RSS3 = 1.55
latex = "1.20"
[[managers]]
name = "Hana"
number = "+447700900130"
[[places]]
number = 1
name = "Lower Gate"
farms = ["Reed Hollow"]
opens = "6:00"
closes = "10:30"
[[places]]
number = 2
name = "River Landing"
farms = ["Far Meadow"]
[[rounds]]
name = "Musa"
number = "+447700900111"
monday = ["Lower Gate", "River Landing"]
thursday = ["river landing"]
"""


@pytest.fixture
def where(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    path = tmp_path / "books.sqlite"
    monkeypatch.setenv("TAPPING_LOG_BOOKS", str(path))
    books = open_books(path)
    with books.transaction() as tx:
        made.a_farm(tx, "Reed Hollow")
        made.a_farm(tx, "Far Meadow")
    books.close()
    return path


def run(*arguments: str) -> Result:
    return CliRunner().invoke(main, arguments)


def add(where: Path, text: str) -> Result:
    file = where.parent / "three-hills.toml"
    file.write_text(text, encoding="utf-8")
    return run("cooperative", "add", str(file))


def test_a_file_enrols_farms_managers_prices_places_and_rounds(where: Path) -> None:
    assert add(where, FILE).output == "Three Hills is in the books.\n"

    (one,) = json.loads(run("cooperative", "list", "--json").output)
    assert (one["closing_hour"], one["farms"]) == (18, ["Far Meadow", "Reed Hollow"])
    assert (one["managers"], one["prices"]) == (["Hana"], {"RSS3": "1.55", "latex": "1.2"})
    gate, landing = json.loads(run("place", "list", "--json").output)
    assert (gate["number"], gate["name"], gate["opens"], gate["closes"]) == (1, "Lower Gate", "06:00", "10:30")
    assert (landing["farms"], landing["opens"]) == (["Far Meadow"], None)
    rounds = json.loads(run("round", "list", "--json").output)
    assert [(each["weekday"], each["places"]) for each in rounds] == [
        ("monday", ["Lower Gate", "River Landing"]),
        ("thursday", ["River Landing"]),
    ]


def test_a_collector_is_one_at_the_farms_of_his_rounds(where: Path) -> None:
    add(where, FILE)

    books = open_books(where)
    with books.transaction() as tx:
        musa = people.person_by_number(tx, MUSA)
        assert musa is not None
        held = people.memberships(tx, musa.id)
    books.close()
    assert [each.role for each in held] == [Role.COLLECTOR, Role.COLLECTOR]


def test_the_same_file_again_changes_nothing_and_a_changed_one_brings_up_to_date(where: Path) -> None:
    add(where, FILE)
    add(
        where,
        FILE.replace("closing_hour = 18", "closing_hour = 20").replace(
            'monday = ["Lower Gate", "River Landing"]', "monday = []"
        ),
    )

    (one,) = json.loads(run("cooperative", "list", "--json").output)
    assert (one["closing_hour"], one["managers"]) == (20, ["Hana"])
    assert [each["weekday"] for each in json.loads(run("round", "list", "--json").output)] == ["thursday"]
    books = open_books(where)
    with books.transaction() as tx:
        assert len(cooperatives.everyone(tx)) == 1
        assert len(places.of_cooperative(tx, cooperatives.everyone(tx)[0].id)) == 2
    books.close()


@pytest.mark.parametrize(
    ("old", "new", "fault"),
    [
        ('farms = ["Reed Hollow", "Far Meadow"]', 'farms = ["Nowhere"]', "there is no farm Nowhere"),
        ("closing_hour = 18", "closing_hour = 3", "line 5: closing_hour is a whole hour from 12 to 23"),
        ("RSS3 = 1.55", "RSS3 = -1", "line 8: the price of RSS3 must be a number above 0"),
        ("RSS3 = 1.55", '"?" = 1', "neither a grade such as RSS3 nor sheets, latex or lump"),
        ('opens = "6:00"', 'opens = "dawn"', "line 17: dawn is no hour; write it like 06:00"),
        ("number = 2", "number = 1", "number 1 is that of Lower Gate"),
        ('thursday = ["river landing"]', 'thursday = ["Nowhere"]', "there is no place Nowhere"),
        ('number = "+447700900130"', 'number = "hana"', "hana is not a phone number"),
        ('name = "Hana"', "", "the name is missing"),
        ("[prices]", "[princes]", "there is no key princes"),
        ('number = "+447700900130"', f'number = "{MUSA}"', "is Hana's number already"),
        ('timezone = "Asia/Bangkok"', 'timezone = "Mars"', "timezone 'Mars' is not known"),
    ],
)
def test_a_fault_in_the_file_is_one_line_and_nothing_is_entered(where: Path, old: str, new: str, fault: str) -> None:
    result = add(where, FILE.replace(old, new, 1))

    assert result.exit_code == 2
    assert fault in result.output
    assert result.output.count("\n") == 1
    assert json.loads(run("cooperative", "list", "--json").output) == []


def test_places_rounds_and_prices_are_set_by_command(where: Path) -> None:
    add(where, FILE)

    assert run("place", "set", "Hill Top", "--number", "3", "--farm", "Reed Hollow", "--opens", "7:15").exit_code == 0
    said = run("round", "set", MUSA, "--on", "friday", "--place", "hil top", "--place", "2")
    assert said.output == "Musa, friday: Hill Top, River Landing.\n"
    assert run("cooperative", "price", "rss 4", "1.40").output == "Three Hills: RSS4 1.40 USD a kg.\n"

    assert "07:15" in run("place", "list").output
    assert "Hill Top, River Landing" in run("round", "list").output
    assert "RSS4 1.4" in run("cooperative", "list").output


@pytest.mark.parametrize(
    ("arguments", "fault"),
    [
        (["place", "set", "Hill Top", "--number", "1"], "number 1 is that of Lower Gate"),
        (["place", "set", "Hill Top", "--number", "3", "--opens", "dawn"], "dawn is no hour"),
        (["place", "set", "Hill Top", "--number", "3", "--farm", "Nowhere"], "There is no farm 'Nowhere'"),
        (["round", "set", MUSA, "--on", "friday", "--place", "Nowhere"], "There is no place 'Nowhere'"),
        (["round", "set", "+447700900199", "--on", "friday"], "give --name to enrol him"),
        (["cooperative", "price", "rss4", "much"], "much is no price"),
        (["cooperative", "price", "rss4", "0"], "a price has to be above 0"),
        (["cooperative", "price", "rss4", "1", "--cooperative", "Nowhere"], "There are: Three Hills"),
    ],
)
def test_a_fault_of_a_command_is_one_line(where: Path, arguments: list[str], fault: str) -> None:
    add(where, FILE)

    result = run(*arguments)

    assert result.exit_code == 2
    assert fault in result.output
    assert result.output.count("\n") == 1

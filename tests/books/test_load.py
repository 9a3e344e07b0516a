"""Farms and people from files: what is right is put into the books, what is wrong is shown with its line."""

from collections.abc import Iterator
from decimal import Decimal
from pathlib import Path

import pytest

from bot.books import BadFile, Books, farms, open_books, people
from bot.books.load import load_farm, load_people, read_farm_file, read_people_file
from bot.books.toml_file import line_of
from parsers.reading import Block, Role
from tests.books.made import NOW

FARM = """\
name = "Reed Hollow"
timezone = "Asia/Bangkok"
region = "GB"
other_farms = ["Far Side"]

[settings]
acid = "formic"
acid_strength_percent = 90
summary_hour = 17

[blocks]
"3" = { trees = 280, usual_litres = 16.5 }

[blocks.swamp]
trees = 150

[containers]
bucket = 12

[[people]]
name = "Tobin"
number = "+447700900102"
blocks = ["3"]

[[people]]
name = "Ama"
number = "07700 900103"
role = "owner"
blocks = ["3", "swamp"]
lang = "th"

[[points]]
name = "River Landing"
"""

PEOPLE = """\
number,name,role,farm,blocks,language
+447700900102,Tobin,tapper,reed hollow,3;swamp,id
+447700900103,"Ama, the elder",Owner,Reed Hollow,,
"""


@pytest.fixture
def books(tmp_path: Path) -> Iterator[Books]:
    opened = open_books(tmp_path / "books.sqlite")
    yield opened
    opened.close()


def written(tmp_path: Path, name: str, text: str) -> Path:
    path = tmp_path / name
    path.write_text(text, encoding="utf-8")
    return path


def test_a_farm_file_fills_the_books(books: Books, tmp_path: Path) -> None:
    plan = read_farm_file(written(tmp_path, "farm.toml", FARM))

    with books.transaction() as tx:
        farm = load_farm(tx, plan, NOW)
        members = {each.person.name: each for each in people.members(tx, farm.id)}
        blocks = farms.blocks(tx, farm.id)
        containers = farms.containers(tx, farm.id)
        point = farms.point_named(tx, "river landing")

    assert (farm.timezone, farm.currency, farm.language) == ("Asia/Bangkok", "USD", "en")
    assert (farm.settings.acid_strength_percent, farm.settings.summary_hour) == (Decimal(90), 17)
    assert (blocks["3"].trees, blocks["3"].usual_litres, blocks["swamp"].trees) == (280, Decimal("16.5"), 150)
    assert containers == {"bucket": Decimal(12)}
    assert point is not None
    assert point.farm_ids == (farm.id,)
    assert members["Tobin"].role is Role.TAPPER
    assert (members["Ama"].person.number, members["Ama"].role) == ("+447700900103", Role.OWNER)
    assert (members["Ama"].person.language, members["Ama"].blocks) == ("th", ("3", "swamp"))


def test_a_farm_is_added_once(books: Books, tmp_path: Path) -> None:
    plan = read_farm_file(written(tmp_path, "farm.toml", FARM))
    books.run_transaction(lambda tx: load_farm(tx, plan, NOW))

    with pytest.raises(BadFile, match="already"):
        books.run_transaction(lambda tx: load_farm(tx, plan, NOW))


@pytest.mark.parametrize(
    ("before", "after", "says"),
    [
        ("Asia/Bangkok", "Asia/Nowhere", "line 2: timezone 'Asia/Nowhere' is not known"),
        ('timezone = "Asia/Bangkok"\n', "", "timezone is missing; write timezone = "),
        ('name = "Reed Hollow"\n', "", "name is missing"),
        ('name = "Reed Hollow"', 'name = "Reed Hollow"\ncurrency = "XYZ"', "line 2: currency 'XYZ'"),
        ('name = "Reed Hollow"', 'name = "Reed Hollow"\nlanguage = "xx"', "line 2: language 'xx'"),
        ('region = "GB"', 'region = "Britain"', "line 3: region 'Britain'"),
        ('region = "GB"\n', "", r"line 24: 07700 900103 is not a phone number; write it like \+447700900123"),
        ('["Far Side"]', '"Far Side"', "line 4: write other_farms as"),
        ('name = "Reed Hollow"', 'name = "Reed Hollow"\ncolour = "red"', "line 2: there is no key colour"),
        ('acid = "formic"', 'acid = "sulphuric"', "line 7: .*formic, acetic"),
        ("summary_hour = 17", "summary_hour = 24", "line 9: .*from 0 to 23"),
        ("summary_hour = 17", "summary_hour = true", "line 9: .*from 0 to 23"),
        ("summary_hour = 17", "summer_hour = 17", "line 9: There is no setting summer_hour"),
        ("trees = 280", "tres = 280", "line 12: write a block as 3 ="),
        ("trees = 280", 'trees = "many"', "line 12: trees of 3 must be a whole number"),
        ("usual_litres = 16.5", "usual_litres = nan", "line 12: the litres of 3"),
        ("trees = 150", "trees = 0", "line 14: trees of swamp"),
        ("[blocks.swamp]", '[blocks." 3"]', "line 14: .*cannot be a name"),
        ("[blocks.swamp]", '[blocks."b;c"]', "line 14: .*cannot be a name"),
        ('"3" =', 'Swamp = { trees = 1 }\n"3" =', "line 15: the blocks Swamp and swamp read the same"),
        ("bucket = 12", "bucket = -12", "line 18: the litres of bucket"),
        ("bucket = 12", "bucket = 12\nBucket = 13", "line 19: the containers bucket and Bucket read the same"),
        ("[containers]", "[[containers]]", "containers must be a table"),
        ('number = "+447700900102"', 'number = "+4477"', "line 20: .* too few or too many digits"),
        ('number = "+447700900102"\n', "", "line 20: nothing is not a phone number"),
        ('blocks = ["3"]', 'blocks = ["4"]', "line 20: there is no block 4; there are 3, swamp"),
        ('blocks = ["3"]', 'block = ["3"]', "line 23: there is no key block"),
        ('number = "07700 900103"', 'number = "+447700900102"', "line 25: .* is Tobin's number already"),
        ('role = "owner"', 'role = "boss"', "line 25: the role boss is not one of"),
        ('lang = "th"', 'lang = "klingon"', "line 25: the language klingon is not one of"),
        ('name = "Ama"', 'name = " "', "line 25: the name is missing"),
        ('name = "River Landing"', 'nam = "River Landing"', "line 32: write a collection point as"),
        ("[settings]", "[settings", "cannot be read: .*line 6"),
    ],
)
def test_a_fault_in_a_farm_file_says_where_and_what_to_write(
    tmp_path: Path, before: str, after: str, says: str
) -> None:
    assert before in FARM

    with pytest.raises(BadFile, match=says):
        read_farm_file(written(tmp_path, "farm.toml", FARM.replace(before, after, 1)))


def test_a_file_that_is_not_there_or_not_text_says_so(tmp_path: Path) -> None:
    (tmp_path / "bytes.toml").write_bytes(b"\xff\xfe\x00name")

    for read in (read_farm_file, read_people_file):
        for name in ("missing", "bytes.toml"):
            with pytest.raises(BadFile, match=f"{name} cannot be read"):
                read(tmp_path / name)


def test_a_line_is_found_for_keys_of_every_table() -> None:
    text = 'a = 1\n[b]\n"c d" = 2\n[[e]]\nf = 3\n[[e]]\n# f = 9\nf = 4\n[b.g]\n'

    assert line_of(text, "a") == 1
    assert line_of(text, "c d", "b") == 3
    assert line_of(text, "f", "e", 1) == 8
    assert line_of(text, "g", "b") == 9
    assert line_of(text, "missing", "e", 1) == 6
    assert line_of(text, "missing") is None


def test_people_come_from_a_table(books: Books, tmp_path: Path) -> None:
    farm_plan = read_farm_file(written(tmp_path, "farm.toml", FARM[: FARM.index("[[people]]")]))
    plans = read_people_file(written(tmp_path, "people.csv", "\ufeff" + PEOPLE))

    with books.transaction() as tx:
        load_farm(tx, farm_plan, NOW)
        found = load_people(tx, plans, NOW)

    assert [(each.person.name, each.role, each.blocks, each.person.language) for each in found] == [
        ("Tobin", Role.TAPPER, ("3", "swamp"), "id"),
        ("Ama, the elder", Role.OWNER, (), "en"),
    ]


def test_numbers_of_a_region_may_be_written_as_at_home(tmp_path: Path) -> None:
    text = "number,name,role,farm,region\n07700 900102,Tobin,tapper,Reed Hollow,gb\n"

    assert read_people_file(written(tmp_path, "people.csv", text))[0].number == "+447700900102"


@pytest.mark.parametrize(
    ("before", "after", "says"),
    [
        ("+447700900102", "12", "line 2: 12 is not a phone number"),
        ("number,name", "number,nam", "line 1: the column 'name' is missing; write number,name,role,farm"),
        ("language\n", "tongue\n", "line 1: the column 'tongue' is not known"),
        ('"Ama, the elder"', "Ama, the elder", "line 3: there are more or fewer commas"),
        ("3;swamp,id", "3", "line 2: there are more or fewer commas"),
        (",Owner,", ",Boss,", "line 3: the role boss"),
        ("+447700900103", "+447700900102", "line 3: .* is Tobin's number already"),
        ('"Ama, the elder"', '"Ama, the elder', "cannot be read"),
    ],
)
def test_a_fault_in_a_table_says_where_and_what_to_write(tmp_path: Path, before: str, after: str, says: str) -> None:
    assert before in PEOPLE

    with pytest.raises(BadFile, match=says):
        read_people_file(written(tmp_path, "people.csv", PEOPLE.replace(before, after, 1)))


@pytest.mark.parametrize(
    ("before", "after", "says"),
    [
        ("reed hollow", "Rim Farm", "line 2: there is no farm Rim Farm; there are Reed Hollow"),
        ("reed hollow", "", "line 2: there is no farm without a name"),
        ("3;swamp", "3 swamp", "line 2: there is no block 3 swamp; there are 3, swamp"),
    ],
)
def test_nobody_is_enrolled_where_one_line_does_not_fit(
    books: Books, tmp_path: Path, before: str, after: str, says: str
) -> None:
    farm_plan = read_farm_file(written(tmp_path, "farm.toml", FARM[: FARM.index("[[people]]")]))
    books.run_transaction(lambda tx: load_farm(tx, farm_plan, NOW))
    plans = read_people_file(written(tmp_path, "people.csv", PEOPLE.replace(before, after, 1)))

    with pytest.raises(BadFile, match=says):
        books.run_transaction(lambda tx: load_people(tx, plans[::-1], NOW))

    with books.transaction() as tx:
        assert people.everybody(tx) == []


def test_a_block_needs_neither_trees_nor_litres(tmp_path: Path) -> None:
    text = 'name = "A"\ntimezone = "UTC"\n[blocks]\nhill = {}\n'

    assert read_farm_file(written(tmp_path, "farm.toml", text)).blocks == {"hill": Block()}

"""The commands `plot`: from a file or coordinates into the books and out again."""

import json
from pathlib import Path

import geojson as general
import pytest
from click.testing import CliRunner, Result

from bot.books import open_books, plots
from bot.cli import main

FARM = """
name = "Ironwood Bend"
timezone = "Asia/Bangkok"
[blocks]
"3" = { trees = 280, usual_litres = 16, hectares = 1.0 }
"5" = { trees = 300 }
"""
OTHER = 'name = "Far Meadow"\ntimezone = "Asia/Bangkok"\n[blocks]\n"1" = { trees = 100 }\n'

#: About a hectare at 7 degrees north.
BORDER = "[[100.500000, 7.000000], [100.500905, 7.000000], [100.500905, 7.000904], [100.500000, 7.000904], [100.500000, 7.000000]]"
SQUARE = f'{{"type": "Polygon", "coordinates": [{BORDER}]}}'


@pytest.fixture
def shell(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setenv("TAPPING_LOG_BOOKS", str(tmp_path / "books.sqlite"))

    def run(*arguments: str) -> Result:
        return CliRunner().invoke(main, arguments)

    for name, text in (("ironwood", FARM), ("meadow", OTHER)):
        (tmp_path / f"{name}.toml").write_text(text, encoding="utf-8")
        assert run("farm", "add", str(tmp_path / f"{name}.toml")).exit_code == 0
    run.file = lambda text, name="plots.geojson": _written(tmp_path / name, text)  # type: ignore[attr-defined]
    return run


def _written(path: Path, text: str) -> str:
    path.write_text(text, encoding="utf-8")
    return str(path)


def add(shell, *more: str, farm: str = "Ironwood Bend") -> Result:
    return shell("plot", "add", "--farm", farm, *more)


def test_a_border_from_a_file_and_a_point_by_hand_come_out_as_they_were_written(shell) -> None:
    first = add(shell, "--block", "3", shell.file(SQUARE))
    second = add(shell, "--block", "5", "--at", "7.123400, 100.512340", "--hectares", "1.2")

    assert first.output.startswith("Plot 3 of block 3: 1.00 ha.")
    assert second.output.startswith("Plot 5 of block 5: 1.20 ha.")
    shown = shell("plot", "list", "--farm", "Ironwood Bend", "--geojson").output
    assert BORDER in shown
    assert "[100.512340, 7.123400]" in shown
    assert general.loads(shown).is_valid
    listed = json.loads(shell("plot", "list", "--farm", "Ironwood Bend", "--json").output)
    assert [(each["block"], each["shape"], each["hectares"]) for each in listed] == [
        ("3", "Polygon", "0.9997"),
        ("5", "Point", "1.2000"),
    ]
    assert "polygon of 4 corners" in shell("plot", "list", "--farm", "Ironwood Bend").output


def test_a_file_of_several_plots_names_their_blocks_and_is_added_whole_or_not_at_all(shell) -> None:
    def feature(block: str, geometry: str) -> str:
        return f'{{"type": "Feature", "properties": {{"block": {block}}}, "geometry": {geometry}}}'

    far = SQUARE.replace("100.50", "100.51")
    good = f'{{"type": "FeatureCollection", "features": [{feature("3", SQUARE)}, {feature("3", far)}]}}'
    bad = good.replace(feature("3", far), feature("8", far))

    refused = add(shell, shell.file(bad))
    assert refused.exit_code == 2
    assert "Plot 2 of 2: there is no block 8; give --block" in refused.output
    assert json.loads(shell("plot", "list", "--farm", "Ironwood Bend", "--json").output) == []
    assert "Plot 3-2 of block 3" in add(shell, shell.file(good)).output


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        ((), "Give a GeoJSON file, or --at"),
        (("--at", "7.123456"), "latitude, comma, longitude"),
        (("--at", "7.12345,100.512345", "--hectares", "1"), "7.12345 has 5 decimals"),
        (("--at", "100.512345,7.123456", "--hectares", "1"), "Latitude 100.512345 is beyond 90"),
        (("--at", "7.123456,100.512345"), "give --hectares"),
        (("--at", "7.123456,100.512345", "--hectares", "4.5"), "needs its border as a polygon"),
    ],
)
def test_what_cannot_be_added_says_what_to_do_in_one_line(shell, arguments: tuple[str, ...], says: str) -> None:
    refused = add(shell, "--block", "3", *arguments)

    assert refused.exit_code == 2
    assert says in refused.output
    assert len(refused.output.strip().splitlines()) == 1


def test_a_plot_measured_again_takes_the_place_of_the_old_one_which_is_kept(shell, tmp_path: Path) -> None:
    add(shell, "--block", "3", shell.file(SQUARE))
    again = add(shell, "--block", "3", shell.file(SQUARE.replace("7.000904", "7.000950")))
    assert "give --replace if it was measured again" in again.output

    assert add(shell, "--block", "3", "--replace", shell.file(SQUARE.replace("7.000904", "7.000950"))).exit_code == 0

    books = open_books(tmp_path / "books.sqlite")
    with books.engine.session() as session:
        rows = session.execute("select ended_at from plots order by id")
    assert [row["ended_at"] is None for row in rows] == [False, True]
    with books.transaction() as tx:
        assert [each.square_metres for each in plots.everywhere(tx)] == [10506]
    books.close()


def test_plots_are_held_against_stated_areas_and_each_other(shell) -> None:
    add(shell, "--block", "3", shell.file(SQUARE))
    add(shell, "--block", "1", "--at", "7.000450,100.500450", "--hectares", "1", farm="Far Meadow")
    shell("plot", "size", "--farm", "Ironwood Bend", "--block", "3", "1.3")

    found = json.loads(shell("plot", "check", "--farm", "Ironwood Bend", "--json").output)

    assert found == [
        "Block 3 is stated as 1.30 ha and its plots measure 1.00 ha (-23 %). Which is right?",
        "Block 5 has no plot: its rubber has no place of origin. Add it with `tapping-log plot add`.",
        "Plot 3 and plot 1 of Far Meadow share 100 % of the smaller one. Walk the border between them again.",
    ]


def test_when_all_is_well_the_check_says_so(shell) -> None:
    add(shell, "--block", "3", shell.file(SQUARE))
    add(shell, "--block", "5", "--at", "7.123400,100.512340", "--hectares", "1.2")
    assert shell("plot", "size", "--farm", "Ironwood Bend", "--block", "5", "1.25").exit_code == 0

    assert "Nothing to look at" in shell("plot", "check", "--farm", "Ironwood Bend").output


def test_a_plot_that_ended_counts_no_more(shell) -> None:
    add(shell, "--block", "3", shell.file(SQUARE))

    assert "counts no more" in shell("plot", "end", "--farm", "Ironwood Bend", "3").output
    assert "There is no plot 3" in shell("plot", "end", "--farm", "Ironwood Bend", "3").output
    assert json.loads(shell("plot", "list", "--farm", "Ironwood Bend", "--json").output) == []

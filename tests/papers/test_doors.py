"""The ways to a paper: the command, and the owner's link, which opens one farm and no other."""

import csv
import io
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from bot.books import people
from bot.cli import main
from bot.pages import links
from bot.papers.refusal import PaperRefused
from bot.papers.shelf import FORMS, MEDIA_TYPES, Paper, Wish, file_name
from tests.papers.conftest import MONDAY, House

MAGIC = {
    "csv": b"\xef\xbb\xbf",
    "xlsx": b"PK",
    "pdf": b"%PDF",
    "sqlite": b"SQLite format 3\0",
    "ics": b"BEGIN:VCALENDAR",
}
ALL = [(paper, form) for paper, forms in FORMS.items() for form in forms]


def run(house: House, monkeypatch: pytest.MonkeyPatch, *arguments: str) -> Result:
    monkeypatch.setenv("TAPPING_LOG_BOOKS", str(house.settings.books))
    return CliRunner().invoke(main, ["export", "--farm", "Heron Hill", *arguments])


def tapped(house: House) -> None:
    house.set(tapping="S/2 d3 6d/7", tapping_from="2026-03-02", rest_weekday=6)


@pytest.mark.parametrize(("paper", "form"), ALL)
def test_the_command_writes_every_paper_in_every_form(
    filled: House, monkeypatch: pytest.MonkeyPatch, tmp_path: Path, paper: Paper, form: str
) -> None:
    tapped(filled)
    file = tmp_path / "out"
    result = run(filled, monkeypatch, "--what", paper.value, "--as", form, "--output", str(file))

    assert result.exit_code == 0, result.output
    assert file.read_bytes().startswith(MAGIC[form])


def test_a_paper_goes_to_a_file_named_after_the_farm_and_the_days(
    filled: House, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.chdir(tmp_path)
    result = run(filled, monkeypatch, "--what", "month", "--from", "2026-03-09")

    assert result.output == "heron-hill-month-2026-03.pdf is written.\n"
    assert Path("heron-hill-month-2026-03.pdf").exists()


def test_a_paper_can_be_printed_to_the_next_program(filled: House, monkeypatch: pytest.MonkeyPatch) -> None:
    result = run(filled, monkeypatch, "--what", "crop", "--as", "csv", "--language", "fr", "--output", "-")

    head, *rows = csv.reader(io.StringIO(result.stdout_bytes.decode("utf-8-sig"), newline=""))
    assert head[:2] == ["Mois", "Bloc"]
    assert len(rows) == 4


@pytest.mark.parametrize(
    ("arguments", "why"),
    [
        (["--what", "day-book", "--as", "pdf"], "can be had as xlsx, csv, not as pdf"),
        (["--what", "crop", "--from", "2026-03-02", "--to", "2026-03-01"], "is before the first day"),
        (["--what", "crop", "--from", "1026-03-02"], "too many days"),
        (["--what", "calendar"], "set tapping"),
        (["--what", "crop", "--language", "fr", "--language", "en"], "give --language once"),
        (["--what", "crop", "--output", "/nowhere/at/all"], "cannot be written"),
    ],
)
def test_what_cannot_be_had_is_refused_in_a_line(
    filled: House, monkeypatch: pytest.MonkeyPatch, arguments: list[str], why: str
) -> None:
    result = run(filled, monkeypatch, *arguments)

    assert result.exit_code == 2
    assert why in result.output
    assert len(result.output.splitlines()) == 1


def link(house: House) -> str:
    return links.path(house.settings, house.farm.id, house.owner.id)


@pytest.mark.parametrize(("paper", "form"), ALL)
def test_the_owners_link_gives_every_paper_in_every_form(filled: House, paper: Paper, form: str) -> None:
    tapped(filled)
    got = filled.client().get(f"{link(filled)}/papers/{paper}.{form}")

    assert got.status_code == 200
    assert got.data.startswith(MAGIC[form])
    assert got.content_type == MEDIA_TYPES[form]
    assert got.headers["Content-Disposition"].startswith("attachment; filename*=UTF-8''heron-hill-")
    assert got.headers["Cache-Control"] == "no-store"


def test_every_link_of_the_list_opens(filled: House) -> None:
    tapped(filled)
    client = filled.client()
    shown = client.get(f"{link(filled)}/papers").get_data(as_text=True)
    addresses = [part.split('"')[0].replace("&amp;", "&") for part in shown.split('href="')[1:]]

    papers = [address for address in addresses if "/papers/" in address]
    assert len(papers) == 25  # months 8, years 4, tables 10, cards, books, calendar
    assert {client.get(address).status_code for address in papers} == {200}
    assert f'href="{link(filled)}/papers"' in client.get(link(filled)).get_data(as_text=True)
    assert len(shown.encode()) < 60_000


def test_a_paper_through_the_link_is_the_one_of_the_command(filled: House) -> None:
    through = filled.client().get(f"{link(filled)}/papers/crop.csv?from=2026-03-01&to=2026-03-31").data

    assert through == filled.paper(Wish(Paper.CROP, "csv", date(2026, 3, 1), date(2026, 3, 31))).content


@pytest.mark.parametrize("place", ["papers", "papers/books.sqlite", "papers/month.pdf"])
def test_nobody_but_the_farms_owner_gets_a_paper(filled: House, place: str) -> None:
    client = filled.client()
    for farm, person in ((filled.other, filled.owner), (filled.farm, filled.tapper), (filled.farm, filled.collector)):
        got = client.get(f"{links.path(filled.settings, farm.id, person.id)}/{place}")
        assert got.status_code == 403
        assert b"Heron Hill" not in got.data
    assert client.get(f"/farm/x{link(filled)[7:]}/{place}").status_code == 403


@pytest.mark.parametrize("place", ["papers", "papers/books.sqlite"])
def test_a_link_that_was_made_void_gives_no_paper(filled: House, place: str) -> None:
    address = f"{link(filled)}/{place}"
    assert filled.client().get(address).status_code == 200
    with filled.books.transaction() as tx:
        people.cut_links(tx, filled.owner.id, datetime.now(UTC) + timedelta(hours=1))

    assert filled.client().get(address).status_code == 403


@pytest.mark.parametrize(
    "place",
    ["nothing.csv", "crop.exe", "crop.csv?from=soon", "crop.csv?from=2026-03-02&to=2026-03-01", "month.pdf?paper=a0"],
)
def test_an_impossible_paper_is_refused_in_words(filled: House, place: str) -> None:
    got = filled.client().get(f"{link(filled)}/papers/{place}")

    assert got.status_code == 400
    assert b"This page does not open" in got.data


def test_the_name_of_a_file_is_no_path(house: House) -> None:
    for name in ("../../etc", "a/b\\c", "..", "สวน ยาง", "C:\\x"):
        made = file_name(replace(house.farm, name=name), Wish(Paper.BOOKS), MONDAY, MONDAY)
        assert not set(made) & set("/\\:")
        assert not made.startswith(".")
        assert made.endswith("-books.sqlite")


def test_a_form_that_a_paper_has_not_is_refused() -> None:
    with pytest.raises(PaperRefused, match="not as csv"):
        _ = Wish(Paper.CARD, "csv").kind

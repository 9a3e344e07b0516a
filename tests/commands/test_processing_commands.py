"""The commands `drc`, `drying` and `why`."""

import json
from datetime import UTC, datetime
from decimal import Decimal
from pathlib import Path
from typing import Any

import click
import pytest
from click.testing import CliRunner, Result

from bot.books import entries, farms, open_books, people
from bot.commands.explaining import why
from bot.commands.processing import drc, drying
from bot.rubber.reference import value
from bot.talk.answer import answer as reply_to
from bot.talk.exchange import Incoming
from parsers.reading import Block, Role


def run(command: click.Command, *arguments: str) -> Result:
    return CliRunner().invoke(command, arguments)


def answer(command: click.Command, *arguments: str) -> Any:
    result = run(command, *arguments, "--json")
    assert result.exit_code == 0, result.output
    return json.loads(result.output)


# drc


def test_a_dried_sample_gives_the_drc_by_its_masses() -> None:
    assert answer(drc, "--sample", "10", "--dry", "3.4")["drc_percent"] == 34


def test_a_hydrometer_in_two_parts_of_water_is_read_back_to_the_latex() -> None:
    found = answer(drc, "--hydrometer", "115", "--celsius", "29")

    # 115 g/L in 1 : 2 is 345 g in a litre of latex; the scale is true at 35 % (Smith 1947), where a litre of latex
    # holds 35 % of 0.980 kg (Smith 1940): 343 g.
    assert found["drc_percent"] == pytest.approx(35.1, abs=0.2)
    assert found["drc_low"] < found["drc_percent"] < found["drc_high"]


def test_litres_add_the_dry_rubber_with_its_range() -> None:
    found = answer(drc, "--hydrometer", "110", "--litres", "18")

    assert found["dry_kg_low"] < found["dry_kg"] < found["dry_kg_high"]
    assert found["dry_kg"] == pytest.approx(18 * found["density_kg_per_litre"] * found["drc_percent"] / 100, abs=0.01)


def test_total_solids_are_more_than_the_drc() -> None:
    assert answer(drc, "--solids", "36")["drc_high"] == 36 - value("solids_above_drc_low")


@pytest.mark.parametrize(
    "arguments",
    [
        (),
        ("--sample", "10"),
        ("--sample", "10", "--hydrometer", "115", "--dry", "3"),
        ("--solids", "36", "--dry", "3"),
        ("--sample", "3", "--dry", "10"),
        ("--hydrometer", "900"),
        ("--hydrometer", "115", "--water", "0.1"),
    ],
)
def test_what_gives_no_drc_is_refused_in_one_line(arguments: tuple[str, ...]) -> None:
    result = run(drc, *arguments)

    assert result.exit_code == 2
    assert len(result.output.strip().splitlines()) == 1


def test_the_drc_in_words_names_its_method_and_sources() -> None:
    shown = run(drc, "--hydrometer", "115", "--litres", "18").output

    assert "by hydrometer" in shown
    assert "Smith 1947" in shown


# drying


def test_sheets_are_ready_after_the_usual_days_of_their_method() -> None:
    found = answer(drying, "--rolled", "2026-03-02", "--method", "smoke", "--wet", "30")

    assert found["ready_soonest"] < found["ready"] < found["ready_latest"]
    assert found["dry_kg_low"] < found["dry_kg"] < found["dry_kg_high"] < 30


def test_rain_makes_the_sun_slower_and_smoke_not() -> None:
    def days(method: str, *rain: str) -> float:
        return float(answer(drying, "--rolled", "2026-03-02", "--method", method, *rain)["days"])

    assert days("sun", "--rain-days", "3") > days("sun")
    assert days("smoke", "--rain-days", "3") == days("smoke")


def test_moisture_falls_by_the_day_and_early_sale_costs() -> None:
    found = [
        answer(drying, "--rolled", "2026-03-02", "--method", "sun", "--on", f"2026-03-{day:02}") for day in (2, 5, 12)
    ]

    moisture = [each["moisture_percent"] for each in found]
    assert moisture == sorted(moisture, reverse=True)
    assert [each["taken_off_percent"] > 0 for each in found] == [True, True, False]


def test_drying_in_words_has_its_cautions() -> None:
    shown = run(drying, "--rolled", "2026-03-02", "--method", "smoke", "--wet", "30", "--on", "2026-03-04").output

    assert "Rollers pull hands in" in shown
    assert "smoke-house" in shown
    assert "Moisture" in shown


@pytest.mark.parametrize(
    "arguments",
    [
        ("--rolled", "2026-03-02"),
        ("--rolled", "yesterday", "--method", "sun"),
        ("--rolled", "2026-03-02", "--method", "oven"),
        ("--rolled", "2026-03-02", "--method", "sun", "--on", "2026-03-01"),
        ("--rolled", "2026-03-02", "--method", "sun", "--wet", "0"),
    ],
)
def test_what_cannot_dry_is_refused(arguments: tuple[str, ...]) -> None:
    assert run(drying, *arguments).exit_code == 2


# why


@pytest.fixture
def entry_id(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> str:
    monkeypatch.setenv("TAPPING_LOG_BOOKS", str(tmp_path / "books.sqlite"))
    at = datetime(2026, 3, 18, 3, 0, tzinfo=UTC)
    books = open_books(tmp_path / "books.sqlite")
    with books.transaction() as tx:
        farm = farms.add_farm(
            tx,
            name="Reed Hollow",
            timezone="Asia/Bangkok",
            currency="USD",
            language="en",
            blocks={"3": Block(300, Decimal(18))},
            containers={},
            settings={"country": "thailand"},
            at=at,
        )
        who = {"name": "Tobin", "number": "+447700900102", "role": Role.TAPPER, "blocks": ("3",), "language": "en"}
        people.enrol(tx, farm_id=farm.id, at=at, message_id=None, **who)
    reply_to(books, Incoming("m1", "+447700900102", "block 3 18 litres", at, at, "practice"), at)
    with books.transaction() as tx:
        (entry,) = entries.standing(tx, farm.id)
    books.close()
    return entry.id


def test_why_tells_rule_and_source_of_each_figure(entry_id: str) -> None:
    shown = run(why, entry_id).output.splitlines()

    assert shown[0].startswith("18 L x 0.982 kg/L x 33% = 5.83 kg.")
    assert any("thinned to 16.5%" in line for line in shown)  # the country's target, Songkhla cooperative
    assert any("g pure acid" in line and "published" in line for line in shown)


def test_why_as_json_carries_inputs_and_status(entry_id: str) -> None:
    found = answer(why, entry_id)

    assert found["record"]["litres"] == 18
    assert {each["symbol"] for each in found["figures"]["acid"]["inputs"]} >= {"dry", "rate", "pure"}
    assert found["figures"]["water"]["citations"]


def test_an_entry_that_is_not_there_is_said_with_where_ids_are(entry_id: str) -> None:
    other = "y" if entry_id.endswith("x") else "x"
    result = run(why, entry_id[:-1] + other)

    assert result.exit_code == 2
    assert "entries --farm NAME --json" in result.output

"""The commands `tapping`, `panel` and `pay`."""

import json
import shlex
from datetime import date
from decimal import Decimal
from typing import Any

import click
import pytest
from click.testing import CliRunner, Result
from hypothesis import given
from hypothesis import strategies as st

from bot.commands.harvest import panel, pay, tapping

FULL = "S/2 d3 6d/7 10m/12 ET2.5% Pa1(1) 6/y"


def run(command: click.Command, *arguments: str) -> Result:
    return CliRunner().invoke(command, arguments)


def answer(command: click.Command, *arguments: str) -> Any:
    result = run(command, *arguments, "--json")
    assert result.exit_code == 0, result.output
    return json.loads(result.output)


# tapping


def test_every_part_of_a_notation_is_explained() -> None:
    (system,) = answer(tapping, FULL)["systems"]

    assert [part["text"] for part in system["parts"]] == ["S/2", "d3", "6d/7", "10m/12", "ET2.5%", "Pa1(1)", "6/y"]
    assert system["parts"][2]["meaning"] == "6 working days, then 1 rest day"
    assert (system["intensity_percent"], system["scheduled_percent"], system["tappings_a_year"]) == (66.7, 47.6, 86.7)


def test_the_calendar_shows_each_task() -> None:
    found = answer(tapping, "S/2 d3 6d/7", "--from", "2026-03-02", "--rest", "sunday", "--days", "7")

    assert found["systems"][0]["calendar"] == {
        "A": ["2026-03-02", "2026-03-05"],
        "B": ["2026-03-03", "2026-03-06"],
        "C": ["2026-03-04", "2026-03-07"],
    }


def test_both_styles_and_remarks_are_given() -> None:
    found = answer(tapping, "½S d/7.ET 5% 8y")

    assert (found["notation"], found["notation_1983"]) == ("S/2 d7 ET5% 8/y", "1/2S d/7 ET5% 8/y")
    assert len(found["remarks"]) == 2


def test_a_notation_in_words_for_people() -> None:
    result = run(tapping, FULL, "--from", "2026-03-02", "--rest", "sunday")

    assert "d3           tapped once in 3 days" in result.output
    assert "Intensity  66.7 % (S/2 d2 is 100 %)" in result.output
    assert "Task C     2026-03-04 2026-03-07" in result.output
    assert "which months are tapped is not said" in result.output
    assert "Stimulant is an acid paste" in result.output


def test_no_stimulant_no_caution_about_it() -> None:
    assert "Stimulant" not in run(tapping, "S/2 d3").output


def test_a_notation_without_frequency_is_still_explained() -> None:
    (system,) = answer(tapping, "S/2 D 6d/7")["systems"]

    assert "intensity_percent" not in system
    assert len(system["parts"]) == 2


def test_a_mini_cut_by_girth() -> None:
    assert answer(tapping, "Mc2 d1", "--girth", "50")["systems"][0]["intensity_percent"] == 16


def test_a_calendar_at_the_end_of_time_stops_there() -> None:
    found = answer(tapping, "S/2 d1", "--from", "9999-12-30")

    assert found["systems"][0]["calendar"]["A"] == ["9999-12-30", "9999-12-31"]


# panel

VIETNAM = ("S/2 d3 6d/7", "--girth", "55", "--now", "98", "--profile", "vietnam")


def test_bark_left_and_the_year() -> None:
    found = answer(panel, *VIETNAM, "--from", "2026-03-02", "--rest", "sunday")

    assert (found["used_cm"], found["left_cm"], found["next_panel"]) == (32, 88, "BO-2")
    assert (found["mm_a_tapping"], found["tappings_left"], found["last_day"]) == (1.57, 561, "2031-07-14")
    assert found["year"]["verdict"] == "within"
    assert found["year"]["source"] == "Vietnam 2012, published"
    assert set(found["from_profile"]) == {"opened", "end", "slope", "shaving"}


def test_own_measures_take_the_place_of_the_profile() -> None:
    own = ("--opened", "120", "--end", "20", "--slope", "30", "--shaving", "1.5")

    found = answer(panel, *VIETNAM, *own)

    assert (found["used_cm"], found["left_cm"], found["mm_a_tapping"]) == (22, 78, 1.73)
    assert found["from_profile"] == {}


def test_a_year_that_runs_over_its_limit() -> None:
    found = answer(panel, *VIETNAM, "--used", "17", "--tappings-left", "20")

    assert (found["year"]["verdict"], found["year"]["mm_allowed"]) == ("heading over", 0.5)


def test_an_upward_panel() -> None:
    found = answer(
        panel, "S/4U d3", "--girth", "60", "--now", "150", "--opened", "130", "--end", "170", "--panel", "HO-1"
    )

    assert (found["cut_cm"], found["drop_cm"], found["left_cm"]) == (21.21, 15, 20)
    assert found["next_panel"] is None
    assert found["year"] is None


def test_a_panel_in_words_for_people() -> None:
    result = run(panel, *VIETNAM)

    assert "32 cm of BO-1 used, 88 cm left" in result.output
    assert "--opened 130 cm: Vietnam 2012, published" in result.output
    assert "Carry the knife covered" in result.output
    assert "no bark limit is known" in run(panel, "S/2 d1", "--girth", "50", "--now", "90").output


# pay


def test_a_day_from_latex_to_shares() -> None:
    found = answer(pay, "--latex", "100", "--drc", "32", "--price", "67", "--share", "45%", "--cost", "acid=40")

    assert found["sale"]["amount"] == "2144.00"
    assert (found["tapper"], found["owner_share"]) == ("946.80", "1157.20")
    assert Decimal(found["tapper"]) + Decimal(found["owner_share"]) + 40 == Decimal(found["sale"]["amount"])


def test_days_under_a_norm() -> None:
    found = answer(pay, "--day", "9.4/300", "--day", "14/310", "--norm", "12.50/11/0.90")

    assert [line["amount"] for line in found["lines"]] == ["25.00", "2.70"]
    assert found["tapper"] == "27.70"


def test_several_terms_together() -> None:
    found = answer(pay, "--day", "10/300", "--per-kilo", "1", "--per-100-trees", "25", "--per-day", "5")

    assert found["tapper"] == "90.00"


def test_an_advance_is_taken_back_in_part() -> None:
    found = answer(pay, "--sale", "100", "--share", "1/2", "--advance", "80", "--take-back", "1/2")

    assert found["advance"] == {"taken_back": "25.00", "paid": "25.00", "still_owed": "55.00"}


def test_a_currency_without_decimals() -> None:
    assert answer(pay, "--sale", "8173", "--share", "1/3", "--decimals", "0")["tapper"] == "2724"


def test_pay_in_words_for_people() -> None:
    result = run(pay, "--sale", "100", "--share", "45:55", "--cost", "knife=5:tapper", "--advance", "10")

    assert "40.00  share of the sale: 9/20 of (100.00 - 0.00) - 5" in result.output
    assert "55.00  his share of the sale" in result.output
    assert "30.00  after 10.00 for the advance" in result.output


@given(st.decimals(0, 10**6, places=2), st.integers(0, 100))
def test_shares_of_any_sale_add_up(sale: Decimal, percent: int) -> None:
    found = answer(pay, "--sale", str(sale), "--share", f"{percent}%")

    assert Decimal(found["tapper"]) + Decimal(found["owner_share"]) == sale


# bad input

BAD = [
    (tapping, ["hello"], "a cut, such as S/2"),
    (tapping, ["S/2 d3 7d/7", "--from", "2026-03-02", "--rest", "sunday"], "do not fit 7d/7"),
    (tapping, ["S/2 d3", "--rest", "sunday"], "--rest needs the day --from"),
    (tapping, ["S/2", "--from", "2026-03-02"], "how often"),
    (tapping, ["Mc2 d2"], "girth"),
    (tapping, ["S/2 d3", "--girth", "nan"], "not a number of 0 or more"),
    (tapping, ["S/2 d3", "--from", "31.2.2026"], "31.2.2026"),
    (panel, ["S/2 d3", "--girth", "50", "--now", "140"], "does not lie between 130 and 10 cm"),
    (panel, ["S/2 d3", "--girth", "0", "--now", "90"], "the girth has to be above 0"),
    (panel, ["S/2 d3", "--girth", "1e999", "--now", "90"], "the girth has to be above 0"),
    (panel, ["S/4U d3", "--girth", "50", "--now", "140"], "needs the heights"),
    (panel, ["S/2 d3 + S/4U d3", "--girth", "50", "--now", "90"], "one cut"),
    (panel, ["S/2 d3", "--girth", "50", "--now", "90", "--panel", "left"], "is no panel"),
    (panel, ["S/2", "--girth", "50", "--now", "90"], "how often"),
    (pay, [], "say how it is paid"),
    (pay, ["--share", "45%"], "a share needs the sale"),
    (pay, ["--sale", "100", "--share", "half"], "is no share"),
    (pay, ["--sale", "-5", "--share", "1/2"], "not a number of 0 or more"),
    (pay, ["--sale", "10", "--share", "1/2", "--cost", "acid=11"], "more than the sale"),
    (pay, ["--sale", "10", "--share", "1/2", "--cost", "acid"], "a cost is NAME=AMOUNT"),
    (pay, ["--sale", "10", "--share", "1/2", "--cost", "acid=1:cat"], "bears no cost"),
    (pay, ["--latex", "100", "--share", "1/2"], "--latex, --drc and --price together"),
    (pay, ["--latex", "1", "--drc", "101", "--price", "1", "--share", "1/2"], "between 0 and 100 %"),
    (pay, ["--day", "9/x", "--per-kilo", "1"], "no number of trees"),
    (pay, ["--day", "9kg", "--per-kilo", "1"], "a day is KG or KG/TREES"),
    (pay, ["--day", "9", "--norm", "12/11"], "a norm is BASE/KG/OVER"),
    (pay, ["--day", "9", "--norm", "12/0/1"], "above 0 kg"),
    (pay, ["--day", "1e40", "--per-kilo", "1"], "the kilos of a day"),
    (pay, ["--sale", "10", "--share", "1/2", "--advance", "1", "--take-back", "2"], "between nothing and the whole"),
]


@pytest.mark.parametrize(("command", "arguments", "reason"), BAD)
def test_bad_input_ends_with_status_2_and_its_reason(command: click.Command, arguments: list[str], reason: str) -> None:
    result = run(command, *arguments)

    assert result.exit_code == 2
    assert reason in result.output.splitlines()[-1]


@pytest.mark.parametrize("command", [tapping, panel, pay])
def test_help_has_an_example_that_works(command: click.Command) -> None:
    text = run(command, "--help").output
    examples = [line.strip() for line in text.splitlines() if line.strip().startswith("tapping-log")]

    assert examples
    for example in examples:
        assert run(command, *shlex.split(example)[2:]).exit_code == 0, example


@given(st.dates(date(2000, 1, 1), date(9999, 12, 31)), st.sampled_from(["S/2 d1", "S/2 d7", "S/2 2d3 10d/14"]))
def test_any_start_gives_a_calendar(start: date, notation: str) -> None:
    found = answer(tapping, notation, "--from", start.isoformat(), "--days", "3")

    assert found["systems"][0]["calendar"]["A"][0] == start.isoformat()

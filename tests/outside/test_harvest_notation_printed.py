"""Tapping notations exactly as they stand in print, each with the work that it was read in."""

from fractions import Fraction

import pytest

from bot.rubber.notation import read
from bot.rubber.notation_writing import write
from bot.rubber.tapping_system import Application, Frequency, Panel, Rounds, TappingSystem, Turn, Week

# The strings are printed; the system of each, in the style of 2009, follows the meaning that the same works give.
PRINTED = [
    ("S/2 d2", "S/2 d2", "Chantuma, Lacote & Gohet 2019, IRRDB"),
    ("S/2 d3 ET 2.5 % Pa1 (1) 6/y", "S/2 d3 ET2.5% Pa1(1) 6/y", "RRIT 251 trial, Kasetsart"),
    ("S/2 d4 ET 2.5 % Pa1 (1) 8/y", "S/2 d4 ET2.5% Pa1(1) 8/y", "RRIT 251 trial, Kasetsart"),
    ("S/2 2d3", "S/2 2d3", "Zar Ni Zaw, Sdoodee & Lacote 2016, IRRDB"),
    ("S/2 (RG) d2", "S/2 (RG) d2", "Zar Ni Zaw, Sdoodee & Lacote 2016, IRRDB"),
    ("S/2 (RG) d3 ET2.5% Pa1(1) 3/y (m)", "S/2 (RG) d3 ET2.5% Pa1(1) 3/y(m)", "Zar Ni Zaw et al. 2016, IRRDB"),
    ("S/3 d1 2d3", "S/3 d1 2d3", "Chantuma, Lacote & Gohet 2019, IRRDB"),
    ("S/3 d2 ET2.5% 4/y", "S/3 d2 ET2.5% 4/y", "Chantuma et al. 2016, Para Rubber Bulletin 37(1)"),
    ("2xS/2 d2 (t,t)", "2xS/2 d2 (t,t)", "Chantuma et al. 2016, Para Rubber Bulletin 37(1)"),
    ("S/2 d4 7d7 (t,t)", "S/2 d4 7d/7 (t,t)", "Chantuma et al. 2011, IRRDB"),
    ("2X 1/3S d/2 (t,t)", "2xS/3 d2 (t,t)", "Rukkhun et al. 2012, Agric. Technology 8(5)"),
    ("1/3S 3d/4", "S/3 3d4", "Rukkhun et al., Not. Bot. Horti Agrobo 12045"),
    ("½S d/2 6d/7.11m/y", "S/2 d2 6d/7 11m/12", "Silva et al. 2007, Pesq. agropec. bras."),
    (
        "1/2S d/4 6d/7.10m/y. ET 5,0% Ba 10y",
        "S/2 d4 6d/7 10m/12 ET5% Ba 10/y",
        "Goncalves et al. 2000, Pesq. agropec. bras. 35(6)",
    ),
    ("½S d/7.ET 5% 8/y", "S/2 d7 ET5% 8/y", "Silva et al., Prang Besar clones, Pesq. agropec. bras."),
    ("1/2S d/3 6d/7", "S/2 d3 6d/7", "Commere et al. 1988, IRRDB"),
    ("S/4U d3", "S/4U d3", "N'guessan Kan et al. 2021, ARRB 36(10)"),
    ("S/2D d3 + S/4U d3", "S/2 d3 + S/4U d3", "vinahugo.com, summary of symbols (secondary copy)"),
    ("S/4 d3", "S/4 d3", "Rubber Board India, news 1045"),
    ("1/2 S d/2", "S/2 d2", "Kerala Agricultural University"),
    ("S/2 d1", "S/2 d1", "Silva et al. 2016, University of Ruhuna"),
    ("S/2 d2 + rain guards (RG)", "S/2 (RG) d2", "Silva et al. 2016, University of Ruhuna (free text)"),
]


@pytest.mark.parametrize(("text", "plain"), [row[:2] for row in PRINTED], ids=[row[0] for row in PRINTED])
def test_a_printed_notation_is_read(text: str, plain: str) -> None:
    assert plain == write(read(text))


@pytest.mark.parametrize("text", [row[0] for row in PRINTED])
@pytest.mark.parametrize("style", ["2009", "1983"])
def test_a_printed_notation_survives_being_rewritten(text: str, style: str) -> None:
    notation = read(text)

    assert notation.systems == read(write(notation, style)).systems  # type: ignore[arg-type]


def only(text: str) -> TappingSystem:
    (system,) = read(text).systems
    return system


def test_two_days_in_three_is_a_frequency_and_six_in_seven_a_week() -> None:
    """Chantuma et al. 2019 (2d3); Commere et al. 1988 (6d/7)."""
    assert only("1/3S 2d/3").frequencies == (Frequency(2, Fraction(3)),)
    assert only("1/2S d/3 6d/7").week == Week(6, 7)
    assert only("½S d/7.ET 5% 8/y").frequencies == (Frequency(1, Fraction(7)),)


def test_a_decimal_comma_and_a_lost_slash_are_read_as_meant() -> None:
    """Goncalves et al. 2000 print `ET 5,0% Ba 10y` for 5 % ethephon on bark, 10 times a year."""
    stimulation = only("1/2S d/4 6d/7.10m/y. ET 5,0% Ba 10y").stimulation

    assert stimulation is not None
    assert stimulation.percent == 5
    assert stimulation.applications == (Application("Ba"),)
    assert stimulation.rounds == Rounds(10)


def test_a_monthly_interval_stands_behind_the_rounds() -> None:
    """Zar Ni Zaw et al. 2016: three a year at monthly interval."""
    stimulation = only("S/2 (RG) d3 ET2.5% Pa1(1) 3/y (m)").stimulation

    assert stimulation is not None
    assert stimulation.rounds == Rounds(3, every=1, unit="m")


def test_cuts_tapped_in_turn() -> None:
    """Chantuma et al. 2011, 2016; Rukkhun et al. 2012: (t,t) is a change at every tapping."""
    assert only("2X 1/3S d/2 (t,t)").alternation == (Turn(1, "t"), Turn(1, "t"))


def test_panels_are_the_same_with_letters_and_digits() -> None:
    """BO-1 and BI-1 are often printed B0-1 (zero) and B1-1 (one) in institutes' texts."""
    assert only("S/2 d3 B0-1,B1-1").panels == (Panel("B", "O", 1), Panel("B", "I", 1))

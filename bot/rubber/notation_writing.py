"""Writes tapping systems in the international notation, in the style of 2009 or of 1983."""

from fractions import Fraction
from typing import Literal

from bot.rubber.tapping_system import (
    MONTHS,
    Application,
    Cut,
    Frequency,
    Notation,
    Rounds,
    Season,
    Stimulation,
    TappingSystem,
    Turn,
)

Style = Literal["2009", "1983"]


def write(notation: Notation, style: Style = "2009") -> str:
    """The notation as text in the style asked for; `read` of it gives the same systems.

    A downward cut is not marked, as it is the usual one. Where the style of 1983 has no sign (rain guard, d0.5), that
    of 2009 stands in.
    """
    pieces = [_written(notation.systems[0], style)]
    for joiner, system in zip(notation.joiners, notation.systems[1:], strict=True):
        pieces += [" + " if joiner == "+" else "; ", _written(system, style)]
    return "".join(pieces)


def _written(system: TappingSystem, style: Style) -> str:
    items = [
        written_cut(system.cut, style) + (" (RG)" if system.rain_guard else ""),
        *(written_frequency(each, style) for each in system.frequencies),
        f"{system.week.working}d/{system.week.total}" if system.week else "",
        written_season(system.season, style) if system.season else "",
        "({},{})".format(*map(_written_turn, system.alternation)) if system.alternation else "",
        *(written_stimulation(system.stimulation) if system.stimulation else ()),
        f"({system.done.tappings}/{system.done.possible})" if system.done else "",
        ",".join(map(str, system.panels)),
    ]
    return " ".join(item for item in items if item)


def written_cut(cut: Cut, style: Style = "2009") -> str:
    """`S/2`, `2xS/4U`, `Mc2`; in the style of 1983 `1/2S`, `2x1/4S↑`."""
    count = f"{cut.count}x" if cut.count > 1 else ""
    up = "" if cut.direction == "D" else "U" if style == "2009" else "↑"
    if cut.fraction is None:
        return f"{count}{cut.shape}{plain_number(cut.length_cm or Fraction(0))}{up}"
    if cut.fraction == 1:
        return f"{count}{cut.shape}{up}"
    # A cut of two thirds has no sign in the style of 2009.
    if style == "1983" or cut.fraction.numerator > 1:
        return f"{count}{cut.fraction}{cut.shape}{up}"
    return f"{count}{cut.shape}/{cut.fraction.denominator}{up}"


def written_frequency(frequency: Frequency, style: Style = "2009") -> str:
    """`d3`, `2d3`; in the style of 1983 `d/3`, `2d/3`, unless a slash would make it a week (`6d7`)."""
    days = str(frequency.days) if frequency.days > 1 else ""
    like_a_week = frequency.days > 1 and frequency.period in {7, 14}
    slash = "/" if style == "1983" and frequency.period.denominator == 1 and not like_a_week else ""
    return f"{days}d{slash}{plain_number(frequency.period)}"


def written_season(season: Season, style: Style = "2009") -> str:
    """`10m/12`, `10m/12(MAY-FEB)`, `3w/4`; in the style of 1983 `10m/y`."""
    months = season.unit == "m"
    span = f"({MONTHS[season.months[0] - 1]}-{MONTHS[season.months[-1] - 1]})" if season.months else ""
    total = "y" if months and style == "1983" else season.total
    return f"{season.tapped}{season.unit}/{total}{span}"


def written_stimulation(stimulation: Stimulation) -> tuple[str, ...]:
    """`ET2.5%`, `Pa1(1)`, `6/y(m)`, each an item of its own."""
    percent = "" if stimulation.percent is None else f"{plain_number(stimulation.percent)}%"
    applications = (written_application(each) for each in stimulation.applications)
    return (f"{stimulation.agent}{percent}", *applications, written_rounds(stimulation.rounds))


def written_application(application: Application) -> str:
    """`Pa`, `Pa1`, `Pa1(1)`."""
    grams = "" if application.grams is None else plain_number(application.grams)
    band = "" if application.band_cm is None else f"({plain_number(application.band_cm)})"
    return f"{application.method}{grams}{band}"


def written_rounds(rounds: Rounds | None) -> str:
    """`8/y`, `6/8/y(2w)`; nothing without rounds."""
    if rounds is None:
        return ""
    given = "" if rounds.given is None else f"{rounds.given}/"
    every = f"({rounds.every if rounds.every != 1 else ''}{rounds.unit})" if rounds.unit else ""
    return f"{given}{rounds.per_year}/y{every}"


def _written_turn(turn: Turn) -> str:
    return f"{turn.number if turn.number > 1 else ''}{turn.unit}"


def plain_number(number: Fraction) -> str:
    """The number in as few characters as can be: 2, 2.5, 0.25."""
    return f"{float(number):g}"

"""Says in plain English what each part of a tapping notation means, for those who meet it for the first time."""

from dataclasses import dataclass
from fractions import Fraction

from bot.rubber.notation_writing import (
    plain_number,
    written_application,
    written_cut,
    written_frequency,
    written_rounds,
    written_season,
    written_stimulation,
)
from bot.rubber.tapping_system import (
    MONTHS,
    Application,
    Cut,
    Frequency,
    Panel,
    Rounds,
    Season,
    Stimulation,
    TappingSystem,
    Turn,
    Week,
)

_SHARES = {Fraction(1): "full", Fraction(1, 2): "half", Fraction(1, 3): "third", Fraction(1, 4): "quarter"}
_SHAPES = {"S": "spiral", "V": "V", "C": "circumference (shape not said)"}
_METHODS = {
    "Pa": "on the panel, on the strip just tapped",
    "Ba": "on scraped bark",
    "Ga": "in the groove of the cut, lace taken off",
    "La": "on the lace of the cut",
}
_AGENTS = {"ET": "ethephon", "RF": "gas stimulation, RF system", "ETG": "ethylene gas"}
_BARK = {"O": "virgin bark", "I": "first renewed bark", "II": "second renewed bark"}
_UNITS = {"t": "tapping", "d": "day", "w": "week", "m": "month", "y": "year"}


@dataclass(frozen=True)
class Part:
    """One part of a notation as it is written in the style of 2009, and its meaning."""

    text: str
    meaning: str


def meaning(system: TappingSystem) -> tuple[Part, ...]:
    """The parts of a system in the order in which they are written, each with its meaning."""
    parts = [Part(written_cut(system.cut), _cut(system.cut))]
    if system.rain_guard:
        parts.append(Part("RG", "rain guard fitted"))
    parts += [Part(written_frequency(each), _frequency(each)) for each in system.frequencies]
    if system.week:
        parts.append(Part(f"{system.week.working}d/{system.week.total}", _week(system.week)))
    if system.season:
        parts.append(Part(written_season(system.season), _season(system.season)))
    if system.alternation:
        parts.append(_alternation(*system.alternation))
    if system.stimulation:
        parts += _stimulation(system.stimulation)
    if system.done:
        done = system.done
        parts.append(
            Part(f"({done.tappings}/{done.possible})", f"{done.tappings} of {done.possible} tappings were done")
        )
    parts += [Part(str(panel), _panel(panel)) for panel in system.panels]
    return tuple(parts)


def _cut(cut: Cut) -> str:
    way = "upward" if cut.direction == "U" else "downward"
    if cut.fraction is None:
        kind = f"mini-cut of {plain_number(cut.length_cm or Fraction(0))} cm"
    else:
        kind = f"{_SHARES.get(cut.fraction, str(cut.fraction))} {_SHAPES[cut.shape]} cut"
    return f"{kind}, {way}" if cut.count == 1 else f"{cut.count} cuts on the tree, each a {kind}, {way}"


def _frequency(frequency: Frequency) -> str:
    days, period = frequency.days, frequency.period
    if days > 1:
        return f"tapped on {days} days of every {plain_number(period)}"
    if period < 1:
        return f"{plain_number(1 / period)} tappings a day"
    return "tapped every day" if period == 1 else f"tapped once in {plain_number(period)} days"


def _week(week: Week) -> str:
    rest = week.total - week.working
    return (
        f"{week.working} working days, then {_counted(rest, 'rest day')}" if rest else "every day of the week is worked"
    )


def _season(season: Season) -> str:
    if season.unit == "w":
        return f"{season.tapped} weeks of tapping in every {season.total}"
    span = f", {MONTHS[season.months[0] - 1]} to {MONTHS[season.months[-1] - 1]}" if season.months else ""
    return f"{_counted(season.tapped, 'month')} of tapping in the year{span}"


def _alternation(first: Turn, second: Turn) -> Part:
    text = ",".join(f"{turn.number if turn.number > 1 else ''}{turn.unit}" for turn in (first, second))
    if first == second:
        each = _counted(first.number, _UNITS[first.unit]) if first.number > 1 else _UNITS[first.unit]
        return Part(f"({text})", f"cuts tapped in turn, changed every {each}")
    turns = " and ".join(_counted(turn.number, _UNITS[turn.unit]) for turn in (first, second))
    return Part(f"({text})", f"cuts tapped in turn, for {turns}")


def _stimulation(stimulation: Stimulation) -> list[Part]:
    strength = "" if stimulation.percent is None else f", {plain_number(stimulation.percent)}% active ingredient"
    parts = [Part(written_stimulation(stimulation)[0], _AGENTS[stimulation.agent] + strength)]
    parts += [Part(written_application(each), _application(each)) for each in stimulation.applications]
    if stimulation.rounds:
        parts.append(Part(written_rounds(stimulation.rounds), _rounds(stimulation.rounds)))
    return parts


def _application(application: Application) -> str:
    grams = "" if application.grams is None else f", {plain_number(application.grams)} g a tree"
    band = "" if application.band_cm is None else f", on a band {plain_number(application.band_cm)} cm wide"
    return _METHODS[application.method] + grams + band


def _rounds(rounds: Rounds) -> str:
    given = "" if rounds.given is None else f"{rounds.given} given of "
    every = ""
    if rounds.every and rounds.unit:
        every = (
            ", monthly"
            if (rounds.every, rounds.unit) == (1, "m")
            else f", every {_counted(rounds.every, _UNITS[rounds.unit])}"
        )
    return f"{given}{_counted(rounds.per_year, 'stimulation')} a year{every}"


def _panel(panel: Panel) -> str:
    height = "base panel" if panel.height == "B" else "high panel"
    return f"{height} {panel.number}, {_BARK[panel.bark]}"


def _counted(number: int, noun: str) -> str:
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"

"""`tapping`, `panel` and `pay`: the arithmetic of tapping and of wages. They need neither settings nor books."""

from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import click

from bot.commands.common import JSON, BadInput, Day, as_json
from bot.commands.figures import Amount, one_line
from bot.commands.paying import pay
from bot.rubber.calendar import Calendar, tapping_calendar, tapping_days
from bot.rubber.intensity import intensity, tappings_a_year, visits_a_day
from bot.rubber.notation import NotationError, read
from bot.rubber.notation_meaning import meaning
from bot.rubber.notation_writing import write
from bot.rubber.panel import DEFAULT_ORDER, bark_left, bark_use, cut_line, vertical_mm
from bot.rubber.profiles import NAMES, Profile, bark_limit, profile
from bot.rubber.recovery import tasks_by_letter
from bot.rubber.safety import CAUTIONS
from bot.rubber.tapping_system import Notation, Panel, TappingSystem

__all__ = ["panel", "pay", "tapping"]

WEEKDAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
LONGEST_PANEL = timedelta(days=40 * 366)

FROM = click.option("--from", "start", type=Day(), help="First tapping day of task A; gives the calendar.")
REST = click.option(
    "--rest", type=click.Choice(WEEKDAYS), multiple=True, help="The weekday at rest; may be given more than once."
)


@click.command()
@click.argument("notation")
@FROM
@REST
@click.option("--days", type=click.IntRange(1, 366), default=28, show_default=True, help="Days of the calendar.")
@click.option("--girth", type=Amount(), help="Girth of the trees in cm; a mini-cut needs it.")
@JSON
def tapping(
    notation: str, start: date | None, rest: tuple[str, ...], days: int, girth: Decimal | None, plain_json: bool
) -> None:
    """What a tapping notation means, how hard it works the trees, and on which days it is tapped.

    NOTATION is the international one, in the style of 2009 or of 1983.

    \b
    Example:
      tapping-log tapping "S/2 d3 6d/7 10m/12 ET2.5% Pa1(1) 6/y" --from 2026-03-02 --rest sunday
    """
    _check_rest(start, rest)
    with one_line():
        found = read(notation)
        systems = [_system(each, start, rest, days, girth) for each in found.systems]
    remarks = [remark.text for remark in found.remarks]
    if start and any(each.season and not each.season.months for each in found.systems):
        remarks.append("which months are tapped is not said, so the calendar leaves none out")
    answer = {"notation": write(found), "notation_1983": write(found, "1983"), "systems": systems, "remarks": remarks}
    if plain_json:
        click.echo(as_json(answer))
    else:
        _say_tapping(found, answer)


def _system(
    system: TappingSystem, start: date | None, rest: tuple[str, ...], days: int, girth: Decimal | None
) -> dict[str, Any]:
    """A system's parts, intensity and, from a start, its calendar; without a frequency it has neither of these two."""
    answer: dict[str, Any] = {"parts": [{"text": part.text, "meaning": part.meaning} for part in meaning(system)]}
    if system.frequencies or start:
        found = intensity(system, None if girth is None else float(girth))
        answer |= {
            "intensity_percent": round(found.nominal_percent, 1),
            "scheduled_percent": round(found.scheduled_percent, 1),
            "tappings_a_year": round(found.tappings_a_year, 1),
            "sources": list(found.sources),
        }
    if start:
        answer["calendar"] = _calendar(_planned(system, start, rest), days)
    return answer


def _check_rest(start: date | None, rest: tuple[str, ...]) -> None:
    if rest and start is None:
        raise BadInput("--rest needs the day --from which the calendar starts")


def _after(start: date, length: timedelta) -> date:
    """The day so much later, or the last day that there is."""
    return start + min(length, date.max - start)


def _planned(system: TappingSystem, start: date, rest: tuple[str, ...]) -> Calendar:
    return tapping_calendar(system, start, [WEEKDAYS.index(day) for day in rest])


def _calendar(plan: Calendar, days: int) -> dict[str, list[str]]:
    last = _after(plan.start, timedelta(days=days - 1))
    return {
        letter: [day.isoformat() for day in tapping_days(plan, plan.start, last, task)]
        for letter, task in tasks_by_letter(plan).items()
    }


def _say_tapping(found: Notation, answer: dict[str, Any]) -> None:
    click.echo(f"Notation   {answer['notation']}  (1983: {answer['notation_1983']})")
    for system in answer["systems"]:
        for part in system["parts"]:
            click.echo(f"  {part['text']:<12} {part['meaning']}")
        if "intensity_percent" in system:
            click.echo(f"Intensity  {system['intensity_percent']:g} % (S/2 d2 is 100 %)")
            click.echo(f"           {system['scheduled_percent']:g} % with rest days and months without tapping")
            click.echo(f"Tappings   {system['tappings_a_year']:g} a year at most")
        for letter, days in system.get("calendar", {}).items():
            click.echo(f"Task {letter}     {' '.join(days)}")
    for remark in answer["remarks"]:
        click.echo(f"Note       {remark}")
    click.echo(f"Caution    {CAUTIONS['knife'].text}")
    if any(system.stimulation for system in found.systems):
        click.echo(f"           {CAUTIONS['stimulant'].text}")


@click.command()
@click.argument("notation")
@click.option("--girth", type=Amount(), required=True, help="Girth of the trees, cm.")
@click.option("--now", type=Amount(), required=True, help="Height of the cut today, cm.")
@click.option("--opened", type=Amount(), help="Height at which the panel was opened, cm; else the profile's.")
@click.option("--end", type=Amount(), help="Height of the panel's last cut, cm; else the profile's.")
@click.option("--slope", type=Amount(), help="Slope of the cut, degrees; else the profile's.")
@click.option("--shaving", type=Amount(), help="Bark a tapping, mm square to the cut; else the profile's.")
@click.option("--panel", "name", default="BO-1", show_default=True, help="The panel, for example BO-2.")
@click.option("--used", type=Amount(), default="0", show_default=True, help="Bark used this year so far, cm.")
@click.option("--tappings-left", type=click.IntRange(0, 800), help="Tappings left this year; else a whole year's.")
@click.option("--profile", "code", type=click.Choice(NAMES), default="neutral", show_default=True, help="Country.")
@FROM
@REST
@JSON
def panel(notation: str, name: str, code: str, plain_json: bool, **given: Any) -> None:
    """How much bark a panel has left, when it ends, which opens next, and whether the year keeps to its bark limit.

    NOTATION gives cut and frequency. An upward cut needs --opened and --end.

    \b
    Example:
      tapping-log panel "S/2 d3 6d/7" --girth 55 --now 98 --profile vietnam --from 2026-03-02 --rest sunday
    """
    _check_rest(given["start"], given["rest"])
    with one_line():
        answer = _panel(_only(read(notation)), _panel_named(name), profile(code), given)
    if plain_json:
        click.echo(as_json(answer))
    else:
        _say_panel(answer)


def _only(notation: Notation) -> TappingSystem:
    if len(notation.systems) > 1:
        raise BadInput("a panel has one cut; give the notation of that cut alone")
    return notation.systems[0]


def _panel_named(name: str) -> Panel:
    """The panel of that name, read as a notation would: B0-1 (zero) is BO-1."""
    try:
        return read(f"S {name}").systems[0].panels[0]
    except (NotationError, IndexError):
        raise BadInput(f'"{name}" is no panel; panels are named like BO-1, BI-2, HO-3') from None


def _panel(system: TappingSystem, which: Panel, country: Profile, given: dict[str, Any]) -> dict[str, Any]:
    measures, origins = _measures(system, country, given)
    each = vertical_mm(measures["shaving"], measures["slope"])
    order = DEFAULT_ORDER if which in DEFAULT_ORDER else (which,)
    days = _days_to_come(system, given["start"], given["rest"])
    left = bark_left(which, measures["opened"], float(given["now"]), measures["end"], each, days, order)
    line = cut_line(float(given["girth"]), _share(system, given["girth"]), measures["slope"])
    return {
        "panel": str(which),
        "cut_cm": round(line.length_cm, 2),
        "drop_cm": round(line.drop_cm, 2),
        "used_cm": round(left.used_cm, 2),
        "left_cm": round(left.left_cm, 2),
        "mm_a_tapping": round(each, 2),
        "tappings_left": left.tappings_left,
        "years_left": round(left.tappings_left / tappings_a_year(system), 1),
        "last_day": left.last_day and left.last_day.isoformat(),
        "next_panel": left.next_panel and str(left.next_panel),
        "year": _year(system, country, given, each),
        "from_profile": origins,
    }


def _measures(
    system: TappingSystem, country: Profile, given: dict[str, Any]
) -> tuple[dict[str, float], dict[str, str]]:
    """The measures given or else the profile's, and where the latter come from."""
    upward = system.cut.direction == "U"
    if upward and (given["opened"] is None or given["end"] is None):
        raise BadInput("an upward cut needs the heights --opened and --end")
    figures = {
        "opened": country.figure("opening_height"),
        "end": country.figure("lowest_cut"),
        "slope": country.figure("slope_up" if upward else "slope"),
        "shaving": country.figure("shaving"),
    }
    missing = [option for option in figures if given[option] is None]
    measures = {option: float(given[option] or 0) for option in figures}
    measures |= {option: figures[option].value for option in missing}
    origins = {
        option: f"{figures[option].value:g} {figures[option].unit}: {figures[option].source}, {figures[option].status}"
        for option in missing
    }
    return measures, origins


def _share(system: TappingSystem, girth: Decimal) -> float:
    return float(intensity(system, float(girth)).share_of_girth)


def _days_to_come(system: TappingSystem, start: date | None, rest: tuple[str, ...]) -> tuple[date, ...]:
    if start is None:
        return ()
    return tapping_days(_planned(system, start, rest), start, _after(start, LONGEST_PANEL))


def _year(system: TappingSystem, country: Profile, given: dict[str, Any], each: float) -> dict[str, Any] | None:
    """The year's bark use against the country's limit for that frequency; None where no limit is known."""
    interval = 1 / visits_a_day(system)
    if system.cut.direction == "U" or f"bark_d{interval}" not in country.figures:
        return None
    limit, left = bark_limit(country, int(interval)), given["tappings_left"]
    use = bark_use(float(given["used"]), round(tappings_a_year(system)) if left is None else left, each, limit.value)
    return {
        "limit_cm": limit.value,
        "source": f"{limit.source}, {limit.status}",
        "used_cm": round(use.used_cm, 2),
        "needed_cm": round(use.needed_cm, 2),
        "total_cm": round(use.total_cm, 2),
        "mm_allowed": use.mm_allowed and round(use.mm_allowed, 2),
        "verdict": use.kind,
    }


def _say_panel(answer: dict[str, Any]) -> None:
    click.echo(f"Cut        {answer['cut_cm']:g} cm long, {answer['drop_cm']:g} cm from end to end")
    click.echo(f"Bark       {answer['used_cm']:g} cm of {answer['panel']} used, {answer['left_cm']:g} cm left")
    click.echo(f"A tapping  {answer['mm_a_tapping']:g} mm down the trunk")
    click.echo(f"Left       {answer['tappings_left']} tappings, about {answer['years_left']:g} years")
    if answer["last_day"]:
        click.echo(f"Last day   {answer['last_day']}")
    click.echo(f"Next       {answer['next_panel'] or 'no panel after this one in the usual order'}")
    _say_year(answer["year"])
    for option, origin in answer["from_profile"].items():
        click.echo(f"Taken      --{option} {origin}")
    click.echo(f"Caution    {CAUTIONS['knife'].text}")


def _say_year(year: dict[str, Any] | None) -> None:
    if year is None:
        click.echo("This year  no bark limit is known for this cut and frequency")
        return
    click.echo(
        f"This year  {year['used_cm']:g} cm used, {year['needed_cm']:g} cm still needed, {year['verdict']} the limit"
    )
    click.echo(f"Limit      {year['limit_cm']:g} cm a year ({year['source']})")
    if year["mm_allowed"]:
        click.echo(f"           each tapping left may take {year['mm_allowed']:g} mm down the trunk")

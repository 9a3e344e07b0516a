"""`drc` and `drying`: DRC by the methods of the trade, and sheets on their way to dry. Neither settings nor books."""

from datetime import date
from decimal import Decimal
from typing import Any

import click

from bot.commands.common import JSON, BadInput, Day, as_json
from bot.commands.figures import Amount
from bot.rubber import latex
from bot.rubber.drying import Method, drying_time, moisture_left, sold_early
from bot.rubber.drying import ready as ready_on
from bot.rubber.hydrometer import drc_by_hydrometer
from bot.rubber.reference import source
from bot.rubber.safety import CAUTIONS
from bot.rubber.sheets import SheetRefused, dry_weight

METHODS = {
    "--hydrometer": "--hydrometer G/L [--water PARTS] [--celsius C]",
    "--sample": "--sample G --dry G",
    "--sample-ml": "--sample-ml ML --dry G",
    "--solids": "--solids PERCENT",
}


@click.command()
@click.option("--hydrometer", type=Amount(), help="Reading of a latex hydrometer, g/L.")
@click.option("--water", type=Amount(), default="2", show_default=True, help="Parts of water to one of latex in it.")
@click.option("--celsius", type=Amount(), help="Temperature of what the hydrometer floats in.")
@click.option("--sample", type=Amount(), help="Latex weighed for the oven, g.")
@click.option("--sample-ml", type=Amount(), help="Latex measured for a test sheet, ml.")
@click.option("--dry", type=Amount(), help="What the sample weighed when dry, g.")
@click.option("--solids", type=Amount(), help="Total solids, percent.")
@click.option("--litres", type=Amount(), help="Litres of the latex: adds the dry rubber in them.")
@JSON
def drc(litres: Decimal | None, plain_json: bool, **given: Decimal | None) -> None:
    """DRC from a hydrometer, a dried sample, a test sheet or total solids, and the dry rubber in so many litres.

    \b
    Example:
      tapping-log drc --hydrometer 115 --water 2 --celsius 30 --litres 18
    """
    try:
        found = _drc(given)
        if litres is not None:
            found |= _dry_kg(found, float(litres))
    except latex.LatexRefused as refusal:
        raise BadInput(str(refusal)) from refusal
    if plain_json:
        click.echo(as_json(found))
    else:
        _say_drc(found)


def _drc(given: dict[str, Decimal | None]) -> dict[str, Any]:
    """DRC and its range by the one method that was given."""
    chosen = [name for name in ("hydrometer", "sample", "sample_ml", "solids") if given[name] is not None]
    if len(chosen) != 1 or ((given["dry"] is not None) != (chosen[0] in ("sample", "sample_ml"))):
        raise BadInput("Give one of: " + "; ".join(METHODS.values()))
    number = {name: float(value) for name, value in given.items() if value is not None}
    if chosen[0] == "hydrometer":
        seen = drc_by_hydrometer(number["hydrometer"], number["water"], number.get("celsius"))
        return _answer("hydrometer", seen.percent, seen.low, seen.high, seen.sources) | {
            "as_read_percent": round(seen.as_read_percent, 2)
        }
    if chosen[0] == "sample":
        percent = latex.drc_by_drying(number["sample"], number["dry"])
        return _answer("drying", percent, percent, percent, ("IS 3708: dry mass over mass of latex",))
    if chosen[0] == "sample_ml":
        percent = latex.drc_by_test_sheet(number["sample_ml"], number["dry"])
        return _answer("test-sheet", percent, percent, percent, source("serum_density", "rubber_density"))
    middle, low, high = latex.drc_from_total_solids(number["solids"])
    return _answer(
        "total-solids", middle, min(low, high), max(low, high), source("solids_above_drc_field", "solids_above_drc_low")
    )


def _answer(method: str, percent: float, low: float, high: float, sources: tuple[str, ...]) -> dict[str, Any]:
    return {
        "method": method,
        "drc_percent": round(percent, 2),
        "drc_low": round(low, 2),
        "drc_high": round(high, 2),
        "density_kg_per_litre": round(latex.density_kg_per_litre(percent), 4),
        "sources": list(sources),
    }


def _dry_kg(found: dict[str, Any], litres: float) -> dict[str, Any]:
    return {
        "litres": litres,
        "dry_kg": round(latex.dry_kg_from_litres(litres, found["drc_percent"]), 3),
        "dry_kg_low": round(latex.dry_kg_from_litres(litres, found["drc_low"]), 3),
        "dry_kg_high": round(latex.dry_kg_from_litres(litres, found["drc_high"]), 3),
    }


def _say_drc(found: dict[str, Any]) -> None:
    spread = "" if found["drc_low"] == found["drc_high"] else f" ({found['drc_low']:.1f}-{found['drc_high']:.1f})"
    click.echo(f"DRC      {found['drc_percent']:.1f} %{spread}, by {found['method']}")
    if "as_read_percent" in found:
        click.echo(f"         {found['as_read_percent']:.1f} % as the scale reads, before its corrections")
    click.echo(f"Density  {found['density_kg_per_litre']:.3f} kg/L")
    if "dry_kg" in found:
        click.echo(
            f"Dry      {found['dry_kg']:.2f} kg in {found['litres']:g} L"
            f" ({found['dry_kg_low']:.2f}-{found['dry_kg_high']:.2f})"
        )
    click.echo(f"Sources  {'; '.join(found['sources'])}")


@click.command()
@click.option("--rolled", type=Day(), required=True, help="The day on which the sheets were rolled.")
@click.option("--method", type=click.Choice([each.value for each in Method]), required=True, help="How they are dried.")
@click.option("--wet", type=Amount(), help="Weight of the wet sheets after rolling, kg.")
@click.option("--rain-days", type=click.IntRange(0, 60), default=0, show_default=True, help="Wet days among them.")
@click.option("--on", type=Day(), help="Tell the moisture left on this day.")
@JSON
def drying(rolled: date, method: str, wet: Decimal | None, rain_days: int, on: date | None, plain_json: bool) -> None:
    """When rolled sheets will be dry, what they will weigh, and what is lost when they are sold before.

    \b
    Example:
      tapping-log drying --rolled 2026-03-02 --method smoke --wet 30 --on 2026-03-05
    """
    try:
        found = _drying(rolled, Method(method), None if wet is None else float(wet), rain_days, on)
    except SheetRefused as refusal:
        raise BadInput(str(refusal)) from refusal
    if plain_json:
        click.echo(as_json(found))
    else:
        _say_drying(found)


def _drying(rolled: date, method: Method, wet: float | None, rain_days: int, on: date | None) -> dict[str, Any]:
    if on is not None and on < rolled:
        raise BadInput("--on must not lie before --rolled")
    time, days = drying_time(method, rain_days), ready_on(rolled, method, rain_days)
    found: dict[str, Any] = {
        "method": method.value,
        "days_low": time.low_days,
        "days": time.usual_days,
        "days_high": time.high_days,
        "ready_soonest": days.soonest.isoformat(),
        "ready": days.usual.isoformat(),
        "ready_latest": days.latest.isoformat(),
        "sources": list(time.sources),
    }
    if wet is not None:
        weight = dry_weight(wet)
        found |= {
            "dry_kg": round(weight.kg, 2),
            "dry_kg_low": round(weight.low_kg, 2),
            "dry_kg_high": round(weight.high_kg, 2),
        }
    if on is not None:
        left = moisture_left(method, (on - rolled).days, rain_days)
        lost = sold_early(100, left.usual)
        found |= {
            "on": on.isoformat(),
            "moisture_percent": round(left.usual, 2),
            "moisture_low": round(left.low, 2),
            "moisture_high": round(left.high, 2),
            "taken_off_percent": round(lost.deducted_percent, 2),
        }
    return found


def _say_drying(found: dict[str, Any]) -> None:
    click.echo(f"Drying   {found['days']:g} days by {found['method']} ({found['days_low']:g}-{found['days_high']:g})")
    click.echo(f"Ready    {found['ready']} (between {found['ready_soonest']} and {found['ready_latest']})")
    if "dry_kg" in found:
        click.echo(f"Dry      {found['dry_kg']:.1f} kg ({found['dry_kg_low']:.1f}-{found['dry_kg_high']:.1f})")
    if "on" in found:
        click.echo(
            f"Moisture {found['moisture_percent']:.1f} % left on {found['on']}"
            f" ({found['moisture_low']:.1f}-{found['moisture_high']:.1f})"
        )
        click.echo(f"Sold now a buyer takes off about {found['taken_off_percent']:.1f} % of the weight")
    click.echo(f"Caution  {CAUTIONS['rollers'].text}")
    if found["method"] == Method.SMOKE:
        click.echo(f"         {CAUTIONS['smoke-house'].text}")
    click.echo(f"Sources  {'; '.join(found['sources'])}")

"""How a figure was worked out, in two or three lines: inputs, rule, and where the rule comes from with its status."""

from decimal import Decimal

from bot.books.model import Entry
from bot.rubber import explain
from bot.rubber.coagulation import Dose
from bot.rubber.explain import Explanation
from bot.speech.language import Tongue
from bot.speech.rounding import half_litres, tenths, whole


def dry_weight(tongue: Tongue, entry: Entry) -> str:
    """Why an entry of latex should give so much dry rubber, and where its DRC comes from."""
    kept = entry.computed or {}
    sums = tongue.say(
        "{litres} L x {density} kg/L x {percent}% = {dry} kg.",
        litres=tongue.number(kept["litres"]),
        density=tongue.number(kept["density"], 3),
        percent=tongue.number(kept["drc_percent"], 1),
        dry=tongue.fixed(kept["dry_kg"], 2),
    )
    return f"{sums} {_basis(tongue, entry)} " + tongue.say("Density: Smith 1940.")


def _basis(tongue: Tongue, entry: Entry) -> str:
    kept = entry.computed or {}
    percent = tongue.number(kept["drc_percent"], 1)
    if kept["drc_basis"] == "block":
        return tongue.count(
            "{percent}%: learned from {n} reading or weighing of the block.",
            "{percent}%: learned from {n} readings and weighings of the block.",
            kept["drc_observations"],
            percent=percent,
        )
    return {
        "text": tongue.say("{percent}%: as you texted it.", percent=percent),
        "farm": tongue.say("{percent}%: the farm's setting.", percent=percent),
        "others": tongue.say("{percent}%: learned from the farm's other blocks.", percent=percent),
    }[kept["drc_basis"]]


def expected_range(tongue: Tongue, dose: Dose) -> str:
    """What the range around the dry weight means."""
    return tongue.say(
        "{low}-{high} kg: where the dry weight should lie 8 times out of 10, as sure as the DRC is ({drc}%).",
        low=tongue.fixed(tenths(dose.dry_kg_low), 1),
        high=tongue.fixed(tenths(dose.dry_kg_high), 1),
        drc=tongue.number(dose.drc_percent, 1),
    )


def water(tongue: Tongue, dose: Dose) -> str:
    """Why so much water."""
    said = tongue.say(
        "{kg} kg latex of {drc}% thinned to {target}%: {water} L water in all, {thin} L of it with the acid.",
        kg=tongue.number(dose.latex_kg, 1),
        drc=tongue.number(dose.drc_percent, 1),
        target=tongue.number(dose.target_drc_percent, 1),
        water=tongue.number(dose.water_litres, 1),
        thin=tongue.number(tenths(dose.thinning_water_litres), 1),
    )
    return f"{said} {_source(tongue, explain.water(dose))}"


def acid(tongue: Tongue, dose: Dose) -> str:
    """Why so much acid."""
    found = explain.acid(dose)
    said = tongue.say(
        "{dry} kg dry x {rate} g/kg = {pure} g pure acid; {strength}% acid holds {per_ml} g in 1 ml: {ml} ml.",
        dry=tongue.fixed(dose.dry_kg, 2),
        rate=tongue.number(dose.acid_g_per_kg, 2),
        pure=tongue.number(dose.pure_acid_g, 1),
        strength=tongue.number(dose.strength_percent, 1),
        per_ml=tongue.number(next(each.value for each in found.inputs if each.symbol == "pure"), 3),
        ml=tongue.number(whole(dose.acid_ml)),
    )
    return f"{said} {_source(tongue, found)}"


def sheets(tongue: Tongue, dose: Dose, sheet_dry_g: int) -> str:
    """Why so many sheets."""
    return tongue.count(
        "{dry} kg dry in sheets of {grams} g: {n} sheet. The weight of a sheet is the farm's setting.",
        "{dry} kg dry in sheets of {grams} g: {n} sheets. The weight of a sheet is the farm's setting.",
        dose.sheets,
        dry=tongue.fixed(tenths(dose.dry_kg), 1),
        grams=sheet_dry_g,
    )


def _source(tongue: Tongue, found: Explanation) -> str:
    status = {
        "published": tongue.say("published"),
        "derived": tongue.say("worked out from published figures"),
        "common practice, no source": tongue.say("common practice, no source"),
        "from memory": tongue.say("from memory, no source read"),
    }[explain.weakest_status(found)]
    return tongue.say("Source: {source} ({status}).", source=found.sources[0] if found.sources else "-", status=status)


def of_dose(tongue: Tongue, dose: Dose, figure: Decimal, sheet_dry_g: int) -> str | None:
    """The explanation of a figure in a dose as it was said; None where the dose shows no such figure."""
    if figure in (half_litres(dose.water_first_litres), tenths(dose.thinning_water_litres)):
        return water(tongue, dose)
    if figure == whole(dose.acid_ml):
        return acid(tongue, dose)
    if figure in (tenths(dose.dry_kg_low), tenths(dose.dry_kg_high)):
        return expected_range(tongue, dose)
    return sheets(tongue, dose, sheet_dry_g) if figure == dose.sheets else None

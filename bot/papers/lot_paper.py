"""A lot for sale as files: GeoJSON of its plots, and a table, with what Regulation (EU) 2023/1115 Art. 9(1) asks to collect.

Art. 9(1) asks for: (a) what the product is; (b) how much of it, net mass; (c) the country; (d) where all plots lie, and the date
or time of production; (e), (f) who supplied it and who was supplied; (g), (h) proof that it is free of deforestation and legal.
(c) and the definition of geolocation, Art. 2(28), were read in the correction of the Spanish text (BOE DOUE-L-2025-82014); the
rest is from memory. Nothing is stated of (g) and (h).

The names ProducerName, ProducerCountry, ProductionPlace and Area are those that the upload of the Union's information system
takes as a page about it says (evanbuytendijk.nl, "EUDR GeoJSON"; its file description itself was not read). That page asks for
latitude first; RFC 7946 section 3.1.1 rules longitude first, and so do we.
"""

import re
from collections.abc import Iterator, Mapping
from datetime import date
from decimal import Decimal
from typing import Any

from bot.papers.table import Cell, Column, Table
from bot.reckon.tracing import Why
from bot.rubber.geojson import Kind, Shape, collection, features
from bot.speech.language import Tongue

Statement = Mapping[str, Any]

#: Members of the file that say what the lot is; the plots follow as features.
_OF_THE_LOT = (
    "lot",
    "product",
    "buyer",
    "closed_at",
    "net_kg",
    "received_kg",
    "known_origin_kg",
    "unknown_origin_kg",
    "mixed_with_unknown_origin",
    "countries",
    "first_tapping_day",
    "last_tapping_day",
    "unknown",
    "receipts",
    "bales",
    "bales_kg",
    "not_proven",
)

#: A remark of unknown origin as a statement keeps it: a farm's receipt, or a block without a plot.
_OF_RECEIPT = re.compile(r"(?P<farm>.+) receipt (?P<number>\d+): (?P<why>.+)")
_OF_BLOCK = re.compile(rf"(?P<farm>.+): {re.escape(Why.NO_PLOT)} \((?P<block>.+)\)")


def columns(speech: Tongue) -> tuple[Column, ...]:
    """What stands above the columns of a lot's table."""
    return (
        Column(speech.say("Lot")),
        Column(speech.say("Product")),
        Column(speech.say("Net mass of the lot"), "kg"),
        Column(speech.say("Buyer")),
        Column(speech.say("Country")),
        Column(speech.say("Farm")),
        Column(speech.say("Block")),
        Column(speech.say("Plot")),
        Column(speech.say("Area"), "ha"),
        Column(speech.say("Latitude")),
        Column(speech.say("Longitude")),
        Column(speech.say("Border as GeoJSON")),
        Column(speech.say("First tapping day")),
        Column(speech.say("Last tapping day")),
        Column(speech.say("Tapping days")),
        Column(speech.say("From the block"), "kg"),
        Column(speech.say("Remark")),
    )


def remark(speech: Tongue, what: str) -> str:
    """What is said of rubber of unknown origin, in a language; a note that somebody wrote stays as it is."""
    receipt = _OF_RECEIPT.fullmatch(what)
    if receipt is not None:
        why = speech.unfilled(receipt["why"])
        return speech.say("{farm} receipt {number}: {why}", farm=receipt["farm"], number=receipt["number"], why=why)
    block = _OF_BLOCK.fullmatch(what)
    if block is not None:
        return f"{block['farm']}: {speech.unfilled(Why.NO_PLOT.value)} ({block['block']})"
    return what


def geojson_of(stated: Statement) -> str:
    """The lot's plots as a FeatureCollection, each with its block's days and kilos; the lot itself in members of its own."""
    each = [(shape, _properties(source, plot, shape)) for source, plot, shape in _plots(stated)]
    return collection(each, {"about": {name: stated[name] for name in _OF_THE_LOT if name in stated}})


def _plots(stated: Statement) -> Iterator[tuple[Statement, Statement, Shape]]:
    for source in stated["sources"]:
        for plot in source["plots"]:
            yield source, plot, features(plot["geometry"])[0].shape


def _properties(source: Statement, plot: Statement, shape: Shape) -> dict[str, Any]:
    found: dict[str, Any] = {
        "ProducerName": source["farm"],
        "ProducerCountry": source["country"],
        "ProductionPlace": f"{source['farm']}, block {source['block']}, plot {plot['name']}",
        "block": source["block"],
        "plot": plot["name"],
        "first_tapping_day": source["first_tapping_day"],
        "last_tapping_day": source["last_tapping_day"],
        "tapping_days": source["tapping_days"],
        "kg_of_block": source["kg"],
        "plots_of_block": len(source["plots"]),
    }
    area = "Area" if shape.kind is Kind.POINT else "hectares"
    return found | {area: float(plot["hectares"])}


def table_of(stated: Statement, speech: Tongue) -> Table:
    """A row for each plot, and one for each thing of unknown origin. Kilos of a block with several plots stand in the first."""
    rows: list[tuple[Cell, ...]] = []
    seen: set[int] = set()
    for source, plot, shape in _plots(stated):
        first = id(source) not in seen
        seen.add(id(source))
        rows.append(
            _row(stated, source, plot, shape, "" if first else speech.say("kilos stand with the block's first plot"))
        )
    rows += [_unknown(stated, each, speech) for each in stated["unknown"]]
    return Table(speech.say("Lot {name}", name=stated["lot"]), columns(speech), tuple(rows))


def _row(stated: Statement, source: Statement, plot: Statement, shape: Shape, later_plot: str) -> tuple[Cell, ...]:
    point = shape.kind is Kind.POINT
    return (
        *_lot(stated),
        source["country"],
        source["farm"],
        source["block"],
        plot["name"],
        Decimal(plot["hectares"]),
        shape.anywhere.latitude if point else None,
        shape.anywhere.longitude if point else None,
        None if point else plot["geometry"],
        date.fromisoformat(source["first_tapping_day"]),
        date.fromisoformat(source["last_tapping_day"]),
        source["tapping_days"],
        None if later_plot else Decimal(source["kg"]),
        later_plot or None,
    )


def _lot(stated: Statement) -> tuple[Cell, ...]:
    net = stated["net_kg"]
    return stated["lot"], stated["product"], None if net is None else Decimal(net), stated["buyer"]


def _unknown(stated: Statement, each: Statement, speech: Tongue) -> tuple[Cell, ...]:
    nothing: tuple[Cell, ...] = (None,) * 11
    return (
        *_lot(stated),
        *nothing,
        Decimal(each["kg"]),
        speech.say("unknown origin: {what}", what=remark(speech, each["what"])),
    )


def notes(stated: Statement, speech: Tongue) -> Table:
    """What the table cannot prove, and the receipts that the lot is made of, as lines of text."""
    lines = [(speech.unfilled(each),) for each in stated["not_proven"]]
    return Table(speech.say("What this does not prove"), (Column(speech.say("Not proven")),), tuple(lines))


def receipts(stated: Statement, speech: Tongue) -> Table:
    """The receipts that the lot is made of."""
    heads = (
        Column(speech.say("Farm")),
        Column(speech.say("Receipt")),
        Column(speech.say("Day")),
        Column(speech.say("Sheets")),
        Column(speech.say("Grade")),
        Column(speech.say("In the lot"), "kg"),
    )
    rows = tuple(
        (
            each["farm"],
            each["receipt"],
            None if each["day"] is None else date.fromisoformat(each["day"]),
            each["sheets"],
            each["grade"],
            Decimal(each["kg"]),
        )
        for each in stated["receipts"]
    )
    return Table(speech.say("Receipts"), heads, rows)


def bales(stated: Statement, speech: Tongue) -> Table:
    """The bales that a lot is sold in; a lot that was closed before lots knew theirs has none."""
    heads = (
        Column(speech.say("Store")),
        Column(speech.say("Grade")),
        Column(speech.say("Bales")),
        Column(speech.say("A bale"), "kg"),
        Column(speech.say("Pressed from")),
        Column(speech.say("Pressed to")),
        Column(speech.say("In the lot"), "kg"),
    )
    rows = tuple(
        (
            each["cooperative"],
            each["grade"],
            each["pieces"],
            Decimal(each["bale_kg"]),
            date.fromisoformat(each["pressed_first"]),
            date.fromisoformat(each["pressed_last"]),
            Decimal(each["kg"]),
        )
        for each in stated.get("bales", ())
    )
    return Table(speech.say("Bales"), heads, rows)

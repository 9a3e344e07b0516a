"""A farm's plots on a page: a picture of each, area, coordinates, what to look at, and the lots that hold its rubber."""

import math
from dataclasses import dataclass
from decimal import Decimal

from markupsafe import Markup

from bot.books import Transaction, lots, plots
from bot.books.plots import Plot
from bot.pages.opening import Page
from bot.reckon import land
from bot.reckon.lots import kg
from bot.rubber.geojson import Kind, Shape
from bot.speech.language import Tongue
from bot.speech.said import said

#: Width and height of a plot's picture, and the room at its edges.
SIDE, EDGE = 96, 6


@dataclass(frozen=True)
class PlotSeen:
    """A plot as it is written."""

    plot: Plot
    picture: Markup
    kind: str
    hectares: str


@dataclass(frozen=True)
class LandSeen:
    """A farm's plots, remarks about them, and what lots hold of the farm."""

    page: Page
    plots: tuple[PlotSeen, ...]
    remarks: tuple[str, ...]
    lots: tuple[tuple[str, str], ...]


def look_at_land(tx: Transaction, page: Page) -> LandSeen:
    """The plots of a farm. What other farms are called is not told on its page."""
    held: dict[str, int] = {}
    for name, take in lots.of_farm(tx, page.farm.id):
        held[name] = held.get(name, 0) + take.grams
    return LandSeen(
        page,
        tuple(_seen(page.speech, each) for each in plots.of_farm(tx, page.farm.id)),
        tuple(said(page.speech, each) for each in land.remarks(tx, page.farm, for_owner=True)),
        tuple((name, kg(grams)) for name, grams in held.items()),
    )


def _seen(speech: Tongue, plot: Plot) -> PlotSeen:
    area = speech.fixed(Decimal(plot.square_metres) / 10_000, 2)
    return PlotSeen(plot, picture(speech, plot.shape, plot.name), _kind(speech, plot.shape), area)


def _kind(speech: Tongue, shape: Shape) -> str:
    if shape.kind is Kind.POINT:
        return speech.say("point")
    corners = sum(len(ring) - 1 for ring in shape.rings)
    return speech.count("border of {n} corner", "border of {n} corners", corners)


def picture(speech: Tongue, shape: Shape, name: str) -> Markup:
    """The border with north above, holes left out; a dot for a point. Its title is the text alternative."""
    head = Markup('<svg class="plot" viewBox="0 0 {0} {0}" role="img" aria-label="{1}">').format(
        SIDE, speech.say("Shape of plot {name}", name=name)
    )
    if shape.kind is Kind.POINT:
        return head + Markup('<circle cx="{0}" cy="{0}" r="5"/></svg>').format(SIDE // 2)
    rings = [[each.degrees for each in ring] for ring in shape.rings]
    narrow = math.cos(math.radians(rings[0][0][1]))
    east, north = min(x for x, _ in rings[0]), max(y for _, y in rings[0])
    width = narrow * (max(x for x, _ in rings[0]) - east)
    height = north - min(y for _, y in rings[0])
    scale = (SIDE - 2 * EDGE) / max(width, height, 1e-9)
    path = " ".join(
        "M"
        + "L".join(f"{EDGE + (x - east) * narrow * scale:.1f},{EDGE + (north - y) * scale:.1f}" for x, y in ring[:-1])
        + "Z"
        for ring in rings
    )
    return head + Markup('<path fill-rule="evenodd" d="{}"/></svg>').format(path)

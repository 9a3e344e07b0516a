"""Whether a border makes sense as a shape, how large it is, and how it lies to others.

Shapes are looked at with Shapely (GEOS), areas are taken on the ellipsoid WGS 84 with GeographicLib (Karney 2013, "Algorithms
for geodesics"): the polygon whose sides are the shortest lines between its corners.
"""

from collections.abc import Sequence
from decimal import Decimal
from functools import lru_cache
from typing import TYPE_CHECKING

from geographiclib.geodesic import Geodesic

from bot.rubber.geojson import BadPlot, Kind, Shape

if TYPE_CHECKING:
    from shapely import Polygon

#: A point may stand for a plot of so many hectares or less; a larger one needs its border. Regulation (EU) 2023/1115
#: Art. 2(28), read in its correction (Spanish text, BOE DOUE-L-2025-82014).
POINT_HECTARES = Decimal(4)

#: A border around more hectares than this is a slip of the pen. Common practice, no source.
MOST_HECTARES = Decimal(10_000)

#: What is measured may differ by so many percent from what is stated before somebody should look. Common practice, no source.
AREA_PERCENT = Decimal(10)

#: Neighbours that were walked with a phone overlap by some metres; from so many percent of the smaller one it is told.
#: Common practice, no source.
OVERLAP_PERCENT = 5.0

#: Closer than this to where a farm should be, nothing is asked.
FAR_KM = 1000.0


def square_metres(shape: Shape, stated_hectares: Decimal | None = None) -> int:
    """The area of a plot: a polygon's own, holes left out; a point's as it is stated. Raises BadPlot, saying what to do."""
    if shape.kind is Kind.POINT:
        return _of_point(stated_hectares)
    _check(shape)
    area = _ring_area(shape, 0) - sum(_ring_area(shape, n) for n in range(1, len(shape.rings)))
    if area < 1:
        raise BadPlot("The border holds less than a square metre. Walk around the plot again.")
    if area > MOST_HECTARES * 10_000:
        raise BadPlot(f"The border holds {area / 10_000:.0f} hectares: is a coordinate mistyped?")
    return round(area)


def _of_point(hectares: Decimal | None) -> int:
    if hectares is None:
        raise BadPlot("A point needs the plot's area: give --hectares, or the border as a polygon.")
    if not hectares > 0:
        raise BadPlot(f"{hectares} hectares are no area; give more than 0.")
    if hectares > POINT_HECTARES:
        raise BadPlot(f"A plot of {hectares} hectares needs its border as a polygon: a point is enough up to 4.")
    return round(hectares * 10_000)


def _ring_area(shape: Shape, ring: int) -> float:
    polygon = Geodesic.WGS84.Polygon()
    for each in shape.rings[ring][:-1]:
        longitude, latitude = each.degrees
        polygon.AddPoint(latitude, longitude)
    _, _, area = polygon.Compute(False, True)
    return abs(float(area))


@lru_cache(maxsize=4096)
def _flat(shape: Shape) -> "Polygon":
    """The polygon in degrees, for questions of shape alone."""
    from shapely import Polygon  # a tenth of a second, which no other command should wait for

    border, *holes = [[each.degrees for each in ring] for ring in shape.rings]
    return Polygon(border, holes)


def _check(shape: Shape) -> None:
    import shapely

    flat = _flat(shape)
    if shapely.is_valid(flat):
        return
    if flat.convex_hull.geom_type != "Polygon":
        raise BadPlot("The border holds no land: its corners lie on a line. Walk around the plot again.")
    reason = str(shapely.is_valid_reason(flat))
    what, _, where = reason.partition("[")
    longitude, _, latitude = where.rstrip("]").partition(" ")
    place = f" near latitude {float(latitude):.6f}, longitude {float(longitude):.6f}" if latitude else ""
    if what in ("Self-intersection", "Ring Self-intersection"):
        raise BadPlot(
            f"The border crosses or touches itself{place}: give the corners in the order in which you walk them."
        )
    if what in ("Hole lies outside shell", "Holes are nested", "Interior is disconnected"):
        raise BadPlot(f"A hole does not lie within the border{place}: draw it inside, or as a plot of its own.")
    raise BadPlot(f"The border is no area ({what or reason}){place}: draw it again.")


def km_between(one: tuple[float, float], other: tuple[float, float]) -> float:
    """Kilometres between two places, each latitude and longitude in degrees."""
    return float(Geodesic.WGS84.Inverse(*one, *other, Geodesic.DISTANCE)["s12"]) / 1000


def check_place(shape: Shape, near: tuple[float, float] | None) -> None:
    """Refuses what fits the farm's clock far better with latitude and longitude changed over. Raises BadPlot.

    `near` is the latitude and longitude of the place that the farm's time zone is named after.
    """
    longitude, latitude = shape.anywhere.degrees
    if near is None or abs(longitude) > 90:
        return
    away, turned = km_between(near, (latitude, longitude)), km_between(near, (longitude, latitude))
    if away > FAR_KM and turned < away / 2:
        raise BadPlot(
            f"The plot lies {away:.0f} km from the farm's time zone, and {turned:.0f} km with its two figures changed over: "
            "longitude stands first in a file, latitude first in --at."
        )


def differs(measured: int, stated: int) -> Decimal | None:
    """By how many percent the measured area is off what is stated, if that is more than somebody should let pass."""
    percent = 100 * (Decimal(measured) / Decimal(stated) - 1)
    return percent if abs(percent) > AREA_PERCENT else None


def overlaps(shapes: Sequence[Shape]) -> list[tuple[int, int, float]]:
    """Pairs of plots (by place in the list, the earlier first) that share land, with the percent of the smaller one.

    A point within a polygon, or twice the same point, counts as 100.
    """
    if len(shapes) < 2:
        return []
    import shapely
    from shapely import Point, STRtree

    flat = [_flat(each) if each.kind is Kind.POLYGON else Point(each.anywhere.degrees) for each in shapes]
    found = []
    for one, other in sorted(map(tuple, STRtree(flat).query(flat, predicate="intersects").T.tolist())):
        if one >= other:
            continue
        smaller = min(flat[one].area, flat[other].area)
        percent = 100.0 * shapely.intersection(flat[one], flat[other]).area / smaller if smaller else 100.0
        if percent >= OVERLAP_PERCENT:
            found.append((one, other, percent))
    return found

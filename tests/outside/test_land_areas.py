"""Areas against PROJ: an equal-area projection is another way than geodesics; and against what the ellipsoid itself is.

Karney's Geod in PROJ is the same algorithm as ours in another language; the projection (Lambert azimuthal equal-area, EPSG
method 9820) is not. Between corners the projection's straight lines and geodesics differ; sides are cut into short pieces.
"""

import math
from random import Random

import pytest
from pyproj import Geod, Transformer
from shapely import Polygon, transform

from bot.rubber.geojson import Kind, Position, Shape
from bot.rubber.land import square_metres

GEOD = Geod(ellps="WGS84")


def walked(seed: int) -> Shape:
    """A border of some corners around a place between 20 degrees south and north, 0.1 to 60 hectares."""
    random = Random(seed)
    north, east, reach = random.uniform(-20, 20), random.uniform(-170, 170), random.uniform(20, 500)
    angles = sorted(random.uniform(0, 2 * math.pi) for _ in range(random.randrange(5, 40)))
    ends = [GEOD.fwd(east, north, math.degrees(-angle), reach * random.uniform(0.6, 1)) for angle in angles]
    corners = [Position(f"{lon:.7f}", f"{lat:.7f}") for lon, lat, _ in ends]
    return Shape(Kind.POLYGON, ((*corners, corners[0]),))


def projected(shape: Shape) -> float:
    east, north = shape.anywhere.degrees
    plane = f"+proj=laea +lat_0={north} +lon_0={east} +ellps=WGS84"
    to_plane = Transformer.from_crs("EPSG:4326", plane, always_xy=True)
    flat = Polygon([each.degrees for each in shape.rings[0]]).segmentize(0.0001)
    moved = transform(flat, lambda places: [to_plane.transform(*place) for place in places])
    return float(moved.area)


@pytest.mark.parametrize("seed", range(40))
def test_an_area_is_that_of_an_equal_area_projection(seed: int) -> None:
    shape = walked(seed)

    assert square_metres(shape) == pytest.approx(projected(shape), rel=1e-5, abs=1)


@pytest.mark.parametrize("seed", range(10))
def test_an_area_is_that_of_projs_geodesics(seed: int) -> None:
    shape = walked(seed)
    area, _ = GEOD.polygon_area_perimeter(*zip(*(each.degrees for each in shape.rings[0]), strict=True))

    assert square_metres(shape) == pytest.approx(abs(area), abs=1)

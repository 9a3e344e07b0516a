"""Points and polygons as GeoJSON (RFC 7946), with every coordinate kept as it was written.

What is taken: a Point or a Polygon, alone, as a Feature, or in a FeatureCollection. Longitude stands before latitude, in
degrees of WGS 84, each with six decimals or more. A number is never turned into a float and back, so that trailing zeros
stay. What RFC 7946 rules is checked here; whether a border makes sense as a shape is looked at in `land`.
"""

import json
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from itertools import pairwise
from typing import Any

#: Decimals that a coordinate needs: Regulation (EU) 2023/1115 Art. 2(28), read in its correction (Spanish text, BOE
#: DOUE-L-2025-82014): at least six. Six are about a tenth of a metre.
DECIMALS = 6

#: More corners than this are no border that somebody walked.
MOST_POSITIONS = 10_000

_COORDINATE = re.compile(r"-?\d{1,3}\.\d{6,17}")
_NUMBER = re.compile(r"-?\d+(?:\.\d+)?")


class BadPlot(ValueError):
    """A plot cannot be taken as it is; the message says what to do."""


class Kind(StrEnum):
    """What a plot can be."""

    POINT = "Point"
    POLYGON = "Polygon"


@dataclass(frozen=True)
class Position:
    """Longitude and latitude in degrees, as they were written."""

    longitude: str
    latitude: str

    @property
    def degrees(self) -> tuple[float, float]:
        """Longitude and latitude as numbers, in this order."""
        return float(self.longitude), float(self.latitude)

    def __str__(self) -> str:
        return f"latitude {self.latitude}, longitude {self.longitude}"


@dataclass(frozen=True)
class Shape:
    """A point (one ring of one position), or a polygon: its border, then the borders of its holes, each closed."""

    kind: Kind
    rings: tuple[tuple[Position, ...], ...]

    @property
    def anywhere(self) -> Position:
        """A position of it."""
        return self.rings[0][0]


@dataclass(frozen=True)
class Feature:
    """A shape with what the file says of it."""

    shape: Shape
    properties: Mapping[str, Any] = field(default_factory=dict)


class _Written(str):
    """A number of the file, as it was written."""

    __slots__ = ()


def point(latitude: str, longitude: str) -> Shape:
    """A point from two texts. Raises BadPlot."""
    return Shape(Kind.POINT, ((_position([_Written(longitude), _Written(latitude)]),),))


def features(text: str) -> list[Feature]:
    """The plots of a GeoJSON text. Raises BadPlot, whose message names the plot where there are several."""
    try:
        data = json.loads(text, parse_float=_Written, parse_int=_Written, parse_constant=_no_number)
    except (json.JSONDecodeError, RecursionError) as fault:
        raise BadPlot(f"This is not JSON ({fault}); export the plots again as GeoJSON.") from fault
    found = list(_features(data))
    if not found:
        raise BadPlot("There is no plot in the file; draw at least one point or polygon.")
    return found


def _no_number(name: str) -> str:
    raise BadPlot(f"{name} is no coordinate; write degrees such as 100.512345.")


def _features(data: Any) -> Iterator[Feature]:
    what = _kind_of(data)
    if what == "FeatureCollection":
        several = data.get("features")
        if not isinstance(several, list):
            raise BadPlot('A FeatureCollection needs a list "features".')
        for n, each in enumerate(several, 1):
            try:
                yield _feature(each)
            except BadPlot as fault:
                raise BadPlot(f"Plot {n} of {len(several)}: {fault}") from fault
    else:
        yield _feature(data)


def _feature(data: Any) -> Feature:
    what = _kind_of(data)
    if what != "Feature":
        return Feature(shape_of(data))
    properties = data.get("properties") or {}
    if not isinstance(properties, Mapping):
        raise BadPlot("The properties of a plot must be an object, or null.")
    return Feature(shape_of(data.get("geometry")), properties)


def _kind_of(data: Any) -> str:
    if not isinstance(data, Mapping) or not isinstance(data.get("type"), str):
        raise BadPlot('A plot needs a "type"; export it as GeoJSON with geometry and coordinates.')
    if data.get("crs") is not None:
        raise BadPlot(
            'Take the member "crs" out: RFC 7946 knows WGS 84 only. Export again in WGS 84 (EPSG:4326) with the '
            "choice RFC 7946."
        )
    return str(data["type"])


def shape_of(data: Any) -> Shape:
    """The shape of a geometry object whose numbers were kept as written. Raises BadPlot."""
    what = _kind_of(data)
    coordinates = data.get("coordinates")
    if what == Kind.POINT:
        return Shape(Kind.POINT, ((_position(coordinates),),))
    if what == Kind.POLYGON:
        return _polygon(coordinates)
    if what in ("MultiPolygon", "MultiPoint", "GeometryCollection"):
        raise BadPlot(f"{what} holds several pieces; give every piece as a plot of its own.")
    raise BadPlot(f"{what} is no plot; draw a Polygon along the border, or a Point for a plot of 4 hectares or less.")


def _polygon(rings: Any) -> Shape:
    if not isinstance(rings, list) or not rings or not all(isinstance(ring, list) for ring in rings):
        raise BadPlot("A Polygon needs a list of rings, the border first, each a list of positions.")
    if sum(map(len, rings)) > MOST_POSITIONS:
        raise BadPlot(f"The border has more than {MOST_POSITIONS} corners; simplify it and export again.")
    found = tuple(tuple(map(_position, ring)) for ring in rings)
    for ring in found:
        if ring and ring[0].degrees != ring[-1].degrees:
            raise BadPlot(f"The ring is not closed: repeat its first position ({ring[0]}) at its end.")
        if len(ring) < 4:
            raise BadPlot(
                "A ring needs four positions or more, the last one the same as the first: walk three corners."
            )
        if any(abs(one.degrees[0] - other.degrees[0]) > 180 for one, other in pairwise(ring)):
            raise BadPlot("The border crosses 180 degrees of longitude: cut the plot there in two.")
    return Shape(Kind.POLYGON, tuple(_turned(ring, inner=n > 0) for n, ring in enumerate(found)))


def _turned(ring: tuple[Position, ...], *, inner: bool) -> tuple[Position, ...]:
    """The ring in the order of RFC 7946: the border anticlockwise, holes clockwise. Readers should not refuse others."""
    twice = sum(a.degrees[0] * b.degrees[1] - b.degrees[0] * a.degrees[1] for a, b in pairwise(ring))
    return ring[::-1] if (twice > 0) == inner else ring


def _position(values: Any) -> Position:
    if not isinstance(values, Sequence) or isinstance(values, str) or len(values) not in (2, 3):
        raise BadPlot("A position is longitude and latitude, such as [100.512345, 7.123456].")
    longitude, latitude = (_coordinate(each) for each in values[:2])  # a height is left out
    found = Position(longitude, latitude)
    east, north = found.degrees
    if abs(north) > 90 and abs(east) <= 90:
        raise BadPlot(f"Latitude {latitude} is beyond 90 degrees: is it the longitude? Longitude stands first.")
    if abs(north) > 90 or abs(east) > 180:
        raise BadPlot(f"There is no place at {found}: degrees of WGS 84 are needed, not metres of a map.")
    return found


def _coordinate(value: Any) -> str:
    if not isinstance(value, _Written) or not _NUMBER.fullmatch(value):
        raise BadPlot(f"{value!s} is no coordinate; write degrees with six decimals, such as 100.512345.")
    if not _COORDINATE.fullmatch(value):
        decimals = len(value.partition(".")[2])
        if decimals < DECIMALS:
            raise BadPlot(
                f"{value} has {decimals} decimals and {DECIMALS} are needed: set the device to decimal degrees and "
                "measure again; zeros that were not measured prove nothing."
            )
        raise BadPlot(f"{value} is no degree with six to seventeen decimals: degrees of WGS 84 are needed.")
    return str(value)


def written(shape: Shape) -> str:
    """The geometry as GeoJSON, with the coordinates as they were written."""
    rings = [f"[{', '.join(f'[{each.longitude}, {each.latitude}]' for each in ring)}]" for ring in shape.rings]
    inside = rings[0][1:-1] if shape.kind is Kind.POINT else f"[{', '.join(rings)}]"
    return f'{{"type": "{shape.kind}", "coordinates": {inside}}}'


def collection(found: Sequence[tuple[Shape, Mapping[str, Any]]], more: Mapping[str, Any]) -> str:
    """A FeatureCollection of shapes with their properties, and members of our own (RFC 7946 section 6.1)."""
    each = [
        f'{{"type": "Feature", "geometry": {written(shape)}, "properties": {_json(properties)}}}'
        for shape, properties in found
    ]
    own = "".join(f"{_json(name)}: {_json(value)},\n" for name, value in more.items())
    lines = ",\n".join(each)
    return f'{{"type": "FeatureCollection",\n{own}"features": [\n{lines}\n]}}\n'


def _json(value: Any) -> str:
    return json.dumps(value, ensure_ascii=False)

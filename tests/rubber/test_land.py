"""Plots as GeoJSON: coordinates as written, the rules of RFC 7946, shapes that make sense, areas."""

import json
from decimal import Decimal

import geojson as general
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bot.rubber.geojson import BadPlot, Kind, collection, features, point, written
from bot.rubber.land import check_place, differs, overlaps, square_metres

#: About 100 m by 100 m near 7 degrees north, walked anticlockwise; some figures end in zeros.
SQUARE = [
    ("100.500000", "7.000000"),
    ("100.500905", "7.000000"),
    ("100.500905", "7.000900"),
    ("100.500000", "7.000900"),
]
HOLE = [("100.500300", "7.000300"), ("100.500300", "7.000600"), ("100.500600", "7.000600"), ("100.500600", "7.000300")]


def ring(corners: list[tuple[str, str]]) -> str:
    return "[" + ", ".join(f"[{east}, {north}]" for east, north in [*corners, corners[0]]) + "]"


def polygon(*rings: list[tuple[str, str]]) -> str:
    return f'{{"type": "Polygon", "coordinates": [{", ".join(map(ring, rings))}]}}'


def moved(corners: list[tuple[str, str]], east: float) -> list[tuple[str, str]]:
    return [(f"{float(one) + east:.6f}", other) for one, other in corners]


def one(text: str):
    (found,) = features(text)
    return found.shape


def refusal(text: str, hectares: str | None = None) -> str:
    def taken() -> None:
        for each in features(text):
            square_metres(each.shape, None if hectares is None else Decimal(hectares))

    with pytest.raises(BadPlot) as refused:
        taken()
    return str(refused.value)


def test_every_digit_is_kept_as_it_was_written() -> None:
    assert written(one(polygon(SQUARE))) == polygon(SQUARE)
    assert written(one('{"type": "Point", "coordinates": [-4.0316170, 5.3180000]}')) == (
        '{"type": "Point", "coordinates": [-4.0316170, 5.3180000]}'
    )


def test_a_feature_a_collection_and_a_bare_geometry_are_the_same_plot() -> None:
    feature = (
        f'{{"type": "Feature", "properties": {{"block": 3, "name": "by the road"}}, "geometry": {polygon(SQUARE)}}}'
    )
    several = f'{{"type": "FeatureCollection", "features": [{feature}, {feature}]}}'

    assert one(feature) == one(polygon(SQUARE))
    assert [each.properties["block"] for each in features(several)] == ["3", "3"]


def test_a_border_walked_clockwise_is_turned_and_no_figure_changes() -> None:
    turned = one(polygon(SQUARE[::-1], HOLE[::-1]))

    assert {each.longitude for each in turned.rings[0]} == {"100.500000", "100.500905"}
    assert square_metres(turned) == square_metres(one(polygon(SQUARE, HOLE)))
    assert signed(turned.rings[0]) > 0 > signed(turned.rings[1])


def test_a_hole_is_no_land_of_the_plot() -> None:
    whole, hole = square_metres(one(polygon(SQUARE))), square_metres(one(polygon(HOLE)))

    assert square_metres(one(polygon(SQUARE, HOLE))) == pytest.approx(whole - hole, abs=1)
    assert hole > 1000


def signed(positions) -> float:
    xy = [each.degrees for each in positions]
    return sum(a[0] * b[1] - b[0] * a[1] for a, b in zip(xy, xy[1:], strict=False))


def test_a_height_is_left_out() -> None:
    assert one('{"type": "Point", "coordinates": [100.512345, 7.123456, 31.5]}') == point("7.123456", "100.512345")


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("{", "export the plots again as GeoJSON"),
        ("[]", 'A plot needs a "type"'),
        ('{"type": "FeatureCollection", "features": []}', "draw at least one"),
        (
            polygon(SQUARE).replace('"coordinates"', '"crs": {"name": "EPSG:3857"}, "coordinates"'),
            'Take the member "crs" out',
        ),
        (polygon(SQUARE)[:-1] + ', "crs": {}}', 'Take the member "crs" out'),
        ('{"type": "Point", "coordinates": [100.51234, 7.123456]}', "100.51234 has 5 decimals and 6 are needed"),
        ('{"type": "Point", "coordinates": [100, 7]}', "100 has 0 decimals"),
        ('{"type": "Point", "coordinates": [100.512345]}', "longitude and latitude, such as"),
        ('{"type": "Point", "coordinates": ["100.512345", "7.123456"]}', "is no coordinate"),
        ('{"type": "Point", "coordinates": [1.00512345e2, 7.123456]}', "is no coordinate"),
        ('{"type": "Point", "coordinates": [NaN, 7.123456]}', "NaN is no coordinate"),
        ('{"type": "Point", "coordinates": [7.123456, 100.512345]}', "Longitude stands first"),
        ('{"type": "Point", "coordinates": [667123.123456, 787123.123456]}', "degrees of WGS 84"),
        ('{"type": "MultiPolygon", "coordinates": []}', "every piece as a plot of its own"),
        ('{"type": "LineString", "coordinates": []}', "is no plot"),
        ('{"type": "Polygon", "coordinates": []}', "needs a list of rings"),
        (
            '{"type": "Polygon", "coordinates": [[[100.500000, 7.000000], [100.500905, 7.000000], [100.500905, 7.000900]]]}',
            "not closed: repeat its first position (latitude 7.000000, longitude 100.500000)",
        ),
        (polygon(SQUARE[:2]), "walk three corners"),
        (polygon([SQUARE[0], SQUARE[2], SQUARE[1], SQUARE[3]]), "crosses or touches itself near latitude 7.000"),
        (polygon(SQUARE, moved(HOLE, 0.01)), "A hole does not lie within"),
        (polygon([("100.500000", "7.000000"), ("100.600000", "7.000000"), ("100.700000", "7.000000")]), "Walk around"),
        (polygon([("100.000000", "7.000000"), ("101.000000", "7.000000"), ("101.000000", "8.000000")]), "mistyped"),
        (
            polygon([("179.999000", "7.000000"), ("-179.999000", "7.000000"), ("-179.999000", "7.001000")]),
            "180 degrees",
        ),
    ],
)
def test_what_cannot_be_a_plot_is_refused_with_what_to_do(text: str, says: str) -> None:
    assert says in refusal(text)


def test_the_plot_that_is_wrong_is_named() -> None:
    good = f'{{"type": "Feature", "properties": null, "geometry": {polygon(SQUARE)}}}'
    bad = good.replace("7.000900", "7.0009")

    assert refusal(f'{{"type": "FeatureCollection", "features": [{good}, {bad}]}}').startswith(
        "Plot 2 of 2: 7.0009 has 4"
    )


def test_a_point_needs_an_area_of_four_hectares_or_less() -> None:
    text = '{"type": "Point", "coordinates": [100.512345, 7.123456]}'

    assert "give --hectares" in refusal(text)
    assert "a point is enough up to 4" in refusal(text, "4.01")
    assert "give more than 0" in refusal(text, "0")
    assert square_metres(one(text), Decimal("1.25")) == 12_500
    assert square_metres(one(text), Decimal(4)) == 40_000


def test_latitude_and_longitude_changed_over_are_noticed_by_the_farm_s_clock() -> None:
    abidjan = (5 + 19 / 60, -(4 + 2 / 60))

    check_place(point("6.512345", "-5.212345"), abidjan)
    with pytest.raises(BadPlot, match="longitude stands first in a file, latitude first in --at"):
        check_place(point("-5.212345", "6.512345"), abidjan)
    check_place(point("-5.212345", "6.512345"), None)


def test_areas_are_held_against_what_is_stated() -> None:
    assert differs(10_900, 10_000) is None
    assert differs(11_200, 10_000) == Decimal(12)
    assert differs(8_000, 10_000) == Decimal(-20)


def test_land_that_two_plots_claim_is_found_and_neighbours_are_not() -> None:
    plots = [one(polygon(SQUARE)), one(polygon(moved(SQUARE, 0.000905))), one(polygon(moved(SQUARE, 0.0006)))]
    inside, outside = point("7.000450", "100.500450"), point("7.000450", "100.490000")

    found = overlaps([*plots, inside, outside])

    assert [(a, b) for a, b, _ in found] == [(0, 2), (0, 3), (1, 2)]
    assert overlaps([]) == overlaps(plots[:1]) == []
    assert found[0][2] == pytest.approx(100 * (905 - 600) / 905, abs=0.1)


coordinates = st.tuples(st.integers(-179_999_999, 179_999_999), st.integers(-89_999_999, 89_999_999))


@given(st.lists(coordinates, min_size=1, max_size=5))
def test_what_is_written_is_geojson_for_a_general_reader_and_the_same_when_read_again(places) -> None:
    shapes = [point(f"{north / 1e6:.6f}", f"{east / 1e6:.6f}") for east, north in places]

    text = collection([(each, {"name": "ยาง"}) for each in shapes], {"lot": {"name": "L 1"}})

    assert general.loads(text).is_valid
    assert [each.shape for each in features(text)] == shapes


def test_a_polygon_with_a_hole_is_geojson_for_a_general_reader() -> None:
    text = collection([(one(polygon(SQUARE[::-1], HOLE)), {})], {})
    read = general.loads(text)

    assert read.is_valid
    assert read["features"][0]["geometry"]["type"] == Kind.POLYGON
    assert json.loads(text)["features"][0]["properties"] == {}

"""`plot`: where the trees of each block stand."""

from decimal import Decimal
from pathlib import Path
from typing import Any

import click

from bot.books import farms, plots
from bot.books.model import FarmBlock
from bot.commands.common import FARM, JSON, BadInput, as_json, farm_called, now, opened, say_list, say_table
from bot.commands.figures import Amount
from bot.reckon import land
from bot.rubber import geojson
from bot.rubber.geojson import BadPlot, Feature

FILE = click.Path(exists=True, dir_okay=False, path_type=Path)

#: A file larger than this is no list of plots.
MOST_BYTES = 20_000_000


@click.group()
def plot() -> None:
    """Plots of land with coordinates: add them, list them, look them over.

    \b
    Example:
      tapping-log plot add --farm "Ironwood Bend" --block 3 block-3.geojson
    """


@plot.command()
@FARM
@click.argument("file", type=FILE, required=False)
@click.option("--at", "place", metavar="LAT,LON", help="Instead of a file: a point, such as 7.123456,100.512345.")
@click.option("--block", help='The block; else the property "block" of each plot of the file.')
@click.option("--name", help="The plot's name; else the property \"name\" of each, else the block's.")
@click.option("--hectares", type=Amount(), help="Area of a plot given as a point: 4 hectares or less.")
@click.option(
    "--replace", is_flag=True, help="Take the place of plots of the same names, which are kept and count no more."
)
def add(
    farm_name: str,
    file: Path | None,
    place: str | None,
    block: str | None,
    name: str | None,
    hectares: Decimal | None,
    replace: bool,
) -> None:
    """Add plots of a GeoJSON file (polygons, or points with their hectares), or one point by its coordinates.

    All or none are added. Coordinates are degrees of WGS 84 with six decimals or more and are kept as they were written.

    \b
    Example:
      tapping-log plot add --farm "Ironwood Bend" plots.geojson
      tapping-log plot add --farm "Ironwood Bend" --block 3 --at 7.123456,100.512345 --hectares 1.2
    """
    try:
        found = _given(file, place)
        with opened() as books, books.transaction() as tx:
            farm = farm_called(tx, farm_name)
            made = land.checked(tx, farm, found, block, name, hectares)
            land.put(tx, farm, made, replace=replace, at=now())
            remarks = land.remarks(tx, farm)
    except BadPlot as fault:
        raise BadInput(f"{file}: {fault}" if file else str(fault)) from fault
    for each in made:
        click.echo(f"Plot {each.name} of block {each.block.name}: {land.hectares(each.square_metres)} ha.")
    for line in remarks:
        click.echo(line)


def _given(file: Path | None, place: str | None) -> list[Feature]:
    """What is to be added. Raises BadPlot."""
    if (file is None) == (place is None):
        raise BadPlot("Give a GeoJSON file, or --at LAT,LON.")
    if place is not None:
        latitude, comma, longitude = (each.strip() for each in place.partition(","))
        if not comma:
            raise BadPlot("Write --at as latitude, comma, longitude: 7.123456,100.512345.")
        return [Feature(geojson.point(latitude, longitude))]
    assert file is not None
    if file.stat().st_size > MOST_BYTES:
        raise BadPlot("The file is larger than 20 MB: export the plots alone, farm by farm.")
    try:
        return geojson.features(file.read_text(encoding="utf-8-sig"))
    except (OSError, UnicodeDecodeError) as fault:
        raise BadPlot(f"The file cannot be read: {fault}") from fault


@plot.command(name="list")
@FARM
@click.option("--geojson", "as_geojson", is_flag=True, help="Print the plots as GeoJSON.")
@JSON
def list_plots(farm_name: str, as_geojson: bool, plain_json: bool) -> None:
    """The plots of a farm that count.

    \b
    Example:
      tapping-log plot list --farm "Ironwood Bend" --geojson > plots.geojson
    """
    with opened() as books, books.transaction() as tx:
        found = plots.of_farm(tx, farm_called(tx, farm_name).id)
    if as_geojson:
        each = [(one.shape, {"block": one.block, "name": one.name, "hectares": _plain(one)}) for one in found]
        click.echo(geojson.collection(each, {}), nl=False)
        return
    if plain_json:
        say_list([_described(one) for one in found])
    else:
        rows: list[tuple[str, ...]] = [
            (one.block, one.name, land.kind(one), land.hectares(one.square_metres), str(one.shape.anywhere))
            for one in found
        ]
        say_table(("Block", "Plot", "Shape", "Hectares", "At"), rows)


def _plain(one: plots.Plot) -> str:
    return f"{Decimal(one.square_metres) / 10_000:.4f}"


def _described(one: plots.Plot) -> dict[str, Any]:
    at = one.shape.anywhere
    return {
        "block": one.block,
        "name": one.name,
        "shape": one.shape.kind.value,
        "hectares": _plain(one),
        "latitude": at.latitude,
        "longitude": at.longitude,
    }


@plot.command()
@FARM
@JSON
def check(farm_name: str, plain_json: bool) -> None:
    """Look over a farm's plots: areas against what is stated, blocks without a plot, land that two plots claim.

    \b
    Example:
      tapping-log plot check --farm "Ironwood Bend"
    """
    with opened() as books, books.transaction() as tx:
        found = land.remarks(tx, farm_called(tx, farm_name))
    if plain_json:
        click.echo(as_json(found))
        return
    for line in found:
        click.echo(line)
    if not found:
        click.echo("Nothing to look at: every block has a plot, areas agree, and no land is claimed twice.")


@plot.command()
@FARM
@click.option("--block", required=True, help="The block.")
@click.argument("hectares", type=Amount())
def size(farm_name: str, block: str, hectares: Decimal) -> None:
    """State what a block measures, as its papers say; its plots are held against it.

    \b
    Example:
      tapping-log plot size --farm "Ironwood Bend" --block 3 1.2
    """
    if not hectares > 0:
        raise BadInput(f"{hectares} hectares are no area; give more than 0.")
    with opened() as books, books.transaction() as tx:
        farm = farm_called(tx, farm_name)
        farms.set_block_area(tx, _block(farms.blocks(tx, farm.id), block).id, hectares)
    click.echo(f"Block {block} is stated as {hectares} ha.")


@plot.command()
@FARM
@click.argument("name")
def end(farm_name: str, name: str) -> None:
    """A plot counts no more, for instance because it was felled or sold. What was said of it is kept.

    \b
    Example:
      tapping-log plot end --farm "Ironwood Bend" 3-2
    """
    with opened() as books, books.transaction() as tx:
        if not plots.end(tx, farm_called(tx, farm_name).id, name, at=now()):
            raise BadInput(f"There is no plot {name}; `tapping-log plot list` shows which there are.")
    click.echo(f"Plot {name} counts no more.")


def _block(blocks: dict[str, FarmBlock], name: str) -> FarmBlock:
    if name not in blocks:
        raise BadInput(f"There is no block {name}; there are {', '.join(blocks)}.")
    return blocks[name]

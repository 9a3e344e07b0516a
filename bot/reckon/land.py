"""A farm's plots: taken in, and looked over against its blocks, its clock, and each other."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal, InvalidOperation
from functools import cache
from importlib import resources

from babel.core import get_global

from bot.books import Transaction, farms, plots
from bot.books.model import Farm, FarmBlock
from bot.books.plots import Plot
from bot.reckon.wording import figure, later
from bot.rubber.geojson import BadPlot, Feature, Kind
from bot.rubber.land import check_place, differs, overlaps, square_metres


@dataclass(frozen=True)
class NewPlot:
    """A plot that was checked and is not in the books yet."""

    block: FarmBlock
    name: str
    feature: Feature
    square_metres: int


def checked(
    tx: Transaction, farm: Farm, found: Sequence[Feature], block: str | None, name: str | None, hectares: Decimal | None
) -> list[NewPlot]:
    """The features as plots of the farm. Raises BadPlot, saying which one and what to do.

    What is not given is taken from the properties `block`, `name` and `hectares` of each; a name left out is the block's.
    """
    blocks = farms.blocks(tx, farm.id)
    used: dict[str, int] = {}
    made = []
    for n, each in enumerate(found, 1):
        try:
            made.append(_checked(farm, blocks, each, block, name, hectares, used))
        except BadPlot as fault:
            raise BadPlot(f"Plot {n} of {len(found)}: {fault}" if len(found) > 1 else str(fault)) from fault
    if name is not None and len(found) > 1:
        raise BadPlot('One name cannot be that of several plots: give each a property "name" in the file.')
    return made


def _checked(
    farm: Farm,
    blocks: dict[str, FarmBlock],
    feature: Feature,
    block: str | None,
    name: str | None,
    hectares: Decimal | None,
    used: dict[str, int],
) -> NewPlot:
    said = block if block is not None else _text(feature, "block")
    if said not in blocks:
        there = ", ".join(blocks)
        what = "no block is named" if said is None else f"there is no block {said}"
        raise BadPlot(f'{what}; give --block, or a property "block" in the file, as one of {there}.')
    check_place(feature.shape, place_of_zone(farm.timezone))
    area = square_metres(feature.shape, hectares if hectares is not None else _hectares(feature))
    used[said] = used.get(said, 0) + 1
    usual = said if used[said] == 1 else f"{said}-{used[said]}"
    return NewPlot(blocks[said], name or _text(feature, "name") or usual, feature, area)


def _text(feature: Feature, key: str) -> str | None:
    value = feature.properties.get(key)
    return str(value).strip() or None if isinstance(value, str) else None


def _hectares(feature: Feature) -> Decimal | None:
    said = _text(feature, "hectares")
    try:
        value = None if said is None else Decimal(said)
    except InvalidOperation as fault:
        raise BadPlot(f'The property "hectares" must be a number, not {said}.') from fault
    return value if value is None or value.is_finite() else None


def put(tx: Transaction, farm: Farm, found: Iterable[NewPlot], *, replace: bool, at: datetime) -> None:
    """Put checked plots into the books. Raises BadPlot where a name is taken and nothing is to be replaced."""
    for each in found:
        if replace:
            plots.end(tx, farm.id, each.name, at=at)
        try:
            plots.add(tx, farm.id, each.block.id, each.name, each.feature.shape, each.square_metres, at=at)
        except plots.NameTaken as fault:
            raise BadPlot(
                f"There is a plot {each.name} already: give --replace if it was measured again, or another name."
            ) from fault


def remarks(tx: Transaction, farm: Farm, *, for_owner: bool = False) -> list[str]:
    """What somebody should look at: areas that differ from what is stated, blocks without a plot, land claimed twice.

    An owner is not told what other farms are called, nor which command of the operator mends it.
    """
    own = plots.of_farm(tx, farm.id)
    blocks = farms.blocks(tx, farm.id)
    return [*_areas(own, blocks.values(), for_owner=for_owner), *_shared(tx, farm, own, for_owner=for_owner)]


def _areas(own: Sequence[Plot], blocks: Iterable[FarmBlock], *, for_owner: bool) -> Iterator[str]:
    for block in blocks:
        of_block = [each for each in own if each.block == block.name]
        if not of_block:
            without = later("Block {name} has no plot: its rubber has no place of origin.", name=block.name)
            yield without if for_owner else f"{without} Add it with `tapping-log plot add`."
        elif block.square_metres is None:
            unstated = later("Block {name}: no hectares are stated to hold its plots against.", name=block.name)
            yield unstated if for_owner else f"{unstated} Say them with `tapping-log plot size`."
        else:
            measured = sum(each.square_metres for each in of_block)
            off = differs(measured, block.square_metres)
            if off is not None:
                yield later(
                    "Block {name} is stated as {stated} ha and its plots measure {measured} ha ({percent} %). Which is right?",
                    name=block.name,
                    stated=Decimal(hectares(block.square_metres)),
                    measured=Decimal(hectares(measured)),
                    percent=f"{off:+.0f}",
                )


def _shared(tx: Transaction, farm: Farm, own: Sequence[Plot], *, for_owner: bool) -> Iterator[str]:
    """Land of this farm that another plot, of this farm or another, claims too."""
    everything = plots.everywhere(tx)
    mine = {each.id for each in own}
    for one, other, percent in overlaps([each.shape for each in everything]):
        pair = everything[one], everything[other]
        if not mine & {each.id for each in pair}:
            continue
        first, second = pair if pair[0].id in mine else pair[::-1]
        another: str = later("plot {name}", name=second.name)
        if second.id not in mine:
            theirs = f"{another} of {farms.farm(tx, second.farm_id).name}"
            another = later("a plot of another farm") if for_owner else theirs
        yield later(
            "Plot {name} and {other} share {percent} % of the smaller one. Walk the border between them again.",
            name=first.name,
            other=another,
            percent=figure(percent, 0),
        )


def hectares(area: int) -> str:
    """Square metres as hectares with two decimals."""
    return f"{Decimal(area) / 10_000:.2f}"


def kind(plot: Plot) -> str:
    """`point`, or `polygon of 12 corners`."""
    if plot.shape.kind is Kind.POINT:
        return "point"
    return f"polygon of {sum(len(ring) - 1 for ring in plot.shape.rings)} corners"


def country(farm: Farm) -> str | None:
    """The country of a farm as two letters (ISO 3166-1), by its time zone (Unicode CLDR)."""
    found = get_global("zone_territories").get(farm.timezone)
    return None if found is None or found == "001" else str(found)


@cache
def place_of_zone(zone: str) -> tuple[float, float] | None:
    """Latitude and longitude of the place that a time zone is named after, by the table of the time zone database."""
    table = resources.files("tzdata").joinpath("zoneinfo/zone.tab").read_text(encoding="utf-8")
    for line in table.splitlines():
        fields = line.split("\t")
        if not line.startswith("#") and len(fields) > 2 and fields[2] == zone:
            cut = max(fields[1].rfind("+"), fields[1].rfind("-"))
            return _degrees(fields[1][:cut]), _degrees(fields[1][cut:])
    return None


def _degrees(written: str) -> float:
    """`+1345`, `-0040131`: degrees, minutes and perhaps seconds, by how many digits there are."""
    digits = written[1:]
    seconds = digits[-2:] if len(digits) in (6, 7) else "0"
    minutes = digits[-4:-2] if len(digits) in (6, 7) else digits[-2:]
    whole = digits[: len(digits) - (4 if len(digits) in (6, 7) else 2)]
    value = int(whole) + int(minutes) / 60 + int(seconds) / 3600
    return -value if written[0] == "-" else value

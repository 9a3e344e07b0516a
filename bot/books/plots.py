"""Plots of land: where the trees of a block stand. A plot that is replaced is kept; it only counts no more."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from bot.books.convert import folded, moment_in, moment_out
from bot.books.ids import new_id
from bot.books.store import Transaction
from bot.rubber.geojson import Feature, Shape, features, written


class NameTaken(ValueError):
    """The farm has a plot of that name."""


@dataclass(frozen=True)
class Plot:
    """A plot of a block: its shape with coordinates as they were written, and its area, measured or (a point's) stated."""

    id: str
    farm_id: str
    block: str
    name: str
    shape: Shape
    square_metres: int


def add(
    tx: Transaction, farm_id: str, block_id: str, name: str, shape: Shape, square_metres: int, *, at: datetime
) -> None:
    """A plot of a block. Raises NameTaken where the farm has one of that name."""
    if any(folded(each.name) == folded(name) for each in of_farm(tx, farm_id)):
        raise NameTaken(name)
    tx.run(
        "add_plot",
        id=new_id(),
        farm_id=farm_id,
        block_id=block_id,
        name=name,
        name_key=folded(name),
        shape=written(shape),
        square_metres=square_metres,
        added_at=moment_out(at),
    )


def end(tx: Transaction, farm_id: str, name: str, *, at: datetime) -> bool:
    """A plot counts no more; whether there was one of that name."""
    return bool(tx.run("end_plot", farm_id=farm_id, name_key=folded(name), at=moment_out(at)))


def of_farm(tx: Transaction, farm_id: str) -> list[Plot]:
    """The plots of a farm that count, by block and name."""
    return [_plot(row) for row in tx.run("plots_of_farm", farm_id=farm_id)]


def ended(tx: Transaction, farm_id: str) -> list[tuple[Plot, datetime]]:
    """The plots of a farm that count no more, with when they ended, the latest first."""
    return [(_plot(row), moment_in(row["ended_at"])) for row in tx.run("ended_plots", farm_id=farm_id)]


def everywhere(tx: Transaction) -> list[Plot]:
    """The plots of all farms that count."""
    return [_plot(row) for row in tx.run("all_plots")]


def _plot(row: Mapping[str, Any]) -> Plot:
    shape = _shape(row["shape"])
    return Plot(row["id"], row["farm_id"], row["block"], row["name"], shape, row["square_metres"])


def _shape(kept: str) -> Shape:
    found: list[Feature] = features(kept)
    return found[0].shape

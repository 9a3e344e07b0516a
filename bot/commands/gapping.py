"""`gaps`: reconciliation from latex to what was sold."""

from datetime import date, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import click

from bot.books import Transaction, farms
from bot.commands.common import JSON, BadInput, Day, cooperative_called, farm_called, now, opened, say_list, say_table
from bot.reckon import balances, store_steps
from bot.reckon import gaps as reckoned
from bot.reckon.balances import AtFarm
from bot.reckon.gaps import Row, Weights
from bot.reckon.lately import by_key_lately, steps_lately
from bot.reckon.weighed import By

#: Days that are looked at when none are named.
DAYS = 60

#: What belongs to no single farm, and is added up over all of them.
_SHARED = (By.COLLECTOR, By.BALANCE)


@click.command()
@click.option("--farm", "farm_name", metavar="NAME", help="One farm; else all.")
@click.option("--from", "first", type=Day(), help=f"The first day; else {DAYS} days before the last.")
@click.option("--to", "last", type=Day(), help="The last day; else today.")
@click.option(
    "--by", type=click.Choice([each.value for each in By]), help="Whose gaps; else the steps from latex to sale."
)
@click.option("--cooperative", "which", metavar="NAME", help="A cooperative's store: from taken to baled to sold.")
@JSON
def gaps(
    farm_name: str | None, first: date | None, last: date | None, by: str | None, which: str | None, plain_json: bool
) -> None:
    """What was expected, what was found, and the gap, at each step or by whom; how unusual it is, and what to ask.

    Weighings of these days are held against what was known before them. Without a first day a gap is looked for from whichever
    week of the last nine it began in. A gap is a question and not a fault of anybody.

    \b
    Example:
      tapping-log gaps --farm "Ironwood Bend" --from 2026-10-01 --to 2026-10-31
      tapping-log gaps --by balance
      tapping-log gaps --cooperative "Three Hills"
    """
    if which is not None:
        with opened() as books, books.reading() as tx:
            one = cooperative_called(tx, which)
            span = _span(one.timezone, first, last)
            at_store = store_steps.steps(store_steps.flows(tx, one, *span))
        _say({one.name: at_store}, plain_json=plain_json)
        return
    kind = None if by is None else By(by)
    with opened() as books, books.reading() as tx:
        chosen = farms.all_farms(tx) if farm_name is None else [farm_called(tx, farm_name)]
        seen = (reckoned.weights(tx, farm, *_span(farm.timezone, first, last)) for farm in chosen)
        if kind in _SHARED and farm_name is None:
            found = {"all farms": _of_all(list(map(balances.at_farm, seen)), kind, lately=first is None)}
        else:
            found = {each.farm.name: _rows(tx, each, kind, lately=first is None) for each in seen}
    _say(found, plain_json=plain_json)


def _of_all(farms_: list[AtFarm], kind: By, *, lately: bool) -> list[Row]:
    """Balances of all farms; only those of collectors where these are asked for."""
    rows = balances.all_balances_lately(farms_) if lately else balances.all_balances(farms_)
    return rows if kind is By.BALANCE else [row for row in rows if not row.key.startswith(balances.AT_HOME)]


def _span(timezone: str, first: date | None, last: date | None) -> tuple[date, date]:
    end = last or now().astimezone(ZoneInfo(timezone)).date()
    begin = first or end - timedelta(days=DAYS - 1)
    if end < begin:
        raise BadInput(f"The last day {end} is before the first day {begin}.")
    return begin, end


def _rows(tx: Transaction, seen: Weights, by: By | None, *, lately: bool) -> list[Row]:
    if by is None:
        there = steps_lately(seen) if lately else reckoned.steps_there(seen)
        return [*there, reckoned.sold(tx, seen)]
    return by_key_lately(seen, by) if lately else reckoned.by_key(seen, by)


def _say(found: dict[str, list[Row]], *, plain_json: bool) -> None:
    if plain_json:
        say_list([_plain(farm, row) for farm, rows in found.items() for row in rows])
        return
    cells: list[tuple[str, ...]] = [
        (
            farm,
            row.name,
            f"{row.expected_kg:.1f}",
            f"{row.found_kg:.1f}",
            "" if row.unclear else f"{row.gap_kg:+.1f}",
            "" if row.percent is None or row.unclear else f"{row.percent:+.1f}",
            _deviations(row),
            str(row.count),
            "ask" if row.told else "",
        )
        for farm, rows in found.items()
        for row in rows
    ]
    heads = ("Farm", "What", "Expected kg", "Found kg", "Gap kg", "%", "Unusual", "Of", "")
    say_table(heads, cells)
    asked = [f"{farm}: {row.question}" for farm, rows in found.items() for row in rows if row.told]
    for line in asked or ["Nothing to ask about."]:
        click.echo(line)


def _deviations(row: Row) -> str:
    if row.deviations is not None:
        return f"{row.deviations:+.1f}"
    return "counted" if row.counted else "unclear" if row.count else ""


def _plain(farm: str, row: Row) -> dict[str, Any]:
    return {
        "farm": farm,
        "what": row.name,
        "expected_kg": round(row.expected_kg, 3),
        "found_kg": round(row.found_kg, 3),
        "gap_kg": None if row.unclear else round(row.gap_kg, 3),
        "percent": None if row.percent is None or row.unclear else round(row.percent, 2),
        "deviations": None if row.deviations is None else round(row.deviations, 2),
        "of": row.count,
        "told": row.told,
        "since": None if row.since is None else row.since.isoformat(),
        "question": row.question or None,
    }

"""`cooperative`, `place` and `round`: a cooperative from a file, its prices, places with hours, and the rounds of collectors."""

from decimal import Decimal, InvalidOperation
from pathlib import Path
from typing import Any

import click

from bot.books import Transaction, cooperatives, people, places
from bot.books.cooperative_file import WEEKDAYS, hours, kind_of_price, read_cooperative_file
from bot.books.cooperatives import Cooperative
from bot.books.errors import BadFile
from bot.books.load_cooperative import enrol_collectors, load_cooperative
from bot.commands.common import JSON, BadInput, cooperative_called, farm_called, now, opened, say_each
from bot.week.closing import local_day

WHICH = click.option("--cooperative", "which", metavar="NAME", help="The cooperative, where there are several.")


@click.group()
def cooperative() -> None:
    """Add cooperatives, see which there are, set prices.

    \b
    Example:
      tapping-log cooperative add three-hills.toml
    """


@cooperative.command()
@click.argument("file", type=click.Path(exists=True, dir_okay=False, path_type=Path))
def add(file: Path) -> None:
    """Add the cooperative of a TOML file (farms, managers, prices, places, rounds), or bring it up to the file.

    \b
    Example:
      tapping-log cooperative add three-hills.toml
    """
    with opened() as books:
        try:
            plan = read_cooperative_file(file)
            added = books.run_transaction(lambda tx: load_cooperative(tx, plan, now()))
        except BadFile as fault:
            raise BadInput(f"{file}: {fault}") from fault
    click.echo(f"{added.name} is in the books.")


@cooperative.command(name="list")
@JSON
def list_cooperatives(plain_json: bool) -> None:
    """The cooperatives with their farms, managers and prices of today.

    \b
    Example:
      tapping-log cooperative list
    """
    with opened() as books, books.transaction() as tx:
        found: list[dict[str, Any]] = [_shown(tx, each) for each in cooperatives.everyone(tx)]
    say_each(
        found,
        plain_json,
        {
            "Cooperative": lambda each: each["name"],
            "Closes": lambda each: f"{each['closing_hour']}:00",
            "Farms": lambda each: str(len(each["farms"])),
            "Managers": lambda each: " ".join(each["managers"]),
            "Prices": lambda each: " ".join(f"{kind} {price}" for kind, price in each["prices"].items()),
        },
    )


def _shown(tx: Transaction, each: Cooperative) -> dict[str, Any]:
    return {
        "name": each.name,
        "timezone": each.timezone,
        "currency": each.currency,
        "language": each.language,
        "closing_hour": each.closing_hour,
        "bale_kg": str(each.bale_kg),
        "farms": list(cooperatives.farm_names(tx, each.id).values()),
        "managers": [person.name for person in cooperatives.managers(tx, each.id)],
        "prices": {
            kind: str(price) for kind, price in cooperatives.prices_on(tx, each.id, local_day(each, now())).items()
        },
    }


@cooperative.command()
@click.argument("kind")
@click.argument("amount")
@WHICH
def price(kind: str, amount: str, which: str | None) -> None:
    """Set the price a kg, from today on, of a grade such as RSS3, or of sheets, latex or lump.

    \b
    Example:
      tapping-log cooperative price RSS3 1.55
    """
    try:
        kind, value = kind_of_price(kind), Decimal(amount)
        with opened() as books, books.transaction() as tx:
            one = cooperative_called(tx, which)
            cooperatives.set_price(tx, one.id, kind, value, day=local_day(one, now()), at=now(), message_id=None)
    except InvalidOperation as fault:
        raise BadInput(f"{amount} is no price; write it like 1.55") from fault
    except ValueError as fault:
        raise BadInput(str(fault)) from fault
    click.echo(f"{one.name}: {kind} {value} {one.currency} a kg.")


@click.group()
def place() -> None:
    """Places where collectors come: number, hours, farms.

    \b
    Example:
      tapping-log place list
    """


@place.command(name="set")
@click.argument("name")
@click.option("--number", type=click.IntRange(1, 9999), required=True, help="By which collectors may text it.")
@click.option(
    "--farm", "farm_names", multiple=True, metavar="NAME", help="A farm that brings there; for several, again."
)
@click.option("--opens", metavar="06:00", help="From when.")
@click.option("--closes", metavar="10:30", help="Until when.")
@WHICH
def set_place(
    name: str, number: int, farm_names: tuple[str, ...], opens: str | None, closes: str | None, which: str | None
) -> None:
    """Add a place, or change it: its farms are those named, or stay as they are where none is.

    \b
    Example:
      tapping-log place set "Lower Gate" --number 1 --farm "Ironwood Bend" --opens 06:00 --closes 10:30
    """
    try:
        with opened() as books, books.transaction() as tx:
            one = cooperative_called(tx, which)
            farm_ids = [farm_called(tx, each).id for each in farm_names]
            for farm_id in farm_ids:
                cooperatives.add_farm(tx, one.id, farm_id)
            places.set_place(
                tx,
                one.id,
                name=name,
                number=number,
                opens=hours(opens),
                closes=hours(closes),
                farm_ids=farm_ids or None,
            )
            enrol_collectors(tx, one.id, now())
    except ValueError as fault:
        raise BadInput(str(fault)) from fault
    click.echo(f"{number} {name} is in the books.")


@place.command(name="list")
@JSON
def list_places(plain_json: bool) -> None:
    """The places of all cooperatives with their hours and farms.

    \b
    Example:
      tapping-log place list --json
    """
    with opened() as books, books.transaction() as tx:
        found: list[dict[str, Any]] = []
        for one in cooperatives.everyone(tx):
            names = cooperatives.farm_names(tx, one.id)
            found += [
                {
                    "cooperative": one.name,
                    "number": each.number,
                    "name": each.name,
                    "opens": each.opens,
                    "closes": each.closes,
                    "farms": [names[farm_id] for farm_id in each.farm_ids if farm_id in names],
                }
                for each in places.of_cooperative(tx, one.id)
            ]
    say_each(
        found,
        plain_json,
        {
            "Cooperative": lambda each: each["cooperative"],
            "No": lambda each: str(each["number"]),
            "Place": lambda each: each["name"],
            "Hours": lambda each: f"{each['opens'] or ''}-{each['closes'] or ''}".strip("-"),
            "Farms": lambda each: ", ".join(each["farms"]),
        },
    )


@click.group(name="round")
def round_group() -> None:
    """Rounds of collectors: which places on which weekday.

    \b
    Example:
      tapping-log round list
    """


@round_group.command(name="set")
@click.argument("number")
@click.option("--name", help="The collector's name, for a number that is not enrolled yet.")
@click.option("--on", "weekday", type=click.Choice(WEEKDAYS, case_sensitive=False), required=True, help="The weekday.")
@click.option(
    "--place", "names", multiple=True, metavar="NAME", help="A place, in the order of the round; for several, again."
)
@WHICH
def set_round(number: str, name: str | None, weekday: str, names: tuple[str, ...], which: str | None) -> None:
    """Set a collector's round of a weekday; without places he has none. He becomes a collector of their farms.

    \b
    Example:
      tapping-log round set +447700900111 --on monday --place "Lower Gate" --place "River Landing"
    """
    with opened() as books, books.transaction() as tx:
        one = cooperative_called(tx, which)
        person = people.person_by_number(tx, number)
        if person is None and name:
            person = people.known_as(tx, name=name, number=number, language=one.language, at=now())
        if person is None:
            raise BadInput(f"Nobody has the number {number}; give --name to enrol him.")
        known = places.of_cooperative(tx, one.id)
        found = {each: places.meant(known, each) for each in names}
        unknown = [each for each, meant in found.items() if meant is None]
        if unknown:
            there = ", ".join(each.name for each in known) or "none yet; add one with `tapping-log place set`"
            raise BadInput(f"There is no place {unknown[0]!r}. There are: {there}")
        places.set_round(tx, person.id, WEEKDAYS.index(weekday), [each.id for each in found.values() if each])
        enrol_collectors(tx, one.id, now())
    click.echo(f"{person.name}, {weekday}: {', '.join(each.name for each in found.values() if each) or 'no round'}.")


@round_group.command(name="list")
@JSON
def list_rounds(plain_json: bool) -> None:
    """Every round: collector, weekday, places in their order.

    \b
    Example:
      tapping-log round list
    """
    with opened() as books, books.transaction() as tx:
        found: list[dict[str, Any]] = []
        for one in cooperatives.everyone(tx):
            names = {each.id: each.name for each in places.of_cooperative(tx, one.id)}
            found += [
                {
                    "cooperative": one.name,
                    "collector": each.person.name,
                    "number": each.person.number,
                    "weekday": WEEKDAYS[each.weekday],
                    "places": [names[place_id] for place_id in each.place_ids],
                }
                for each in places.rounds(tx, one.id)
            ]
    say_each(
        found,
        plain_json,
        {
            "Cooperative": lambda each: each["cooperative"],
            "Collector": lambda each: each["collector"],
            "Number": lambda each: each["number"],
            "Weekday": lambda each: each["weekday"],
            "Places": lambda each: ", ".join(each["places"]),
        },
    )

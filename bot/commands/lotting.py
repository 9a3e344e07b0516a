"""`lot`: lots for sale, from receipts to what is stated of them."""

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date
from decimal import Decimal
from pathlib import Path

import click

from bot.books import lot_bales, lots
from bot.books.cooperative_file import kind_of_price
from bot.books.lots import LotRefused
from bot.books.storeroom import Bale
from bot.commands.common import (
    FARM,
    JSON,
    BadInput,
    Day,
    as_json,
    cooperative_called,
    farm_called,
    now,
    opened,
    say_list,
    say_table,
)
from bot.commands.figures import Amount
from bot.papers import delimited, lot_paper
from bot.reckon import lots as reckoned
from bot.reckon.lots import LotSeen
from bot.speech.language import LANGUAGES, SOURCE, Tongue, tongue
from bot.week.closing import local_day

STDOUT = "-"
FORMS = ("geojson", "csv", "xlsx", "pdf")
NAME = click.argument("name")


@contextmanager
def refusals_said() -> Iterator[None]:
    """Why something cannot be done to a lot ends the command with one line."""
    try:
        yield
    except LotRefused as refused:
        raise BadInput(str(refused)) from refused


def _grams(kg: Decimal, option: str) -> int:
    """Kilos as whole grams. Raises BadInput for what is finer, or nothing."""
    grams = kg * 1000
    if grams != grams.to_integral_value() or not grams > 0:
        raise BadInput(f"{option} {kg}: give more than 0 kg, to the gram.")
    return int(grams)


@click.group()
def lot() -> None:
    """Lots for sale: made of receipts, traced to plots and days, stated for the buyer.

    \b
    Example:
      tapping-log lot new "2026-11 A"
    """


@lot.command()
@NAME
@click.option(
    "--product",
    default="Natural rubber, ribbed smoked sheets",
    show_default=True,
    help="What is sold, as its papers name it.",
)
@click.option("--buyer", default="", help="Who gets it: name, postal and e-mail address.")
def new(name: str, product: str, buyer: str) -> None:
    """A new, empty lot.

    \b
    Example:
      tapping-log lot new "2026-11 A" --product "Natural rubber, RSS 3"
    """
    with refusals_said(), opened() as books, books.transaction() as tx:
        made = lots.new(tx, name, product, buyer, at=now())
    click.echo(f"Lot {made.name} is open.")


@lot.command()
@NAME
@click.option("--farm", "farm_name", metavar="NAME", help="The farm that the receipts are of.")
@click.option(
    "--receipt", "numbers", type=click.IntRange(1), multiple=True, help="A receipt's number; may be given often."
)
@click.option(
    "--from", "first", type=Day(), help="Instead of numbers: all receipts from this day on that are in no lot."
)
@click.option("--to", "last", type=Day(), help="The last day of these receipts.")
@click.option("--kg", type=Amount(), help="So much of one receipt; else what is left of it.")
@click.option("--unknown-kg", type=Amount(), help="Instead of receipts: rubber of unknown origin. It marks the lot.")
@click.option("--note", default="unknown origin", show_default=True, help="What is known of such rubber.")
def add(
    name: str,
    farm_name: str | None,
    numbers: tuple[int, ...],
    first: date | None,
    last: date | None,
    kg: Decimal | None,
    unknown_kg: Decimal | None,
    note: str,
) -> None:
    """Put receipts into a lot. A gram of a receipt is in one lot at most.

    \b
    Example:
      tapping-log lot add "2026-11 A" --farm "Ironwood Bend" --receipt 417 --receipt 418
      tapping-log lot add "2026-11 A" --farm "Ironwood Bend" --from 2026-11-01 --to 2026-11-15
      tapping-log lot add "2026-11 A" --unknown-kg 25 --note "bought at the road"
    """
    with refusals_said(), opened() as books, books.transaction() as tx:
        found = lots.named(tx, name)
        if unknown_kg is not None:
            if farm_name or numbers or first or last or kg is not None:
                raise BadInput("Give --unknown-kg alone, with --note: it belongs to no receipt.")
            lots.add_unknown(tx, found, _grams(unknown_kg, "--unknown-kg"), note, at=now())
            click.echo(f"{unknown_kg} kg of unknown origin are in lot {found.name}: it is marked as mixed.")
            return
        if farm_name is None:
            raise BadInput("Give --farm with --receipt or --from and --to, or --unknown-kg.")
        of = reckoned.book(tx, farm_called(tx, farm_name))
        if bool(numbers) == (first is not None or last is not None):
            raise BadInput("Give receipts by --receipt, or by their days with --from and --to.")
        if kg is not None and len(numbers) != 1:
            raise BadInput("--kg is of one receipt: give it with one --receipt.")
        chosen = list(numbers) or reckoned.free(tx, of, first or date.min, last or date.max)
        grams = None if kg is None else _grams(kg, "--kg")
        added = sum(reckoned.put(tx, found, of, number, grams, at=now()) for number in chosen)
    click.echo(f"{len(chosen)} receipts, {reckoned.kg(added)} kg, are in lot {found.name}.")


@lot.command()
@NAME
@FARM
@click.option("--receipt", "number", type=click.IntRange(1), required=True, help="The receipt's number.")
def remove(name: str, farm_name: str, number: int) -> None:
    """Take a receipt out of an open lot again.

    \b
    Example:
      tapping-log lot remove "2026-11 A" --farm "Ironwood Bend" --receipt 417
    """
    with refusals_said(), opened() as books, books.transaction() as tx:
        found = lots.named(tx, name)
        of = reckoned.book(tx, farm_called(tx, farm_name))
        receipt = of.receipts.get(number)
        own = [each for each in lots.takes(tx, found) if receipt is not None and each.take_id == receipt.first_id]
        if not own:
            raise BadInput(f"Receipt {number} of {of.farm.name} is not in lot {found.name}.")
        for each in own:
            lots.take_out(tx, found, each, at=now())
        reckoned.check_bales(reckoned.look(tx, found))
    click.echo(f"Receipt {number} is out of lot {found.name}.")


@lot.command()
@NAME
@click.argument("pieces", type=click.IntRange(1))
@click.argument("grade")
@click.option("--bale-kg", type=Amount(), help="What a bale weighs; else what the cooperative's bales weigh.")
@click.option("--cooperative", "which", metavar="NAME", help="Whose store they lie in, where there are several.")
@click.option("--take-out", is_flag=True, help="Take bales of that grade and weight out of the open lot again.")
def bales(name: str, pieces: int, grade: str, bale_kg: Decimal | None, which: str | None, take_out: bool) -> None:
    """Put bales of a cooperative's store into a lot: the oldest first. They leave the store when the lot is closed.

    A bale is in one lot at most, and bales weigh no more than the receipts of their lot that were taken before they were pressed.

    \b
    Example:
      tapping-log lot bales "2026-11 A" 9 RSS3
      tapping-log lot bales "2026-11 A" 9 RSS3 --take-out
    """
    try:
        kind = kind_of_price(grade)
    except ValueError as fault:
        raise BadInput(str(fault)) from fault
    with refusals_said(), opened() as books, books.transaction() as tx:
        found, one = lots.named(tx, name), cooperative_called(tx, which)
        bale = Bale(kind, one.bale_kg if bale_kg is None else bale_kg)
        if take_out:
            lot_bales.take_out(tx, found, one.id, bale, pieces, at=now())
        else:
            lot_bales.add(tx, found, one.id, bale, pieces, day=local_day(one, now()), at=now())
        seen = reckoned.look(tx, found)
        reckoned.check_bales(seen)
    click.echo(
        f"Lot {found.name} has {sum(each.pieces for each in seen.bales)} bales, {reckoned.kg(seen.bale_grams)} kg."
    )


@lot.command()
@NAME
@click.option("--kg", type=Amount(), help="Net mass of the lot as weighed for sale; else what its bales weigh.")
@click.option("--buyer", help="Who gets it: name, postal and e-mail address.")
def close(name: str, kg: Decimal | None, buyer: str | None) -> None:
    """A lot is sold: it changes no more, and what is stated of it is kept as it is now.

    It cannot weigh more than what was put into it. Its bales leave the store.

    \b
    Example:
      tapping-log lot close "2026-11 A" --kg 999.99 --buyer "Harbour Trading, 1 Quay Street, Port City"
    """
    with refusals_said(), opened() as books, books.transaction() as tx:
        given = None if kg is None else _grams(kg, "--kg")
        seen = reckoned.close(tx, lots.named(tx, name), given, buyer, at=now())
    net = seen.bale_grams if given is None else given
    put_in = f"{reckoned.kg(seen.grams)} kg were put into it, {reckoned.kg(seen.grams - net)} kg more"
    click.echo(f"Lot {seen.lot.name} is closed at {kg or reckoned.kg(net)} kg net; {put_in}.")
    if seen.bales:
        pieces = sum(each.pieces for each in seen.bales)
        click.echo(f"Its {pieces} bales, {reckoned.kg(seen.bale_grams)} kg, have left the store.")
    _warn(seen)


def _warn(seen: LotSeen) -> None:
    if seen.mixed:
        click.echo(
            f"Mixed: {reckoned.kg(seen.unknown_grams)} kg are of unknown origin; `tapping-log lot show` says which."
        )


@lot.command(name="list")
@JSON
def list_lots(plain_json: bool) -> None:
    """All lots.

    \b
    Example:
      tapping-log lot list
    """
    with opened() as books, books.transaction() as tx:
        found = [reckoned.look(tx, each) for each in lots.every(tx)]
    rows = [
        {
            "lot": each.lot.name,
            "state": "open" if each.lot.closed_at is None else f"closed {each.lot.closed_at:%Y-%m-%d}",
            "received_kg": reckoned.kg(each.grams),
            "unknown_origin_kg": reckoned.kg(each.unknown_grams),
            "bales_kg": reckoned.kg(each.bale_grams) if each.bales else "",
            "net_kg": "" if each.lot.net_grams is None else reckoned.kg(each.lot.net_grams),
        }
        for each in found
    ]
    if plain_json:
        say_list(rows)
    else:
        say_table(
            ("Lot", "State", "Received kg", "Unknown kg", "Bales kg", "Net kg"), [tuple(each.values()) for each in rows]
        )


@lot.command()
@NAME
@JSON
def show(name: str, plain_json: bool) -> None:
    """A lot: its plots with first and last tapping day, days and kilos, what is of unknown origin, its receipts.

    \b
    Example:
      tapping-log lot show "2026-11 A"
    """
    with refusals_said(), opened() as books, books.transaction() as tx:
        seen = reckoned.look(tx, lots.named(tx, name))
    stated = reckoned.said(seen)
    if plain_json:
        click.echo(as_json(stated))
        return
    state = "open" if stated["closed_at"] is None else f"closed {stated['closed_at'][:10]} at {stated['net_kg']} kg net"
    click.echo(f"Lot {stated['lot']}: {stated['product']}, {state}. Received {stated['received_kg']} kg.")
    rows: list[tuple[str, ...]] = [
        (
            each["farm"],
            each["block"],
            " ".join(plot["name"] for plot in each["plots"]),
            each["first_tapping_day"],
            each["last_tapping_day"],
            str(each["tapping_days"]),
            each["kg"],
        )
        for each in stated["sources"]
    ]
    say_table(("Farm", "Block", "Plots", "First day", "Last day", "Days", "kg"), rows)
    if stated["mixed_with_unknown_origin"]:
        click.echo(f"MIXED with {stated['unknown_origin_kg']} kg of unknown origin:")
    for each in stated["unknown"]:
        click.echo(f"  {each['kg']} kg  {each['what']}")
    for each in stated.get("bales", ()):
        days = _span(each["pressed_first"], each["pressed_last"])
        click.echo(f"Bales: {each['pieces']} {each['grade']} of {each['bale_kg']} kg, {each['kg']} kg, pressed {days}")
    receipts = ", ".join(f"{each['farm']} {each['receipt']} ({each['kg']} kg)" for each in stated["receipts"])
    click.echo(f"Receipts: {receipts or 'none'}")
    if reckoned.changed_since(seen):
        click.echo("The books were corrected since it was closed and say something else now; what was stated is shown.")
    for line in stated["not_proven"]:
        click.echo(f"Not proven: {line}")


def _span(first: str, last: str) -> str:
    return first if first == last else f"{first} to {last}"


@lot.command()
@NAME
@click.option(
    "--as", "form", type=click.Choice(FORMS), default=FORMS[0], show_default=True, help="The form of the file."
)
@click.option(
    "--language",
    type=click.Choice(LANGUAGES),
    default=SOURCE,
    show_default=True,
    help="The language of tables and paper; GeoJSON has none.",
)
@click.option(
    "--output", type=click.Path(dir_okay=False, allow_dash=True), required=True, help="The file; - prints it."
)
def export(name: str, form: str, language: str, output: str) -> None:
    """Write a lot's plots, days and kilos to a file, as Regulation (EU) 2023/1115 Art. 9(1)(a) to (d) asks to collect them.

    The file says what it does not prove.

    \b
    Example:
      tapping-log lot export "2026-11 A" --as geojson --output lot.geojson
    """
    with refusals_said(), opened() as books, books.transaction() as tx:
        seen = reckoned.look(tx, lots.named(tx, name))
    content = _made(seen, form, tongue(language))
    if output == STDOUT:
        sys.stdout.buffer.write(content)
        return
    try:
        Path(output).write_bytes(content)
    except OSError as fault:
        raise BadInput(f"{output} cannot be written: {fault.strerror}") from fault
    click.echo(f"{output} is written.")
    _warn(seen)


def _made(seen: LotSeen, form: str, speech: Tongue) -> bytes:
    stated = reckoned.said(seen)
    if form == "geojson":
        return lot_paper.geojson_of(stated).encode()
    if form == "csv":
        return delimited.csv_of(lot_paper.table_of(stated, speech))
    if form == "xlsx":
        from bot.papers import workbook

        sheets = [
            made(stated, speech) for made in (lot_paper.table_of, lot_paper.bales, lot_paper.receipts, lot_paper.notes)
        ]
        return workbook.xlsx_of(sheets, now())
    from bot.papers import lot_pages

    return lot_pages.pdf_of(stated, now(), speech)

"""Lots for sale: which plots and days their rubber comes from, what is of unknown origin, and what can be stated of them."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Any
from zoneinfo import ZoneInfo

from bot.books import Transaction, cooperatives, entries, farms, lot_bales, lots, plots
from bot.books.lot_bales import LotBales
from bot.books.lots import Lot, LotRefused, LotTake
from bot.books.model import Farm
from bot.books.plots import Plot
from bot.books.storeroom import Bale
from bot.reckon.land import country, hectares
from bot.reckon.tracing import Origin, Receipt, Share, Why, by_block, origins, receipts
from bot.reckon.wording import later
from bot.rubber.geojson import written

#: What a statement of a lot cannot prove, said on every paper of it.
NOT_PROVEN: tuple[str, ...] = (
    later(
        "The coordinates are those that somebody gave; nobody here saw the land, and no map of forests was looked at."
    ),
    later(
        "Nothing here shows that the land was not deforested after 31 December 2020, nor that the rubber was produced "
        "legally (Art. 9(1)(g) and (h))."
    ),
    later(
        "Blocks, days and kilos are what people texted. Sheets are followed first in, first out and not marked one by one."
    ),
    later(
        "Addresses of suppliers and buyers (Art. 9(1)(e) and (f)) are not in these books, but for what was written as buyer."
    ),
    later("This is no due diligence statement and takes the place of none."),
)


@dataclass(frozen=True)
class InLot:
    """A part of a receipt in a lot: what the receipt weighs now, the grams in the lot, and where they come from."""

    farm: Farm
    receipt: Receipt
    take: LotTake
    origin: Origin


@dataclass(frozen=True)
class Source:
    """What a block of a farm gave to a lot: its plots, first and last tapping day, how many days, grams."""

    farm: Farm
    block: str
    plots: tuple[Plot, ...]
    first: date
    last: date
    days: int
    grams: int


@dataclass(frozen=True)
class LotSeen:
    """A lot as the books stand now. `unknown` holds grams of unknown origin with what is said of them."""

    lot: Lot
    parts: tuple[InLot, ...]
    sources: tuple[Source, ...]
    unknown: tuple[tuple[str, int], ...]
    bales: tuple[LotBales, ...] = ()

    @property
    def bale_grams(self) -> int:
        """What its bales weigh."""
        return sum(each.grams for each in self.bales)

    @property
    def known_grams(self) -> int:
        """Grams whose plots are known."""
        return sum(each.grams for each in self.sources)

    @property
    def unknown_grams(self) -> int:
        """Grams of unknown origin."""
        return sum(grams for _, grams in self.unknown)

    @property
    def grams(self) -> int:
        """All that is in the lot."""
        return self.known_grams + self.unknown_grams

    @property
    def mixed(self) -> bool:
        """Whether rubber of unknown origin is in it: then nothing can be said of the whole."""
        return self.unknown_grams > 0


@dataclass(frozen=True)
class FarmBook:
    """A farm's receipts by number, with the origin of each by its standing line."""

    farm: Farm
    receipts: Mapping[int, Receipt]
    origins: Mapping[str, Origin]
    plots: Mapping[str, tuple[Plot, ...]]
    ended: Mapping[str, tuple[tuple[Plot, date], ...]]

    def plots_of(self, block: str, last: date) -> tuple[Plot, ...]:
        """The plots of a block; where none counts any more, the one that ended first after its last tapping day."""
        after = [plot for plot, day in self.ended.get(block, ()) if day >= last]
        return self.plots.get(block) or tuple(after[-1:])


def book(tx: Transaction, farm: Farm) -> FarmBook:
    """All that lots need of a farm, read once."""
    names = list(farms.blocks(tx, farm.id))
    found = receipts(tx, farm)
    of_block: dict[str, tuple[Plot, ...]] = {}
    for each in plots.of_farm(tx, farm.id):
        of_block[each.block] = (*of_block.get(each.block, ()), each)
    gone: dict[str, tuple[tuple[Plot, date], ...]] = {}
    for plot, at in plots.ended(tx, farm.id):
        gone[plot.block] = (*gone.get(plot.block, ()), (plot, at.astimezone(ZoneInfo(farm.timezone)).date()))
    origin = origins(entries.standing(tx, farm.id), farm.name, names)
    return FarmBook(farm, {each.number: each for each in found}, origin, of_block, gone)


def put(tx: Transaction, lot: Lot, of: FarmBook, number: int, grams: int | None, *, at: datetime) -> int:
    """Put a receipt into a lot: so many grams of it, or what is in no lot yet. Returns the grams. Raises LotRefused."""
    receipt = of.receipts.get(number)
    if receipt is None or not receipt.grams:
        raise LotRefused(
            f"{of.farm.name} has no receipt {number} with a weight; `tapping-log export` of collections lists them."
        )
    left = receipt.grams - lots.taken_up(tx, receipt.first_id)
    wanted = left if grams is None else grams
    if wanted <= 0:
        raise LotRefused(f"All of receipt {number} of {of.farm.name} is in lots already.")
    try:
        lots.add_take(tx, lot, of.farm.id, receipt.first_id, wanted, receipt.grams, at=at)
    except LotRefused as refused:
        raise LotRefused(f"Receipt {number} of {of.farm.name}: {refused}") from refused
    return wanted


def free(tx: Transaction, of: FarmBook, first: date, last: date) -> list[int]:
    """Receipts of some days with grams that are in no lot."""
    return [
        number
        for number, each in of.receipts.items()
        if each.entry is not None
        and each.entry.record.day is not None
        and first <= each.entry.record.day <= last
        and each.grams > lots.taken_up(tx, each.first_id)
    ]


def look(tx: Transaction, lot: Lot) -> LotSeen:
    """The lot as the books stand now."""
    taken = lots.takes(tx, lot)
    books = {farm_id: book(tx, farms.farm(tx, farm_id)) for farm_id in dict.fromkeys(each.farm_id for each in taken)}
    parts = tuple(_part(books[each.farm_id], each) for each in taken)
    sources: list[Source] = []
    unknown: dict[str, int] = {}
    for put_in in lots.unknowns(tx, lot):
        _more(unknown, put_in.note, put_in.grams)
    for found in books.values():
        own = [each for each in parts if each.farm.id == found.farm.id]
        shares = [share for each in own for share in each.origin.known]
        for block, of_block in by_block(shares).items():
            grams = sum(each.grams for each in of_block)
            own_plots = found.plots_of(block, max(each.day for each in of_block))
            if own_plots:
                sources.append(_source(found.farm, block, own_plots, of_block))
            else:
                _more(unknown, f"{found.farm.name}: {Why.NO_PLOT} ({block})", grams)
        for each in own:
            for why, grams in each.origin.unknown:
                _more(unknown, f"{found.farm.name} receipt {each.receipt.number}: {why}", grams)
    return LotSeen(lot, parts, tuple(sources), tuple(unknown.items()), tuple(lot_bales.of_lot(tx, lot)))


def _more(unknown: dict[str, int], what: str, grams: int) -> None:
    unknown[what] = unknown.get(what, 0) + grams


def _part(of: FarmBook, take: LotTake) -> InLot:
    receipt = next(each for each in of.receipts.values() if each.first_id == take.take_id)
    whole = Origin((), ()) if receipt.entry is None else of.origins.get(receipt.entry.id, Origin((), ()))
    held = min(take.grams, receipt.grams)
    origin = whole.part(held)
    if take.grams > held:  # the receipt was corrected since, or taken out of the book
        origin = Origin(origin.known, (*origin.unknown, (Why.GONE, take.grams - held)))
    return InLot(of.farm, receipt, take, origin)


def _source(farm: Farm, block: str, own: tuple[Plot, ...], shares: Sequence[Share]) -> Source:
    days = sorted({each.day for each in shares})
    return Source(farm, block, own, days[0], days[-1], len(days), sum(each.grams for each in shares))


def statement(seen: LotSeen, net_grams: int | None, buyer: str, closed: datetime | None) -> dict[str, Any]:
    """What can be stated of a lot, as plain data for JSON: it is kept when the lot is closed, and changes no more."""
    days = [day for each in seen.sources for day in (each.first, each.last)]
    return {
        "lot": seen.lot.name,
        "product": seen.lot.product,
        "buyer": buyer,
        "closed_at": None if closed is None else closed.isoformat(timespec="minutes"),
        "net_kg": None if net_grams is None else kg(net_grams),
        "received_kg": kg(seen.grams),
        "known_origin_kg": kg(seen.known_grams),
        "unknown_origin_kg": kg(seen.unknown_grams),
        "mixed_with_unknown_origin": seen.mixed,
        "countries": sorted({each for source in seen.sources if (each := country(source.farm)) is not None}),
        "first_tapping_day": min(days).isoformat() if days else None,
        "last_tapping_day": max(days).isoformat() if days else None,
        "sources": [_stated(each) for each in seen.sources],
        "unknown": [{"what": what, "kg": kg(grams)} for what, grams in seen.unknown],
        "receipts": [_receipt(each) for each in seen.parts],
        "bales": _baled(seen.bales),
        "bales_kg": kg(seen.bale_grams),
        "not_proven": list(NOT_PROVEN),
    }


def _stated(source: Source) -> dict[str, Any]:
    return {
        "farm": source.farm.name,
        "country": country(source.farm),
        "block": source.block,
        "plots": [
            {"name": each.name, "hectares": hectares(each.square_metres), "geometry": written(each.shape)}
            for each in source.plots
        ],
        "first_tapping_day": source.first.isoformat(),
        "last_tapping_day": source.last.isoformat(),
        "tapping_days": source.days,
        "kg": kg(source.grams),
    }


def _receipt(part: InLot) -> dict[str, Any]:
    entry = part.receipt.entry
    return {
        "farm": part.farm.name,
        "receipt": part.receipt.number,
        "day": None if entry is None or entry.record.day is None else entry.record.day.isoformat(),
        "sheets": None if entry is None else entry.record.sheets,
        "grade": None if entry is None else entry.record.grade,
        "kg": kg(part.take.grams),
    }


def _baled(bales: Sequence[LotBales]) -> list[dict[str, Any]]:
    """Bales of one store, grade and weight stand together, with the first and the last day of their pressing."""
    alike: dict[tuple[str, Bale], list[LotBales]] = {}
    for each in bales:
        alike.setdefault((each.cooperative, each.bale), []).append(each)
    return [
        {
            "cooperative": cooperative,
            "grade": bale.kind,
            "bale_kg": kg(bale.grams),
            "pieces": sum(each.pieces for each in own),
            "kg": kg(sum(each.grams for each in own)),
            "pressed_first": min(each.pressed_first for each in own).isoformat(),
            "pressed_last": max(each.pressed_last for each in own).isoformat(),
        }
        for (cooperative, bale), own in alike.items()
    ]


def check_bales(seen: LotSeen) -> None:
    """Mass balance: bales weigh no more than what was put into the lot and was taken when they were pressed. Raises LotRefused."""
    for pressed in sorted({each.pressed_last for each in seen.bales}, reverse=True):
        baled = sum(each.grams for each in seen.bales if each.pressed_last <= pressed)
        later_takes = sum(each.take.grams for each in seen.parts if _day(each) > pressed)
        over = baled - (seen.grams - later_takes)
        if over > 0:
            after = f", of which {kg(later_takes)} kg were taken after these were pressed" if later_takes else ""
            raise LotRefused(
                f"Its bales weigh {kg(baled)} kg, {kg(over)} kg more than its receipts give ({kg(seen.grams)} kg{after}): a lot "
                "cannot hold more than its plots gave. Put the receipts that are missing into it first."
            )


def _day(part: InLot) -> date:
    entry = part.receipt.entry
    return date.min if entry is None or entry.record.day is None else entry.record.day


def close(tx: Transaction, lot: Lot, net_grams: int | None, buyer: str | None, *, at: datetime) -> LotSeen:
    """Close a lot at its net mass, or at what its bales weigh; these leave the store with it.

    Raises LotRefused where it is empty, would hold more than was put into it, or has bales that the store has not.
    """
    lots.hold(tx, lot)
    seen = look(tx, lot)
    if net_grams is None:
        if not seen.bales:
            raise LotRefused(f"The lot {lot.name} has no bales: say what it weighed with --kg.")
        net_grams = seen.bale_grams
    check_bales(seen)
    if not seen.grams:
        raise LotRefused(f"The lot {lot.name} is empty: put receipts into it first.")
    if net_grams > seen.grams:
        over = net_grams - seen.grams
        raise LotRefused(
            f"{kg(net_grams)} kg are {kg(over)} kg more than its receipts: a lot cannot hold more than was put into it. "
            "Put the receipt that is missing into it, or the difference with --unknown-kg, or weigh again."
        )
    for cooperative_id in dict.fromkeys(each.cooperative_id for each in seen.bales):
        zone = ZoneInfo(cooperatives.cooperative(tx, cooperative_id).timezone)
        lot_bales.leave(tx, lot, cooperative_id, at.astimezone(zone).date())
    named = lot.buyer if buyer is None else buyer
    lots.close(tx, lot, net_grams, named, statement(seen, net_grams, named, at), at=at)
    return seen


def changed_since(seen: LotSeen) -> bool:
    """Whether the books say something else of a closed lot now than was stated of it."""
    if seen.lot.statement is None:
        return False
    now = statement(seen, seen.lot.net_grams, seen.lot.buyer, seen.lot.closed_at)
    return any(now[key] != seen.lot.statement.get(key) for key in ("sources", "unknown", "receipts"))


def said(seen: LotSeen) -> Mapping[str, Any]:
    """What is stated of a lot: what was kept when it was closed, or for an open one what the books say now."""
    return seen.lot.statement or statement(seen, None, seen.lot.buyer, None)


def kg(grams: int) -> str:
    """Grams as kilos with three decimals."""
    return f"{Decimal(grams) / 1000:.3f}"

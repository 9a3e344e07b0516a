"""A farm whose book holds something for every part of every page, whose owner has a language of his own."""

import re
from collections.abc import Mapping
from datetime import timedelta
from decimal import Decimal

from bot.books import cooperatives, entries, farms, lots, payouts, people, plots
from bot.carriers.practice import text_as
from bot.reckon import payouts as reckoned
from bot.rubber.geojson import features, point
from bot.talk import proof
from parsers.reading import Role, What
from tests.pages.conftest import NOW, OWNER, START, TAPPER, House

COLLECTOR = "+447700900404"

#: The border of a plot, as GeoJSON.
BORDER = (
    '{"type": "Polygon", "coordinates": [[[100.500000, 7.000000], [100.500905, 7.000000], '
    "[100.500905, 7.000904], [100.500000, 7.000000]]]}"
)

#: How an owner asks for other terms of pay.
TERMS: Mapping[str, str] = {
    "en": "pay all 0.50 per kg",
    "fr": "paie tous 0.50 le kg",
    "id": "gaji semua 0.50 per kg",
    "th": "ค่าแรง ทั้งหมด 0.50 ต่อกก.",
    "vi": "lương tất cả 0.50 mỗi kg",
    "es": "pago todos 0.50 por kg",
}


def fill(house: House, language: str) -> None:
    """Forty days of texts, with what is rare among them; his change of the terms of pay still waits for his PIN."""

    def text(day: int, words: str, number: str = TAPPER) -> str:
        at = NOW + timedelta(days=day)
        return text_as(house.books, number, words, at, message_id=f"{day} {words}").text or ""

    _settle_in(house)
    text(-40, "pay all 0.40 per kg", OWNER)
    text(-39, "block 3 bark 44,5 cm")
    for day in range(-38, -2, 2):
        text(day, "block 3 18 litres rain" if day % 6 == 0 else "block 3 18.5 litres drc 31")
        text(day + 1, "rolled 12 sheets")
        if day > -20:
            text(day + 1, f"dry sheets 12 pcs {5.8 + day / 100:.2f} kg")
    text(-10, f"advance {house.tapper.name} 4", OWNER)
    due = re.search(r"settle ([\d.]+)", text(-9, "pay due?", OWNER))
    assert due is not None
    text(-9, f"settle {due[1]}", OWNER)
    text(-8, "28 feb block 3 was 19 not 18")
    text(-6, "block 5 stimulated")
    text(-5, "block 5 no tapping sick")
    text(-4, "2 litres of acid left")
    text(-3, "lump 3.35 kg")
    text(-3, f"bonus {house.tapper.name} 3", OWNER)
    text(-3, "block 3 bark 42 cm")
    text(-2, "Heron Hill 12 sheets 5.6 kg rss3 1.55", COLLECTOR)
    text(-2, "block 3 17 litres")
    text(-2, "sorry 18 not 17")
    text(-1, "block 5 21 litres")
    text(-1, f"{house.tapper.name} block 3 dry trees 2", OWNER)
    text(-1, "block 3 1 litre")
    _take_out_the_last(house)
    _give_land(house)
    text(0, "block 3 19 litres")
    text(0, "block 5 no tapping rain")
    with house.books.transaction() as tx:
        people.set_language(tx, house.owner.id, language)
    text(0, "pin 4821", OWNER)
    text(0, TERMS[language], OWNER)
    _sell_through_cooperatives(house)
    with house.books.transaction() as tx:
        assert proof.waiting_in_words(tx, house.owner.id, house.farm.id, NOW) is not None


def _give_land(house: House) -> None:
    """A block with a plot whose border was walked, one with a plot of one point, and a lot that holds a take."""
    with house.books.transaction() as tx:
        blocks = farms.blocks(tx, house.farm.id)
        farms.set_block_area(tx, blocks["3"].id, Decimal(3))
        square = features(BORDER)[0].shape
        plots.add(tx, house.farm.id, blocks["3"].id, "3", square, 20_000, at=NOW)
        plots.add(tx, house.farm.id, blocks["3"].id, "3b", point("7.020000", "100.500000"), 10_000, at=NOW)
        take = next(e for e in entries.standing(tx, house.farm.id) if e.record.what is What.COLLECTED)
        lot = lots.new(tx, "A 1", "RSS", "", at=NOW)
        lots.add_take(tx, lot, house.farm.id, take.id, 5600, 5600, at=NOW)


def _sell_through_cooperatives(house: House) -> None:
    """A cooperative whose pay-out left something to be carried over, and the one that the farm went to after it."""
    with house.books.transaction() as tx:
        message = entries.standing(tx, house.farm.id)[-1].message_id
        for name in ("Stone Creek", "Tall Reeds"):
            found = cooperatives.add(
                tx, name=name, timezone="Asia/Bangkok", currency="USD", language="en", closing_hour=19, at=START
            )
            cooperatives.add_farm(tx, found.id, house.farm.id)
            if name == "Stone Creek":
                own = {"day": NOW.date(), "at": NOW, "message_id": message}
                payouts.add_money(tx, found.id, house.farm.id, kind="advance", amount=Decimal(7), note="", **own)
                reckoned.close(tx, found, reckoned.owed(tx, found, house.farm.id), **own)


def _take_out_the_last(house: House) -> None:
    with house.books.transaction() as tx:
        last = entries.standing(tx, house.farm.id)[-1]
        entries.remove(tx, last.id, message_id=last.message_id, at=NOW)


def _settle_in(house: House) -> None:
    """A collector, two tappers who never text, one of whom wants no texts and lost his phone, and a system of tapping."""
    members = (
        ("Gus", COLLECTOR, Role.COLLECTOR),
        ("Mira", "+447700900406", Role.TAPPER),
        ("Kaimo", "+447700900405", Role.TAPPER),
    )
    with house.books.transaction() as tx:
        for name, number, role in members:
            person = people.enrol(
                tx,
                name=name,
                number=number,
                language="en",
                farm_id=house.farm.id,
                role=role,
                blocks=("5",) if role is Role.TAPPER else (),
                at=START,
                message_id=None,
            ).person
        people.opt_out(tx, person.id, NOW)
        people.block(tx, person.id, NOW)
        for setting, value in (("tapping", "S/2 d3 6d/7"), ("tapping_from", "2026-01-05"), ("rest_weekday", 6)):
            farms.change_setting(tx, house.farm.id, setting, value, at=START, message_id=None)


def addresses(house: House) -> list[str]:
    """Every page of the farm."""
    with house.books.transaction() as tx:
        standing = entries.standing(tx, house.farm.id)
    latex = next(each for each in reversed(standing) if each.computed)
    sheets = next(each for each in standing if each.record.what is What.SHEETS_DRY)
    take = next(each for each in standing if each.record.what is What.COLLECTED)
    paths = [
        "",
        "?of=2026-02-25",
        "?of=2026-03-20",
        "?after=50",
        "/block/3",
        "/block/5",
        "/chain",
        "/stock",
        "/plots",
        "/pay",
    ]
    paths += ["/papers", "/settings", "/waiting", f"/tapper/{house.tapper.id}", f"/why/{latex.id}"]
    paths += [f"/entry/{each.id}" for each in (latex, sheets, take)]
    return [house.link + path for path in paths]


def closed_addresses(house: House) -> list[str]:
    """Addresses that open nothing, whose page says why."""
    paths = ("?of=x", "?of=0001-01-01", "?after=x", "/block/99", "/why/x", "/entry/x", "/papers/month.pdf?from=x")
    more = (
        "/papers/x.pdf",
        "/papers/month.x",
        "/papers/month.pdf?paper=a9",
        "/papers/day-book.csv?from=2026-03-02&to=2026-03-01",
    )
    return [house.link + path for path in (*paths, *more)]

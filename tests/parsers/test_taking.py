"""What a collector says of each lot: forms, tare, moisture, age, reasons, and whose it is."""

from datetime import datetime
from decimal import Decimal

import pytest

import parsers
from parsers import taking
from parsers.reading import Role, Setting
from parsers.taking import Lot

FARMS = ("Ama Ridge", "Yaw Hollow", "Esi Bend", "Kofi")


def lots(text: str, language: str = "en") -> tuple[Lot, ...]:
    setting = Setting({}, Role.COLLECTOR, (), language, datetime.fromisoformat("2026-03-18T09:00"), farms=FARMS)
    return taking.lots(parsers.facts_of(text, setting), setting)


@pytest.mark.parametrize(
    ("text", "form", "kg", "litres"),
    [
        ("took 24 sheets 19.2 kg rss3 from Kofi", "sheets", "19.2", None),
        ("took 40 litres latex drc 32 from Kofi", "latex", None, "40"),
        ("33 kg latex drc 31 Kofi", "latex", "33", None),
        ("latex 33 kg Kofi", "latex", "33", None),
        ("30 kg lump from Kofi", "lump", "30", None),
        ("lump 30 kg from Kofi", "lump", "30", None),
    ],
)
def test_a_lot_has_its_form(text: str, form: str, kg: str | None, litres: str | None) -> None:
    (lot,) = lots(text)

    assert (lot.form, lot.record.kg, lot.record.litres, lot.record.farm) == (
        form,
        None if kg is None else Decimal(kg),
        None if litres is None else Decimal(litres),
        "Kofi",
    )


@pytest.mark.parametrize(
    ("text", "net", "tare"),
    [
        ("31.5 kg lump tare 1.5 kg from Kofi", "30.0", "1.5"),
        ("31.5 kg lump tare 1.5 from Kofi", "30.0", "1.5"),
        ("31.5 kg lump less 1.5 kg sack from Kofi", "30.0", "1.5"),
        ("31.5 kg lump 1.5 kg bag Kofi 0.7", "30.0", "1.5"),
        ("30 kg lump from Kofi", "30", None),
    ],
)
def test_a_tare_is_taken_off_and_is_no_second_lot(text: str, net: str, tare: str | None) -> None:
    (lot,) = lots(text)

    assert (lot.record.kg, lot.tare_kg) == (Decimal(net), None if tare is None else Decimal(tare))


@pytest.mark.parametrize(
    ("text", "moisture", "drc", "notes"),
    [
        ("30 kg lump moisture 40% Kofi", "40", None, ()),
        ("30 kg lump 40% Kofi", "40", None, ()),
        ("30 kg lump drc 60 Kofi", None, "60", ()),
        ("12 sheets 6.1 kg rss4 (mould, wet 3%) Kofi", "3", None, ("mould",)),
        ("12 sheets 6.1 kg rss4 wet Kofi", None, None, ("moisture",)),
        ("12 sheets 6.1 kg rss4 dark bubbles dirty Kofi", None, None, ("bubbles", "dirt", "colour")),
    ],
)
def test_water_and_reasons(text: str, moisture: str | None, drc: str | None, notes: tuple[str, ...]) -> None:
    (lot,) = lots(text)

    assert lot.moisture == (None if moisture is None else Decimal(moisture))
    assert lot.record.drc == (None if drc is None else Decimal(drc))
    assert lot.notes == notes


def test_the_age_of_a_lump_is_no_day_and_no_price() -> None:
    (lot,) = lots("30 kg lump 5 days old from Kofi")

    assert (lot.age_days, lot.record.price) == (5, None)


def test_a_dry_content_that_cannot_be_makes_the_lot_unclear_and_is_no_price() -> None:
    (lot,) = lots("30 l latex drc 132 from Kofi")

    assert (lot.unclear, lot.record.price) == (True, None)


@pytest.mark.parametrize(
    ("text", "farms"),
    [
        ("24 sheets 11.8 kg rss3 from Ama rige, 10 sheets 4 kg rss4 from Bob Stone", ["Ama rige", "Bob Stone"]),
        ("24 sheets 11.8 kg rss3 mould from Ama Ridge, 10 sheets 4 kg from yaw holow", ["Ama Ridge", "yaw holow"]),
        ("Kofi 24 sheets 11.8 kg\nEsi bend 10 sheets 4 kg\nZed 3 sheets 1 kg", ["Kofi", "Esi Bend", "Zed"]),
        ("24 sheets 11.8 kg rss3 and 10 sheets 4 kg rss4 from Kofi", ["Kofi", "Kofi"]),
        ("24 sheets 11.8 kg rss3", [None]),
    ],
)
def test_each_lot_has_its_farm_and_an_unknown_name_is_nobody_elses(text: str, farms: list[str | None]) -> None:
    assert [(lot.record.farm or "").casefold() for lot in lots(text)] == [(name or "").casefold() for name in farms]


def test_several_lots_keep_their_own_figures() -> None:
    sheets, latex, lump = lots(
        "took 24 sheets 19.2 kg rss3 1.55 from Ama Ridge, 14 l latex drc 32 from Esi Bend, 30 kg lump moisture 40% from Kofi tare 2"
    )

    assert (sheets.record.grade, sheets.record.price, sheets.moisture) == ("RSS3", Decimal("1.55"), None)
    assert (latex.record.drc, latex.tare_kg, latex.moisture) == (Decimal(32), None, None)
    assert (lump.record.kg, lump.moisture, lump.tare_kg) == (Decimal(28), Decimal(40), Decimal(2))


@pytest.mark.parametrize("text", ["", "hello", "at lower gate", "ready", "thanks Kofi"])
def test_a_text_without_weights_has_no_lots(text: str) -> None:
    assert lots(text) == ()

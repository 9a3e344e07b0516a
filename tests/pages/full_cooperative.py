"""A cooperative whose books hold something for every part of every page of its manager, who has a language of his own."""

import re
from dataclasses import dataclass
from datetime import UTC, datetime
from decimal import Decimal
from pathlib import Path

from flask import Flask
from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from bot.app import create_app
from bot.books import cooperatives, lot_bales, lots, people
from bot.books.storeroom import Bale
from bot.pages import links
from bot.settings import Settings
from tests.talk.cooperative import AMA, ESI, HANA, MUSA, Cooperative, opened

#: 18:00 at the farms, on the collecting day.
NOW = datetime(2026, 3, 18, 11, 0, tzinfo=UTC)


@dataclass(frozen=True)
class Office:
    """A cooperative after a morning's round, and the application over its books."""

    hills: Cooperative
    settings: Settings
    app: Flask

    @property
    def client(self) -> FlaskClient:
        return self.app.test_client()

    @property
    def link(self) -> str:
        return links.cooperative_path(self.settings, self.hills.cooperative.id, self.hills.hana.id)

    def page(self, path: str = "") -> str:
        return self.client.get(self.link + path).get_data(as_text=True)

    def post(self, path: str, **form: str) -> TestResponse:
        key = re.findall(r'name="key" value="([^"]+)"', self.page())[0]
        return self.client.post(self.link + path, data={"key": key, **form}, headers={"Sec-Fetch-Site": "same-origin"})


def office_of(folder: Path) -> Office:
    """After a morning: two lots taken, one without a price, one in dispute, and a farm that was not visited."""
    hills = Cooperative(opened(folder))
    settings = Settings(folder / "books.sqlite", demonstration=True, link_key="a key for the test")
    hills.rolled(AMA, 24, "12.1", day=-20)
    hills.rolled(ESI, 9, day=-15)
    hills.text("at 1", hour=9)
    hills.text("took 24 sheets 11.8 kg rss3 mould from Ama, 10 sheets 5 kg rss2 from Yaw", hour=9.1)
    hills.text("1001 it was <b>12.4</b> kg", AMA, hour=10)
    return Office(hills, settings, create_app(settings, hills.books, lambda: NOW))


def fill(office: Office, language: str) -> None:
    """Money of every kind, open, taken back and closed; and the manager's language."""
    hills = office.hills
    for text in ("levy 2%", "advance 50 Yaw Hollow", "acid 2 litres 3.2 Yaw Hollow", "advance 5 Ama Ridge"):
        hills.text(text, HANA, hour=10.5)
    for text in ("pay out Ama Ridge 12.92", "pay out Yaw Hollow 0", "cancel advance Ama Ridge", "tools 4 Ama Ridge"):
        hills.text(text, HANA, hour=10.6)
    hills.text("took 4 sheets 2 kg rss3 from Ama", MUSA, hour=11)
    hills.text("set 1001 12 kg", HANA, hour=11.1)
    hills.text("1001 it was 12.4 kg", AMA, hour=11.2)
    hills.text("nobody at Esi Bend", MUSA, hour=11.2)
    for text in ("bales 1 rss3 10 kg", "counted 3 kg rss3", "store out 1 kg rss2"):
        hills.text(text, HANA, hour=11.3)
    with hills.books.transaction() as tx:
        people.set_language(tx, hills.hana.id, language)
        lot, bale = lots.new(tx, "C 1", "RSS", "", at=NOW), Bale("RSS3", Decimal(10))
        valley = cooperatives.add(
            tx, name="Tall Reeds", timezone="Asia/Bangkok", currency="USD", language="en", closing_hour=19, at=NOW
        )
        cooperatives.add_manager(tx, valley.id, hills.hana.id, NOW)
        lot_bales.add(tx, lot, hills.cooperative.id, bale, 1, day=NOW.date(), at=NOW)


def pages(office: Office) -> dict[str, str]:
    """Every page of the manager by its address, with what refused forms say."""
    hills = office.hills
    paths = ["", "?of=2026-03-17", "/grades", "/store", "/money", f"/money/{hills.ama.id}", f"/money/{hills.yaw.id}"]
    found = {path: office.page(path) for path in paths}
    for path, form in (
        ("/price", {"kind": "rss3", "price": "much"}),
        ("/price", {"kind": "!", "price": "1"}),
        ("/price", {"kind": "rss3", "price": "-1"}),
        ("/money/off", {"farm": "x", "kind": "advance", "amount": "1"}),
        ("/money/back", {"farm": hills.ama.id, "line": "x"}),
        ("/money/pay-out", {"farm": "", "total": "1"}),
        ("/money/levy", {"percent": "200"}),
    ):
        found[f"{path} {form}"] = office.post(path, **form).get_data(as_text=True)
    return found

"""An invented cooperative for tests: three farms, two places, a collector with rounds, a manager, and prices of the day."""

from datetime import UTC, datetime, timedelta
from decimal import Decimal
from pathlib import Path

from bot.books import Books, cooperatives, entries, farms, outbox, people, places
from bot.books.model import Entry, Farm
from bot.talk.answer import answer
from bot.talk.exchange import Answer, Incoming
from bot.talk.house import PLAIN, House
from parsers.reading import Block, Role

#: A Wednesday, 10:00 at the farms.
START = datetime(2026, 3, 18, 3, 0, tzinfo=UTC)
MUSA, HANA, AMA, YAW, ESI, TOBIN = (f"+4477009001{n:02}" for n in range(1, 7))
ABU = "+447700900120"


class Cooperative:
    """Three Hills: Ama Ridge and Yaw Hollow bring to Lower Gate, Esi Bend to River Landing."""

    def __init__(self, books: Books, currency: str = "USD", house: House = PLAIN) -> None:
        self.books, self.n, self.house = books, 0, house
        with books.transaction() as tx:
            self.cooperative = cooperatives.add(
                tx,
                name="Three Hills",
                timezone="Asia/Bangkok",
                currency=currency,
                language="en",
                closing_hour=19,
                at=START,
            )
            self.ama, self.yaw, self.esi = (
                self._farm(tx, name, currency, sells)
                for name, sells in (
                    ("Ama Ridge", "sheets"),
                    ("Yaw Hollow", "sheets lump"),
                    ("Esi Bend", "sheets latex"),
                )
            )
            who = {"at": START, "message_id": None}
            for farm, owner, number, language in (
                (self.ama, "Ama", AMA, "en"),
                (self.yaw, "Yaw", YAW, "fr"),
                (self.esi, "Esi", ESI, "id"),
            ):
                own = {"number": number, "language": language, "role": Role.OWNER, "blocks": ()}
                people.enrol(tx, name=owner, farm_id=farm.id, **own, **who)
                people.enrol(
                    tx, name="Musa", number=MUSA, language="en", farm_id=farm.id, role=Role.COLLECTOR, blocks=(), **who
                )
            tobin = {"number": TOBIN, "language": "th", "role": Role.TAPPER, "blocks": ("1",)}
            people.enrol(tx, name="Tobin", farm_id=self.ama.id, **tobin, **who)
            hana = people.known_as(tx, name="Hana", number=HANA, language="en", at=START)
            cooperatives.add_manager(tx, self.cooperative.id, hana.id, START)
            gate = places.set_place(
                tx,
                self.cooperative.id,
                name="Lower Gate",
                number=1,
                opens="06:00",
                closes="12:00",
                farm_ids=[self.ama.id, self.yaw.id],
            )
            landing = places.set_place(tx, self.cooperative.id, name="River Landing", number=2, farm_ids=[self.esi.id])
            musa = people.person_by_number(tx, MUSA)
            assert musa is not None
            self.musa, self.hana, self.gate, self.landing = musa, hana, gate, landing
            places.set_round(tx, musa.id, 2, [gate.id, landing.id])
            for kind, price in (("RSS3", "1.55"), ("latex", "1.2"), ("lump", "0.8")):
                self.price(kind, price, tx=tx)

    def _farm(self, tx: object, name: str, currency: str, sells: str) -> Farm:
        farm = farms.add_farm(
            tx,  # type: ignore[arg-type]
            name=name,
            timezone="Asia/Bangkok",
            currency=currency,
            language="en",
            blocks={"1": Block(300, Decimal(18)), "2": Block(260, Decimal(15))},
            containers={},
            settings={"sells": sells},
            at=START,
        )
        cooperatives.add_farm(tx, self.cooperative.id, farm.id)  # type: ignore[arg-type]
        return farm

    def price(self, kind: str, price: str, *, tx: object = None, day: int = -30) -> None:
        """A price of the day, from so many days on."""
        what = {"day": (START + timedelta(days=day)).date(), "at": START, "message_id": None}
        if tx is not None:
            cooperatives.set_price(tx, self.cooperative.id, kind, Decimal(price), **what)  # type: ignore[arg-type]
            return
        with self.books.transaction() as own:
            cooperatives.set_price(own, self.cooperative.id, kind, Decimal(price), **what)  # type: ignore[arg-type]

    def text(
        self, text: str, number: str = MUSA, *, day: int = 0, hour: float | None = None, id_: str | None = None,
        arrived: datetime | None = None,
    ) -> Answer:  # fmt: skip
        """A text sent on a day, at an hour of the farms' clock (or a minute after the last one)."""
        self.n += 1
        at = START + timedelta(days=day, minutes=self.n) if hour is None else self.at(day, hour)
        came = arrived or at
        incoming = Incoming(id_ or f"c{self.n}", number, text, at, came, "practice")
        return answer(self.books, incoming, came, self.house)

    def at(self, day: int, hour: float) -> datetime:
        """An hour of the farms' clock on a day."""
        return START.replace(hour=0) + timedelta(days=day, hours=hour - 7)

    def told(self, number: str) -> list[str]:
        """What somebody was told beside answers, in order."""
        with self.books.transaction() as tx:
            found = outbox.listing(tx, START - timedelta(days=90), START + timedelta(days=90))
        return [each.text for each in found if each.to == number]

    def book(self, farm: Farm) -> list[Entry]:
        """What stands at a farm of takes."""
        with self.books.transaction() as tx:
            return [each for each in entries.standing(tx, farm.id) if each.record.what.value == "collected"]

    def rolled(self, number: str, sheets: int, kg: str | None = None, *, day: int) -> None:
        """Sheets rolled on a day, and weighed dry at home three days later where kg is given."""
        self.text(f"rolled {sheets} sheets", number, day=day)
        if kg is not None:
            self.text(f"dry sheets {sheets} pcs {kg} kg", number, day=day + 3)


def opened(folder: Path) -> Books:
    """Empty books."""
    from bot.books import open_books

    return open_books(folder / "books.sqlite")

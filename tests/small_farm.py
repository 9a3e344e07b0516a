"""A farm of two blocks with two tappers, an owner and a collector, whose people text on days of their choice."""

from collections.abc import Mapping
from datetime import UTC, date, datetime
from decimal import Decimal
from pathlib import Path

from bot.books import farms, open_books, people
from bot.talk.answer import answer
from bot.talk.exchange import Answer, Incoming
from parsers.reading import Block, Role

OWNER, KOFI, AMA, GUS = "+447700900101", "+447700900102", "+447700900103", "+447700900104"


class SmallFarm:
    """Hill Farm: block 1 (300 trees, 18 litres) is Kofi's, block 2 (280 trees, 16 litres) Ama's, Efua owns, Gus collects."""

    def __init__(
        self,
        folder: Path,
        *,
        language: str = "en",
        settings: Mapping[str, object] | None = None,
        began: datetime = datetime(2024, 1, 1, tzinfo=UTC),
    ) -> None:
        self.books, self.texts = open_books(folder / "books.sqlite"), 0
        with self.books.transaction() as tx:
            self.farm = farms.add_farm(
                tx,
                name="Hill Farm",
                timezone="UTC",
                currency="USD",
                language=language,
                blocks={"1": Block(300, Decimal(18)), "2": Block(280, Decimal(16))},
                containers={},
                settings=dict(settings or {}),
                at=began,
            )
            for name, number, role, blocks in (
                ("Kofi", KOFI, Role.TAPPER, ("1",)),
                ("Ama", AMA, Role.TAPPER, ("2",)),
                ("Efua", OWNER, Role.OWNER, ()),
                ("Gus", GUS, Role.COLLECTOR, ()),
            ):
                who = {"name": name, "number": number, "role": role, "blocks": blocks, "language": language}
                people.enrol(tx, farm_id=self.farm.id, at=began, message_id=None, **who)

    def text(self, number: str, day: date, words: str, hour: int = 10) -> Answer:
        """Somebody's text at an hour of a day, and what the bot answers."""
        self.texts += 1
        at = datetime(day.year, day.month, day.day, hour, self.texts % 60, tzinfo=UTC)
        return answer(self.books, Incoming(f"t{self.texts}", number, words, at, at, "practice"), at)

    def said(self, number: str, day: date, words: str, hour: int = 10) -> str:
        """What the bot answers; empty where it keeps silent."""
        return self.text(number, day, words, hour).text or ""

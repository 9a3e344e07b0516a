"""The house as the world sees it: a gateway's three doors, signed; due jobs by an injected clock; pages by signed links."""

import json
import tempfile
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

from bot.app import create_app, house_of
from bot.books import Books, open_books
from bot.carriers.signing import signed_headers
from bot.jobs import run_due
from bot.settings import Settings
from tests.season.cooperative import FIRST, moment

#: Where there is memory that can be used as a folder.
MEMORY = Path("/dev/shm")

PUBLIC, SECRET = "https://bot.example.org", "0123456789abcdef" * 4
MOST = 50


@contextmanager
def a_folder(*, on_disk: bool = False) -> Iterator[Path]:
    """A folder for books that are gone afterwards: in memory where that can be, since each text waits for the disk.

    (What the disk does when the power goes is tried in `tests/faults`.)
    """
    where = None if on_disk or not MEMORY.is_dir() else MEMORY
    with tempfile.TemporaryDirectory(dir=where) as folder:
        yield Path(folder)


@dataclass
class House:
    """The application over books in a folder, with its clock in our hands.

    The limits of pace count by the machine's own clock, which a season in minutes outruns: they are off.
    """

    folder: Path
    now: datetime = field(default_factory=lambda: moment(FIRST, 0))
    came: Counter[str] = field(default_factory=Counter)
    calls: int = 0
    fetched: set[str] = field(default_factory=set)
    parts_out: int = 0
    faults: list[str] = field(default_factory=list)
    alarms: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.books: Books = open_books(self.folder / "books.sqlite")
        self.settings = Settings(
            self.folder / "books.sqlite",
            public_url=PUBLIC,
            gateway_keys={"office": SECRET},
            link_key="a key for the season",
            texts_per_hour=0,
            texts_per_minute=0,
        )
        self.app = create_app(self.settings, self.books, lambda: self.now)
        self.client = self.app.test_client()

    def close(self) -> None:
        """Close the books."""
        self.books.close()

    def text(self, text_id: str, number: str, body: str, sent: datetime | None) -> dict[str, Any]:
        """A text comes in by the gateway; what it is told."""
        fields: dict[str, Any] = {"id": text_id, "from": number, "text": body}
        if sent is not None:
            fields["sent"] = sent.isoformat()
        found = self._call("texts", fields)
        self.came["repeat" if found["repeat"] else found["outcome"]] += 1
        self.parts_out += 0 if found["repeat"] else found["parts"]
        return found

    def due(self) -> None:
        """The due jobs of this moment."""
        found = run_due(self.books, self.now, None, house_of(self.settings))
        self.alarms += found.alarms

    def fetch(self, *, loses: bool = False) -> list[tuple[str, str]]:
        """The gateway fetches all that waits and says that it went out; with `loses` its first answer never came."""
        if loses:
            self._call("fetch", {"most": MOST})
        going: list[tuple[str, str]] = []
        again = loses
        while texts := self._call("fetch", {"most": MOST, "again": again})["texts"]:
            again = False
            for each in texts:
                if each["id"] in self.fetched:
                    self.faults.append(f"{each['id']} to {each['to']} was given twice")
                self.fetched.add(each["id"])
                self.parts_out += each["parts"]
                going.append((each["to"], each["text"]))
            self._call("receipts", {"receipts": [{"id": each["id"], "state": "sent"} for each in texts]})
        return going

    def open(self, address: str) -> str:
        """A page as its owner's phone opens it."""
        got = self.client.get(urlsplit(address).path, follow_redirects=True)
        if got.status_code != 200:
            self.faults.append(f"{address} is {got.status_code}")
        return got.get_data(as_text=True)

    def _call(self, door: str, fields: dict[str, Any]) -> dict[str, Any]:
        self.calls += 1
        path = f"/carrier/gateway/{door}"
        body = json.dumps(fields).encode()
        headers = signed_headers("office", SECRET, "POST", path, body, self.now)
        got = self.client.post(path, data=body, content_type="application/json", headers=headers)
        if got.status_code != 200:
            raise AssertionError(f"{door} {fields}: {got.status_code} {got.get_data(as_text=True)}")
        found = got.get_json()
        assert isinstance(found, dict)
        return found

"""A modem daemon's spool as the tests see it, a daemon played by the test, and a tapping log that serves on this machine."""

import importlib.util
import os
import re
import sys
import threading
import time
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from types import ModuleType

from werkzeug.serving import make_server

from bot.app import create_app
from bot.books import Books
from bot.settings import Settings

PROGRAM = Path(__file__).parents[2] / "deploy" / "modem_gateway.py"
SECRET = "0123456789abcdef" * 4
FOLDERS = ("inbox", "outbox", "sent", "error")
BEFORE = 10  # seconds; a file of that age is not being written


def program() -> ModuleType:
    """The program as a module, so that a test can stop it anywhere."""
    spec = importlib.util.spec_from_file_location("modem_gateway", PROGRAM)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules["modem_gateway"] = module
    spec.loader.exec_module(module)
    return module


@dataclass
class Modem:
    """The daemon and its modem. `sent` counts what went out: number and words."""

    spool: Path
    sent: Counter[tuple[str, str]] = field(default_factory=Counter)

    @classmethod
    def made(cls, spool: Path) -> "Modem":
        for name in FOLDERS:
            (spool / name).mkdir(parents=True)
        return cls(spool)

    def receive(self, number: str, text: str, *, at: datetime, serial: int = 0, fresh: bool = False) -> None:
        """A text comes in: its parts of 67 letters lie in the inbox as gammu-smsd 1.42.0 writes them."""
        for part in range(0, max(1, len(text)), 67):
            name = f"IN{at:%Y%m%d_%H%M%S}_{serial:02}_{number}_{part // 67:02}.txt"
            file = self.spool / "inbox" / name
            file.write_bytes(b"\xfe\xff" + text[part : part + 67].encode("utf-16-be") + b"\x00\x00")
            if not fresh:
                os.utime(file, (time.time() - BEFORE, time.time() - BEFORE))

    def send(self, *, into: str = "sent") -> int:
        """Send what lies in the outbox, by name, as the daemon does; how many."""
        files = sorted(each for each in (self.spool / "outbox").iterdir() if each.name.startswith("OUT"))
        for file in files:
            found = re.fullmatch(r"OUT[A-Z]\d{8}_\d{6}_\d+_(\+?\d+)_[^_]*\.txt", file.name)
            assert found is not None, file.name
            if into == "sent":
                self.sent[found[1], file.read_bytes().decode("utf-16")] += 1
            file.rename(self.spool / into / file.name)
        return len(files)

    def files(self, folder: str) -> list[str]:
        return sorted(each.name for each in (self.spool / folder).iterdir())


@dataclass
class Log:
    """A tapping log that serves. `ahead` is by how much its clock is before ours; `up` whether it answers."""

    url: str
    books: Books
    ahead: timedelta = timedelta(0)


@contextmanager
def serving(books: Books, **more: object) -> Iterator[Log]:
    """A tapping log over these books, on real HTTP."""
    log = Log("", books)
    clock: Callable[[], datetime] = lambda: datetime.now(UTC) + log.ahead  # noqa: E731
    chosen = {"gateway_keys": {"office": SECRET}, "gateway_country": "GB", "texts_per_hour": 0} | more
    app = create_app(Settings(books=Path("unused"), **chosen), books, clock)  # type: ignore[arg-type]
    server = make_server("127.0.0.1", 0, app, threaded=True)
    log.url = f"http://127.0.0.1:{server.server_port}"
    thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.01})
    thread.start()
    try:
        yield log
    finally:
        server.shutdown()
        thread.join()
        server.server_close()


def environment(url: str, spool: Path, state: Path, **more: str) -> dict[str, str]:
    """What the program is set by."""
    ours = {"GATEWAY_URL": url, "GATEWAY_NAME": "office", "GATEWAY_SECRET": SECRET}
    return ours | {"GATEWAY_SPOOL": str(spool), "GATEWAY_STATE": str(state), "GATEWAY_PAUSE": "0.05"} | more

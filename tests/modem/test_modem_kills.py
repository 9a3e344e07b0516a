"""The program and the server are killed at random moments while texts come in and go out.

    KILLS=200 python -m pytest tests/modem/test_modem_kills.py -rP

Every text is entered once, and its answer and what others are told go out once.
"""

import json
import os
import signal
import subprocess
import sys
import threading
import time
from collections import Counter
from collections.abc import Iterator
from contextlib import closing, contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path
from random import Random

from bot.books import messages, open_books, outbox
from tests.faults import house
from tests.faults.running import SERVE, TOP
from tests.modem.spool import PROGRAM, SECRET, Modem, environment
from tests.whole.test_server import free_port

KILLS, SEED = int(os.environ.get("KILLS", "20")), int(os.environ.get("KILLS_SEED", "1"))
PATIENCE = 60.0


class Process:
    """A program that can be killed and started again."""

    def __init__(self, command: list[str], chosen: dict[str, str], log: Path) -> None:
        ours = {name: value for name, value in os.environ.items() if not name.startswith(("TAPPING_LOG_", "TWILIO_"))}
        self._command, self._environment, self._log = command, ours | {"TZ": "UTC"} | chosen, log
        self._process: subprocess.Popen[bytes] | None = None

    def start(self) -> None:
        with self._log.open("a") as log:
            self._process = subprocess.Popen(
                self._command, env=self._environment, cwd=TOP, stdout=log, stderr=log, process_group=0
            )

    def kill(self) -> None:
        if self._process is not None:
            os.killpg(self._process.pid, signal.SIGKILL)
            self._process.wait(timeout=30)


@contextmanager
def working(modem: Modem) -> Iterator[threading.Event]:
    """The daemon sends what lies in the outbox until the block ends."""
    stop = threading.Event()

    def work() -> None:
        while not stop.wait(0.01):
            modem.send()

    thread = threading.Thread(target=work)
    thread.start()
    try:
        yield stop
    finally:
        stop.set()
        thread.join()


def wait_for(happened: object, log: Path) -> None:
    """Until something is the case. Raises AssertionError with what the programs said when it never is."""
    end, tick = time.monotonic() + PATIENCE, threading.Event()
    while not happened():  # type: ignore[operator]
        assert time.monotonic() < end, log.read_text()[-3000:]
        tick.wait(0.01)


def test_kills_lose_nothing_and_double_nothing(tmp_path: Path) -> None:
    where, log, dice = tmp_path / "books.sqlite", tmp_path / "log", Random(SEED)
    with closing(open_books(where)) as books:
        house.furnish(books)
    modem, port = Modem.made(tmp_path / "spool"), free_port()
    serves = {"TAPPING_LOG_BOOKS": str(where), "TAPPING_LOG_GATEWAY_KEYS": f"office:{SECRET}", "PORT": str(port)}
    server = Process(SERVE, serves | {"TAPPING_LOG_TEXTS_PER_HOUR": "0"}, log)
    program = Process(
        [sys.executable, str(PROGRAM)],
        environment(f"http://127.0.0.1:{port}", modem.spool, tmp_path / "state", GATEWAY_PAUSE="0.02"),
        log,
    )
    kinds: Counter[str] = Counter()
    begun, brought = datetime.now(UTC).replace(microsecond=0), 0
    try:
        with working(modem):
            server.start(), program.start()
            for _ in range(KILLS):
                before = modem.sent.total()
                for _ in range(dice.randint(2, 6)):
                    brought += 1
                    bring(modem, brought, begun)
                wait_for(lambda before=before: modem.sent.total() > before, log)
                threading.Event().wait(dice.uniform(0, 0.15))  # so that kills meet every step
                kinds[kill(dice, server, program)] += 1
            wait_for(lambda: modem.sent.total() >= 3 * brought and settled(modem), log)
            threading.Event().wait(0.5)  # what would go out twice has time to
    finally:
        program.kill(), server.kill()
    with closing(open_books(where)) as books, books.reading() as tx:
        texts = messages.listing(tx, begun - timedelta(days=1), begun + timedelta(days=1))
        out = outbox.listing(tx, begun - timedelta(days=1), begun + timedelta(days=1))
    print(json.dumps({"kills": kinds, "texts": len(texts), "sent": modem.sent.total(), "to be sent": len(out)}))

    assert len(texts) == brought
    assert {each.kind for each in texts} == {"entered"}
    assert Counter({(each.to, each.text): 1 for each in out}) == modem.sent
    assert len(out) == 3 * brought == modem.sent.total()
    assert {each.state for each in out} == {"sent"}
    assert "Traceback" not in log.read_text()


def bring(modem: Modem, n: int, begun: datetime) -> None:
    """A collector reports what he took, never the same twice; owner and tapper are told."""
    number = house.number(n % house.FARMS, house.COLLECTOR)
    text = f"took {n % 90 + 3} sheets {5 + n / 100:.2f} kg"
    modem.receive(number, text, at=begun.replace(tzinfo=None) - timedelta(hours=1) + timedelta(seconds=n))


def settled(modem: Modem) -> bool:
    """Whether nothing lies in the spool any more."""
    return not any(modem.files(folder) for folder in ("inbox", "outbox", "sent", "error"))


def kill(dice: Random, server: Process, program: Process) -> str:
    """Kill one of them or both, and start what was killed."""
    kind = dice.choice(("program", "server", "both"))
    for name, each in (("server", server), ("program", program)):
        if kind in (name, "both"):
            each.kill()
            each.start()
    return kind

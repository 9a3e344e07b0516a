"""The real server under an open load: texts come at a fixed rate, however long answers take, as carriers send them.

    python tests/benchmarks/load.py [--rate 200] [--seconds 20] [--where postgresql://...]

Server and senders share this machine. A text's time runs from the moment at which it was to be sent, so that a server that
falls behind cannot hide it. Half of the texts are latex, a quarter are takes of a collector (with two texts to others), a
quarter are questions. Printed: what was asked for and reached, times, failures, memory of the process that answers.
"""

import argparse
import http.client
import os
import signal
import subprocess
import sys
import tempfile
import threading
from collections import Counter
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path
from queue import Empty, SimpleQueue
from time import perf_counter, sleep
from urllib.parse import urlencode

sys.path.insert(0, str(Path(__file__).parents[2]))

from twilio.request_validator import RequestValidator

from bot.books import open_books
from tests.faults import house
from tests.faults.running import SERVE, TOP
from tests.whole.test_server import free_port

TOKEN, PUBLIC, PATH = "a-token-for-the-test", "https://bot.example.org", "/carrier/twilio"
CONNECTIONS = 16

#: Texts that warm the server up and are not counted.
WARM = 200

Call = tuple[float, bytes, dict[str, str]]


def texts(count: int) -> list[tuple[bytes, dict[str, str]]]:
    """Signed calls. Each tapper texts each of his blocks for today, then for yesterday, then asks."""
    validator, made = RequestValidator(TOKEN), []
    for n in range(count):
        farm, turn = n % house.FARMS, n // house.FARMS
        block, day = turn // 4 * 2 + turn % 2 + 1, ""
        if block > house.BLOCKS:
            block, day = block - house.BLOCKS, " yesterday"
        latex = f"block {block} {14 + n % 9} litres{day}" if block <= house.BLOCKS else "acid for 22 l?"
        role, body = (
            (house.TAPPER, latex),
            (house.TAPPER, latex),
            (house.COLLECTOR, f"took {n % 90 + 5} sheets {n / 100 + 3:.2f} kg"),
            (house.TAPPER, f"acid for {n % 30 + 4} l?"),
        )[turn % 4]
        form = {"MessageSid": f"SM{n}", "From": house.number(farm, role), "To": "+447700900999", "Body": body}
        headers = {
            "X-Twilio-Signature": validator.compute_signature(PUBLIC + PATH, form),
            "Content-Type": "application/x-www-form-urlencoded",
        }
        made.append((urlencode(form).encode(), headers))
    return made


class Senders:
    """Some connections that take the next text as soon as they are free."""

    def __init__(self, port: int) -> None:
        self._port, self._calls = port, SimpleQueue[Call | None]()
        self.times: list[float] = []
        self.statuses: Counter[str] = Counter()
        self._threads = [threading.Thread(target=self._send) for _ in range(CONNECTIONS)]

    def run(self, made: list[tuple[bytes, dict[str, str]]], rate: float) -> float:
        """Send all at that rate; the seconds that it took until the last answer."""
        for thread in self._threads:
            thread.start()
        begun = perf_counter()
        for n, (body, headers) in enumerate(made):
            due = begun + n / rate
            sleep(max(0.0, due - perf_counter()))
            self._calls.put((due, body, headers))
        for _ in self._threads:
            self._calls.put(None)
        for thread in self._threads:
            thread.join()
        return perf_counter() - begun

    def _send(self) -> None:
        line = http.client.HTTPConnection("127.0.0.1", self._port, timeout=30)
        while (call := self._next()) is not None:
            due, body, headers = call
            try:
                line.request("POST", PATH, body, headers)
                answer = line.getresponse()
                answer.read()
                self.statuses[str(answer.status)] += 1
            except (OSError, http.client.HTTPException) as fault:
                self.statuses[type(fault).__name__] += 1
                line.close()
            self.times.append(1000 * (perf_counter() - due))
        line.close()

    def _next(self) -> Call | None:
        try:
            return self._calls.get(timeout=60)
        except Empty:
            return None


def memory(server: int) -> float:
    """MB that the worker of a server holds."""
    worker = Path(f"/proc/{server}/task/{server}/children").read_text().split()[0]
    status = Path(f"/proc/{worker}/status").read_text()
    return int(status.split("VmRSS:")[1].split()[0]) / 1024


def measure(where: str, rate: float, seconds: int) -> None:
    with closing(open_books(where)) as books:
        house.furnish(books)
    port, made = free_port(), texts(WARM + round(rate * seconds))
    environment = os.environ | {
        "TAPPING_LOG_BOOKS": where, "TAPPING_LOG_PUBLIC_URL": PUBLIC, "TWILIO_AUTH_TOKEN": TOKEN, "PORT": str(port),
        "TAPPING_LOG_TEXTS_PER_HOUR": "0", "TAPPING_LOG_TEXTS_PER_MINUTE": "0", "PYTHONUNBUFFERED": "1",
    }  # fmt: skip
    server = subprocess.Popen(
        SERVE, env=environment, cwd=TOP, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True, process_group=0
    )
    assert server.stdout is not None
    server.stdout.readline()
    try:
        Senders(port).run(made[:WARM], 20)
        before, load = memory(server.pid), os.getloadavg()[0]
        senders = Senders(port)
        took = senders.run(made[WARM:], rate)
        after = memory(server.pid)
    finally:
        os.killpg(server.pid, signal.SIGTERM)
        server.wait(timeout=30)
    times = sorted(senders.times)
    shares = "  ".join(
        f"p{share} {times[min(len(times) * share // 100, len(times) - 1)]:.1f}" for share in (50, 90, 99)
    )
    print(f"{datetime.now(UTC):%H:%M} load of this machine before {load:.1f}, connections {CONNECTIONS}")
    print(f"asked {rate:g}/s, reached {len(times) / took:.0f}/s over {took:.1f} s; answers {dict(senders.statuses)}")
    print(f"ms from the due moment: {shares}  worst {times[-1]:.1f}")
    print(f"memory of the worker: {before:.0f} MB before, {after:.0f} MB after {len(times)} texts", flush=True)


if __name__ == "__main__":
    about = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    about.add_argument("--rate", type=float, default=200)
    about.add_argument("--seconds", type=int, default=20)
    about.add_argument("--where", help="empty books in PostgreSQL instead of a SQLite file")
    asked = about.parse_args()
    with tempfile.TemporaryDirectory() as name:
        measure(asked.where or str(Path(name) / "books.sqlite"), asked.rate, asked.seconds)

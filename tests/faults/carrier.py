"""A carrier on this machine that notes what it is asked to send; it takes a moment for each text, as real ones do."""

import threading
import time
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from random import Random

#: Seconds that it takes between noting a text and saying so: time in which the sender can be killed.
SLOWEST = 0.01


class Carrier(ThreadingHTTPServer):
    """`taken` counts how often each text was taken, by the text's id."""

    daemon_threads = True

    def __init__(self) -> None:
        super().__init__(("127.0.0.1", 0), _Door)
        self.taken: Counter[str] = Counter()
        self.lock = threading.Lock()
        self.dice = Random(1)

    @property
    def port(self) -> int:
        """Where it listens on this machine."""
        return int(self.server_address[1])

    def handle_error(self, request: object, client_address: object) -> None:
        """A sender that was killed does not hear the answer; that is what the tests are about."""


class _Door(BaseHTTPRequestHandler):
    server: Carrier

    def do_POST(self) -> None:
        text_id = self.rfile.read(int(self.headers["Content-Length"])).decode()
        with self.server.lock:
            self.server.taken[text_id] += 1
            pause = self.server.dice.uniform(0, SLOWEST)
        time.sleep(pause)
        self.send_response(201)
        self.send_header("Content-Length", "0")
        self.end_headers()

    def log_message(self, *args: object) -> None:
        """Quiet."""


@contextmanager
def running_carrier() -> Iterator[Carrier]:
    """A carrier that listens until the block ends."""
    carrier = Carrier()
    thread = threading.Thread(target=carrier.serve_forever, kwargs={"poll_interval": 0.05})
    thread.start()
    try:
        yield carrier
    finally:
        carrier.shutdown()
        thread.join()
        carrier.server_close()

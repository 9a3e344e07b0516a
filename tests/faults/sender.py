"""Sends what waits in the outbox, again and again, until it is killed: what the timer of `due` does, without its pauses.

python -m tests.faults.sender BOOKS PORT
"""

import http.client
import sys
import time
from contextlib import suppress
from datetime import UTC, datetime

from bot.books import BooksUnavailable, open_books
from bot.books.model import Waiting
from bot.jobs import run_due
from bot.talk.exchange import Delivery, Fate

#: Seconds between two looks, so that the servers have the books most of the time.
PAUSE = 0.02


def main(where: str, port: int) -> None:
    """Send for ever."""
    books = open_books(where)
    while True:
        with suppress(BooksUnavailable):  # the servers have all the time: the timer comes again
            run_due(books, datetime.now(UTC), lambda waiting: hand_over(waiting, port))
        time.sleep(PAUSE)


def hand_over(waiting: Waiting, port: int) -> Delivery:
    """Give a text to the carrier on this machine."""
    line = http.client.HTTPConnection("127.0.0.1", port, timeout=10)
    try:
        line.request("POST", "/", waiting.id.encode())
        line.getresponse().read()
    finally:
        line.close()
    return Delivery(Fate.SENT, carrier_id=f"taken-{waiting.id}")


if __name__ == "__main__":
    main(sys.argv[1], int(sys.argv[2]))

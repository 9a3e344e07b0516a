"""The real server is killed at random moments under load, again and again.

    KILLS=500 python -m pytest tests/faults/test_kills.py -rP

Every answered text is in the books once with its answer, none by half, and each text to others goes out once or is marked
as unknown. Half of the kills hit everything at once, as when a machine is switched off; half only the worker, as when the
system runs out of memory.
"""

import json
import os
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path
from random import Random

from bot.books import Books, open_books, outbox
from bot.jobs import LEFT_OVER, run_due
from tests.faults import house, ledger
from tests.faults.carrier import Carrier, running_carrier
from tests.faults.crowd import Crowd
from tests.faults.running import House, moment, running_house
from tests.faults.sender import hand_over
from tests.whole.test_server import free_port

KILLS = int(os.environ.get("KILLS", "20"))
SEED = int(os.environ.get("KILLS_SEED", "1"))

#: At most so many texts are answered between two kills.
MOST_BETWEEN = 40


def test_kills_lose_nothing_double_nothing_and_leave_nothing_half(where: str, tmp_path: Path) -> None:
    begun = datetime.now(UTC)
    with closing(open_books(where)) as books:
        house.furnish(books)
    crowd, found, log = Crowd(free_port(), begun), ledger.Found(), tmp_path / "log"
    with running_carrier() as carrier:
        kinds = _kill(where, crowd, carrier, found, log)
        with closing(open_books(where)) as books:
            _finish(books, carrier)
            totals = ledger.Found()
            with books.reading() as tx:
                ledger.look(tx, begun, crowd.answers, crowd.sent, totals)
                waiting = outbox.listing(tx, begun, begun + timedelta(days=2))
            _integrity(books)
    found.faults += totals.faults + ledger.outgoing(waiting, carrier.taken)
    unsure = sum(each.state == "unsure" for each in waiting)
    print(
        json.dumps(
            {
                "engine": where.partition(":")[0] if "://" in where else "sqlite",
                "kills": kinds,
                "seconds": round((datetime.now(UTC) - begun).total_seconds()),
                "answered": len(crowd.answers),
                "cut off": crowd.refused,
                "in the books": totals.texts,
                "lines": totals.lines,
                "by kind": totals.kinds,
                "to others": len(waiting),
                "unsure": unsure,
                "of these gone out": sum(carrier.taken[each.id] for each in waiting if each.state == "unsure"),
                "faults": len(found.faults),
            }
        )
    )

    assert found.faults == []
    assert totals.kinds["entered"] > KILLS
    assert len(crowd.answers) <= totals.texts <= len(crowd.sent)
    assert "Traceback" not in log.read_text()


def _kill(where: str, crowd: Crowd, carrier: Carrier, found: ledger.Found, log: Path) -> dict[str, int]:
    """Kill so many times, and look into the books after each."""
    dice, kinds = Random(SEED), {"everything": 0, "worker": 0}
    with running_house(House(where, crowd.port, carrier.port, log)) as running, crowd.texting():
        crowd.up.set()
        for _ in range(KILLS):
            since, known = datetime.now(UTC), set(crowd.answers)
            crowd.wait_for(dice.randint(1, MOST_BETWEEN))
            moment(dice)
            kinds[_one_kill(running, crowd, dice)] += 1
            crowd.wait_for(1)
            answered = {each: reply for each, reply in list(crowd.answers.items()) if each not in known}
            with closing(open_books(where)) as books, books.reading() as tx:
                ledger.look(tx, since, answered, crowd.sent, found)
            assert found.faults == []
        crowd.up.clear()
    return kinds


def _one_kill(running: House, crowd: Crowd, dice: Random) -> str:
    if dice.random() < 0.5 and running.kill_worker():
        return "worker"
    crowd.up.clear()
    running.kill_all()
    running.start()
    crowd.up.set()
    return "everything"


def _finish(books: Books, carrier: Carrier) -> None:
    """What was left on its way is marked, what waits is sent."""
    run_due(
        books, datetime.now(UTC) + LEFT_OVER + timedelta(minutes=1), lambda waiting: hand_over(waiting, carrier.port)
    )


def _integrity(books: Books) -> None:
    """SQLite says itself whether a file is whole; PostgreSQL has read every row above."""
    with books.engine.session() as session:
        if books.engine.begin == "begin immediate":
            assert session.execute("pragma integrity_check") == [{"integrity_check": "ok"}]
            assert session.execute("pragma foreign_key_check") == []

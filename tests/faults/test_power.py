"""The power goes at random moments under load: whatever the disk holds of the books' files, no answered text is lost.

    POWER=300 python -m pytest tests/faults/test_power.py -rP

Server and sender stand still for a moment, their files are copied, and of each copy is made what a power cut can leave. It is
opened as after a restart: every text that was answered before is there with its answer, none by half, the file is whole and
can be written. On SQLite; PostgreSQL's own log is PostgreSQL's.
"""

import json
import os
import shutil
from collections import Counter
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path
from random import Random

import pytest

from bot.books import open_books
from bot.carriers.practice import text_as
from tests.faults import house, ledger, torn
from tests.faults.carrier import running_carrier
from tests.faults.crowd import Crowd
from tests.faults.running import House, moment, running_house
from tests.faults.test_kills import _integrity
from tests.whole.test_server import free_port

CUTS = int(os.environ.get("POWER", "6"))
SEED = int(os.environ.get("POWER_SEED", "1"))

#: Every so many cuts all texts since the beginning are looked at, otherwise those since the cut before.
FULLY = 10


def test_a_power_cut_loses_no_answered_text_and_leaves_none_by_half(tmp_path: Path) -> None:
    path, begun, dice = tmp_path / "books.sqlite", datetime.now(UTC), Random(SEED)
    with closing(open_books(path)) as books:
        house.furnish(books)
    crowd, found, torn_pages = Crowd(free_port(), begun), ledger.Found(), 0
    checked: Counter[str] = Counter()
    with (
        running_carrier() as carrier,
        running_house(House(str(path), crowd.port, carrier.port, tmp_path / "log")) as running,
        crowd.texting(),
    ):
        crowd.up.set()
        for n in range(CUTS):
            whole = n % FULLY == 0
            since, known = (begun, set()) if whole else (datetime.now(UTC), set(crowd.answers))
            crowd.wait_for(dice.randint(1, 60))
            answered = {each: reply for each, reply in list(crowd.answers.items()) if each not in known}
            moment(dice)
            with running.standing_still():
                still = torn.copied(path, tmp_path / f"still{n}")
            torn_pages += len(torn.read_log(still.log, still.shared).pages)
            for name, way in torn.WAYS.items():
                after = torn.copied(still.books, tmp_path / f"{name}{n}")
                way(after, dice)
                checked[name] += _look(after, since, answered, crowd, found)
                shutil.rmtree(after.books.parent)
            shutil.rmtree(still.books.parent)
            assert found.faults == []
    print(json.dumps({"cuts": CUTS, "copies": sum(checked.values()), "answered": len(crowd.answers), "looked at": found.texts,
                      "pages torn": torn_pages, "faults": len(found.faults)}))  # fmt: skip

    assert set(checked.values()) == {CUTS}
    assert torn_pages > 0


def _look(copy: torn.Copy, since: datetime, answered: dict[str, str | None], crowd: Crowd, found: ledger.Found) -> int:
    """Open what is left, as after a restart."""
    with closing(open_books(copy.books)) as books:
        books.check()
        with books.reading() as tx:
            ledger.look(tx, since, answered, crowd.sent, found)
        _integrity(books)
    return 1


@pytest.mark.parametrize("lost", [1, 2])
def test_the_check_finds_it_when_synced_commits_are_lost(tmp_path: Path, lost: int) -> None:
    """So that the test above could fail: the log is cut before the end of what was synced."""
    path, texts = tmp_path / "books.sqlite", list(zip(range(8), house.texts(range(1), datetime.now(UTC)), strict=False))
    begun, found = datetime.now(UTC), ledger.Found()
    with closing(open_books(path)) as books:
        house.furnish(books)
        crowd = Crowd(0, begun)
        for _, text in texts:
            crowd.sent[text.id] = text
            crowd.answers[text.id] = text_as(books, text.number, text.body, datetime.now(UTC), message_id=text.id).text
        copy = torn.copied(path, tmp_path / "copy")
    log = torn.read_log(copy.log, copy.shared)
    with copy.log.open("r+b") as file:
        file.truncate(log.synced - lost)
    copy.shared.unlink(missing_ok=True)
    _look(copy, begun, dict(crowd.answers), crowd, found)

    assert any("was answered and is not in the books" in fault for fault in found.faults)

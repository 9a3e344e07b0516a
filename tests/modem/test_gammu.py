"""The real modem daemon, gammu-smsd with its dummy device: what it writes and takes is what the program reads and writes."""

import os
import re
import shutil
import subprocess
import threading
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager
from datetime import UTC, datetime
from pathlib import Path

import pytest

from bot.books import entries, farms, messages, open_books, outbox
from tests.faults import house
from tests.modem.spool import FOLDERS, environment, program, serving

DAEMON, TOOL = shutil.which("gammu-smsd"), shutil.which("gammu")
EXAMPLE = Path(__file__).parents[2] / "deploy" / "gammu-smsdrc.example"
TAPPER, OWNER, COLLECTOR = (house.number(0, role) for role in (house.TAPPER, house.OWNER, house.COLLECTOR))
TEXTS = (
    (TAPPER, "block 3 18 litres rain"),
    (COLLECTOR, "took 12 sheets 5 kg"),
    (OWNER, "แปลง 3 " * 15),
    (OWNER, "long words " * 22),
)


@pytest.fixture(autouse=True)
def _installed() -> None:
    """A machine without the daemon skips these tests and says how to install it; with CI=true it fails."""
    if DAEMON is None or TOOL is None:
        says = "The modem daemon is missing: apt-get install gammu gammu-smsd"
        (pytest.fail if os.environ.get("CI") == "true" else pytest.skip)(says)


def configured(folder: Path) -> Path:
    """The example of deploy/ with a device that only notes what it sends, and folders here."""
    for name in FOLDERS:
        (folder / "spool" / name).mkdir(parents=True)
    (folder / "phone").mkdir()
    text = EXAMPLE.read_text(encoding="utf-8").replace("/var/spool/gammu", str(folder / "spool"))
    for setting, value in (
        ("port", folder / "phone"),
        ("connection", "none\nmodel = dummy"),
        ("logfile", folder / "log\ndebuglevel = 255"),
        ("commtimeout", "1"),
    ):
        text, changed = re.subn(rf"(?m)^{setting} *=.*$", f"{setting} = {value}", text)
        assert changed == 1, setting
    file = folder / "smsdrc"
    file.write_text(text, encoding="utf-8")
    return file


@contextmanager
def running(file: Path) -> Iterator[None]:
    """The daemon, killed in the end."""
    here = {**os.environ, "LC_ALL": "C.UTF-8", "TZ": "UTC"}
    process = subprocess.Popen(
        [str(DAEMON), "-c", str(file)], env=here, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
    )
    try:
        yield
    finally:
        process.kill()
        process.wait(timeout=30)


def receive(file: Path, number: str, text: str) -> None:
    """A text comes to the dummy phone."""
    coded = ["-unicode"] if not text.isascii() else []
    subprocess.run(
        [
            str(TOOL),
            "-c",
            str(file),
            "savesms",
            "TEXT",
            "-folder",
            "1",
            "-unread",
            "-sender",
            number,
            "-len",
            "600",
            *coded,
        ],
        input=text,
        env={**os.environ, "LC_ALL": "C.UTF-8", "TZ": "UTC"},
        capture_output=True,
        text=True,
        check=True,
        timeout=30,
    )


def sent(log: Path) -> list[tuple[str, str, str]]:
    """Number, first words and coding (1: Unicode, 3: the network's 7 bits) of what the daemon says it sent."""
    said = log.read_text(encoding="utf-8", errors="replace")
    found = re.findall(r'Found \d+ sms to "([^"]*)" with text "(.*?)" cod (\d)', said, flags=re.DOTALL)
    assert said.count("(total: ") == len(found), "something was found and not sent"
    return found


def test_texts_go_through_the_real_daemon_both_ways_once(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(house, "FARMS", 1)
    monkeypatch.setenv("TZ", "UTC")
    file, module = configured(tmp_path), program()
    (tmp_path / "state").mkdir()
    with closing(open_books(tmp_path / "books.sqlite")) as books:
        house.furnish(books)
        with books.transaction() as tx:
            put = {"parts": 2, "because": None, "due_at": datetime.now(UTC), "created_at": datetime.now(UTC)}
            outbox.put(tx, to=OWNER, text="วันนี้ 18 ลิตร ฝน", **put)
        with serving(books) as log, running(file):
            gateway = module.Gateway(module.chosen(environment(log.url, tmp_path / "spool", tmp_path / "state")))
            for number, text in TEXTS:
                receive(file, number, text)
            end, tick = time.monotonic() + 60, threading.Event()
            while time.monotonic() < end and not _over(books):
                gateway.round()
                tick.wait(0.2)
            gateway.round()
        with books.reading() as tx:
            came = {(each.number, each.text) for each in messages.listing(tx, datetime(2026, 1, 1, tzinfo=UTC), _END)}
            out = outbox.listing(tx, datetime(2026, 1, 1, tzinfo=UTC), _END)
            lines = entries.standing(tx, farms.all_farms(tx)[0].id)

    assert {(number, text.strip()) for number, text in came} == {(number, text.strip()) for number, text in TEXTS}
    assert len(lines) == 2
    assert {each.state for each in out} == {"sent"}
    found = sent(tmp_path / "log")
    assert sorted(number for number, _, _ in found) == sorted(each.to for each in out)
    for number, words, coding in found:
        assert [each for each in out if each.to == number and each.text.startswith(words)]
        assert coding == ("3" if words.isascii() else "1"), words
    assert {coding for _, _, coding in found} == {"1", "3"}
    assert all(os.listdir(tmp_path / "spool" / folder) == [] for folder in FOLDERS)


_END = datetime.max.replace(tzinfo=UTC)


def _over(books) -> bool:
    """Whether every text came, and everything that was to go out went."""
    with books.reading() as tx:
        came = messages.listing(tx, datetime(2026, 1, 1, tzinfo=UTC), _END)
        out = outbox.listing(tx, datetime(2026, 1, 1, tzinfo=UTC), _END)
    return len(came) == len(TEXTS) and all(each.state == "sent" for each in out)

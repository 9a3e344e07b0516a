"""The real server and the sender as processes that can be killed."""

import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from random import Random

from tests.faults.crowd import PUBLIC, TOKEN

TOP = Path(__file__).parents[2]
SERVE = [sys.executable, "-c", "from bot.cli import main; main()", "serve"]


class House:
    """Server and sender over the same books; `log` takes what they say, `host` is the address that the server listens at."""

    def __init__(self, where: str, port: int, carrier_port: int, log: Path, host: str = "127.0.0.1") -> None:
        self._environment = {
            **{name: value for name, value in os.environ.items() if not name.startswith(("TAPPING_LOG_", "TWILIO_"))},
            "TAPPING_LOG_BOOKS": where,
            "TAPPING_LOG_PUBLIC_URL": PUBLIC,
            "TWILIO_AUTH_TOKEN": TOKEN,
            "TAPPING_LOG_HOST": host,
            "PORT": str(port),
            "PYTHONUNBUFFERED": "1",
        }
        self._send = [sys.executable, "-m", "tests.faults.sender", where, str(carrier_port)]
        self._log = log
        self._server: subprocess.Popen[str] | None = None
        self._sender: subprocess.Popen[str] | None = None

    def start(self) -> None:
        """Start both; the server listens when this returns, and answers as soon as its worker is there."""
        with self._log.open("a") as log:
            self._server = subprocess.Popen(
                SERVE, env=self._environment, cwd=TOP, stdout=subprocess.PIPE, stderr=log, text=True, process_group=0
            )
            self._sender = subprocess.Popen(self._send, cwd=TOP, stderr=log, text=True, process_group=0)
        assert self._server.stdout is not None
        if "http://" not in self._server.stdout.readline():
            raise AssertionError(self._log.read_text())

    def kill_all(self) -> None:
        """Server with its worker, and sender, at the same moment."""
        both = [each for each in (self._server, self._sender) if each is not None]
        for each in both:
            if each.poll() is None:
                os.killpg(each.pid, signal.SIGKILL)
        for each in both:
            each.wait(timeout=30)
            if each.stdout is not None:
                each.stdout.close()

    @contextmanager
    def standing_still(self) -> Iterator[None]:
        """Everything stops between two instructions until the block ends, so that its files can be copied as of one moment."""
        both = [each for each in (self._server, self._sender) if each is not None]
        for each in both:
            os.killpg(each.pid, signal.SIGSTOP)
        try:
            while not all(_stopped(task) for each in both for task in _tasks(each.pid)):
                time.sleep(0.001)
            yield
        finally:
            for each in both:
                os.killpg(each.pid, signal.SIGCONT)

    def kill_worker(self) -> bool:
        """The process that answers; the server starts another one by itself. False when there is none just now."""
        assert self._server is not None
        children = Path(f"/proc/{self._server.pid}/task/{self._server.pid}/children").read_text().split()
        for child in children:
            os.kill(int(child), signal.SIGKILL)
        return bool(children)


@contextmanager
def running_house(house: House) -> Iterator[House]:
    """Started, and ended when the block ends."""
    try:
        house.start()
        yield house
    finally:
        house.kill_all()


def moment(dice: Random) -> None:
    """Some thousandths of a second, so that a kill does not always meet the same step."""
    time.sleep(dice.uniform(0, 0.008))


def _tasks(group: int) -> list[Path]:
    """Every thread of every process of a group."""
    found = []
    for process in Path("/proc").glob("[0-9]*"):
        with suppress(OSError):  # it ended meanwhile
            if int(_fields(process / "stat")[2]) == group:
                found += list((process / "task").iterdir())
    return found


def _stopped(task: Path) -> bool:
    try:
        return _fields(task / "stat")[0] in "TtZX"
    except OSError:
        return True


def _fields(stat: Path) -> list[str]:
    """What comes behind the name: state, parent, group."""
    return stat.read_text().rpartition(")")[2].split()

"""The service units give their services few rights, agree with each other, and run commands that there are."""

import re
import shutil
import subprocess
from configparser import RawConfigParser
from pathlib import Path

import pytest

from bot.cli import main

DEPLOY = Path(__file__).parents[2] / "deploy"
SERVICES = sorted(DEPLOY.glob("*.service"))

#: Those that run the product; the modem's program runs beside its daemon, perhaps on another machine.
OURS = [path for path in SERVICES if path.name != "tapping-log-modem.service"]
TIMERS = sorted(DEPLOY.glob("*.timer"))

#: Tenths of systemd's own scale of what a service could reach, from 0 to 100.
MOST_EXPOSED = 15


class _Many(dict):
    """Sections whose keys may come twice, as systemd has them."""

    def __setitem__(self, key: str, value: object) -> None:
        if isinstance(value, list) and key in self:
            self[key].extend(value)
        else:
            super().__setitem__(key, value)


def unit(path: Path) -> RawConfigParser:
    read = RawConfigParser(strict=False, dict_type=_Many)
    read.optionxform = str  # type: ignore[assignment,method-assign]
    read.read_string(path.read_text(encoding="utf-8"))
    return read


@pytest.mark.parametrize("path", SERVICES, ids=lambda path: path.name)
def test_a_service_could_reach_little(path: Path) -> None:
    if shutil.which("systemd-analyze") is None:
        pytest.skip("systemd-analyze is not installed (Debian: apt-get install systemd)")
    command = ["systemd-analyze", "security", "--offline=true", f"--threshold={MOST_EXPOSED}", str(path)]
    done = subprocess.run(command, capture_output=True, text=True, timeout=60, check=False)

    assert done.returncode == 0, done.stdout


@pytest.mark.parametrize("path", OURS, ids=lambda path: path.name)
def test_a_service_runs_a_command_that_there_is_as_its_own_user(path: Path) -> None:
    service = unit(path)["Service"]
    name = re.fullmatch(r"/opt/tapping-log/\.venv/bin/tapping-log (\w+)", service["ExecStart"])

    assert name is not None
    assert name[1] in main.commands
    assert service["User"] == "tapping-log"
    assert service["EnvironmentFile"] == "/etc/tapping-log/environment"


def test_all_services_keep_the_books_in_the_same_place() -> None:
    for path in OURS:
        lines = unit(path)["Service"]["Environment"].splitlines()
        assert "TAPPING_LOG_BOOKS=/var/lib/tapping-log/books.sqlite" in lines
    assert {unit(path)["Service"]["StateDirectory"] for path in OURS} == {"tapping-log"}


@pytest.mark.parametrize("path", TIMERS, ids=lambda path: path.name)
def test_a_timer_has_its_service_and_is_wanted_by_the_system(path: Path) -> None:
    assert path.with_suffix(".service") in SERVICES
    assert unit(path)["Install"]["WantedBy"] == "timers.target"


@pytest.mark.parametrize("path", [*SERVICES, *TIMERS], ids=lambda path: path.name)
def test_systemd_finds_no_fault_in_a_unit(path: Path, tmp_path: Path) -> None:
    if shutil.which("systemd-analyze") is None:
        pytest.skip("systemd-analyze is not installed (Debian: apt-get install systemd)")
    for each in (*SERVICES, *TIMERS):
        text = each.read_text(encoding="utf-8").replace("/opt/tapping-log/.venv/bin/tapping-log", "/bin/true")
        (tmp_path / each.name).write_text(text, encoding="utf-8")
    command = ["systemd-analyze", "verify", "--man=no", str(tmp_path / path.name)]
    done = subprocess.run(command, capture_output=True, text=True, timeout=60, check=False)

    assert str(tmp_path) not in done.stderr, done.stderr
    assert done.returncode == 0, done.stderr

"""A PostgreSQL server of our own for the tests: in a scratch folder, on a socket, as an ordinary user, thrown away afterwards.

Durability is left on, as the tests kill what writes.
"""

import os
import pwd
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from urllib.parse import quote

HOW_TO_INSTALL = (
    "PostgreSQL's server programs (initdb, pg_ctl) are not on this machine. "
    "On Debian and Ubuntu: apt-get install postgresql. On Fedora: dnf install postgresql-server."
)

#: Debian keeps the programs of each version in a folder of its own, outside the path.
DEBIAN = Path("/usr/lib/postgresql")


class ServerMissing(Exception):
    """The machine has no PostgreSQL server."""


def programs() -> Path:
    """The folder of initdb and pg_ctl. Raises ServerMissing."""
    on_path = shutil.which("initdb")
    folders = [Path(on_path).parent] if on_path else []
    folders += sorted(DEBIAN.glob("*/bin"), reverse=True)
    for folder in folders:
        if (folder / "initdb").exists() and (folder / "pg_ctl").exists():
            return folder
    raise ServerMissing(HOW_TO_INSTALL)


@contextmanager
def running_server() -> Iterator[str]:
    """Yields the folder of the server's socket."""
    bin_folder, user = programs(), ordinary_user()
    folder = Path(tempfile.mkdtemp(prefix="day-book-"))  # short: a socket's path may have 107 bytes
    try:
        if user is not None:
            os.chown(folder, user, -1)
        data = folder / "data"
        settings = f"-c listen_addresses='' -c unix_socket_directories='{folder}' -c max_connections=60"
        _run(user, folder, bin_folder / "initdb", "-D", data, "-U", "books", "-A", "trust", "-E", "UTF8", "--no-locale")
        _run(user, folder, bin_folder / "pg_ctl", "-D", data, "-w", "-l", folder / "log", "-o", settings, "start")
        try:
            yield str(folder)
        finally:
            _run(user, folder, bin_folder / "pg_ctl", "-D", data, "-w", "-m", "immediate", "stop")
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def address(folder: str, schema: str) -> str:
    """The address of a schema of its own on the server."""
    return f"postgresql://books@/postgres?host={quote(folder, safe='')}&options={quote(f'-csearch_path={schema}')}"


def ordinary_user() -> int | None:
    """Whom the server runs as: None for ourselves; root may not run one."""
    if os.geteuid() != 0:
        return None
    known = {each.pw_name: each.pw_uid for each in pwd.getpwall()}
    return known.get("postgres", known.get("nobody", 65534))


def _run(user: int | None, folder: Path, *command: object) -> None:
    words = [str(each) for each in command]
    done = subprocess.run(words, user=user, cwd=folder, capture_output=True, text=True, stdin=subprocess.DEVNULL)
    if done.returncode:
        raise RuntimeError(f"{' '.join(words)}: {done.stderr or done.stdout}")

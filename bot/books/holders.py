"""Which processes have a file open, as far as the system tells (Linux: /proc; only those of the same user, or all for root)."""

import os
from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True)
class Holder:
    """A process that has the file open, by its number and its command line."""

    id: int
    command: str

    @property
    def serves(self) -> bool:
        """Whether it is a server of the day-book, not a command that ends soon."""
        return "serve" in self.command.split() or "gunicorn" in self.command


def holders(path: Path) -> tuple[Holder, ...]:
    """The other processes that have the file open; without /proc none. We ourselves are left out."""
    try:
        wanted = path.stat()
        processes = [int(each.name) for each in Path("/proc").iterdir() if each.name.isdecimal()]
    except OSError:
        return ()
    key = (wanted.st_dev, wanted.st_ino)
    return tuple(Holder(each, _command(each)) for each in sorted(processes) if each != os.getpid() and _has(each, key))


def _has(process: int, key: tuple[int, int]) -> bool:
    try:
        descriptors = list(Path(f"/proc/{process}/fd").iterdir())
    except OSError:
        return False  # it has ended, or belongs to somebody else
    return any(_is(descriptor, key) for descriptor in descriptors)


def _is(descriptor: Path, key: tuple[int, int]) -> bool:
    try:
        found = descriptor.stat()
    except OSError:
        return False
    return (found.st_dev, found.st_ino) == key


def _command(process: int) -> str:
    try:
        return Path(f"/proc/{process}/cmdline").read_bytes().replace(b"\0", b" ").decode(errors="replace").strip()
    except OSError:
        return ""

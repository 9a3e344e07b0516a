#!/usr/bin/env python3
"""Passes texts between the spool of a modem daemon (gammu-smsd with its FILES service) and a tapping log, both ways.

Needs Python 3.11 or newer and nothing else. Settings come from the environment:

    GATEWAY_URL          the public address of the tapping log, such as https://bot.example.org
    GATEWAY_NAME         our name in its TAPPING_LOG_GATEWAY_KEYS, such as office
    GATEWAY_SECRET       our secret there; or GATEWAY_SECRET_FILE, a file that holds it
    GATEWAY_SPOOL        the folder with the daemon's inbox, outbox, sent and error (/var/spool/gammu)
    GATEWAY_STATE        a folder of our own, on a disk that lasts (/var/lib/tapping-log-modem)
    GATEWAY_PAUSE        seconds between two rounds (10)
    GATEWAY_ANSWERS      outbox: answers are fetched like other texts, with receipts; response: they come at once (outbox)

    modem_gateway.py            goes on until it is stopped
    modem_gateway.py --once     one round

It may be killed at any moment. A text that came in leaves the inbox only when it is in the books, and is known there by an
id made from its sender, time and words. A text that goes out is noted in our own journal before its file gets its name in
the outbox; what became of it is told until the tapping log has heard it.
"""

import fcntl
import hashlib
import hmac
import http.client
import json
import logging
import os
import re
import secrets
import shutil
import sqlite3
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

#: Seconds that a file must have been left alone before it is read: the daemon writes it under its last name.
SETTLED = 2.0

#: Seconds to wait for the tapping log; texts of a round; days that the journal remembers.
PATIENCE, MOST, REMEMBERED = 20, 20, 60

#: Seconds between two rounds at most, while the tapping log cannot be asked.
LONGEST_PAUSE = 300.0

#: Statuses that mean: this text will never be taken. With all others it is brought again.
NEVER = {400, 409, 413, 415, 422}

# gammu-smsd-files(7): IN<date>_<time>_<serial>_<sender>_<sequence>.<ext>
_IN = re.compile(r"IN(?P<at>\d{8}_\d{6})_(?P<serial>\d+)_(?P<sender>.*)_(?P<part>\d+)\.txt")
_TO = re.compile(r"\+?[0-9]{3,15}")
_ID = re.compile(r"[A-Za-z0-9.-]{1,80}")

_JOURNAL = """
create table if not exists texts (
    id text not null,
    attempt integer not null,
    name text not null,
    state text not null check (state in ('putting', 'put', 'sent', 'failed', 'gone')),
    code text,
    told integer not null,
    at real not null,
    primary key (id, attempt)
)
"""

log = logging.getLogger("modem-gateway")


class Later(Exception):
    """The tapping log cannot be asked just now, or not by us: everything stays as it is for the next round."""


class Never(Exception):
    """The tapping log refuses this for good."""


@dataclass(frozen=True)
class Chosen:
    """The settings."""

    url: str
    name: str
    secret: str
    spool: Path
    state: Path
    pause: float
    answers: str

    def folder(self, name: str) -> Path:
        """A folder of the spool."""
        return self.spool / name


def chosen(environment: dict[str, str]) -> Chosen:
    """The settings of this process. Raises ValueError with what to mend."""
    file = environment.get("GATEWAY_SECRET_FILE")
    secret = Path(file).read_text(encoding="utf-8").strip() if file else environment.get("GATEWAY_SECRET", "")
    found = Chosen(
        url=environment.get("GATEWAY_URL", "").rstrip("/"),
        name=environment.get("GATEWAY_NAME", ""),
        secret=secret,
        spool=Path(environment.get("GATEWAY_SPOOL", "/var/spool/gammu")),
        state=Path(environment.get("GATEWAY_STATE", "/var/lib/tapping-log-modem")),
        pause=float(environment.get("GATEWAY_PAUSE", "10")),
        answers=environment.get("GATEWAY_ANSWERS", "outbox"),
    )
    if urlsplit(found.url).scheme not in ("http", "https") or not (found.name and found.secret):
        raise ValueError("set GATEWAY_URL, GATEWAY_NAME, and GATEWAY_SECRET or GATEWAY_SECRET_FILE")
    if found.answers not in ("outbox", "response"):
        raise ValueError("GATEWAY_ANSWERS must be outbox or response")
    missing = [name for name in ("inbox", "outbox", "sent", "error") if not found.folder(name).is_dir()]
    if missing:
        raise ValueError(
            f"{found.spool} has no folder {missing[0]}: set GATEWAY_SPOOL, and all four paths in the daemon's file"
        )
    return found


class Line:
    """The tapping log at the other end."""

    def __init__(self, settings: Chosen) -> None:
        self._settings = settings

    def ask(self, door: str, fields: dict[str, Any]) -> dict[str, Any]:
        """Make a signed call. Raises Later, or Never where the same call can never succeed."""
        url = f"{self._settings.url}/carrier/gateway/{door}"
        body = json.dumps(fields).encode()
        request = urllib.request.Request(url, body, self._headers(urlsplit(url).path, body), method="POST")
        try:
            with urllib.request.urlopen(request, timeout=PATIENCE) as answer:
                found = json.loads(answer.read())
        except urllib.error.HTTPError as refused:
            with refused:
                says = refused.read(300).decode("utf-8", "replace").strip()
            raise (Never if refused.code in NEVER else Later)(says) from refused
        except (OSError, http.client.HTTPException, ValueError) as fault:
            raise Later(f"{self._settings.url} cannot be reached: {fault}") from fault
        if not isinstance(found, dict):
            raise Later(f"{url} answers something that is not of the contract")
        return found

    def _headers(self, path: str, body: bytes) -> dict[str, str]:
        at, nonce = str(int(time.time())), secrets.token_urlsafe(18)
        said = "\n".join(("POST", path, at, nonce, hashlib.sha256(body).hexdigest()))
        signature = hmac.new(self._settings.secret.encode(), said.encode(), hashlib.sha256).hexdigest()
        return {
            "Content-Type": "application/json",
            "X-Gateway-Name": self._settings.name,
            "X-Gateway-Time": at,
            "X-Gateway-Nonce": nonce,
            "X-Gateway-Signature": signature,
        }


class Journal:
    """What we put in the outbox, and what became of it; each note is on the disk when a call returns."""

    def __init__(self, file: Path) -> None:
        self._books = sqlite3.connect(str(file), isolation_level=None)
        self._books.execute("pragma synchronous = full")
        self._books.execute(_JOURNAL)

    def begin(self, text_id: str, attempt: int, name: str) -> None:
        """It is about to get its name in the outbox."""
        self._books.execute(
            "insert into texts values (?, ?, ?, 'putting', null, 0, ?)", (text_id, attempt, name, time.time())
        )

    def note(self, text_id: str, attempt: int, state: str, code: str | None = None) -> None:
        """What became of it."""
        asked = "update texts set state = ?, code = ?, told = 0 where id = ? and attempt = ?"
        self._books.execute(asked, (state, code, text_id, attempt))

    def tell(self, text_id: str, attempt: int, told: bool) -> None:
        """The tapping log has heard what became of it, or has to hear it once more."""
        self._books.execute("update texts set told = ? where id = ? and attempt = ?", (told, text_id, attempt))

    def forget(self, text_id: str, attempt: int) -> None:
        """It never got its name: it can be put again."""
        self._books.execute("delete from texts where id = ? and attempt = ?", (text_id, attempt))

    def of(self, text_id: str) -> list[tuple[int, str]]:
        """Attempts and states of a text."""
        return list(self._books.execute("select attempt, state from texts where id = ? order by attempt", (text_id,)))

    def in_state(self, state: str) -> list[tuple[str, int, str]]:
        """Id, attempt and file name of texts in this state, in the order of coming."""
        return list(self._books.execute("select id, attempt, name from texts where state = ? order by at", (state,)))

    def untold(self) -> list[tuple[str, int, str, str, str | None]]:
        """Id, attempt, file name, state and code of texts of which the tapping log has not heard."""
        asked = "select id, attempt, name, state, code from texts where told = 0 and state in ('sent', 'failed')"
        return list(self._books.execute(f"{asked} order by at limit {MOST}"))

    def forget_old(self) -> None:
        """Forget what is long settled."""
        before = time.time() - REMEMBERED * 86400
        self._books.execute("delete from texts where at < ? and (told = 1 or state = 'gone')", (before,))


class Gateway:
    """Carries texts, one round after another."""

    def __init__(self, settings: Chosen) -> None:
        self._settings = settings
        self._line = Line(settings)
        self._journal = Journal(settings.state / "journal.sqlite")
        self._lost = True  # whether we may have lost what was fetched last
        self._number = 0
        self._take_up()

    def round(self) -> None:
        """Everything once: what became of texts, texts in, texts out. Raises Later."""
        self._settle()
        self._tell()
        self._bring()
        self._fetch()
        self._journal.forget_old()

    def _take_up(self) -> None:
        """What we were about to put when we were killed: where its draft is still there it never got its name."""
        for text_id, attempt, _name in self._journal.in_state("putting"):
            draft = self._draft(text_id, attempt)
            if draft.exists():
                self._journal.forget(text_id, attempt)
            else:
                self._journal.note(text_id, attempt, "put")
        for draft in self._settings.folder("outbox").glob(".new-*"):
            draft.unlink()

    def _bring(self) -> None:
        """Bring what lies in the inbox, in the order of coming; each leaves it when it is taken."""
        for files, sender, at in _texts(self._settings.folder("inbox")):
            text = "".join(_words(file) for file in files)
            text_id = hashlib.sha256(f"{at}|{sender}|{text}".encode("utf-8", "replace")).hexdigest()[:40]
            asked = {"id": text_id, "from": sender, "text": text, "answer": self._settings.answers}
            try:
                said = self._line.ask("texts", {**asked, "sent": _sent(at, files[0])})
            except Never as fault:
                kept = self._settings.state / "refused"
                log.error("a text of %s is refused and kept in %s: %s", _short(sender), kept, fault)
                kept.mkdir(mode=0o700, exist_ok=True)
                for file in files:
                    shutil.move(str(file), str(kept / file.name))
                continue
            if said.get("reply"):
                self._put({"id": f"answer-{text_id}", "attempt": 1, "to": sender, "text": said["reply"]})
            for file in files:
                file.unlink()

    def _fetch(self) -> None:
        """Put what waits in the outbox."""
        lost, self._lost = self._lost, True
        for text in self._line.ask("fetch", {"most": MOST, "again": lost}).get("texts", []):
            self._put(text)
        self._lost = False

    def _put(self, text: dict[str, Any]) -> None:
        """Put a text in the outbox, unless it was there before and did not fail. Its file gets its name when it is whole."""
        text_id, attempt, to = str(text["id"]), int(text["attempt"]), str(text["to"])
        if not (_ID.fullmatch(text_id) and _TO.fullmatch(to)):
            log.error("a text to %s cannot be put: its id or number is none", _short(to))
            return
        for before, state in self._journal.of(text_id):
            if state != "failed" or before == attempt:
                self._journal.tell(text_id, before, False)  # that was not heard, or is not known there any more
                return
        self._number = (self._number + 1) % 100
        name = f"OUTC{time.strftime('%Y%m%d_%H%M%S')}_{self._number:02}_{to}_{text_id}-{attempt}.txt"
        if _is_over(text.get("not_after")):
            self._journal.begin(text_id, attempt, name)
            self._journal.note(text_id, attempt, "failed", "late")
            return
        draft, file = self._draft(text_id, attempt), self._settings.folder("outbox") / name
        _write(draft, b"\xff\xfe" + str(text["text"]).encode("utf-16-le", "replace"))
        self._journal.begin(text_id, attempt, name)
        os.replace(draft, file)
        _keep(file.parent)
        self._journal.note(text_id, attempt, "put")

    def _draft(self, text_id: str, attempt: int) -> Path:
        return self._settings.folder("outbox") / f".new-{text_id}-{attempt}"

    def _settle(self) -> None:
        """See what became of the texts in the outbox. The daemon moves a file on when it has done with it."""
        for text_id, attempt, name in self._journal.in_state("put"):
            if (self._settings.folder("outbox") / name).exists():
                continue
            if (self._settings.folder("sent") / name).exists():
                self._journal.note(text_id, attempt, "sent")
            elif (self._settings.folder("error") / name).exists():
                self._journal.note(text_id, attempt, "failed", "modem")
            else:
                log.error("%s is gone; whether it was sent is not known. The daemon needs its own sentsmspath", name)
                self._journal.note(text_id, attempt, "gone")

    def _tell(self) -> None:
        """Tell what became of texts; then their files are of no use any more."""
        untold = self._journal.untold()
        receipts = [
            {"id": text_id, "attempt": attempt, "state": state, "code": code, "again": code == "modem"}
            for text_id, attempt, _name, state, code in untold
            if not text_id.startswith("answer-")  # of these the tapping log keeps no account
        ]
        if receipts:
            try:
                self._line.ask("receipts", {"receipts": receipts})
            except Never as fault:
                log.error("receipts are refused: %s", fault)
        for text_id, attempt, name, _state, _code in untold:
            for folder in ("sent", "error"):
                (self._settings.folder(folder) / name).unlink(missing_ok=True)
            self._journal.tell(text_id, attempt, True)


def _texts(inbox: Path) -> Iterator[tuple[list[Path], str, str]]:
    """Texts in the inbox in the order of coming, when none of their files was touched just now: files, sender, time."""
    found: dict[tuple[str, str, str], list[Path]] = {}
    for file in sorted(inbox.iterdir()):
        matched = _IN.fullmatch(file.name)
        if matched:
            found.setdefault((matched["at"], matched["serial"], matched["sender"]), []).append(file)
        elif file.name.endswith(".smsbackup"):
            log.error("%s cannot be read: set inboxformat = unicode in the daemon's file", file.name[:18])
    for (at, _serial, sender), files in found.items():
        if all(abs(time.time() - file.stat().st_mtime) >= SETTLED for file in files):
            yield files, sender, at


def _words(file: Path) -> str:
    """What a file says: UTF-16 where it begins with the mark of it, otherwise UTF-8. The daemon fills up with zeros."""
    data = file.read_bytes()
    utf16 = data[:2] in (b"\xfe\xff", b"\xff\xfe")
    return data.decode("utf-16" if utf16 else "utf-8", "replace").replace("\x00", "")


def _sent(at: str, file: Path) -> int:
    """When a text was sent, by the network's clock in the zone of this machine, but not after it came."""
    named = time.mktime(time.strptime(at, "%Y%m%d_%H%M%S"))
    return int(min(named, file.stat().st_mtime))


def _is_over(not_after: str | None) -> bool:
    return not_after is not None and datetime.fromisoformat(not_after) <= datetime.now(UTC)


def _write(file: Path, data: bytes) -> None:
    """A file that is on the disk when the call returns."""
    with file.open("wb") as out:
        out.write(data)
        out.flush()
        os.fsync(out.fileno())
    _keep(file.parent)


def _keep(folder: Path) -> None:
    """Have the names in a folder on the disk."""
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)


def _short(number: str) -> str:
    return f"{number[:5]}...{number[-3:]}" if len(number) > 10 else "..."


def carry(settings: Chosen, once: bool) -> int:
    """Round after round; while the tapping log cannot be asked the pauses grow. With `once`, 1 if it could not."""
    gateway, pause = Gateway(settings), settings.pause
    while True:
        try:
            gateway.round()
            pause, failed = settings.pause, False
        except (Later, Never) as fault:
            log.warning("%s", fault)
            pause, failed = min(2 * pause, LONGEST_PAUSE), True
        if once:
            return int(failed)
        time.sleep(pause)


def main() -> int:
    """Carry texts until stopped."""
    logging.basicConfig(level=logging.INFO, format="%(levelname)s %(message)s")
    try:
        settings = chosen(dict(os.environ))
        settings.state.mkdir(mode=0o700, parents=True, exist_ok=True)
        with (settings.state / "lock").open("w") as lock:
            fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
            return carry(settings, "--once" in sys.argv[1:])
    except BlockingIOError:
        log.error("another one runs already with the state in GATEWAY_STATE")
    except (ValueError, OSError) as fault:
        log.error("%s", fault)
    return 2


if __name__ == "__main__":
    sys.exit(main())

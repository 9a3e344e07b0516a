"""What `check` looks over outside of the books: settings, languages, carrier, certificate, disk, backups."""

import shutil
import socket
import ssl
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from urllib.parse import urlsplit

from bot.books.backup import backups
from bot.carriers.carrier import carriers
from bot.carriers.practice import Practice
from bot.settings import BadSettings, Settings, read_settings
from bot.speech import catalogue
from bot.watching.needs import BACKUP_AGE, existing, least_room
from parsers import words

#: A certificate that ends sooner was not renewed in time; it is renewed a month before its end (common practice, no source).
RENEWED_BEFORE = timedelta(days=14)

#: How long the public address may take to answer, seconds.
PATIENCE = 8.0


@dataclass(frozen=True)
class Finding:
    """One thing that was looked at: what is the case, and, where something is wrong, how to mend it."""

    what: str
    says: str
    mend: str = ""

    @property
    def wrong(self) -> bool:
        """Whether somebody has to do something."""
        return bool(self.mend)


def of_settings(environment: Mapping[str, str]) -> tuple[Settings | None, list[Finding]]:
    """The settings, if they can be used."""
    try:
        chosen = read_settings(environment)
    except BadSettings as bad:
        mend = "Set it in the environment, or in the file that TAPPING_LOG_SETTINGS names, and check again."
        return None, [Finding("settings", fault, mend) for fault in bad.faults]
    return chosen, [Finding("settings", "can be used")]


def of_languages(chosen: Settings) -> Iterator[Finding]:
    """Catalogues of sentences and files of words."""
    found = catalogue.faults()
    try:
        words.load(chosen.words)
    except (ValueError, OSError) as fault:  # WordsError, or not TOML
        found.append(f"words: {fault}")
    for each in found:
        yield Finding("languages", each, "Put the file of the release back, or correct the line.")
    if not found:
        yield Finding("languages", "sentences and words of every language can be used")


def of_carrier(chosen: Settings) -> Iterator[Finding]:
    """Whether texts can come in and go out by each carrier that is set up."""
    if chosen.demonstration:
        yield Finding("carrier", Practice().says())
        return
    for carrier in carriers(chosen):
        lacks = [Finding("carrier", each.says, each.mend) for each in carrier.lacks()]
        yield from lacks or [Finding("carrier", carrier.says())]
    if not chosen.link_key:
        yield Finding("carrier", "links of owners end at each restart", "Set TAPPING_LOG_LINK_KEY.")


def of_certificate(chosen: Settings, now: datetime) -> Iterator[Finding]:
    """The certificate of the public address, as a carrier sees it."""
    parts = urlsplit(chosen.public_url or "")
    if parts.scheme != "https" or not parts.hostname:
        return
    try:
        ends = certificate_ends(parts.hostname, parts.port or 443)
    except ssl.SSLCertVerificationError as fault:
        says = f"the certificate of {parts.hostname} is not accepted: {fault.verify_message}"
        yield Finding("certificate", says, "Renew it for this name (the web server before us holds it).")
    except OSError as fault:
        says = f"{parts.hostname} cannot be reached: {fault}"
        yield Finding("certificate", says, "See that the web server runs and the name leads here; then check again.")
    else:
        mend = "" if ends - now > RENEWED_BEFORE else "Renew it now, and see why it does not renew itself."
        yield Finding("certificate", f"of {parts.hostname} ends on {ends:%Y-%m-%d}", mend)


def certificate_ends(host: str, port: int) -> datetime:
    """When the certificate of a server ends. Raises OSError; ssl.SSLCertVerificationError for one that is not accepted."""
    context = ssl.create_default_context()
    with (
        socket.create_connection((host, port), timeout=PATIENCE) as line,
        context.wrap_socket(line, server_hostname=host) as secured,
    ):
        certificate = secured.getpeercert() or {}
    return datetime.fromtimestamp(ssl.cert_time_to_seconds(str(certificate["notAfter"])), UTC)


def of_disk(chosen: Settings) -> Iterator[Finding]:
    """Room for the books and for backups."""
    size = chosen.books.stat().st_size if isinstance(chosen.books, Path) and chosen.books.is_file() else 0
    places = [chosen.backup_folder] if isinstance(chosen.books, str) else [chosen.books.parent, chosen.backup_folder]
    disks = {place.stat().st_dev: place for each in places for place in [existing(each)]}
    for place in disks.values():
        free = shutil.disk_usage(place).free
        mend = "" if free > least_room(size) else f"Make room on the disk of {place}."
        yield Finding("disk", f"{free / 1e9:.1f} GB free at {place}", mend)


def of_backups(chosen: Settings, now: datetime) -> Finding:
    """How old the newest backup is."""
    folder, mend = chosen.backup_folder, "Run tapping-log backup each night, and copy the file to another machine."
    made = backups(folder) if folder.is_dir() else {}
    if not made:
        return Finding("backup", f"there is none in {folder}", mend)
    newest = max(made)
    return Finding("backup", f"the newest is of {newest:%Y-%m-%d %H:%M} UTC", mend if now - newest > BACKUP_AGE else "")

"""What `check` looks over in the books: whether they are whole and of this version, clock, zones, texts on their way."""

from collections.abc import Iterator
from contextlib import closing
from datetime import datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from bot.books import Books, BooksError, Transaction, farms, gateways, messages, outbox
from bot.books.backup import integrity
from bot.books.engines import Engine, shown
from bot.books.holders import holders
from bot.books.migrations import files, noted
from bot.books.sqlite import SqliteEngine
from bot.books.store import engine_at, explained
from bot.commands.checks import Finding
from bot.jobs import LEASED_OVER, LEFT_OVER
from bot.settings import Settings

#: Texts that are due are sent each minute; so long after that nobody sends.
SENT_WITHIN = timedelta(minutes=10)

#: Texts of so long are looked at for what became of them; more than so many and than this share that failed need a person.
RECEIPTS_OF, MOST_FAILED, FAILED_SHARE = timedelta(days=1), 5, 0.1

#: A gateway that fetches texts is to call at least so often (ours does each ten seconds).
HEARD_WITHIN = timedelta(minutes=15)


def of_books(chosen: Settings, now: datetime) -> Iterator[Finding]:
    """Everything that needs the books; nothing is made or migrated."""
    where = chosen.books
    if isinstance(where, Path) and not where.is_file():
        yield Finding("books", f"there are none at {where}", "Add a farm: tapping-log farm add farm.toml")
        return
    try:
        with closing(engine_at(where)) as engine:
            yield from _of_engine(engine, chosen, now)
    except BooksError as fault:
        yield Finding("books", str(fault), "Do what the line says; then check again.")
    if isinstance(where, Path):
        yield of_processes(where)


def _of_engine(engine: Engine, chosen: Settings, now: datetime) -> Iterator[Finding]:
    with engine.session() as session, explained(engine):
        applied = list(noted(engine, session))
        faults = integrity(session) if isinstance(engine, SqliteEngine) else []
    yield _whole(shown(chosen.books), faults)
    version = _version(applied)
    yield version
    if faults or version.wrong or applied != list(files()):
        return
    books = Books(engine)
    books.check()
    with books.reading() as tx:
        yield _clock(tx, now)
        yield from _zones(tx)
        yield from _outbox(tx, now)
        yield from _receipts(tx, now)
        yield from _gateways(tx, chosen, now)


def _whole(where: str, faults: list[str]) -> Finding:
    if not faults:
        return Finding("books", f"{where} are whole")
    mend = "Stop the server and put the last backup in place: tapping-log restore FILE --replace"
    return Finding("books", f"{where} are damaged: {faults[0]}", mend)


def _version(applied: list[str]) -> Finding:
    known = list(files())
    newer = [name for name in applied if name not in known]
    if newer:
        return Finding("schema", f"was written by a newer version ({newer[-1]})", "Install that version.")
    if not applied:
        return Finding("schema", "this is not a day-book", "Set TAPPING_LOG_BOOKS to a file or database of its own.")
    if len(applied) < len(known):
        return Finding("schema", f"is of an earlier version ({applied[-1]}); the next start brings it to {known[-1]}")
    return Finding("schema", f"is of this version ({applied[-1]})")


def _clock(tx: Transaction, now: datetime) -> Finding:
    newest = messages.newest(tx)
    if newest is None or newest <= now:
        return Finding("clock", f"{now:%Y-%m-%d %H:%M:%S} UTC, not before the newest text")
    says = f"{now:%Y-%m-%d %H:%M:%S} UTC is before the newest text, which arrived at {newest:%Y-%m-%d %H:%M:%S}"
    return Finding("clock", says, "Set the clock of this machine (timedatectl set-ntp true), then restart the server.")


def _zones(tx: Transaction) -> Iterator[Finding]:
    """The farms' zones are known to this machine."""
    lost = [farm for farm in farms.all_farms(tx) if not _known(farm.timezone)]
    for farm in lost:
        yield Finding(
            "time zone", f"{farm.timezone} of {farm.name} is not known", "Install the zones: pip install tzdata"
        )
    if not lost:
        yield Finding("time zone", "that of every farm is known")


def _known(zone: str) -> bool:
    try:
        ZoneInfo(zone)
    except (ZoneInfoNotFoundError, ValueError):
        return False
    return True


def _outbox(tx: Transaction, now: datetime) -> Iterator[Finding]:
    found = outbox.not_settled(tx)
    left = len(outbox.left_sending(tx, now - LEFT_OVER, now - LEASED_OVER))
    waiting, since = found.get("new", (0, now))
    late = waiting and now - since > SENT_WITHIN
    yield Finding(
        "texts",
        f"{waiting} wait" + (f", the first since {since:%Y-%m-%d %H:%M} UTC" if late else ""),
        "See that the timer of tapping-log due runs and that the carrier is set." if late else "",
    )
    if left:
        yield Finding("texts", f"{left} were on their way when something broke", "Run tapping-log due: it marks them.")
    unsure = found.get("unsure", (0, now))[0]
    if unsure:
        mend = "Look at them with tapping-log messages, and ask the carrier whether they went out."
        yield Finding("texts", f"{unsure} may or may not have gone out", mend)


def _receipts(tx: Transaction, now: datetime) -> Iterator[Finding]:
    """How many of the texts of the last day are known to be on their phones; nothing where none was sent."""
    went = outbox.went(tx, now - RECEIPTS_OF)
    ended = went.sent + went.failed
    if not ended:
        return
    says = f"of {ended} that were sent in a day {went.delivered} are known to be on the phone, {went.failed} failed"
    many = went.failed >= MOST_FAILED and went.failed > ended * FAILED_SHARE
    mend = "See why with tapping-log messages: wrong numbers, phones that are off, a carrier that lets none through."
    yield Finding("texts", says, mend if many else "")


def _gateways(tx: Transaction, chosen: Settings, now: datetime) -> Iterator[Finding]:
    """When each gateway called last: one that fetches texts calls again and again."""
    mend = "See that it has power, network and this secret, and that its clock is right; texts to others wait for it."
    for name in chosen.gateway_keys:
        last = gateways.heard(tx, name)
        silent = last is None or now - last > HEARD_WITHIN
        says = "has not called for a day" if last is None else f"called last at {last:%Y-%m-%d %H:%M} UTC"
        yield Finding("gateway", f"{name} {says}", mend if silent and chosen.gateway_url is None else "")


def of_processes(path: Path) -> Finding:
    """Whether one server alone has a SQLite file."""
    servers = [each for each in holders(path) if each.serves]
    if len(servers) < 2:
        return Finding("processes", f"{len(servers)} server has the books open" if servers else "no server runs")
    ids = ", ".join(str(each.id) for each in servers)
    says = f"{len(servers)} servers have one SQLite file open (processes {ids}): nothing breaks, but answers come late"
    return Finding("processes", says, "Stop all but one; to run several, move to PostgreSQL: tapping-log copy --to URL")

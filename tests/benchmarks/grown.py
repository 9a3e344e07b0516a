"""Books of many farms and years, made quickly for measuring: rows go in through the store's own sessions, not as texts.

A farm has ten tappers with two blocks each, tapped in turn on six days a week (S/2 d2 6d/7), rain, hydrometer readings,
stimulation, one rolling a day, a weighing, a collector and a count of the acid a week, a few lines corrected on their day,
and, where asked for, terms of pay with a settlement each month. Seeded, with figures of no real farm.
"""

import json
import random
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal
from typing import Any

from bot.books import Books, Transaction, entries, farms, messages, people, wages
from bot.books.convert import moment_out, record_out
from bot.books.engines import Table
from bot.books.ids import new_id
from bot.books.model import Farm
from bot.reckon.batches import Drc, batch, kept
from bot.reckon.wages import due
from parsers.reading import Block, Reason, Record, Role, What

TAPPERS, BLOCKS_EACH = 10, 2
BLOCKS = tuple(str(n + 1) for n in range(TAPPERS * BLOCKS_EACH))

#: Seasons that farms take turns with, so that not every farm has the same figures.
SEASONS = 8

_ENTRY = (
    "id farm_id message_id by_person via what day block ml grams drc_hundredths rain late again reason pieces sheets "
    "taken_from grade price_ten_thousandths place entered_at replaces removed confirmed computed"
)
ENTRIES = Table("entries", tuple(_ENTRY.split()), frozenset(), ("id",))
MESSAGES = Table("messages", ("id", "carrier", "number", "body", "sent_at", "arrived_at"), frozenset(), ("id",))

#: Columns of an entry that differ from farm to farm.
_OWN = frozenset({"id", "farm_id", "message_id", "by_person", "replaces"})
_SHARED = tuple(name for name in ENTRIES.columns if name not in _OWN)


@dataclass(frozen=True)
class Line:
    """A line of a season: whose work it is (a tapper's number, -1 the collector's, -2 the owner's) and what it says.

    `replaces` counts how many lines before it the line is that it takes the place of.
    """

    by: int
    record: Record
    at: datetime
    replaces: int = 0


def season(first: date, last: date, seed: int) -> list[Line]:
    """The lines of a farm from `first` to `last`, in the order of their entering."""
    dice = random.Random(seed)
    drc = {block: dice.uniform(30, 36) for block in BLOCKS}
    usual = {block: dice.uniform(12, 22) for block in BLOCKS}
    hanging: list[tuple[date, int, float]] = []
    lines: list[Line] = []
    for n in range((last - first).days + 1):
        day = first + timedelta(days=n)
        if day.weekday() != 6:
            lines += _morning(day, n, drc, usual, hanging, dice)
        if day.weekday() == 4:
            lines += _weekly(day, hanging, dice)
    return lines


def _morning(
    day: date,
    n: int,
    drc: dict[str, float],
    usual: Mapping[str, float],
    hanging: list[tuple[date, int, float]],
    dice: random.Random,
) -> Iterator[Line]:
    wet = dice.random() < 0.2
    if wet and dice.random() < 0.5:
        for tapper in range(TAPPERS):
            yield Line(tapper, Record(What.NO_TAPPING, day, reason=Reason.RAIN), _at(day, 6, tapper))
        return
    dry = 0.0
    for tapper in range(TAPPERS):
        block = BLOCKS[tapper * BLOCKS_EACH + n % BLOCKS_EACH]
        drc[block] = min(max(drc[block] + dice.gauss(0, 0.2), 27.0), 39.0)
        litres = Decimal(round(2 * usual[block] * (0.8 if wet else 1.0) * dice.uniform(0.9, 1.1))) / 2
        read = Decimal(round(drc[block] + dice.gauss(0, 1.5))) if dice.random() < 0.08 else None
        record = Record(What.LATEX, day, block, litres, drc=read, rain=wet)
        dry += float(litres) * 0.0098 * drc[block]
        yield Line(tapper, record, _at(day, 9, tapper))
        if dice.random() < 0.01:
            yield Line(tapper, record.with_(litres=litres + 1), _at(day, 10, tapper), replaces=1)
        if dice.random() < 0.03:
            yield Line(tapper, Record(What.STIMULATED, day, block), _at(day, 11, tapper))
    sheets = max(1, round(2 * dry))
    hanging.append((day, sheets, dry * dice.uniform(0.97, 1.03)))
    yield Line(0, Record(What.SHEETS_ROLLED, day, count=sheets), _at(day, 15, 0))


def _weekly(day: date, hanging: list[tuple[date, int, float]], dice: random.Random) -> Iterator[Line]:
    dry = [each for each in hanging if (day - each[0]).days >= 6]
    hanging[:] = [each for each in hanging if each not in dry]
    yield Line(-2, Record(What.ACID_STOCK, day, litres=Decimal(round(dice.uniform(5, 20)))), _at(day, 17, 0))
    if dry:
        sheets, kg = sum(each[1] for each in dry), Decimal(round(10 * sum(each[2] for each in dry))) / 10
        yield Line(0, Record(What.SHEETS_DRY, day, count=sheets, kg=kg), _at(day, 16, 0))
        sold = Record(What.COLLECTED, day, sheets=sheets, kg=kg, grade="RSS3", price=Decimal("1.55"))
        yield Line(-1, sold, _at(day, 16, 30))


def _at(day: date, hour: int, minute: int) -> datetime:
    return datetime.combine(day, time(hour, minute), UTC)


def grow(books: Books, count: int, first: date, last: date, *, until: date | None = None, paid: bool = False) -> None:
    """Put so many farms with the days from `first` to `last` into empty books; `paid` with terms and settlements.

    Days after `until` are left for `go_on`.
    """
    start, until = datetime.combine(first, time(0), UTC), until or last
    seasons: list[list[tuple[Any, ...]]] = []
    for n in range(count):
        with books.transaction() as tx:
            farm = _farm(tx, n, start)
            numbers = _people(tx, farm, n, start)
            if len(seasons) < SEASONS:
                lines = season(first, last, seed=n)
                seasons.append([_row(each, farm) for each in lines if _day(each) <= until])
            tx.run("mark_lesson", farm_id=farm.id, mark=new_id())
        with books.engine.session() as session:
            session.execute(books.engine.begin)
            texts, rows = _rows(farm.id, n, numbers, seasons[n % SEASONS])
            session.fill(MESSAGES, texts)
            session.fill(ENTRIES, rows)
            session.execute("commit")
        if paid:
            with books.transaction() as tx:
                _pay(tx, farm, first, until)


def go_on(books: Books, first: date, last: date, since: date) -> None:
    """Enter the days from `since` to `last` as texts are entered, at every farm that was grown from `first`."""
    seasons = {seed: [each for each in season(first, last, seed) if _day(each) >= since] for seed in range(SEASONS)}
    with books.transaction() as tx:
        grown = farms.all_farms(tx)
    for n, farm in enumerate(grown):
        with books.transaction() as tx:
            _enter(tx, farm, seasons[n % SEASONS])


def _enter(tx: Transaction, farm: Farm, lines: Sequence[Line]) -> None:
    members = [each.person for each in people.members(tx, farm.id)]
    entered: list[str] = []
    for at, line in enumerate(lines):
        by = members[line.by + 2]
        text = f"{farm.id} {line.at.isoformat()} {at}"
        arrived = {"text": "a text", "at": line.at, "arrived": line.at}
        messages.receive(tx, message_id=text, carrier="practice", number=by.number, **arrived)
        found = entries.enter(
            tx,
            farm_id=farm.id,
            message_id=text,
            by=by,
            via=None,
            record=line.record,
            entered_at=line.at,
            computed=_computed(line, farm),
            replaces=entered[at - line.replaces] if line.replaces else None,
        )
        entered.append(found.id)


def _day(line: Line) -> date:
    assert line.record.day is not None
    return line.record.day


def _computed(line: Line, farm: Farm) -> Mapping[str, Any] | None:
    drc = Drc(33.0, 30.0, 36.0, "farm")
    return kept(batch(line.record, drc), farm) if line.record.what is What.LATEX else None


def _farm(tx: Transaction, n: int, at: datetime) -> Farm:
    return farms.add_farm(
        tx,
        name=f"Farm {n:04}",
        timezone="Asia/Bangkok",
        currency="USD",
        language="en",
        blocks={name: Block(300, Decimal(16)) for name in BLOCKS},
        containers={"bucket": Decimal(12)},
        settings={"tapping": "S/2 d2 6d/7", "tapping_from": _monday(at.date()).isoformat(), "rest_weekday": 6},
        at=at,
    )


def _monday(day: date) -> date:
    """That day or the first Monday after it: no task begins on a day of rest."""
    return day + timedelta(days=-day.weekday() % 7)


def _people(tx: Transaction, farm: Farm, n: int, at: datetime) -> dict[int, tuple[str, str]]:
    """Id and number of each tapper (0 and up), the collector (-1) and the owner (-2)."""
    found = {}
    for who in range(-2, TAPPERS):
        role = {-2: Role.OWNER, -1: Role.COLLECTOR}.get(who, Role.TAPPER)
        own = BLOCKS[who * BLOCKS_EACH : (who + 1) * BLOCKS_EACH] if who >= 0 else ()
        about = {"name": f"Person {n} {who + 2}", "number": f"+4477{n:04}{who + 2:04}", "language": "en"}
        person = people.enrol(tx, farm_id=farm.id, role=role, blocks=own, at=at, message_id=None, **about).person
        found[who] = (person.id, person.number)
    return found


def _row(line: Line, farm: Farm) -> tuple[Any, ...]:
    """What is the same for every farm with this season: number of the person and of the line replaced, and the columns."""
    computed = _computed(line, farm)
    columns = {
        **record_out(line.record),
        "via": None,
        "entered_at": moment_out(line.at),
        "removed": 0,
        "confirmed": 0,
        "computed": None if computed is None else json.dumps(computed),
    }
    return line.by, line.replaces, tuple(columns.get(name) for name in _SHARED)


def _rows(
    farm_id: str, n: int, numbers: Mapping[int, tuple[str, str]], lines: Sequence[tuple[Any, ...]]
) -> tuple[list[tuple[Any, ...]], list[tuple[Any, ...]]]:
    """A text for each day, and the lines, with keys that rise like those of the books."""
    texts: dict[str, tuple[Any, ...]] = {}
    rows = []
    for at, (by, replaces, columns) in enumerate(lines):
        person, number = numbers[by]
        row = dict(zip(_SHARED, columns, strict=True))
        text = f"{n:08}{row['day']}"
        texts.setdefault(text, (text, "practice", number, "a text", row["entered_at"], row["entered_at"]))
        row |= {
            "id": f"{n:08}{at:014}",
            "farm_id": farm_id,
            "message_id": text,
            "by_person": person,
            "replaces": f"{n:08}{at - replaces:014}" if replaces else None,
        }
        rows.append(tuple(row[name] for name in ENTRIES.columns))
    return list(texts.values()), rows


def _pay(tx: Transaction, farm: Farm, first: date, last: date) -> None:
    """Terms for all from the first day, and a settlement of each tapper for each full month but the last."""
    told = {"person_id": None, "since": first.isoformat(), "terms": json.dumps({"per_kilo": "0.5"}), "message_id": None}
    tx.run(
        "add_pay_terms",
        id=f"{0:022}",
        farm_id=farm.id,
        set_at=moment_out(datetime.combine(first, time(0), UTC)),
        **told,
    )
    month = first.replace(day=1)
    while (after := (month + timedelta(days=32)).replace(day=1)) < last.replace(day=1):
        start, end = max(month, first), after - timedelta(days=1)
        for each in due(tx, farm, start, end):
            wages.settle(
                tx,
                farm.id,
                each.person.id,
                first=start,
                last=end,
                slip=each.slip,
                earned=each.settlement.earned,
                recovered=each.settlement.recovered,
                paid=each.settlement.paid,
                owed=each.settlement.still_owed,
                at=datetime.combine(after, time(9), UTC),
                message_id=None,
            )
        month = after

"""A cooperative's collecting day: rounds done, kilos by grade, cash to pay out, disputes, the store, who was not visited.

Gathered from the standing entries of all farms, computed, then said: as a text to each manager at the closing hour, and as a
page. Kilos are those that are paid for.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal
from functools import cached_property
from zoneinfo import ZoneInfo

from bot.books import Transaction, cooperatives, disputes, entries, farms, outbox, places, storeroom, visits
from bot.books.cooperatives import Cooperative
from bot.books.disputes import Dispute
from bot.books.model import Entry, Person
from bot.books.places import Place
from bot.books.storeroom import Bale, Storeroom
from bot.books.visits import EmptyVisit
from bot.reckon import takes
from bot.reckon.pay_terms import decimals
from bot.reckon.waiting import Waiting, waiting
from bot.speech.fitting import fitting
from bot.speech.language import Tongue, economical, tongue
from bot.speech.parts import count_parts
from bot.week import paying_out
from bot.week.paying_out import ToPay
from bot.week.waiting_words import ready_words
from parsers.reading import What

#: Parts that a closing text may take.
MOST_PARTS = 3

#: A closing whose hour passed longer ago than this (the machine was off) is not sent any more.
LATEST = timedelta(hours=10)


@dataclass(frozen=True)
class RoundDone:
    """A collector's round of the day: the places in their order, and those where he was."""

    collector: Person
    stops: tuple[Place, ...]
    visited: frozenset[str]

    @property
    def missed(self) -> list[Place]:
        """The places where he was not."""
        return [each for each in self.stops if each.id not in self.visited]


@dataclass(frozen=True)
class Cash:
    """What a grower is to be paid for the day: kilos, amount, receipts, and takes without a price."""

    farm: str
    kg: Decimal
    amount: Decimal
    receipts: int
    unpriced: int


@dataclass(frozen=True)
class InDispute:
    """A dispute that is open: the take with its receipt, whose it is, and who says what."""

    dispute: Dispute
    number: int
    farm: str
    entry: Entry
    by: str


@dataclass(frozen=True)
class NotVisited:
    """A farm from which nothing was taken: one on today's rounds where something waits, or one where nobody was met."""

    farm: str
    places: tuple[str, ...]
    waiting: Waiting


@dataclass(frozen=True)
class Closing:
    """A collecting day of a cooperative."""

    cooperative: Cooperative
    day: date
    rounds: tuple[RoundDone, ...]
    kinds: Mapping[str, tuple[Decimal, Decimal]]
    cash: tuple[Cash, ...]
    disputes: tuple[InDispute, ...]
    store: Storeroom
    not_visited: tuple[NotVisited, ...]
    nobody_home: tuple[NotVisited, ...]

    @cached_property
    def amount(self) -> Decimal:
        """What is to be paid out for the day."""
        return sum((each.amount for each in self.cash), Decimal(0))

    @property
    def stops(self) -> tuple[int, int]:
        """Places where collectors were, and places on their rounds."""
        return sum(len(each.stops) - len(each.missed) for each in self.rounds), sum(len(r.stops) for r in self.rounds)


def local_day(cooperative: Cooperative, now: datetime) -> date:
    """The day on the cooperative's clock."""
    return now.astimezone(ZoneInfo(cooperative.timezone)).date()


def closing(tx: Transaction, cooperative: Cooperative, day: date) -> Closing:
    """Everything about a collecting day. Sheets, latex and lump that wait are looked at where a round led and none was taken."""
    found = cooperatives.standing(tx, cooperative.id, What.COLLECTED, day, day)
    names = cooperatives.farm_names(tx, cooperative.id)
    here = [each for each in found if each.record.farm is None or each.record.farm == names[each.farm_id]]
    known = places.of_cooperative(tx, cooperative.id)
    empty = visits.on(tx, cooperative.id, day)
    rounds = _rounds(tx, cooperative, day, here, known, empty)
    sold = {each.farm_id for each in here}
    met_nobody = {each.farm_id for each in empty} - sold
    return Closing(
        cooperative,
        day,
        rounds,
        _kinds(here),
        _cash(cooperative, here, names),
        tuple(_in_dispute(tx, each, names) for each in disputes.open_at_cooperative(tx, cooperative.id)),
        storeroom.at(tx, cooperative.id, day),
        _not_visited(tx, day, rounds, sold | met_nobody, names),
        _nobody_home(tx, day, met_nobody, known, names),
    )


def _rounds(
    tx: Transaction,
    cooperative: Cooperative,
    day: date,
    taken: Sequence[Entry],
    known: Sequence[Place],
    empty: Sequence[EmptyVisit],
) -> tuple[RoundDone, ...]:
    by_id = {each.id: each for each in known}
    checked = cooperatives.standing(tx, cooperative.id, What.CHECK_IN, day, day)
    done = []
    for each in places.rounds(tx, cooperative.id):
        if each.weekday != day.weekday():
            continue
        stops = tuple(by_id[place_id] for place_id in each.place_ids if place_id in by_id)
        names = {entry.record.place for entry in checked if entry.by.id == each.person.id}
        seen = {entry.farm_id for entry in taken if entry.by.id == each.person.id}
        seen |= {visit.farm_id for visit in empty if visit.person_id == each.person.id}
        visited = frozenset(stop.id for stop in stops if stop.name in names or seen & set(stop.farm_ids))
        done.append(RoundDone(each.person, stops, visited))
    return tuple(done)


def _kinds(taken: Sequence[Entry]) -> dict[str, tuple[Decimal, Decimal]]:
    """Kilos and amount by grade or form, the most first."""
    found: dict[str, tuple[Decimal, Decimal]] = {}
    for each in taken:
        kind = takes.kind_of(takes.lot_of(each))
        kg, amount = found.get(kind, (Decimal(0), Decimal(0)))
        found[kind] = kg + takes.paid_kg(each), amount + (_amount(each) or Decimal(0))
    return dict(sorted(found.items(), key=lambda pair: -pair[1][0]))


def _amount(entry: Entry) -> Decimal | None:
    kept = (entry.computed or {}).get("amount")
    return None if kept is None else Decimal(kept)


def _cash(cooperative: Cooperative, taken: Sequence[Entry], names: Mapping[str, str]) -> tuple[Cash, ...]:
    by_farm: dict[str, list[Entry]] = {}
    for each in taken:
        by_farm.setdefault(each.farm_id, []).append(each)
    nothing = Decimal(0).scaleb(-decimals(cooperative.currency))
    found = []
    for farm_id, own in by_farm.items():
        amounts = [_amount(each) for each in own]
        paid = sum((each for each in amounts if each is not None), nothing)
        kg = sum((takes.paid_kg(each) for each in own), Decimal(0))
        found.append(Cash(names[farm_id], kg, paid, len(own), sum(each is None for each in amounts)))
    return tuple(sorted(found, key=lambda each: each.farm))


def _in_dispute(tx: Transaction, dispute: Dispute, names: Mapping[str, str]) -> InDispute:
    last = entries.history(tx, dispute.entry_id)[-1]
    by = tx.run("person", id=dispute.by_person)[0]["name"]
    return InDispute(dispute, entries.receipt_number(tx, last), names.get(dispute.farm_id, ""), last, by)


def _not_visited(
    tx: Transaction, day: date, rounds: Sequence[RoundDone], sold: set[str], names: Mapping[str, str]
) -> tuple[NotVisited, ...]:
    led: dict[str, list[str]] = {}
    for each in rounds:
        for stop in each.stops:
            for farm_id in stop.farm_ids:
                if farm_id not in sold and farm_id in names and stop.name not in led.setdefault(farm_id, []):
                    led[farm_id].append(stop.name)
    found = [
        NotVisited(names[farm_id], tuple(stops), waiting(tx, farms.farm(tx, farm_id), day))
        for farm_id, stops in led.items()
    ]
    full = [each for each in found if each.waiting.anything]
    return tuple(sorted(full, key=lambda each: (-each.waiting.weight.kg - float(each.waiting.lump), each.farm)))


def _nobody_home(
    tx: Transaction, day: date, met_nobody: set[str], known: Sequence[Place], names: Mapping[str, str]
) -> tuple[NotVisited, ...]:
    """Farms where a collector was and met nobody, with what waits there."""
    found = [
        NotVisited(
            names[farm_id],
            tuple(each.name for each in known if farm_id in each.farm_ids),
            waiting(tx, farms.farm(tx, farm_id), day),
        )
        for farm_id in met_nobody
        if farm_id in names
    ]
    return tuple(sorted(found, key=lambda each: each.farm))


def in_words(seen: Closing, speech: Tongue, due: ToPay | None, link: str | None = None) -> str:
    """The closing text: places, kilos by grade, cash, disputes, who was not visited, the store; three parts at most.

    `due` is what is to be paid out now; None for a day that is over.
    """
    done, all_ = seen.stops
    head = f"{seen.cooperative.name} {speech.date(seen.day)}:"
    pieces = [head]
    if all_:
        pieces.append(speech.say("{done} of {all} places.", done=done, all=all_))
    pieces.append(_kilos(speech, seen))
    pieces += paying_out.in_words(speech, seen.cooperative, seen.amount, len(seen.cash), due)
    unpriced = sum(each.unpriced for each in seen.cash)
    if unpriced:
        pieces.append(speech.count("{n} without a price.", "{n} without a price.", unpriced))
    if seen.disputes:
        listed = speech.several(f"{each.number} {each.farm}" for each in seen.disputes[:5])
        pieces.append(speech.say("In dispute: {list}.", list=listed))
    if link is not None:
        pieces.insert(1, link)
    return fitting(pieces, [*_missed_lines(speech, seen), *_store(speech, seen)], MOST_PARTS)


def _kilos(speech: Tongue, seen: Closing) -> str:
    if not seen.kinds:
        return speech.say("Nothing was taken.")
    return (
        speech.several(f"{kind_name(speech, kind)} {speech.number(kg, 1)} kg" for kind, (kg, _) in seen.kinds.items())
        + "."
    )


def kind_name(speech: Tongue, kind: str) -> str:
    """A grade, or a form in words."""
    forms = {"sheets": speech.say("sheets"), "latex": speech.say("latex"), "lump": speech.say("lump")}
    return forms.get(kind, kind)


def _missed_lines(speech: Tongue, seen: Closing) -> list[str]:
    empty = _listed(speech, speech.say("Nobody home:"), seen.nobody_home)
    return [*_listed(speech, speech.say("Ready, not visited:"), seen.not_visited), *empty]


def _listed(speech: Tongue, head: str, found: Sequence[NotVisited]) -> list[str]:
    """Farms with what waits there, one piece each, so that what does not fit can be left out."""
    said = [f"{each.farm} {ready_words(speech, each.waiting)}".strip() for each in found]
    pieces = [f"{each}{',' if n + 1 < len(said) else '.'}" for n, each in enumerate(said)]
    return [f"{head} {pieces[0]}", *pieces[1:]] if pieces else []


def _store(speech: Tongue, seen: Closing) -> list[str]:
    listed = store_in_words(speech, seen.store, 0)
    return [speech.say("Store: {list}.", list=listed)] if listed else []


def store_in_words(speech: Tongue, store: Storeroom, places: int) -> str:
    """`RSS3 206.7 kg, 12 bales RSS3 111.11 kg`: what lies at a store; empty where nothing does."""
    loose = [f"{kind_name(speech, kind)} {speech.number(kg, places)} kg" for kind, kg in store.sheets.items()]
    bales = [f"{bales_in_words(speech, bale, pieces)}" for bale, pieces in store.pieces.items()]
    return speech.several([*loose, *bales])


def bales_in_words(speech: Tongue, bale: Bale, pieces: int) -> str:
    """`12 bales RSS3 of 111.11 kg`."""
    values = {"kind": kind_name(speech, bale.kind), "kg": speech.measured(bale.kg)}
    return speech.count("{n} bale {kind} of {kg} kg", "{n} bales {kind} of {kg} kg", pieces, **values)


def write_closings(tx: Transaction, now: datetime, link: Callable[[str, str], str] | None = None) -> int:
    """Put the closing texts in the outbox whose hour has come, one for each manager and collecting day. Returns how many."""
    return sum(_write(tx, each, now, link) for each in cooperatives.everyone(tx))


def _write(tx: Transaction, cooperative: Cooperative, now: datetime, link: Callable[[str, str], str] | None) -> int:
    local = now.astimezone(ZoneInfo(cooperative.timezone))
    due = local.replace(hour=cooperative.closing_hour, minute=0, second=0, microsecond=0)
    due = due if due <= local else due - timedelta(days=1)
    if local - due > LATEST:
        return 0
    day = due.date()
    waiting_for = [
        each
        for each in cooperatives.managers(tx, cooperative.id)
        if each.opted_out_at is None and each.blocked_at is None and not outbox.has(tx, _key(cooperative, each, day))
    ]
    if not waiting_for or not _is_collecting_day(tx, cooperative, day):
        return 0
    seen = closing(tx, cooperative, day)
    cash = paying_out.to_pay(tx, cooperative, seen.amount, len(seen.cash))
    for each in waiting_for:
        address = None if link is None else link(cooperative.id, each.id)
        text = economical(in_words(seen, tongue(each.language), cash, address))
        outbox.put(
            tx,
            to=each.number,
            text=text,
            parts=count_parts(text).parts,
            because=None,
            key=_key(cooperative, each, day),
            due_at=now,
            created_at=now,
        )
    return len(waiting_for)


def _is_collecting_day(tx: Transaction, cooperative: Cooperative, day: date) -> bool:
    """Whether there are rounds on the weekday, or something was taken all the same."""
    led = any(each.weekday == day.weekday() for each in places.rounds(tx, cooperative.id))
    return led or bool(cooperatives.standing(tx, cooperative.id, What.COLLECTED, day, day))


def _key(cooperative: Cooperative, person: Person, day: date) -> str:
    return f"closing:{cooperative.id}:{person.id}:{day.isoformat()}"

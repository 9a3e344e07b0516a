"""What a handler has before it: who texts, for which farm, in which setting, and the open transaction."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from decimal import Decimal
from functools import cached_property
from typing import Any, TypeVar
from zoneinfo import ZoneInfo

from bot.books import Transaction, cooperatives, entries, farms, people, questions
from bot.books.cooperatives import Cooperative
from bot.books.model import Entry, Farm, FarmBlock, Membership, Person, Question
from bot.reckon import batches
from bot.reckon.batches import Batch
from bot.reckon.drc import drc_of
from bot.reckon.learning import Lessons, lessons, litres_learned
from bot.rubber.estimate import Latex
from bot.rubber.levels import expect_litres
from bot.speech.language import Tongue, tongue
from bot.talk.exchange import Incoming, Kind
from bot.talk.house import PLAIN, House
from parsers.reading import Block, Entered, OpenQuestion, Record, Role, Setting, What
from parsers.reading import Person as Named

#: How many days back the reader is shown what stands in the book, so that corrections find what they mean.
DAYS_IN_VIEW = 10

#: So many reports of a block tell what is usual there, where the farm has not said it.
ENOUGH_TO_TELL = 3

#: A text before this hour of the farm's clock speaks of the day before: that tapping is what is being reported.
NEW_DAY_HOUR = 3


Seen = TypeVar("Seen")


@dataclass(frozen=True)
class Told:
    """A text for somebody else, in his own language."""

    person: Person
    text: str


@dataclass(frozen=True)
class Outcome:
    """What a handler made of a text: the kind of answer, the answer (None: silence), and what others are told."""

    kind: Kind
    text: str | None
    others: tuple[Told, ...] = ()


@dataclass(frozen=True)
class Desk:
    """One person at one farm with one text before him."""

    tx: Transaction
    farm: Farm
    me: Person
    roles: frozenset[Role]
    own_blocks: tuple[str, ...]
    message: Incoming
    now: datetime
    house: House = PLAIN
    _days: dict[date, list[Entry]] = field(default_factory=dict, init=False, repr=False, compare=False)
    _batches: dict[Record, Batch | None] = field(default_factory=dict, init=False, repr=False, compare=False)
    _receipts: dict[str, int] = field(default_factory=dict, init=False, repr=False, compare=False)

    @property
    def tongue(self) -> Tongue:
        """The sender's language."""
        return tongue(self.me.language)

    @cached_property
    def sent(self) -> datetime:
        """The sending time on the farm's clock; a sending time ahead of ours is taken for ours."""
        return min(self.message.at, self.now).astimezone(ZoneInfo(self.farm.timezone))

    @property
    def today(self) -> date:
        """The log day of the text."""
        return log_day(self.sent)

    @cached_property
    def members(self) -> list[Membership]:
        """Everybody of the farm."""
        return people.members(self.tx, self.farm.id)

    @cached_property
    def view(self) -> list[Entry]:
        """What stands in the book for the last days, oldest first."""
        return entries.standing(self.tx, self.farm.id, first=self._first_in_view)

    @property
    def _first_in_view(self) -> date:
        return self.today - timedelta(days=DAYS_IN_VIEW)

    def on(self, day: date | None) -> list[Entry]:
        """What stood in view for a day when it was first asked about: a plain report needs no more of the book."""
        if day is None or day < self._first_in_view:
            return []
        if day not in self._days:
            self._days[day] = entries.standing(self.tx, self.farm.id, first=day, last=day)
        return self._days[day]

    @cached_property
    def asked(self) -> Question | None:
        """What the sender had been asked, here or at another farm, when the text came."""
        return questions.open_question(self.tx, self.me.id, self.sent)

    @cached_property
    def blocks(self) -> dict[str, FarmBlock]:
        """The farm's blocks by name, as they were when the text came."""
        return farms.blocks(self.tx, self.farm.id)

    @cached_property
    def cooperative(self) -> Cooperative | None:
        """The cooperative that the farm belongs to."""
        return cooperatives.of_farm(self.tx, self.farm.id)

    def batch(self, record: Record) -> Batch | None:
        """The latex of a record with its dry rubber; None for a record of something else, or without litres."""
        if record not in self._batches:
            found = batches.batch(record, drc_of(record, self.known)) if batches.is_latex(record) else None
            self._batches[record] = found
        return self._batches[record]

    def receipt_number(self, take: Entry) -> int:
        """The number of a take's receipt."""
        if take.id not in self._receipts:
            self._receipts[take.id] = entries.receipt_number(self.tx, take)
        return self._receipts[take.id]

    @cached_property
    def known(self) -> Lessons:
        """What the farm's book has taught about the dry rubber in its latex."""
        return lessons(self.tx, self.farm, self.today)

    @property
    def is_owner(self) -> bool:
        return Role.OWNER in self.roles

    @property
    def role(self) -> Role:
        """The role that decides how a text is read: an owner may do what a tapper may, and more."""
        return next(role for role in (Role.OWNER, Role.COLLECTOR, Role.TAPPER) if role in self.roles)

    def owners(self) -> list[Person]:
        """The owners of the farm."""
        return self._with_role(Role.OWNER)

    def tappers(self) -> list[Person]:
        """The tappers of the farm."""
        return self._with_role(Role.TAPPER)

    def collectors(self) -> list[Person]:
        """The collectors that come to the farm."""
        return self._with_role(Role.COLLECTOR)

    def _with_role(self, role: Role) -> list[Person]:
        return [each.person for each in self.members if each.role is role]

    def named(self, name: str | None) -> Person | None:
        """Somebody of the farm by the name that the reader found.

        Of two by one name it is the one enrolled last whose phone is not blocked: he lost a phone and has a new one.
        """
        called = [each.person for each in self.members if name and each.person.name == name]
        working = [each for each in called if each.blocked_at is None]
        return next(iter((working or called)[-1:]), None)

    def called(self, name: str | None) -> frozenset[str]:
        """The ids of everybody of the farm, now or before, by the name that the reader found; none where none is named."""
        if name is None:
            return frozenset()
        return frozenset(people.selves(self.tx, self.farm.id, name))

    def is_mine(self, person_id: str) -> bool:
        """Whether the work of somebody is the sender's own: his, or of a phone that he had at this farm before."""
        return person_id == self.me.id or person_id in self._earlier_selves

    @cached_property
    def _earlier_selves(self) -> frozenset[str]:
        return frozenset(people.earlier_selves(self.tx, self.farm.id, self.me))

    def _learned_litres(self, block: str) -> Decimal | None:
        """What a block whose usual litres were not told has brought of late; None before it has brought enough to tell."""
        brought = [entry for entry in self.view if entry.record.what is What.LATEX and entry.record.block == block]
        if len(brought) < ENOUGH_TO_TELL:
            return None
        learned = litres_learned(self.known, brought, {})
        expected = expect_litres(learned, Latex(self.today, block, 0.0))
        return Decimal(str(round(expected.middle, 1)))

    def _entered(self) -> list[Entered]:
        """What stands in view, as the reader sees it."""
        zone = ZoneInfo(self.farm.timezone)
        return [
            Entered(
                id=entry.id,
                record=entry.record,
                by=entry.by.name,
                mine=self.is_mine(entry.by.id),
                at=entry.entered_at.astimezone(zone).replace(tzinfo=None),
            )
            for entry in self.view
        ]

    def setting(self, question: OpenQuestion | None) -> Setting:
        """The setting that the text is read in."""
        return Setting(
            blocks={
                name: Block(block.trees, block.usual_litres or self._learned_litres(name))
                for name, block in self.blocks.items()
            },
            role=self.role,
            own_blocks=self.own_blocks,
            language=self.me.language,
            sent_at=self.sent.replace(tzinfo=None),
            containers=farms.containers(self.tx, self.farm.id),
            name=self.me.name,
            people=tuple(Named(each.person.name, each.role, each.blocks) for each in self.members),
            farms=tuple(farms.names_known(self.tx, self.farm)),
            places=_WhenLooked(lambda: [point.name for point in farms.points(self.tx)]),
            entered=_WhenLooked(self._entered),
            question=question,
        )


class _WhenLooked(Sequence[Seen]):
    """What the reader may look into, read from the book when it first does: a text that corrects nothing does not need what
    stands in view, and the lines of ten days cost more than all else that a text needs; nor do most need the names of all
    places of a country.
    """

    def __init__(self, read: Callable[[], Sequence[Seen]]) -> None:
        self._read = read

    @cached_property
    def _found(self) -> Sequence[Seen]:
        return self._read()

    def __len__(self) -> int:
        return len(self._found)

    def __iter__(self) -> Iterator[Seen]:
        return iter(self._found)

    def __getitem__(self, at: Any) -> Any:
        return self._found[at]


def log_day(local: datetime) -> date:
    """The day that a text of this local time speaks of when it names none: before 03:00 the day before."""
    return local.date() - timedelta(days=1) if local.hour < NEW_DAY_HOUR else local.date()


def desks(tx: Transaction, me: Person, message: Incoming, now: datetime, house: House = PLAIN) -> list[Desk]:
    """A desk for each farm of the person, the one that he last wrote about first."""
    seats: dict[str, list[Membership]] = {}
    for membership in people.memberships(tx, me.id):
        seats.setdefault(membership.farm_id, []).append(membership)
    found = []
    for farm_id, held in seats.items():
        farm = farms.farm(tx, farm_id)
        roles = frozenset(each.role for each in held)
        found.append(Desk(tx, farm, me, roles, _own_blocks(tx, farm_id, held), message, now, house))
    if len(found) < 2:
        return found
    latest = entries.latest_farm_of(tx, me.id)
    return sorted(found, key=lambda desk: desk.farm.id != latest)


def _own_blocks(tx: Transaction, farm_id: str, held: list[Membership]) -> tuple[str, ...]:
    """A tapper's blocks; an owner who names none of his own may speak of any block of the farm."""
    own = tuple(dict.fromkeys(name for each in held for name in each.blocks))
    owns_all = any(each.role is Role.OWNER for each in held)
    return own or (tuple(farms.blocks(tx, farm_id)) if owns_all else ())

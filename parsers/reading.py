"""The vocabulary of the whole product: what a text can say, and the setting that it is read in.

Plain frozen data. Nothing here knows a clock, a network or a database. Quantities are Decimal so that what a person
wrote is what is kept; days are dates of the farm's calendar.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, fields, replace
from datetime import date, datetime
from decimal import Decimal
from enum import StrEnum
from typing import Any


class Intent(StrEnum):
    """What the sender wants. The last four are ours; a clerk's form knows only the ten before them."""

    LOG = "log"
    FIX = "fix"
    UNDO = "undo"
    DOSE = "dose"
    WEEK = "week"
    READY = "ready"
    HELP = "help"
    STOP = "stop"
    CHAT = "chat"
    UNKNOWN = "unknown"
    START = "start"
    MANAGE = "manage"
    DISPUTE = "dispute"
    WHY = "why"


#: How the clerk's form writes the intents that it does not know.
CLERKS_WORD = {
    Intent.START: Intent.CHAT,
    Intent.MANAGE: Intent.UNKNOWN,
    Intent.DISPUTE: Intent.CHAT,
    Intent.WHY: Intent.WEEK,
}


class What(StrEnum):
    """The kinds of record in the day-book (and `dose`, which is never entered)."""

    LATEX = "latex"
    NO_TAPPING = "no_tapping"
    LUMP = "lump"
    SHEETS_ROLLED = "sheets_rolled"
    SHEETS_DRY = "sheets_dry"
    STIMULATED = "stimulated"
    DRY_TREES = "dry_trees"
    ACID_STOCK = "acid_stock"
    COLLECTED = "collected"
    DOSE = "dose"
    CHECK_IN = "check_in"
    PRICE = "price"


class Ask(StrEnum):
    """What has to be asked back before anything can be entered."""

    BLOCK = "block"
    LITRES = "litres"
    DAY = "day"
    KG = "kg"
    WHAT = "what"


class Reason(StrEnum):
    """Why a block was not tapped."""

    RAIN = "rain"
    SICK = "sick"
    REST = "rest"
    HOLIDAY = "holiday"
    WINTERING = "wintering"
    OTHER = "other"


class Role(StrEnum):
    """What somebody is to a farm."""

    TAPPER = "tapper"
    OWNER = "owner"
    COLLECTOR = "collector"


#: A no-tapping record for all the blocks of the sender.
ALL_BLOCKS = "*"


@dataclass(frozen=True)
class Record:
    """One line for the day-book. Fields that do not apply are None (rain, late, again: False).

    Units: litres of latex or acid, kg as weighed, drc in percent by mass, price per kg in the farm's currency.
    `again` marks a further collection of a block on a day that has one already; it adds and never replaces.
    """

    what: What
    day: date | None = None
    block: str | None = None
    litres: Decimal | None = None
    kg: Decimal | None = None
    drc: Decimal | None = None
    rain: bool = False
    late: bool = False
    reason: Reason | None = None
    count: int | None = None
    sheets: int | None = None
    farm: str | None = None
    grade: str | None = None
    price: Decimal | None = None
    place: str | None = None
    again: bool = False

    def with_(self, **changes: Any) -> "Record":
        """The same record with some fields changed."""
        return replace(self, **changes)

    def to_json(self) -> dict[str, Any]:
        """The clerk's form: keys that do not apply are left out, numbers are plain; a lump always carries its block."""
        out: dict[str, Any] = {}
        for each in fields(self):
            value = getattr(self, each.name)
            if each.name == "again" or value is None or value is False:
                continue
            out[each.name] = _plain(value)
        if self.what is What.LUMP:
            out.setdefault("block", None)
        return out

    @classmethod
    def from_json(cls, data: Mapping[str, Any]) -> "Record":
        """Read the clerk's form. Raises ValueError for an unknown kind, key, day or number."""
        values: dict[str, Any] = dict(data)
        unknown = values.keys() - {each.name for each in fields(cls)}
        if unknown:
            raise ValueError(f"a record has no {', '.join(sorted(unknown))}")
        values["what"] = What(values["what"])
        if values.get("day") is not None:
            values["day"] = date.fromisoformat(values["day"])
        if values.get("reason") is not None:
            values["reason"] = Reason(values["reason"])
        for name in ("litres", "kg", "drc", "price"):
            if values.get(name) is not None:
                values[name] = Decimal(str(values[name]))
        return cls(**values)


def _plain(value: Any) -> Any:
    if isinstance(value, Decimal):
        return int(value) if value == value.to_integral_value() else float(value)
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, StrEnum):
        return value.value
    return value


@dataclass(frozen=True)
class Block:
    """What is known of a block: number of trees in tapping, litres of a normal tapping day, stated hectares."""

    trees: int | None = None
    usual_litres: Decimal | None = None
    hectares: Decimal | None = None


@dataclass(frozen=True)
class Person:
    """Somebody of the farm whom a text may name."""

    name: str
    role: Role
    blocks: tuple[str, ...] = ()


@dataclass(frozen=True)
class Entered:
    """An entry that stands in the day-book and that a correction may mean. `by` is the name of him whose work it is."""

    id: str
    record: Record
    by: str
    mine: bool
    at: datetime


@dataclass(frozen=True)
class OpenQuestion:
    """What was asked of the sender and is not answered yet.

    `reading` is the reading that waits (its `pending` records hold what was understood, with gaps); `options` are the
    answers that were offered.
    """

    ask: Ask
    reading: "Reading"
    options: tuple[str, ...] = ()


@dataclass(frozen=True)
class Setting:
    """All that the reader may know besides the text. Every field but the first five may be left empty.

    `sent_at` is the sending time on the farm's clock. `entered` holds the entries of the last days, oldest first;
    it may be a sequence that is filled when it is first looked into.
    """

    blocks: Mapping[str, Block]
    role: Role
    own_blocks: tuple[str, ...]
    language: str
    sent_at: datetime
    containers: Mapping[str, Decimal] = field(default_factory=dict)
    name: str | None = None
    people: tuple[Person, ...] = ()
    farms: tuple[str, ...] = ()
    places: Sequence[str] = ()
    entered: Sequence[Entered] = ()
    question: OpenQuestion | None = None

    @classmethod
    def from_json(cls, message: Mapping[str, Any]) -> "Setting":
        """The setting of one line of a message file (`farm`, `sender`, `sent_at`).

        Raises ValueError (or KeyError for a missing key) when the line is not of that form.
        """
        farm, sender = message["farm"], message["sender"]
        return cls(
            blocks={name: block_from_json(block) for name, block in (farm.get("blocks") or {}).items()},
            role=Role(sender["role"]),
            own_blocks=tuple(sender.get("blocks") or ()),
            language=sender["lang"],
            sent_at=datetime.fromisoformat(message["sent_at"]),
            containers={name: Decimal(str(litres)) for name, litres in (farm.get("containers") or {}).items()},
        )


def block_from_json(data: Mapping[str, Any]) -> Block:
    """A block of a message file or farm file: `{"trees": 280, "usual_litres": 16}`, both optional."""
    usual = data.get("usual_litres")
    return Block(trees=data.get("trees"), usual_litres=None if usual is None else Decimal(str(usual)))


@dataclass(frozen=True)
class Correction:
    """What a fix or an undo says about the entry that it means, and what of it was said rather than assumed.

    `said` names the fields of the records that stand in the text (`block`, `day`, `litres`, ...). `was` is a figure
    said to be wrong (`17 not 18`), `block_was` a block said to be wrong (`block 9 not 4`), `day_was` such a day.
    `everything` is an undo of all that was entered with the last text or on the day named. `adds` is a fix that only
    adds to an entry what was left out (`rain too`, `the drc was 31`).
    """

    said: frozenset[str] = frozenset()
    was: Decimal | None = None
    block_was: str | None = None
    day_was: date | None = None
    everything: bool = False
    adds: bool = False


class About(StrEnum):
    """What a question to the day-book is about."""

    WEEK = "week"
    LITRES = "litres"
    WHO = "who"
    TAKEN = "taken"
    NO_TAPPING = "no_tapping"
    SHEETS = "sheets"
    ACID = "acid"
    PRICE = "price"
    PAY = "pay"
    STOCK = "stock"
    BARK = "bark"
    DUE_TOMORROW = "due_tomorrow"


@dataclass(frozen=True)
class Query:
    """A question to the day-book: about what, for which block, person, farm and days (inclusive)."""

    about: About
    block: str | None = None
    person: str | None = None
    farm: str | None = None
    first: date | None = None
    last: date | None = None


class Manage(StrEnum):
    """What an owner can change by text."""

    ENROL = "enrol"
    DISMISS = "dismiss"
    PEOPLE = "people"
    ACID_STRENGTH = "acid_strength"
    CONTAINER = "container"
    SUMMARY_TIME = "summary_time"
    LANGUAGE = "language"
    LINK = "link"
    PAY_TERMS = "pay_terms"
    ADVANCE = "advance"
    DEDUCTION = "deduction"
    BONUS = "bonus"
    SETTLE = "settle"
    BLOCK = "block"
    UNBLOCK = "unblock"
    REMINDERS = "reminders"
    BARK = "bark"


@dataclass(frozen=True)
class Request:
    """A change of the farm's own settings or people, as said. Fields that do not apply are None or empty."""

    manage: Manage
    name: str | None = None
    number: str | None = None
    role: Role | None = None
    blocks: tuple[str, ...] = ()
    value: Decimal | None = None
    word: str | None = None


@dataclass(frozen=True)
class Reading:
    """What a text says, as a careful clerk would write it down, and what the talk needs besides.

    With `ask` set, `records` is empty and `pending` holds what was understood so far (with gaps), to be completed by
    the answer; `options` are the likely answers. `person` is the name of somebody else of the farm for whom the text
    speaks (`this is Kofi on Ama's phone`). `targets` are the ids of the entries that a fix or an undo means, where the
    setting's `entered` shows them (for a fix in the order of `records`, an empty text for a new line; for a log the days of no
    tapping that are taken out). `answers` says that the text answers the open question; `confirmed` that an
    implausible figure was confirmed. `declined` says that the open question was answered with no. `bounded` says that
    the search was cut short because the text holds too much; `grounds` are lines that explain the outcome.
    """

    intent: Intent
    records: tuple[Record, ...] = ()
    ask: Ask | None = None
    pending: tuple[Record, ...] = ()
    options: tuple[str, ...] = ()
    correction: Correction | None = None
    targets: tuple[str, ...] = ()
    query: Query | None = None
    request: Request | None = None
    person: str | None = None
    figure: Decimal | None = None
    answers: bool = False
    confirmed: bool = False
    declined: bool = False
    bounded: bool = False
    grounds: tuple[str, ...] = ()

    def to_json(self) -> dict[str, Any]:
        """The clerk's form: intent, records, ask."""
        return {
            "intent": CLERKS_WORD.get(self.intent, self.intent).value,
            "records": [record.to_json() for record in self.records],
            "ask": None if self.ask is None else self.ask.value,
        }

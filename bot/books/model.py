"""What the books hold, as plain data."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import Any

from parsers.reading import Record, Role


@dataclass(frozen=True)
class FarmSettings:
    """A farm's own settings; every change is kept with its time.

    Acid by name and strength on the label (percent by mass); `ready` is when the sheet is rolled (`next-day`,
    `same-day`, `quick`); DRC in percent by mass: the target to thin to, and what is reckoned with when nothing else is
    known; the dry weight of a sheet in g; the working solution of the acid in percent w/v; the weekday (Monday 0) and
    hour of the summary; litres that a pan holds, if a pan makes a sheet.

    `country` is the profile that gives what the farm has not set itself; `drying` how sheets are dried (`sun`, `smoke`,
    `solar`, `hot-air`). `tapping` is the system in the international notation (`S/2 d3 6d/7`), empty where none is set;
    with `tapping_from`, the day on which task A was first tapped, it gives the calendar. `rest_weekday` is the day of rest;
    `pay_period` (`week`, `fortnight`, `month`) the time after which pay is settled. `reminder_hour` is when a tapper without
    a word on a tapping day is reminded; None where nobody is. Gaps between expected and weighed are asked about from
    `gap_percent` of what was expected and `gap_unusual` standard deviations on.
    """

    acid: str = "formic"
    acid_strength_percent: Decimal = Decimal(85)
    ready: str = "next-day"
    target_drc_percent: Decimal = Decimal(15)
    drc_percent: Decimal = Decimal(33)
    sheet_dry_g: int = 500
    solution_percent: Decimal = Decimal(2)
    summary_weekday: int = 6
    summary_hour: int = 18
    pan_litres: Decimal | None = None
    country: str = "neutral"
    drying: str = "smoke"
    tapping: str = ""
    tapping_from: str | None = None
    rest_weekday: int | None = None
    pay_period: str = "month"
    reminder_hour: int | None = None
    gap_percent: Decimal = Decimal(2)
    gap_unusual: Decimal = Decimal(3)


@dataclass(frozen=True)
class Farm:
    """A farm with its settings of the moment."""

    id: str
    name: str
    timezone: str
    currency: str
    language: str
    settings: FarmSettings


@dataclass(frozen=True)
class FarmBlock:
    """A block: number of trees, litres of a normal tapping day, square metres as they are stated."""

    id: str
    name: str
    trees: int | None
    usual_litres: Decimal | None
    square_metres: int | None = None


@dataclass(frozen=True)
class Person:
    """Somebody with a phone."""

    id: str
    number: str
    name: str
    language: str
    opted_out_at: datetime | None = None
    blocked_at: datetime | None = None


@dataclass(frozen=True)
class Membership:
    """One role of one person at one farm, with the blocks that he works."""

    person: Person
    farm_id: str
    role: Role
    blocks: tuple[str, ...]


@dataclass(frozen=True)
class Entry:
    """A line of the day-book. `by` is whose work it is, `via` the number of somebody else's phone that was used.

    `replaces` names the line that this one took the place of; `removed` marks a line that only takes another out.
    """

    id: str
    farm_id: str
    message_id: str
    by: Person
    via: str | None
    record: Record
    entered_at: datetime
    replaces: str | None
    removed: bool
    confirmed: bool
    computed: Mapping[str, Any] | None


@dataclass(frozen=True)
class StoredMessage:
    """A text that came in, with what was answered."""

    id: str
    carrier: str
    number: str
    person_id: str | None
    text: str
    at: datetime
    arrived: datetime
    kind: str | None
    reply: str | None
    parts: int | None


@dataclass(frozen=True)
class Waiting:
    """A text in the outbox. `state` is new, sending, sent, failed or unsure.

    It makes no sense after `not_after`. `gateway` is the phone or modem that fetched it last; `delivered_at` when it is known
    to have reached the phone that it is for.
    """

    id: str
    to: str
    text: str
    parts: int
    because: str | None
    key: str | None
    state: str
    attempts: int
    created_at: datetime
    due_at: datetime
    carrier_id: str | None
    error_code: str | None
    not_after: datetime | None = None
    gateway: str | None = None
    delivered_at: datetime | None = None


@dataclass(frozen=True)
class Question:
    """What was asked of somebody. `body` is the talk's own."""

    id: str
    person_id: str
    farm_id: str
    message_id: str
    body: str
    asked_at: datetime
    expires_at: datetime


@dataclass(frozen=True)
class Point:
    """A collection point and the farms that bring to it."""

    id: str
    name: str
    farm_ids: tuple[str, ...]

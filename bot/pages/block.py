"""A block, a tapper: what they gave day by day, against what was to be expected."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal

from markupsafe import Markup

from bot.books import Transaction, entries, farms, people
from bot.books.bark import measured
from bot.books.model import Entry, FarmBlock, Person
from bot.pages.opening import Page
from bot.pages.picture import panel, series
from bot.reckon.bark import BarkOfBlock, bark_of_blocks, of_one_panel
from bot.reckon.chain import follow
from bot.reckon.drc import drc_of
from bot.reckon.learning import Lessons, latex_of, lessons, litres_learned
from bot.reckon.tapping import FAULTS
from bot.rubber.calendar import tapping_calendar, tapping_days
from bot.rubber.estimate import Latex, expect
from bot.rubber.levels import expect_litres
from bot.rubber.notation import read
from bot.rubber.yields import grams_a_tree
from bot.speech import say
from bot.speech.language import Tongue
from parsers.reading import ALL_BLOCKS, Record, Role, What

#: Days that a page looks back, and forward for tapping days.
BACK, FORWARD = 30, 21


class NoSuch(LookupError):
    """The farm has no such block or tapper."""


@dataclass(frozen=True)
class DayRow:
    """A day: what was brought, what was to be expected, its DRC, dry kg, and what was said beside it."""

    day: date
    litres: str
    expected: str
    drc: str
    dry: str
    remark: str


@dataclass(frozen=True)
class Weighed:
    """Sheets that were weighed: what the scale said, and what their latex let expect."""

    day: date
    kg: str
    expected: str
    within: bool


@dataclass(frozen=True)
class BarkSeen:
    """The bark of a block's panel: its picture, what is reckoned of it, and each measure with its panel."""

    picture: Markup
    figures: tuple[tuple[str, str], ...]
    over: str
    measures: tuple[tuple[date, str, str], ...]


@dataclass(frozen=True)
class BlockSeen:
    """A block with its last days. `bark` is None where none was measured."""

    page: Page
    block: FarmBlock
    block_name: str
    name: str
    rows: tuple[DayRow, ...]
    picture: Markup
    drc: str
    weighed: tuple[Weighed, ...]
    next_days: tuple[date, ...]
    bark: BarkSeen | None


def look_at_block(tx: Transaction, page: Page, name: str) -> BlockSeen:
    """A block of the farm. Raises NoSuch."""
    block = farms.blocks(tx, page.farm.id).get(name)
    if block is None:
        raise NoSuch(name)
    speech = page.speech
    first = page.today - timedelta(days=BACK - 1)
    standing = entries.standing(tx, page.farm.id, first=first - timedelta(days=60), last=page.today)
    known = lessons(tx, page.farm, page.today)
    usual = {name: float(block.usual_litres)} if block.usual_litres else {}
    own = [each for each in standing if each.record.block == name]
    learned = litres_learned(known, own, usual)
    days = [first + timedelta(days=n) for n in range(BACK)]
    rows, values = [], []
    for day in days:
        found = [each for each in own if each.record.day == day and each.record.what is What.LATEX]
        rain = any(each.record.rain for each in found)
        expected = expect_litres(learned, Latex(day, name, 0.0, rain))
        litres = sum((Decimal(str(round(known.litres(each.record), 3))) for each in found), Decimal(0))
        remark = _remark(page, standing, name, day)
        if found or remark:
            rows.append(_row(page, day, found, litres, (expected.low, expected.high), remark))
        values.append((day, float(litres) if found else None, expected.low, expected.high))
    record = Record(What.LATEX, page.today, name, Decimal(1))
    drc = drc_of(record, known)
    return BlockSeen(
        page,
        block,
        name,
        say.block_name(speech, name),
        tuple(reversed(rows)),
        series(values, speech.say("Litres of {name} by day", name=say.block_name(speech, name)), speech),
        f"{speech.number(drc.percent, 1)}\N{NO-BREAK SPACE}% ({speech.number(drc.low, 1)}-{speech.number(drc.high, 1)})",
        tuple(_weighings(page, standing, known, name)),
        tuple(coming(page)),
        _bark(tx, page, name),
    )


def _bark(tx: Transaction, page: Page, name: str) -> BarkSeen | None:
    speech, measures = page.speech, measured(tx, page.farm.id, page.today).get(name, ())
    found = bark_of_blocks(tx, page.farm, page.today).get(name)
    if found is None:
        return None
    first = of_one_panel(measures)[0]
    taken = speech.fixed(found.mm_a_tapping, 1)
    picture = panel(
        found.left_cm,
        first.cm,
        speech.say("Panel of {name}", name=say.block_name(speech, name)),
        speech.say("{cm} cm left", cm=speech.number(found.left_cm, 1)),
        speech.say(
            "{cm} cm tapped since {day}",
            cm=speech.number(first.cm - found.left_cm, 1),
            day=speech.short(first.day),
        ),
    )
    return BarkSeen(
        picture,
        tuple(_bark_figures(speech, found)),
        speech.say("Each tapping takes {mm} mm: more than the limit allows.", mm=taken) if found.over else "",
        tuple((each.day, speech.number(each.cm, 1), each.panel or "-") for each in reversed(measures)),
    )


def _bark_figures(speech: Tongue, found: BarkOfBlock) -> Iterator[tuple[str, str]]:
    origin = speech.say("from two measures") if found.from_measures else speech.say("the usual shaving")
    yield speech.say("Bark left today, cm"), speech.number(found.left_cm, 1)
    yield speech.say("Tappings since it was measured"), speech.number(found.tappings)
    yield speech.say("Bark a tapping, mm ({origin})", origin=origin), speech.fixed(found.mm_a_tapping, 1)
    yield speech.say("Tappings that it serves"), speech.number(found.tappings_left)
    if found.allowed_mm is not None:
        yield speech.say("The year's limit allows, mm a tapping"), speech.fixed(found.allowed_mm, 1)
    if found.last_day is not None:
        yield speech.say("Until about"), speech.dated_year(found.last_day)


def _row(
    page: Page, day: date, found: Sequence[Entry], litres: Decimal, expected: tuple[float, float], remark: str
) -> DayRow:
    speech = page.speech
    low, high = expected
    dry = sum(float((each.computed or {}).get("dry_kg", 0)) for each in found)
    percents = [each.computed["drc_percent"] for each in found if each.computed and "drc_percent" in each.computed]
    return DayRow(
        day,
        speech.measured(litres) if found else "-",
        f"{speech.number(low, 0)}-{speech.number(high, 0)}",
        f"{speech.number(percents[-1], 1)}" if percents else "-",
        speech.fixed(dry, 1) if found else "-",
        remark,
    )


def _remark(page: Page, standing: Sequence[Entry], name: str, day: date) -> str:
    said = []
    for entry in standing:
        if entry.record.day != day or not _speaks_of(page, entry, name):
            continue
        if entry.record.what is What.NO_TAPPING:
            said.append(say.reason(page.speech, entry.record.reason))
        elif entry.record.rain:
            said.append(page.speech.say("rain"))
        elif entry.record.what is What.STIMULATED:
            said.append(page.speech.say("stimulated"))
    return ", ".join(dict.fromkeys(said))


def _speaks_of(page: Page, entry: Entry, block: str) -> bool:
    """Whether an entry is about a block: of all blocks a tapper means his own."""
    if entry.record.block != ALL_BLOCKS:
        return entry.record.block == block
    own = [each.blocks for each in page.members if each.person.id == entry.by.id and each.role is Role.TAPPER]
    return not any(own) or any(block in blocks for blocks in own)


def _weighings(page: Page, standing: Sequence[Entry], known: Lessons, name: str) -> list[Weighed]:
    """Weighed sheets in which there was latex of the block."""
    found = []
    for weighing in follow(standing, page.farm.name).weighings:
        latex = latex_of(known, weighing)
        if latex is None or name not in {each.block for each in latex} or weighing.entry.record.day is None:
            continue
        expected = expect(known.learned, latex)
        within = expected.dry_kg_low <= float(weighing.kg) <= expected.dry_kg_high
        said = f"{page.speech.fixed(expected.dry_kg_low, 1)}-{page.speech.fixed(expected.dry_kg_high, 1)}"
        found.append(Weighed(weighing.entry.record.day, page.speech.measured(weighing.kg), said, within))
    return found[::-1]


def coming(page: Page) -> list[date]:
    """The next tapping days of task A, where the farm has set a system that makes a calendar."""
    settings = page.farm.settings
    if not settings.tapping or settings.tapping_from is None:
        return []
    rest = () if settings.rest_weekday is None else (settings.rest_weekday,)
    try:
        plan = tapping_calendar(read(settings.tapping).systems[0], date.fromisoformat(settings.tapping_from), rest)
    except FAULTS:  # a first day on the day of rest, say
        return []
    last = page.today + timedelta(days=FORWARD)
    return list(tapping_days(plan, max(plan.start, page.today), last)) if last >= plan.start else []


@dataclass(frozen=True)
class TapperSeen:
    """A tapper with his last days: days with latex, litres, dry kg, grams a tree, and days missed by reason."""

    page: Page
    person: Person
    blocks: tuple[str, ...]
    rows: tuple[DayRow, ...]
    picture: Markup
    totals: tuple[tuple[str, str], ...]


def look_at_tapper(tx: Transaction, page: Page, person_id: str) -> TapperSeen:
    """A tapper of the farm. Raises NoSuch."""
    member = next((each for each in page.members if each.person.id == person_id), None)
    if member is None:
        raise NoSuch(person_id)
    speech = page.speech
    first = page.today - timedelta(days=BACK - 1)
    selves = people.selves(tx, page.farm.id, member.person.name)  # his number may have changed
    own = [each for each in entries.standing(tx, page.farm.id, first=first, last=page.today) if each.by.id in selves]
    trees = {name: block.trees or 0 for name, block in farms.blocks(tx, page.farm.id).items()}
    rows, values = [], []
    for n in range(BACK):
        day = first + timedelta(days=n)
        found = [each for each in own if each.record.day == day and each.record.what is What.LATEX]
        litres = sum((each.record.litres or Decimal(0) for each in found), Decimal(0))
        others = [each for each in own if each.record.day == day and each.record.what is not What.LATEX]
        said = "; ".join(say.line(speech, each.record, page.today, with_day=False) for each in others)
        values.append((day, float(litres) if found else None, 0.0, 0.0))
        if found or said:
            blocks = ", ".join(say.line(speech, each.record, page.today, with_day=False) for each in found)
            dry = sum(float((each.computed or {}).get("dry_kg", 0)) for each in found)
            tapped = sum(trees.get(each.record.block or "", 0) for each in found)
            grams = speech.number(grams_a_tree(dry, tapped), 0) if tapped and dry else "-"
            rows.append(DayRow(day, speech.measured(litres), blocks, grams, speech.fixed(dry, 1), said))
    return TapperSeen(
        page,
        member.person,
        member.blocks,
        tuple(reversed(rows)),
        series(values, speech.say("Litres of {name} by day", name=member.person.name), speech),
        tuple(_totals(page, own)),
    )


def _totals(page: Page, own: Sequence[Entry]) -> list[tuple[str, str]]:
    speech = page.speech
    latex = [each for each in own if each.record.what is What.LATEX]
    dry = sum(float((each.computed or {}).get("dry_kg", 0)) for each in latex)
    missed: dict[str, int] = {}
    for each in own:
        if each.record.what is What.NO_TAPPING:
            reason = say.reason(speech, each.record.reason)
            missed[reason] = missed.get(reason, 0) + 1
    return [
        (speech.say("Days with latex"), str(len({each.record.day for each in latex}))),
        (speech.say("Litres"), speech.measured(sum((each.record.litres or Decimal(0) for each in latex), Decimal(0)))),
        (speech.say("Dry kg expected"), speech.fixed(dry, 1)),
        *((speech.say("Not tapped, {reason}", reason=reason), str(count)) for reason, count in missed.items()),
    ]

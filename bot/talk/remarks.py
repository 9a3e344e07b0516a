"""What is remarked beside an entry: how long the acid lasts, what weighed sheets were expected to be, a DRC that does not fit.

Cautions are said with the work that they belong to, once, and short: rollers and fire with sheets, stimulant with its use.
"""

from datetime import timedelta
from decimal import Decimal

from bot.books import entries
from bot.books.model import Entry
from bot.reckon import acid
from bot.reckon.chain import Chain, follow
from bot.reckon.learning import latex_of, taught_by, wet_sheets
from bot.rubber.estimate import expect
from bot.rubber.filtering import Learned
from bot.rubber.levels import expect_dry_from_wet, refit_sheets
from bot.speech import say
from bot.speech.rounding import tenths
from bot.talk.desk import Desk
from parsers.reading import Record, What

#: Sheets weighed today were rolled at most so many days ago.
HANGS_DAYS = 60

#: A DRC so many times as far from the middle as the range reaches does not fit.
FAR_OFF = 2


def remark(desk: Desk, entry: Entry) -> str:
    """What is worth a word beside an entry; mostly nothing."""
    words = {
        What.ACID_STOCK: _acid_lasts,
        What.SHEETS_DRY: _as_expected,
        What.SHEETS_ROLLED: _dry_of_wet,
        What.LATEX: _drc_fits,
        What.STIMULATED: _stimulant,
        What.NO_TAPPING: _gave_latex,
    }
    say_it = words.get(entry.record.what)
    return say_it(desk, entry) if say_it is not None else ""


def _gave_latex(desk: Desk, entry: Entry) -> str:
    """A block that is said not to be tapped has latex of that day in the book: both stand, and he hears of it."""
    return holds_in_all(desk, entry.record)


def holds_in_all(desk: Desk, record: Record, *, least: int = 1) -> str:
    """The litres that the lines of a block hold on a day; empty below so many lines, or where one was weighed."""
    there = [] if record.day is None else entries.standing(desk.tx, desk.farm.id, first=record.day, last=record.day)
    found = [each.record for each in there if each.record.what is What.LATEX and each.record.block == record.block]
    litres = [each.litres for each in found if each.litres is not None]
    if record.day is None or len(found) < least or len(litres) < len(found):
        return ""
    return desk.tongue.say(
        "{block} {day} now holds {litres} L in all.",
        block=say.block_name(desk.tongue, record.block),
        day=desk.tongue.day(record.day, desk.today),
        litres=desk.tongue.number(sum(litres, Decimal(0))),
    )


def _acid_lasts(desk: Desk, entry: Entry) -> str:
    if entry.record.litres is None:
        return ""
    days = acid.days_left(desk.tx, desk.farm, entry.record.litres, desk.today)
    return "" if days is None else say.acid_lasts(desk.tongue, days)


def _as_expected(desk: Desk, entry: Entry) -> str:
    """What the sheets should have weighed by their latex; a question where the scale says otherwise."""
    weighing = next((each for each in _chain(desk).weighings if each.entry.id == entry.id), None)
    latex = None if weighing is None else latex_of(desk.known, weighing)
    if latex is None or entry.record.kg is None:
        return ""
    expected = expect(_before(desk, entry), latex)
    values = {
        "kg": desk.tongue.fixed(tenths(expected.dry_kg), 1),
        "low": desk.tongue.fixed(tenths(expected.dry_kg_low), 1),
        "high": desk.tongue.fixed(tenths(expected.dry_kg_high), 1),
    }
    said = desk.tongue.say("By the latex about {kg} kg ({low}-{high}).", **values)
    reach = Decimal(str(expected.dry_kg_high - expected.dry_kg_low)) / 2
    off = abs(entry.record.kg - Decimal(str(expected.dry_kg)))
    return said + (" " + desk.tongue.say("Is the weight right?") if off > FAR_OFF * reach else "")


def _before(desk: Desk, entry: Entry) -> Learned:
    """What was known without this entry."""
    first = desk.today - timedelta(days=HANGS_DAYS)
    standing = [each for each in entries.standing(desk.tx, desk.farm.id, first=first) if each.id != entry.id]
    return taught_by(standing, desk.farm.name, float(desk.farm.settings.drc_percent)).learned


def _dry_of_wet(desk: Desk, entry: Entry) -> str:
    """What wet sheets should weigh when dry, and the caution of the rollers."""
    caution = desk.tongue.say("Rollers pull hands in: never alone.")
    if not entry.record.kg or entry.record.day is None:
        return caution
    learned = refit_sheets(wet_sheets(_chain(desk)))
    found = expect_dry_from_wet(learned, entry.record.day, float(entry.record.kg))
    said = desk.tongue.say(
        "Dry about {kg} kg ({low}-{high}).",
        kg=desk.tongue.fixed(tenths(found.middle), 1),
        low=desk.tongue.fixed(tenths(found.low), 1),
        high=desk.tongue.fixed(tenths(found.high), 1),
    )
    return f"{said} {caution}"


def _drc_fits(desk: Desk, entry: Entry) -> str:
    if entry.record.drc is None or not desk.known.litres(entry.record) > 0:
        return ""
    return drc_remark(desk, entry.record)


def drc_remark(desk: Desk, record: Record) -> str:
    """A DRC far from what the block's own readings and sheets make likely is asked about. It is entered all the same."""
    expected = expect(desk.known.learned, [desk.known.latex(record)])
    off = abs(float(record.drc or 0) - expected.drc_percent)
    if off <= FAR_OFF * (expected.drc_high - expected.drc_low) / 2:
        return ""
    return desk.tongue.say(
        "DRC {drc}% is far from the usual {low}-{high}%: is it right?",
        drc=desk.tongue.number(record.drc or 0),
        low=desk.tongue.number(expected.drc_low, 0),
        high=desk.tongue.number(expected.drc_high, 0),
    )


def _stimulant(desk: Desk, _entry: Entry) -> str:
    return desk.tongue.say("Stimulant is acid: gloves, cover eyes, wash; follow its label.")


def _chain(desk: Desk) -> Chain:
    first = desk.today - timedelta(days=HANGS_DAYS)
    return follow(entries.standing(desk.tx, desk.farm.id, first=first), desk.farm.name)

"""The DRC that a line of latex is reckoned with, and how sure it is."""

from bot.reckon.batches import Drc
from bot.reckon.learning import Lessons
from bot.rubber.estimate import expect
from bot.rubber.reference import NORMAL_80, value
from parsers.reading import Record


def drc_of(record: Record, known: Lessons) -> Drc:
    """The DRC in the text where it gives one, otherwise what the farm's book has taught, each with its 80 % range.

    Without any reading or weighed batch the farm's setting stands in the middle of the published range.
    """
    if record.drc is not None:
        return _as_texted(float(record.drc))
    if record.day is None or not known.litres(record) > 0:
        return Drc(known.usual_percent, known.usual_percent, known.usual_percent, "farm")
    expected = expect(known.learned, [known.latex(record)])
    seen = sum(known.learned.seen.values())
    basis = "block" if expected.observations else "others" if seen else "farm"
    return Drc(expected.drc_percent, expected.drc_low, expected.drc_high, basis, expected.observations or seen)


def _as_texted(percent: float) -> Drc:
    reach = NORMAL_80 * value("drc_reading_spread")
    return Drc(percent, max(percent - reach, 0.0), min(percent + reach, 100.0), "text")

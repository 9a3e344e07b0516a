"""Questions to the day-book, answered from what stands: the week, a block, who brought what, what was taken, a dose, why."""

from collections.abc import Sequence
from datetime import date, timedelta
from decimal import Decimal

from bot.books import entries
from bot.books.model import Entry
from bot.reckon import acid, batches
from bot.reckon.drc import drc_of
from bot.rubber.coagulation import DoseRefused
from bot.speech import say
from bot.speech import why as explaining
from bot.speech.rounding import tenths
from bot.talk import bark, collecting, growers_own, paying, state
from bot.talk.desk import Desk, Outcome
from bot.talk.exchange import Kind
from bot.week import figures as week
from bot.week import words
from parsers.reading import About, Query, Reading, Record, What


def dose(desk: Desk, reading: Reading) -> Outcome:
    """Water and acid for so much latex; nothing is entered."""
    block = desk.own_blocks[0] if len(desk.own_blocks) == 1 else None
    record = reading.records[0].with_(day=desk.today, block=block)
    batch = batches.batch(record, drc_of(record, desk.known))
    try:
        found = batches.dose_for([batch], desk.farm.settings)
    except DoseRefused as refusal:
        return Outcome(Kind.REFUSED, say.no_dose(desk.tongue, refusal))
    head = desk.tongue.say("For {litres} L:", litres=desk.tongue.number(batch.litres, 1))
    tail = desk.tongue.say("Nothing entered.")
    pieces = [head, say.dose_line(desk.tongue, found), say.expect_line(desk.tongue, found), tail]
    return Outcome(Kind.ANSWERED, " ".join(pieces))


def query(desk: Desk, reading: Reading) -> Outcome:
    """Answer a question to the day-book. A tapper is told of his own work only; an owner of the whole farm."""
    asked = reading.query or Query(About.WEEK)
    if asked.about is About.WEEK and asked.block is None and asked.person is None and desk.is_owner:
        first, last = _span(desk, asked)
        return Outcome(Kind.ANSWERED, words.summary(desk.tx, desk.farm, desk.tongue, first, min(last, desk.today)))
    answers = {
        About.WHO: _who,
        About.TAKEN: _taken,
        About.NO_TAPPING: _missed,
        About.SHEETS: _sheets,
        About.ACID: _acid,
        About.PRICE: _price,
        About.PAY: _pay,
        About.BARK: bark.asked,
        About.STOCK: _stock,
        About.DUE_TOMORROW: _due_tomorrow,
    }
    person = desk.named(asked.person)
    if person is not None and person in desk.collectors() and person not in desk.tappers():
        return Outcome(Kind.ANSWERED, _taken(desk, asked))
    return Outcome(Kind.ANSWERED, answers.get(asked.about, _litres)(desk, asked))


def ready(desk: Desk, _reading: Reading) -> Outcome:
    """What waits to be collected: sheets rolled or dried and not taken yet."""
    return Outcome(Kind.ANSWERED, words.ready_line(desk.tx, desk.farm, desk.tongue, desk.today))


def why(desk: Desk, reading: Reading) -> Outcome:
    """Explain a figure: inputs, rule, source. Without a figure the newest entry with one is explained."""
    said = _explained(desk, reading.figure)
    return Outcome(Kind.ANSWERED, said or desk.tongue.say("I have no figure to explain. Ask: why 5.8"))


def _explained(desk: Desk, figure: Decimal | None) -> str | None:
    reckoned = [entry for entry in desk.view if entry.computed and "dry_kg" in entry.computed and _may_see(desk, entry)]
    reckoned.sort(key=lambda entry: entry.entered_at, reverse=True)
    entry = next((entry for entry in reckoned if figure is None or _shows(entry, figure)), None)
    if entry is not None or figure is None:
        return None if entry is None else explaining.dry_weight(desk.tongue, entry)
    for message in dict.fromkeys(entry.message_id for entry in reckoned):
        together = [entry for entry in reckoned if entry.message_id == message]
        dose = batches.dose_kept(together, desk.farm.settings)
        grams = desk.farm.settings.sheet_dry_g
        if dose is not None and (said := explaining.of_dose(desk.tongue, dose, figure, grams)) is not None:
            return said
    return None


def _shows(entry: Entry, figure: Decimal) -> bool:
    assert entry.computed is not None
    shown = {tenths(entry.computed["dry_kg"]), entry.record.litres, entry.record.drc, entry.record.kg}
    return figure in shown


def _may_see(desk: Desk, entry: Entry) -> bool:
    return desk.is_owner or desk.is_mine(entry.by.id)


def _span(desk: Desk, asked: Query) -> tuple[date, date]:
    if asked.first is not None:
        return asked.first, asked.last or desk.today
    if asked.about in (About.WEEK, About.LITRES, About.NO_TAPPING, About.SHEETS):
        return week.week_of(desk.today)[0], desk.today
    return desk.today, desk.today


def _standing(desk: Desk, asked: Query, what: What) -> list[Entry]:
    first, last = _span(desk, asked)
    found = entries.standing(desk.tx, desk.farm.id, first=first, last=last, what=what)
    named = desk.called(asked.person)
    return [
        entry
        for entry in found
        if (desk.is_owner or desk.is_mine(entry.by.id))
        and (not named or entry.by.id in named)
        and (asked.block is None or entry.record.block == asked.block)
    ]


def _litres(desk: Desk, asked: Query) -> str:
    """`B2 today: 14 + 3 + 1.5 = 18.5 L.` or, over days, a figure a day and the sum."""
    found = _standing(desk, asked, What.LATEX)
    head = _head(desk, asked)
    if not found:
        return desk.tongue.say("{head}: no latex entered.", head=head)
    total = week.crop(found)
    sums = _total(desk, total)
    return f"{head}: {_in_detail(desk, asked, found)} = {sums}." if len(found) > 1 else f"{head}: {sums}."


def _total(desk: Desk, total: week.Crop) -> str:
    pieces = []
    if total.litres:
        pieces.append(say.litres(desk.tongue, total.litres))
    if total.kg:
        pieces.append(say.kilos(desk.tongue, total.kg))
    pieces.append(desk.tongue.say("about {dry} kg dry", dry=desk.tongue.fixed(total.dry_kg, 1)))
    return desk.tongue.several(pieces)


def _in_detail(desk: Desk, asked: Query, found: Sequence[Entry]) -> str:
    days = {entry.record.day for entry in found}
    groups: dict[str, list[Decimal]] = {}
    for entry in found:
        by_block = asked.block is None and len({each.record.block for each in found}) > 1
        name = say.block_name(desk.tongue, entry.record.block) if by_block else ""
        day = desk.tongue.date(entry.record.day) if len(days) > 1 and entry.record.day else ""
        groups.setdefault(" ".join(piece for piece in (day, name) if piece), []).append(
            entry.record.litres or entry.record.kg or Decimal(0)
        )
    said = []
    for name, values in groups.items():
        numbers = "+".join(desk.tongue.number(value) for value in values)
        said.append(f"{name} {numbers}" if name else "+".join(desk.tongue.number(value) for value in values))
    return desk.tongue.several(said)


def _head(desk: Desk, asked: Query) -> str:
    first, last = _span(desk, asked)
    who = asked.person or ""
    block = say.block_name(desk.tongue, asked.block) if asked.block else ""
    when = desk.tongue.day(first, desk.today) if first == last else desk.tongue.days(first, last)
    return " ".join(piece for piece in (who, block, when) if piece)


def _who(desk: Desk, asked: Query) -> str:
    found = _standing(desk, asked, What.LATEX)
    head = _head(desk, asked)
    if not found:
        return desk.tongue.say("{head}: no latex entered.", head=head)
    lines: dict[str, list[str]] = {}
    for entry in found:
        said = f"{say.block_name(desk.tongue, entry.record.block)} {say.amount(desk.tongue, entry.record)}"
        lines.setdefault(entry.by.name, []).append(said)
    return f"{head}: " + "; ".join(f"{name} {desk.tongue.several(said)}" for name, said in lines.items()) + "."


def _taken(desk: Desk, asked: Query) -> str:
    first, last = _span(desk, asked)
    found = entries.standing(desk.tx, desk.farm.id, first=first, last=last, what=What.COLLECTED)
    named = desk.called(asked.person)
    mine = [
        entry
        for entry in found
        if (not named or entry.by.id in named)
        and ((desk.is_owner and collecting.is_of(desk, entry.record)) or desk.is_mine(entry.by.id))
    ]
    if not mine:
        return desk.tongue.say("{head}: nothing was collected.", head=_head(desk, asked))
    said = "; ".join(f"{entry.by.name} {_take(desk, entry.record)}" for entry in mine)
    return f"{_head(desk, asked).removeprefix(asked.person or '').strip()}: {said}."


def _take(desk: Desk, record: Record) -> str:
    return say.line(desk.tongue, record.with_(farm=None), desk.today, with_day=False)


def _missed(desk: Desk, asked: Query) -> str:
    found = _standing(desk, asked, What.NO_TAPPING)
    if not found:
        return desk.tongue.say("{head}: no missed tapping entered.", head=_head(desk, asked))
    return say.not_tapped(desk.tongue, [entry.record for entry in found], desk.today)


def _sheets(desk: Desk, asked: Query) -> str:
    rolled = _standing(desk, asked, What.SHEETS_ROLLED)
    dry = _standing(desk, asked, What.SHEETS_DRY)
    return desk.tongue.say(
        "{head}: {rolled} sheets rolled, {dry} dry ({kg} kg).",
        head=_head(desk, asked),
        rolled=sum(entry.record.count or 0 for entry in rolled),
        dry=sum(entry.record.count or 0 for entry in dry),
        kg=desk.tongue.number(sum((entry.record.kg or Decimal(0) for entry in dry), Decimal(0))),
    )


def _acid(desk: Desk, _asked: Query) -> str:
    first = desk.today - timedelta(days=acid.COUNT_DAYS)
    found = entries.standing(desk.tx, desk.farm.id, first=first, last=desk.today, what=What.ACID_STOCK)
    if not found:
        return desk.tongue.say("No acid stock entered yet. Text: 1.5 litres of acid left")
    last = found[-1].record
    days = words.acid_days_left(desk.tx, desk.farm, desk.today)  # of what is left since that count
    said = say.sentence(say.line(desk.tongue, last, desk.today))
    return said if days is None else f"{said} {say.acid_lasts(desk.tongue, days)}"


def _price(desk: Desk, _asked: Query) -> str:
    found = entries.standing(desk.tx, desk.farm.id, last=desk.today, what=What.PRICE)
    if not found and desk.cooperative is not None:
        return collecting.prices(desk)
    if not found:
        return desk.tongue.say("No price entered yet. Text: rss3 price 1.55")
    return say.sentence(say.line(desk.tongue, found[-1].record, desk.today))


def _stock(desk: Desk, _asked: Query) -> str:
    return state.stock(desk)


def _due_tomorrow(desk: Desk, _asked: Query) -> str:
    return state.due_tomorrow(desk)


def _pay(desk: Desk, _asked: Query) -> str:
    """What is due to tappers; an owner who has none can only mean what his cooperative owes him."""
    own = growers_own.in_words_of([desk]) if desk.is_owner and not desk.tappers() else None
    return own or paying.asked(desk)

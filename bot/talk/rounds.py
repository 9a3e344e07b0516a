"""A collector on his round: where he is and what is ready there, what is ready on a day's round, what he took from whom.

A collector has many farms. His text is read once, in a setting that knows all their names; each lot then goes to the book
of its farm. A farm may be named by its own name or its owner's, however spelled.
"""

import json
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from functools import cached_property

import parsers
from bot.books import places
from bot.books import questions as store
from bot.books.convert import folded
from bot.books.cooperatives import Cooperative
from bot.books.places import Place
from bot.reckon import takes
from bot.talk import collecting, correcting, disputing, rounds_in_words, visiting
from bot.talk.desk import Desk, Outcome, Told
from bot.talk.exchange import Kind
from bot.talk.questions import EXPIRES
from parsers import corrections, taking
from parsers.facts import Facts
from parsers.reading import About, Ask, Intent, Reading, Role, Setting, What
from parsers.taking import Lot

#: A text that is longer is no answer to the question from whom something was taken.
LONGEST_NAME = 40


#: What a text may hold that answers from whom something was taken, and no more.
NAMING = frozenset({"farm", "from", "span", "person", "at_place", "collected", "yes", "chat", "self"})

#: Of more lots in one text only what does not fit the book is told beside the money.
MOST_IN_FULL = 2


@dataclass(frozen=True)
class Collector:
    """A collector with the desks of his farms, the one that he last wrote about first."""

    desks: tuple[Desk, ...]
    cooperative: Cooperative | None
    only: bool

    @property
    def desk(self) -> Desk:
        """The desk of the farm that he last wrote about."""
        return self.desks[0]

    @cached_property
    def names(self) -> dict[str, Desk]:
        """His farms by their names, and by their owners' where these name one farm alone."""
        own = {desk.farm.name: desk for desk in self.desks}
        aliases: dict[str, list[Desk]] = {}
        for desk in self.desks:
            for owner in desk.owners() if self.cooperative is not None else ():
                aliases.setdefault(owner.name, []).append(desk)
        keys = {folded(name) for name in own}
        return own | {name: held[0] for name, held in aliases.items() if len(held) == 1 and folded(name) not in keys}

    @cached_property
    def places(self) -> list[Place]:
        """The places of the cooperative."""
        return [] if self.cooperative is None else places.of_cooperative(self.desk.tx, self.cooperative.id)

    @cached_property
    def setting(self) -> Setting:
        """The setting that his texts are read in."""
        setting = self.desk.setting(None)
        if self.cooperative is None:
            return setting
        others = [name for name in setting.farms if name not in self.names]
        names = (*self.names, *others)
        return replace(setting, role=Role.COLLECTOR, farms=names, people=(), places=tuple(p.name for p in self.places))

    @cached_property
    def facts(self) -> Facts:
        """What his text says."""
        return parsers.facts_of(self.desk.message.text, self.setting, self.desk.house.words)

    def farm(self, name: str) -> Desk | None:
        """The farm that is meant by a name, however spelled."""
        found = places.nearest(name, self.names)
        return None if found is None else self.names[found]

    def here(self) -> list[Desk]:
        """His farms of the place where he last checked in today."""
        checked = [
            (entry.entered_at, entry.record.place or "")
            for desk in self.desks
            for entry in desk.view
            if entry.record.what is What.CHECK_IN and entry.by.id == desk.me.id and entry.record.day == desk.today
            if entry.entered_at <= desk.sent
        ]
        place = places.meant(self.places, max(checked)[1]) if checked else None
        return [] if place is None else [desk for desk in self.desks if desk.farm.id in place.farm_ids]


def of(desks: Sequence[Desk]) -> Collector | None:
    """The collector at whose desks a text lies; None for somebody who collects nowhere."""
    own = tuple(desk for desk in desks if Role.COLLECTOR in desk.roles)
    if not own:
        return None
    found = next((each for desk in own if (each := desk.cooperative) is not None), None)
    return Collector(own, found, only=len(own) == len(desks) and all(desk.roles == {Role.COLLECTOR} for desk in own))


def answered(collector: Collector) -> Outcome | None:
    """What comes of a collector's text; None where it is read as anybody's."""
    waiting = _from_whom(collector)
    if waiting is not None:
        return waiting
    empty = visiting.nobody(collector)
    if empty is not None:
        return empty
    reading = parsers.read(collector.desk.message.text, collector.setting, collector.desk.house.words)
    undone = visiting.undone(collector, reading)
    if undone is not None:
        return undone
    lots = _lots(collector, reading)
    if collector.only and collector.cooperative is not None:
        none = disputing.no_such_receipt(collector.desk)
        if none is not None:
            return none
    corrected = _corrected(collector, lots)
    if corrected is not None:
        return corrected
    if lots and (collector.only or any(_names_known(collector, lot) for lot in lots)):
        return take(collector, lots, again=collector.facts.has("again"))
    if collector.cooperative is None or not collector.only:
        return None
    facts = collector.facts
    if reading.intent is Intent.READY or (facts.has("ready") and not facts.has("kg", "sheets", "litres")):
        return rounds_in_words.ready(collector)
    if _is_at_a_place(collector, reading):
        return rounds_in_words.arrived(collector, reading.records[0])
    if facts.has("price") or (reading.query is not None and reading.query.about is About.PRICE):
        return Outcome(Kind.ANSWERED, collecting.prices(collector.desk))
    if reading.query is not None and reading.query.about is About.TAKEN:
        return rounds_in_words.taken(collector, reading.query)
    if reading.intent is Intent.LOG and reading.records and reading.records[0].what is What.CHECK_IN:
        return rounds_in_words.arrived(collector, reading.records[0])
    if reading.intent in (Intent.LOG, Intent.UNKNOWN, Intent.DOSE) and not corrections.is_fix(facts):
        return rounds_in_words.not_understood(collector)
    return rounds_in_words.help_(collector) if reading.intent is Intent.HELP and reading.query is None else None


def _is_at_a_place(collector: Collector, reading: Reading) -> bool:
    """Whether he says that he is at a place, by its whole name: what else a word of the name may mean (`Market Gate`: a price)
    then means nothing."""
    if reading.intent is not Intent.LOG or not reading.records or reading.records[0].what is not What.CHECK_IN:
        return False
    said = folded(reading.records[0].place or "")
    return any(folded(each.name) == said for each in collector.places) and not collector.facts.has("ask", "question")


def _corrected(collector: Collector, lots: Sequence[Lot]) -> Outcome | None:
    """`sorry ama 24 sheets was 11.9`: a lot with a word of correction takes the place of his take that it can only mean."""
    if collector.cooperative is None or len(lots) != 1 or not collector.facts.has("fix"):
        return None
    (lot,) = lots
    desk = _desk_of(collector, lot)
    day = lot.record.day
    own = [] if desk is None else [e for e in desk.view if e.record.what is What.COLLECTED and e.by.id == desk.me.id]
    same = [each for each in own if each.record.day == day and takes.lot_of(each).form == lot.form]
    counted = [each for each in same if lot.record.sheets in (None, each.record.sheets)]
    meant = counted if len(counted) == 1 else same if len(same) == 1 else []
    if desk is None or not meant or desk.sent < meant[0].entered_at:
        return None
    before = meant[0].record
    said = {name: getattr(lot.record, name) for name in ("sheets", "kg", "litres", "drc", "grade", "price")}
    record = before.with_(**{name: value for name, value in said.items() if value is not None})
    return correcting.put_in_place(desk, meant[0], record, lot.notes)


def seat(collector: Collector) -> Desk:
    """The desk of the farm that a text names, or else of the one that he last wrote about."""
    said = folded(collector.desk.message.text)
    named = [desk for name, desk in collector.names.items() if folded(name) in said]
    return named[0] if named else collector.desk


def _lots(collector: Collector, reading: Reading) -> tuple[Lot, ...]:
    """The lots of a text that says what was taken: as the reader has them, or with form and deductions where it says more.

    In a cooperative, names of farms that the reader does not know count too: they are asked about.
    """
    of_trade = {each.what for each in (*reading.records, *reading.pending)} <= {What.COLLECTED, What.LATEX, What.LUMP}
    if (
        reading.intent not in (Intent.LOG, Intent.UNKNOWN)
        or not of_trade
        or reading.ask not in (None, Ask.WHAT, Ask.KG, Ask.BLOCK)
    ):
        return ()
    found = taking.lots(collector.facts, collector.setting, collector.desk.house.words)
    if not _complete(found) or (collector.cooperative is None and all(lot.is_plain for lot in found)):
        return ()
    return found if collector.only or all(lot.record.farm for lot in found) else ()


def _complete(lots: Sequence[Lot]) -> bool:
    """Whether each lot has a day and what it is paid by."""
    return bool(lots) and all(
        not lot.unclear
        and lot.record.day is not None
        and (lot.record.kg or (lot.form == "latex" and lot.record.litres))
        for lot in lots
    )


def _names_known(collector: Collector, lot: Lot) -> bool:
    return lot.record.farm is not None and collector.farm(lot.record.farm) is not None


def take(collector: Collector, lots: Sequence[Lot], *, again: bool, given: Sequence[Desk] = ()) -> Outcome:
    """Enter what was taken, each lot in the book of its farm; ask first where one names none that is known.

    `given` are the farms that were answered so far, for those lots in their order.
    """
    if collector.cooperative is None:
        return _enter([(collector.desk, tuple(lots))], again, collector.facts.has("fix"))
    by_desk: dict[str, tuple[Desk, list[Lot]]] = {}
    answers = iter(given)
    for lot in lots:
        desk = _desk_of(collector, lot) or next(answers, None)
        if desk is None:
            return _ask_from_whom(collector, lot, given)
        named = taking.named_farm(lot, desk.farm.name)
        by_desk.setdefault(desk.farm.id, (desk, []))[1].append(named)
    return _enter([(desk, tuple(own)) for desk, own in by_desk.values()], again, collector.facts.has("fix"))


def _desk_of(collector: Collector, lot: Lot) -> Desk | None:
    """The farm of a lot: the one it names, or else the only one of the place where he is, or his only one."""
    if lot.record.farm is not None:
        return collector.farm(lot.record.farm)
    here = collector.here() or list(collector.desks)
    return here[0] if len(here) == 1 else None


def _enter(by_desk: Sequence[tuple[Desk, tuple[Lot, ...]]], again: bool, corrects: bool) -> Outcome:
    for desk, lots in by_desk:
        refused = collecting.refusal(desk, lots)
        if refused is not None:
            return refused
    said: list[str] = []
    told: list[Told] = []
    new = False
    short = sum(len(lots) for _, lots in by_desk) > MOST_IN_FULL
    for desk, lots in by_desk:
        noted = collecting.enter(desk, lots, again=again, corrects=corrects)
        said.append(collecting.answer(desk, noted, short=short))
        told += collecting.receipts(desk, [each.entry for each in noted if not each.again])
        new = new or any(not each.again for each in noted)
    return Outcome(Kind.ENTERED if new else Kind.ANSWERED, " ".join(said), _one_each(told))


def _one_each(told: Sequence[Told]) -> tuple[Told, ...]:
    """One text for each person, whatever the number of his farms and lots."""
    texts: dict[str, Told] = {}
    for each in told:
        before = texts.get(each.person.id)
        texts[each.person.id] = each if before is None else Told(each.person, f"{before.text} {each.text}")
    return tuple(texts.values())


def _ask_from_whom(collector: Collector, lot: Lot, given: Sequence[Desk]) -> Outcome:
    """Nothing is entered before it is known from whom something was taken."""
    desk = collector.desk
    near = dict.fromkeys(each.farm.name for each in (*collector.here(), *collector.desks))
    offered = list(near)[: rounds_in_words.MOST_NAMES]
    waits = {
        "from_whom": desk.message.text,
        "at": desk.sent.isoformat(),
        "given": [each.farm.id for each in given],
    }
    store.ask(
        desk.tx,
        person_id=desk.me.id,
        farm_id=desk.farm.id,
        message_id=desk.message.id,
        body=json.dumps(waits, ensure_ascii=False),
        asked_at=desk.sent,
        expires_at=desk.now + EXPIRES,
    )
    return Outcome(Kind.ASKED, rounds_in_words.from_whom(desk, lot, offered))


def _from_whom(collector: Collector) -> Outcome | None:
    """The answer to from whom something was taken: the text that waits is read again with that farm, as of when it was sent."""
    desk = collector.desk
    question = desk.asked
    body = {} if question is None else json.loads(question.body)
    more = {fact.kind for fact in collector.facts.found} - NAMING
    if "from_whom" not in body or len(desk.message.text) > LONGEST_NAME or more:
        return None
    named = [str(fact.name) for fact in collector.facts.of("farm")]
    given = collector.farm(named[0] if len(named) == 1 else desk.message.text)
    if given is None:
        return None
    store.close(desk.tx, desk.me.id, desk.sent, "answered")
    sent = datetime.fromisoformat(body["at"]) if "at" in body else desk.message.at
    message = replace(desk.message, text=body["from_whom"], at=sent)
    then = replace(collector, desks=tuple(replace(each, message=message) for each in collector.desks))
    lots = _lots(then, parsers.read(message.text, then.setting, desk.house.words))
    by_id = {each.farm.id: each for each in then.desks}
    answers = [by_id[farm_id] for farm_id in (*body["given"], given.farm.id) if farm_id in by_id]
    return take(then, lots, again=then.facts.has("again"), given=answers) if lots else None

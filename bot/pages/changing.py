"""What an owner changes on his pages: an entry, a setting, a settlement, his links. The same rules as by text."""

from collections.abc import Mapping
from dataclasses import fields
from datetime import date
from decimal import Decimal, InvalidOperation

from bot.books import entries, farms, people
from bot.books.farm_settings import UnknownSetting, bounds, checked
from bot.books.model import FarmSettings
from bot.speech.language import Later, Tongue, later, page_tongue
from bot.speech.refusal import Refusal
from bot.talk import correcting, paying, proof
from bot.talk.answer import do
from bot.talk.desk import Desk, Outcome
from bot.talk.exchange import Kind
from parsers.reading import Manage, Record, Request


class CannotChange(Refusal):
    """The change makes no sense; the message says what to do."""


#: Settings that the page shows, with what they are in words.
SETTINGS: Mapping[str, Later] = {
    "acid": later("Acid"),
    "acid_strength_percent": later("Strength on the bottle's label, percent"),
    "target_drc_percent": later("DRC after water is added, percent"),
    "drc_percent": later("DRC where nothing is known, percent"),
    "sheet_dry_g": later("Dry weight of a sheet, g"),
    "drying": later("How sheets are dried"),
    "ready": later("When the sheet is rolled"),
    "country": later("Country whose usual figures hold"),
    "tapping": later("Tapping system, such as S/2 d3 6d/7"),
    "tapping_from": later("First tapping day of task A, like 2026-03-09"),
    "sells": later("What collectors take"),
    "rest_weekday": later("Day of rest"),
    "pay_period": later("Pay period"),
    "summary_weekday": later("Day of the weekly text"),
    "summary_hour": later("Hour of the weekly text (0 to 23)"),
    "gap_percent": later("Gaps are asked about from so many percent on"),
    "gap_unusual": later("and from so many standard deviations on (2 often, 3 seldom, 4 hardly ever)"),
    "reminder_hour": later("Hour at which a tapper without a word is reminded (6 to 20, empty for never)"),
}


#: Fields of a line that can be changed.
FIELDS: Mapping[str, Later] = {
    "day": later("Day, like 2026-03-09"),
    "block": later("Block"),
    "litres": later("Litres"),
    "kg": later("Weight, kg"),
    "drc": later("DRC, %"),
    "count": later("Pieces"),
    "sheets": later("Sheets"),
    "price": later("Price a kg"),
}


def shown(speech: Tongue, value: object) -> str:
    """A value as it stands in a field of a form; empty where there is none."""
    if value is None:
        return ""
    return speech.plain(value) if isinstance(value, Decimal) else str(value)


def number(text: str, what: str) -> Decimal | None:
    """A number of the form, with a point or a comma; None for an empty field. Raises CannotChange."""
    if not text:
        return None
    try:
        value = Decimal(text.replace(",", "."))
    except InvalidOperation as fault:
        raise CannotChange(later("{what}: write a number, not {text}."), what=what, text=text) from fault
    if not value.is_finite() or not 0 <= value <= 100_000:
        raise CannotChange(later("{what}: write a number of 0 or more, not {text}."), what=what, text=text)
    return value


def corrected(record: Record, form: Mapping[str, str], blocks: Mapping[str, object], today: date) -> Record:
    """The record with what the form changes. Raises CannotChange."""
    try:
        day = date.fromisoformat(form["day"]) if form.get("day") else record.day
    except ValueError as fault:
        raise CannotChange(later("Write the day like 2026-03-09.")) from fault
    if day is not None and day > today:
        raise CannotChange(later("The day lies ahead."))
    block = form.get("block") or record.block
    if block != record.block and block not in blocks:
        raise CannotChange(later("There is no block {name}."), name=block)
    changes: dict[str, object] = {"day": day, "block": block}
    for name in ("litres", "kg", "drc", "price"):
        if name in form:
            changes[name] = number(form[name], FIELDS[name])
    for name in ("count", "sheets"):
        if name in form:
            whole = number(form[name], FIELDS[name])
            changes[name] = None if whole is None else int(whole)
    return record.with_(**changes)


def change_entry(desk: Desk, entry_id: str, form: Mapping[str, str]) -> Outcome:
    """Correct an entry, or take it out. Raises CannotChange."""
    entry = entries.entry(desk.tx, entry_id)
    if (
        entry is None
        or entry.farm_id != desk.farm.id
        or entry.removed
        or entries.successor(desk.tx, entry_id) is not None
    ):
        raise CannotChange(later("This line does not stand any more. Load the day-book again."))
    if not correcting.may_change(desk, desk.me, entry):
        raise CannotChange(later("A collector's receipt is disputed by text: answer its number and why."))
    if form.get("do") == "take out":
        entries.remove(desk.tx, entry.id, message_id=desk.message.id, at=desk.sent)
        return Outcome(Kind.REMOVED, None, correcting.told_of_removal(desk, [entry]))
    record = corrected(entry.record, form, farms.blocks(desk.tx, desk.farm.id), desk.today)
    if record == entry.record:
        return Outcome(Kind.SILENT, None)
    return correcting.put_in_place(desk, entry, record)


def change_settings(desk: Desk, form: Mapping[str, str]) -> Outcome:
    """Change the settings that the form has otherwise than they are. Raises CannotChange."""
    before = {each.name: getattr(desk.farm.settings, each.name) for each in fields(FarmSettings)}
    speech, changed = page_tongue(desk.me.language), []
    for name in SETTINGS:
        text = form.get(name, "")
        if text == shown(speech, before[name]):
            continue
        value = _setting(name, text)
        if value == before[name]:
            continue
        farms.change_setting(desk.tx, desk.farm.id, name, value, at=desk.sent, message_id=desk.message.id)
        changed.append(name)
    return Outcome(Kind.CHANGED if changed else Kind.SILENT, None)


def _setting(name: str, text: str) -> str | int | Decimal | None:
    """The value of a setting from its field, a number with a point or a comma. Raises CannotChange."""
    low_and_high = bounds(name)
    given = text if low_and_high is None else text.replace(",", ".")
    try:
        return checked(name, given or None)
    except UnknownSetting as fault:
        what: dict[str, object] = {"what": SETTINGS[name]}
        if low_and_high is not None:
            low, high = low_and_high
            message = later("{what}: write a number from {low} to {high}.")
            raise CannotChange(message, low=f"{low:g}", high=f"{high:g}", **what) from fault
        if name == "tapping":
            raise CannotChange(later("{what}: this notation cannot be read."), **what) from fault
        if name == "tapping_from":
            raise CannotChange(later("{what}: write the day like 2026-03-09."), **what) from fault
        raise CannotChange(later("{what}: choose one of the list."), **what) from fault


def settle(desk: Desk, total: str) -> Outcome:
    """Settle the pay whose total the page showed."""
    outcome = paying.settle(desk, Request(Manage.SETTLE, value=number(total, later("The total"))))
    if outcome.kind is not Kind.CHANGED:
        raise CannotChange(later("The pay has changed since the page was loaded. Look at it again, then settle."))
    return outcome


def confirm(desk: Desk) -> Outcome:
    """Do the change that was asked for by text and waits for a proof: whoever has the link has the owner's phone."""
    outcome = proof.confirmed_on_page(desk, do)
    if outcome is None:
        raise CannotChange(later("Nothing waits any more: a change waits for ten minutes. Text it again."))
    return outcome


def cut_links(desk: Desk) -> Outcome:
    """Make all links of the owner void, this one too."""
    people.cut_links(desk.tx, desk.me.id, desk.now)
    return Outcome(Kind.CHANGED, None)

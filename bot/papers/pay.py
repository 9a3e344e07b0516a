"""Settlements that the owner confirmed, as a table: what each tapper was paid, and how it came about."""

from collections.abc import Mapping
from datetime import date
from zoneinfo import ZoneInfo

from bot.books import Transaction, entries, people, wages
from bot.books.model import Farm
from bot.books.wages import Settled
from bot.papers.table import Cell, Column, Table
from bot.reckon.wages import exponent
from bot.rubber.money import rounded
from bot.speech import pay
from bot.speech.language import Tongue


def settlements(tx: Transaction, farm: Farm, tongue: Tongue, first: date, last: date) -> Table:
    """The confirmed settlements with any day from `first` to `last`, oldest first. Earned is taken back plus paid."""
    names = names_by_id(tx, farm)
    columns = (
        Column(tongue.say("Name")),
        Column(tongue.say("First day")),
        Column(tongue.say("Last day")),
        Column(tongue.say("How it was computed")),
        Column(tongue.say("Earned"), farm.currency),
        Column(tongue.say("Advance taken back"), farm.currency),
        Column(tongue.say("Paid"), farm.currency),
        Column(tongue.say("Advance left"), farm.currency),
        Column(tongue.say("Confirmed"), farm.timezone),
    )
    found = [each for each in wages.settlements(tx, farm.id) if each.first <= last and each.last >= first]
    return Table(tongue.say("Pay"), columns, tuple(_row(tongue, farm, names, each) for each in found))


def names_by_id(tx: Transaction, farm: Farm) -> Mapping[str, str]:
    """The names of everybody who is or was at work here, as far as the farm's own book knows them."""
    worked = {entry.by.id: entry.by.name for entry in entries.all_entries(tx, farm.id)}
    return worked | {each.person.id: each.person.name for each in people.members(tx, farm.id)}


def how(speech: Tongue, settled: Settled) -> str:
    """The lines of the slip: `by the kilo 84.2 kg dry x 0.40 = 33.68; bonus = 5.00`."""
    lines = (
        (f"{pay.label(speech, label)} {pay.rule(speech, rule)}".strip(), pay.figures(speech, amount))
        for label, rule, amount in settled.slip
    )
    return "; ".join(f"{words} = {amount}" for words, amount in lines)


def how_as_kept(settled: Settled) -> str:
    """The same as the books keep it, in English, for programs that read it."""
    return "; ".join(f"{label} {rule}".strip() + f" = {amount}" for label, rule, amount in settled.slip)


def _row(speech: Tongue, farm: Farm, names: Mapping[str, str], settled: Settled) -> tuple[Cell, ...]:
    places = exponent(farm)
    amounts = (settled.earned, settled.recovered, settled.paid, settled.owed)
    return (
        names.get(settled.person_id, settled.person_id),
        settled.first,
        settled.last,
        how(speech, settled),
        *(rounded(amount, places) for amount in amounts),
        settled.confirmed_at.astimezone(ZoneInfo(farm.timezone)),
    )

"""The questions to somebody who begins a farm by text, and how each answer is checked."""

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import phonenumbers

from bot.books import Transaction, farms, people
from bot.books.convert import folded
from bot.books.farm_settings import UnknownSetting, checked
from bot.speech.language import Tongue, tongue
from bot.talk.exchange import Incoming
from bot.talk.homeland import city, zones
from bot.talk.starting_draft import Draft, Step
from parsers import starting
from parsers.spelling import clean
from parsers.words import Words

#: Letters of a name; blocks and trees of one; tappers of a farm that is begun by text (each gets a text that costs).
LONGEST_NAME, MOST_BLOCKS, MOST_TREES, MOST_TAPPERS = 30, 60, 100_000, 10

#: The hour of the summary where none is said.
USUAL_HOUR = 18


class NotTaken(ValueError):
    """An answer that cannot be taken; the message says in his language what to text."""


@dataclass(frozen=True)
class Asked:
    """The text that answers, the open transaction, and the words of the house."""

    tx: Transaction
    incoming: Incoming
    words: Words


def question(draft: Draft) -> str:
    """What is asked at a step, with what was understood before it."""
    return _QUESTIONS[draft.step](draft, tongue(draft.language))


def take(asked: Asked, draft: Draft, command: str | None) -> Draft:
    """The draft with the answer to its step. `command` is what the whole text means. Raises NotTaken."""
    return _TAKERS[draft.step](asked, draft, command, tongue(draft.language))


def _ask_name(_draft: Draft, speech: Tongue) -> str:
    return speech.say(
        "A few short questions. What is the farm called, and who are you? Like: Reed Hollow, Wanda. (Text back: one step "
        "back. Forget it: end.)"
    )


def _take_name(asked: Asked, draft: Draft, command: str | None, speech: Tongue) -> Draft:
    name, _, owner = (piece.strip() for piece in asked.incoming.text.strip().partition(","))
    owner = owner or speech.say("owner").capitalize()
    if not (_is_name(name) and _is_name(owner)):
        raise NotTaken(speech.say("A short name, please. Like: Reed Hollow, Wanda"))
    if farms.farm_named(asked.tx, name) is not None:
        raise NotTaken(speech.say("There is a farm {name} already. Another name?", name=name))
    return replace(draft, name=name, owner=owner)


def _is_name(name: str) -> bool:
    return bool(folded(name)) and len(name) <= LONGEST_NAME and name.isprintable() and ";" not in name


def _ask_zone(draft: Draft, speech: Tongue) -> str:
    options = speech.several(f"{n} {city(zone)}" for n, zone in enumerate(zones(draft.region), 1))
    return speech.say("Whose clock do you keep? Text the number: {options}", options=options)


def _take_zone(asked: Asked, draft: Draft, command: str | None, speech: Tongue) -> Draft:
    said = clean(asked.incoming.text).strip().casefold()
    for n, zone in enumerate(zones(draft.region), 1):
        if said in (str(n), city(zone).casefold()):
            return replace(draft, zone=zone)
    raise NotTaken(_ask_zone(draft, speech))


def _ask_blocks(_draft: Draft, speech: Tongue) -> str:
    return speech.say("Which blocks, and how many trees in each? Like: 1 300, 2 250")


def _take_blocks(asked: Asked, draft: Draft, command: str | None, speech: Tongue) -> Draft:
    found = starting.blocks(asked.incoming.text, asked.words.of(draft.language)) or {}
    keys = {folded(name) for name in found}
    fits = all(_is_name(name) for name in found) and all(0 < trees <= MOST_TREES for trees in found.values())
    if not found or not fits or len(keys) < len(found) or len(found) > MOST_BLOCKS:
        raise NotTaken(
            speech.say("I could not read that. Each block with its trees, with commas between. Like: 1 300, 2 250")
        )
    still = tuple((name, number, tuple(each for each in own if each in found)) for name, number, own in draft.people)
    return replace(draft, blocks=found, people=still)


def _ask_tapping(draft: Draft, speech: Tongue) -> str:
    blocks = speech.count("{n} block", "{n} blocks", len(draft.blocks))
    return speech.say(
        "{blocks}, {trees} trees. Which tapping system? Like: S/2 d3 6d/7, or text: don't know",
        blocks=blocks,
        trees=sum(draft.blocks.values()),
    )


def _take_tapping(asked: Asked, draft: Draft, command: str | None, speech: Tongue) -> Draft:
    if command == "dont_know":
        return draft.without_setting("tapping")
    try:
        return draft.with_settings(tapping=str(checked("tapping", asked.incoming.text or "?")))
    except UnknownSetting as fault:
        raise NotTaken(
            speech.say("I could not read that. Like: S/2 d3 6d/7 (half spiral, every third day), or text: don't know")
        ) from fault


def _ask_acid(_draft: Draft, speech: Tongue) -> str:
    return speech.say("Which acid, and how many percent? It stands on the bottle's label. Like: formic 85")


def _take_acid(asked: Asked, draft: Draft, command: str | None, speech: Tongue) -> Draft:
    said = starting.acid(asked.incoming.text, asked.words)
    if said.name == "sulphuric":
        raise NotTaken(speech.say("No dose for sulphuric acid: it burns people and spoils rubber. Use formic acid."))
    try:
        strength = checked("acid_strength_percent", "" if said.strength is None else said.strength)
    except UnknownSetting as fault:
        raise NotTaken(
            speech.say(
                "The strength stands on the bottle's label, 10 to 100 %. Look there, then text it like: formic 85"
            )
        ) from fault
    return draft.with_settings(acid=said.name or "formic", acid_strength_percent=str(strength))


def _ask_drying(draft: Draft, speech: Tongue) -> str:
    return speech.say(
        "{acid} {strength}%. If that is wrong, text: back. How do you dry sheets: sun, smoke, solar or hot air?",
        acid=draft.acid_said.capitalize(),
        strength=draft.settings["acid_strength_percent"],
    )


def _take_drying(asked: Asked, draft: Draft, command: str | None, speech: Tongue) -> Draft:
    if command == "dont_know":
        return draft.without_setting("drying")
    method = starting.drying(asked.incoming.text, asked.words)
    if method is None:
        raise NotTaken(speech.say("Sun, smoke, solar or hot air? Or text: don't know"))
    return draft.with_settings(drying=method)


def _ask_tappers(_draft: Draft, speech: Tongue) -> str:
    return speech.say(
        "Who taps? Name, number and blocks. Like: Kofi +447700900123 1, 2; Ama +447700900124 3. Or: nobody"
    )


def _take_tappers(asked: Asked, draft: Draft, command: str | None, speech: Tongue) -> Draft:
    if command == "nobody":
        return replace(draft, people=())
    found = tappers(asked.incoming.text, tuple(draft.blocks), draft.region)
    if not found:
        raise NotTaken(
            speech.say(
                "I could not read that. Name, number, blocks of each, of {blocks}. Like: Kofi +447700900123 {first}",
                blocks=speech.several(draft.blocks),
                first=next(iter(draft.blocks)),
            )
        )
    own = asked.incoming.sender
    taken = replace(draft, people=tuple((draft.owner if n == own else name, n, mine) for name, n, mine in found))
    check_free(asked, taken)
    return taken


def check_free(asked: Asked, draft: Draft) -> None:
    """No tapper may be in another farm's book: a stranger cannot draw him over. Raises NotTaken."""
    for name, number, _ in draft.people:
        person = people.person_by_number(asked.tx, number)
        if person is not None and (person.blocked_at is not None or people.memberships(asked.tx, person.id)):
            raise NotTaken(
                tongue(draft.language).say(
                    "The number of {name} cannot be put in by text. Leave it out; the cooperative's office can add it.",
                    name=name,
                )
            )


def tappers(text: str, blocks: Sequence[str], region: str) -> tuple[tuple[str, str, tuple[str, ...]], ...]:
    """Name, number in E.164 form and blocks of each; empty where that cannot be read without a doubt.

    A name stands before its number, the blocks behind it; numbers may be written with spaces.
    """
    found: list[tuple[str, str, tuple[str, ...]]] = []
    rest = [piece for piece in re.split(r"[\s,;]+", clean(text).strip()) if piece]
    names = {folded(name): name for name in blocks}
    while rest:
        name = _words_before_number(rest)
        number, length = _number(rest[len(name) :], region)
        behind = rest[len(name) + length :]
        own = _blocks_first(behind, names)
        if not name or number is None or not own or not _is_name(" ".join(name)):
            return ()
        found.append((" ".join(name), number, tuple(names[folded(each)] for each in own)))
        rest = behind[len(own) :]
    different = {number for _, number, _ in found}
    return tuple(found) if len(different) == len(found) <= MOST_TAPPERS else ()


def _words_before_number(pieces: Sequence[str]) -> list[str]:
    found: list[str] = []
    for piece in pieces:
        if re.match(r"[+(]?\d", piece):
            break
        found.append(piece)
    return found


def _blocks_first(pieces: Sequence[str], names: dict[str, str]) -> list[str]:
    found: list[str] = []
    for piece in pieces:
        if folded(piece) not in names:
            break
        found.append(piece)
    return found


def _number(pieces: Sequence[str], region: str) -> tuple[str | None, int]:
    """The number that the pieces begin with, and how many pieces it takes: a valid one before a merely possible one."""
    possible: tuple[str | None, int] = (None, 0)
    for length in range(1, len(pieces) + 1):
        if not re.fullmatch(r"[+(]?\d[\d().-]*", pieces[length - 1]):
            break
        try:
            number = phonenumbers.parse("".join(pieces[:length]), region)
        except phonenumbers.NumberParseException:
            continue
        written = str(phonenumbers.format_number(number, phonenumbers.PhoneNumberFormat.E164))
        if phonenumbers.is_valid_number(number):
            return written, length
        reason = phonenumbers.is_possible_number_with_reason(number)
        if possible[0] is None and reason == phonenumbers.ValidationResult.IS_POSSIBLE:
            possible = written, length
    return possible


def _ask_summary(draft: Draft, speech: Tongue) -> str:
    counted = speech.count("{n} tapper.", "{n} tappers.", len(draft.people))
    read_back = [f"{name} {number} ({speech.several(own)})." for name, number, own in draft.people]
    return " ".join([counted, *read_back, speech.say("On which day shall your week come? Like: sunday 18")])


def _take_summary(asked: Asked, draft: Draft, command: str | None, speech: Tongue) -> Draft:
    day = starting.weekday(asked.incoming.text, asked.words.of(draft.language))
    if day is None:
        raise NotTaken(speech.say("Which day of the week? Like: sunday 18"))
    hour = starting.hour(asked.incoming.text)
    return draft.with_settings(summary_weekday=str(day), summary_hour=str(USUAL_HOUR if hour is None else hour))


_QUESTIONS: dict[Step, Callable[[Draft, Tongue], str]] = {
    Step.NAME: _ask_name,
    Step.ZONE: _ask_zone,
    Step.BLOCKS: _ask_blocks,
    Step.TAPPING: _ask_tapping,
    Step.ACID: _ask_acid,
    Step.DRYING: _ask_drying,
    Step.TAPPERS: _ask_tappers,
    Step.SUMMARY: _ask_summary,
}

_TAKERS: dict[Step, Callable[[Asked, Draft, str | None, Tongue], Draft]] = {
    Step.NAME: _take_name,
    Step.ZONE: _take_zone,
    Step.BLOCKS: _take_blocks,
    Step.TAPPING: _take_tapping,
    Step.ACID: _take_acid,
    Step.DRYING: _take_drying,
    Step.TAPPERS: _take_tappers,
    Step.SUMMARY: _take_summary,
}

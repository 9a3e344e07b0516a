"""Which of his cooperatives a manager of several means: the one he names, else that of the farm he names, else the last he chose.

The name alone chooses: `Far Valley`; it may stand in any text: `Far Valley day`, `price rss3 1.60 far valley`. What he chose holds
until he names another. Answers say which one they are of.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace

from rapidfuzz import fuzz

from bot.books import cooperatives, places
from bot.books.convert import folded
from bot.speech.language import Tongue
from bot.talk.desk import Outcome
from bot.talk.exchange import Kind
from bot.talk.office import Office, name_in
from parsers import taking

#: A text of so many words at most can be a name that is not spelled quite right.
LONGEST_NAME = 6

Do = Callable[[Office], Outcome | None]


def answered(offices: Sequence[Office], do: Do, *, has_desk: bool) -> Outcome | None:
    """What comes of a manager's text at the cooperative that he means; `has_desk` says that he writes about a farm of his too."""
    if len(offices) == 1:
        return do(offices[0])
    of_farm = _of_farm(offices)
    named = _named(offices) or (None if of_farm is not None else _nearly_named(offices, in_part=not has_desk))
    if named is not None and not named.text.strip(" .,;:!?"):
        return _chosen(named, offices)
    if named is None and _asks_which(offices[0]):
        return _told(_last(offices), offices)
    office = named or of_farm or _last(offices)
    outcome = do(office)
    if outcome is not None and named is not None:
        _choose(named)
    return outcome if outcome is None else signed(office, outcome)


def signed(office: Office, outcome: Outcome) -> Outcome:
    """An answer to a manager of several, with the name of the cooperative that it is of."""
    name, text = office.cooperative.name, outcome.text
    if not office.of_several or not text or _begins_with_it(office, text):
        return outcome
    return replace(outcome, text=f"{name}: {text}")


def _begins_with_it(office: Office, text: str) -> bool:
    """Whether an answer begins with the cooperative's name, and not with that of a farm named after it."""
    name = office.cooperative.name
    if not text.startswith(name):
        return False
    names = cooperatives.farm_names(office.tx, office.cooperative.id).values()
    return not any(text.startswith(each) for each in names if each.startswith(name))


def _named(offices: Sequence[Office]) -> Office | None:
    """The cooperative whose name stands in the text; the longest name counts."""
    text = offices[0].message.text
    found = [each for each in offices if name_in(text, each.cooperative.name) is not None]
    if not found:
        return None
    best = max(found, key=lambda each: len(each.cooperative.name))
    return None if _is_part_of_a_farm(best, text) else best


def _nearly_named(offices: Sequence[Office], *, in_part: bool) -> Office | None:
    """The cooperative whose name stands in the text with a slip of the thumb, or of whose name the whole text is a part.

    A part alone may be the name of a block where he has a farm, so there it is none (`in_part`).
    """
    text = offices[0].message.text
    near = [pair for each in offices for pair in _alike(each, text)]
    if near:
        (_, written), meant = max(near, key=lambda pair: pair[0])
        return _spelled(meant, written)
    if not in_part or len(text.split()) > LONGEST_NAME or taking.opening(text, offices[0].house.words)[0] is not None:
        return None
    name = places.nearest(text, [each.cooperative.name for each in offices])
    meant_all = next((each for each in offices if each.cooperative.name == name), None)
    return None if meant_all is None else _spelled(meant_all, text)


def _alike(office: Office, text: str) -> Iterator[tuple[tuple[float, str], Office]]:
    """Runs of as many words of a text as the name has, with their likeness to it, where that is near."""
    name, pieces = office.cooperative.name, text.split()
    length = len(name.split())
    for at in range(len(pieces) - length + 1):
        written = " ".join(pieces[at : at + length])
        likeness = fuzz.ratio(folded(written), folded(name))
        if likeness >= places.ALIKE:
            yield (likeness, written), office


def _spelled(office: Office, written: str) -> Office:
    """The office with the name in its text as the books write it."""
    text = office.message.text.replace(written, office.cooperative.name, 1)
    return replace(office, message=replace(office.message, text=text))


def _is_part_of_a_farm(office: Office, text: str) -> bool:
    """Whether the name stands in the text as part of a farm's longer name: `advance 5 Three Hills Farm`."""
    names = cooperatives.farm_names(office.tx, office.cooperative.id).values()
    inside = (each for each in names if each != office.cooperative.name and name_in(each, office.cooperative.name))
    return any(name_in(text, each) is not None for each in inside)


def _of_farm(offices: Sequence[Office]) -> Office | None:
    """The only one of his cooperatives to which a farm belongs that the text names."""
    text = offices[0].message.text
    found = [
        office
        for office in offices
        if any(name_in(text, name) for name in cooperatives.farm_names(office.tx, office.cooperative.id).values())
    ]
    return found[0] if len(found) == 1 else None


def _last(offices: Sequence[Office]) -> Office:
    """The one that he chose last, else the one that he has managed longest."""
    chosen = cooperatives.chosen(offices[0].tx, offices[0].me.id)
    return next((each for each in offices if each.cooperative.id == chosen), offices[0])


def _asks_which(office: Office) -> bool:
    """`cooperatives?`, `my cooperatives`: a word for them and hardly anything else."""
    text = office.message.text.strip(" .!?")
    return len(text.split()) <= 2 and taking.speaks_of(text, "house", office.house.words)


def _choose(office: Office) -> None:
    cooperatives.choose(office.tx, office.me.id, office.cooperative.id, office.sent)


def _chosen(office: Office, offices: Sequence[Office]) -> Outcome:
    _choose(office)
    text = office.tongue.say(
        "{name} from now on. Also yours: {others}.", name=office.cooperative.name, others=_others(office, offices)
    )
    return Outcome(Kind.CHANGED, text)


def _told(office: Office, offices: Sequence[Office]) -> Outcome:
    speech: Tongue = office.tongue
    text = speech.say(
        "You write about {name} now. Also yours: {others}. For another one text its name.",
        name=office.cooperative.name,
        others=_others(office, offices),
    )
    return Outcome(Kind.ANSWERED, text)


def _others(office: Office, offices: Sequence[Office]) -> str:
    return office.tongue.several(
        each.cooperative.name for each in offices if each.cooperative.id != office.cooperative.id
    )

"""Why a text is read as it is: what its words may mean, what was made of them, the ways that were weighed, and the margin."""

from parsers.facts import Fact, Facts
from parsers.meanings import Item
from parsers.reading import Reading


def explanation(facts: Facts, reading: Reading) -> tuple[str, ...]:
    """Lines that explain a reading: words, facts, candidates with what speaks against each, outcome."""
    words = "; ".join(_word(item) for item in facts.items if item.kind != "sign")
    said = "; ".join(_fact(fact) for fact in facts.found)
    bounded = ("the text holds too much: the rest was left out",) if reading.bounded else ()
    return (f"words: {words or 'none'}", f"said: {said or 'nothing'}", *reading.grounds, *bounded, _outcome(reading))


def _word(item: Item) -> str:
    """`block = block`, `18 = 18`, `rian = rain (slip for rain)`, `xyz = ?`."""
    meanings = [tag for tag in item.tags if tag != "slip"]
    if item.kind == "number":
        meanings = [str(item.value), *(f"{tag} {item.tags[tag]}" for tag in meanings if tag == "own_block")]
    slip = f" (slip for {item.tags['slip']})" if item.has("slip") else ""
    return f"{item.text} = {' or '.join(meanings) or '?'}{slip}"


def _fact(fact: Fact) -> str:
    value = fact.value if fact.value is not None else fact.name or ""
    day = "" if fact.day is None else str(fact.day.day or "a day that has to be asked")
    return " ".join(piece for piece in (fact.kind, str(value), day) if piece)


def _outcome(reading: Reading) -> str:
    if reading.ask is not None:
        return f"outcome: {reading.intent}, asks for {reading.ask}"
    return f"outcome: {reading.intent}, {len(reading.records)} to enter"

"""Pay-outs of a cooperative in words: for texts and pages."""

from collections.abc import Sequence
from decimal import Decimal

from bot.speech import pay
from bot.speech.language import Tongue

#: A line of a pay-out: kind, rule, amount.
Line = tuple[str, str, Decimal]


def label(speech: Tongue, kind: str) -> str:
    """What a line of a pay-out is called."""
    words = {
        "receipts": speech.say("receipts"),
        "adjustment": speech.say("receipt changed:"),
        "levy": speech.say("levy"),
        "advance": speech.say("advance"),
        "acid": speech.say("acid"),
        "tools": speech.say("tools"),
        "deduction": speech.say("deduction"),
        "taken back": speech.say("taken back:"),
        "brought": speech.say("left from before"),
    }
    return words[kind]


def rule(speech: Tongue, kind: str, text: str) -> str:
    """How a line came about, with words and figures as the listener writes them."""
    if kind == "taken back":
        return label(speech, text)
    return pay.figures(speech, text)


def gathered(lines: Sequence[Line]) -> list[Line]:
    """Lines of one kind that come off put together, so that a text stays short: `acid 3x`."""
    found: dict[str, list[Line]] = {}
    for n, line in enumerate(lines):
        apart = line[0] in ("receipts", "adjustment", "levy", "brought")
        found.setdefault(f"{line[0]} {n}" if apart else line[0], []).append(line)
    return [
        same[0] if len(same) == 1 else (same[0][0], f"{len(same)}x", sum((each[2] for each in same), Decimal(0)))
        for same in found.values()
    ]


def by_kind(lines: Sequence[Line]) -> list[Line]:
    """All lines of one kind put together, where a text would grow too long with each of its own."""
    found: dict[str, list[Line]] = {}
    for line in lines:
        found.setdefault(line[0], []).append(line)
    return [
        same[0] if len(same) == 1 else (kind, f"{len(same)}x", sum((each[2] for each in same), Decimal(0)))
        for kind, same in found.items()
    ]


def in_words(speech: Tongue, lines: Sequence[Line], places: int) -> str:
    """`receipts 1001-1002 31.97; levy 2% x 31.97 -0.64; acid 2 L -1.20`: the lines of a pay-out in a text."""
    said = (
        " ".join(
            piece
            for piece in (
                label(speech, kind),
                f"{text}" if text.endswith("x") else rule(speech, kind, text),
                speech.fixed(amount, places),
            )
            if piece
        )
        for kind, text, amount in gathered(lines)
    )
    return "; ".join(said)

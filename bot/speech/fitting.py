"""As much of an answer as so many parts hold, the most important first; what is left out is counted."""

from collections.abc import Sequence

from bot.speech.language import economical
from bot.speech.parts import count_parts

#: Parts that an answer may take where nothing else is said.
USUAL_PARTS = 2


def parts_of(*pieces: str) -> int:
    """How many parts pieces with a space between them take as they are sent."""
    return count_parts(economical(" ".join(pieces))).parts


def fits(pieces: Sequence[str], parts: int = USUAL_PARTS) -> bool:
    """Whether pieces with a space between them take no more parts than these."""
    return parts_of(*pieces) <= parts


def fitting(first: Sequence[str], then: Sequence[str] = (), parts: int = USUAL_PARTS) -> str:
    """As many of the pieces as the parts hold, from the first on; `+3` at the end says that three are left out."""
    pieces, kept = [*first, *then], len(first) + len(then)
    while kept > 1 and not fits([*pieces[:kept], *_more(len(pieces) - kept)], parts):
        kept -= 1
    return " ".join([*pieces[:kept], *_more(len(pieces) - kept)])


def _more(left: int) -> list[str]:
    return [f"+{left}"] if left else []

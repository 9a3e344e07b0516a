"""Whether a catalogue of sentences can be used: a broken one is found at the start, not in the midst of an answer."""

import io
import re
from importlib import resources

from babel.messages.pofile import PoFileError, read_po

from bot.speech.language import LANGUAGES, SOURCE

#: A line of a sentence without its last quotation mark.
_CUT = re.compile(r'[^#"]*"(?:[^"\\]|\\.)*$')

_PLACE = re.compile(r"\{(\w*)[^{}]*\}")


def faults() -> list[str]:
    """What is wrong with the catalogues of the package, a line each."""
    folder = resources.files("bot.speech") / "catalogues"
    found: list[str] = []
    for code in LANGUAGES:
        if code == SOURCE:
            continue
        try:
            source = (folder / f"{code}.po").read_bytes()
        except OSError as fault:
            found.append(f"{code}.po cannot be read ({fault.strerror})")
        else:
            found += [f"{code}.po: {each}" for each in faults_in(source, code)]
    return found


def faults_in(source: bytes, code: str) -> list[str]:
    """What is wrong with one catalogue: not of its form, or a sentence whose places for values are not those of English."""
    try:
        messages = list(read_po(io.BytesIO(source), locale=code, abort_invalid=True))
    except (PoFileError, ValueError) as fault:
        return [f"it is not of the form of a catalogue ({fault})"]
    cut = [line for line in source.decode().splitlines() if _CUT.match(line)]
    if cut:
        return [f"a line has no end: {cut[0]}"]
    if len(messages) <= 1:  # the head alone
        return ["it holds no sentences"]
    return [f"places for values differ: {_forms(each.id)[0]!r}" for each in messages if each.id and _differ(each)]


def _differ(message: object) -> bool:
    ours, theirs = _forms(getattr(message, "id", "")), _forms(getattr(message, "string", ""))
    wanted = sorted({place for form in ours for place in _PLACE.findall(form)})
    return any(_broken(form) or sorted(set(_PLACE.findall(form))) != wanted for form in theirs if form)


def _broken(form: str) -> bool:
    """A brace that opens or closes nothing."""
    rest = _PLACE.sub("", form)
    return "{" in rest or "}" in rest


def _forms(text: str | tuple[str, ...] | list[str]) -> list[str]:
    return [text] if isinstance(text, str) else list(text)

"""Reads the international notation for latex harvest technology, in the style of 2009 and of 1983.

The text is cut at "+" and ";" into systems. Each begins with a cut; behind it stand items that are recognised one by
one at the place reached, whatever their order, because printed strings differ in it. Sloppy spots that can mean one
thing only are read and remarked upon; whatever could mean two things, or nothing, is refused with the place where
reading stopped.

Two shapes look alike: with a slash, `6d/7` and `10d/14` are weeks of work; any other `2d/3` is a frequency, and so is
`d/7`.
"""

import re
import unicodedata
from collections.abc import Callable
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Literal, cast

from bot.rubber.tapping_system import (
    MONTHS,
    Application,
    Cut,
    Done,
    Frequency,
    Joiner,
    Notation,
    Panel,
    Remark,
    Rounds,
    Season,
    Shape,
    Stimulation,
    TappingSystem,
    Turn,
    Week,
)

LONGEST_TEXT = 300

_SIGNS = str.maketrans({"\u2044": "/", "×": "x", "–": "-", "−": "-"})
_NUMBER = r"\d+(?:\.\d+)?"


class NotationError(ValueError):
    """A notation that cannot be read. `text` is what was read, `position` where in it reading stopped."""

    def __init__(self, reason: str, text: str, position: int = 0) -> None:
        super().__init__(f'cannot read "{text}" as a tapping notation: {reason}')
        self.text = text
        self.position = position


@dataclass
class _Draft:
    """A system while it is read."""

    cut: Cut
    frequencies: list[Frequency] = field(default_factory=list)
    week: Week | None = None
    season: Season | None = None
    alternation: tuple[Turn, Turn] | None = None
    rain_guard: bool = False
    stimulation: Stimulation | None = None
    done: Done | None = None
    panels: list[Panel] = field(default_factory=list)
    remarks: list[Remark] = field(default_factory=list)

    def put(self, name: str, value: object) -> None:
        """Sets what may be said once only."""
        if getattr(self, name):
            raise ValueError(f"{name.replace('_', ' ')} is said twice")
        setattr(self, name, value)

    def finished(self) -> TappingSystem:
        if not self.frequencies:
            self.remarks.append(Remark("frequency", "no tapping frequency, such as d3, is said"))
        if self.stimulation and not self.stimulation.applications:
            self.remarks.append(Remark("method", "where the stimulant is put, such as Pa, is not said"))
        return TappingSystem(
            self.cut,
            tuple(self.frequencies),
            self.week,
            self.season,
            self.alternation,
            self.rain_guard,
            self.stimulation,
            self.done,
            tuple(self.panels),
        )


def read(text: str) -> Notation:
    """What a notation says, in either style: `S/2 d3 6d/7 10m/12 ET2.5% Pa1(1) 6/y` or `1/2S d/3 6d/7.10m/y`.

    Raises NotationError where the text makes no sense or contradicts itself (`8d/7`, `13m/12`, a cut longer than the
    girth).
    """
    plain = normalised(text)
    if not plain or len(plain) > LONGEST_TEXT:
        raise NotationError(f"it should have 1 to {LONGEST_TEXT} characters", plain[:60])
    drafts: list[_Draft] = []
    joiners: list[Joiner] = []
    for start, joiner, part in _parts(plain):
        if drafts and _RAIN_GUARD_ONLY.fullmatch(part.strip()):
            _read_rain_guard(_RAIN_GUARD_ONLY.fullmatch(part.strip()), drafts[-1])
            continue
        drafts.append(_read_system(plain, start, start + len(part)))
        if joiner:
            joiners.append(joiner)
    systems = tuple(draft.finished() for draft in drafts)
    return Notation(systems, tuple(joiners), tuple(remark for draft in drafts for remark in draft.remarks))


def normalised(text: str) -> str:
    """The text with fractions, multiplication signs, full-width forms, dashes and decimal commas made plain."""
    plain = unicodedata.normalize("NFKC", text).translate(_SIGNS)
    plain = re.sub(r"(\d),(\d+\s*%)", r"\1.\2", plain)
    return " ".join(plain.split())


def _parts(text: str) -> list[tuple[int, Joiner | None, str]]:
    """The systems of a text: where each starts, what joins it to the one before, and its text."""
    parts: list[tuple[int, Joiner | None, str]] = []
    start, joiner = 0, None
    for match in re.finditer(r"[+;]|$", text):
        parts.append((start, joiner, text[start : match.start()]))
        start, joiner = match.end(), cast("Joiner", match[0])
    return parts


def _read_system(text: str, start: int, end: int) -> _Draft:
    match = _CUT.match(text, start, end)
    if not match:
        raise NotationError("a cut, such as S/2, has to come first", text, start)
    try:
        draft = _read_cut(match)
    except ValueError as error:
        raise NotationError(str(error), text, start) from None
    place = match.end()
    while (place := cast("re.Match[str]", _SEPARATOR.match(text, place, end)).end()) < end:
        place = _read_item(draft, text, place, end)
    return draft


def _read_item(draft: _Draft, text: str, place: int, end: int) -> int:
    """Reads the item at `place` into the draft; returns where it ends."""
    for pattern, enter in _ITEMS:
        if match := pattern.match(text, place, end):
            try:
                enter(match, draft)
            except ValueError as error:
                raise NotationError(str(error), text, place) from None
            return match.end()
    raise NotationError(f'nothing known begins at "{text[place:end][:12]}"', text, place)


def _read_cut(match: re.Match[str]) -> _Draft:
    shape = _shape(match["mini"] or match["shape"] or match["old_shape"])
    direction: Literal["D", "U"] = "U" if (match["direction"] or "").upper() in {"U", "↑"} else "D"
    count = _positive(match["count"] or "1", "the number of cuts")
    remarks = [Remark("fraction", f"{match[0].strip()} is read as {shape}/{match['loose']}")] if match["loose"] else []
    if shape == "Mc":
        length = Fraction(match["length"] or 0)
        if not length:
            raise ValueError("a mini-cut Mc needs its length in cm, such as Mc2")
        return _Draft(Cut(shape, None, length, direction, count))
    return _Draft(Cut(shape, _fraction(match), None, direction, count), remarks=remarks)


def _fraction(match: re.Match[str]) -> Fraction:
    above = int(match["above"] or 1)
    below = _positive(
        match["below"] or match["part"] or match["loose"] or "1", "the lower number of the cut's fraction"
    )
    if not 0 < above <= below:
        raise ValueError(f"a cut of {above}/{below} of the girth is not possible")
    return Fraction(above, below)


def _shape(text: str) -> Shape:
    return cast("Shape", "Mc" if text.lower() == "mc" else text.upper())


def _positive(digits: str, what: str) -> int:
    number = int(digits)
    if number == 0:
        raise ValueError(f"{what} cannot be 0")
    return number


def _read_week(match: re.Match[str], draft: _Draft) -> None:
    working, total = int(match["working"]), int(match["total"])
    if not 0 < working <= total:
        raise ValueError(f"{working} working days in {total} are not possible")
    if "/" not in match[0]:
        draft.remarks.append(Remark("week", f"{match[0]} is read as {working}d/{total}"))
    draft.put("week", Week(working, total))


def _read_frequency(match: re.Match[str], draft: _Draft) -> None:
    if draft.frequencies and match["days"] and match["period"] in {"7", "14"}:
        _read_week(cast("re.Match[str]", _LOOSE_WEEK.fullmatch(match[0])), draft)
        return
    days, period = _positive(match["days"] or "1", "the tapping days"), Fraction(match["period"])
    if period == 0:
        raise ValueError("a tapping every 0 days is not possible")
    if days > 1 and days > period:
        raise ValueError(f"{days} tapping days in {period} are not possible")
    if len(draft.frequencies) == 2:
        raise ValueError("more than two frequencies are said")
    draft.frequencies.append(Frequency(days, period))


def _read_season(match: re.Match[str], draft: _Draft) -> None:
    unit: Literal["m", "w"] = "m" if match["months"] else "w"
    tapped = int(match["months"] or match["weeks"])
    total = int(match["of_weeks"]) if unit == "w" else 12
    if not 0 < tapped <= total:
        raise ValueError(f"{tapped} of {total} {'months' if unit == 'm' else 'weeks'} is not possible")
    first, last = (MONTHS.index(match[end].upper()) + 1 if match[end] else None for end in ("first", "last"))
    season = Season(tapped, total, unit, first, last)
    if season.months and len(season.months) != tapped:
        said = f"{MONTHS[season.months[0] - 1]}-{MONTHS[season.months[-1] - 1]}"
        draft.remarks.append(Remark("season", f"{said} has {len(season.months)} months, not {tapped}"))
    draft.put("season", season)


def _read_alternation(match: re.Match[str], draft: _Draft) -> None:
    turns = [Turn(_positive(match[n] or "1", "a turn"), cast("Literal['t']", match[n + 1].lower())) for n in (1, 3)]
    draft.put("alternation", (turns[0], turns[1]))


def _read_rain_guard(match: re.Match[str] | None, draft: _Draft) -> None:
    draft.put("rain_guard", True)
    if match and "rain" in match[0].lower():
        draft.remarks.append(Remark("rain guard", f'"{match[0]}" is read as RG'))


def _read_agent(match: re.Match[str], draft: _Draft) -> None:
    percent = Fraction(match["percent"]) if match["percent"] else None
    if percent is not None and not 0 < percent <= 100:
        raise ValueError(f"a stimulant of {match['percent']}% is not possible")
    draft.put("stimulation", Stimulation(cast("Literal['ET']", match["agent"].upper()), percent))


def _read_application(match: re.Match[str], draft: _Draft) -> None:
    if not draft.stimulation:
        raise ValueError(f"{match['method']} says where a stimulant is put, but none, such as ET2.5%, stands before it")
    grams, band = (Fraction(match[part]) if match[part] else None for part in ("grams", "band"))
    if grams == 0 or band == 0:
        raise ValueError("the grams and the width of the band cannot be 0")
    method = cast("Literal['Pa']", match["method"].capitalize())
    old = draft.stimulation
    draft.stimulation = Stimulation(
        old.agent, old.percent, (*old.applications, Application(method, grams, band)), old.rounds
    )


def _read_rounds(match: re.Match[str], draft: _Draft) -> None:
    old = draft.stimulation
    if not old:
        raise ValueError(f"{match[0]} counts stimulations, but no stimulant, such as ET2.5%, stands before it")
    if old.rounds:
        raise ValueError("the stimulations a year are said twice")
    per_year = _positive(match["of"] or match["rounds"], "the stimulations a year")
    given = int(match["rounds"]) if match["of"] else None
    every = _positive(match["every"] or "1", "the interval of stimulation") if match["unit"] else None
    unit = cast("Literal['w', 'm'] | None", match["unit"].lower() if match["unit"] else None)
    if given is not None and given > per_year:
        raise ValueError(f"{given} stimulations given of {per_year} are not possible")
    if not match["slash"]:
        draft.remarks.append(Remark("rounds", f"{match[0]} is read as {per_year}/y"))
    draft.stimulation = Stimulation(old.agent, old.percent, old.applications, Rounds(per_year, given, every, unit))


def _read_done(match: re.Match[str], draft: _Draft) -> None:
    done, possible = int(match[1]), _positive(match[2], "the tappings possible")
    if done > possible:
        raise ValueError(f"{done} tappings done of {possible} possible are not possible")
    draft.put("done", Done(done, possible))


def _read_panel(match: re.Match[str], draft: _Draft) -> None:
    # B0-1 (zero) and B1-1 (one) are often printed for BO-1 and BI-1.
    bark = match["bark"].upper().replace("0", "O").replace("1", "I")
    height = cast("Literal['B', 'H']", match["height"].upper())
    draft.panels.append(Panel(height, cast("Literal['O', 'I', 'II']", bark), _positive(match["number"], "a panel")))


def _pattern(text: str) -> re.Pattern[str]:
    return re.compile(text, re.ASCII | re.IGNORECASE)


_MONTH = "|".join(MONTHS)
_SEPARATOR = _pattern(r"[\s.,]*")
_CUT = _pattern(
    r"\s*(?:(?P<count>\d+)(?:\s*x\s*|(?=[SVCM])))?"
    r"(?:(?P<above>\d+)/(?P<below>\d+)\s*(?P<old_shape>[SVC])"
    rf"|(?P<mini>Mc)(?P<length>{_NUMBER})?"
    r"|(?P<shape>[SVC])(?:/(?P<part>\d+)|(?P<loose>\d+))?)"
    r"(?:\s*(?P<direction>(?-i:D)(?![\d/])|U|[↓↑]))?"
)
_RAIN_GUARD_ONLY = _pattern(r"(?:rain\s*guard\w*\s*)?\(?RG\)?|rain\s*guard\w*")
_LOOSE_WEEK = _pattern(r"(?P<working>\d+)d(?P<total>\d+)")
_ITEMS: tuple[tuple[re.Pattern[str], Callable[[re.Match[str], _Draft], None]], ...] = (
    (_pattern(r"(?P<working>\d+)d/(?P<total>7|14)(?!\d)"), _read_week),
    (_pattern(r"(?P<working>7)d(?P<total>7)(?!\d)"), _read_week),
    (
        _pattern(
            r"(?:(?P<months>\d+)m/(?:12|y)|(?P<weeks>\d+)w/(?P<of_weeks>\d+))"
            rf"(?:\s*[(\[]\s*(?P<first>{_MONTH})\s*-\s*(?P<last>{_MONTH})\s*[)\]])?"
        ),
        _read_season,
    ),
    (
        _pattern(
            r"(?P<rounds>\d+)(?:/(?P<of>\d+))?(?P<slash>/)?y(?:\s*\(\s*(?P<every>\d*)(?P<unit>[wm])\s*\))?",
        ),
        _read_rounds,
    ),
    # A point belongs to the number unless a week or a season follows it: `d0.5`, but `d2.6d/7`.
    (_pattern(r"(?P<days>\d*)d/?(?P<period>\d+\.\d+(?!\d|[dmw])|\d+)"), _read_frequency),
    (_pattern(r"\(\s*(\d*)([tdwmy])\s*,\s*(\d*)([tdwmy])\s*\)"), _read_alternation),
    (_RAIN_GUARD_ONLY, _read_rain_guard),
    (_pattern(rf"(?P<agent>ETG|ET|RF)(?:\s*(?P<percent>{_NUMBER})\s*%)?"), _read_agent),
    (
        _pattern(
            rf"(?P<method>Pa|Ba|Ga|La)(?:\s*(?P<grams>{_NUMBER})(?![\d.]*\s*[/y]))?"
            rf"(?:\s*\(\s*(?P<band>{_NUMBER})\s*\))?"
        ),
        _read_application,
    ),
    (_pattern(r"\(\s*(\d+)\s*/\s*(\d+)\s*\)"), _read_done),
    (_pattern(r"(?P<height>[BH])(?P<bark>II|[OI01])\s*-\s*(?P<number>\d)"), _read_panel),
)

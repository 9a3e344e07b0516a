"""What a tapping notation says, as plain values: the vocabulary of `notation`, `intensity`, `calendar` and `panel`.

The notation is the international one for latex harvest technology (Lukman 1983, revised by Vijayakumar et al. 2009).
"""

from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

Shape = Literal["S", "V", "C", "Mc"]
Direction = Literal["D", "U"]
Joiner = Literal["+", ";"]

MONTHS: tuple[str, ...] = ("JAN", "FEB", "MAR", "APR", "MAY", "JUN", "JUL", "AUG", "SEP", "OCT", "NOV", "DEC")


@dataclass(frozen=True)
class Cut:
    """One kind of cut: its shape, its share of the girth (or its length, for a mini-cut) and its direction."""

    shape: Shape
    fraction: Fraction | None
    """Share of the girth, 0 < fraction <= 1; None for a mini-cut, whose length is given instead."""
    length_cm: Fraction | None = None
    direction: Direction = "D"
    count: int = 1
    """Cuts of this kind on the tree."""


@dataclass(frozen=True)
class Frequency:
    """`days` tappings in every `period` days: d3 is 1 in 3, 2d3 is 2 in 3, d0.5 is 1 in half a day."""

    days: int
    period: Fraction

    @property
    def per_day(self) -> Fraction:
        """Tappings a day."""
        return self.days / self.period


@dataclass(frozen=True)
class Week:
    """`working` days of work in every `total` days (6d/7: six days of work, one of rest)."""

    working: int
    total: int

    @property
    def share(self) -> Fraction:
        """Share of the days that are worked."""
        return Fraction(self.working, self.total)


@dataclass(frozen=True)
class Season:
    """`tapped` months (or weeks) of `total`; first and last month by number, where the notation names them."""

    tapped: int
    total: int
    unit: Literal["m", "w"] = "m"
    first: int | None = None
    last: int | None = None

    @property
    def share(self) -> Fraction:
        """Share of the year that is tapped."""
        return Fraction(self.tapped, self.total)

    @property
    def months(self) -> tuple[int, ...]:
        """The months tapped by number, in order from the first; empty where the notation does not name them."""
        if self.first is None or self.last is None:
            return ()
        length = (self.last - self.first) % 12 + 1
        return tuple((self.first - 1 + step) % 12 + 1 for step in range(length))


@dataclass(frozen=True)
class Turn:
    """How long one cut is tapped before the next: `t` tappings, or days, weeks, months, years."""

    number: int
    unit: Literal["t", "d", "w", "m", "y"]


@dataclass(frozen=True)
class Application:
    """Where stimulant is put (Pa, Ba, Ga, La), how many grams a tree, and the width of the band in cm."""

    method: Literal["Pa", "Ba", "Ga", "La"]
    grams: Fraction | None = None
    band_cm: Fraction | None = None


@dataclass(frozen=True)
class Rounds:
    """Stimulations a year, those given of them where said, and the interval (monthly, every 2 weeks)."""

    per_year: int
    given: int | None = None
    every: int | None = None
    unit: Literal["w", "m"] | None = None


@dataclass(frozen=True)
class Stimulation:
    """The stimulant: agent, active ingredient in %, ways of application and rounds a year."""

    agent: Literal["ET", "RF", "ETG"]
    percent: Fraction | None = None
    applications: tuple[Application, ...] = ()
    rounds: Rounds | None = None


@dataclass(frozen=True)
class Done:
    """Tappings done of those possible."""

    tappings: int
    possible: int


@dataclass(frozen=True)
class Panel:
    """A panel: base (B) or high (H); bark O virgin, I first renewed, II second renewed; its number."""

    height: Literal["B", "H"]
    bark: Literal["O", "I", "II"]
    number: int

    def __str__(self) -> str:
        return f"{self.height}{self.bark}-{self.number}"


@dataclass(frozen=True)
class TappingSystem:
    """One cut and how it is tapped. What the notation leaves out is None or empty, never filled in here."""

    cut: Cut
    frequencies: tuple[Frequency, ...] = ()
    week: Week | None = None
    season: Season | None = None
    alternation: tuple[Turn, Turn] | None = None
    rain_guard: bool = False
    stimulation: Stimulation | None = None
    done: Done | None = None
    panels: tuple[Panel, ...] = ()


@dataclass(frozen=True)
class Remark:
    """Something read with a grain of salt: its kind (for translation) and the same in English."""

    kind: Literal["fraction", "rounds", "method", "frequency", "week", "rain guard", "season"]
    text: str


@dataclass(frozen=True)
class Notation:
    """A whole notation: one system or several, how they are joined, and remarks about sloppy spots.

    "+" joins cuts tapped on the same day, ";" systems that are merely listed together.
    """

    systems: tuple[TappingSystem, ...]
    joiners: tuple[Joiner, ...] = ()
    remarks: tuple[Remark, ...] = ()

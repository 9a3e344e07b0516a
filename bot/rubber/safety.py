"""What can hurt, and what to say about it: plain data, the English text under a key.

Every text is short and defers to the bottle's label and to local rules. A caution whose status is "from memory" is
general practice that no source was read for.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from types import MappingProxyType

from bot.rubber.acids import Acid
from bot.rubber.reference import MEMORY, PRACTICE, PUBLISHED, Status


@dataclass(frozen=True)
class Caution:
    """One thing to say: its key, the English text, where it comes from and how well that is known."""

    key: str
    text: str
    sources: tuple[str, ...]
    status: Status


@dataclass(frozen=True)
class Hazard:
    """The class of an acid of some strength, and its hazard statement; both empty below the limits."""

    hazard_class: str
    statements: tuple[str, ...]
    sources: tuple[str, ...]
    status: Status


def _by_key(cautions: Iterable[Caution]) -> Mapping[str, Caution]:
    return MappingProxyType({each.key: each for each in cautions})


CAUTIONS: Mapping[str, Caution] = _by_key(
    [
        Caution(
            "acid",
            "Acid into water, never water into acid. Gloves, goggles, fresh air; follow the bottle's label.",
            ("Morgan 1922, p. 280", "Thai DSS", "ICSC 0485"),
            PUBLISHED,
        ),
        Caution(
            "ammonia",
            "Ammonia burns eyes and lungs. Gloves, goggles, open air; keep the can shut. Never next to acid.",
            ("safety data sheet of ammonia solution, Skin Corr. 1B H314",),
            PUBLISHED,
        ),
        Caution(
            "stimulant",
            "Stimulant is an acid paste: gloves, eyes covered, no eating, wash after. Follow its label.",
            ("general practice for ethephon",),
            MEMORY,
        ),
        Caution(
            "knife",
            "Carry the knife covered, edge away; cuts are the tapper's commonest injury. Wash and cover any cut.",
            ("study of 300 Sri Lankan tappers, 2016",),
            PUBLISHED,
        ),
        Caution(
            "rollers",
            "Rollers pull hands in. Push with a stick, no loose sleeves, know the stop, never alone.",
            ("general machine guarding",),
            MEMORY,
        ),
        Caution(
            "smoke-house",
            "Keep the smoke-house below 54 C and never leave an open fire: dry sheets burn.",
            ("Morgan 1922, p. 145",),
            PUBLISHED,
        ),
        Caution(
            "night",
            "In the dark: a lamp, closed shoes, eyes on the path. Snakes bite most between 3 and 6 in the morning.",
            ("Indian snakebite protocol",),
            PUBLISHED,
        ),
        Caution(
            "lightning",
            "Thunder: leave the trees and go indoors; wait until half an hour after the last.",
            ("general practice, 30 minutes",),
            MEMORY,
        ),
        Caution(
            "young",
            "Hazardous work is from 18 years (ILO C138). Knives, acids, stimulants and night work count as hazardous "
            "in most countries; follow local law.",
            ("ILO C138", "national lists"),
            PRACTICE,
        ),
    ]
)

ACID_HELP: tuple[Caution, ...] = (
    Caution(
        "acid-mixing",
        "Put the water in a glass, enamel or plastic vessel first. Pour the acid slowly into it, down the side, and "
        "stir. Never water into acid.",
        ("Morgan 1922, p. 280", "Thai DSS"),
        PUBLISHED,
    ),
    Caution(
        "acid-wear",
        "Gloves, long sleeves, goggles or a face shield, fresh air. No eating or smoking.",
        ("ICSC 0485",),
        PUBLISHED,
    ),
    Caution(
        "acid-eyes",
        "In the eyes: rinse with plenty of water for several minutes, lenses out if easy, then to a doctor at once.",
        ("ICSC 0485",),
        PUBLISHED,
    ),
    Caution(
        "acid-skin",
        "On the skin: take off wet clothes, rinse with plenty of water, see a doctor.",
        ("ICSC 0485",),
        PUBLISHED,
    ),
    Caution(
        "acid-breathed",
        "Breathed in: fresh air, rest half upright, see a doctor. It can get worse hours later.",
        ("ICSC 0485",),
        PUBLISHED,
    ),
    Caution(
        "acid-swallowed",
        "Swallowed: rinse the mouth, do not bring on vomiting, see a doctor at once.",
        ("ICSC 0485",),
        PUBLISHED,
    ),
    Caution(
        "acid-spilled",
        "Spilled strong acid: no water on it; sand or dry earth, then a little soda, then much water.",
        ("Morgan 1922, p. 280", "ICSC 0485"),
        PUBLISHED,
    ),
    Caution(
        "acid-storage",
        "Keep it cool, upright, in its own labelled bottle, locked away from children and food; never in a drink "
        "bottle. Open slowly: gas builds up.",
        ("general safety data sheets",),
        MEMORY,
    ),
    Caution(
        "acid-strength",
        "Formic acid of 10 % and more still burns the skin; 2 to 10 % irritates skin and eyes.",
        ("CLP",),
        PUBLISHED,
    ),
    Caution("acid-label", "The bottle's label and local rules come first.", (), PRACTICE),
)

_LIMITS: Mapping[Acid, tuple[tuple[float, str, tuple[str, ...]], ...]] = MappingProxyType(
    {
        Acid.FORMIC: (
            (90.0, "Skin Corr. 1A", ("H314",)),
            (10.0, "Skin Corr. 1B", ("H314",)),
            (2.0, "Skin Irrit. 2, Eye Irrit. 2", ("H315", "H319")),
        ),
        Acid.ACETIC: (
            (90.0, "Skin Corr. 1A", ("H314",)),
            (25.0, "Skin Corr. 1B", ("H314",)),
            (10.0, "Skin Irrit. 2, Eye Irrit. 2", ("H315", "H319")),
        ),
    }
)


def hazard(acid: Acid, strength_percent: float) -> Hazard:
    """The EU hazard class of this acid at this strength (% m/m); the limits of acetic acid are from memory.

    Raises ValueError for a strength outside 0-100 %.
    """
    if not 0 <= strength_percent <= 100:
        raise ValueError(f"A strength is 0 to 100 %, not {strength_percent:g}.")
    status: Status = PUBLISHED if acid is Acid.FORMIC else MEMORY
    for limit, hazard_class, statements in _LIMITS[acid]:
        if strength_percent >= limit:
            return Hazard(hazard_class, statements, ("CLP",), status)
    return Hazard("", (), ("CLP",), status)


def caution_for(strength_percent: float, acid: Acid = Acid.FORMIC) -> tuple[str, ...]:
    """The keys of what to say when this acid is handled: the short caution, and the strength's where it burns."""
    return ("acid", "acid-strength") if "H314" in hazard(acid, strength_percent).statements else ("acid",)

"""The tappers' card, one A6 page a language: how to text, what comes back, cautions.

The examples are those that the reader is tested with, the answer is made as a real one is made, for the farm's own acid.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from bot.books import Transaction, farms
from bot.books.model import Farm
from bot.papers.ink import SIZES, Ink
from bot.papers.refusal import PaperRefused
from bot.reckon import batches
from bot.reckon.batches import Drc
from bot.reckon.drc import drc_of
from bot.reckon.learning import lessons
from bot.rubber.coagulation import DoseRefused
from bot.speech import language, say
from bot.speech.language import Tongue, later
from parsers.reading import Record, What

#: The litres of the example.
EXAMPLE_LITRES = Decimal(18)

_MARGIN = 6.0

#: Sizes of letters that are tried, in points; below the last nobody reads a card in a rubber garden.
_POINTS = (10.0, 9.5, 9.0, 8.5, 8.0, 7.5, 7.0, 6.5, 6.0)


@dataclass(frozen=True)
class Example:
    """What to text, and what it does."""

    text: str
    meaning: str


@dataclass(frozen=True)
class Card:
    """All that a card says, in one language."""

    title: str
    number: str
    you_text: str
    examples: tuple[Example, ...]
    comes_back: str
    answer: str
    only_example: str
    about_answer: tuple[str, ...]
    take_care: str
    cautions: tuple[str, ...]


def cards(tx: Transaction, farm: Farm, languages: Sequence[str], number: str | None, today: date) -> list[Card]:
    """A farm's card in each language; `number` is where texts go to, None for a blank to be filled in."""
    block = next(iter(farms.blocks(tx, farm.id)), "3")
    record = Record(What.LATEX, today, block, litres=EXAMPLE_LITRES, rain=True)
    drc = drc_of(record, lessons(tx, farm, today))
    return [_card(farm, language.tongue(each), number, record, drc) for each in languages]


def _card(farm: Farm, tongue: Tongue, number: str | None, record: Record, drc: Drc) -> Card:
    return Card(
        title=tongue.say("{farm}: text after tapping", farm=farm.name),
        number=tongue.say("To: {number}", number=number or "_" * 24),
        you_text=tongue.say("You text, in your own words"),
        examples=examples(tongue, record.block or ""),
        comes_back=tongue.say("What comes back"),
        answer=_answer(farm, tongue, record, drc),
        only_example=tongue.say("An example: use the figures of your own answer, not these."),
        about_answer=_about_answer(tongue),
        take_care=tongue.say("Take care"),
        cautions=cautions(tongue),
    )


def examples(tongue: Tongue, block: str) -> tuple[Example, ...]:
    """Texts that the bot reads, each with what it does."""
    return (
        Example(tongue.say("block {name} 18 litres rain", name=block), tongue.say("latex of a block; say rain too")),
        Example(tongue.say("no tapping, sick"), tongue.say("not tapped, and why")),
        Example(tongue.say("rolled 12 sheets"), tongue.say("sheets rolled")),
        Example(tongue.say("sorry 17 not 18"), tongue.say("corrects your last figure")),
        Example(tongue.say("acid for 22 l?"), tongue.say("asks for a dose, enters nothing")),
        Example(tongue.say("week"), tongue.say("your figures of the week")),
    )


def _answer(farm: Farm, tongue: Tongue, record: Record, drc: Drc) -> str:
    """What the first example is answered with at this farm."""
    line = say.line(tongue, record, record.day or date.min) + "."
    try:
        dose = batches.dose_for([batches.batch(record, drc)], farm.settings)
    except DoseRefused as refusal:
        return f"{line} {say.no_dose(tongue, refusal)}"
    return f"{line} {say.dose_line(tongue, dose)} {say.expect_line(tongue, dose)}"


def _about_answer(tongue: Tongue) -> tuple[str, ...]:
    return (
        tongue.say("If I am not sure I ask, and enter nothing until you answer."),
        tongue.say("Wrong? Say so at once: pay may depend on it. STOP ends texts, START brings them back."),
    )


def cautions(tongue: Tongue) -> tuple[str, ...]:
    """What can hurt (`bot.rubber.safety` has the sources)."""
    return (
        tongue.say(
            "Acid into water, never water into acid. Gloves, goggles, fresh air. The bottle's label comes first."
        ),
        tongue.say(
            "Acid on skin or in eyes: much water for minutes, then to a doctor. Keep it from children and food."
        ),
        tongue.say("Knife covered on the way. Wash and cover every cut."),
        tongue.say("In the dark: lamp, closed shoes, eyes on the path. Thunder: out of the trees, indoors."),
        tongue.say("Nobody under 18 may do hazardous work (ILO C138); local law comes first."),
    )


def card_pdf(pages: Sequence[Card], now: datetime) -> bytes:
    """A page for each card. Raises PaperRefused for one whose words do not fit on its page in letters that can be read."""
    with Ink("a6", pages[0].title if pages else "", now) as ink:
        for each in pages:
            ink.add_page()
            _fitting(ink, each).run(draw=True)
        return ink.finished()


def _fitting(ink: Ink, card: Card) -> "_Page":
    """The card in the largest letters in which it fits on its page."""
    for points in _POINTS:
        page = _Page(ink, card, points)
        if page.run(draw=False) <= SIZES["a6"][1] - _MARGIN:
            return page
    raise PaperRefused(later("The card does not fit on its page: give the farm or its first block a shorter name."))


@dataclass(frozen=True)
class _Page:
    """A card in letters of some size."""

    ink: Ink
    card: Card
    points: float

    def run(self, *, draw: bool) -> float:
        """Go down the page, drawing or only measuring; returns where the last line ends."""
        y = self._text("B", self.points + 2, self.card.title, _MARGIN, draw=draw)
        y = self._text("", self.points, self.card.number, y, draw=draw)
        y = self._head(self.card.you_text, y, draw=draw)
        for each in self.card.examples:
            y = self._example(each, y, draw=draw)
        y = self._head(self.card.comes_back, y, draw=draw)
        y = self._text("", self.points, self.card.answer, y, draw=draw, indent=3)
        y = self._text("B", self.points - 0.5, self.card.only_example, y, draw=draw)
        for text in self.card.about_answer:
            y = self._text("", self.points - 0.5, text, y, draw=draw)
        y = self._head(self.card.take_care, y, draw=draw)
        for text in self.card.cautions:
            self._text("", self.points - 0.5, "•", y, draw=draw)
            y = self._text("", self.points - 0.5, text, y, draw=draw, indent=3)
        return y

    def _head(self, text: str, y: float, *, draw: bool) -> float:
        y += 0.9
        if draw:
            self.ink.rule(_MARGIN, y, self._width)
        return self._text("B", self.points, text, y + 0.6, draw=draw)

    def _example(self, example: Example, y: float, *, draw: bool) -> float:
        """The text to the left, what it does to the right; the row is as high as the higher of the two."""
        left, gap = 0.5 * self._width, 2.0
        right = self._width - left - gap
        ends = []
        for weight, points, text, x, width in (
            ("B", self.points, example.text, _MARGIN, left),
            ("", self.points - 0.5, example.meaning, _MARGIN + left + gap, right),
        ):
            self.ink.use("B" if weight else "", points)
            ends.append(self.ink.put_lines(text, x, y, width) if draw else y + self.ink.height_of(text, width))
        return max(ends)

    def _text(self, weight: str, points: float, text: str, y: float, *, draw: bool, indent: float = 0) -> float:
        self.ink.use("B" if weight else "", points)
        width = self._width - indent
        if draw:
            return self.ink.put_lines(text, _MARGIN + indent, y, width)
        return y + self.ink.height_of(text, width)

    @property
    def _width(self) -> float:
        return SIZES["a6"][0] - 2 * _MARGIN

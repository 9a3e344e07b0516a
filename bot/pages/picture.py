"""Small pictures made on the server: bars of one colour that read in print and without colours; the figures stand beside."""

from collections.abc import Sequence
from datetime import date
from decimal import Decimal

from markupsafe import Markup

from bot.speech import say
from bot.speech.language import Tongue

WIDTH, HEIGHT = 340, 150

#: Room for the figures above and the names below the bars.
HEAD, FOOT = 18, 20


def bars(values: Sequence[tuple[str, Decimal, str]], title: str) -> Markup:
    """An inline picture of bars: the name below each, its size, and the figure above it as written.

    The title with all figures is its text alternative.
    """
    most = max((size for _, size, _ in values), default=Decimal(0)) or Decimal(1)
    step = WIDTH / max(len(values), 1)
    pieces = [_bar(n * step, step, name, float(size / most), figure) for n, (name, size, figure) in enumerate(values)]
    alternative = f"{title}: {', '.join(f'{name} {figure}' for name, _, figure in values)}"
    return Markup(
        '<svg class="bars" viewBox="0 0 {} {}" role="img" aria-labelledby="bars-title"><title id="bars-title">{}</title>'
        '<path d="M0 {}H{}"/>{}</svg>'
    ).format(WIDTH, HEIGHT, alternative, HEIGHT - FOOT, WIDTH, Markup("").join(pieces))


def _bar(left: float, step: float, name: str, share: float, figure: str) -> Markup:
    """A bar with its name; nothing stands above the name where there is nothing."""
    height = (HEIGHT - HEAD - FOOT) * share
    top, middle = HEIGHT - FOOT - height, f"{left + step / 2:.1f}"
    foot = Markup('<text x="{}" y="{}">{}</text>').format(middle, HEIGHT - 5, name)
    if not share:
        return foot
    bar = Markup('<rect x="{}" y="{}" width="{}" height="{}"/>').format(
        f"{left + step * 0.15:.1f}", f"{top:.1f}", f"{step * 0.7:.1f}", f"{height:.1f}"
    )
    head = Markup('<text x="{}" y="{}">{}</text>').format(middle, f"{top - 4:.1f}", figure)
    return bar + head + foot


#: The picture of a panel: a strip of trunk, wider than it would be, so that its figures can be read.
PANEL_WIDTH, PANEL_HEIGHT = 340, 130


def panel(left_cm: float, measured_cm: float, title: str, left: str, used: str) -> Markup:
    """A panel from where it was first measured down to its end: bark tapped since above the cut, bark left below it.

    `left` and `used` are the figures as written; the title with both is its text alternative.
    """
    share = min(max(1 - left_cm / measured_cm, 0.0), 1.0) if measured_cm > 0 else 1.0
    top, bottom, drop = 10.0, PANEL_HEIGHT - 10.0, 14.0
    cut = top + (bottom - top - drop) * share
    return Markup(
        '<svg class="bars panel" viewBox="0 0 {} {}" role="img" aria-labelledby="panel-title"><title id="panel-title">{}</title>'
        '<polygon class="tapped" points="20,{} 120,{} 120,{} 20,{}"/><polygon class="bark" points="20,{} 120,{} 120,{} 20,{}"/>'
        '<path d="M20 {}L120 {}"/><text class="most" x="135" y="{}">{}</text><text class="most" x="135" y="{}">{}</text></svg>'
    ).format(
        PANEL_WIDTH,
        PANEL_HEIGHT,
        f"{title}: {used}, {left}",
        *(f"{each:.1f}" for each in (top, top, cut + drop, cut, cut, cut + drop, bottom, bottom, cut, cut + drop)),
        f"{max(top + 12, cut - 4):.1f}",
        used,
        f"{bottom - 4:.1f}",
        left,
    )


def series(values: Sequence[tuple[date, float | None, float, float]], title: str, speech: Tongue) -> Markup:
    """Days from left to right: a dot for what was brought (None: nothing), on a band from the low to the high expected.

    The figures stand in a table beside it; the title tells least, most and how many days.
    """
    brought = [value for _, value, _, _ in values if value is not None]
    most = max([high for *_, high in values] + brought, default=1.0) or 1.0
    step = WIDTH / max(len(values), 1)

    def across(n: int) -> str:
        return f"{(n + 0.5) * step:.1f}"

    def up(value: float) -> str:
        return f"{HEIGHT - FOOT - (HEIGHT - HEAD - FOOT) * min(value / most, 1.0):.1f}"

    band = [f"{across(n)},{up(high)}" for n, (_, _, _, high) in enumerate(values)]
    band += [f"{across(n)},{up(low)}" for n, (_, _, low, _) in reversed(list(enumerate(values)))]
    dots = [
        Markup('<circle cx="{}" cy="{}" r="4"/>').format(across(n), up(value))
        for n, (_, value, _, _) in enumerate(values)
        if value is not None
    ]
    names = [
        Markup('<text x="{}" y="{}">{}</text>').format(across(n), HEIGHT - 5, speech.figures(day))
        for n, (day, *_) in enumerate(values)
        if n % 7 == 3
    ]
    told = title + ": " + speech.count("{n} day", "{n} days", len(brought))
    if brought:
        least, greatest = speech.measured(min(brought)), speech.measured(max(brought))
        told += ", " + (
            speech.say("{least} to {most} litres", least=least, most=greatest)
            if least != greatest
            else say.litres(speech, min(brought))
        )
    return Markup(
        '<svg class="bars" viewBox="0 0 {} {}" role="img" aria-labelledby="series-title"><title id="series-title">{}</title>'
        '<polygon points="{}"/><path d="M0 {}H{}"/>{}{}<text class="most" x="2" y="12">{}</text></svg>'
    ).format(
        WIDTH,
        HEIGHT,
        told,
        " ".join(band),
        HEIGHT - FOOT,
        WIDTH,
        Markup("").join(dots),
        Markup("").join(names),
        speech.number(most, 0),
    )

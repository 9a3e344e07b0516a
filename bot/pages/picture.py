"""Small pictures made on the server: bars of one colour that read in print and without colours; the figures stand beside."""

from collections.abc import Sequence
from decimal import Decimal

from markupsafe import Markup

WIDTH, HEIGHT = 340, 150

#: Room for the figures above and the names below the bars.
HEAD, FOOT = 18, 20


def bars(values: Sequence[tuple[str, Decimal]], title: str) -> Markup:
    """An inline picture of a few bars, each with its figure above and its name below; the title is its text alternative."""
    most = max((value for _, value in values), default=Decimal(0)) or Decimal(1)
    step = WIDTH / max(len(values), 1)
    pieces = [_bar(n * step, step, name, value, float(value / most)) for n, (name, value) in enumerate(values)]
    floor = HEIGHT - FOOT
    return Markup(
        '<svg class="bars" viewBox="0 0 {} {}" role="img" aria-labelledby="bars-title"><title id="bars-title">{}</title>'
        '<path d="M0 {}H{}"/>{}</svg>'
    ).format(WIDTH, HEIGHT, f"{title}: {_alternative(values)}", floor, WIDTH, Markup("").join(pieces))


def _bar(left: float, step: float, name: str, value: Decimal, share: float) -> Markup:
    height = (HEIGHT - HEAD - FOOT) * share
    top, middle = HEIGHT - FOOT - height, f"{left + step / 2:.1f}"
    bar = Markup('<rect x="{}" y="{}" width="{}" height="{}"/>').format(
        f"{left + step * 0.15:.1f}", f"{top:.1f}", f"{step * 0.7:.1f}", f"{height:.1f}"
    )
    figure = Markup('<text x="{}" y="{}">{}</text>').format(middle, f"{top - 4:.1f}", f"{value.normalize():f}")
    foot = Markup('<text x="{}" y="{}">{}</text>').format(middle, HEIGHT - 5, name)
    return bar + figure + foot if value else foot


def _alternative(values: Sequence[tuple[str, Decimal]]) -> str:
    return ", ".join(f"{name} {value.normalize():f}" for name, value in values)

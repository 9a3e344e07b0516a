"""Small pictures made on the server: bars of one colour that read in print and without colours; the figures stand beside."""

from collections.abc import Sequence
from datetime import date
from decimal import Decimal

from markupsafe import Markup

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


def series(values: Sequence[tuple[date, float | None, float, float]], title: str) -> Markup:
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
        Markup('<text x="{}" y="{}">{}</text>').format(across(n), HEIGHT - 5, f"{day.day}.{day.month}.")
        for n, (day, *_) in enumerate(values)
        if n % 7 == 3
    ]
    told = f"{title}: {len(brought)} days" + (f", {min(brought):g} to {max(brought):g}" if brought else "")
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
        f"{most:.0f}",
    )

"""Small pictures made on the server: bars of one colour that read in print and without colours; the figures stand beside."""

from collections.abc import Sequence
from html import escape

from markupsafe import Markup

WIDTH, HEIGHT, FOOT = 320, 120, 18


def bars(values: Sequence[tuple[str, float]]) -> Markup:
    """An inline picture of a few bars with their names below; its text alternative names the largest."""
    most = max((value for _, value in values), default=0) or 1
    step = WIDTH / max(len(values), 1)
    pieces = []
    for n, (name, value) in enumerate(values):
        height = (HEIGHT - FOOT - 12) * value / most
        left, top = n * step + step * 0.15, HEIGHT - FOOT - height
        pieces.append(f'<rect x="{left:.1f}" y="{top:.1f}" width="{step * 0.7:.1f}" height="{height:.1f}"/>')
        pieces.append(f'<text x="{n * step + step / 2:.1f}" y="{HEIGHT - 4}">{escape(name)}</text>')
    label = "; ".join(f"{name} {value:g} L" for name, value in values)
    return Markup(
        f'<svg class="bars" viewBox="0 0 {WIDTH} {HEIGHT}" role="img" aria-label="{escape(label)}">'
        f"<title>{escape(label)}</title>{''.join(pieces)}</svg>"
    )

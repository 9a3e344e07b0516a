"""The named statements of `queries.sql`."""

import re
from functools import cache
from importlib import resources

_NAME = re.compile(r"^-- name: (\w+)\n", re.MULTILINE)


@cache
def statements() -> dict[str, str]:
    """Every statement by its name. Raises ValueError for a name that stands twice."""
    text = resources.files("bot.books").joinpath("queries.sql").read_text(encoding="utf-8")
    return parse(text)


def parse(text: str) -> dict[str, str]:
    """The statements of a text of `-- name: x` sections; the comment lines are left out."""
    pieces = _NAME.split(text)[1:]
    found: dict[str, str] = {}
    for name, body in zip(pieces[::2], pieces[1::2], strict=True):
        if name in found:
            raise ValueError(f"the statement {name} stands twice")
        lines = [line for line in body.splitlines() if line.strip() and not line.startswith("--")]
        found[name] = "\n".join(lines).removesuffix(";")
    return found

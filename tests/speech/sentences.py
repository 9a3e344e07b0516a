"""Every sentence in the code and in the templates, to be held against the catalogues."""

import ast
from collections.abc import Iterator, Mapping
from functools import cache
from pathlib import Path

from babel.messages.catalog import Message
from babel.messages.pofile import read_po
from jinja2 import Environment, nodes

PAGES = Path("bot/pages")


@cache
def of_texts() -> frozenset[str]:
    """Messages that are said anywhere but on pages alone: the first argument of `say`, `count` and `later`."""
    return frozenset(
        message for path in Path("bot").rglob("*.py") if PAGES not in path.parents for message in in_python(path)
    )


@cache
def of_pages() -> frozenset[str]:
    """Messages of the pages' code and templates."""
    in_code = {message for path in PAGES.rglob("*.py") for message in in_python(path)}
    return frozenset(in_code | {message for path in PAGES.rglob("*.html") for message in _in_template(path)})


def in_python(path: Path) -> Iterator[str]:
    """What is said by a file of code."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Call) and node.args and isinstance(node.args[0], ast.Constant):
            called = node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")
            if called in ("say", "count", "later"):
                yield node.args[0].value


def _in_template(path: Path) -> Iterator[str]:
    for call in Environment().parse(path.read_text(encoding="utf-8")).find_all(nodes.Call):
        if isinstance(call.node, nodes.Name) and call.node.name in ("say", "count"):
            assert isinstance(call.args[0], nodes.Const), f"{path.name}: what is said must be written out"
            yield call.args[0].value


@cache
def catalogue(language: str) -> Mapping[tuple[str | None, str], Message]:
    """The messages of a catalogue by context and (first) English form."""
    with Path(f"bot/speech/catalogues/{language}.po").open("rb") as file:
        return {
            (each.context, each.id if isinstance(each.id, str) else each.id[0]): each
            for each in read_po(file, locale=language)
            if each.id
        }

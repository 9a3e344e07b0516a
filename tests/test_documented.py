"""Every command, option and setting is named in the documents, and has its help."""

import re
from collections.abc import Iterator
from pathlib import Path

import click
import pytest

from bot.cli import main
from bot.settings import FILE_VARIABLE, VARIABLES

TOP = Path(__file__).parent.parent


def commands(command: click.Command = main, path: str = "tapping-log") -> Iterator[tuple[str, click.Command]]:
    """Every command with its full name."""
    yield path, command
    for name, each in getattr(command, "commands", {}).items():
        yield from commands(each, f"{path} {name}")


EVERY = dict(commands())
OPTIONS = [
    (path, option) for path, command in EVERY.items() for option in command.params if isinstance(option, click.Option)
]


def documents() -> str:
    return "\n".join((TOP / name).read_text(encoding="utf-8") for name in ("README.md", "DEVELOPERS.md"))


@pytest.mark.parametrize("path", EVERY)
def test_a_command_is_documented(path: str) -> None:
    assert re.search(rf"{re.escape(path)}(?![\w-])", documents())


@pytest.mark.parametrize("path", EVERY)
def test_the_help_of_a_command_says_what_it_does_with_an_example(path: str) -> None:
    text = EVERY[path].help or ""

    assert text.strip()
    assert "Example:" in text
    assert "tapping-log" in text.partition("Example:")[2]


@pytest.mark.parametrize(("path", "option"), OPTIONS, ids=lambda each: getattr(each, "name", each))
def test_an_option_is_documented_and_has_help(path: str, option: click.Option) -> None:
    name = max(option.opts, key=len)

    assert option.help, f"{path} {name}"
    assert re.search(rf"(?<![\w-]){re.escape(name)}(?![\w-])", documents()), f"{path} {name}"


@pytest.mark.parametrize("name", [FILE_VARIABLE, *(each.name for each in VARIABLES)])
def test_a_setting_is_documented(name: str) -> None:
    assert re.search(rf"(?<!\w){name}(?!\w)", documents())

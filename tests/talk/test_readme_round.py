"""The collector's talk in README.md is what the bot says, word for word."""

import re
from collections.abc import Iterator
from pathlib import Path

from tests.talk.cooperative import AMA, ESI, MUSA, YAW, Cooperative, opened

README = Path(__file__).parents[2] / "README.md"
WHO = {"collector": MUSA, "Ama": AMA}
LINE = re.compile(r"(collector|bot|to Ama|Ama)\s{2,}(.+)")


def talk() -> Iterator[tuple[str, str]]:
    """Each line of the talk: who, and what; a line that goes on is joined."""
    text = README.read_text(encoding="utf-8").split("**A collector's round.**")[1]
    said: list[tuple[str, str]] = []
    for line in text.split("```")[1].strip().splitlines():
        found = LINE.fullmatch(line)
        if found:
            said.append((found[1], found[2]))
        else:
            said[-1] = (said[-1][0], f"{said[-1][1]} {line.strip()}")
    yield from said


def test_the_talk_is_what_the_bot_says(tmp_path: Path) -> None:
    hills = Cooperative(opened(tmp_path))
    hills.rolled(AMA, 24, "12.1", day=-20)
    hills.text("cup lump block 1 30 kg", YAW, day=-3)
    hills.text("block 1 18 litres", ESI, hour=7)
    answers: list[str] = []

    for n, (who, text) in enumerate(talk()):
        if who in WHO:
            answers.append(str(hills.text(text, WHO[who], hour=9 + n / 20).text))
        elif who == "bot":
            assert answers[-1] == text
        else:
            assert hills.told(AMA)[-1] == text

    assert len(answers) == 5
    hills.books.close()

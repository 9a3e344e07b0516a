"""Whole conversations in six languages: the kind of every answer, and what stands in the day-book at the end."""

from pathlib import Path

import pytest

from bot.books import open_books
from tests.playing import CORPUS, dialogues, play

EVERY = [
    (f"{path.stem.removeprefix('dialogues-')}:{dialogue['id']}", dialogue)
    for path in sorted(CORPUS.glob("dialogues-*.jsonl"))
    for dialogue in dialogues(path.name)
]


@pytest.mark.parametrize(("name", "dialogue"), EVERY, ids=[name for name, _ in EVERY])
def test_a_conversation_ends_with_the_clerks_entries(name: str, dialogue: dict, tmp_path: Path) -> None:
    books = open_books(tmp_path / "books.sqlite")

    assert play(books, dialogue).faults() == []


def test_a_correction_in_another_alphabet_takes_two_parts_and_leaves_the_expectation_out(tmp_path: Path) -> None:
    who = {"name": "Malee", "number": "+447700900201", "role": "tapper", "blocks": ["3"], "lang": "th"}
    first = {
        "from": who["number"],
        "at": "2026-03-18T10:00",
        "text": "แปลง 3 18.5 ลิตร ฝน",
        "expect": {"kind": "entered"},
    }
    then = {**first, "at": "2026-03-18T10:05", "text": "เมื่อกี้ผิด 17 ลิตร", "expect": {"kind": "changed"}}
    farm = {
        "name": "Hill",
        "timezone": "Asia/Bangkok",
        "blocks": {"3": {"trees": 300, "usual_litres": 18}},
        "people": [who],
    }

    played = play(
        open_books(tmp_path / "books.sqlite"),
        {"id": "th", "lang": "th", "farm": farm, "turns": [first, then], "entries": []},
    )

    assert [each.kind for each in played.answers] == ["entered", "changed"]
    assert played.answers[1].parts == 2

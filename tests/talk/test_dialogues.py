"""Whole conversations in six languages: the kind of every answer, and what stands in the day-book at the end."""

import pytest

from bot.books import open_books
from tests.playing import CORPUS, dialogues, play

EVERY = [
    (f"{path.stem.removeprefix('dialogues-')}:{dialogue['id']}", dialogue)
    for path in sorted(CORPUS.glob("dialogues-*.jsonl"))
    for dialogue in dialogues(path.name)
]


@pytest.mark.parametrize(("name", "dialogue"), EVERY, ids=[name for name, _ in EVERY])
def test_a_conversation_ends_with_the_clerks_entries(name: str, dialogue: dict, tmp_path) -> None:
    books = open_books(tmp_path / "books.sqlite")

    assert play(books, dialogue).faults() == []

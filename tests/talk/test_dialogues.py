"""Whole conversations in six languages: the kind of every answer, and what stands in the day-book at the end."""

import pytest

from bot.books import open_books
from tests.playing import CORPUS, dialogues, play

EVERY = [dialogue for path in sorted(CORPUS.glob("dialogues-*.jsonl")) for dialogue in dialogues(path.name)]


@pytest.mark.parametrize("dialogue", EVERY, ids=lambda dialogue: dialogue["id"])
def test_a_conversation_ends_with_the_clerks_entries(dialogue: dict, tmp_path) -> None:
    books = open_books(tmp_path / "books.sqlite")

    played = play(books, dialogue)

    assert played.faults() == []

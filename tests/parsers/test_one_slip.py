"""Every message of the corpora with one slip of the thumb in one of its words: a letter missing, doubled, changed over, or the
key beside it.

The bar from outside is the one of the corpora (Patnaik, Brunskill & Thies, ICTD 2009): 4.8 % errors a datum by structured SMS.
"""

import random
import re
from collections import Counter

from tests.scoring import CORPUS, messages, outcome_of

ROWS = ("qwertyuiop", "asdfghjkl", "zxcvbnm")
WORD = re.compile(r"[^\W\d_]{4,}")

#: Names that are entered as they are spelt: with a slip in them the clerk would enter another, too.
SPELT = ("farm", "place")


def slipped(word: str, chance: random.Random) -> str:
    """The word with one slip behind its first letter."""
    at, kind = chance.randrange(1, len(word)), chance.randrange(4)
    if kind == 0:
        return word[:at] + word[at + 1 :]
    if kind == 1:
        return word[:at] + word[at] + word[at:]
    if kind == 2 and at + 1 < len(word):
        return word[:at] + word[at + 1] + word[at] + word[at + 2 :]
    return word[:at] + beside(word[at], chance) + word[at + 1 :]


def beside(letter: str, chance: random.Random) -> str:
    """A key beside that of a letter; the letter itself where the keyboard has none."""
    row = next((each for each in ROWS if letter.lower() in each), "")
    places = [place for place in (row.find(letter.lower()) - 1, row.find(letter.lower()) + 1) if 0 <= place < len(row)]
    return row[chance.choice(places)] if row else letter


def test_with_a_slip_in_a_word_most_messages_are_still_read_and_few_are_read_wrongly() -> None:
    chance = random.Random(20261128)
    outcomes: Counter[str] = Counter()
    for path in sorted([*CORPUS.glob("own-*.jsonl"), *CORPUS.glob("more-*.jsonl")]):
        for message in messages(path.name)[::2]:
            words = list(WORD.finditer(message["text"]))
            if not words or any(record.get(key) for record in message["reading"]["records"] for key in SPELT):
                continue
            found = chance.choice(words)
            text = message["text"][: found.start()] + slipped(found.group(), chance) + message["text"][found.end() :]
            outcomes[outcome_of({**message, "text": text})] += 1
    total = sum(outcomes.values())

    assert total > 1000
    assert outcomes["exact"] / total >= 0.91, outcomes
    assert outcomes["wrong"] / total <= 0.03, outcomes

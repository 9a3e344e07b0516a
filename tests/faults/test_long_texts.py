"""A text that was made to take long is read in little time: the books are kept from everybody else meanwhile."""

from datetime import datetime
from decimal import Decimal
from time import process_time

import pytest

import parsers
from bot.carriers.twilio import MOST_CHARACTERS
from parsers.reading import Block, Role, Setting

BLOCKS = {str(n): Block(280, Decimal(18)) for n in range(1, 11)}
SETTING = Setting(
    blocks=BLOCKS,
    role=Role.TAPPER,
    own_blocks=tuple(BLOCKS),
    language="en",
    sent_at=datetime(2026, 3, 18, 9, 0),  # noqa: DTZ001  local, as the reader has it
)

#: Seconds of the processor. The first of these texts once took twenty, the longest takes a quarter of one now.
MOST_SECONDS = 3.0

REPEATED = (
    "k1 12l k4 17l. k2 pas saigne a cause de la pluie",
    "4 calebasses ce matin chef",
    "hello towkay paya today got thirteen and half liter start at 5",
    "3 18 ",
    "3 18 litres 5 14 ",
    "block 3 18 litres, ",
    "12 not 13 ",
    "b2 13 b3 14 yesterday ",
    "one two three four ",
    "1 ",
    "a ",
    "1/2 ",
    "sorry 3 was 17 not 18 ",
    "took 12 sheets 6 kg ",
    "\u0e41\u0e1b\u0e25\u0e07 3 18 \u0e25\u0e34\u0e15\u0e23 ",
)


@pytest.mark.parametrize("length", [320, 960, MOST_CHARACTERS])
@pytest.mark.parametrize("piece", REPEATED)
def test_a_text_that_repeats_itself_is_read_in_little_time(piece: str, length: int) -> None:
    parsers.read("3 18", SETTING)  # so that the words are loaded
    begun = process_time()
    parsers.read((piece * MOST_CHARACTERS)[:length], SETTING)

    assert process_time() - begun < MOST_SECONDS

"""Read very many texts: mutations of real ones, mixed scripts, garbage. No exception, no quantity that is not said.

    python tests/benchmarks/fuzz_reading.py [TEXTS] [SEED]

Prints how many texts were read, how they came out, the slowest, and every text that broke a promise. A million texts take
some minutes on one core.
"""

import json
import random
import sys
from collections import Counter
from collections.abc import Iterator
from decimal import Decimal
from pathlib import Path
from time import perf_counter

sys.path.insert(0, str(Path(__file__).parents[2]))

import parsers
from parsers.reading import Record, Setting, What

CORPUS = Path(__file__).parents[1] / "corpus"
ALPHABETS = (
    "abcdefghijklmnopqrstuvwxyz 0123456789.,-/?!",
    "กขคงจชซณดตถทธนบปผพฟมยรลวสหอะาิีึืุูเแโใไ่้๊๋์ๆ๐๑๒๓๔๕๖๗๘๙ ",
    "ăâđêôơưáàảãạéèẻẽẹ 0123456789",
    "０１２３４５６７８９½¼¾😀🌧️👍\u200b\u200d\ufeff\t\n",
    "अआइकखग०१२३४५ العربية٠١٢٣ 漢字 кирил",
    "".join(map(chr, range(32))) + "\ud800\udfff",
)


def messages() -> list[tuple[str, Setting]]:
    """All texts of the corpus with their settings."""
    lines = [line for path in sorted(CORPUS.glob("[oms]*-??.jsonl")) for line in path.read_text("utf-8").splitlines()]
    found = [json.loads(line) for line in lines]
    return [(each["text"], Setting.from_json(each)) for each in found]


def texts(count: int, seed: int) -> Iterator[tuple[str, Setting]]:
    """So many texts, the same ones for the same seed."""
    dice = random.Random(seed)
    known = messages()
    for _ in range(count):
        text, setting = dice.choice(known)
        how = dice.random()
        if how < 0.7:
            text = _mutated(text, dice)
        elif how < 0.85:
            text = f"{text} {dice.choice(known)[0]}"
        else:
            text = "".join(dice.choice(dice.choice(ALPHABETS)) for _ in range(dice.randrange(60)))
        yield text, setting


def _mutated(text: str, dice: random.Random) -> str:
    letters = list(text)
    for _ in range(dice.randrange(1, 6)):
        at = dice.randrange(len(letters) + 1)
        step = dice.randrange(5)
        if step == 0:
            letters.insert(at, dice.choice(dice.choice(ALPHABETS)))
        elif step == 1 and letters:
            del letters[min(at, len(letters) - 1)]
        elif step == 2 and len(letters) > 1:
            at = min(at, len(letters) - 2)
            letters[at : at + 2] = reversed(letters[at : at + 2])
        elif step == 3:
            letters[at:at] = letters[at : at + dice.randrange(1, 8)]
        else:
            letters = letters[: max(1, at)]
    return "".join(letters)


def broken_promise(text: str, setting: Setting) -> str | None:
    """What is wrong with the reading of a text, if anything."""
    try:
        reading = parsers.read(text, setting)
    except Exception as error:  # noqa: BLE001 - whatever it is, it is what this looks for
        return f"{type(error).__name__}: {error}"
    if reading.ask is not None and reading.records:
        return "asks and enters at once"
    unsaid = [record for record in reading.records if not _is_said(record, text, setting)]
    return f"enters what is not said: {unsaid[0].to_json()}" if unsaid else None


def _is_said(record: Record, text: str, setting: Setting) -> bool:
    """A quantity needs a digit or a letter in the text, a block one that the farm has, a day one that is not ahead."""
    if not any(each.isalnum() for each in text):
        return False
    if record.day is not None and record.day > setting.sent_at.date():
        return False
    known = (None, "*", *setting.blocks)
    least = Decimal(0) if record.what is What.ACID_STOCK else Decimal("0.001")
    return record.block in known and (record.litres is None or least <= record.litres < Decimal(100_000))


def main() -> None:
    """Print the figures."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 1_000_000
    seed = int(sys.argv[2]) if len(sys.argv) > 2 else 1
    outcomes: Counter[str] = Counter()
    slowest, faults = (0.0, ""), []
    begun = perf_counter()
    for text, setting in texts(count, seed):
        start = perf_counter()
        fault = broken_promise(text, setting)
        slowest = max(slowest, (perf_counter() - start, text))
        outcomes["kept" if fault is None else "broken"] += 1
        if fault is not None and len(faults) < 20:
            faults.append(f"{fault}\n    {text!r} ({setting.language})")
    took = perf_counter() - begun
    print(f"{count} texts, seed {seed}, {took:.0f} s; promises {dict(outcomes)}")
    print(f"slowest {slowest[0] * 1e3:.1f} ms: {slowest[1][:80]!r}")
    print("\n".join(faults))


if __name__ == "__main__":
    main()

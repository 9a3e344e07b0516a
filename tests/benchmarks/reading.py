"""How long a text takes to read, against dateutil on a short date text in the same run.

    python tests/benchmarks/reading.py

The mix is the sample messages, with the words of all six languages loaded. The worst texts are 1,600 characters long and of
the kinds that make a reader work hardest.
"""

import json
import statistics
import sys
from collections.abc import Callable
from pathlib import Path
from time import perf_counter

sys.path.insert(0, str(Path(__file__).parents[2]))

from dateutil.parser import parse

import parsers
from parsers import words
from parsers.reading import Setting

CORPUS = Path(__file__).parents[1] / "corpus"
LONGEST = 1600
ROUNDS = 7
PIECES = ("3 18 ", "3-18l5-22l,", "block 3 ", "no not wait ", "แปลง3ฝนตก", "xqzw vbnm ", "1/2 ", "b3b5b3", "yesterday 4/5/2026 ", "กรีดน้ำยางแปลงสาม",
          "eighteen and a half ", "litres ", "?!.,;", "😀🌧", "18 not 17 ", "hundred and ", "ก", "a", "1", "l8 O0 ")  # fmt: skip


def milliseconds(work: Callable[[], object]) -> float:
    """The shortest of some runs, milliseconds."""
    best = float("inf")
    for _ in range(ROUNDS):
        start = perf_counter()
        work()
        best = min(best, perf_counter() - start)
    return best * 1e3


def samples() -> list[tuple[str, Setting]]:
    """The sample messages with their settings."""
    lines = [line for path in sorted(CORPUS.glob("sample-*.jsonl")) for line in path.read_text("utf-8").splitlines()]
    messages = [json.loads(line) for line in lines]
    return [(each["text"], Setting.from_json(each)) for each in messages]


def main() -> None:
    """Print the figures."""
    found = samples()
    setting = found[0][1]
    floor = milliseconds(lambda: parse("12 Mar 2026"))
    load = milliseconds(words.load)
    times = sorted(milliseconds(lambda text=text, own=own: parsers.read(text, own)) for text, own in found)  # type: ignore[misc]
    hard = [(piece * LONGEST)[:LONGEST] for piece in PIECES]
    settings = list({own.language: own for _, own in found}.values())
    worst = max(
        (milliseconds(lambda t=text, s=own: parsers.read(t, s)), text[:20]) for text in hard for own in settings
    )  # type: ignore[misc]
    rows = [
        ("dateutil, '12 Mar 2026'", floor),
        ("median", statistics.median(times)),
        ("99 of 100", times[int(len(times) * 0.99)]),
        ("slowest sample", times[-1]),
        (f"worst of {len(hard)} x {len(settings)} texts of 1,600 ({worst[1]!r})", worst[0]),
    ]
    print(f"word files loaded in {load:.0f} ms; {len(found)} samples; first setting {setting.language}")
    for name, value in rows:
        print(f"{name:<60} {value:8.3f} ms  {value / floor:7.1f} x dateutil")


if __name__ == "__main__":
    main()

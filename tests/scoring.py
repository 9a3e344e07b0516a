"""Score a reading against a clerk's: exact, detail, question, missed or wrong (the one outcome that does harm)."""

import json
from pathlib import Path

import parsers
from parsers.reading import Setting

CORPUS = Path(__file__).parent / "corpus"
FLAGS = {"rain", "late"}
DETAILS = FLAGS | {"drc", "grade", "price", "farm", "place", "block"}
NEEDS_BLOCK = {"latex", "no_tapping", "stimulated", "dry_trees"}
ENTERED = {"log", "fix"}


def messages(name: str) -> list[dict]:
    """The messages of a corpus file with their clerk's readings."""
    lines = (CORPUS / name).read_text(encoding="utf-8").splitlines()
    return [json.loads(line) for line in lines if line.strip()]


def outcome_of(message: dict) -> str:
    """How our reading of a message compares with the clerk's."""
    reading = parsers.read(message["text"], Setting.from_json(message)).to_json()
    return outcome(message["reading"], reading, message["sender"].get("blocks") or [])


def outcome(truth: dict, read: dict, blocks: list[str]) -> str:
    """The outcome of one reading."""
    enters = bool(read["records"]) and read["intent"] in ENTERED and not read["ask"]
    if truth["ask"]:
        if enters or (read["intent"] == "undo" and truth["intent"] != "undo"):
            return "wrong"
        return "missed" if not read["ask"] else "exact" if read["ask"] == truth["ask"] else "question"
    if read["ask"]:
        return "question"
    if truth["intent"] in ENTERED:
        if not enters:
            return "wrong" if read["intent"] == "undo" else "missed"
        grade = _match(_spelled(truth, blocks), _spelled(read, blocks))
        return "wrong" if grade == "wrong" or read["intent"] != truth["intent"] else grade
    if enters or (read["intent"] == "undo" and truth["intent"] != "undo"):
        return "wrong"
    same = read["intent"] == truth["intent"] and _match(_spelled(truth, blocks), _spelled(read, blocks)) == "exact"
    return "exact" if same else "missed"


def _spelled(reading: dict, blocks: list[str]) -> list[dict]:
    out = []
    for record in reading["records"]:
        plain = {key: _plain(value) for key, value in record.items() if value is not None and value is not False}
        all_blocks = plain["what"] == "no_tapping" and plain.get("block", "*") == "*" and blocks
        out += [plain | {"block": _plain(block)} for block in blocks] if all_blocks else [plain]
    return out


def _plain(value: object) -> object:
    if isinstance(value, bool):
        return value
    return round(float(value), 2) if isinstance(value, int | float) else " ".join(str(value).casefold().split())


def _match(truth: list[dict], read: list[dict]) -> str:
    if len(truth) != len(read):
        return "wrong"
    left, worst = list(read), "exact"
    for record in truth:
        grades = sorted((("exact", "detail", "wrong").index(_grade(record, other)), n) for n, other in enumerate(left))
        if grades[0][0] == 2:
            return "wrong"
        worst = "detail" if grades[0][0] else worst
        left.pop(grades[0][1])
    return worst


def _grade(truth: dict, read: dict) -> str:
    worst = "exact"
    for key in truth.keys() | read.keys():
        one, two = truth.get(key), read.get(key)
        if one == two or (key in ("farm", "place") and one and two and (one in two or two in one)):
            continue
        detail = key in DETAILS and not (key == "block" and truth["what"] in NEEDS_BLOCK) and key != truth["what"]
        if not detail or (key in truth and key in read) or (key in read and key not in FLAGS):
            return "wrong"
        worst = "detail"
    return worst

"""The operator's page says what there is: every figure, every unit, every file that it names."""

import re
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

import pytest
from prometheus_client.parser import text_string_to_metric_families

from bot.books import open_books
from bot.watching.metrics import Metrics

TOP = Path(__file__).parents[2]
PAGE = (TOP / "deploy/README.md").read_text(encoding="utf-8")


def test_every_figure_is_explained_and_no_other(tmp_path: Path) -> None:
    with closing(open_books(tmp_path / "books.sqlite")) as books:
        metrics = Metrics(books, lambda: datetime(2026, 3, 18, tzinfo=UTC))
        metrics.message("twilio", "entered", 0.1)
        metrics.response("twilio", 200)
        page = metrics.page().decode()
    there = {
        family.name + ("_total" if family.type == "counter" else "") for family in text_string_to_metric_families(page)
    }
    shown = {name for name in there if not name.endswith("_created")}

    assert set(re.findall(r"tapping_log_[a-z_]+", PAGE)) - {"tapping_log"} == shown


@pytest.mark.parametrize("name", sorted(set(re.findall(r"deploy/[\w.-]+", PAGE))))
def test_every_file_that_is_named_is_there(name: str) -> None:
    assert (TOP / name).exists()


@pytest.mark.parametrize("path", sorted((TOP / "deploy").glob("*.timer")), ids=lambda path: path.name)
def test_every_timer_is_explained(path: Path) -> None:
    assert path.name in PAGE

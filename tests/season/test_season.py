"""Short seasons of a small cooperative: the books equal the truth, to the last unit, whatever people do.

The whole one is `python -m tests.season`.
"""

from collections import Counter
from collections.abc import Iterator
from contextlib import ExitStack
from dataclasses import replace
from decimal import Decimal

import pytest

from tests.season.comparing import differences
from tests.season.cooperative import Shape
from tests.season.house import a_folder
from tests.season.whole import Season, in_figures, played

SEEDS = (1, 2, 3)

#: What people do in these seasons at least once.
DONE = {
    "carrier repeats", "late, in the evening", "late, the next day", "told the next day", "told twice", "forgotten", "wrong figure", "texts of blocked phones",
    "wrong block", "lost phones", "several farms in one text", "takes told twice", "two collectors at one gate",
    "rounds without signal", "takes corrected by their collector", "disputes", "some kept back", "prices changed",
    "tappers who left",
}  # fmt: skip


def short(seed: int) -> Shape:
    return Shape(
        farms=6, days=12, collectors=2, seed=seed, buckets=1, losses=1, home_balances=1, planted_from=8, lost_phones=1, leavers=1,
        slips=3.5, pay_period="week",
    )  # fmt: skip


@pytest.fixture(scope="module")
def seasons() -> Iterator[list[Season]]:
    with ExitStack() as open_books:
        found = []
        for seed in SEEDS:
            found.append(played(open_books.enter_context(a_folder()), short(seed), searched=False))
            open_books.callback(found[-1].play.house.close)
        yield found


def test_the_books_equal_the_truth_to_the_gram_and_the_last_unit(seasons: list[Season]) -> None:
    assert [each.differences() for each in seasons] == [[] for _ in SEEDS]


def test_people_did_all_that_goes_amiss(seasons: list[Season]) -> None:
    done: Counter[str] = Counter()
    for each in seasons:
        done += each.play.slips

    assert done.keys() >= DONE


def test_pay_was_settled_and_pages_were_opened(seasons: list[Season]) -> None:
    paid = [each for season in seasons for each in season.play.ledger.payments]

    assert len(paid) >= 10
    assert any(each.owed for each in paid) or any(each.paid == 0 for each in paid)
    assert sum(season.managers.pages for season in seasons) >= 5
    assert all(season.managers.closings >= 8 for season in seasons)


def test_the_same_seed_is_the_same_season() -> None:
    shape = replace(short(SEEDS[0]), days=4)
    found = []
    for _ in range(2):
        with a_folder() as folder:
            season = played(folder, shape, searched=False)
            season.play.house.close()
            found.append(season)

    one, two = found
    assert one.play.ledger == two.play.ledger
    assert list(in_figures(one))[:-1] == list(in_figures(two))[:-1]


class TestTheComparisonNotices:
    """What would be wrong is seen."""

    def test_a_gram_of_a_take(self, seasons: list[Season], monkeypatch: pytest.MonkeyPatch) -> None:
        play = seasons[0].play
        take = play.ledger.takings[0]
        monkeypatch.setattr(take, "net_kg", take.net_kg + Decimal("0.001"))

        assert any(each.startswith(f"receipt {take.receipt}") for each in differences(play))

    def test_a_line_that_is_not_there_and_one_too_many(
        self, seasons: list[Season], monkeypatch: pytest.MonkeyPatch
    ) -> None:
        play = seasons[0].play
        line = next(iter(play.ledger.lines))
        other = replace(line, ml=(line.ml or 0) + 1)
        monkeypatch.setattr(play.ledger, "lines", play.ledger.lines - Counter({line: 1}) + Counter({other: 1}))

        found = differences(play)

        assert any(each.startswith(f"not in the books: {other}") for each in found)
        assert any(each.startswith(f"in the books and not true: {line}") for each in found)

    def test_a_receipt_that_never_came(self, seasons: list[Season], monkeypatch: pytest.MonkeyPatch) -> None:
        monkeypatch.setattr(seasons[0].play, "inbox", {})

        found = differences(seasons[0].play)

        assert any("never got receipt" in each for each in found)
        assert any("has 0 summaries" in each for each in found)

    def test_money_that_is_a_cent_off(self, seasons: list[Season], monkeypatch: pytest.MonkeyPatch) -> None:
        payment = seasons[0].play.ledger.payments[0]
        monkeypatch.setattr(payment, "paid", payment.paid + Decimal("0.01"))

        assert any(each.startswith("a settlement differs") for each in differences(seasons[0].play))

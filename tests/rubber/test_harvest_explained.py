"""Figures of tapping, selling and pay can be explained: the formula and its inputs give the figure."""

import re
from datetime import date
from decimal import Decimal
from fractions import Fraction

import pytest

from bot.rubber import explain_harvest as why
from bot.rubber.explain import Explanation
from bot.rubber.intensity import intensity
from bot.rubber.notation import read
from bot.rubber.panel import bark_left, bark_use
from bot.rubber.pay import Cost, share_sale
from bot.rubber.projection import Shape, project
from bot.rubber.reconciling import reconcile
from bot.rubber.selling import Deduction, latex_sale
from bot.rubber.tapping_system import Panel
from bot.rubber.yields import rain_loss

D = Decimal
FLAT = Shape("flat", (1.0,) * 12, "even", "derived")


def explanations() -> list[Explanation]:
    (system,) = read("S/2 d3 6d/7").systems
    estimates = {"a": D(60), "b": D(40)}
    return [
        why.intensity(intensity(system)),
        why.tappings_left(bark_left(Panel("B", "O", 1), 130, 25, 22, 1.5)),
        why.rain(rain_loss(70, 9)),
        why.projection(project(500, date(2026, 1, 1), date(2026, 6, 30), [FLAT])),
        why.sale(latex_sale(D(100), D(32), D(67), 2, [Deduction("road", D(44), "sale")])),
        why.shares(share_sale(D(2144), Fraction(1, 2), [Cost("acid", D(40)), Cost("knife", D(5), "tapper")], 2)),
        why.reconciled(reconcile(estimates, D(99)), "a", D(60)),
    ]


@pytest.mark.parametrize("explained", explanations(), ids=lambda explained: explained.rule)
def test_the_formula_with_its_inputs_gives_the_figure(explained: Explanation) -> None:
    arithmetic = explained.formula.partition(";")[0].replace(" x ", " * ")
    symbols = {each.symbol: each.value for each in explained.inputs}
    known = re.sub(r"[a-z_]+", lambda match: repr(symbols[match[0]]), arithmetic)

    assert eval(known, {"__builtins__": {}}) == pytest.approx(explained.value)


def test_bark_use_tells_where_its_limit_comes_from() -> None:
    explained = why.bark_use(bark_use(15.2, 12, 1.5, 18), "Vietnam 2012")

    assert explained.value == pytest.approx(17)
    assert explained.citations == ("Vietnam Rubber Group, technical procedure, 13 November 2012, articles 124-126",)


def test_citations_keep_their_status() -> None:
    explained = explanations()[0]

    assert explained.citations[0].startswith("Lukman, Revised international notation")
    assert explained.citations[0].endswith("(from memory)")
    assert explained.reference_version == why.HARVEST_VERSION

"""The figures that a tapper reads, against sums done here from the printed constants and nothing of the product's arithmetic.

Sources: serum 1.022 and rubber 0.910 kg/L (H. Fairfield Smith, J. Rubb. Res. Inst. Malaya, Communication 244, 1940); next-day setting
by the acetic rule 1:1200 at 1 1/2 lb a gallon (S. Morgan, The Preparation of Plantation Rubber, 1922, pp. 78, 113), turned into formic
acid by moles: derived, 4.5 g pure acid a kg of dry rubber; formic acid 85 %: 1.1954 kg/L, midway of the printed 84 and 86 % rows
(chemister.ru): derived. The DRC is given in the text, so that no setting comes in.
"""

import re
from datetime import UTC, datetime
from decimal import Decimal
from pathlib import Path

import pytest

from bot.books import farms, open_books, people
from bot.speech.rounding import half_litres, tenths, whole
from bot.talk.answer import answer
from bot.talk.exchange import Incoming
from parsers.reading import Block, Role

AT = datetime(2026, 3, 18, 3, 0, tzinfo=UTC)
ANSWER = re.compile(r"Water ([\d.]+) L, then acid 85% ([\d.]+) ml thinned in ([\d.]+) L .*Dry about ([\d.]+) kg")


def said(folder: Path, litres: float, drc: float) -> list[float]:
    """Water, ml of acid, litres to thin it in, and dry kilos, as the answer says them."""
    books = open_books(folder / "books.sqlite")
    with books.transaction() as tx:
        plain = {
            "timezone": "Asia/Bangkok",
            "currency": "USD",
            "language": "en",
            "containers": {},
            "settings": {},
            "at": AT,
        }
        farm = farms.add_farm(tx, name="Reed Hollow", blocks={"3": Block(280, Decimal(18))}, **plain)
        who = {"name": "Tobin", "number": "+447700900102", "language": "en", "role": Role.TAPPER, "blocks": ("3",)}
        people.enrol(tx, farm_id=farm.id, at=AT, message_id=None, **who)
    text = answer(books, Incoming("m1", "+447700900102", f"block 3 {litres} l drc {drc}", AT, AT, "practice"), AT).text
    found = ANSWER.search(text or "")
    assert found, text
    return [float(figure) for figure in found.groups()]


@pytest.mark.parametrize(("litres", "drc"), [(18, 33), (10, 30), (27.5, 36), (12, 28)])
def test_the_answer_says_what_the_printed_constants_give(tmp_path: Path, litres: float, drc: float) -> None:
    share = drc / 100
    latex_kg = litres / (share / 0.910 + (1 - share) / 1.022)
    dry_kg = latex_kg * share
    pure_g = 4.5 * dry_kg
    acid_ml = pure_g / (0.85 * 1.1954)
    solution_litres = pure_g / 20  # 2 % w/v
    thin_litres = solution_litres - acid_ml / 1000
    water_litres = latex_kg * (drc / 15 - 1) / 0.996 - thin_litres

    water, ml, thin, dry = said(tmp_path, litres, drc)

    assert water == pytest.approx(water_litres, abs=0.3)  # said to the half litre
    assert ml == pytest.approx(acid_ml, abs=0.6)
    assert thin == pytest.approx(thin_litres, abs=0.06)
    assert dry == pytest.approx(dry_kg, abs=0.06)


@pytest.mark.parametrize(
    ("exact", "poured"), [(19.98, "20"), (19.76, "20"), (19.74, "19.5"), (0.2, "0"), (0.25, "0.5")]
)
def test_water_is_said_to_the_half_litre(exact: float, poured: str) -> None:
    assert Decimal(poured) == half_litres(exact)


def test_dry_weight_and_acid_are_said_as_a_person_measures() -> None:
    assert (Decimal("5.8"), Decimal(26)) == (tenths(5.834), whole(25.84))

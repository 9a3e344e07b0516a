"""Each thing that needs an owner's eye: said when it is so, and not said when it is not.

A litre of latex of 30 % DRC weighs 1 / (0.30 / 0.910 + 0.70 / 1.022) = 0.986 kg (densities of Smith 1940, `harvest.md` of the
references) and holds 0.296 kg of dry rubber.
"""

from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest

from bot.books import people
from bot.reckon.chain import follow
from bot.reckon.learning import known_then
from bot.reckon.waiting import dry_by
from bot.speech.language import tongue
from bot.week.concerns import MOST_CONCERNS, concerns
from bot.week.figures import gather
from bot.week.words import summary
from parsers.reading import Role
from tests.small_farm import AMA, GUS, KOFI, OWNER, SmallFarm

SUNDAY = date(2026, 3, 15)
MONDAY = SUNDAY - timedelta(days=6)

DRY_KG_PER_LITRE = 0.30 / (0.30 / 0.910 + 0.70 / 1.022)


@pytest.fixture
def hill(tmp_path: Path) -> SmallFarm:
    return SmallFarm(tmp_path)


def of_week(hill: SmallFarm, last: date = SUNDAY) -> list[str]:
    with hill.books.transaction() as tx:
        first = last - timedelta(days=6)
        then = known_then(tx, hill.farm, first, last)
        return concerns(tx, hill.farm, tongue("en"), gather(tx, hill.farm, first, last), then)


def usual_days(hill: SmallFarm, litres: int = 18, *, first: date = MONDAY - timedelta(days=28), days: int = 14) -> None:
    """Every second day so many litres of block 1, and of block 2 less by two."""
    for n in range(days):
        day = first + timedelta(days=2 * n)
        hill.text(KOFI, day, f"{litres} litres drc 30")
        hill.text(AMA, day, f"{litres - 2} litres drc 30")


def test_nothing_is_said_of_a_week_like_those_before(hill: SmallFarm) -> None:
    usual_days(hill, days=18)

    assert of_week(hill) == []


def test_a_block_that_falls_behind_its_own_past_is_said_with_how_much(hill: SmallFarm) -> None:
    usual_days(hill)
    for n in (0, 2, 4, 6):
        hill.text(KOFI, MONDAY + timedelta(days=n), "9 litres drc 30")
        hill.text(AMA, MONDAY + timedelta(days=n), "16 litres drc 30")

    said = of_week(hill)

    assert len(said) == 1
    assert said[0].startswith("B1 ")
    percent = int(said[0].removeprefix("B1 ").split("%")[0])
    assert 45 <= percent <= 52  # 9 of about 18


def test_sheets_lighter_than_their_latex_are_said_with_the_kilos_that_lack(hill: SmallFarm) -> None:
    for n in range(8):
        day = MONDAY - timedelta(days=30 - 3 * n)
        hill.text(KOFI, day, "20 litres drc 30")
        hill.text(OWNER, day + timedelta(days=1), "rolled 12 sheets")
        hill.text(OWNER, day + timedelta(days=9), f"12 dry sheets {20 * DRY_KG_PER_LITRE:.1f} kg")
    hill.text(KOFI, MONDAY - timedelta(days=1), "20 litres drc 30")
    hill.text(OWNER, MONDAY, "rolled 12 sheets")
    hill.text(OWNER, SUNDAY, "12 dry sheets 3.9 kg")

    said = [each for each in of_week(hill) if "lighter" in each]

    assert len(said) == 1
    lacks = float(said[0].removeprefix("sheets of Sun ").split(" kg")[0])
    assert lacks == pytest.approx(20 * DRY_KG_PER_LITRE - 3.9, abs=0.35)


def test_dry_sheets_are_said_once_they_have_waited_a_week(hill: SmallFarm) -> None:
    rolled = MONDAY - timedelta(days=20)
    hill.text(KOFI, rolled, "20 litres drc 30")
    hill.text(OWNER, rolled, "rolled 12 sheets")
    with hill.books.transaction() as tx:
        chain = follow(gather(tx, hill.farm, rolled, rolled).entries, "Hill Farm")
        dry = dry_by(hill.farm, chain.hanging[0])

    assert "12 dry sheets not sold" not in of_week(hill, dry + timedelta(days=6))
    assert "12 dry sheets not sold" in of_week(hill, dry + timedelta(days=7))
    hill.text(GUS, dry + timedelta(days=8), "Hill Farm 12 sheets 9.6 kg")
    assert "12 dry sheets not sold" not in of_week(hill, dry + timedelta(days=8))


def test_a_drc_that_does_not_fit_is_said(hill: SmallFarm) -> None:
    usual_days(hill, days=14)
    hill.text(KOFI, MONDAY, "18 litres drc 44")
    hill.text(AMA, MONDAY, "16 litres drc 30")

    assert "DRC 44% of B1 does not fit" in of_week(hill)


def test_much_lump_is_said_with_its_share_of_the_crop(hill: SmallFarm) -> None:
    for n in (0, 2, 4, 6):
        hill.text(KOFI, MONDAY + timedelta(days=n), "18 litres drc 30")
        hill.text(AMA, MONDAY + timedelta(days=n), "16 litres drc 30")
    hill.text(KOFI, SUNDAY, "lump 60 kg")

    assert any(each.endswith("% of the crop came as lump") for each in of_week(hill))


def test_who_gets_no_texts_is_said(hill: SmallFarm) -> None:
    hill.text(KOFI, MONDAY, "STOP")

    assert "Kofi gets no texts (STOP)" in of_week(hill)


def test_a_tapper_is_silent_since_the_day_that_he_reported_last(hill: SmallFarm) -> None:
    hill.text(KOFI, MONDAY + timedelta(days=2), "18 litres")
    for n in range(7):
        hill.text(AMA, MONDAY + timedelta(days=n), "16 litres")

    assert "Kofi silent since Wed" in of_week(hill)
    assert not [each for each in of_week(hill) if each.startswith("Ama")]


def test_a_lost_phone_that_is_blocked_is_not_told_to_be_silent(hill: SmallFarm) -> None:
    hill.text(KOFI, MONDAY, "18 litres")
    hill.text(OWNER, MONDAY, "block Kofi", hour=12)
    hill.text(OWNER, MONDAY, "add tapper Kofi +447700900199 block 1", hour=13)
    for n in range(7):
        hill.text("+447700900199", MONDAY + timedelta(days=n), "18 litres" if n else "17 litres", hour=15)

    assert not [each for each in of_week(hill) if "silent" in each and each.startswith("Kofi")]


def come(hill: SmallFarm, name: str, number: str, day: date) -> None:
    """A tapper who comes to the farm on a day."""
    at = datetime(day.year, day.month, day.day, 6, tzinfo=UTC)
    who = {"name": name, "number": number, "language": "en", "role": Role.TAPPER, "blocks": ("1",)}
    with hill.books.transaction() as tx:
        people.enrol(tx, farm_id=hill.farm.id, at=at, message_id=None, **who)


def silent(hill: SmallFarm) -> list[str]:
    return [each for each in of_week(hill) if each.startswith("Sefu")]


@pytest.mark.parametrize("days", [0, 1])
def test_who_came_at_the_end_of_the_week_was_not_silent(hill: SmallFarm, days: int) -> None:
    come(hill, "Sefu", "+447700900177", SUNDAY - timedelta(days=days))

    assert silent(hill) == []


def test_who_came_in_the_middle_of_the_week_is_silent_since_that_day(hill: SmallFarm) -> None:
    come(hill, "Sefu", "+447700900177", MONDAY + timedelta(days=2))

    assert silent(hill) == ["Sefu silent since Wed"]


def test_who_was_there_all_week_and_got_other_blocks_on_sunday_was_silent_all_week(hill: SmallFarm) -> None:
    come(hill, "Sefu", "+447700900177", MONDAY - timedelta(days=30))
    come(hill, "Sefu", "+447700900177", SUNDAY)

    assert silent(hill) == ["Sefu silent all week"]


def test_who_left_and_came_again_on_sunday_was_not_silent(hill: SmallFarm) -> None:
    come(hill, "Sefu", "+447700900177", MONDAY - timedelta(days=30))
    with hill.books.transaction() as tx:
        sefu = people.person_by_number(tx, "+447700900177")
        assert sefu is not None
        at = datetime(2026, 3, 1, tzinfo=UTC)
        people.dismiss(tx, sefu.id, hill.farm.id, None, at=at)
    come(hill, "Sefu", "+447700900177", SUNDAY)

    assert silent(hill) == []


def test_a_farm_that_begins_on_sunday_hears_nothing_of_silence(tmp_path: Path) -> None:
    hill = SmallFarm(tmp_path, began=datetime(2026, 3, 15, 6, tzinfo=UTC))
    hill.text(KOFI, SUNDAY, "18 litres")

    assert of_week(hill) == []
    with hill.books.transaction() as tx:
        said = summary(tx, hill.farm, tongue("en"), MONDAY, SUNDAY)
        span = gather(tx, hill.farm, MONDAY, SUNDAY)
    assert "silent" not in said
    assert [(each.person.name, each.days, each.since) for each in span.silent] == [("Ama", 1, SUNDAY)]


def test_acid_is_said_with_the_days_that_it_lasts_and_only_below_seven(hill: SmallFarm) -> None:
    usual_days(hill, days=18)
    hill.text(OWNER, SUNDAY, "acid left 0.2 litres", hour=17)
    few = [each for each in of_week(hill) if each.startswith("acid")]
    hill.text(OWNER, SUNDAY, "acid left 5 litres", hour=18)

    # 34 litres at 30 % want 4.5 g pure acid a kilo dry: 34 x 0.2957 x 4.5 / 1.016 (85 % at 1.016 g pure per ml) = 44.5 ml a day.
    assert few == ["acid for 4 days"]
    assert not [each for each in of_week(hill) if each.startswith("acid")]


def test_a_panel_near_its_end_is_said_with_its_tappings(hill: SmallFarm) -> None:
    usual_days(hill, days=18)
    hill.text(KOFI, SUNDAY - timedelta(days=1), "block 1 bark 3.5 cm")
    hill.text(AMA, SUNDAY - timedelta(days=1), "block 2 bark 35 cm")

    # 1.5 mm square to a cut of 30 degrees is 1.73 mm down the trunk: 35 mm are 20 tappings, one of them made since.
    assert of_week(hill) == ["bark of B1 for 19 tappings"]


def test_bark_cut_thicker_than_the_years_limit_allows_is_said(tmp_path: Path) -> None:
    hill = SmallFarm(tmp_path, settings={"tapping": "S/2 d3", "tapping_from": "2026-01-01"})
    first = MONDAY - timedelta(days=60)
    hill.text(KOFI, first, "block 1 bark 60 cm")
    hill.text(AMA, first, "block 2 bark 60 cm")
    for n in range(1, 21):
        hill.text(KOFI, first + timedelta(days=3 * n), "18 litres")
        hill.text(AMA, first + timedelta(days=3 * n), "16 litres")
    hill.text(KOFI, first + timedelta(days=61), "block 1 bark 54 cm")
    hill.text(AMA, first + timedelta(days=61), "block 2 bark 57 cm")

    # 6 cm in 20 tappings are 3.0 mm each; 18 cm a year at d3 (121.67 tappings) allow 1.48 mm. 3 cm are 1.5 mm: within what a
    # measure can be off by.
    assert [each for each in of_week(hill) if "bark" in each] == ["B1 tapping takes 3.0 mm bark (1.5 allowed)"]


def test_at_most_three_concerns_are_said_and_the_most_pressing_first(hill: SmallFarm) -> None:
    usual_days(hill, days=14)
    for n in (0, 2, 4, 6):
        hill.text(KOFI, MONDAY + timedelta(days=n), "9 litres drc 44")
    hill.text(OWNER, SUNDAY, "acid left 0.1 litres")
    hill.text(KOFI, SUNDAY, "lump 60 kg")
    every = of_week(hill)

    with hill.books.transaction() as tx:
        said = summary(tx, hill.farm, tongue("en"), MONDAY, SUNDAY)

    assert len(every) > MOST_CONCERNS == 3
    assert said.startswith(f"See to: {'; '.join(every[:3])}. Hill Farm")
    assert every[0].startswith("Ama silent")
    assert every[1].startswith("acid for")

"""What a text does to lines that stand: which words correct, whose line it is, and what must be left alone."""

from datetime import date, datetime, timedelta
from decimal import Decimal

import pytest

from parsers import read
from parsers.reading import Ask, Block, Entered, Intent, Person, Reading, Record, Role, Setting, What

SENT = datetime.fromisoformat("2026-03-12T10:00")
TODAY = date(2026, 3, 12)
BLOCKS = {"north": Block(200, Decimal(18)), "south": Block(180, Decimal(15))}
PEOPLE = (
    Person("Yaw", Role.TAPPER, ("north", "south")),
    Person("Anil", Role.TAPPER, ("north",)),
)


def line(
    what: What = What.LATEX, block: str | None = "north", by: str = "Yaw", hour: int = 8, **said: object
) -> Entered:
    return Entered(
        f"{by}-{what}-{block}-{hour}", Record(what, TODAY, block, **said), by, by == "Yaw", SENT.replace(hour=hour)
    )


def heard(
    text: str, *entered: Entered, language: str = "en", own: tuple[str, ...] = ("north", "south"), **more: object
) -> Reading:
    lines = entered or (line(litres=Decimal(18)),)
    setting = Setting(BLOCKS, Role.TAPPER, own, language, SENT, {}, entered=lines, name="Yaw", people=PEOPLE, **more)
    return read(text, setting)


@pytest.mark.parametrize(
    ("text", "language"),
    [
        ("it was hot, north 16 litres", "en"),
        ("boss was here, north 10 litres", "en"),
        ("the tank was full, north 10 litres", "en"),
        ("Anil was sick, north 16 litres", "en"),
        ("le chef etait la, north 12 litres", "fr"),
        ("no visitor today, north 10 litres", "en"),
    ],
)
def test_a_word_for_was_or_no_that_belongs_to_something_else_corrects_nothing(text: str, language: str) -> None:
    assert heard(text, language=language).intent is Intent.LOG


@pytest.mark.parametrize(
    ("text", "language"),
    [
        ("north was 16", "en"),
        ("north today was 16 litres", "en"),
        ("no, north 16", "en"),
        ("no north is 16 litres", "en"),
        ("non, north 16 litres", "fr"),
        ("north fueron 16 litros", "es"),
        ("north era 16 litros", "es"),
        ("north c'était 16 litres", "fr"),
    ],
)
def test_another_figure_behind_was_or_no_corrects_the_line(text: str, language: str) -> None:
    reading = heard(text, language=language)

    assert reading.intent is Intent.FIX
    assert [(each.block, each.litres) for each in reading.records] == [("north", 16)]


@pytest.mark.parametrize("text", ["north is mine, not Anil's", "not Anil, north is mine"])
def test_a_line_that_he_says_is_his_is_given_to_nobody(text: str) -> None:
    assert heard(text).person is None


@pytest.mark.parametrize(
    "text", ["north is not mine, Anil tapped it", "sorry, the north one is not mine. Anil tapped north today"]
)
def test_a_line_that_he_says_is_not_his_is_given_to_him_whom_he_names(text: str) -> None:
    assert (heard(text).intent, heard(text).person) == (Intent.FIX, "Anil")


def test_kilos_of_a_colleagues_lump_stay_kilos() -> None:
    reading = heard("change Anil's north to 16 kg", line(What.LUMP, by="Anil", kg=Decimal(9)), own=("south",))

    assert [(each.kg, each.litres) for each in reading.records] == [(16, None)]


def test_kilos_are_no_litres_of_a_colleague() -> None:
    reading = heard("change Anil's north to 16 kg", line(by="Anil", litres=Decimal(18)), own=("south",))

    assert all(each.litres != 16 for each in reading.records)


def test_taking_back_the_rain_takes_out_the_day_of_no_tapping_and_not_the_newest_line() -> None:
    rested = line(What.NO_TAPPING, hour=6)
    reading = heard("cancel, the rain is over, we tap", rested, line(What.LUMP, hour=9, kg=Decimal(4)))

    assert (reading.intent, reading.targets) == (Intent.UNDO, (rested.id,))


def test_each_block_gets_the_drc_that_stands_behind_it() -> None:
    reading = heard(
        "drc north was at around 34%, south was at around 29%",
        line(litres=Decimal(18)),
        line(block="south", litres=Decimal(15)),
    )

    assert {each.block: each.drc for each in reading.records} == {"north": 34, "south": 29}


def test_a_yes_with_a_figure_that_a_take_holds_too_is_still_latex() -> None:
    taken = line(What.COLLECTED, None, by="Musa", kg=Decimal(18))

    assert heard("yes north 18 litres", taken).intent is Intent.LOG
    assert heard("yes 18", taken, own=("north",)).intent is Intent.LOG


@pytest.mark.parametrize("hours", [1, 30])
def test_a_bare_figure_corrects_a_price_only_soon_behind_it(hours: int) -> None:
    told = Entered("p", Record(What.PRICE, TODAY, price=Decimal(780)), "Yaw", True, SENT - timedelta(hours=hours))
    setting = Setting({}, Role.COLLECTOR, (), "en", SENT, {}, entered=(told,), name="Yaw")

    assert (read("sorry 785", setting).targets == ("p",)) is (hours == 1)


@pytest.mark.parametrize(
    "text", ["A dua setengah tiga setengah liter", "lô A hai rưỡi ba rưỡi lít", "A dua setengah tiga liter"]
)
@pytest.mark.parametrize("language", ["id", "vi"])
def test_halves_that_follow_each_other_are_no_digits_of_one_figure(text: str, language: str) -> None:
    setting = Setting(
        {"A": Block(200, Decimal(15)), "B": Block(200, Decimal(15))}, Role.TAPPER, ("A", "B"), language, SENT, {}
    )

    assert all(each.litres != Decimal("2.53") for each in read(text, setting).records)


@pytest.mark.parametrize(
    ("text", "language"),
    [
        ("acid left one can", "en"),
        ("sisa asam satu jerigen", "id"),
        ("queda un galon de acido", "es"),
        ("reste un bidon d'acide", "fr"),
    ],
)
def test_acid_in_a_vessel_of_unknown_size_is_asked_for_as_acid(text: str, language: str) -> None:
    setting = Setting(BLOCKS, Role.OWNER, ("north", "south"), language, SENT, {})
    reading = read(text, setting)

    assert reading.ask is Ask.LITRES
    assert [each.what for each in reading.pending] == [What.ACID_STOCK]


def test_two_figures_joined_by_a_comma_are_not_one() -> None:
    setting = Setting(BLOCKS, Role.TAPPER, ("north",), "en", SENT, {})

    assert all(each.litres != Decimal("185.16") for each in read("north 18.5,16", setting).records)


def test_of_two_amounts_of_a_take_the_one_that_the_weight_makes_the_other_is_the_price() -> None:
    setting = Setting({}, Role.COLLECTOR, (), "en", SENT, {}, farms=("Otter Bend",))
    (taken,) = read("took Otter Bend 4.8 kg rss3 62.50 paid 300", setting).records

    assert taken.price == Decimal("62.50")


def test_the_place_is_the_one_said_last() -> None:
    setting = Setting({}, Role.COLLECTOR, (), "en", SENT, {})

    assert [each.place for each in read("at market now at Songhai", setting).records] == ["Songhai"]

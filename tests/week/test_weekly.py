"""The weekly text against figures computed by hand.

Oracle for kilos: volumes of rubber and serum add up (densities of Smith 1940, `harvest.md` of the references), so latex of
30 % DRC weighs 0.986 kg a litre: 100 litres hold 100 x 0.986 x 0.30 = 29.6 kg dry.
"""

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from pathlib import Path

import pytest

from bot.books import Books, farms, open_books, people
from bot.books.model import Farm
from bot.jobs import run_due
from bot.pages.owner import link as link_to_pages
from bot.reckon.takes import amount_of
from bot.settings import Settings
from bot.speech.language import LANGUAGES, economical, tongue
from bot.speech.parts import count_parts
from bot.talk.answer import answer
from bot.talk.exchange import Delivery, Fate, Incoming
from bot.week.figures import gather
from bot.week.words import summary, weekly
from parsers.reading import Block, Role

OWNER, KOFI, AMA = "+447700900101", "+447700900102", "+447700900103"

#: A Sunday.
SUNDAY = date(2026, 3, 15)
MONDAY = SUNDAY - timedelta(days=6)

#: Weight of a litre of latex of 30 % DRC: 1 / (0.30 / 0.910 + 0.70 / 1.022), computed apart from the program.
KG_PER_LITRE = 1 / (0.30 / 0.910 + 0.70 / 1.022)


@pytest.fixture
def books(tmp_path: Path) -> Books:
    return open_books(tmp_path / "books.sqlite")


def a_farm(books: Books, name: str = "Hill Farm", owner: str = OWNER) -> Farm:
    at = datetime(2025, 1, 1, tzinfo=UTC)
    with books.transaction() as tx:
        farm = farms.add_farm(
            tx,
            name=name,
            timezone="UTC",
            currency="USD",
            language="en",
            blocks={"1": Block(300, Decimal(18)), "2": Block(280, Decimal(16))},
            containers={},
            settings={},
            at=at,
        )
        enrol = [
            ("Ama", KOFI, Role.TAPPER, ("1",)),
            ("Ama", AMA, Role.TAPPER, ("2",)),
            ("Efua", owner, Role.OWNER, ()),
        ]
        for who, number, role, blocks in enrol if name == "Hill Farm" else enrol[2:]:
            people.enrol(
                tx,
                name=who,
                number=number,
                language="en",
                farm_id=farm.id,
                role=role,
                blocks=blocks,
                at=at,
                message_id=None,
            )
    return farm


def text(books: Books, number: str, day: date, words: str, hour: int = 10) -> None:
    at = datetime(day.year, day.month, day.day, hour, tzinfo=UTC)
    answer(books, Incoming(f"{number}-{at.isoformat()}-{words}", number, words, at, at, "practice"), now=at)


def a_link(books: Books, farm: Farm) -> str:
    """A link as long as those that go out."""
    settings = Settings("books.sqlite", public_url="https://book.example.org", link_key="a key of the test")
    with books.transaction() as tx:
        efua = people.person_by_number(tx, OWNER)
    assert efua is not None
    return link_to_pages(settings, farm.id, efua.id)


def the_week(books: Books, farm: Farm, language: str = "en") -> str:
    with books.transaction() as tx:
        return summary(tx, farm, tongue(language), MONDAY, SUNDAY)


def fill(books: Books) -> None:
    """Two weeks and one a year ago with the days around it: 18 and 16 litres a tapping day at 30 %."""
    for n in (0, 2, 4):
        text(books, KOFI, MONDAY + timedelta(days=n), "18 litres drc 30")
        text(books, AMA, MONDAY + timedelta(days=n), "16 litres drc 30")
    text(books, KOFI, MONDAY + timedelta(days=5), "no tapping rain")
    text(books, AMA, MONDAY + timedelta(days=5), "no tapping rain")
    text(books, OWNER, MONDAY + timedelta(days=5), "rolled 40 sheets")
    text(books, OWNER, MONDAY + timedelta(days=6), "sold 12 sheets 9.6 kg")
    text(books, KOFI, MONDAY + timedelta(days=6), "no tapping sick")
    text(books, KOFI, MONDAY - timedelta(days=7), "20 litres drc 30")
    text(books, OWNER, MONDAY - timedelta(days=7), "rolled 15 sheets")
    text(books, KOFI, MONDAY - timedelta(days=6), "no tapping rain")
    text(books, KOFI, SUNDAY - timedelta(days=364), "10 litres drc 30")
    text(books, OWNER, SUNDAY - timedelta(days=364), "sold 9 sheets 7.1 kg")
    text(books, KOFI, MONDAY - timedelta(days=365), "19 litres drc 30")
    text(books, AMA, SUNDAY - timedelta(days=363), "19 litres drc 30")


def test_litres_dry_weight_sheets_and_rain_are_those_of_the_texts(books: Books) -> None:
    farm = a_farm(books)
    fill(books)
    dry, before, year = (round(litres * KG_PER_LITRE * 0.30, 1) for litres in (3 * (18 + 16), 20, 10))

    said = the_week(books, farm)

    assert f"102 L (week before 20; a year ago 10), {dry} kg dry ({before}; {year})" in said
    assert "40 sheets rolled (15; 0)" in said
    assert "sold 9.6 kg (0; 7.1)" in said
    assert "rain took 2 block-days (1; 0)" in said
    assert f"B1 54 L {round(54 * KG_PER_LITRE * 0.30, 1)} kg ({before})" in said


def test_a_correction_and_what_was_taken_back_change_the_week(books: Books) -> None:
    farm = a_farm(books)
    text(books, KOFI, MONDAY, "18 litres")
    text(books, KOFI, MONDAY, "sorry 15 litres", hour=11)
    text(books, AMA, MONDAY, "16 litres")
    text(books, AMA, MONDAY, "delete that", hour=11)

    assert "15 L (week before 0)," in the_week(books, farm)


def test_rain_on_a_day_that_was_tapped_after_all_took_nothing(books: Books) -> None:
    farm = a_farm(books)
    text(books, KOFI, MONDAY, "no tapping rain", hour=6)
    text(books, KOFI, MONDAY, "18 litres", hour=11)

    assert "rain took" not in the_week(books, farm)


def test_a_week_without_an_entry_says_so(books: Books) -> None:
    farm = a_farm(books)

    assert "nothing was entered" in the_week(books, farm)


def test_who_has_been_silent_and_acid_that_runs_out_come_before_the_figures(books: Books) -> None:
    farm = a_farm(books)
    for n in range(7):
        text(books, KOFI, MONDAY + timedelta(days=n), "18 litres drc 30")
    text(books, OWNER, SUNDAY, "acid left 0.1 litres", hour=18)

    said = the_week(books, farm)

    assert said.startswith("See to: Ama silent all week; acid for")
    assert said.index("See to") < said.index("126 L")


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("others", [0, 3])
def test_the_weekly_text_takes_at_most_three_parts_and_ends_with_its_link(
    books: Books, language: str, others: int
) -> None:
    owned = [
        a_farm(books),
        *(a_farm(books, f"Farm number {n} by the long river", f"+44770090020{n}") for n in range(others)),
    ]
    fill(books)
    link = a_link(books, owned[0])

    with books.transaction() as tx:
        said = weekly(tx, owned, tongue(language), SUNDAY, link)

    assert count_parts(economical(said)).parts <= 3
    assert said.endswith(link)
    assert "Hill Farm" in said
    assert "102 L" in said
    assert others or language == "th" or "40" in said  # a text of another alphabet holds a third: sheets are left out


def test_an_owner_of_two_farms_gets_one_text_and_never_a_second(books: Books) -> None:
    a_farm(books)
    other = a_farm(books, "River Farm", "+447700900999")
    with books.transaction() as tx:
        efua = people.person_by_number(tx, OWNER)
        assert efua is not None
        at = datetime(2025, 1, 2, tzinfo=UTC)
        people.enrol(
            tx,
            name="Efua",
            number=OWNER,
            language="en",
            farm_id=other.id,
            role=Role.OWNER,
            blocks=(),
            at=at,
            message_id=None,
        )
    fill(books)
    sent: list[tuple[str, str]] = []

    def send(waiting) -> Delivery:  # type: ignore[no-untyped-def]
        sent.append((waiting.to, waiting.text))
        return Delivery(Fate.SENT, waiting.id)

    for minutes in range(0, 60, 10):
        run_due(books, datetime(2026, 3, 15, 18, minutes, tzinfo=UTC), send)

    mine = [body for to, body in sent if to == OWNER]
    assert len(mine) == 1
    assert "Hill Farm" in mine[0]
    assert "River Farm" in mine[0]


def test_what_a_collector_took_at_a_farm_without_a_book_here_is_not_sold_here(books: Books) -> None:
    farm, mara = a_farm(books), "+447700900555"
    with books.transaction() as tx:
        tx.run("add_other_farm", farm_id=farm.id, name="River Farm", name_key="riverfarm")
        enrolled = {"name": "Mara", "number": mara, "language": "en", "role": Role.COLLECTOR, "blocks": ()}
        people.enrol(tx, farm_id=farm.id, at=datetime(2025, 1, 1, tzinfo=UTC), message_id=None, **enrolled)
    text(books, mara, MONDAY, "took 24 sheets 11.8 kg rss3 1.50")
    text(books, mara, MONDAY, "took 40 sheets 20.4 kg rss3 1.50 from River Farm", hour=11)

    assert "sold 11.8 kg" in the_week(books, farm).lower()
    with books.transaction() as tx:
        span = gather(tx, farm, MONDAY, SUNDAY)
    assert len(span.entries) == 2
    assert span.taken_sheets == 24
    assert amount_of(farm, span.entries) == Decimal("17.70")


@pytest.mark.parametrize(
    ("kg", "says"), [("11.4", "shows 5% less than yours"), ("12.6", "shows 5% more than yours"), ("12.1", "")]
)
def test_a_balance_that_differs_from_the_one_at_home_is_asked_about(books: Books, kg: str, says: str) -> None:
    farm, mara = a_farm(books), "+447700900555"
    with books.transaction() as tx:
        enrolled = {"name": "Mara", "number": mara, "language": "en", "role": Role.COLLECTOR, "blocks": ()}
        people.enrol(tx, farm_id=farm.id, at=datetime(2025, 1, 1, tzinfo=UTC), message_id=None, **enrolled)
    for week in range(4, -1, -1):
        day = MONDAY - timedelta(days=7 * week)
        text(books, KOFI, day, "rolled 24 sheets")
        text(books, KOFI, day + timedelta(days=4), "dry sheets 24 pcs 12 kg")
        text(books, mara, day + timedelta(days=5), f"took 24 sheets {kg} kg")

    said = the_week(books, farm)

    assert says in said
    assert ("balance" in said) == bool(says)
    if says:
        assert "Mara's balance" in said
    text(books, KOFI, SUNDAY + timedelta(days=2), "18 litres")
    with books.transaction() as tx:  # nothing was taken since, and nothing new is known
        later = summary(tx, farm, tongue("en"), SUNDAY + timedelta(days=1), SUNDAY + timedelta(days=7))
    assert "balance" not in later


def test_another_weekday_set_within_the_week_brings_no_second_text(books: Books) -> None:
    a_farm(books)
    fill(books)
    sent: list[str] = []

    def send(waiting) -> Delivery:  # type: ignore[no-untyped-def]
        if waiting.to == OWNER:
            sent.append(waiting.text)
        return Delivery(Fate.SENT, waiting.id)

    text(books, OWNER, MONDAY, "summary on wednesday 18", hour=7)
    run_due(books, datetime(2026, 3, 11, 18, 30, tzinfo=UTC), send)
    text(books, OWNER, MONDAY + timedelta(days=3), "summary on sunday 18")
    run_due(books, datetime(2026, 3, 15, 18, 30, tzinfo=UTC), send)
    within = len([each for each in sent if ("Hill Farm" in each and "9-15" in each) or "5-11" in each])
    run_due(books, datetime(2026, 3, 22, 18, 30, tzinfo=UTC), send)

    assert within == 1
    assert any("16-22 Mar" in each for each in sent)

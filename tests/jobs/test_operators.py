"""What needs a person is texted to the operators: each thing once, in their language, and again a day later at the earliest."""

from collections.abc import Iterator
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from click.testing import CliRunner

from bot.books import Books, alarms, last_done, open_books, outbox, people
from bot.books.errors import BooksDamaged, BooksUnavailable
from bot.books.model import Waiting
from bot.cli import main
from bot.jobs import LEFT_OVER, fetch, run_due
from bot.speech.language import economical, tongue
from bot.speech.parts import count_parts
from bot.talk.exchange import Delivery, Fate
from bot.watching import needs
from bot.watching.direct import PATIENCE, NotedBeside
from bot.watching.needs import Running
from bot.week.operator import SENTENCES, Operators, sentence
from tests.books import made

NOW = datetime(2026, 3, 18, 3, 30, tzinfo=UTC)
DAY = timedelta(days=1)
OPERATOR, SECOND = "+447700900190", "+447700900191"
OPERATORS = Operators((OPERATOR, SECOND), "th")


class Carrier:
    """Takes every text, or says what it is told to say."""

    def __init__(self, says: Delivery | None = None) -> None:
        self.says, self.taken = says, list[Waiting]()

    def __call__(self, waiting: Waiting) -> Delivery:
        self.taken.append(waiting)
        return self.says or Delivery(Fate.SENT, waiting.id)

    def told(self, number: str) -> list[str]:
        return [each.text for each in self.taken if each.to == number]


@pytest.fixture
def books(tmp_path: Path) -> Iterator[Books]:
    with closing(open_books(tmp_path / "books.sqlite")) as opened:
        yield opened


@pytest.fixture
def carrier() -> Carrier:
    return Carrier()


def sound(books: Books, at: datetime = NOW) -> None:
    with books.transaction() as tx:
        alarms.sound(tx, number="", kind="disk", line="only 0.2 GB", at=at, free="0.2")


def due(books: Books, carrier: Carrier, at: datetime = NOW, cap: int = 0) -> None:
    """Two runs: what the first one's sending brings to light is texted by the second."""
    for minute in (0, 1):
        run_due(books, at + timedelta(minutes=minute), carrier, parts_per_day=cap, operators=OPERATORS)


def test_each_operator_is_texted_once_in_his_language(books: Books, carrier: Carrier) -> None:
    with books.transaction() as tx:
        made.a_person(tx, made.a_farm(tx).id, OPERATOR, "Olive")  # she is in the books, in English

    sound(books)
    due(books, carrier)
    due(books, carrier, NOW + timedelta(hours=1))

    assert carrier.told(OPERATOR) == ["The disk is nearly full: 0.2 GB free. Make room."]
    assert carrier.told(SECOND) == ["ดิสก์ใกล้เต็ม เหลือ 0.2 GB ต้องเพิ่มที่ว่าง"]


def test_the_same_is_texted_again_a_day_later_and_not_sooner(books: Books, carrier: Carrier) -> None:
    for hours in range(0, 72):
        sound(books, NOW + timedelta(hours=hours))
        due(books, carrier, NOW + timedelta(hours=hours))

    assert len(carrier.told(OPERATOR)) == 3


def test_it_is_not_texted_twice_around_midnight(books: Books, carrier: Carrier) -> None:
    for at in (datetime(2026, 3, 18, 23, 59, tzinfo=UTC), datetime(2026, 3, 19, 0, 1, tzinfo=UTC)):
        sound(books, at)
        due(books, carrier, at)

    assert len(carrier.told(OPERATOR)) == 1


def test_a_lost_phone_is_told_nothing(books: Books, carrier: Carrier) -> None:
    with books.transaction() as tx:
        people.block(tx, made.a_person(tx, made.a_farm(tx).id, OPERATOR, "Olive").id, NOW)
    sound(books)
    due(books, carrier)

    assert {each.to for each in carrier.taken} == {SECOND}


def test_without_operators_nothing_is_written(books: Books) -> None:
    sound(books)
    run_due(books, NOW, None)

    with books.transaction() as tx:
        assert outbox.waiting_count(tx) == 0


def test_the_cost_limit_holds_texts_but_not_the_word_of_it(books: Books, carrier: Carrier) -> None:
    with books.transaction() as tx:
        for n in range(5):
            made.a_waiting_text(tx, f"key {n}", parts=2, due_at=NOW, created_at=NOW)

    due(books, carrier, cap=5)

    assert len(carrier.told(made.TOBIN)) == 3
    (told,) = carrier.told(OPERATOR)
    assert "6" in told
    assert "5" in told


def test_a_gateway_that_fetches_gets_the_word_of_the_cost_limit_too(books: Books) -> None:
    sound(books)
    with books.transaction() as tx:
        for n in range(2):
            made.a_waiting_text(tx, f"key {n}", due_at=NOW, created_at=NOW)
    assert len(fetch(books, NOW, "office", 10, parts_per_day=1)) == 1
    run_due(books, NOW, None, operators=OPERATORS)

    assert [each.to for each in fetch(books, NOW, "office", 10, parts_per_day=1)] == [OPERATOR, SECOND]


def test_a_carrier_that_refuses_is_told_of_once(books: Books) -> None:
    refusing = Carrier(Delivery(Fate.LATER, code="20003", alarm="20003: the carrier refuses our account"))
    with books.transaction() as tx:
        for n in range(3):
            made.a_waiting_text(tx, f"key {n}", due_at=NOW, created_at=NOW)
    run_due(books, NOW, refusing, operators=OPERATORS)

    well = Carrier()
    due(books, well, NOW + timedelta(minutes=1))

    (told,) = well.told(OPERATOR)
    assert "20003" in told


def test_texts_of_which_nothing_is_known_are_told_of_with_their_number(books: Books, carrier: Carrier) -> None:
    with books.transaction() as tx:
        made.a_waiting_text(tx, "key", due_at=NOW, created_at=NOW)
        outbox.claim(tx, NOW)  # the program ends here

    due(books, carrier, NOW + LEFT_OVER + timedelta(minutes=1))

    (told,) = carrier.told(OPERATOR)
    assert "1" in told


def raised(books: Books) -> dict[str, int]:
    with books.transaction() as tx:
        return alarms.of_day(tx, NOW)


def test_a_disk_that_is_nearly_full_is_an_alarm(books: Books, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with books.transaction() as tx:
        needs.sound_disk(tx, [tmp_path, tmp_path / "not there yet"], 0, NOW)
    assert raised(books) == {}

    monkeypatch.setattr(needs, "LEAST_ROOM", 10**18)
    with books.transaction() as tx:
        needs.sound_disk(tx, [tmp_path, tmp_path / "not there yet"], 0, NOW)
    assert raised(books) == {"disk": 1}


def test_a_backup_that_is_too_old_is_an_alarm(books: Books) -> None:
    with books.transaction() as tx:
        last_done.note(tx, last_done.BACKUP, NOW - needs.BACKUP_AGE)
        needs.sound_backup(tx, NOW)
        assert alarms.of_day(tx, NOW) == {}
        last_done.note(tx, last_done.BACKUP, NOW - needs.BACKUP_AGE - timedelta(minutes=1))
        needs.sound_backup(tx, NOW)
        assert alarms.of_day(tx, NOW) == {"backup old": 1}


def test_new_books_have_time_for_their_first_backup(books: Books) -> None:
    with books.transaction() as tx:
        needs.sound_backup(tx, NOW - 3 * DAY)
        assert alarms.of_day(tx, NOW - 3 * DAY) == {}
        needs.sound_backup(tx, NOW)
        assert alarms.of_day(tx, NOW) == {"backup none": 1}


@pytest.mark.parametrize(
    ("passed", "shown", "jumped"),
    [
        (60, 60, False),
        (60, 30 * 60, True),
        (60, -30 * 60, True),
        (86_400, 86_400, False),
    ],
)
def test_a_clock_that_jumps_is_an_alarm(books: Books, passed: int, shown: int, jumped: bool) -> None:
    with books.transaction() as tx:
        needs.sound_clock(tx, NOW - timedelta(seconds=shown), Running("this start", 1000))
        needs.sound_clock(tx, NOW, Running("this start", 1000 + passed))

    assert raised(books) == ({"clock": 1} if jumped else {})


def test_after_a_restart_only_a_clock_that_goes_back_can_be_told(books: Books) -> None:
    with books.transaction() as tx:
        needs.sound_clock(tx, NOW - DAY, Running("one start", 1000))
        needs.sound_clock(tx, NOW, Running("another start", 5))
        assert alarms.of_day(tx, NOW) == {}
        needs.sound_clock(tx, NOW - timedelta(hours=1), None)
        assert alarms.of_day(tx, NOW) == {"clock": 1}


@pytest.mark.parametrize("language", ["en", "es", "fr", "id", "th", "vi"])
@pytest.mark.parametrize("kind", [*SENTENCES, "silent office", "carrier 20003", "something new"])
def test_every_alarm_is_one_part_or_two_in_every_language(kind: str, language: str) -> None:
    given = dict.fromkeys(("day", "free", "minutes", "parts", "limit", "waiting", "code", "count", "name"), "2026")

    said = economical(sentence(tongue(language), kind, given | {"who": "+4477...190"}))

    assert count_parts(said).parts <= (2 if language == "th" else 1)


def test_an_alarm_of_an_earlier_version_without_figures_is_told_of_all_the_same() -> None:
    assert sentence(tongue("en"), "pin", {}) == "Something needs you. Run tapping-log check."


def test_damaged_books_are_told_of_straight_and_once_a_day(tmp_path: Path, carrier: Carrier) -> None:
    beside, fault = NotedBeside(tmp_path), BooksDamaged("page 7")
    for minutes in range(0, 3 * 24 * 60, 30):
        beside.tell(OPERATORS, fault, carrier, NOW + timedelta(minutes=minutes))

    assert len(carrier.told(OPERATOR)) == 3  # at once, and each day
    assert len(carrier.told(SECOND)) == 3


def test_books_that_come_back_soon_are_not_told_of(tmp_path: Path, carrier: Carrier) -> None:
    beside, fault = NotedBeside(tmp_path), BooksUnavailable("kept by another process")
    assert beside.tell(OPERATORS, fault, carrier, NOW) == 0
    beside.over()
    assert beside.tell(OPERATORS, fault, carrier, NOW + DAY) == 0

    assert beside.tell(OPERATORS, fault, carrier, NOW + DAY + PATIENCE) == 2


def test_nothing_is_texted_straight_where_it_cannot_be_noted(tmp_path: Path, carrier: Carrier) -> None:
    assert NotedBeside(tmp_path / "gone").tell(OPERATORS, BooksDamaged("page 7"), carrier, NOW) == 0
    assert carrier.taken == []


def test_the_command_texts_the_operators_of_a_silent_gateway(tmp_path: Path) -> None:
    where = tmp_path / "books.sqlite"
    environment = {
        "TAPPING_LOG_BOOKS": str(where),
        "TAPPING_LOG_GATEWAY_KEYS": f"office:{'s' * 32}",
        "TAPPING_LOG_OPERATORS": OPERATOR,
        "TAPPING_LOG_OPERATOR_LANGUAGE": "fr",
    }
    ended = CliRunner().invoke(main, ["due"], env=environment)

    assert ended.exit_code == 1, ended.output
    with closing(open_books(where)) as opened, opened.transaction() as tx:
        waiting = outbox.all_to(tx, OPERATOR)
    assert [each.text for each in waiting] == ["La passerelle office n'appelle plus: voyez son courant et son réseau."]


def test_a_backup_is_noted_and_one_that_fails_is_an_alarm(tmp_path: Path, books: Books) -> None:
    environment = {"TAPPING_LOG_BOOKS": str(tmp_path / "books.sqlite")}
    assert CliRunner().invoke(main, ["backup"], env=environment).exit_code == 0
    with books.transaction() as tx:
        assert last_done.last(tx, last_done.BACKUP) is not None

    (tmp_path / "a file").write_text("")
    environment["TAPPING_LOG_BACKUPS"] = str(tmp_path / "a file" / "below")
    assert CliRunner().invoke(main, ["backup"], env=environment).exit_code == 1
    with books.transaction() as tx:
        assert alarms.of_day(tx, datetime.now(UTC)) == {"backup failed": 1}


def test_a_failed_backup_of_books_that_are_not_there_makes_none(tmp_path: Path) -> None:
    where = tmp_path / "none.sqlite"

    assert CliRunner().invoke(main, ["backup"], env={"TAPPING_LOG_BOOKS": str(where)}).exit_code == 1
    assert not where.exists()

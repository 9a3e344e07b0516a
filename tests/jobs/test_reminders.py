"""Reminders: who gets one, when, how often, and what the owner hears."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from pathlib import Path
from threading import Thread
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bot.books import farms, open_books, outbox, people
from bot.books.model import Waiting
from bot.jobs import run_due
from bot.pages.changing import SETTINGS, CannotChange, change_settings
from bot.reckon.tapping import calendars, is_tapping_day
from bot.rubber.calendar import due_tasks
from bot.talk.answer import act, answer
from bot.talk.exchange import Answer, Delivery, Fate, Incoming, Kind
from parsers.reading import Block, Role

ZONE = ZoneInfo("Asia/Bangkok")
WANDA, TOBIN, MALEE = "+447700900101", "+447700900102", "+447700900103"
CALENDAR = {"tapping": "S/2 d2 6d/7", "tapping_from": "2026-03-02", "rest_weekday": 6}
BEGAN = datetime(2026, 3, 1, 9, tzinfo=ZONE)


def at(day: int, hour: int, minute: int = 0) -> datetime:
    """A moment of March 2026 on the farm's clock; 2 March is a Monday."""
    return datetime(2026, 3, day, hour, minute, tzinfo=ZONE)


class House:
    """A farm with two tappers, and what went out."""

    def __init__(self, path: Path, **settings: object) -> None:
        self.books, self.sent, self.n = open_books(path / "books.sqlite"), [], 0
        with self.books.transaction() as tx:
            self.farm = farms.add_farm(
                tx,
                name="Reed Hollow",
                timezone="Asia/Bangkok",
                currency="USD",
                language="en",
                blocks={name: Block(300, Decimal(18)) for name in ("1", "2", "3", "4")},
                containers={},
                settings={**CALENDAR, "reminder_hour": 14, **settings},
                at=BEGAN,
            )
            for name, number, role, blocks in (
                ("Wanda", WANDA, Role.OWNER, ()),
                ("Tobin", TOBIN, Role.TAPPER, ("1", "2")),
                ("Malee", MALEE, Role.TAPPER, ("3", "4")),
            ):
                who = {"name": name, "number": number, "role": role, "blocks": blocks, "language": "en"}
                people.enrol(tx, farm_id=self.farm.id, at=BEGAN, message_id=None, **who)

    def text(self, text: str, number: str, now: datetime) -> Answer:
        self.n += 1
        return answer(self.books, Incoming(f"r{self.n}", number, text, now, now, "practice"), now)

    def run(self, now: datetime, fate: Fate = Fate.SENT) -> list[str]:
        """The numbers that got a reminder, or word of one, in this run."""
        out: list[str] = []

        def send(waiting: Waiting) -> Delivery:
            if (waiting.key or "").startswith(("remind", "unheard")):
                out.append(waiting.to)
                self.sent.append(waiting)
            return Delivery(fate, waiting.id)

        run_due(self.books, now, send)
        return sorted(out)


@pytest.fixture
def house(tmp_path: Path) -> House:
    return House(tmp_path)


def test_on_a_tapping_day_the_tapper_without_a_word_is_reminded_at_the_farms_hour(house: House) -> None:
    house.text("block 1 18 litres", TOBIN, at(3, 10))

    assert house.run(at(3, 13, 59)) == []
    assert house.run(at(3, 14)) == [MALEE]
    assert "Malee" in house.sent[0].text
    assert "block 3 18 litres" in house.sent[0].text


def test_a_reminder_fits_one_part(house: House) -> None:
    house.run(at(3, 14))

    assert [each.parts for each in house.sent] == [1, 1]


@pytest.mark.parametrize("text", ["no tapping, sick", "thanks", "what is this"])
def test_any_word_of_the_day_is_a_word(house: House, text: str) -> None:
    house.text(text, TOBIN, at(3, 9))

    assert house.run(at(3, 14)) == [MALEE]


def test_rain_that_anybody_entered_lets_everybody_be(house: House) -> None:
    house.text("no tapping, rain", TOBIN, at(3, 9))

    assert house.run(at(3, 14)) == []


def test_an_owner_who_reports_a_tappers_block_has_spoken_for_him(house: House) -> None:
    house.text("block 3 18 litres", WANDA, at(3, 9))

    assert house.run(at(3, 14)) == [TOBIN]


def test_on_a_rest_day_nobody_is_reminded(house: House) -> None:
    assert house.run(at(8, 14)) == []


@pytest.mark.parametrize(
    "settings",
    [{"reminder_hour": None}, {"tapping": ""}, {"tapping_from": None}, {"tapping_from": "2026-03-09"}],
    ids=["switched off", "no system", "no first day", "not begun"],
)
def test_without_hour_or_calendar_nobody_is_reminded(tmp_path: Path, settings: dict) -> None:
    house = House(tmp_path, **settings)

    assert house.run(at(3, 14)) == []
    assert house.run(at(4, 8)) == []


def test_settings_that_make_no_calendar_stop_no_run(tmp_path: Path) -> None:
    house = House(tmp_path, tapping="S/2 d2 7d/7")  # with a day of rest these contradict each other

    assert house.run(at(3, 14)) == []


def test_one_block_of_a_farm_that_taps_every_third_day_is_not_due_each_day(tmp_path: Path) -> None:
    house = House(tmp_path, tapping="S/2 d3 6d/7")
    with house.books.transaction() as tx:
        who = {"name": "Tobin", "number": TOBIN, "role": Role.TAPPER, "blocks": ("1",), "language": "en"}
        people.enrol(tx, farm_id=house.farm.id, at=BEGAN, message_id=None, **who)
    house.text("block 1 18 litres", TOBIN, at(2, 10))

    assert [TOBIN in house.run(at(day, 14)) for day in (3, 4, 5)] == [False, False, True]


def test_running_again_sends_nothing_again(house: House) -> None:
    house.run(at(3, 14))

    assert house.run(at(3, 14, 1)) == []
    assert house.run(at(3, 20, 59)) == []


def test_a_run_that_broke_before_sending_is_made_good_once(house: House) -> None:
    run_due(house.books, at(3, 14), None)

    assert house.run(at(3, 14, 1)) == [TOBIN, MALEE]
    assert house.run(at(3, 14, 2)) == []


def test_two_runners_at_once_send_one_each(house: House) -> None:
    runners = [Thread(target=house.run, args=(at(3, 14),)) for _ in range(4)]
    for each in runners:
        each.start()
    for each in runners:
        each.join()

    assert sorted(each.to for each in house.sent) == [TOBIN, MALEE]


def test_the_owner_hears_once_the_next_morning(house: House) -> None:
    house.text("block 1 18 litres", TOBIN, at(3, 10))
    house.run(at(3, 14))

    assert house.run(at(4, 7, 59)) == []
    assert house.run(at(4, 8)) == [WANDA]
    assert house.run(at(4, 8, 1)) == []
    assert house.sent[-1].text == "Reed Hollow: no word about Tue from Malee."


def test_a_word_in_the_evening_keeps_the_owner_from_hearing(house: House) -> None:
    house.text("block 1 18 litres", TOBIN, at(3, 10))
    house.run(at(3, 14))
    house.text("block 3 17 litres", MALEE, at(3, 22))

    assert house.run(at(4, 8)) == []


def test_nobody_gets_more_than_two_in_seven_days(house: House) -> None:
    got = [number for day in range(2, 16) for hour in (8, 14) for number in house.run(at(day, hour))]

    for number in (TOBIN, MALEE, WANDA):
        days = sorted(each.created_at for each in house.sent if each.to == number)
        assert number in got
        assert all(after - before >= timedelta(days=6, hours=12) for before, after in pairs(days, 2))


def pairs(days: Sequence[datetime], apart: int) -> list[tuple[datetime, datetime]]:
    return list(zip(days, days[apart:], strict=False))


def test_one_who_wants_no_texts_gets_none(house: House) -> None:
    house.text("STOP", TOBIN, at(2, 9))

    assert TOBIN not in house.run(at(3, 14))


def test_a_reminder_that_no_carrier_takes_is_not_tried_in_the_night(tmp_path: Path) -> None:
    house = House(tmp_path, reminder_hour=20)
    house.run(at(3, 20, 50), Fate.LATER)

    assert house.run(at(3, 20, 53), Fate.LATER) == [TOBIN, MALEE]
    assert [house.run(at(3, 21, minute)) for minute in (0, 10, 30)] == [[], [], []]
    assert TOBIN not in house.run(at(4, 9))
    with house.books.transaction() as tx:
        late = [each for each in outbox.listing(tx, at(3, 0), at(4, 0)) if each.key and each.key.startswith("remind")]
    assert {(each.state, each.error_code) for each in late} == {("failed", "late")}


def test_a_machine_that_was_off_until_night_reminds_nobody(house: House) -> None:
    assert house.run(at(3, 21)) == []
    assert house.run(at(4, 5, 59)) == []


def test_costs_are_counted(house: House) -> None:
    first = run_due(house.books, at(3, 14), lambda waiting: Delivery(Fate.SENT, waiting.id)).reminded
    later = run_due(house.books, at(3, 15), None).reminded

    assert (first.tappers, first.owners, first.parts) == (2, 0, 2)
    assert (later.tappers, later.parts, later.parts_of_late) == (0, 0, 2)


def test_the_owner_switches_by_text(house: House) -> None:
    assert "off" in (house.text("reminders off", WANDA, at(3, 9)).text or "")
    assert house.run(at(3, 14)) == []

    assert "16:00" in (house.text("reminders on 16", WANDA, at(3, 14, 30)).text or "")
    assert house.run(at(3, 15)) == []
    assert house.run(at(3, 16)) == [TOBIN, MALEE]


@pytest.mark.parametrize("text", ["reminders on", "reminders on 3", "reminders on 22"])
def test_an_hour_of_the_night_or_none_is_asked_about(house: House, text: str) -> None:
    assert "from 6 to 20" in (house.text(text, WANDA, at(3, 9)).text or "")
    with house.books.transaction() as tx:
        assert farms.farm(tx, house.farm.id).settings.reminder_hour == 14


def test_a_tapper_cannot_switch_them(house: House) -> None:
    assert "Only the owner" in (house.text("reminders off", TOBIN, at(3, 9)).text or "")


def test_an_owner_without_a_calendar_is_told_what_is_missing(tmp_path: Path) -> None:
    house = House(tmp_path, tapping="")

    assert "tapping system" in (house.text("reminders on 14", WANDA, at(3, 9)).text or "")


@settings(deadline=None, max_examples=40)  # each example is a farm of its own on the disk
@given(minutes=st.lists(st.integers(0, 3 * 24 * 60 - 1), min_size=1, max_size=12), hour=st.integers(6, 20))
def test_whenever_it_runs_nothing_goes_out_between_21_and_6(
    tmp_path_factory: pytest.TempPathFactory, minutes: list[int], hour: int
) -> None:
    house = House(tmp_path_factory.mktemp("farm"), reminder_hour=hour)

    for minute in sorted(minutes):
        now = at(3, 0) + timedelta(minutes=minute)
        assert house.run(now) == [] or 6 <= now.hour < 21
    keys = [each.key for each in house.sent]
    assert len(keys) == len(set(keys))
    house.books.close()


def test_the_clock_is_the_farms(house: House) -> None:
    assert house.run(datetime(2026, 3, 3, 6, 59, tzinfo=UTC)) == []
    assert house.run(datetime(2026, 3, 3, 7, 0, tzinfo=UTC)) == [TOBIN, MALEE]


@pytest.mark.parametrize("text", ["reminder block 1 18 litres", "reminder: rain, no tapping", "remind me, sick today"])
def test_a_report_that_speaks_of_a_reminder_is_a_report(house: House, text: str) -> None:
    assert house.text(text, TOBIN, at(3, 9)).kind is Kind.ENTERED


@pytest.mark.parametrize(
    ("language", "on", "off"),
    [
        ("en", "reminders on 16", "reminders off"),
        ("fr", "rappels à 16h", "pas de rappels"),
        ("id", "pengingat jam 16", "matikan pengingat"),
        ("th", "เตือน 16", "ไม่ต้องเตือน"),
        ("vi", "nhac luc 16", "tat nhac"),
        ("es", "recordatorios a las 16", "sin recordatorios"),
    ],
)
def test_the_owner_switches_in_his_own_language(house: House, language: str, on: str, off: str) -> None:
    with house.books.transaction() as tx:
        wanda = people.person_by_number(tx, WANDA)
        assert wanda is not None
        people.set_language(tx, wanda.id, language)

    hours = []
    for text in (on, off):
        assert house.text(text, WANDA, at(3, 9)).kind is Kind.CHANGED
        with house.books.transaction() as tx:
            hours.append(farms.farm(tx, house.farm.id).settings.reminder_hour)

    assert hours == [16, None]


class Page:
    """The owner's form of settings."""

    def __init__(self, house: House) -> None:
        self.house, self.n = house, 0

    def keep(self, **changes: str) -> int | None:
        """Send the form with these changes; the hour that is kept then."""
        self.n += 1
        now, farm_id = at(3, 9, self.n), self.house.farm.id
        made = self._form() | changes
        incoming = Incoming(f"p{self.n}", WANDA, "settings", now, now, "page")
        act(self.house.books, incoming, now, farm_id, lambda desk: change_settings(desk, made))
        with self.house.books.transaction() as tx:
            return farms.farm(tx, farm_id).settings.reminder_hour

    def _form(self) -> dict[str, str]:
        with self.house.books.transaction() as tx:
            now = farms.farm(tx, self.house.farm.id).settings
        shown = {name: getattr(now, name) for name in SETTINGS}
        return {name: "" if value is None else str(value) for name, value in shown.items()}


def test_the_owner_switches_on_his_page(house: House) -> None:
    page = Page(house)

    assert [page.keep(reminder_hour=hour) for hour in ("16", "", "7")] == [16, None, 7]
    with pytest.raises(CannotChange, match="from 6 to 20"):
        page.keep(reminder_hour="22")


@pytest.mark.parametrize("tapping", ["S/2 d2 6d/7", "S/2 d3 6d/7", "S/2 d2 d3 6d/7", "S/2 d4", "S/2 d7", "S/2 2d3"])
def test_tapping_days_of_the_farm_are_those_of_all_tasks(house: House, tapping: str) -> None:
    """Against the calendar that counts the days of each task from the first."""
    weekday = None if "6d/7" not in tapping and tapping != "S/2 d7" else 6
    farm = replace(house.farm, settings=replace(house.farm.settings, tapping=tapping, rest_weekday=weekday))
    (calendar,) = calendars(farm)

    for n in range(-3, 60):
        day = calendar.start + timedelta(days=n)
        assert is_tapping_day(farm, day) == bool(due_tasks(calendar, day)), day


def test_a_text_that_would_come_too_late_is_not_taken_to_be_sent(house: House) -> None:
    with house.books.transaction() as tx:
        moments = {"due_at": at(3, 14), "created_at": at(3, 14), "not_after": at(3, 21)}
        outbox.put(tx, to=TOBIN, text="hello", parts=1, because=None, **moments)

        assert outbox.claim(tx, at(3, 21)) is None
        assert outbox.claim(tx, at(3, 20, 59)) is not None

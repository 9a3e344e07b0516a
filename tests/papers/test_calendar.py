"""The calendar feed: read with a general library, its days counted out by another, its form that of RFC 5545."""

from datetime import date, timedelta

import icalendar
import pytest
from dateutil.rrule import DAILY, MO, SA, SU, WEEKLY, rrule

from bot.carriers.practice import text_as
from bot.papers.refusal import PaperRefused
from bot.papers.shelf import Paper, Wish
from bot.papers.tapping_feed import panel_changes
from bot.rubber.notation import read
from tests.papers.conftest import NOW, House

START = date(2026, 3, 2)  # a Monday
END = START + timedelta(days=120)


def events(content: bytes) -> list[tuple[date, str]]:
    return [
        (each.decoded("dtstart"), str(each["summary"])) for each in icalendar.Calendar.from_ical(content).walk("VEVENT")
    ]


def feed(house: House, tapping: str, **settings: object) -> bytes:
    house.set(tapping=tapping, tapping_from=START.isoformat(), **settings)
    return house.paper(Wish(Paper.CALENDAR, first=START, last=END)).content


def days(found: list[tuple[date, str]], task: str) -> list[date]:
    return [day for day, words in found if f"task {task}" in words]


def test_every_second_day_is_every_second_day(house: House) -> None:
    found = events(feed(house, "S/2 d2 7d/7"))

    counted = rrule(DAILY, interval=2, dtstart=START, until=END)
    assert days(found, "A") == [each.date() for each in counted]
    assert days(found, "B") == [each.date() + timedelta(days=1) for each in counted if each.date() < END]


def test_every_third_day_of_six_in_a_week_falls_on_the_same_two_weekdays(house: House) -> None:
    found = events(feed(house, "S/2 d3 6d/7", rest_weekday=6))

    monday_thursday = rrule(WEEKLY, byweekday=(MO, MO.__class__(3)), dtstart=START, until=END)
    wednesday_saturday = rrule(WEEKLY, byweekday=(MO.__class__(2), SA), dtstart=START, until=END)
    assert days(found, "A") == [each.date() for each in monday_thursday]
    assert days(found, "C") == [each.date() for each in wednesday_saturday]
    assert not any(day.weekday() == SU.weekday for day, _ in found)


def test_the_form_is_that_of_the_standard(house: House) -> None:
    content = feed(house, "S/2 d3 6d/7", rest_weekday=6)
    lines = content.split(b"\r\n")

    assert lines[0] == b"BEGIN:VCALENDAR"
    assert lines[-2:] == [b"END:VCALENDAR", b""]
    assert b"\n" not in content.replace(b"\r\n", b"")
    assert max(map(len, lines)) <= 75  # RFC 5545, 3.1: octets of a line
    found = icalendar.Calendar.from_ical(content)
    assert found["version"] == "2.0"
    for each in found.walk("VEVENT"):  # RFC 5545, 3.6.1: UID and DTSTAMP are required; a day ends where the next begins
        assert each.decoded("dtend") - each.decoded("dtstart") == timedelta(days=1)
        assert each.decoded("dtstamp").utcoffset() == timedelta(0)
    keys = [str(each["uid"]) for each in found.walk("VEVENT")]
    assert len(set(keys)) == len(keys)


def test_the_same_day_has_the_same_key_each_time(house: House) -> None:
    def keys(first: date) -> set[str]:
        content = house.paper(Wish(Paper.CALENDAR, first=first, last=END)).content
        return {str(each["uid"]) for each in icalendar.Calendar.from_ical(content).walk("VEVENT")}

    feed(house, "S/2 d3 6d/7", rest_weekday=6)
    assert keys(START + timedelta(days=30)) < keys(START)


@pytest.mark.parametrize(
    ("turns", "expected"),
    [
        ("(9m,3m)", [("2026-12-02", 1), ("2027-03-02", 0), ("2027-12-02", 1), ("2028-03-02", 0)]),
        ("(6m,6m)", [("2026-09-02", 1), ("2027-03-02", 0), ("2027-09-02", 1), ("2028-03-02", 0)]),
        ("(y,y)", [("2027-03-02", 1), ("2028-03-02", 0)]),
        ("(t,t)", []),
        ("", []),
    ],
)
def test_the_cut_changes_where_the_notation_says_how_long_each_is_tapped(
    turns: str, expected: list[tuple[str, int]]
) -> None:
    system = read(f"S/2 d3 {turns}".strip()).systems[0]

    found = panel_changes(system, START, date(2028, 6, 1))
    assert [(day.isoformat(), number) for day, number in found] == expected


def test_ends_of_months_do_not_creep() -> None:
    system = read("S/2 d3 (m,m)").systems[0]

    found = [day.day for day, _ in panel_changes(system, date(2026, 1, 31), date(2026, 12, 31))]
    assert found == [28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31]


def test_a_change_of_panel_is_in_the_feed_by_its_name(house: House) -> None:
    house.set(tapping="S/2 d3 6d/7 (9m,3m) BO-1,BI-1", tapping_from=START.isoformat(), rest_weekday=6)
    content = house.paper(Wish(Paper.CALENDAR, first=START, last=date(2026, 12, 31))).content

    assert (date(2026, 12, 2), "Change the cut: BI-1") in events(content)


def test_the_end_of_bark_that_was_measured_is_in_the_feed(house: House) -> None:
    house.set(tapping="S/2 d3", tapping_from=START.isoformat())
    text_as(house.books, house.owner.number, "block 3 bark 3.5 cm", NOW)

    found = [(day, words) for day, words in events(feed(house, "S/2 d3")) if "Bark" in words]

    # 35 mm at 1.73 mm are 20 tappings, at d3 three days each.
    assert found == [(NOW.date() + timedelta(days=60), "Bark of B3 ends: open the next panel")]


def test_a_farm_without_a_system_or_with_one_that_makes_no_calendar_is_told_why(house: House) -> None:
    with pytest.raises(PaperRefused, match="set tapping"):
        house.paper(Wish(Paper.CALENDAR))
    with pytest.raises(PaperRefused, match="makes no calendar"):
        feed(house, "S/2 d3 7d/7", rest_weekday=6)

"""The tapping calendar, making days up, and gaps."""

from datetime import date, time, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bot.rubber.calendar import (
    Calendar,
    CalendarError,
    due_tasks,
    is_due,
    next_day,
    tapping_calendar,
    tapping_days,
    tasks_in_turn,
)
from bot.rubber.intensity import IncompleteSystemError, intensity, tappers_needed, total_intensity
from bot.rubber.notation import read
from bot.rubber.recovery import NEXT_DAY, NO_RECOVERY, RecoveryRule, gap, recovery_day, tasks_by_letter
from bot.rubber.start_hour import after_start_loss, start_hour
from bot.rubber.tapping_system import TappingSystem
from bot.rubber.wintering import leaf_rest

MONDAY = date(2026, 3, 2)
SUNDAY = 6


def days(*numbers: int, month: int = 3) -> tuple[date, ...]:
    return tuple(date(2026, month, number) for number in numbers)


def system(text: str) -> TappingSystem:
    (only,) = read(text).systems
    return only


def calendar(
    text: str, *, start: date = MONDAY, rest: tuple[int, ...] = (SUNDAY,), lost: tuple[date, ...] = ()
) -> Calendar:
    return tapping_calendar(system(text), start, rest, lost=lost)


@pytest.mark.parametrize(
    ("text", "task", "expected"),
    [
        ("S/2 d2", 0, days(2, 4, 6, 9, 11, 13)),
        ("S/2 d3", 0, days(2, 5, 9, 12)),
        ("S/2 2d3", 0, days(2, 3, 5, 6, 9, 10, 12, 13)),
        ("S/2 2d3", 2, days(2, 4, 5, 7, 9, 11, 12, 14)),
        ("S/3 d1 2d3", 0, days(2, 3, 5, 6, 9, 10, 12, 13)),
        ("S/2 d2 d3", 0, days(2, 4, 7, 10, 13)),
        ("S/2 d4 (t,t)", 0, days(2, 4, 6, 9, 11, 13)),
        ("S/2 d2.5", 0, days(2, 4, 7, 10, 13)),
        ("S/2 d0.5", 0, days(2, 3, 4, 5, 6, 7, 9, 10, 11, 12, 13, 14)),
        ("S/2 d14", 1, days(3)),
    ],
)
def test_a_fortnight_of_tapping(text: str, task: int, expected: tuple[date, ...]) -> None:
    assert expected == tapping_days(calendar(text), MONDAY, date(2026, 3, 15), task)


def test_rest_days_come_every_seventh_day_when_none_is_named() -> None:
    plan = calendar("S/2 d1 6d/7", start=date(2026, 3, 4), rest=())

    assert [day.day for day in tapping_days(plan, plan.start, date(2026, 3, 18))] == [
        *range(4, 10),
        *range(11, 17),
        18,
    ]


def test_months_that_the_notation_leaves_out_are_closed() -> None:
    plan = calendar("S/2 d3 6d/7 10m/12(MAY-FEB)", start=date(2026, 5, 4))
    tapped = tapping_days(plan, date(2026, 5, 1), date(2027, 6, 30))

    assert not {day.month for day in tapped} & {3, 4}
    assert tapped[-1].month == 6


def test_a_lost_day_puts_off_all_that_stands_behind_it() -> None:
    kept = tapping_days(calendar("S/2 d3"), MONDAY, date(2026, 3, 14))
    put_off = tapping_days(calendar("S/2 d3", lost=days(5)), MONDAY, date(2026, 3, 14))

    assert kept == days(2, 5, 9, 12)
    assert put_off == days(2, 6, 10, 13)


def test_a_lost_day_does_not_move_weekly_tapping() -> None:
    assert tapping_days(calendar("S/2 d7", lost=days(9)), MONDAY, date(2026, 3, 31)) == days(2, 16, 23, 30)


def test_each_task_in_turn_is_due_on_its_day() -> None:
    plan = calendar("S/2 d3 6d/7")

    assert [due_tasks(plan, MONDAY + timedelta(days=step)) for step in range(7)] == [
        (0,),
        (1,),
        (2,),
        (0,),
        (1,),
        (2,),
        (),
    ]
    assert tasks_by_letter(plan) == {"A": 0, "B": 1, "C": 2}


@pytest.mark.parametrize(("text", "tasks"), [("S/2 d2", 2), ("S/2 d3", 3), ("S/2 d6", 6), ("S/2 d7", 6), ("S/2 d1", 1)])
def test_tasks_that_fit_in_turn(text: str, tasks: int) -> None:
    assert tasks_in_turn(calendar(text)) == tasks


def test_the_next_day_of_a_task() -> None:
    plan = calendar("S/2 d3 6d/7")

    assert next_day(plan, date(2026, 3, 5)) == date(2026, 3, 9)
    assert next_day(plan, date(2026, 2, 1), task=2) == date(2026, 3, 4)
    assert is_due(plan, date(2026, 3, 9))
    assert not is_due(plan, date(2026, 3, 10))


def test_nothing_is_due_before_the_calendar_starts() -> None:
    assert tapping_days(calendar("S/2 d1"), date(2026, 1, 1), date(2026, 3, 1)) == ()


@pytest.mark.parametrize(
    ("text", "start", "rest", "reason"),
    [
        ("S/2 d3 6d/7", date(2026, 3, 1), [SUNDAY], "Sunday 01 March 2026 is no day of work"),
        ("S/2 d3 7d/7", MONDAY, [SUNDAY], "do not fit 7d/7"),
        ("S/2 d3 6d/7", MONDAY, [5, 6], "do not fit 6d/7"),
        ("S/2 d3", MONDAY, [7], "weekdays, 0"),
        ("S/2 d3", MONDAY, range(7), "not all"),
    ],
)
def test_an_impossible_calendar_is_refused(text: str, start: date, rest: list[int], reason: str) -> None:
    with pytest.raises(CalendarError, match=reason):
        tapping_calendar(system(text), start, rest)


def test_a_task_without_room_is_refused() -> None:
    with pytest.raises(CalendarError, match="not one of 0 to 2"):
        tapping_days(calendar("S/2 d3"), MONDAY, MONDAY, task=3)


def test_a_calendar_closed_all_year_has_no_next_day() -> None:
    plan = Calendar(system("S/2 d3"), MONDAY, closed_months=frozenset(range(1, 13)))

    with pytest.raises(CalendarError, match="no tapping day within"):
        next_day(plan, MONDAY)


@pytest.mark.parametrize("text", ["S/2", "S/2 6d/7"])
def test_without_a_frequency_there_is_no_calendar_and_no_intensity(text: str) -> None:
    with pytest.raises(IncompleteSystemError, match="how often"):
        tapping_calendar(system(text), MONDAY)
    with pytest.raises(IncompleteSystemError, match="how often"):
        intensity(system(text))


@given(
    st.sampled_from(["d1", "d2", "d3", "d4", "d5", "d6", "d7", "2d3", "3d4", "d2 d3"]),
    st.integers(0, 500),
    st.integers(0, 6),
)
def test_tasks_in_turn_share_the_working_days_and_meet_the_frequency(frequency: str, length: int, rest: int) -> None:
    start = MONDAY + timedelta(days=(rest + 1) % 7)
    plan = tapping_calendar(system(f"S/2 {frequency} 6d/7"), start, [rest])
    last = start + timedelta(days=length)
    tapped = [tapping_days(plan, start, last, task) for task in range(tasks_in_turn(plan))]

    assert all(plan.works(day) for task in tapped for day in task)
    longest, shortest = max(map(len, tapped)), min(map(len, tapped))
    assert longest - shortest <= 2


# Making days up


def test_no_day_is_made_up_where_the_rule_says_never() -> None:
    assert recovery_day(calendar("S/2 d3"), MONDAY, NO_RECOVERY).reason == "not by the farm's rule"


def test_the_next_day_serves_where_it_is_free() -> None:
    recovery = recovery_day(calendar("S/2 d3"), MONDAY, NEXT_DAY)

    assert (recovery.day, recovery.reason) == (date(2026, 3, 3), "made up")


def test_a_tapper_with_three_tasks_has_only_the_rest_day() -> None:
    plan, tasks = calendar("S/2 d3 6d/7"), (0, 1, 2)
    on_rest_days = RecoveryRule(3, on_rest_days=True)

    assert recovery_day(plan, date(2026, 3, 6), RecoveryRule(3), 1, tasks).reason == "no free day"
    assert recovery_day(plan, date(2026, 3, 6), on_rest_days, 1, tasks).day == date(2026, 3, 8)


def test_a_missed_day_is_not_made_up_once_the_task_is_due_again() -> None:
    assert recovery_day(calendar("S/2 d1"), MONDAY, RecoveryRule(5)).reason == "no free day"


def test_more_than_three_make_up_tappings_a_month_are_too_many() -> None:
    made_up = days(3, 10, 17)

    assert recovery_day(calendar("S/2 d7"), date(2026, 3, 23), NEXT_DAY, made_up=made_up).reason == "enough this month"
    assert recovery_day(calendar("S/2 d7"), date(2026, 3, 30), RecoveryRule(3), made_up=made_up).day is None
    assert recovery_day(calendar("S/2 d7"), date(2026, 4, 6), NEXT_DAY, made_up=made_up).day == date(2026, 4, 7)


def test_a_rule_below_zero_is_refused() -> None:
    with pytest.raises(ValueError, match="below 0"):
        RecoveryRule(-1)


# Gaps


@pytest.mark.parametrize(
    ("last", "today", "kind", "missed", "due"),
    [
        (2, 2, "waiting", (), 5),
        (2, 4, "waiting", (), 5),
        (2, 5, "due", (), 5),
        (2, 6, "behind", (5,), 9),
        (2, 12, "behind", (5, 9), 12),
        (2, 31, "behind", (5, 9, 12, 16, 19, 23, 26, 30), 33),
    ],
)
def test_the_days_since_the_last_tapping(last: int, today: int, kind: str, missed: tuple[int, ...], due: int) -> None:
    found = gap(calendar("S/2 d3"), date(2026, 3, last), date(2026, 3, today))

    assert (found.kind, found.missed) == (kind, days(*missed))
    assert found.due == date(2026, 3, 1) + timedelta(days=due - 1)
    assert found.days == today - last


def test_a_month_without_tapping_is_a_new_start() -> None:
    assert gap(calendar("S/2 d3"), date(2026, 3, 2), date(2026, 4, 1)).kind == "new start"


def test_a_tapping_in_the_future_is_refused() -> None:
    with pytest.raises(ValueError, match="after today"):
        gap(calendar("S/2 d3"), date(2026, 3, 3), MONDAY)


# Intensity, hours, rest


def test_a_mini_cut_needs_the_girth() -> None:
    assert intensity(system("Mc2 d1"), girth_cm=50).nominal_percent == pytest.approx(16)
    with pytest.raises(IncompleteSystemError, match="girth"):
        intensity(system("Mc2 d1"))


def test_months_without_tapping_lower_what_is_scheduled() -> None:
    found = intensity(system("S/2 d3 6d/7 9m/12"))

    assert found.tappings_a_year == 78
    assert found.scheduled_percent == pytest.approx(100 * 2 / 3 * 6 / 7 * 9 / 12)
    assert any("from memory" in source for source in found.sources)


def test_two_intervals_in_turn_count_as_two_tappings_in_both() -> None:
    assert intensity(system("S/2 d2 d3")).nominal_percent == 80


def test_a_day_is_not_made_up_in_a_closed_month_or_on_a_lost_day() -> None:
    plan = tapping_calendar(system("S/2 d7"), MONDAY, [], closed_months=[4], lost=[date(2026, 3, 17)])

    assert recovery_day(plan, date(2026, 3, 16), NEXT_DAY).reason == "no free day"
    assert recovery_day(plan, date(2026, 3, 31), NEXT_DAY).reason == "no free day"


def test_systems_merely_listed_have_no_common_intensity() -> None:
    with pytest.raises(IncompleteSystemError, match="listed"):
        total_intensity(read("S/2 d3; S/4U d3"))


def test_an_area_of_nothing_needs_no_answer() -> None:
    with pytest.raises(ValueError, match="above 0"):
        tappers_needed(0, 1, system("S/2 d3"))


@given(st.times(), st.sampled_from([None, "Thailand"]))
def test_every_hour_has_a_loss_within_the_table(at: time, region: str | None) -> None:
    found = start_hour(at, region)  # type: ignore[arg-type]

    assert 0 <= found.loss_low_percent <= found.loss_high_percent <= 31


@given(st.times())
def test_elsewhere_the_range_holds_the_thai_figure(at: time) -> None:
    thai, elsewhere = start_hour(at, "Thailand"), start_hour(at)

    assert elsewhere.loss_low_percent <= thai.loss_low_percent
    assert thai.loss_high_percent <= elsewhere.loss_high_percent


def test_a_crop_below_nothing_is_refused() -> None:
    with pytest.raises(ValueError, match="below 0 kg"):
        after_start_loss(-1, start_hour(time(7)))


def test_a_farm_may_rest_its_block_later() -> None:
    assert leaf_rest(40, 100, limit_percent=50).what == "flushing trees"
    with pytest.raises(ValueError, match="flushing trees"):
        leaf_rest(5, 4)

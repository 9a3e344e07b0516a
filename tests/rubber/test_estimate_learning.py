"""What the estimate learns from readings and weighed batches, one thing at a time."""

from datetime import date, timedelta
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bot.rubber.estimate import Batch, Event, Latex, Method, Reading, expect, kept_word, prior, refit, surprises
from bot.rubber.filtering import Kind, Learned, Observation, foresee, learn
from bot.rubber.latex import dry_kg_from_litres
from bot.rubber.reference import value

DAY = date(2026, 3, 2)


def on(days: int, block: str = "3", litres: float = 18, *, rain: bool = False, since: int | None = None) -> Latex:
    return Latex(DAY + timedelta(days=days), block, litres, rain, since)


def weighed(days: int, drc: float, *latex: Latex) -> Batch:
    latex = latex or (on(days),)
    return Batch(f"batch {days}", latex, sum(dry_kg_from_litres(each.litres, drc) for each in latex))


def many(drc: float, count: int, first: int = 0) -> list[Event]:
    return [weighed(first + number, drc) for number in range(count)]


def drc_of(events: list[Event], latex: Latex) -> float:
    return expect(refit(events), [latex]).drc_percent


def test_nothing_known_is_the_usual_drc_with_the_published_spread() -> None:
    found = expect(refit([]), [on(0)])

    assert found.drc_percent == pytest.approx(33)
    assert found.dry_kg == pytest.approx(dry_kg_from_litres(18, 33))
    assert 27 < found.drc_low < 29
    assert 37 < found.drc_high < 39
    assert found.observations == 0


def test_the_two_spreads_of_the_prior_make_the_published_one() -> None:
    both = value("estimate_farm_spread") ** 2 + value("estimate_block_spread") ** 2

    assert both**0.5 == pytest.approx(value("drc_spread"), abs=0.05)


def test_a_farm_may_start_from_its_own_drc() -> None:
    assert expect(prior(30), [on(0)]).drc_percent == pytest.approx(30)
    assert expect(refit(many(30, 1), start=prior(30)), [on(1)]).drc_percent == pytest.approx(30)


def test_ten_weighed_batches_bring_the_estimate_to_the_truth() -> None:
    assert drc_of(many(29, 10), on(10)) == pytest.approx(29, abs=0.4)


def test_each_batch_narrows_the_range() -> None:
    widths = [
        found.dry_kg_high - found.dry_kg_low
        for count in (0, 1, 5, 20)
        for found in [expect(refit(many(33, count)), [on(count)])]
    ]

    assert widths == sorted(widths, reverse=True)
    assert widths[-1] < widths[0] / 2


def test_a_batch_of_two_blocks_teaches_both_and_a_third_a_little() -> None:
    learned = refit([weighed(0, 28, on(0, "3"), on(0, "5"))])
    third, fifth, seventh = (expect(learned, [on(1, block)]).drc_percent for block in ("3", "5", "7"))

    assert third == pytest.approx(fifth)
    assert third < seventh < 33


def test_blocks_that_were_only_weighed_together_are_known_better_together() -> None:
    learned = refit([weighed(day, 30, on(day, "3"), on(day, "5")) for day in range(10)])
    both = expect(learned, [on(10, "3"), on(10, "5")])
    one = expect(learned, [on(10, "3", 36)])

    assert both.dry_kg_high - both.dry_kg_low < one.dry_kg_high - one.dry_kg_low


def test_a_laboratory_counts_more_than_a_hydrometer() -> None:
    by_laboratory = [Reading("1", on(0), 38, Method.LABORATORY)]
    by_hydrometer = [Reading("1", on(0), 38)]

    assert drc_of(by_laboratory, on(1)) > drc_of(by_hydrometer, on(1)) > 33


def test_a_hydrometer_that_the_scales_contradict_is_found_to_be_off() -> None:
    events: list[Event] = []
    for day in range(20):
        events += [weighed(day, 32), Reading(f"reading {day}", on(day), 35)]
    learned = refit(events)
    told = expect(learned, [on(20)], [Reading("new", on(20), 35)])

    assert expect(learned, [on(20)]).drc_percent == pytest.approx(32, abs=0.4)
    assert told.drc_percent == pytest.approx(32, abs=0.4)


def test_a_second_hydrometer_does_not_inherit_the_fault_of_the_first() -> None:
    events: list[Event] = []
    for day in range(20):
        events += [weighed(day, 32), Reading(f"reading {day}", on(day), 35, instrument="old")]
    learned = refit(events)
    old, new = (expect(learned, [on(20)], [Reading("new", on(20), 36, instrument=name)]) for name in ("old", "new"))

    assert new.drc_percent > old.drc_percent


def test_a_reading_of_the_day_narrows_the_days_range() -> None:
    learned = refit(many(33, 10))
    plain = expect(learned, [on(10)])
    told = expect(learned, [on(10)], [Reading("lab", on(10), 35, Method.LABORATORY)])

    assert told.dry_kg_high - told.dry_kg_low < plain.dry_kg_high - plain.dry_kg_low
    assert plain.drc_percent < told.drc_percent < 35


def test_a_reading_of_the_day_tells_nothing_of_another_blocks_day() -> None:
    learned = refit(many(33, 10))
    reading = Reading("lab", on(10, "3"), 37, Method.LABORATORY)
    own, other = (expect(learned, [on(10, block)], [reading]).drc_percent for block in ("3", "5"))

    assert own > other


def test_rain_widens_the_range_and_is_not_given_a_figure_before_it_is_known() -> None:
    dry, wet = (expect(refit([]), [on(0, rain=rain)]) for rain in (False, True))

    assert wet.drc_percent == pytest.approx(dry.drc_percent)
    assert wet.dry_kg_high - wet.dry_kg_low > dry.dry_kg_high - dry.dry_kg_low


def test_what_rain_takes_is_learned_from_the_farm() -> None:
    events: list[Event] = []
    for day in range(20):
        wet = day % 3 == 0
        events.append(weighed(day, 29 if wet else 33, on(day, rain=wet)))
    learned = refit(events)

    assert expect(learned, [on(20, rain=True)]).drc_percent == pytest.approx(29, abs=0.8)
    assert expect(learned, [on(20)]).drc_percent == pytest.approx(33, abs=0.8)


def test_what_stimulation_takes_is_learned_and_wears_off() -> None:
    events: list[Event] = []
    for day in range(60):
        since = day % 30
        left = max(0.0, 1 - since / 21)
        events.append(weighed(day, 34 - 3 * left, on(day, since=since)))
    learned = refit(events)
    fresh, gone, unknown = (expect(learned, [on(60, since=since)]).drc_percent for since in (0, 25, None))

    assert fresh < gone - 1.5
    assert gone == unknown


def test_a_gap_widens_the_range() -> None:
    learned = refit(many(33, 10))
    soon, late = (expect(learned, [on(day)]) for day in (10, 70))

    assert late.dry_kg_high - late.dry_kg_low > 1.1 * (soon.dry_kg_high - soon.dry_kg_low)


def test_a_weight_typed_ten_times_too_large_is_noticed_and_hardly_counts() -> None:
    right = many(33, 10)
    slip = Batch("slip", (on(10),), 58.3)
    learned = refit([*right, slip])

    assert [each.key for each in surprises(learned)] == ["slip"]
    assert surprises(learned)[0].deviations > 10
    assert surprises(learned)[0].expected.high < 58.3
    assert expect(learned, [on(11)]).drc_percent == pytest.approx(drc_of(right, on(11)), abs=0.3)


def test_a_block_that_jumps_is_followed_after_its_second_surprise() -> None:
    events = [*many(34, 15), *many(26, 3, first=15)]

    assert len(surprises(refit(events))) >= 1
    assert drc_of(events, on(18)) == pytest.approx(26, abs=1.5)


def test_an_entry_corrected_later_changes_what_follows() -> None:
    wrong, right = many(33, 6), many(33, 6)
    wrong[2] = weighed(2, 25)

    assert drc_of(wrong, on(6)) < drc_of(right, on(6)) - 0.3
    assert drc_of(right, on(6)) == pytest.approx(33, abs=0.01)


@given(st.randoms(use_true_random=False))
@settings(max_examples=20)
def test_the_order_in_which_events_arrive_does_not_matter(random: Random) -> None:
    events: list[Event] = [*many(31, 8), *(Reading(f"r{day}", on(day), 33) for day in range(8))]
    shuffled = list(events)
    random.shuffle(shuffled)

    assert refit(shuffled).belief.mean == refit(events).belief.mean


def test_going_on_from_an_earlier_refit_gives_the_same() -> None:
    events = many(30, 12)
    whole, parts = refit(events), refit(events[7:], start=refit(events[:7]))

    assert parts.belief.mean == pytest.approx(whole.belief.mean)
    assert parts.reach == pytest.approx(whole.reach)
    assert kept_word(parts) == kept_word(whole)


def test_learning_leaves_what_it_started_from_alone() -> None:
    before = refit(many(30, 3))
    means = list(before.belief.mean)
    refit(many(36, 3, first=5), start=before)
    expect(before, [on(9)], [Reading("x", on(9), 40)])

    assert before.belief.mean == means


def test_the_record_counts_weighed_batches_only() -> None:
    events: list[Event] = [*many(33, 5), Reading("r", on(2), 33)]

    assert kept_word(refit(events)) == (5, 5)


def test_a_batch_of_several_days_counts_on_its_last() -> None:
    batch = weighed(2, 30, on(0), on(1), on(2))

    assert refit([batch]).day == on(2).day


@pytest.mark.parametrize(
    "wrong",
    [
        lambda: refit([Batch("b", (), 5)]),
        lambda: refit([Batch("b", (on(0),), 0)]),
        lambda: refit([Batch("b", (on(0),), float("nan"))]),
        lambda: expect(refit([]), [on(0, litres=0)]),
        lambda: expect(refit([]), []),
        lambda: refit(many(30, 1), start=refit(many(30, 1, first=5))),
        lambda: learn(Learned({"a": Kind(0, 1)}), [Observation("x", DAY, {("a", ""): 1.0}, 1.0, 0.0)]),
    ],
)
def test_what_cannot_be_learned_from_is_refused(wrong: object) -> None:
    with pytest.raises(ValueError):
        wrong()  # type: ignore[operator]


numbers = st.floats(-3, 3)
rows = st.lists(
    st.tuples(st.integers(0, 5), numbers, numbers, numbers, st.floats(0.05, 5), st.floats(-20, 20)),
    min_size=1,
    max_size=25,
)


@given(rows)
def test_covariance_stays_symmetric_and_no_sum_gets_a_negative_variance(
    drawn: list[tuple[int, float, float, float, float, float]],
) -> None:
    names = [("a", "1"), ("a", "2"), ("b", "")]
    learned = Learned({"a": Kind(0, 4, 0.1, 1), "b": Kind(1, 9)})
    day = DAY
    for number, (days, one, two, three, noise, seen) in enumerate(drawn):
        day += timedelta(days=days)
        weights = {name: weight for name, weight in zip(names, (one, two, three), strict=True) if abs(weight) > 0.01}
        if weights:
            observation = Observation(str(number), day, weights, seen, noise, tuple(weights)[:1], scored=True)
            learned = learn(learned, [observation])
    covariance = learned.belief.covariance
    for at, row in enumerate(covariance):
        assert row[at] >= 0
        for other, each in enumerate(row):
            assert each == pytest.approx(covariance[other][at], abs=1e-9)
    assert foresee(learned, day, dict.fromkeys(learned.belief.index, 1.0), 1e-9).variance > -1e-6

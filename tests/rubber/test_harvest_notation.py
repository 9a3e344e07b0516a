"""The tapping notation: what is read, remarked upon and refused, and that writing loses nothing."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bot.rubber.notation import NotationError, read
from bot.rubber.notation_meaning import meaning
from bot.rubber.notation_writing import write
from bot.rubber.tapping_system import (
    Application,
    Cut,
    Done,
    Frequency,
    Notation,
    Panel,
    Rounds,
    Season,
    Stimulation,
    TappingSystem,
    Turn,
    Week,
)


def test_a_full_notation_is_read_into_its_parts() -> None:
    (system,) = read("S/2 (RG) d3 6d/7 10m/12 (MAY-FEB) ET2.5% Pa1(1) 6/8/y(m) (90/104) BO-1,BO-2").systems

    assert system == TappingSystem(
        cut=Cut("S", Fraction(1, 2)),
        frequencies=(Frequency(1, Fraction(3)),),
        week=Week(6, 7),
        season=Season(10, 12, "m", 5, 2),
        rain_guard=True,
        stimulation=Stimulation(
            "ET",
            Fraction("2.5"),
            (Application("Pa", Fraction(1), Fraction(1)),),
            Rounds(per_year=8, given=6, every=1, unit="m"),
        ),
        done=Done(90, 104),
        panels=(Panel("B", "O", 1), Panel("B", "O", 2)),
    )


SAME = [
    ("1/2S d/3", "S/2 d3", "the style of 1983"),
    ("½S d/3", "S/2 d3", "a fraction in one character"),
    ("1/2 S d/3", "S/2 d3", "a space before the shape"),
    ("1/4S↑ d/3", "S/4U d3", "an arrow for the direction"),
    ("S/2D d3", "S/2 d3", "downward is the usual direction"),
    ("s/2 D3 6D/7", "S/2 d3 6d/7", "capitals and small letters"),
    ("2× 1/3S d/2 (t,t)", "2xS/3 d2 (t,t)", "a multiplication sign"),
    ("2S/2 d2 (t, t)", "2xS/2 d2 (t,t)", "two cuts without x"),
    ("S/2 3d/4", "S/2 3d4", "a slash, but not a week"),
    ("S/2 d/7", "S/2 d7", "weekly tapping, no leading number"),
    ("S/2 d2.6d/7", "S/2 d2 6d/7", "a point between items"),
    ("S/2 d1.1d/7", "S/2 d1 1d/7", "one working day a week"),
    ("S/2 d3 11m/y", "S/2 d3 11m/12", "months of the year"),
    ("S/2 d3 ET 2,5 % Pa 1 (1) 6/y (m)", "S/2 d3 ET2.5% Pa1(1) 6/y(m)", "decimal comma and spaces"),
    ("S/2 d3 B0-1, B1-2", "S/2 d3 BO-1,BI-2", "zero for O and one for I"),
    ("Ｓ／２　ｄ３", "S/2 d3", "full-width characters"),
]


@pytest.mark.parametrize(("text", "plain"), [row[:2] for row in SAME], ids=[row[2] for row in SAME])
def test_different_ways_of_writing_are_the_same_system(text: str, plain: str) -> None:
    assert plain == write(read(text))


REMARKED = [
    ("S2d2", "fraction", "S/2 d2"),
    ("S4 d3", "fraction", "S/4 d3"),
    ("S/2 d4 ET5% Ba 10y", "rounds", "S/2 d4 ET5% Ba 10/y"),
    ("S/2 d4 7d7", "week", "S/2 d4 7d/7"),
    ("S/2 d3 6d7", "week", "S/2 d3 6d/7"),
    ("S/2 d7 ET5% 8/y", "method", "S/2 d7 ET5% 8/y"),
    ("S/2 D 6d/7", "frequency", "S/2 6d/7"),
    ("S/2 d2 + rain guards (RG)", "rain guard", "S/2 (RG) d2"),
    ("S/2 d3 9m/12(MAY-FEB)", "season", "S/2 d3 9m/12(MAY-FEB)"),
]


@pytest.mark.parametrize(("text", "kind", "plain"), REMARKED)
def test_a_sloppy_spot_is_read_with_a_remark(text: str, kind: str, plain: str) -> None:
    notation = read(text)

    assert [kind] == [remark.kind for remark in notation.remarks]
    assert plain == write(notation)


REFUSED = [
    ("", "1 to 300 characters"),
    ("S/2 " + "d3 " * 200, "1 to 300 characters"),
    ("d3 S/2", "a cut, such as S/2"),
    ("S/2 +", "a cut, such as S/2"),
    ("S/0 d2", "cannot be 0"),
    ("3/2S d2", "3/2 of the girth"),
    ("Mc d2", "length in cm"),
    ("S/2 8d/7", "8 working days in 7"),
    ("S/2 0d/7", "0 working days in 7"),
    ("S/2 d3 13m/12", "13 of 12 months"),
    ("S/2 d3 0m/12", "0 of 12 months"),
    ("S/2 d3 5w/4", "5 of 4 weeks"),
    ("S/2 d0", "every 0 days"),
    ("S/2 5d/4", "5 tapping days in 4"),
    ("S/2 d2 d3 d4", "more than two frequencies"),
    ("S/2 d3 6d/7 6d/7", "said twice"),
    ("S/2 d3 Pa1(1) ET2.5%", "none, such as ET2.5%"),
    ("S/2 d3 6/y", "no stimulant"),
    ("S/2 d3 ET120%", "120%"),
    ("S/2 d3 ET0%", "0%"),
    ("S/2 d3 ET5% Pa0(1)", "cannot be 0"),
    ("S/2 d3 ET5% 6/y 8/y", "said twice"),
    ("S/2 d3 ET5% 9/8/y", "9 stimulations given of 8"),
    ("S/2 d3 (80/70)", "80 tappings done of 70"),
    ("S/2 d3 BO-0", "a panel cannot be 0"),
    ("S/2 d3 on Mondays", 'nothing known begins at "on Mondays"'),
]


@pytest.mark.parametrize(("text", "reason"), REFUSED)
def test_nonsense_is_refused_with_its_reason(text: str, reason: str) -> None:
    with pytest.raises(NotationError, match="as a tapping notation") as refusal:
        read(text)

    assert reason in str(refusal.value)


def test_the_place_where_reading_stopped_is_told() -> None:
    with pytest.raises(NotationError) as refusal:
        read("S/2 d3 6d/7 often")

    assert refusal.value.position == 12


def test_no_text_appears_twice_in_the_tables() -> None:
    texts = [row[0] for table in (SAME, REMARKED, REFUSED) for row in table]

    assert len(texts) == len(set(texts))


def test_every_part_is_told_in_plain_words() -> None:
    (system,) = read("2xS/2 (RG) d2 6d/7 10m/12(MAY-FEB) (t,t) ET2.5% Pa1(1.5) 6/8/y(2w) (70/104) HO-3").systems

    assert [part.meaning for part in meaning(system)] == [
        "2 cuts on the tree, each a half spiral cut, downward",
        "rain guard fitted",
        "tapped once in 2 days",
        "6 working days, then 1 rest day",
        "10 months of tapping in the year, MAY to FEB",
        "cuts tapped in turn, changed every tapping",
        "ethephon, 2.5% active ingredient",
        "on the panel, on the strip just tapped, 1 g a tree, on a band 1.5 cm wide",
        "6 given of 8 stimulations a year, every 2 weeks",
        "70 of 104 tappings were done",
        "high panel 3, virgin bark",
    ]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("S d1", "tapped every day"),
        ("S d0.5", "2 tappings a day"),
        ("S 2d3", "tapped on 2 days of every 3"),
        ("S d3 3w/4", "3 weeks of tapping in every 4"),
        ("S d3 7d/7", "every day of the week is worked"),
        ("S d3 (6m,6m)", "cuts tapped in turn, changed every 6 months"),
        ("S d3 (8m,4m)", "cuts tapped in turn, for 8 months and 4 months"),
        ("S d3 ET5% La 4/y(m)", "4 stimulations a year, monthly"),
        ("Mc2 d2", "mini-cut of 2 cm, downward"),
    ],
)
def test_the_meaning_of_rarer_parts(text: str, words: str) -> None:
    (system,) = read(text).systems

    assert words in [part.meaning for part in meaning(system)]


def halves(most: int) -> st.SearchStrategy[Fraction]:
    return st.integers(1, 2 * most).map(lambda number: Fraction(number, 2))


cuts = st.one_of(
    st.builds(
        Cut,
        st.sampled_from(["S", "V", "C"]),
        st.integers(1, 12).flatmap(lambda below: st.builds(Fraction, st.integers(1, below), st.just(below))),
        st.none(),
        st.sampled_from(["D", "U"]),
        st.integers(1, 4),
    ),
    st.builds(Cut, st.just("Mc"), st.none(), halves(10), st.sampled_from(["D", "U"]), st.integers(1, 3)),
)
frequencies = st.one_of(
    st.builds(Frequency, st.just(1), halves(14)),
    st.integers(2, 6).flatmap(lambda period: st.builds(Frequency, st.integers(2, period), st.just(Fraction(period)))),
)
seasons = st.one_of(
    st.builds(Season, st.integers(1, 12), st.just(12)),
    st.builds(Season, st.integers(1, 4), st.just(4), st.just("w")),
    st.builds(Season, st.integers(1, 12), st.just(12), st.just("m"), st.integers(1, 12), st.integers(1, 12)),
)
turns = st.builds(Turn, st.integers(1, 12), st.sampled_from(["t", "d", "w", "m", "y"]))
applications = st.builds(
    Application, st.sampled_from(["Pa", "Ba", "Ga", "La"]), st.none() | halves(5), st.none() | halves(5)
)
rounds = st.integers(1, 80).flatmap(
    lambda most: st.builds(
        lambda given_, interval: Rounds(most, given_, *interval),
        st.none() | st.integers(0, most),
        st.just((None, None)) | st.tuples(st.integers(1, 8), st.sampled_from(["w", "m"])),
    )
)
stimulations = st.builds(
    Stimulation,
    st.sampled_from(["ET", "RF", "ETG"]),
    st.none() | halves(100),
    st.lists(applications, max_size=2).map(tuple),
    st.none() | rounds,
)
panels = st.builds(Panel, st.sampled_from(["B", "H"]), st.sampled_from(["O", "I", "II"]), st.integers(1, 4))
systems = st.builds(
    TappingSystem,
    cuts,
    st.lists(frequencies, max_size=2).map(tuple),
    st.none() | st.builds(Week, st.integers(1, 7), st.just(7)) | st.builds(Week, st.integers(1, 14), st.just(14)),
    st.none() | seasons,
    st.none() | st.tuples(turns, turns),
    st.booleans(),
    st.none() | stimulations,
    st.none() | st.integers(1, 200).flatmap(lambda most: st.builds(Done, st.integers(0, most), st.just(most))),
    st.lists(panels, max_size=3).map(tuple),
)


@given(st.lists(systems, min_size=1, max_size=3), st.sampled_from(["+", ";"]), st.sampled_from(["2009", "1983"]))
def test_what_is_written_is_read_back_as_it_was(several: list[TappingSystem], joiner: str, style: str) -> None:
    notation = Notation(tuple(several), (joiner,) * (len(several) - 1))  # type: ignore[arg-type]

    again = read(write(notation, style))  # type: ignore[arg-type]

    assert (notation.systems, notation.joiners) == (again.systems, again.joiners)


@given(systems)
def test_every_system_has_a_meaning_for_each_part(system: TappingSystem) -> None:
    assert all(part.text and part.meaning for part in meaning(system))


@given(st.text("SVCMcdDU/0123456789 .,+;()xXRGETPaBaym%wtBO-I½↑ง", max_size=40))
def test_any_text_is_read_or_refused(text: str) -> None:
    try:
        notation = read(text)
    except NotationError:
        return
    assert notation.systems

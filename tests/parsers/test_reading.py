"""What the reader promises: any text is read, nothing is entered that the text does not say, and context is used."""

from datetime import date, datetime
from decimal import Decimal

import pytest
from babel import Locale
from hypothesis import given, settings
from hypothesis import strategies as st
from num2words import num2words

import parsers
from parsers.reading import Ask, Block, Entered, Intent, OpenQuestion, Reading, Reason, Record, Role, Setting, What
from parsers.sounds import sound
from parsers.spelling import bare, fold
from parsers.words import standard

SENT = datetime(2026, 3, 18, 10, 30)  # noqa: DTZ001 - the farm's own clock, as the reader is given it
WORDS = [
    "block",
    "3",
    "5",
    "18",
    "litres",
    "rain",
    "no",
    "tapping",
    "yesterday",
    "and",
    "not",
    "sorry",
    "lump",
    "kg",
    "drc",
    "33",
    "12.5",
    "?",
]
BLOCKS = {"3": Block(280, Decimal(16)), "5": Block(200, Decimal(12))}


def setting(language: str = "en", own: tuple[str, ...] = ("3", "5"), **more: object) -> Setting:
    return Setting(BLOCKS, Role.TAPPER, own, language, SENT, {"bucket": Decimal(12)}, **more)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("text", "language", "litres"),
    [
        ("block 3 18 litres rain", "en", 18),
        ("b3 18.5l", "en", Decimal("18.5")),
        ("bloc 3 dix-huit litres et demi", "fr", Decimal("18.5")),
        ("blok 3 delapan belas liter", "id", 18),
        ("แปลง 3 ๑๘ ลิตร", "th", 18),
        ("lô 3 mười tám lít rưỡi", "vi", Decimal("18.5")),
        ("lote 3 dieciocho litros", "es", 18),
        ("3 one bucket and a half", "en", 18),
    ],
)
def test_litres_are_read_in_every_language(text: str, language: str, litres: object) -> None:
    (record,) = parsers.read(text, setting(language)).records

    assert (What.LATEX, "3", litres) == (record.what, record.block, record.litres)


@settings(max_examples=300, deadline=None)
@given(text=st.text(max_size=200), language=st.sampled_from(["en", "fr", "id", "th", "vi", "es"]))
def test_any_text_is_read_without_an_error(text: str, language: str) -> None:
    assert parsers.read(text, setting(language)).intent in set(Intent)


@settings(max_examples=200, deadline=None)
@given(words=st.lists(st.sampled_from(WORDS), max_size=14))
def test_no_quantity_is_entered_that_the_text_does_not_hold(words: list[str]) -> None:
    said = {Decimal(word) for word in words if word[0].isdecimal()}

    for record in parsers.read(" ".join(words), setting()).records:
        assert {record.litres, record.kg} - {None} <= said


LANGUAGES = ["en", "fr", "id", "th", "vi", "es"]
#: A block without a usual volume, so that no number is out of bounds.
ONE_BLOCK = {"3": Block(None, None)}


def litres_of(words: str, language: str) -> Decimal | None:
    unit = {"th": "ลิตร", "vi": "lít"}.get(language, "l")
    alone = Setting(ONE_BLOCK, Role.TAPPER, ("3",), language, SENT)
    reading = parsers.read(f"{words} {unit}", alone)
    said = reading.records or reading.pending  # no litres at all are asked back
    return said[0].litres if said else None


@pytest.mark.parametrize("language", LANGUAGES)
def test_number_words_agree_with_num2words(language: str) -> None:
    """Oracle: the library num2words, 0 to 999 in every language."""
    wrong = [n for n in range(1000) if litres_of(num2words(n, lang=language), language) != n]

    assert wrong == []


@pytest.mark.parametrize("language", LANGUAGES)
def test_halves_in_words_agree_with_num2words(language: str) -> None:
    """Oracle: the library num2words, one and a half to 99 and a half in every language."""
    halves = [n + 0.5 for n in range(1, 100)]
    wrong = [half for half in halves if litres_of(num2words(half, lang=language), language) != Decimal(str(half))]

    assert wrong == []


@pytest.mark.parametrize("language", ["en", "fr", "id", "th", "es"])
def test_weekdays_and_months_agree_with_cldr(language: str) -> None:
    """Oracle: CLDR through Babel."""
    phrases = standard().of(language).phrases
    locale = Locale.parse(language)
    days = [name for name in locale.days["format"]["wide"].values()]
    months = [name for name in locale.months["format"]["wide"].values()]
    known = {key for key, found in phrases.items() if any(each.tag in ("weekday", "month") for each in found)}

    assert [name for name in days + months if bare(fold(name)) not in known] == []


def test_a_bare_pair_that_fits_both_ways_is_asked() -> None:
    both = Setting({"12": Block(1, Decimal(13)), "13": Block(1, Decimal(12))}, Role.TAPPER, ("12", "13"), "en", SENT)

    assert parsers.read("12 13", both).to_json()["ask"] == "block"


def test_an_implausible_volume_is_asked_back() -> None:
    assert parsers.read("block 3 180 l", setting()).to_json()["ask"] == "litres"


def test_a_correction_finds_the_entry_that_it_means() -> None:
    entry = Entered("e1", Record(What.LATEX, date(2026, 3, 17), "3", Decimal(18), rain=True), "Tobin", True, SENT)

    reading = parsers.read("yesterday block 3 was 17 not 18", setting(entered=(entry,), name="Tobin"))

    assert (reading.intent, reading.targets) == (Intent.FIX, ("e1",))
    assert (Decimal(17), True) == (reading.records[0].litres, reading.records[0].rain)


@pytest.mark.parametrize("word", ["STOP", "stop.", "Unsubscribe", "END", "quit"])
def test_words_that_carriers_keep_are_never_ours(word: str) -> None:
    assert Intent.STOP is parsers.read(word, setting()).intent


def test_a_question_is_not_answered_with_a_block_of_somebody_else() -> None:
    waiting = parsers.read("block 9 18 l", setting("en", ("5",)))
    question = OpenQuestion(Ask.BLOCK, waiting, ("5",))

    assert parsers.read("3", setting("en", ("5",), question=question)).records == ()
    assert parsers.read("5", setting("en", ("5",), question=question)).records[0].block == "5"


def test_two_numbers_are_a_message_of_their_own_and_no_answer() -> None:
    waiting = parsers.read("18 l", setting())
    question = OpenQuestion(Ask.BLOCK, waiting, ("3", "5"))

    reading = parsers.read("3 180", setting(question=question))

    assert (reading.records, reading.answers) == ((), False)


def test_a_year_of_many_figures_is_a_day_that_has_to_be_asked() -> None:
    assert parsers.read("14/12/20252020252025 block 3 16 litres", setting()).to_json()["ask"] == "day"


def test_the_explanation_shows_words_candidates_and_margin() -> None:
    lines = parsers.explain("blcok 3 18 rian, 5 12", setting())

    assert lines[0].startswith("words: blcok = block (slip for block); 3 = 3 or own_block 3")
    assert any(line.startswith("0.") and "18 litres, 5 block, 12 litres" in line for line in lines)
    assert any("a lead of 0.6 is needed" in line for line in lines)
    assert lines[-1] == "outcome: log, 2 to enter"


SAFE = [
    ("north 18 litres, south blorp there", {"north": 20, "south": 20}, "a block of which nothing is understood"),
    ("north 18 litres north 4 litres", {"north": 20, "south": 20}, "two figures for one block on one day"),
    ("the blorp band of 5 flimmers", {"north": 20}, "a lone number among words that mean nothing"),
    ("2 flaskets and 3 litres", {"north": 20}, "a vessel that nobody measured"),
    ("north 2 flaskets", {"north": 20}, "a count of things that are not known, far below what the block gives"),
    ("north 18 litres zerfish litres", {"north": 20}, "a unit whose number is not understood"),
    (
        "north 19 zwuk 22 litres, south 20 litres",
        {"north": 20, "south": 20},
        "a figure that is no part of what would be entered",
    ),
    ("25 zwuk north 19 litres", {"north": 20, "south": 20}, "a figure beside a block that may be its litres, too"),
    ("north 18 litres and blorpish", {"north": 20}, "something more than the litres that is not understood"),
    ("north 1 bucket 4 blorpish", {"north": 20}, "a figure behind a vessel in a unit that is not understood"),
    ("blorpish bucket", {"north": 20}, "a vessel behind a word that may be its number"),
    ("4 gave 18 litres", {"2": 20}, "the number of a block that is not the sender's"),
    ("from north 18 litres, from blorpish 22", {"north": 20, "south": 20}, "a figure behind a name that is not known"),
    ("north 16 litres, blorp north 14 litres south 17 litres", {"north": 20, "south": 20}, "a block that gave twice"),
]


@pytest.mark.parametrize(("text", "usual", "why"), SAFE, ids=[why for *_, why in SAFE])
def test_what_is_not_understood_is_asked_not_entered(text: str, usual: dict[str, int], why: str) -> None:
    mine = {name: Block(None, Decimal(litres)) for name, litres in usual.items()}
    blocks = mine | ({"4": Block(None, Decimal(20))} if "2" in mine else {})

    reading = parsers.read(text, Setting(blocks, Role.TAPPER, tuple(mine), "en", SENT, {"bucket": Decimal(10)}))

    assert reading.ask is not None, why
    assert not reading.records


def test_figures_that_were_all_taken_back_are_asked_for() -> None:
    alone = Setting(ONE_BLOCK, Role.TAPPER, ("3",), "en", SENT)

    assert parsers.read("33 litres no no 33 litres", alone).ask is not None


@pytest.mark.parametrize(
    ("text", "litres"),
    [
        ("2 buckets, remain 3 litres to be full", "17"),
        ("2 buckets and a litre", "21"),
        ("6 litres and 2 buckets", "26"),
        ("2 buckets less 1", "19"),
        ("2/3 bucket", "6.67"),
        ("1 bucket and 1/4", "12.5"),
        ("1 bucket + 4", "14"),
        ("1 bckt", "10"),
        ("21 litres minus a quarter", "20.75"),
        ("17 sorry 18", "18"),
        ("20 litres less one", "19"),
        ("less 2 litres one bucket", "8"),
    ],
)
def test_vessels_and_what_is_more_or_less(text: str, litres: str) -> None:
    alone = Setting(ONE_BLOCK, Role.TAPPER, ("3",), "en", SENT, {"bucket": Decimal(10)})

    reading = parsers.read(text, alone)

    assert [record.litres for record in reading.records] == [Decimal(litres)]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("north 25 litres south 14 litres east yesterday 17 litres", [("north", 18), ("south", 18), ("east", 17)]),
        ("on the 16th east 17 litres", [("east", 16)]),
        ("north 17 litres. 30 trees were left yesterday", [("north", 18)]),
    ],
)
def test_a_day_goes_with_what_it_stands_beside(text: str, said: list[tuple[str, int]]) -> None:
    blocks = {name: Block(None, Decimal(18)) for name in ("north", "south", "east")}

    reading = parsers.read(text, Setting(blocks, Role.TAPPER, tuple(blocks), "en", SENT))

    assert [(record.block, record.day.day) for record in reading.records if record.day] == said


def test_a_block_that_was_wrong_is_moved_and_no_litres_are_read_from_its_number() -> None:
    held = Entered("e1", Record(What.LATEX, SENT.date(), "3", litres=Decimal(16)), "Ana", True, SENT)

    reading = parsers.read("sorry not the 3, the 5", setting(entered=(held,)))

    assert reading.intent is Intent.FIX
    assert [(record.block, record.litres) for record in reading.records] == [("5", Decimal(16))]


def test_of_two_figures_the_one_that_stands_is_replaced_by_the_other() -> None:
    held = Entered("e1", Record(What.LATEX, SENT.date(), "3", litres=Decimal(17)), "Ana", True, SENT)

    reading = parsers.read("today's 17 was 16.5", setting(entered=(held,)))

    assert reading.targets == ("e1",)
    assert [record.litres for record in reading.records] == [Decimal("16.5")]


def test_what_is_asked_for_is_no_latex() -> None:
    reading = parsers.read("block 3 18 litres block 5 twelve and i need boots size 40", setting())

    assert [(record.block, record.litres) for record in reading.records] == [("3", 18), ("5", 12)]


def test_rolled_and_dry_sheets_of_one_text_are_two_lines() -> None:
    reading = parsers.read("rolled 22 sheets, 31 kg wet. dry ones from yesterday 40 sheets 36.5 kg", setting())

    assert [(record.what, record.count, record.kg) for record in reading.records] == [
        (What.SHEETS_ROLLED, 22, 31),
        (What.SHEETS_DRY, 40, Decimal("36.5")),
    ]


def test_yes_never_enters_litres_without_their_block() -> None:
    waits = Record(What.LATEX, SENT.date(), litres=Decimal(30))
    asked = OpenQuestion(Ask.LITRES, Reading(Intent.LOG, ask=Ask.LITRES, pending=(waits,)), ())

    assert parsers.read("yes", setting(question=asked)).records == ()


@pytest.mark.parametrize(
    ("text", "language"), [("Fw", "en"), ("ambek 52 lembar4 8,5 kg", "id"), ("24 shee24 sheets RSS2 price 640", "en")]
)
def test_texts_that_once_made_a_fault_are_read(text: str, language: str) -> None:
    for role in (Role.TAPPER, Role.COLLECTOR):
        parsers.read(text, Setting(BLOCKS, role, ("3", "5"), language, SENT))


@pytest.mark.parametrize(
    ("word", "name"),
    [("kdl", "Kidul"), ("wtn", "Wetan"), ("cbg", "Cabang"), ("ktr", None), ("kd", None)],
)
def test_a_block_is_known_by_its_consonants_where_no_other_has_them(word: str, name: str | None) -> None:
    names = ("Kidul", "Wetan", "Cabang", "Kantor", "Kitar")
    blocks = {each: Block(None, Decimal(20)) for each in names}

    reading = parsers.read(f"{word} 18 liter", Setting(blocks, Role.TAPPER, names, "id", SENT))

    assert [record.block for record in reading.records] == ([name] if name else [])


def test_pairs_of_bare_numbers_are_read_where_every_way_comes_to_the_same() -> None:
    blocks = {name: Block(None, Decimal(16)) for name in ("12", "14", "20")}

    reading = parsers.read("12 16 14 14 20 21", Setting(blocks, Role.TAPPER, tuple(blocks), "en", SENT))

    assert [(record.block, record.litres) for record in reading.records] == [("12", 16), ("14", 14), ("20", 21)]


def test_every_farm_of_a_text_keeps_its_own_name_spelt_as_it_was_texted() -> None:
    text = "K'Oro 35 sheets 31.2 kg rss4, Songa-Te 20 sheets 18 kg rss3"

    reading = parsers.read(text, Setting({}, Role.COLLECTOR, (), "en", SENT))

    assert [(record.farm, record.sheets) for record in reading.records] == [("K'Oro", 35), ("Songa-Te", 20)]


@pytest.mark.parametrize(
    ("typed", "meant", "language"), [("cassrol", "casserole", "fr"), ("rebuelto", "revuelto", "es")]
)
def test_words_spelt_by_ear_sound_as_those_that_are_meant(typed: str, meant: str, language: str) -> None:
    assert sound(typed, language) == sound(meant, language)


def test_a_name_behind_a_title_is_no_word_that_looks_like_it() -> None:
    reading = parsers.read("buenas don Rigo, el 3 dio 18 litros", Setting(ONE_BLOCK, Role.TAPPER, ("3",), "es", SENT))

    assert reading.intent is Intent.LOG


def test_acid_that_was_bought_takes_no_litres_from_the_latex_before_it() -> None:
    reading = parsers.read("block 3 22 litres. bought acid of 85%", Setting(ONE_BLOCK, Role.OWNER, ("3",), "en", SENT))

    assert [(record.what, record.litres) for record in reading.records] == [(What.LATEX, 22)]


@pytest.mark.parametrize(
    ("text", "language"),
    [("kada kawa manurih hujan", "id"), ("ฝนตก กรีด บ่ ได้", "th"), ("no pudimos rayar por la lluvia", "es")],
)
def test_a_no_and_a_word_for_tapping_are_a_day_without_it(text: str, language: str) -> None:
    reading = parsers.read(text, Setting(ONE_BLOCK, Role.TAPPER, ("3",), language, SENT))

    assert [(record.what, record.reason) for record in reading.records] == [(What.NO_TAPPING, Reason.RAIN)]


@pytest.mark.parametrize(
    ("text", "language", "litres"),
    [
        ("seven point two five litres", "en", "7.25"),
        ("dix litres moins 1 quart", "fr", "9.75"),
        ("hai ba lít", "vi", "23"),
        ("vingt et un litres", "fr", "21"),
    ],
)
def test_figures_as_they_are_spoken(text: str, language: str, litres: str) -> None:
    reading = parsers.read(text, Setting(ONE_BLOCK, Role.TAPPER, ("3",), language, SENT))

    assert [record.litres for record in reading.records] == [Decimal(litres)]


@pytest.mark.parametrize("text", ["giá rss3 53.500", "rss3 1 120 le kilo", "le rss3 est à mille cent vingt le kilo"])
def test_prices_in_thousands_are_read_whole(text: str) -> None:
    language = "vi" if text.startswith("giá") else "fr"

    reading = parsers.read(text, Setting({}, Role.COLLECTOR, (), language, SENT))

    assert [record.price for record in reading.records] == [Decimal(53500 if language == "vi" else 1120)]


def test_blocks_named_again_with_their_litres_are_paired_there() -> None:
    blocks = {name: Block(None, Decimal(12)) for name in ("P1", "P2")}
    text = "I tapped the P1 and the P2, then the P1 gave eleven litres and the P2 is twelve"

    reading = parsers.read(text, Setting(blocks, Role.TAPPER, tuple(blocks), "en", SENT))

    assert [(record.block, record.litres) for record in reading.records] == [("P1", 11), ("P2", 12)]


def test_what_a_forwarded_text_says_is_not_entered_again() -> None:
    blocks = {name: Block(None, Decimal(15)) for name in ("north", "south")}
    text = f"Fwd: [{SENT.day - 1:02}/{SENT.month:02} north 14 south 16] today north 15 south 16.5"

    reading = parsers.read(text, Setting(blocks, Role.TAPPER, tuple(blocks), "en", SENT))

    assert [(record.block, record.litres) for record in reading.records] == [("north", 15), ("south", Decimal("16.5"))]


def test_two_blocks_behind_one_word_are_blocks_and_no_litres() -> None:
    blocks = {name: Block(None, Decimal(15)) for name in ("12", "14")}

    reading = parsers.read("blocks 12 and 14 rest today", Setting(blocks, Role.OWNER, (), "en", SENT))

    assert [(record.what, record.block) for record in reading.records] == [
        (What.NO_TAPPING, "12"),
        (What.NO_TAPPING, "14"),
    ]


def test_an_hour_of_rain_is_no_litres_of_a_block_that_was_not_tapped() -> None:
    reading = parsers.read("raining from 4 so block 3 not tapped", Setting(ONE_BLOCK, Role.TAPPER, ("3",), "en", SENT))

    assert [(record.what, record.reason) for record in reading.records] == [(What.NO_TAPPING, Reason.RAIN)]


def test_a_number_that_is_dictated_word_by_word_is_a_phone_s() -> None:
    text = "lote 3 diecisiete litros llame al cinco cinco cuatro uno veintidós"

    reading = parsers.read(text, Setting(ONE_BLOCK, Role.TAPPER, ("3",), "es", SENT))

    assert [record.litres for record in reading.records] == [17]


def test_a_third_of_a_vessel_is_read_to_a_hundredth_of_a_litre() -> None:
    setting = Setting(ONE_BLOCK, Role.TAPPER, ("3",), "id", SENT, {"ember": Decimal(20)})

    assert [record.litres for record in parsers.read("dua pertiga ember", setting).records] == [Decimal("13.33")]

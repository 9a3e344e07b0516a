"""A farm begun by text: every answer checked, nothing in the books before the end, then the same rows as from a file."""

from datetime import UTC, datetime, timedelta
from decimal import Decimal
from pathlib import Path

import pytest
from babel.numbers import list_currencies
from hypothesis import given, settings
from hypothesis import strategies as st

from bot.books import Books, beginnings, farms, open_books, outbox, people
from bot.books.load import load_farm, read_farm_file
from bot.jobs import run_due
from bot.talk.answer import answer
from bot.talk.exchange import Answer, Incoming, Kind
from bot.talk.homeland import PROFILES, currency, region_of, zones
from bot.talk.house import PLAIN, House
from bot.talk.starting import MOST_TEXTS
from bot.talk.starting_draft import Draft, Step
from bot.talk.starting_steps import tappers
from parsers import starting
from parsers.words import LANGUAGES, standard

WANDA, KOFI, AMA = "+447700900301", "+447700900302", "+447700900303"
NOW = datetime(2026, 3, 3, 9, tzinfo=UTC)
OPEN = House(open_enrolment=True)

ANSWERS = (
    "start farm",
    "Reed Hollow, Wanda",
    "1 300, 2 250",
    "s/2 d3 6d/7",
    "formic 85",
    "smoke",
    f"Kofi {KOFI} 1, 2; Ama 07700 900303 2",
    "sunday 18",
)

#: The same farm as a file.
FILE = f"""
name = "Reed Hollow"
timezone = "Europe/London"
currency = "GBP"
language = "en"
[blocks]
1 = {{ trees = 300 }}
2 = {{ trees = 250 }}
[settings]
acid = "formic"
acid_strength_percent = 85
tapping = "S/2 d3 6d/7"
drying = "smoke"
summary_weekday = 6
summary_hour = 18
[[people]]
name = "Wanda"
number = "{WANDA}"
role = "owner"
[[people]]
name = "Kofi"
number = "{KOFI}"
blocks = ["1", "2"]
[[people]]
name = "Ama"
number = "{AMA}"
blocks = ["2"]
"""


class Line:
    """Texts of a number that nobody enrolled."""

    def __init__(self, path: Path, house: House = OPEN) -> None:
        self.books, self.house, self.n, self.now = open_books(path / "books.sqlite"), house, 0, NOW

    def text(self, text: str, number: str = WANDA, *, keeps_words: bool = False) -> Answer:
        self.n += 1
        self.now += timedelta(minutes=1)
        incoming = Incoming(f"s{self.n}", number, text, self.now, self.now, "practice", keeps_words)
        return answer(self.books, incoming, self.now, self.house)

    def say(self, *texts: str) -> str:
        for each in texts:
            last = self.text(each).text
        return last or ""

    def farms(self) -> list[str]:
        with self.books.transaction() as tx:
            return [each.name for each in farms.all_farms(tx)]


@pytest.fixture
def line(tmp_path: Path) -> Line:
    return Line(tmp_path)


def rows(books: Books, name: str) -> dict[str, object]:
    """What the books hold of a farm, without ids and times."""
    with books.transaction() as tx:
        farm = farms.farm_named(tx, name)
        assert farm is not None
        members = people.members(tx, farm.id)
        return {
            "farm": (farm.name, farm.timezone, farm.currency, farm.language, farm.settings),
            "settings": sorted((each["name"], each["value"]) for each in farms.settings_history(tx, farm.id)),
            "blocks": [(each.name, each.trees, each.usual_litres) for each in farms.blocks(tx, farm.id).values()],
            "containers": farms.containers(tx, farm.id),
            "people": [
                (each.person.name, each.person.number, each.person.language, each.role, each.blocks) for each in members
            ],
        }


def test_eight_texts_make_a_farm_with_the_rows_of_a_file(line: Line, tmp_path: Path) -> None:
    for n, text in enumerate(ANSWERS):
        assert line.farms() == [], f"before text {n}"
        last = line.text(text)

    assert len(ANSWERS) <= 8
    with line.books.transaction() as tx:
        assert beginnings.kept(tx, WANDA, NOW) is None
    assert last.kind is Kind.ANSWERED
    path = tmp_path / "farm.toml"
    path.write_text(FILE, encoding="utf-8")
    other = open_books(tmp_path / "other.sqlite")
    with other.transaction() as tx:
        load_farm(tx, read_farm_file(path), NOW)
    assert rows(line.books, "Reed Hollow") == rows(other, "Reed Hollow")


def test_every_question_keeps_to_two_parts(line: Line) -> None:
    assert [each.parts for each in (line.text(text) for text in ANSWERS)] == [1, 1, 1, 1, 1, 1, 1, 2]


def test_the_tappers_are_welcomed_and_can_text_at_once(line: Line) -> None:
    for text in ANSWERS:
        last = line.text(text)

    assert [each.to for each in last.to_others] == [KOFI, AMA]
    assert line.text("block 1 18 litres", KOFI).kind is Kind.ENTERED
    assert line.text("week").kind is Kind.ANSWERED


def test_where_the_operator_has_not_opened_it_a_stranger_stays_one(tmp_path: Path) -> None:
    line = Line(tmp_path, PLAIN)

    assert "ask your cooperative's office" in line.say("start farm")
    assert line.text("Reed Hollow, Wanda").kind is Kind.SILENT
    assert line.farms() == []


def test_another_text_of_a_stranger_gets_the_usual_answer_with_a_hint(line: Line) -> None:
    assert "start farm" in line.say("hello")
    assert line.text("hello again").kind is Kind.SILENT


@pytest.mark.parametrize(
    ("language", "opening"),
    [
        ("en", "Start farm"),
        ("fr", "Nouvelle plantation"),
        ("id", "mulai kebun"),
        ("th", "เริ่มสวน"),
        ("vi", "Mở vườn"),
        ("vi", "mo vuon"),
        ("es", "Nueva finca"),
    ],
)
def test_it_is_begun_in_six_languages(line: Line, language: str, opening: str) -> None:
    line.text(opening)

    with line.books.transaction() as tx:
        assert Draft.from_json(beginnings.kept(tx, WANDA, NOW) or "").language == language


@pytest.mark.parametrize(
    ("language", "texts"),
    [
        ("fr", ("nouvelle plantation", "Val d'Osier, Odile", "Nord 310, Sud 280", "je ne sais pas", "formique 85", "fumée", "personne", "dimanche 18")),
        ("id", ("mulai kebun", "Kebun Rawa, Ratih", "blok A 420, blok B 380", "tidak tahu", "asam semut 90", "asap", "tidak ada", "minggu 18")),
        ("th", ("เริ่มสวน", "สวนลำธาร, มาลี", "แปลง 1 300 ต้น, แปลง 2 250 ต้น", "ไม่รู้", "ฟอร์มิก 94", "รมควัน", "ไม่มี", "วันอาทิตย์ 18")),
        ("vi", ("mở vườn", "Vườn Suối, Thu", "lô 1 300 cây, lô 2 250 cây", "không biết", "formic 85", "xông khói", "không ai", "chủ nhật 18")),
        ("es", ("nueva finca", "El Mango, Lucia", "1 300, 2 250", "no se", "formico 85", "humo", "nadie", "domingo 18")),
    ],
)  # fmt: skip
def test_a_whole_beginning_in_each_language(line: Line, language: str, texts: tuple[str, ...]) -> None:
    line.say(*texts)

    with line.books.transaction() as tx:
        (farm,) = farms.all_farms(tx)
        assert (farm.language, farm.settings.tapping, farm.settings.drying) == (language, "", "smoke")
        assert (farm.settings.summary_weekday, farm.settings.summary_hour) == (6, 18)
        assert [each.trees for each in farms.blocks(tx, farm.id).values()] in ([310, 280], [420, 380], [300, 250])


@pytest.mark.parametrize("language", LANGUAGES)
def test_the_examples_of_each_question_are_answers(language: str) -> None:
    """What a question offers as an answer must be taken as one."""
    from bot.speech.language import tongue

    speech, words = tongue(language), standard()
    opening = speech.say("To begin a book of your own text: start farm").rpartition(": ")[2]
    acid = speech.say("Which acid, and how many percent? It stands on the bottle's label. Like: formic 85").rpartition(
        ": "
    )[2]
    unknown = speech.say("Sun, smoke, solar or hot air? Or text: don't know").rpartition(": ")[2]
    day = speech.say("Which day of the week? Like: sunday 18").rpartition(": ")[2]
    asked = speech.say("Sun, smoke, solar or hot air? Or text: don't know").partition("?")[0]

    if language != "th":
        assert starting.opening_language(opening, words) == language
        assert starting.acid(acid, words) == starting.SaidAcid("formic", Decimal(85))
        assert starting.weekday(day, words.of(language)) == 6
    assert starting.command(unknown.split(": ")[-1].split("พิมพ์")[-1].strip(": "), words) == "dont_know"
    assert starting.drying(asked, words) is not None


@pytest.mark.parametrize(
    ("before", "wrong", "said"),
    [
        (1, "x" * 60, "short name"),
        (1, "...", "short name"),
        (2, "three blocks", "could not read"),
        (2, "1 300, 1 250", "could not read"),
        (2, "1 1,200", "could not read"),
        (2, "1 0", "could not read"),
        (2, "A 300, a 200", "could not read"),
        (3, "every third day", "could not read"),
        (4, "strong", "label"),
        (4, "8500", "label"),
        (4, "formic 5", "label"),
        (4, "dont know", "label"),
        (4, "battery acid 30", "sulphuric"),
        (5, "in the kitchen", "hot air"),
        (6, "Kofi", "could not read"),
        (6, "Kofi 1", "could not read"),
        (6, f"Kofi {KOFI} 9", "could not read"),
        (6, f"Kofi {KOFI}", "could not read"),
        (6, f"Kofi {KOFI} 1; Ama {KOFI} 2", "could not read"),
        (7, "some day", "day of the week"),
    ],
)
def test_a_wrong_answer_is_asked_again_and_does_no_harm(line: Line, before: int, wrong: str, said: str) -> None:
    line.say(*ANSWERS[:before])

    refused = line.text(wrong)
    line.say(*ANSWERS[before:])

    assert refused.kind is Kind.ASKED
    assert said in (refused.text or "")
    assert line.farms() == ["Reed Hollow"]


def test_back_goes_one_question_back_as_often_as_wanted(line: Line) -> None:
    line.say(*ANSWERS[:5])

    assert "Which acid" in line.say("back")
    assert "tapping system" in line.say("back")
    line.say("don't know", "acetic 99", *ANSWERS[5:])

    with line.books.transaction() as tx:
        (farm,) = farms.all_farms(tx)
    assert (farm.settings.tapping, farm.settings.acid, farm.settings.acid_strength_percent) == ("", "acetic", 99)


def test_back_at_the_first_question_asks_it_again(line: Line) -> None:
    assert line.say("start farm", "back") == line.say("back")


@pytest.mark.parametrize("word", ["cancel", "forget it", "STOP"])
def test_cancel_forgets_everything(line: Line, word: str) -> None:
    line.say(*ANSWERS[:6])

    assert "Forgotten" in line.say(word)
    with line.books.transaction() as tx:
        assert beginnings.kept(tx, WANDA, NOW) is None
    assert line.farms() == []


def test_a_word_that_the_carrier_answers_itself_gets_no_second_answer(line: Line) -> None:
    line.say("start farm")

    assert line.text("cancel", keeps_words=True).text is None


def test_after_three_days_it_is_forgotten(line: Line) -> None:
    line.say(*ANSWERS[:3])
    line.now += timedelta(days=3)

    assert "cooperative's office" in line.say("s/2 d3 6d/7")
    run_due(line.books, line.now, None)
    with line.books.transaction() as tx:
        assert beginnings.kept(tx, WANDA, NOW) is None


def test_a_repeated_delivery_takes_no_second_step(line: Line) -> None:
    line.say("start farm")
    at = line.now + timedelta(minutes=1)
    incoming = Incoming("same", WANDA, "Reed Hollow, Wanda", at, at, "practice")

    first = answer(line.books, incoming, at, OPEN)
    again = answer(line.books, incoming, at, OPEN)

    assert (again.text, again.repeat) == (first.text, True)
    assert "tapping system" in line.say("1 300, 2 250")


def test_two_numbers_begin_side_by_side(line: Line) -> None:
    other = "+447700900399"
    for text in ANSWERS[:6]:
        line.text(text)
        line.text(text.replace("Reed Hollow", "Old Ferry"), other)
    line.text("nobody", other)
    line.text("monday 7", other)
    line.say(*ANSWERS[6:])

    assert sorted(line.farms()) == ["Old Ferry", "Reed Hollow"]


def test_a_name_taken_meanwhile_is_asked_for_again_and_nothing_is_lost(line: Line) -> None:
    line.say(*ANSWERS[:7])
    for text in (*ANSWERS[:6], "nobody", "monday"):
        line.text(text, "+447700900399")

    assert "already" in line.say(ANSWERS[7])
    line.say("Old Ferry, Wanda", *ANSWERS[2:])

    assert sorted(line.farms()) == ["Old Ferry", "Reed Hollow"]


def test_a_tapper_of_another_farm_cannot_be_drawn_over(line: Line) -> None:
    line.say(*ANSWERS)
    for text in ("start farm", "Old Ferry, Ed", "1 100", "don't know", "85", "sun"):
        line.text(text, "+447700900399")

    refused = line.text(f"Thief {KOFI} 1", "+447700900399")

    assert "cannot be put in by text" in (refused.text or "")
    with line.books.transaction() as tx:
        assert getattr(people.person_by_number(tx, KOFI), "name", None) == "Kofi"


def test_an_owner_who_taps_himself_is_both(line: Line) -> None:
    line.say(*ANSWERS[:6], f"me {WANDA} 1", ANSWERS[7])

    assert line.text("block 1 18 litres").kind is Kind.ENTERED
    with line.books.transaction() as tx:
        (farm,) = farms.all_farms(tx)
        assert [each.person.name for each in people.members(tx, farm.id)] == ["Wanda", "Wanda"]
        assert outbox.listing(tx, NOW, line.now + timedelta(days=1)) == []


def test_a_beginning_without_end_is_ended(line: Line) -> None:
    line.say("start farm", *["..."] * MOST_TEXTS)

    assert "Forgotten" in line.say("...")


def test_a_country_of_several_clocks_is_asked_which(line: Line) -> None:
    with line.books.transaction() as tx:
        draft = Draft("id", "ID", step=Step.NAME)
        beginnings.keep(tx, WANDA, draft.to_json(), NOW + timedelta(days=1))

    asked = line.say("Kebun Rawa, Ratih")
    line.say("7")
    line.say("3", "A 420", "tidak tahu", "asam semut 90", "asap", "tidak ada", "minggu")

    assert "1 Jakarta" in asked
    with line.books.transaction() as tx:
        (farm,) = farms.all_farms(tx)
    assert (farm.timezone, farm.currency, farm.settings.country) == ("Asia/Makassar", "IDR", "indonesia")


@pytest.mark.parametrize(
    ("region", "clocks", "money"),
    [("TH", 1, "THB"), ("MY", 1, "MYR"), ("VN", 1, "VND"), ("ID", 3, "IDR"), ("LR", 1, "LRD"), ("IN", 1, "INR")],
)
def test_clocks_and_money_of_a_country(region: str, clocks: int, money: str) -> None:
    """Source: ISO 4217 codes; Indonesia keeps three times (WIB, WITA, WIT), the others one (IANA time zone database)."""
    assert (len(zones(region)), currency(region)) == (clocks, money)
    assert money in list_currencies()


def test_the_country_of_a_number_comes_from_its_calling_code() -> None:
    """Source: ITU-T E.164, country code 44. A number of the shared code 800 has no country."""
    assert region_of(WANDA) == "GB"
    assert region_of("+80012345678") is None
    assert set(PROFILES) == {region for region in PROFILES if zones(region)}


@given(
    st.dictionaries(st.from_regex(r"[A-Z][0-9]{0,2}", fullmatch=True), st.integers(1, 99_999), min_size=1, max_size=8)
)
def test_blocks_as_we_ask_for_them_are_read_whatever_they_are(blocks: dict[str, int]) -> None:
    lexicon = standard().of("en")

    assert starting.blocks(", ".join(f"{name} {trees}" for name, trees in blocks.items()), lexicon) == blocks
    assert (
        starting.blocks("\n".join(f"block {name}: {trees} trees" for name, trees in blocks.items()), lexicon) == blocks
    )


@settings(deadline=None)
@given(st.text(max_size=200))
def test_any_text_is_taken_or_refused_without_a_fault(text: str) -> None:
    words = standard()
    starting.opening_language(text, words)
    starting.acid(text, words)
    starting.drying(text, words)
    starting.blocks(text, words.of("th"))
    starting.weekday(text, words.of("th"))
    starting.hour(text)
    tappers(text, ("1", "A"), "GB")


@pytest.mark.parametrize(
    "text",
    [
        f"Kofi {KOFI} 1 2, Ama {AMA} 2",
        f"Kofi {KOFI} 1, 2\nAma {AMA} 2",
        "Kofi +44 7700 900302 1, 2; Ama 07700 900303 2",
        "Kofi (07700) 900302 1, 2; Ama 07700-900303 2",
    ],
)
def test_tappers_are_read_however_their_numbers_are_spaced(text: str) -> None:
    assert tappers(text, ("1", "2"), "GB") == (("Kofi", KOFI, ("1", "2")), ("Ama", AMA, ("2",)))

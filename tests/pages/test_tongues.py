"""The owner's pages in his language: every page of a full farm, in all six, without a word of English left over."""

import re
from datetime import timedelta
from html.parser import HTMLParser
from pathlib import Path

import pytest

from bot.app import create_app
from bot.books import farms, people
from bot.carriers.practice import text_as
from bot.pages import links
from bot.speech.language import LANGUAGES, SOURCE, page_tongue
from bot.talk.exchange import Kind
from parsers.reading import Role
from tests.pages import full_cooperative
from tests.pages.conftest import NOW, OWNER, SIZE_LIMIT, START, House
from tests.pages.full_farm import addresses, closed_addresses, fill
from tests.speech.leftover import english_in, words_of
from tests.speech.sentences import of_pages

OTHERS = [language for language in LANGUAGES if language != SOURCE]

#: Names of people, farms, files and sources, which are the same in every language, and words that one types.
SAME = (
    "Heron Hill Ines Gus Kaimo Kofi Tobin script alert USU trial Smith STOP PDF XLSX CSV SQLITE ICS RSS "
    "month day book paper"  # the last line: papers as they stand in an address
)


#: Names at the cooperative, what was texted, and what one types into a field.
OF_HILLS = "Three Hills Ama Ridge Yaw Hollow Esi Bend Lower Gate River Landing Musa Hana it was much"


class Shown(HTMLParser):
    """What a page lets be read: text, and what a screen reader says instead of pictures and for links."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.pieces: list[str] = []
        self.feed(page)

    def handle_data(self, data: str) -> None:
        self.pieces.append(data)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.pieces += [value or "" for name, value in attrs if name in ("aria-label", "alt", "title", "placeholder")]


def left_in_english(page: str, language: str) -> set[str]:
    return english_in(" ".join(Shown(page).pieces), language) - words_of(SAME)


def get(house: House, address: str, status: int = 200) -> str:
    got = house.client.get(address)
    assert got.status_code == status, address
    return got.get_data(as_text=True)


@pytest.fixture(params=OTHERS)
def language(request: pytest.FixtureRequest, house: House) -> str:
    fill(house, request.param)
    return str(request.param)


def test_every_page_speaks_its_owners_language_and_stays_light(house: House, language: str) -> None:
    for address in addresses(house):
        page = get(house, address)
        assert f'<html lang="{language}">' in page
        assert left_in_english(page, language) == set(), address
        assert len(page.encode()) < SIZE_LIMIT, address
    assert left_in_english(pay_day(house), language) == set()


@pytest.mark.parametrize("language", OTHERS)
def test_every_page_of_a_manager_speaks_his_language_and_stays_light(tmp_path: Path, language: str) -> None:
    office = full_cooperative.office_of(tmp_path)
    full_cooperative.fill(office, language)

    for address, page in full_cooperative.pages(office).items():
        assert f'<html lang="{language}">' in page, address
        assert left_in_english(page, language) - words_of(OF_HILLS) == set(), address
        assert len(page.encode()) < SIZE_LIMIT, address
    office.hills.books.close()


def test_what_does_not_open_says_so_in_the_language_of_the_one_whose_link_it_is(house: House, language: str) -> None:
    for address in closed_addresses(house):
        got = house.client.get(address)
        page = got.get_data(as_text=True)
        assert got.status_code in (400, 404), address
        assert f'<html lang="{language}">' in page, address
        assert left_in_english(page, language) == set(), address


def test_english_that_is_left_over_would_be_found(house: House) -> None:
    fill(house, "fr")
    page = get(house, house.link)

    assert left_in_english(page.replace("Feuilles laminées", "Sheets rolled"), "fr") == {"sheets", "rolled"}
    assert left_in_english(page.replace('aria-label="', 'aria-label="Weeks '), "fr") == {"weeks"}


def test_the_farm_of_these_tests_shows_every_part_of_every_page(house: House, tmp_path: Path) -> None:
    """What no page of the full or of an empty farm shows was not looked at by the tests above: it is listed here."""
    theirs = links.path(house.settings, house.other.id, house.other_owner.id)
    paths = ("", "/block/3", "/chain", "/stock", "/plots", "/pay", "/papers", "/settings", "/waiting")
    empty = [get(house, theirs + path) for path in paths]
    fill(house, "en")
    full = [house.client.get(each).get_data(as_text=True) for each in addresses(house) + closed_addresses(house)]
    office = full_cooperative.office_of(tmp_path)
    bare = full_cooperative.pages(office)
    full_cooperative.fill(office, "en")
    of_manager = [*bare.values(), *full_cooperative.pages(office).values()]
    pages = [*empty, *full, *of_manager, pay_day(house), get(house, "/farm/nothing", 403)]
    shown = " ".join(piece for each in pages for piece in Shown(each).pieces)

    assert {each for each in of_pages() if longest_part(each) not in shown} == NOT_SHOWN


def longest_part(message: str) -> str:
    return max(re.split(r"{\w+}", message), key=len).strip(" .,:()")


def pay_day(house: House) -> str:
    """The page of pay when a month is over that was not settled."""
    app = create_app(house.settings, house.books, lambda: NOW + timedelta(days=25))
    return app.test_client().get(f"{house.link}/pay").get_data(as_text=True)


#: Said only after something was sent or a link was no good, or where there is too much of something.
NOT_SHOWN = {
    "A collector's receipt is disputed by text: answer its number and why.",
    "All your links are void now. Text the bot: link",
    "By block",
    "By tapper",
    "Each tapping takes {mm} mm: more than the limit allows.",
    "From the first",
    "Next lines",
    "No terms of pay are set for {name}.",
    "Text the bot, for example: pay Tobin 50% / pay all 0.40 per kg.",
    "Nothing waits any more: a change waits for ten minutes. Text it again.",
    "Nothing was written down. {why}",
    "The bark",
    "The day lies ahead.",
    "The pay cannot be worked out: {why}.",
    "The pay has changed since the page was loaded. Look at it again, then settle.",
    "The total",
    "The week of a farm opens with its owner's own link.",
    "There is no block {name}.",
    "This form belongs to another link.",
    "This form is too old. Go back, load the page again and send it then.",
    "This form was not made here.",
    "This line does not stand any more. Load the day-book again.",
    "This link does not open this farm any more.",
    "This link does not open this page any more.",
    "This link has expired: it was made more than 30 days ago.",
    "This link was made void. Text the bot: link",
    "Write how many cm of bark are left.",
    "from the phone {name}",
    "the usual shaving",
    "{name}: nothing on {silent} of {n} day, last for {day}",
    "{panel} is no panel; panels are named like BO-1, BI-2, HO-3.",
    "{what}: choose one of the list.",
    "{what}: this notation cannot be read.",
    "{what}: write a number from {low} to {high}.",
    "{what}: write a number of 0 or more, not {text}.",
    "{what}: write a number, not {text}.",
    "{what}: write the day like 2026-03-09.",
    "Latex weighed, kg",
}


def test_numbers_days_and_marks_are_those_of_the_language(house: House) -> None:
    seen = {}
    for tongue in LANGUAGES:
        with house.books.transaction() as tx:
            people.set_language(tx, house.owner.id, tongue)
        seen[tongue] = get(house, house.link) + get(house, f"{house.link}/settings")

    assert "Mon 9 Mar to Sun 15 Mar 2026" in seen["en"]
    assert "lun. 9 mars au dim. 15 mars 2026" in seen["fr"]
    assert "Sen, 9 Mar sampai Min, 15 Mar 2026" in seen["id"]
    assert "จันทร์ 9 มี.ค. ถึง อาทิตย์ 15 มี.ค. 2026" in seen["th"]
    assert "Thứ 2, 9 thg 3 đến CN, 15 thg 3, 2026" in seen["vi"]
    assert "lun, 9 mar a dom, 15 mar 2026" in seen["es"]
    assert "<td>0,0</td>" in seen["fr"]
    assert "<td>0.0</td>" in seen["th"]
    for tongue, words in {"fr": "Réglages", "vi": "Tất cả các lô", "es": "Láminas hechas"}.items():
        assert words in seen[tongue]


@pytest.mark.parametrize("tongue", OTHERS)
def test_a_figure_typed_as_the_language_writes_it_is_taken(house: House, tongue: str) -> None:
    fill(house, tongue)
    with house.books.transaction() as tx:
        farms.change_setting(tx, house.farm.id, "acid_strength_percent", "84.5", at=START, message_id=None)
    page = get(house, f"{house.link}/settings")
    shown = re.search(r'name="acid_strength_percent" value="([^"]+)"', page)
    assert shown is not None
    assert shown[1] == ("84.5" if tongue == "th" else "84,5")

    form = {name: value for name, value in re.findall(r'<input id="(\w+)" name="\w+" value="([^"]*)"', page)}
    for name, options in re.findall(r'<select id="(\w+)" name="\w+">(.*?)</select>', page, re.DOTALL):
        form[name] = re.findall(r'<option value="([^"]*)" selected>', options)[0]
    key = re.search(r'name="key" value="([^"]+)"', page)
    assert key is not None
    own = {"Sec-Fetch-Site": "same-origin"}
    with house.books.transaction() as tx:
        before = len(farms.settings_history(tx, house.farm.id))
    sent = house.client.post(f"{house.link}/settings", data={**form, "key": key[1]}, headers=own)
    with house.books.transaction() as tx:
        assert len(farms.settings_history(tx, house.farm.id)) == before  # what was shown and sent back changes nothing
    changed = {**form, "acid_strength_percent": "82,5" if tongue != "th" else "82.5", "key": key[1]}
    house.client.post(f"{house.link}/settings", data=changed, headers=own)
    refused = house.client.post(f"{house.link}/settings", data={**changed, "acid_strength_percent": "5"}, headers=own)

    assert sent.status_code == 303
    with house.books.transaction() as tx:
        assert str(farms.farm(tx, house.farm.id).settings.acid_strength_percent) == "82.5"
    assert refused.status_code == 400
    assert left_in_english(refused.get_data(as_text=True), tongue) == set()


ENROL = "Enrol and dismiss by text: add tapper Kofi +447700900123 blocks 2, 3 / dismiss Kofi."
PAY = "Text the bot, for example: pay Tobin 50% / pay all 0.40 per kg."
VOID = "All your links are void now. Text the bot: link"


@pytest.mark.parametrize("tongue", LANGUAGES)
def test_the_texts_that_pages_suggest_are_understood(house: House, tongue: str) -> None:
    speech = page_tongue(tongue)
    with house.books.transaction() as tx:
        people.set_language(tx, house.owner.id, tongue)
        tobin = {"name": "Tobin", "number": "+447700900124", "language": "en", "role": Role.TAPPER, "blocks": ("3",)}
        people.enrol(tx, farm_id=house.farm.id, at=START, message_id=None, **tobin)
    examples = [each for message in (ENROL, PAY, VOID) for each in suggested(speech.say(message))]

    assert len(examples) == 5
    for each in examples:
        said = text_as(house.books, OWNER, each.replace("2, 3", "3, 5"), NOW)
        assert said.kind in (Kind.CHANGED, Kind.ANSWERED), (each, said.text)


def suggested(sentence: str) -> list[str]:
    """`link` and `stop` of `Text us: link / stop.`"""
    return sentence.rpartition(":")[2].strip(" .").split(" / ")


def test_a_link_that_is_void_or_too_old_speaks_the_language_of_its_owner(
    house: House, monkeypatch: pytest.MonkeyPatch
) -> None:
    with house.books.transaction() as tx:
        people.set_language(tx, house.owner.id, "th")
    link = house.link
    monkeypatch.setattr(links, "LINK_LASTS", -1)

    assert "ลิงก์นี้หมดอายุ" in get(house, link, 403)


def test_a_link_that_was_never_made_here_speaks_the_language_that_the_browser_asks_for(house: House) -> None:
    def asked(header: str) -> str:
        return house.client.get("/farm/nothing", headers={"Accept-Language": header}).get_data(as_text=True)

    assert '<html lang="vi">' in asked("de, vi;q=0.8, en;q=0.5")
    assert "Đường dẫn này không đầy đủ" in asked("vi")
    assert '<html lang="en">' in asked("de")
    assert '<html lang="en">' in asked("")

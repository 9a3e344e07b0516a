"""The pages in a real browser, at the width of a small phone and without JavaScript.

Needs Chromium; on Debian: apt-get install chromium. Without it these tests are left out, except where CI=true is set.
"""

import os
import shutil
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import timedelta

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, sync_playwright
from werkzeug.serving import WSGIRequestHandler, make_server

from bot.books import entries, farms, plots
from bot.carriers.practice import text_as
from bot.rubber.geojson import point
from bot.speech.language import LANGUAGES
from tests.pages.conftest import NOW, OWNER, TAPPER, House
from tests.pages.full_farm import addresses, fill

CHROMIUM = shutil.which("chromium")
FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
PHONE, DESK = 360, 1200
LONG = "block 3 18 litres rain and " + "averyverylongwordwithoutanybreakinit" * 4

#: Languages whose pages are looked at by the accessibility engine too: one with an alphabet of its own, one with long words.
AXED = ("th", "fr")

#: Texts of pictures that reach beyond their picture.
CUT = """() => [...document.querySelectorAll('svg text')].filter(each => {
  const own = each.getBoundingClientRect(), all = each.ownerSVGElement.getBoundingClientRect();
  return own.left < all.left - 1 || own.right > all.right + 1;
}).map(each => each.textContent)"""

WIDTH = "() => document.documentElement.scrollWidth"


class Quiet(WSGIRequestHandler):
    """Says nothing about calls."""

    def log_request(self, *_: object) -> None:
        return


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    if CHROMIUM is None:
        message = "Chromium is not installed (on Debian: apt-get install chromium)."
        if os.environ.get("CI") == "true":
            pytest.fail(message)
        pytest.skip(message)
    with sync_playwright() as playwright:
        started = playwright.chromium.launch(executable_path=CHROMIUM, headless=True, args=FLAGS)
        yield started
        started.close()


@pytest.fixture
def address(house: House) -> Iterator[str]:
    server = make_server("127.0.0.1", 0, house.app, threaded=True, request_handler=Quiet)
    thread = threading.Thread(target=server.serve_forever)
    thread.start()
    yield f"http://127.0.0.1:{server.port}"
    server.shutdown()
    thread.join()
    server.server_close()


@contextmanager
def opened(browser: Browser, width: int, *, scripts: bool = False) -> Iterator[Page]:
    context = browser.new_context(viewport={"width": width, "height": 740}, java_script_enabled=scripts)
    yield context.new_page()
    context.close()


def test_a_text_sent_from_the_page_is_answered_without_javascript(browser: Browser, address: str) -> None:
    with opened(browser, PHONE) as page:
        page.goto(f"{address}/practice")
        page.get_by_label("Whose phone").select_option(TAPPER)
        page.get_by_role("button", name="Take this phone").click()
        page.get_by_label("Text from").fill("block 3 18 litres rain")
        page.get_by_role("button", name="Send the text").click()

        row = page.get_by_role("row").filter(has_text="block 3 18 litres rain")
        assert "18 L" in row.inner_text()
        assert "1 SMS part" in row.inner_text()
        page.reload()
        assert row.count() == 1


@pytest.mark.parametrize("width", [PHONE, DESK])
def test_no_page_is_wider_than_its_screen(browser: Browser, address: str, house: House, width: int) -> None:
    text_as(house.books, TAPPER, LONG, NOW)
    text_as(house.books, TAPPER, "block 3 18 litres rain", NOW)
    with opened(browser, width, scripts=True) as page:
        for path in (f"/practice?as=%2B{TAPPER[1:]}", house.link, "/owner", "/farm/nothing"):
            page.goto(address + path)
            assert page.evaluate(WIDTH) <= width, path


def test_every_field_has_a_label_and_every_table_its_headings(browser: Browser, address: str, house: House) -> None:
    text_as(house.books, TAPPER, "block 3 18 litres rain", NOW)
    with opened(browser, PHONE, scripts=True) as page:
        page.goto(f"{address}/practice?as=%2B{TAPPER[1:]}")
        fields = "[...document.querySelectorAll('select, textarea, input:not([type=hidden])')]"
        assert page.evaluate(f"{fields}.length") == 2
        assert page.evaluate(f"{fields}.every(field => field.labels.length === 1)")
        page.goto(address + house.link)
        assert page.evaluate("[...document.querySelectorAll('table')].every(table => table.querySelector('th[scope]'))")
        assert page.get_by_role("img").get_attribute("aria-labelledby") == "bars-title"


def test_text_stands_out_from_the_paper(browser: Browser, address: str, house: House) -> None:
    # Contrast of 7 to 1, for reading in the sun: WCAG 2.2, success criterion 1.4.6; luminance as defined there.
    text_as(house.books, TAPPER, "block 3 18 litres rain", NOW)
    with opened(browser, PHONE, scripts=True) as page:
        for path in ("/practice", house.link):
            page.goto(address + path)
            paper = page.evaluate("getComputedStyle(document.body).backgroundColor")
            inks = page.evaluate(
                "[...new Set([...document.querySelectorAll('p, td, th, a, label, del, ins, .small')]"
                ".map(each => getComputedStyle(each).color))]"
            )
            assert min(contrast(ink, paper) for ink in inks) >= 7


def contrast(one: str, other: str) -> float:
    darker, lighter = sorted((luminance(one), luminance(other)))
    return (lighter + 0.05) / (darker + 0.05)


def luminance(written: str) -> float:
    """Relative luminance of `rgb(r, g, b)`."""
    red, green, blue = (_linear(int(each) / 255) for each in written.removeprefix("rgb(").rstrip(")").split(","))
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def _linear(share: float) -> float:
    return float(share / 12.92 if share <= 0.04045 else ((share + 0.055) / 1.055) ** 2.4)


def test_nothing_is_fetched_from_elsewhere_and_nothing_is_forbidden(
    browser: Browser, address: str, house: House
) -> None:
    fetched: list[str] = []
    complaints: list[str] = []
    with opened(browser, PHONE, scripts=True) as page:
        page.on("request", lambda request: fetched.append(request.url))
        page.on("console", lambda message: complaints.append(message.text))
        for path in ("/practice", house.link):
            page.goto(address + path)
    assert all(url.startswith(address) for url in fetched)
    assert complaints == []


def test_the_paper_leaves_out_what_can_only_be_pressed(browser: Browser, address: str, house: House) -> None:
    with opened(browser, DESK, scripts=True) as page:
        page.goto(address + house.link)
        page.emulate_media(media="print")
        assert not page.get_by_role("link", name="Week before").is_visible()
        assert page.get_by_role("heading", name="Latex by block").is_visible()


FURTHER = ("", "/block/3", "/chain", "/stock", "/plots", "/pay", "/settings")


def a_busy_farm(house: House) -> list[str]:
    """Some weeks of texts; the addresses of every page, one of a tapper, one of a line and one of its figures."""
    text_as(house.books, OWNER, "pay all 0.40 per kg", NOW - timedelta(days=30))
    for day in range(-30, 0, 2):
        text_as(house.books, TAPPER, "block 3 18 litres rain", NOW + timedelta(days=day))
        text_as(house.books, TAPPER, "rolled 12 sheets", NOW + timedelta(days=day + 1))
    text_as(house.books, TAPPER, "dry sheets 24 pcs 11.2 kg", NOW)
    with house.books.transaction() as tx:
        block = farms.blocks(tx, house.farm.id)["3"].id
        plots.add(tx, house.farm.id, block, "by the long river road", point("7.000100", "100.500800"), 10_000, at=NOW)
        entry = next(each for each in entries.standing(tx, house.farm.id) if each.computed)
    lines = [f"/tapper/{house.tapper.id}", f"/entry/{entry.id}", f"/why/{entry.id}"]
    return [house.link + path for path in (*FURTHER, *lines)]


@pytest.mark.parametrize("width", [PHONE, DESK])
def test_every_page_fits_and_passes_the_accessibility_engine(
    browser: Browser, address: str, house: House, width: int
) -> None:
    """Oracle: axe-core, the open rules engine of WCAG 2.2 (levels A, AA and its best practices)."""
    paths = a_busy_farm(house)
    with opened(browser, width, scripts=True) as page:
        for path in paths:
            page.goto(address + path)
            assert page.evaluate(WIDTH) <= width, path
            found = Axe().run(page).response["violations"]
            assert [(each["id"], each["nodes"][0]["html"]) for each in found] == [], path


@pytest.mark.parametrize("language", [language for language in LANGUAGES if language != "en"])
def test_every_page_fits_a_small_phone_in_every_language(
    browser: Browser, address: str, house: House, language: str
) -> None:
    """Long words and marks above and below letters; the oracle of accessibility is axe-core, as above."""
    fill(house, language)
    with opened(browser, PHONE, scripts=True) as page:
        for path in [*addresses(house), "/farm/nothing"]:
            page.goto(address + path)
            assert page.evaluate(WIDTH) <= PHONE, path
            assert page.evaluate(CUT) == [], path
            found = Axe().run(page).response["violations"] if language in AXED else []
            assert [(each["id"], each["nodes"][0]["html"]) for each in found] == [], path


def test_a_line_is_changed_in_the_browser_without_javascript(browser: Browser, address: str, house: House) -> None:
    text_as(house.books, TAPPER, "block 3 18 litres", NOW)
    with opened(browser, PHONE) as page:
        page.goto(address + house.link)
        page.get_by_role("link", name="change, B3 18 L").click()
        page.get_by_label("Litres").fill("17.5")
        page.get_by_role("button", name="Keep the change").click()
        assert page.get_by_text("corrected to").is_visible()
        assert page.get_by_text("B3 17.5 L").first.is_visible()

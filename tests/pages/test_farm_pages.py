"""Block, tapper, chain, stock, pay and settings: figures, forms, and who may see and change what."""

import re
from datetime import timedelta
from decimal import Decimal

import pytest
from werkzeug.test import TestResponse

from bot.books import entries, farms, outbox, people, plots, wages
from bot.carriers.practice import text_as
from bot.pages import links, owner
from bot.rubber.geojson import features, point
from bot.talk.exchange import Answer
from tests.pages.conftest import NOW, OWNER, SIZE_LIMIT, TAPPER, House

PAGES = ("", "/block/3", "/chain", "/stock", "/plots", "/pay", "/settings")
OURS = {"Sec-Fetch-Site": "same-origin"}


def text(house: House, day: int, words: str, number: str = TAPPER) -> Answer:
    return text_as(house.books, number, words, NOW + timedelta(days=day), message_id=f"{day} {words}")


def a_month(house: House) -> None:
    """Thirty days before now: block 3 every second day, rolled the next day, weighed a week later, taken at times."""
    text(house, -30, "pay all 0.40 per kg", OWNER)
    for day in range(-30, -1, 2):
        text(house, day, "block 3 18 litres")
        text(house, day + 1, "rolled 12 sheets")
        if day > -20:
            text(house, day + 1, f"dry sheets 12 pcs {5.8 + day / 100:.2f} kg")


def page(house: House, path: str = "") -> str:
    got = house.client.get(house.link + path)
    assert got.status_code == 200, path
    return got.get_data(as_text=True)


def key_in(shown: str) -> str:
    found = re.search(r'name="key" value="([^"]+)"', shown)
    assert found
    return found[1]


def send(house: House, path: str, form_page: str = "/settings", **form: str) -> TestResponse:
    data = {"key": key_in(page(house, form_page)), **form}
    return house.client.post(house.link + path, data=data, headers=OURS)


@pytest.mark.parametrize("path", PAGES)
def test_every_page_opens_empty_and_full_and_stays_light(house: House, path: str) -> None:
    assert page(house, path)
    a_month(house)

    assert len(page(house, path).encode()) < SIZE_LIMIT
    assert "<script" not in page(house, path)


def test_a_block_shows_litres_expectation_drc_and_weighed_sheets(house: House) -> None:
    a_month(house)

    shown = page(house, "/block/3")
    assert "18.0" in shown
    assert "DRC reckoned with today" in shown
    assert shown.count("<circle") == 14
    assert "Weighed, kg" in shown


def test_bark_is_measured_on_the_blocks_page_and_shown_with_a_picture_and_its_figures(house: House) -> None:
    a_month(house)
    assert "No bark was measured yet." in page(house, "/block/3")
    text(house, -31, "block 3 bark 44,5 cm")

    assert send(house, "/block/3/bark", "/block/3", cm="42", panel="bo 1").status_code == 303

    shown = page(house, "/block/3")
    # 15 days with latex lie between the measures: 25 mm are 1.7 mm each, and 420 mm are 252 tappings.
    assert '<tr><th scope="row">Bark left today, cm</th><td>42</td></tr>' in shown
    assert '<tr><th scope="row">Bark a tapping, mm (from two measures)</th><td>1.7</td></tr>' in shown
    assert '<tr><th scope="row">Tappings that it serves</th><td>252</td></tr>' in shown
    assert "2.5 cm tapped since" in shown
    assert "<td>BO-1</td>" in shown
    assert len(shown.encode()) < SIZE_LIMIT


@pytest.mark.parametrize("form", [{"cm": "much"}, {"cm": ""}, {"cm": "900"}, {"cm": "40", "panel": "left"}])
def test_bark_that_cannot_be_is_refused_on_the_page_and_not_written_down(house: House, form: dict[str, str]) -> None:
    assert send(house, "/block/3/bark", "/block/3", **form).status_code == 409

    assert "No bark was measured yet." in page(house, "/block/3")


def test_a_tapper_is_shown_with_his_name_as_text(house: House) -> None:
    a_month(house)

    shown = page(house, f"/tapper/{house.tapper.id}")
    assert "&lt;script&gt;alert(1)&lt;/script&gt;" in shown
    assert '<tr><th scope="row">Litres</th><td>252</td></tr>' in shown  # 14 days of 18 litres within 30 days


def test_the_chain_tells_each_step_and_its_gap(house: House) -> None:
    a_month(house)

    shown = page(house, "/chain")
    assert all(
        step in shown for step in ("Latex that was rolled", "Weighed, by its latex", "Taken, by the weight at home")
    )
    assert re.search(r"Weighed, by its latex</th><td class=\"past\">[\d.]+</td><td>51.3</td>", shown)
    assert "A gap is a question" in shown


def test_plots_are_shown_as_they_were_measured_and_other_farms_are_not_named(house: House) -> None:
    border = "[[100.500000, 7.000000], [100.500905, 7.000000], [100.500905, 7.000904], [100.500000, 7.000000]]"
    square = features(f'{{"type": "Polygon", "coordinates": [{border}]}}')[0].shape
    with house.books.transaction() as tx:
        own, theirs = (farms.blocks(tx, each.id)["3"].id for each in (house.farm, house.other))
        plots.add(tx, house.farm.id, own, "<b>hill</b>", square, 5000, at=NOW)
        plots.add(tx, house.other.id, theirs, "secret", point("7.000100", "100.500800"), 10_000, at=NOW)

    shown = page(house, "/plots")

    assert "7.000000, 100.500000" in shown
    assert "0.50" in shown
    assert "&lt;b&gt;hill" in shown
    assert '<path fill-rule="evenodd" d="M6.0,90.0L89.5,90.0L89.5,6.0Z"/>' in shown
    assert "a plot of another farm share 100 %" in shown
    assert "Block 5 has no plot" in shown
    assert "secret" not in shown
    assert "Far Meadow" not in shown


def test_stock_tells_what_hangs_and_when_it_is_dry(house: House) -> None:
    text(house, -3, "rolled 12 sheets")

    shown = page(house, "/stock")
    assert "<td>12</td>" in shown
    assert "Moisture left" in shown


def test_pay_is_settled_on_the_page_with_its_total_and_slips_go_out(house: House) -> None:
    text(house, -30, "pay all 5 a day", OWNER)
    text(house, -20, "block 3 18 litres")
    shown = page(house, "/pay")
    total = re.search(r'name="total" value="([^"]+)"', shown)
    assert total

    assert send(house, "/pay", "/pay", total=total[1]).status_code == 303
    with house.books.transaction() as tx:
        (settled,) = wages.settlements(tx, house.farm.id)
        slips = [each for each in outbox.listing(tx, NOW, NOW + timedelta(days=1)) if each.to == TAPPER]
    assert settled.paid == Decimal(5)
    assert "paid 5.00 USD" in slips[-1].text


def test_who_left_is_paid_and_named_among_what_was_settled(house: House) -> None:
    text(house, -30, "pay all 5 a day", OWNER)
    text(house, -20, "block 3 18 litres")
    with house.books.transaction() as tx:
        tapper = people.person_by_number(tx, TAPPER)
        assert tapper is not None
        people.dismiss(tx, tapper.id, house.farm.id, None, at=NOW - timedelta(days=19))

    assert send(house, "/pay", "/pay", total="5.00").status_code == 303
    shown = page(house, "/pay")

    assert "<td>?</td>" not in shown
    assert shown.count("&lt;script&gt;") >= 1


def test_pay_that_changed_since_the_page_was_loaded_is_not_settled(house: House) -> None:
    text(house, -30, "pay all 5 a day", OWNER)
    text(house, -20, "block 3 18 litres")

    assert send(house, "/pay", "/pay", total="4.00").status_code == 409
    with house.books.transaction() as tx:
        assert wages.settlements(tx, house.farm.id) == []


def test_a_line_is_corrected_on_the_page_with_history_and_its_tapper_is_told(house: House) -> None:
    text(house, 0, "block 3 18 litres")
    with house.books.transaction() as tx:
        (entry,) = entries.standing(tx, house.farm.id)
    path = f"/entry/{entry.id}"

    assert send(house, path, path, day="2026-03-12", block="3", litres="17,5", do="change").status_code == 303
    with house.books.transaction() as tx:
        (now,) = entries.standing(tx, house.farm.id)
        told = [each.text for each in outbox.listing(tx, NOW, NOW + timedelta(days=1)) if each.to == TAPPER]
    assert (now.record.litres, now.replaces) == (Decimal("17.5"), entry.id)
    assert "changed your entry" in told[-1]
    assert house.client.get(house.link + path).status_code == 404  # that line does not stand any more


def test_a_line_is_taken_out_on_the_page(house: House) -> None:
    text(house, 0, "block 3 18 litres")
    with house.books.transaction() as tx:
        (entry,) = entries.standing(tx, house.farm.id)
    path = f"/entry/{entry.id}"

    assert send(house, path, path, do="take out").status_code == 303
    with house.books.transaction() as tx:
        assert entries.standing(tx, house.farm.id) == []


@pytest.mark.parametrize(
    "form", [{"litres": "many"}, {"day": "2027-01-01"}, {"day": "x"}, {"block": "99"}, {"litres": "-4"}]
)
def test_a_change_that_makes_no_sense_is_refused_and_says_why(house: House, form: dict[str, str]) -> None:
    text(house, 0, "block 3 18 litres")
    with house.books.transaction() as tx:
        (entry,) = entries.standing(tx, house.farm.id)
    path = f"/entry/{entry.id}"

    got = send(house, path, path, **form)
    assert got.status_code == 400
    assert 'role="alert"' in got.get_data(as_text=True)
    with house.books.transaction() as tx:
        assert [each.id for each in entries.standing(tx, house.farm.id)] == [entry.id]


def settings_form(house: House, **changes: str) -> dict[str, str]:
    shown = page(house, "/settings")
    fields = dict(re.findall(r'<input id="([a-z_]+)" name="[a-z_]+" value="([^"]*)"', shown))
    for name, options in re.findall(r'<select id="([a-z_]+)" name="[a-z_]+">(.*?)</select>', shown, re.DOTALL):
        fields[name] = re.findall(r'<option value="([^"]*)" selected>', options)[0]
    return fields | changes


def test_a_system_that_makes_no_calendar_leaves_the_pages_open(house: House) -> None:
    """The first day of tapping lies on the day of rest."""
    changed = settings_form(house, tapping="S/2 d2 6d/7", tapping_from="2026-03-01", rest_weekday="6")
    assert send(house, "/settings", **changed).status_code == 303

    assert "Set the tapping system under Settings" in page(house, "/block/3")


def test_settings_are_changed_and_their_history_is_kept(house: House) -> None:
    assert (
        send(house, "/settings", **settings_form(house, acid_strength_percent="90", tapping="S/2 d3")).status_code
        == 303
    )

    with house.books.transaction() as tx:
        settings = farms.farm(tx, house.farm.id).settings
        history = farms.settings_history(tx, house.farm.id)
    assert (settings.acid_strength_percent, settings.tapping) == (Decimal(90), "S/2 d3")
    assert {each["name"] for each in history} == {"acid_strength_percent", "tapping"}


def test_a_setting_out_of_bounds_is_refused_and_nothing_changes(house: House) -> None:
    got = send(house, "/settings", **settings_form(house, acid_strength_percent="150"))

    assert got.status_code == 400
    with house.books.transaction() as tx:
        assert farms.settings_history(tx, house.farm.id) == []


@pytest.mark.parametrize("path", ["/pay", "/settings", "/links", "/entry/x"])
def test_a_form_from_elsewhere_or_without_its_key_changes_nothing(house: House, path: str) -> None:
    good = key_in(page(house, "/settings"))
    foreign = {"Sec-Fetch-Site": "cross-site"}

    assert house.client.post(house.link + path, data={"key": good}, headers=foreign).status_code == 403
    assert house.client.post(house.link + path, data={}, headers=OURS).status_code == 403
    assert house.client.post(house.link + path, data={"key": good + "x"}, headers=OURS).status_code == 403
    theirs = owner.link(house.settings, house.other.id, house.other_owner.id)
    assert house.client.post(theirs + path, data={"key": good}, headers=OURS).status_code == 403


@pytest.mark.parametrize("path", [*PAGES, "/why/x", "/entry/x"])
def test_no_page_opens_for_somebody_who_does_not_own_the_farm(house: House, path: str) -> None:
    tappers = owner.link(house.settings, house.farm.id, house.tapper.id)
    others = owner.link(house.settings, house.farm.id, house.other_owner.id)

    for link in (tappers, others, "/farm/nonsense"):
        assert house.client.get(link + path).status_code == 403


def test_another_farms_block_tapper_and_entry_are_not_there(house: House) -> None:
    text(house, 0, "block 3 18 litres")
    with house.books.transaction() as tx:
        (entry,) = entries.standing(tx, house.farm.id)
    theirs = owner.link(house.settings, house.other.id, house.other_owner.id)

    assert house.client.get(f"{theirs}/tapper/{house.tapper.id}").status_code == 404
    assert house.client.get(f"{theirs}/entry/{entry.id}").status_code == 404


def test_links_can_be_made_void_and_new_ones_open_again(house: House) -> None:
    assert send(house, "/links").status_code == 200
    with house.books.transaction() as tx:
        since = people.links_since(tx, house.owner.id)
    assert since is not None

    with house.books.transaction() as tx:
        people.cut_links(tx, house.owner.id, since + timedelta(days=400))
    assert house.client.get(house.link).status_code == 403
    assert links.path(house.settings, house.farm.id, house.owner.id)


def test_a_change_that_waits_for_a_pin_can_be_confirmed_on_the_page(house: House) -> None:
    text(house, 0, "pin 4821", OWNER)
    assert "Send your PIN" in str(text(house, 0, "pay all 0.40 per kg", OWNER).text)
    assert "all tappers: 0.40 a kg dry" in page(house, "/waiting")

    done = send(house, "/waiting", form_page="/waiting")

    assert "Pay of all tappers from today: 0.40 a kg dry" in done.get_data(as_text=True)
    with house.books.transaction() as tx:
        assert len(wages.all_terms(tx, house.farm.id)) == 1
    assert "Nothing waits" in page(house, "/waiting")
    assert send(house, "/waiting").status_code == 409


def test_another_farms_owner_confirms_nothing_of_this_one(house: House) -> None:
    text(house, 0, "pin 4821", OWNER)
    text(house, 0, "pay all 0.40 per kg", OWNER)
    theirs = owner.link(house.settings, house.other.id, house.other_owner.id)

    assert "Nothing waits" in house.client.get(f"{theirs}/waiting").get_data(as_text=True)

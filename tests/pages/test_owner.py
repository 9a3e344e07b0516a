"""The owner's page: what a link opens and what it does not, and that the figures are those of the book."""

from datetime import date, timedelta
from decimal import Decimal

import pytest
from itsdangerous import URLSafeTimedSerializer

from bot.app import create_app
from bot.books import entries, people
from bot.books.ids import new_id
from bot.books.model import Entry
from bot.carriers.practice import text_as
from bot.pages import links, owner
from bot.pages.week import MOST_LINES
from bot.settings import Settings
from parsers.reading import Reason, Record, Role, What
from tests.pages.conftest import NOW, SIZE_LIMIT, TAPPER, House

MONDAY = date(2026, 3, 9)


def enter(house: House, record: Record, replaces: str | None = None, dry_kg: float | None = None) -> Entry:
    text_as(house.books, TAPPER, "thanks", NOW, message_id="any")
    with house.books.transaction() as tx:
        return entries.enter(
            tx,
            farm_id=house.farm.id,
            message_id="any",
            by=house.tapper,
            via=None,
            record=record,
            entered_at=NOW,
            replaces=replaces,
            computed=None if dry_kg is None else {"dry_kg": dry_kg},
        )


def latex(day: date, litres: str, block: str = "3") -> Record:
    return Record(What.LATEX, day, block, litres=Decimal(litres))


def page(house: House, query: str = "") -> str:
    got = house.client.get(house.link + query)
    assert got.status_code == 200
    return got.get_data(as_text=True)


def cells(*values: str) -> str:
    """Figures of a row as the page writes them: week, before, week, before."""
    now, before, dry, dry_before = values
    return f'<td>{now}</td><td class="past">{before}</td><td>{dry}</td><td class="past">{dry_before}</td>'


def test_the_figures_of_a_block_stand_beside_those_of_the_week_before(house: House) -> None:
    enter(house, latex(MONDAY, "18"), dry_kg=5.8)
    enter(house, latex(MONDAY + timedelta(days=1), "12.5"), dry_kg=4.0)
    enter(house, latex(MONDAY - timedelta(days=6), "20"), dry_kg=6.4)

    shown = page(house)
    assert f">B3</a></th>{cells('30.5', '20', '9.8', '6.4')}" in shown  # 18 + 12.5; 5.8 + 4.0
    assert f">B5</a></th>{cells('0', '0', '0.0', '0.0')}" in shown


def test_a_running_week_is_compared_with_the_same_days_of_the_week_before(house: House) -> None:
    enter(house, latex(MONDAY, "18"))
    enter(house, latex(MONDAY - timedelta(days=1), "25"))  # Sunday of the week before; today is a Thursday

    assert cells("18", "0", "0.0", "0.0") in page(house)
    assert cells("0", "18", "0.0", "0.0") in page(house, "?of=2026-03-19")
    assert cells("25", "0", "0.0", "0.0") in page(house, "?of=2026-03-08")


def test_the_picture_has_its_figures_as_words_and_as_a_table(house: House) -> None:
    enter(house, latex(MONDAY, "18"))

    shown = page(house)
    assert "Litres of latex by day: Mon 18, Tue 0, Wed 0, Thu 0, Fri -, Sat -, Sun -" in shown  # a Thursday
    assert 'role="img"' in shown
    assert '<th scope="col">Mon<br>9</th>' in shown
    assert "<td>18</td><td>0</td>" in shown


def test_a_corrected_line_is_struck_and_followed_by_its_successor(house: House) -> None:
    first = enter(house, latex(MONDAY, "18"))
    enter(house, latex(MONDAY, "17"), replaces=first.id)

    assert "<del>B3 18 L</del>" in page(house)
    assert "corrected to <ins>B3 17 L</ins>" in page(house)


def test_a_line_moved_to_another_week_is_struck_in_the_week_that_it_left(house: House) -> None:
    first = enter(house, latex(MONDAY, "18"))
    enter(house, latex(MONDAY - timedelta(days=1), "18"), replaces=first.id)

    assert "corrected to <ins>8 Mar: B3 18 L</ins>" in page(house)


def test_a_line_taken_out_is_struck(house: House) -> None:
    first = enter(house, latex(MONDAY, "18"))
    with house.books.transaction() as tx:
        entries.remove(tx, first.id, message_id="any", at=NOW)

    assert page(house).count("B3 18 L") == 1
    assert "taken out" in page(house)


def test_rain_silence_and_stop_are_shown(house: House) -> None:
    enter(house, Record(What.NO_TAPPING, MONDAY, "3", reason=Reason.RAIN))
    with house.books.transaction() as tx:
        people.opt_out(tx, house.tapper.id, NOW)

    shown = page(house)
    assert "Block-days lost to rain</th><td>1 (0)" in shown
    assert "nothing on 3 of 4 days, last for Mon 9 Mar" in shown  # Monday to Thursday
    assert "wants no texts</strong> (STOP since Thu 12 Mar)" in shown


def test_a_name_that_is_markup_stays_text(house: House) -> None:
    enter(house, latex(MONDAY, "18"))

    assert "<script" not in page(house)
    assert "&lt;script&gt;alert(1)&lt;/script&gt;" in page(house)


def test_a_week_to_come_is_nobodys_silence(house: House) -> None:
    shown = page(house, "?of=2026-03-20")

    assert "This week is still to come." in shown
    assert "nothing on" not in shown


def refused(house: House, path: str) -> str:
    got = house.client.get(path)
    assert got.status_code == 403
    text = got.get_data(as_text=True)
    assert "Ask whoever runs this day-book for a new link." in text
    assert "Heron Hill" not in text
    return text


def test_a_link_altered_in_any_letter_opens_nothing(house: House) -> None:
    token = house.link.removeprefix("/farm/")
    for n in range(0, len(token), 7):
        other = "A" if token[n] != "A" else "B"
        refused(house, f"/farm/{token[:n]}{other}{token[n + 1 :]}")


@pytest.mark.parametrize("token", ["x", "a.b.c", "..", "WyJhIl0.x.y", "\u0e01"])
def test_what_is_no_link_opens_nothing(house: House, token: str) -> None:
    assert house.client.get(f"/farm/{token}").status_code in (403, 404)


def test_a_link_signed_with_another_key_or_for_another_use_opens_nothing(house: House) -> None:
    what = [house.farm.id, house.owner.id]
    refused(house, "/farm/" + str(URLSafeTimedSerializer("another key", salt="owner-page").dumps(what)))
    refused(house, "/farm/" + str(URLSafeTimedSerializer("a key for the test", salt="else").dumps(what)))


def test_a_link_expires(house: House, monkeypatch: pytest.MonkeyPatch) -> None:
    link = house.link
    monkeypatch.setattr(links, "LINK_LASTS", -1)

    assert "expired" in refused(house, link)


def test_an_owner_sees_no_farm_but_his_own(house: House) -> None:
    refused(house, owner.link(house.settings, house.farm.id, house.other_owner.id))
    refused(house, owner.link(house.settings, house.farm.id, house.tapper.id))


def test_the_link_of_an_owner_who_left_or_was_blocked_opens_nothing(house: House) -> None:
    with house.books.transaction() as tx:
        people.block(tx, house.owner.id, NOW)
    refused(house, house.link)
    with house.books.transaction() as tx:
        people.unblock(tx, house.owner.id)
        people.dismiss(tx, house.owner.id, house.farm.id, Role.OWNER, at=NOW)
    refused(house, house.link)


@pytest.mark.parametrize("query", ["?of=yesterday", "?of=0001-01-01", "?of=9999-12-31", "?after=-1", "?after=x"])
def test_an_impossible_day_or_line_is_refused_in_words(house: House, query: str) -> None:
    assert house.client.get(house.link + query).status_code == 400


def test_a_full_week_is_shown_in_pages_that_stay_light(house: House) -> None:
    for n in range(MOST_LINES + 5):
        enter(house, latex(MONDAY, str(n + 1)))

    first, second = page(house), page(house, f"?after={MOST_LINES}")
    assert len(first.encode()) < SIZE_LIMIT
    assert f"Lines 1 to {MOST_LINES} of {MOST_LINES + 5}." in first
    assert "B3 105 L" not in first
    assert "B3 105 L" in second


def test_the_owners_links_are_listed_in_the_demonstration_alone(house: House) -> None:
    app = create_app(Settings(house.settings.books, link_key="a key"), house.books, lambda: NOW)

    assert house.link.split(".")[0] in house.client.get("/owner").get_data(as_text=True)
    assert app.test_client().get("/owner").status_code == 403


def test_a_link_is_whole_where_the_public_address_is_known(house: House) -> None:
    settings = Settings(house.settings.books, public_url="https://bot.example.org", link_key="a key")

    assert owner.link(settings, new_id(), new_id()).startswith("https://bot.example.org/farm/")


def test_pages_forbid_scripts_and_are_not_kept(house: House) -> None:
    got = house.client.get(house.link)

    assert "default-src 'none'" in got.headers["Content-Security-Policy"]
    assert got.headers["Cache-Control"] == "no-store"
    assert got.headers["Referrer-Policy"] == "no-referrer"


def test_the_figures_of_a_line_can_be_explained(house: House) -> None:
    text_as(house.books, TAPPER, "block 3 18 litres", NOW)
    with house.books.transaction() as tx:
        (entry,) = entries.standing(tx, house.farm.id)

    assert f"/why/{entry.id}" in page(house)
    shown = page(house, f"/why/{entry.id}")
    assert "18 L x 0.982 kg/L x 33% = 5.83 kg." in shown
    assert "g pure acid" in shown


def test_another_farm_s_figures_are_not_explained(house: House) -> None:
    text_as(house.books, TAPPER, "block 3 18 litres", NOW)
    with house.books.transaction() as tx:
        (entry,) = entries.standing(tx, house.farm.id)
    theirs = owner.link(house.settings, house.other.id, house.other_owner.id)

    assert house.client.get(f"{theirs}/why/{entry.id}").status_code == 404
    assert house.client.get(f"{theirs}/why/nothing").status_code == 404

"""The day-book store on both engines: nothing overwritten, nothing twice, nothing half, and the same rows from both."""

import threading
from datetime import UTC, date, datetime, timedelta, timezone
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bot.books import AlreadyReplaced, Books, BooksUnavailable, entries, farms, messages, open_books, outbox, people
from bot.books import questions as asked
from bot.books.convert import folded, moment_in, moment_out, record_in, record_out, storable
from bot.books.farm_settings import UnknownSetting
from bot.books.ids import new_id
from parsers.reading import Block, Reason, Record, Role, What
from tests.books import made
from tests.books.made import DAY, NOW, TOBIN


def later(hours: float) -> datetime:
    return NOW + timedelta(hours=hours)


# Transactions


def test_a_broken_transaction_leaves_no_trace(books: Books) -> None:
    line = made.with_a_line(books)

    def breaks(tx) -> None:
        entries.remove(tx, line.id, message_id="m1", at=NOW)
        raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        books.run_transaction(breaks)

    with books.transaction() as tx:
        assert len(entries.standing(tx, line.farm_id)) == 1


def test_a_fault_of_a_statement_is_not_hidden_behind_the_books(books: Books) -> None:
    """A broken rule of the schema is a fault of ours; the carrier must not try the same again for ever."""
    with pytest.raises(Exception, match=r"(?i)foreign key") as raised, books.transaction() as tx:
        made.a_line(tx, "no-farm", "nobody")

    assert not isinstance(raised.value, BooksUnavailable)
    books.check()


def test_books_work_on_after_a_fault(books: Books) -> None:
    with pytest.raises(KeyError), books.transaction() as tx:
        tx.run("no_such_statement")

    made.with_a_line(books)


def test_what_was_committed_is_there_after_reopening(books: Books, where: str) -> None:
    line = made.with_a_line(books)
    books.close()

    again = open_books(where)
    with again.transaction() as tx:
        assert entries.standing(tx, line.farm_id) == [line]
    again.close()


def test_closed_books_say_so(books: Books) -> None:
    books.close()

    with pytest.raises(BooksUnavailable):
        books.check()


def test_a_check_writes(books: Books) -> None:
    books.check()
    books.check()

    with books.engine.session() as session:
        assert session.execute("select beats from heartbeats") == [{"beats": 2}]


def test_threads_take_turns(books: Books) -> None:
    line = made.with_a_line(books)

    def enter(n: int) -> None:
        for each in range(10):
            books.run_transaction(lambda tx, each=each: made.a_text(tx, f"{n}-{each}"))

    threads = [threading.Thread(target=enter, args=(n,)) for n in range(6)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()

    with books.transaction() as tx:
        assert len(messages.latest_from(tx, line.by.number, 100)) == 61


def test_the_tracer_sees_every_statement(books: Books) -> None:
    seen: list[str] = []
    books.tracer = lambda name, _: seen.append(name)

    books.check()

    assert seen == ["ping", "beat"]


# Entries


def test_a_correction_takes_the_place_of_a_line_and_both_can_be_seen(books: Books) -> None:
    line = made.with_a_line(books)

    with books.transaction() as tx:
        new = made.a_line(tx, line.farm_id, line.by.id, record=made.LATEX.with_(litres=Decimal(17)), replaces=line.id)
        assert [new] == entries.standing(tx, line.farm_id)
        assert [line, new] == entries.history(tx, line.id) == entries.history(tx, new.id)
        assert [line, new] == entries.all_entries(tx, line.farm_id)
        assert [line, new] == entries.of_message(tx, "m1")
        assert entries.successor(tx, line.id) == new


def test_a_line_is_taken_out_once_and_never_twice(books: Books) -> None:
    line = made.with_a_line(books)

    with books.transaction() as tx:
        gone = entries.remove(tx, line.id, message_id="m1", at=NOW)
        assert gone.removed
        assert entries.standing(tx, line.farm_id) == []
        with pytest.raises(AlreadyReplaced):
            entries.remove(tx, line.id, message_id="m1", at=NOW)
        with pytest.raises(AlreadyReplaced):
            made.a_line(tx, line.farm_id, line.by.id, replaces=line.id)
        assert entries.history(tx, line.id) == [line, gone]


@pytest.mark.parametrize("look", [entries.history, lambda tx, e: entries.remove(tx, e, message_id="m1", at=NOW)])
def test_an_entry_that_is_not_there_is_an_error(books: Books, look) -> None:
    with books.transaction() as tx, pytest.raises(LookupError):
        look(tx, "nothing")


def test_lines_stand_by_day_and_time_of_entering(books: Books) -> None:
    line = made.with_a_line(books)

    with books.transaction() as tx:
        for days, hours in ((1, 5), (0, 4), (-1, 6), (0, 3)):
            record = made.LATEX.with_(day=DAY + timedelta(days=days), litres=Decimal(hours))
            made.a_line(tx, line.farm_id, line.by.id, record=record, entered_at=later(hours))
        whole = [each.record.litres for each in entries.standing(tx, line.farm_id)]
        today = [each.record.litres for each in entries.standing(tx, line.farm_id, first=DAY, last=DAY)]

    assert whole == [Decimal(6), Decimal("18.5"), Decimal(3), Decimal(4), Decimal(5)]
    assert today == [Decimal("18.5"), Decimal(3), Decimal(4)]


def test_what_stands_can_be_asked_by_block_person_and_kind(books: Books) -> None:
    line = made.with_a_line(books)

    with books.transaction() as tx:
        kofi = made.a_person(tx, line.farm_id, "+447700900103", "Kofi")
        lump = made.a_line(tx, line.farm_id, kofi.id, record=Record(What.LUMP, DAY, None, kg=Decimal("2.5")))
        assert entries.standing(tx, line.farm_id, what=What.LUMP) == [lump]
        assert entries.standing(tx, line.farm_id, by=kofi.id) == [lump]
        assert entries.standing(tx, line.farm_id, block="3") == [line]
        assert entries.standing(tx, line.farm_id, what=What.LUMP, last=DAY - timedelta(days=1)) == []
        assert entries.latest_farm_of(tx, kofi.id) == line.farm_id


def test_takes_are_counted_without_their_corrections(books: Books) -> None:
    line = made.with_a_line(books)

    with books.transaction() as tx:
        take = Record(What.COLLECTED, DAY, None, kg=Decimal(12))
        first = made.a_line(tx, line.farm_id, line.by.id, record=take)
        made.a_line(tx, line.farm_id, line.by.id, record=take.with_(kg=Decimal(13)), replaces=first.id)
        second = made.a_line(tx, line.farm_id, line.by.id, record=take)
        assert [entries.position(tx, line.farm_id, each.id) for each in (first, second)] == [1, 2]


def test_a_line_comes_out_as_it_went_in(books: Books) -> None:
    line = made.with_a_line(books)
    record = Record(
        What.COLLECTED,
        DAY,
        "3",
        litres=Decimal("0.001"),
        kg=Decimal("123456.789"),
        drc=Decimal("31.25"),
        rain=True,
        late=True,
        reason=Reason.OTHER,
        count=7,
        sheets=24,
        farm="Ầm & Söhne",
        grade="RSS3",
        price=Decimal("61234.5678"),
        place="ท่าน้ำ 100% :here",
        again=True,
    )
    computed = {"acid_ml": "26", "from": {"sources": ["ä", "%s", ":name"]}}

    with books.transaction() as tx:
        new = made.a_line(
            tx, line.farm_id, line.by.id, record=record, computed=computed, confirmed=True, via="+447700900150"
        )
        assert entries.entry(tx, new.id) == new

    assert new.record == record
    assert (new.computed, new.confirmed, new.via, new.entered_at) == (computed, True, "+447700900150", NOW)


@given(
    litres=st.none() | st.decimals(min_value="0.001", max_value=9999, places=3),
    drc=st.none() | st.decimals(min_value=10, max_value=60, places=2),
    price=st.none() | st.decimals(min_value=0, max_value=10**8, places=4),
    rain=st.booleans(),
)
def test_a_record_comes_out_of_its_columns_as_it_went_in(
    litres: Decimal | None, drc: Decimal | None, price: Decimal | None, rain: bool
) -> None:
    record = Record(What.LATEX, date(2026, 3, 18), "3", litres, drc=drc, rain=rain, price=price)

    assert record == record_in(record_out(record))


# Texts


def test_a_known_message_is_a_repeat_with_its_answer(books: Books) -> None:
    line = made.with_a_line(books)

    with books.transaction() as tx:
        messages.close(tx, "m1", person_id=line.by.id, kind="entered", reply="B3 18.5 L.", parts=1)
        again = messages.receive(tx, message_id="m1", carrier="x", number="+44", text="other", at=NOW, arrived=NOW)

    assert again is not None
    assert (again.text, again.reply, again.parts, again.kind) == ("3 18.5", "B3 18.5 L.", 1, "entered")


def test_texts_are_listed_by_arrival(books: Books) -> None:
    with books.transaction() as tx:
        for hours in (3, 1, 2):
            arrived = later(hours)
            messages.receive(tx, message_id=f"m{hours}", carrier="x", number=TOBIN, text="hi", at=NOW, arrived=arrived)
        assert [each.id for each in messages.listing(tx, later(1), later(3))] == ["m1", "m2"]
        assert [each.id for each in messages.latest_from(tx, TOBIN, 2)] == ["m3", "m2"]


def test_the_last_answer_to_a_stranger_is_known(books: Books) -> None:
    with books.transaction() as tx:
        for hours, reply in ((1, "who?"), (2, "who are you?"), (3, None)):
            message_id, arrived = f"m{hours}", later(hours)
            messages.receive(tx, message_id=message_id, carrier="x", number=TOBIN, text="hi", at=NOW, arrived=arrived)
            messages.close(tx, message_id, person_id=None, kind="refused", reply=reply, parts=0)
        assert messages.last_reply_to_stranger(tx, TOBIN) == later(2)
        assert messages.last_reply_to_stranger(tx, TOBIN, except_id="m2") == later(1)
        assert messages.last_reply_to_stranger(tx, "+447700900999") is None


@pytest.mark.parametrize(
    "text",
    ["", "ลิตร ๑๘", "😀 3 18", 'it\'s "3"; drop table entries; --', "100% :litres %(id)s", "a\nb\tc", "x" * 20_000],
)
def test_any_text_is_kept_as_it_came(books: Books, text: str) -> None:
    with books.transaction() as tx:
        made.a_text(tx, "m1", text=text)

    with books.transaction() as tx:
        assert messages.message(tx, "m1").text == text


def test_what_no_database_holds_is_replaced(books: Books) -> None:
    with books.transaction() as tx:
        made.a_text(tx, "m\0", text="3 \0 18 \ud800 litres")
        assert not made.a_text(tx, "m\0")
        assert messages.message(tx, "m\0").text == "3 \ufffd 18 \ufffd litres"


@given(st.text(st.characters(codec=None)))
def test_whatever_is_stored_can_be_encoded(text: str) -> None:
    kept = storable(text)

    assert "\0" not in kept
    assert len(kept) == len(text)
    assert kept.encode("utf-8").decode("utf-8") == kept


# Outbox


def test_a_text_is_put_once_for_its_key(books: Books) -> None:
    with books.transaction() as tx:
        assert made.a_waiting_text(tx, "k") is not None
        assert made.a_waiting_text(tx, "k") is None
        assert outbox.has(tx, "k")
        assert not outbox.has(tx, "other")
        assert outbox.waiting_count(tx) == 1
        assert made.a_waiting_text(tx, None) != made.a_waiting_text(tx, None)


def test_the_oldest_text_that_is_due_is_claimed_first(books: Books) -> None:
    with books.transaction() as tx:
        ids = [made.a_waiting_text(tx, due_at=later(hours)) for hours in (2, 1, 9)]
        first, second, none = (outbox.claim(tx, later(3)) for _ in range(3))

    assert [first.id, second.id, none] == [ids[1], ids[0], None]
    assert (first.state, first.attempts) == ("sending", 1)


def test_what_becomes_of_a_text_is_kept(books: Books) -> None:
    with books.transaction() as tx:
        sent, again, given_up, unsure = (made.a_waiting_text(tx, because="m1") for _ in range(4))
        for _ in range(4):
            outbox.claim(tx, NOW)
        outbox.sent(tx, sent, "SM1", at=NOW)
        outbox.failed(tx, again, "30001", later(1), at=NOW)
        outbox.failed(tx, given_up, "21610", None, at=NOW)
        outbox.unsure(tx, unsure, at=NOW)
        found = {each.id: (each.state, each.carrier_id, each.error_code) for each in outbox.because_of(tx, "m1")}
        assert outbox.claim(tx, NOW) is None
        retried = outbox.claim(tx, later(1))
        assert [each.id for each in outbox.left_sending(tx, later(2))] == [again]
        assert len(outbox.listing(tx, NOW, later(1))) == 4

    assert found == {
        sent: ("sent", "SM1", None),
        again: ("new", None, "30001"),
        given_up: ("failed", None, "21610"),
        unsure: ("unsure", None, None),
    }
    assert (retried.id, retried.attempts) == (again, 2)


# Questions


def test_a_new_question_closes_an_older_one(books: Books) -> None:
    line = made.with_a_line(books)
    about = {"person_id": line.by.id, "farm_id": line.farm_id, "message_id": "m1"}

    with books.transaction() as tx:
        asked.ask(tx, **about, body="first", asked_at=NOW, expires_at=later(9))
        asked.ask(tx, **about, body="second", asked_at=later(1), expires_at=later(9))
        assert asked.open_question(tx, line.by.id, later(2)).body == "second"
        assert asked.open_question(tx, line.by.id, later(9)) is None
        asked.close(tx, line.by.id, later(3), "answered")
        assert asked.open_question(tx, line.by.id, later(4)) is None


# People


def test_one_number_is_one_person_with_several_roles_and_farms(books: Books) -> None:
    with books.transaction() as tx:
        reed, rim = made.a_farm(tx), made.a_farm(tx, "Rim Farm")
        first = made.a_person(tx, reed.id)
        made.a_person(tx, reed.id, role=Role.OWNER)
        again = made.a_person(tx, rim.id, name="Tobin B", role=Role.COLLECTOR)
        held = {(each.farm_id, each.role) for each in people.memberships(tx, first.id)}
        assert people.person_by_number(tx, TOBIN).name == "Tobin B"
        assert len(people.everybody(tx)) == 3

    assert again.id == first.id
    assert held == {(reed.id, Role.TAPPER), (reed.id, Role.OWNER), (rim.id, Role.COLLECTOR)}


def test_enrolling_again_changes_the_blocks(books: Books) -> None:
    with books.transaction() as tx:
        farm = made.a_farm(tx)
        who = {"name": "Ama", "number": TOBIN, "language": "en", "role": Role.TAPPER, "message_id": None}
        people.enrol(tx, farm_id=farm.id, blocks=("3",), at=NOW, **who)
        people.enrol(tx, farm_id=farm.id, blocks=("river 2", "4"), at=later(1), **who)
        assert [each.blocks for each in people.members(tx, farm.id)] == [("river 2", "4")]


@pytest.mark.parametrize(("role", "left"), [(None, set()), (Role.OWNER, {Role.TAPPER})])
def test_somebody_leaves_one_role_or_all(books: Books, role: Role | None, left: set[Role]) -> None:
    with books.transaction() as tx:
        farm = made.a_farm(tx)
        tobin = made.a_person(tx, farm.id)
        made.a_person(tx, farm.id, role=Role.OWNER)
        people.dismiss(tx, tobin.id, farm.id, role, at=later(1))
        assert {each.role for each in people.memberships(tx, tobin.id)} == left
        made.a_person(tx, farm.id, role=Role.OWNER)
        assert Role.OWNER in {each.role for each in people.members(tx, farm.id)}


def test_stopped_and_blocked_numbers_are_marked(books: Books) -> None:
    with books.transaction() as tx:
        tobin = made.a_person(tx, made.a_farm(tx).id)
        people.opt_out(tx, tobin.id, NOW)
        people.block(tx, tobin.id, later(1))
        people.set_language(tx, tobin.id, "th")
        marked = people.person_by_number(tx, TOBIN)
        people.opt_in(tx, tobin.id)
        people.unblock(tx, tobin.id)
        free = people.person_by_number(tx, TOBIN)

    assert (marked.opted_out_at, marked.blocked_at, marked.language) == (NOW, later(1), "th")
    assert (free.opted_out_at, free.blocked_at) == (None, None)


# Farms


def test_a_farm_is_found_by_its_name_however_it_is_written(books: Books) -> None:
    with books.transaction() as tx:
        farm = made.a_farm(tx, "El Mangó")
        assert farms.farm_named(tx, "el-mango") == farm == farms.farm(tx, farm.id)
        assert farms.farm_named(tx, "other") is None
        assert farms.all_farms(tx) == [farm]
        with pytest.raises(LookupError):
            farms.farm(tx, "nothing")


def test_settings_keep_their_history_and_the_newest_counts(books: Books) -> None:
    with books.transaction() as tx:
        farm = made.a_farm(tx)
        for n, strength in enumerate(("85", "90")):
            farms.change_setting(tx, farm.id, "acid_strength_percent", Decimal(strength), at=later(n), message_id=None)
        assert farms.farm(tx, farm.id).settings.acid_strength_percent == Decimal(90)
        assert len(farms.settings_history(tx, farm.id)) == 2


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("colour", "red"),
        ("acid", "sulphuric"),
        ("acid_strength_percent", Decimal(185)),
        ("acid_strength_percent", "strong"),
        ("summary_weekday", 7),
        ("summary_hour", 24),
        ("target_drc_percent", Decimal("-1")),
        ("ready", "sometime"),
        ("sheet_dry_g", 0),
    ],
)
def test_a_setting_that_cannot_be_is_refused_and_leaves_no_trace(books: Books, name: str, value: object) -> None:
    with books.transaction() as tx:
        farm = made.a_farm(tx)
        with pytest.raises(UnknownSetting, match=name):
            farms.change_setting(tx, farm.id, name, value, at=NOW, message_id=None)
        assert farms.settings_history(tx, farm.id) == []


def test_blocks_keep_their_order(books: Books) -> None:
    with books.transaction() as tx:
        farm = made.a_farm(tx, blocks={"swamp": Block(), "B2": Block(250, Decimal("14.5")), "10": Block(1)})
        found = farms.blocks(tx, farm.id)

    assert list(found) == ["swamp", "B2", "10"]
    assert (found["B2"].trees, found["B2"].usual_litres) == (250, Decimal("14.5"))


def test_a_container_holds_what_was_said_last(books: Books) -> None:
    with books.transaction() as tx:
        farm = made.a_farm(tx, containers={"bucket": Decimal(12)})
        farms.set_container(tx, farm.id, "Bucket", Decimal("11.5"), at=later(1), message_id=None)
        assert farms.containers(tx, farm.id) == {"Bucket": Decimal("11.5")}


def test_points_are_found_by_a_part_of_their_name(books: Books) -> None:
    with books.transaction() as tx:
        reed, rim = made.a_farm(tx), made.a_farm(tx, "Rim Farm", other_farms=["Far Side"])
        farms.add_point(tx, "River Landing", [reed.id])
        point = farms.add_point(tx, "river landing", [rim.id, reed.id])
        assert farms.point_named(tx, "landing") == point
        assert farms.point_named(tx, "hill") is None
        assert farms.names_known(tx, rim) == ["Rim Farm", "Far Side"]

    assert point.farm_ids == tuple(sorted((reed.id, rim.id)))


# Small things


def test_ids_rise_in_the_order_in_which_they_are_made() -> None:
    made_ids = [new_id() for _ in range(500)]

    assert sorted(made_ids) == made_ids
    assert len(set(made_ids)) == len(made_ids)


@pytest.mark.parametrize(
    ("one", "other"),
    [("El Mangó", "el-mango"), ("Block A", "blocka"), ("ＡＢ １", "ab1"), ("Đồi", "đoi"), ("STRASSE", "Straße")],
)
def test_names_that_read_the_same_have_one_key(one: str, other: str) -> None:
    assert folded(one) == folded(other)


@pytest.mark.parametrize(("one", "other"), [("นา", "น้ำ"), ("A1", "A11"), ("กก", "กิก")])
def test_names_that_differ_have_two_keys(one: str, other: str) -> None:
    assert folded(one) != folded(other)


@given(st.datetimes(timezones=st.sampled_from([UTC, timezone(timedelta(hours=7)), timezone(timedelta(hours=-5))])))
def test_a_moment_comes_out_as_it_went_in(moment: datetime) -> None:
    if moment.year in (1, 9999):  # next to the ends of the calendar it may not have a moment in UTC
        return
    assert moment_in(moment_out(moment)) == moment


def test_moments_as_text_have_the_order_of_time() -> None:
    rising = [datetime(999, 1, 1, tzinfo=UTC), NOW, NOW + timedelta(microseconds=1), datetime(2026, 10, 1, tzinfo=UTC)]

    assert sorted(map(moment_out, rising)) == [moment_out(each) for each in rising]


def test_a_moment_without_a_zone_is_refused() -> None:
    with pytest.raises(ValueError, match="zone"):
        moment_out(datetime(2026, 3, 18))  # noqa: DTZ001

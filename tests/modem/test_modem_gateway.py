"""The program that passes texts between a modem daemon's spool and a tapping log: real files, real HTTP, stopped anywhere."""

import os
import subprocess
import sys
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import closing, suppress
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from bot.books import entries, farms, messages, open_books, outbox
from bot.jobs import TRY_AGAIN
from tests.faults import house
from tests.modem.spool import PROGRAM, SECRET, Log, Modem, environment, program, serving

TAPPER, OWNER, COLLECTOR = (house.number(0, role) for role in (house.TAPPER, house.OWNER, house.COLLECTOR))
LATEX, TAKEN = "block 3 18 litres rain", "took 12 sheets 5 kg"
AT = datetime.now(UTC).replace(tzinfo=None, microsecond=0) - timedelta(minutes=1)


@pytest.fixture
def log(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Log]:
    monkeypatch.setattr(house, "FARMS", 1)
    monkeypatch.setenv("TZ", "UTC")
    with closing(open_books(tmp_path / "books.sqlite")) as books:
        house.furnish(books)
        with serving(books) as log:
            yield log


@pytest.fixture
def modem(tmp_path: Path) -> Modem:
    return Modem.made(tmp_path / "spool")


class Office:
    """The program between a modem and a tapping log."""

    def __init__(self, log: Log, modem: Modem, **more: str) -> None:
        self.module = program()
        self.state = modem.spool.parent / "state"
        self.state.mkdir(exist_ok=True)
        self._chosen = environment(log.url, modem.spool, self.state, **more)
        self.restart()

    def restart(self) -> None:
        """As after it was killed: nothing is left but its files."""
        self.gateway = self.module.Gateway(self.module.chosen(self._chosen))

    def rounds(self, n: int = 1) -> None:
        for _ in range(n):
            self.gateway.round()


@pytest.fixture
def office(log: Log, modem: Modem) -> Office:
    return Office(log, modem)


def standing(log: Log) -> int:
    with log.books.reading() as tx:
        return len(entries.standing(tx, farms.all_farms(tx)[0].id))


def states(log: Log) -> list[str]:
    with log.books.reading() as tx:
        return [
            each.state
            for each in outbox.listing(tx, datetime(2026, 1, 1, tzinfo=UTC), datetime.max.replace(tzinfo=UTC))
        ]


def test_a_text_is_entered_and_its_answer_goes_out_once(log: Log, modem: Modem, office: Office) -> None:
    modem.receive(TAPPER, LATEX, at=AT)
    for _ in range(3):
        office.rounds()
        modem.send()

    ((number, answer),) = modem.sent
    assert number == TAPPER
    assert answer.startswith("B3 today 18 L, rain.")
    assert modem.sent.total() == standing(log) == 1
    assert states(log) == ["sent"]
    assert all(modem.files(folder) == [] for folder in ("inbox", "outbox", "sent", "error"))


def test_what_others_are_told_goes_out_too(log: Log, modem: Modem, office: Office) -> None:
    modem.receive(COLLECTOR, TAKEN, at=AT)
    for _ in range(3):
        office.rounds()
        modem.send()

    assert Counter(number for number, _ in modem.sent.elements()) == Counter([COLLECTOR, OWNER, TAPPER])
    assert set(states(log)) == {"sent"}


@pytest.mark.parametrize("text", ["แปลง 3 18 ลิตร ฝน", "bloc 3 18 litres forêt", "long words " * 12, "😀 ok"])
def test_words_of_any_script_and_length_arrive_as_they_were(log: Log, modem: Modem, office: Office, text: str) -> None:
    modem.receive(TAPPER, text, at=AT)
    office.rounds()

    with log.books.reading() as tx:
        (stored,) = messages.latest_from(tx, TAPPER, 9)
    assert stored.text == text
    assert stored.at == AT.replace(tzinfo=UTC)


def test_an_inbox_in_the_systems_charset_is_read_too(log: Log, modem: Modem, office: Office) -> None:
    modem.receive(TAPPER, "x", at=AT)
    file = next((modem.spool / "inbox").iterdir())
    times = file.stat()
    file.write_bytes("forêt".encode())
    os.utime(file, (times.st_atime, times.st_mtime))
    office.rounds()

    with log.books.reading() as tx:
        assert messages.latest_from(tx, TAPPER, 9)[0].text == "forêt"


def test_a_number_without_its_country_is_answered_as_the_modem_knows_it(log: Log, modem: Modem, office: Office) -> None:
    modem.receive("0" + TAPPER.removeprefix("+44"), LATEX, at=AT)
    for _ in range(2):
        office.rounds()
        modem.send()

    assert [number for number, _ in modem.sent] == [TAPPER]


def test_a_file_that_is_being_written_is_left_alone(log: Log, modem: Modem, office: Office) -> None:
    modem.receive(TAPPER, LATEX, at=AT, fresh=True)
    office.rounds()

    assert len(modem.files("inbox")) == 1
    assert standing(log) == 0


def test_the_same_text_stored_twice_by_the_daemon_is_one_text(log: Log, modem: Modem, office: Office) -> None:
    modem.receive(TAPPER, LATEX, at=AT, serial=0)
    office.rounds()
    modem.receive(TAPPER, LATEX, at=AT, serial=1)
    for _ in range(2):
        office.rounds()
        modem.send()

    assert standing(log) == modem.sent.total() == 1


def test_two_texts_of_one_second_are_two(log: Log, modem: Modem, office: Office) -> None:
    modem.receive(TAPPER, LATEX, at=AT, serial=0)
    modem.receive(TAPPER, "block 4 16 litres", at=AT, serial=1)
    office.rounds()

    assert standing(log) == 2


def test_what_the_modem_could_not_send_is_put_again_later_and_goes_out_once(
    log: Log, modem: Modem, office: Office
) -> None:
    modem.receive(TAPPER, LATEX, at=AT)
    office.rounds()
    modem.send(into="error")
    office.rounds(2)
    assert (states(log), modem.files("outbox"), modem.files("error")) == (["new"], [], [])

    log.ahead = TRY_AGAIN[0]
    office.rounds()
    modem.send()
    office.rounds()

    assert (modem.sent.total(), states(log)) == (1, ["sent"])


def test_a_text_that_comes_too_late_is_not_sent_at_night(log: Log, modem: Modem, office: Office) -> None:
    now = datetime.now(UTC)
    log.ahead = timedelta(minutes=-4)
    with log.books.transaction() as tx:
        about = {"parts": 1, "because": None, "due_at": now - timedelta(hours=1), "created_at": now}
        outbox.put(tx, to=TAPPER, text="Nothing for B3 today?", not_after=now - timedelta(minutes=1), **about)
    office.rounds(2)

    assert modem.files("outbox") == []
    assert states(log) == ["failed"]


def test_while_the_tapping_log_is_away_texts_wait_in_the_inbox(tmp_path: Path, modem: Modem, log: Log) -> None:
    modem.receive(TAPPER, LATEX, at=AT)
    away = Office(Log("http://127.0.0.1:9", log.books), modem)
    with pytest.raises(away.module.Later):
        away.rounds()
    assert len(modem.files("inbox")) == 1

    Office(log, modem).rounds()
    assert (standing(log), modem.files("inbox")) == (1, [])


def test_with_a_wrong_secret_nothing_is_lost_and_the_reason_is_said(modem: Modem, log: Log) -> None:
    modem.receive(TAPPER, LATEX, at=AT)
    wrong = Office(log, modem, GATEWAY_SECRET="f" * 64)
    with pytest.raises(wrong.module.Later, match="signature is wrong"):
        wrong.rounds()

    assert len(modem.files("inbox")) == 1


def test_a_text_that_is_refused_for_good_is_kept_and_stops_no_other(modem: Modem, log: Log) -> None:
    modem.receive("99999999999999", LATEX, at=AT)
    modem.receive("0812345678", LATEX, at=AT + timedelta(seconds=1))
    modem.receive(TAPPER, LATEX, at=AT + timedelta(seconds=2))
    with serving(log.books, gateway_country=None) as strict:
        office = Office(strict, modem)
        office.rounds()

    assert modem.files("inbox") == []
    assert len(list((office.state / "refused").iterdir())) == 2
    assert standing(log) == 1


def test_answers_may_come_at_once_where_another_carrier_sends(modem: Modem, log: Log) -> None:
    modem.receive(TAPPER, LATEX, at=AT)
    with serving(log.books, sends_by="twilio") as other:
        office = Office(other, modem)
        office.rounds()
        modem.send()
        office.rounds(2)

    assert (modem.sent.total(), states(log), modem.files("sent")) == (1, [], [])


def test_a_daemon_that_deletes_what_it_sent_is_complained_of_and_nothing_is_sent_twice(
    modem: Modem, log: Log, office: Office, caplog: pytest.LogCaptureFixture
) -> None:
    modem.receive(TAPPER, LATEX, at=AT)
    office.rounds()
    modem.send()
    for file in (modem.spool / "sent").iterdir():
        file.unlink()
    office.rounds(2)
    office.restart()
    office.rounds(2)

    assert "sentsmspath" in caplog.text
    assert (modem.sent.total(), modem.files("outbox"), states(log)) == (1, [], ["sending"])


def test_logs_hold_no_words_and_no_whole_numbers(modem: Modem, log: Log, caplog: pytest.LogCaptureFixture) -> None:
    modem.receive("0812345678", LATEX, at=AT)
    with serving(log.books, gateway_country=None) as strict:
        Office(strict, modem).rounds()

    assert "refused" in caplog.text
    assert "litres" not in caplog.text
    assert "0812345678" not in caplog.text


def test_texts_whose_answer_was_lost_on_the_way_are_put_in_the_next_round(
    log: Log, modem: Modem, office: Office, monkeypatch: pytest.MonkeyPatch
) -> None:
    modem.receive(TAPPER, LATEX, at=AT)
    whole = office.module.Line.ask

    def lost(line: Any, door: str, fields: dict[str, Any]) -> Any:
        said = whole(line, door, fields)
        if door == "fetch" and said["texts"]:
            raise office.module.Later("the line broke")
        return said

    office.rounds()
    modem.send()
    modem.receive(TAPPER, "block 4 16 litres", at=AT)
    monkeypatch.setattr(office.module.Line, "ask", lost)
    with pytest.raises(office.module.Later):
        office.rounds()
    monkeypatch.setattr(office.module.Line, "ask", whole)
    office.rounds()
    modem.send()

    assert modem.sent.total() == 2


# Stopped anywhere


class Stopped(BaseException):
    """The program ends here, as if it had been killed."""


def stopping(office: Office, at: int, monkeypatch: pytest.MonkeyPatch) -> Callable[[], int]:
    """Have the program end at its n-th step: before or after each call that leaves something behind. Tells how far it came."""
    steps = 0

    def step() -> None:
        nonlocal steps
        steps += 1
        if steps == at:
            raise Stopped

    def stoppable(owner: Any, name: str) -> None:
        whole = getattr(owner, name)

        def call(*args: Any, **more: Any) -> Any:
            step()
            result = whole(*args, **more)
            step()
            return result

        monkeypatch.setattr(owner, name, call)

    for owner, names in (
        (office.module.Line, ("ask",)),
        (office.module.Journal, ("begin", "note", "tell", "forget")),
        (office.module.os, ("replace",)),
        (office.module.Path, ("unlink",)),
        (office.module, ("_write", "_keep")),
    ):
        for name in names:
            stoppable(owner, name)
    return lambda: steps


#: More steps than the work of the test has; the last ones are not reached.
MOST_STEPS = 90


@pytest.mark.parametrize("answers", ["outbox", "response"])
def test_wherever_it_is_stopped_nothing_is_lost_and_nothing_doubled(
    log: Log, modem: Modem, monkeypatch: pytest.MonkeyPatch, answers: str
) -> None:
    reached = []
    for at in range(1, MOST_STEPS):
        moment, litres = AT + timedelta(seconds=at), 12 + at / 10
        office = Office(log, modem, GATEWAY_ANSWERS=answers)
        modem.sent.clear()
        modem.receive(COLLECTOR, f"took {at + 3} sheets {litres:g} kg", at=moment)
        with monkeypatch.context() as patched:
            steps = stopping(office, at, patched)
            with suppress(Stopped):
                for _ in range(3):
                    office.rounds()
                    modem.send()
            reached.append(steps())
        office.restart()
        for _ in range(3):
            office.rounds()
            modem.send()
        office.rounds()

        assert Counter(number for number, _ in modem.sent.elements()) == Counter([COLLECTOR, OWNER, TAPPER]), at
        assert set(states(log)) == {"sent"}, at
        assert all(os.listdir(modem.spool / folder) == [] for folder in ("inbox", "outbox", "sent", "error")), at
        if steps() < at:
            break
    assert reached[-1] < MOST_STEPS - 1, "the work has more steps than were tried"
    assert len(reached) > 30


# As a program


def run(log: Log, modem: Modem, *arguments: str, **more: str) -> subprocess.CompletedProcess[str]:
    """The program as it is started."""
    return subprocess.run(
        [sys.executable, str(PROGRAM), *arguments],
        env={"PATH": os.environ["PATH"], "TZ": "UTC"}
        | environment(log.url, modem.spool, modem.spool.parent / "state", **more),
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )


def test_one_round_from_the_shell(log: Log, modem: Modem) -> None:
    modem.receive(TAPPER, LATEX, at=AT)
    done = run(log, modem, "--once")

    assert (done.returncode, done.stderr) == (0, "")
    assert len(modem.files("outbox")) == 1


def test_a_round_that_could_not_be_made_ends_with_1(log: Log, modem: Modem) -> None:
    assert run(Log("http://127.0.0.1:9", log.books), modem, "--once").returncode == 1


@pytest.mark.parametrize(
    ("more", "says"),
    [
        ({"GATEWAY_URL": "bot.example.org"}, "GATEWAY_URL"),
        ({"GATEWAY_NAME": ""}, "GATEWAY_NAME"),
        ({"GATEWAY_SECRET": ""}, "GATEWAY_SECRET"),
        ({"GATEWAY_SPOOL": "/nowhere"}, "GATEWAY_SPOOL"),
        ({"GATEWAY_ANSWERS": "pigeon"}, "GATEWAY_ANSWERS"),
        ({"GATEWAY_SECRET_FILE": "/nowhere"}, "nowhere"),
    ],
)
def test_wrong_settings_end_it_with_a_line(log: Log, modem: Modem, more: dict[str, str], says: str) -> None:
    done = run(log, modem, "--once", **more)

    assert done.returncode == 2
    assert says in done.stderr
    assert "Traceback" not in done.stderr
    assert SECRET not in done.stderr


def test_the_secret_may_lie_in_a_file(log: Log, modem: Modem, tmp_path: Path) -> None:
    (tmp_path / "secret").write_text(SECRET + "\n", encoding="utf-8")

    assert run(log, modem, "--once", GATEWAY_SECRET="", GATEWAY_SECRET_FILE=str(tmp_path / "secret")).returncode == 0


def test_only_one_runs_at_a_time(log: Log, modem: Modem, tmp_path: Path) -> None:
    import fcntl

    (tmp_path / "state").mkdir()
    with (tmp_path / "state" / "lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        done = run(log, modem, "--once")

    assert done.returncode == 2
    assert "runs already" in done.stderr

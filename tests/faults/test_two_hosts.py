"""A morning through two worker hosts over one PostgreSQL: each has a web server at an address of its own, and a job runner.

    MORNING=10 python -m pytest tests/faults/test_two_hosts.py -rP

Every phone's texts go to the two in turn, one after the other as its owner sends them: a line through one, its correction
through the other, which has to see it. Some are delivered to both at the same moment. Meanwhile the weeks of all owners are
due, and both runners write and send. Texts of one phone must be handled in their order, each once, and each due text goes
out once.
"""

import http.client
import json
import os
from collections import Counter
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack, closing
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from pathlib import Path
from time import monotonic, perf_counter
from urllib.parse import urlencode
from xml.etree import ElementTree
from zoneinfo import ZoneInfo

from twilio.request_validator import RequestValidator

from bot.books import Books, Transaction, entries, farms, messages, open_books, outbox
from parsers.reading import What
from tests.faults import house
from tests.faults.carrier import Carrier, running_carrier
from tests.faults.crowd import PATH, PUBLIC, TOKEN
from tests.faults.running import House, running_house
from tests.whole.test_server import free_port

#: Rounds of a phone's texts, at most one for each block of its farm.
TURNS = min(int(os.environ.get("MORNING", "2")), house.BLOCKS)

#: Farms that text, and how many of them at once.
FARMS, AT_ONCE = house.FARMS if TURNS > 2 else 24, 12

#: Every so many texts one reaches both hosts at the same moment.
DOUBLED = 3

HOSTS = ("127.0.0.2", "127.0.0.3")

#: Seconds in which the runners must have sent what the morning left.
PATIENCE = 120


@dataclass
class Morning:
    """The phones' side: what each text was answered, and in what time (ms)."""

    doors: tuple[tuple[str, int], ...]
    said: dict[str, list[tuple[str, str | None]]] = field(default_factory=dict)
    times: list[float] = field(default_factory=list)
    faults: list[str] = field(default_factory=list)

    def of_farm(self, farm: int) -> None:
        """Tapper and collector of a farm text, one after the other; each waits for the answer."""
        tapper, collector = house.number(farm, house.TAPPER), house.number(farm, house.COLLECTOR)
        for turn in range(TURNS):
            litres = 15 + turn
            self.text(tapper, f"block {turn + 1} {litres} litres")
            self.text(tapper, f"sorry block {turn + 1} {litres + 5} litres")
            self.text(collector, f"took 12 sheets {5 + turn / 100:.2f} kg")

    def text(self, number: str, body: str) -> None:
        """Send a text to the host whose turn it is; some to both at once."""
        own = self.said.setdefault(number, [])
        form = {"MessageSid": f"SM{number[1:]}{len(own):03}", "From": number, "Body": body}
        doors = [self.doors[len(own) % len(self.doors)]]
        if len(own) % DOUBLED == DOUBLED - 1:
            doors = list(self.doors)
        with ThreadPoolExecutor(len(doors)) as lines:
            replies = set(lines.map(lambda door: self._deliver(door, form), doors))
        if len(replies) > 1:
            self.faults.append(f"{form['MessageSid']}: answered {replies}")
        own.append((form["MessageSid"], replies.pop()))

    def _deliver(self, door: tuple[str, int], form: dict[str, str]) -> str | None:
        headers = {
            "X-Twilio-Signature": RequestValidator(TOKEN).compute_signature(PUBLIC + PATH, form),
            "Content-Type": "application/x-www-form-urlencoded",
        }
        begun = perf_counter()
        line = http.client.HTTPConnection(*door, timeout=30)
        try:
            line.request("POST", PATH, urlencode(form), headers)
            answer = line.getresponse()
            body = answer.read().decode()
        finally:
            line.close()
        self.times.append(1000 * (perf_counter() - begun))
        if answer.status != http.client.OK:
            self.faults.append(f"{form['MessageSid']}: {answer.status} {body}")
            return None
        return ElementTree.fromstring(body).findtext("Message")


def make_weeks_due(books: Books, now: datetime) -> None:
    """The hour of the summary of every farm is this one."""
    with books.transaction() as tx:
        for farm in farms.all_farms(tx):
            local = now.astimezone(ZoneInfo(farm.timezone))
            for name, value in (("summary_weekday", local.weekday()), ("summary_hour", local.hour)):
                farms.change_setting(tx, farm.id, name, value, at=now, message_id=None)


def wait_until_sent(books: Books, wanted: int) -> None:
    """Until the runners have written and sent all."""
    end = monotonic() + PATIENCE
    while monotonic() < end:
        with books.reading() as tx:
            went = outbox.went(tx, datetime.now(UTC) - timedelta(days=1))
            if went.sent >= wanted and not outbox.not_settled(tx):
                return
    raise AssertionError("the runners have not sent everything")


def out_of_order(tx: Transaction, morning: Morning, begun: datetime) -> list[str]:
    """Phones whose texts do not stand in the books in the order in which they were sent, each with its answer."""
    kept: dict[str, list[tuple[str, str | None]]] = {}
    for each in messages.listing(tx, begun, begun + timedelta(days=1)):
        kept.setdefault(each.number, []).append((each.id, each.reply))
    return [number for number, said in morning.said.items() if kept.get(number) != said]


def lines_of(tx: Transaction, farm_id: str) -> Counter[tuple[What, str | None, Decimal | None]]:
    """What stands at a farm."""
    found = (each.record for each in entries.standing(tx, farm_id))
    return Counter((each.what, each.block, each.litres or each.kg) for each in found)


def wanted_lines() -> Counter[tuple[What, str | None, Decimal | None]]:
    """What has to stand at each farm: every line as it was corrected, and every take."""
    latex = [(What.LATEX, str(turn + 1), Decimal(20 + turn)) for turn in range(TURNS)]
    takes = [(What.COLLECTED, None, Decimal(500 + turn) / 100) for turn in range(TURNS)]
    return Counter([*latex, *takes])


def play(books: Books, where: str, carrier: Carrier, log: Path) -> tuple[Morning, float]:
    """The morning through both hosts, until nothing waits; with the seconds that the texts took."""
    ports = [free_port() for _ in HOSTS]
    morning = Morning(tuple(zip(HOSTS, ports, strict=True)))
    with ExitStack() as running:
        for host, port in morning.doors:
            running.enter_context(running_house(House(where, port, carrier.port, log, host)))
        begun = perf_counter()
        with ThreadPoolExecutor(AT_ONCE) as phones:
            list(phones.map(morning.of_farm, range(FARMS)))
        seconds = perf_counter() - begun
        wait_until_sent(books, house.FARMS + 2 * FARMS * TURNS)
    return morning, seconds


def test_a_morning_through_two_hosts_is_handled_in_order_and_what_is_due_is_done_once(
    postgres: str, tmp_path: Path
) -> None:
    begun, log = datetime.now(UTC), tmp_path / "log"
    with closing(open_books(postgres)) as books, running_carrier() as carrier:
        house.furnish(books)
        make_weeks_due(books, begun)
        morning, seconds = play(books, postgres, carrier, log)
        with books.reading() as tx:
            muddled = out_of_order(tx, morning, begun)
            standing = {farm.name: lines_of(tx, farm.id) for farm in farms.all_farms(tx)}
            put = outbox.listing(tx, begun, begun + timedelta(days=1))
    times, texts = sorted(morning.times), sum(map(len, morning.said.values()))
    print(
        json.dumps(
            {
                "hosts": len(HOSTS),
                "phones": len(morning.said),
                "texts": texts,
                "deliveries": len(times),
                "texts a second": round(texts / seconds),
                "p50 ms": round(times[len(times) // 2], 1),
                "p99 ms": round(times[len(times) * 99 // 100], 1),
                "due texts": len(put),
                "load": round(os.getloadavg()[0], 1),
            }
        )
    )

    assert morning.faults == []
    assert muddled == []
    assert [n for n in range(FARMS) if standing[f"Farm {n}"] != wanted_lines()] == []
    weeks = Counter(each.to for each in put if (each.key or "").startswith("week:"))
    assert weeks == {house.number(n, house.OWNER): 1 for n in range(house.FARMS)}
    assert carrier.taken == {each.id: 1 for each in put}
    assert {each.state for each in put} == {"sent"}
    assert "Traceback" not in log.read_text()

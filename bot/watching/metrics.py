"""Figures in the text form of Prometheus: what this process counted since its start, and what the books say now.

No label holds anything that somebody texted or that names somebody. What has to survive a restart is read from the books.
"""

from collections.abc import Callable, Iterator
from datetime import datetime

from prometheus_client import CollectorRegistry, Counter, Histogram, generate_latest
from prometheus_client.core import CounterMetricFamily, GaugeMetricFamily, Metric
from prometheus_client.registry import Collector

from bot.books import Books, BooksError, Transaction, alarms, messages, outbox
from bot.books.convert import midnight_utc
from bot.jobs import RUNS

Clock = Callable[[], datetime]

#: Seconds. A carrier gives up after about fifteen; usual answers take thousandths.
SLOW = (0.002, 0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1.0, 2.5, 5.0, 10.0)

#: The states of a text to others that something still comes of.
OPEN = ("new", "sending", "unsure")


class Metrics:
    """The figures of one serving process over these books."""

    def __init__(self, books: Books, clock: Clock) -> None:
        self._registry = CollectorRegistry()
        self._messages = Counter(
            "tapping_log_messages",
            "Texts that came, by door and by what became of them",
            ("carrier", "outcome"),
            registry=self._registry,
        )
        self._seconds = Histogram(
            "tapping_log_answer_seconds",
            "Seconds from a text's arrival to its answer, books written",
            buckets=SLOW,
            registry=self._registry,
        )
        self._responses = Counter(
            "tapping_log_responses",
            "Answers to calls over HTTP, by place and status",
            ("place", "status"),
            registry=self._registry,
        )
        self._registry.register(_BooksFigures(books, clock))

    def message(self, carrier: str, outcome: str, seconds: float) -> None:
        """Count a text, and how long its answer took."""
        self._messages.labels(carrier, outcome).inc()
        self._seconds.observe(seconds)

    def response(self, place: str, status: int) -> None:
        """Count an answer over HTTP; `place` is the name of the view, never the address that was called."""
        self._responses.labels(place, str(status)).inc()

    def page(self) -> bytes:
        """All figures. Books that cannot be read are a figure too."""
        return generate_latest(self._registry)


class _BooksFigures(Collector):
    """What the books say at the moment of asking."""

    def __init__(self, books: Books, clock: Clock) -> None:
        self._books, self._clock = books, clock

    def describe(self) -> list[Metric]:
        """Nothing is read from the books before somebody asks."""
        return []

    def collect(self) -> Iterator[Metric]:
        try:
            with self._books.reading() as tx:
                found = list(_figures(tx, self._clock()))
            found.append(_gauge("books_bytes", "Bytes that the books take on the disk", self._books.engine.size()))
        except BooksError:
            found = []
        yield _gauge("books_up", "1 when the books could be read just now, 0 when they could not", float(bool(found)))
        yield from found


def _figures(tx: Transaction, now: datetime) -> Iterator[Metric]:
    """In one transaction; each is found by a key, so that years of books cost nothing."""
    unsettled = outbox.not_settled(tx)
    texts = GaugeMetricFamily("tapping_log_outbox_texts", "Texts to others, by state", labels=("state",))
    for state in OPEN:
        texts.add_metric((state,), unsettled.get(state, (0, now))[0])
    yield texts
    _, since = unsettled.get("new", (0, now))
    late = max(0.0, (now - since).total_seconds())
    yield _gauge("outbox_oldest_seconds", "Seconds that the longest waiting text is overdue", late)
    yield _gauge("outbox_due_texts", "Texts that could go out now", outbox.due_count(tx, now))
    went = outbox.went(tx, midnight_utc(now))
    taken = GaugeMetricFamily(
        "tapping_log_sent_today", "Texts to others since midnight UTC, by what is known of them", labels=("fate",)
    )
    for fate, n in (("delivered", went.delivered), ("taken", went.sent - went.delivered), ("failed", went.failed)):
        taken.add_metric((fate,), n)
    yield taken
    parts = GaugeMetricFamily("tapping_log_parts_today", "SMS parts since midnight UTC, by kind", labels=("kind",))
    parts.add_metric(("answer",), messages.parts_answered(tx, midnight_utc(now)))
    parts.add_metric(("to_others",), outbox.parts_sent(tx, midnight_utc(now)))
    yield parts
    raised = GaugeMetricFamily(
        "tapping_log_alarms_today", "Alarms raised since midnight UTC, by kind", labels=("kind",)
    )
    for kind, n in alarms.of_day(tx, now).items():
        raised.add_metric((kind,), n)
    yield raised
    yield _gauge("alarms_untold", "Alarms that no run of `due` has told the operator", alarms.untold_count(tx))
    runs = CounterMetricFamily("tapping_log_due_runs", "Runs of `due` over these books")
    runs.add_metric((), tx.beats(RUNS))
    yield runs


def _gauge(name: str, says: str, value: float) -> Metric:
    return GaugeMetricFamily(f"tapping_log_{name}", says, value=value)

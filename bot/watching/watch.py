"""Stands around the answering of every text, whatever door it came by: counts it, times it, and writes its line in the log."""

import logging
from collections.abc import Callable
from time import perf_counter

from bot.books import Books, BooksError, messages
from bot.speech.numbers import shortened
from bot.talk.exchange import Answer, Incoming
from bot.watching.metrics import Metrics

log = logging.getLogger(__name__)

#: What became of a text that was not answered: the books could not be used, or we are at fault.
UNAVAILABLE, FAULT, REPEAT = "unavailable", "fault", "repeat"


class Watch:
    """Sees every text of a serving process. `shows_texts` puts into the log what was texted and answered."""

    def __init__(self, books: Books, metrics: Metrics, *, shows_texts: bool) -> None:
        self._books, self._metrics, self._shows_texts = books, metrics, shows_texts

    def around(self, incoming: Incoming, work: Callable[[], Answer]) -> Answer:
        """Do the work that answers a text; what it raises goes on to whom it concerns."""
        begun, outcome, answer = perf_counter(), FAULT, None
        try:
            answer = work()
            outcome = REPEAT if answer.repeat else answer.kind.value
            return answer
        except BooksError:
            outcome = UNAVAILABLE
            raise
        finally:
            seconds = perf_counter() - begun
            self._metrics.message(incoming.carrier, outcome, seconds)
            self._note(incoming, outcome, seconds, answer)

    def _note(self, incoming: Incoming, outcome: str, seconds: float, answer: Answer | None) -> None:
        if not log.isEnabledFor(logging.INFO):
            return
        fields = {
            "id": incoming.id,
            "carrier": incoming.carrier,
            "from": shortened(incoming.sender),
            "sent_at": incoming.at.isoformat(),
            "arrived_at": incoming.arrived.isoformat(),
            "outcome": outcome,
            "ms": round(seconds * 1000, 2),
            "parts": 0 if answer is None else answer.parts,
            "to_others": 0 if answer is None else len(answer.to_others),
        }
        if self._shows_texts and answer is not None:
            fields |= {"text": self._stored(incoming.id), "answer": answer.text}
        log.info("text", extra={"fields": fields})

    def _stored(self, message_id: str) -> str | None:
        """A text as the books keep it, without a PIN that was in it; None where they cannot be read for the log's sake."""
        try:
            with self._books.reading() as tx:
                stored = messages.message(tx, message_id)
        except BooksError:
            return None
        return None if stored is None else stored.text

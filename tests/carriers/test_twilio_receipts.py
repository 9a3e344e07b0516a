"""Receipts of texts to others, and the question after those of which it is not known whether they went out."""

from collections.abc import Iterator
from contextlib import closing
from dataclasses import replace
from datetime import timedelta
from email.utils import format_datetime
from pathlib import Path

import pytest
import requests
import responses
from responses.matchers import query_param_matcher, urlencoded_params_matcher
from twilio.request_validator import RequestValidator
from werkzeug.test import TestResponse

from bot.app import create_app
from bot.books import Books, alarms, open_books, outbox
from bot.books.model import Waiting
from bot.carriers.carrier import asker, sender
from bot.carriers.twilio import RECEIPTS
from bot.jobs import LEFT_OVER, TRY_AGAIN, Due, run_due
from bot.settings import Settings
from tests.books import made
from tests.carriers.networks import ACCOUNT, NOW, PUBLIC, TOKEN

URL = f"https://api.twilio.com/2010-04-01/Accounts/{ACCOUNT}/Messages.json"
TEXT = "Lump 4 kg"
SOON = NOW + LEFT_OVER + timedelta(minutes=1)


class Place:
    """Books with one text to others, the door for receipts, and the carrier's service as it is mocked."""

    def __init__(self, books: Books, settings: Settings, carrier: responses.RequestsMock) -> None:
        self.books, self.settings, self.carrier = books, settings, carrier
        self.now = NOW
        self._door = create_app(settings, books, lambda: self.now).test_client()
        with books.transaction() as tx:
            self.id = str(made.a_waiting_text(tx, "key", text=TEXT, due_at=NOW, created_at=NOW))

    def crash(self) -> None:
        """The text is claimed, and the program ends before anything is known of it."""
        with self.books.transaction() as tx:
            assert outbox.claim(tx, NOW) is not None

    def due(self, at: timedelta) -> Due:
        self.now = NOW + at
        send, ask = (each(self.settings, self.books, lambda: self.now) for each in (sender, asker))
        return run_due(self.books, self.now, send, ask=ask)

    def receipt(self, status: str, attempt: int = 1, code: str = "", sid: str = "SM1", **changes: str) -> TestResponse:
        """What the carrier calls, signed."""
        path = f"{RECEIPTS}?text={changes.pop('text', self.id)}&attempt={attempt}"
        form = {"MessageSid": sid, "MessageStatus": status, "To": made.TOBIN} | ({"ErrorCode": code} if code else {})
        signature = RequestValidator(TOKEN).compute_signature(PUBLIC + path, form)
        return self._door.post(path, data=form | changes, headers={"X-Twilio-Signature": signature})

    def text(self) -> Waiting:
        with self.books.reading() as tx:
            found = outbox.outgoing(tx, self.id)
        assert found is not None
        return found

    def listed(self, *bodies: str, at: timedelta = timedelta(0), **more: object) -> None:
        """What the carrier's list of messages to the number holds."""
        messages = [
            {
                "sid": f"SM{n}",
                "body": body,
                "direction": "outbound-api",
                "status": "sent",
                "date_created": format_datetime(NOW + at),
            }
            | more
            for n, body in enumerate(bodies, 1)
        ]
        match = [query_param_matcher({"To": made.TOBIN}, strict_match=False)]
        self.carrier.get(URL, json={"messages": messages, "page": 0, "next_page_uri": None}, match=match)


@pytest.fixture
def place(tmp_path: Path) -> Iterator[Place]:
    settings = Settings(
        tmp_path / "books.sqlite",
        public_url=PUBLIC,
        twilio_account_sid=ACCOUNT,
        twilio_auth_token=TOKEN,
        twilio_from="+15005550006",
    )
    with closing(open_books(settings.books)) as books, responses.RequestsMock() as carrier:
        yield Place(books, settings, carrier)


def test_the_carrier_is_told_where_to_say_what_became_of_a_text(place: Place) -> None:
    wanted = {"StatusCallback": f"{PUBLIC}{RECEIPTS}?text={place.id}&attempt=1"}
    place.carrier.post(URL, json={"sid": "SM1"}, match=[urlencoded_params_matcher(wanted, strict_match=False)])

    assert place.due(timedelta(0)).sent == 1


def test_a_text_that_is_on_the_phone_is_known_to_be_there(place: Place) -> None:
    place.carrier.post(URL, json={"sid": "SM1"})
    place.due(timedelta(0))

    for status in ("queued", "sent", "delivered", "sent", "delivered"):  # twice, and in any order
        assert place.receipt(status).status_code == 204

    assert (place.text().state, place.text().delivered_at) == ("sent", NOW)


def test_a_receipt_settles_a_text_of_which_we_never_heard(place: Place) -> None:
    place.crash()
    place.receipt("queued")

    assert (place.text().state, place.text().carrier_id) == ("sent", "SM1")


def test_a_phone_that_is_off_gets_the_text_again_later(place: Place) -> None:
    place.carrier.post(URL, json={"sid": "SM1"})
    place.due(timedelta(0))
    place.receipt("undelivered", code="30003")

    assert (place.text().state, place.text().due_at) == ("new", NOW + TRY_AGAIN[0])


def test_a_late_receipt_of_the_first_attempt_does_not_touch_the_second(place: Place) -> None:
    place.carrier.post(URL, json={"sid": "SM1"})
    place.due(timedelta(0))
    place.receipt("undelivered", code="30003")
    place.carrier.post(URL, json={"sid": "SM2"})
    place.due(TRY_AGAIN[0])

    place.receipt("undelivered", code="30003")

    assert (place.text().state, place.text().carrier_id) == ("sent", "SM2")


def test_a_failure_that_a_person_has_to_mend_is_an_alarm(place: Place) -> None:
    place.crash()
    place.receipt("undelivered", code="30007")

    assert place.text().state == "failed"
    with place.books.transaction() as tx:
        assert alarms.of_day(tx, NOW) == {"carrier 30007": 1}


def test_a_failure_after_delivery_changes_nothing(place: Place) -> None:
    place.crash()
    place.receipt("delivered")
    place.receipt("failed", code="30008")

    assert place.text().state == "sent"


def test_a_receipt_of_a_text_that_is_not_ours_is_taken_and_forgotten(place: Place) -> None:
    assert place.receipt("delivered", text="01nobody").status_code == 204


def test_a_forged_receipt_is_refused(place: Place) -> None:
    place.crash()

    assert place.receipt("delivered", MessageStatus="failed").status_code == 403
    assert place.text().state == "sending"


def test_a_text_that_the_carrier_has_is_sent_and_not_sent_again(place: Place) -> None:
    place.crash()
    place.listed(TEXT)

    done = place.due(LEFT_OVER + timedelta(minutes=1))

    assert (done.sent, done.unsure, done.alarms) == (0, 0, ())
    assert (place.text().state, place.text().carrier_id) == ("sent", "SM1")


def test_a_text_that_never_arrived_is_sent_again(place: Place) -> None:
    place.crash()
    place.listed()
    place.due(LEFT_OVER + timedelta(minutes=1))
    place.carrier.post(URL, json={"sid": "SM2"})

    done = place.due(LEFT_OVER + timedelta(minutes=1) + TRY_AGAIN[0])

    assert done.sent == 1
    assert (place.text().state, place.text().attempts) == ("sent", 2)


@pytest.mark.parametrize(
    ("body", "at"),
    [
        (TEXT, timedelta(hours=-3)),  # the same words, for another occasion
        ("Something else", timedelta(hours=-3)),
    ],
)
def test_earlier_messages_are_not_taken_for_it(place: Place, body: str, at: timedelta) -> None:
    place.crash()
    place.listed(body, at=at)
    place.due(LEFT_OVER + timedelta(minutes=1))

    assert place.text().state == "new"


def test_the_same_words_of_another_text_of_ours_are_not_taken_for_it(place: Place) -> None:
    with place.books.transaction() as tx:
        other = str(made.a_waiting_text(tx, "other", text=TEXT, due_at=NOW - timedelta(hours=1), created_at=NOW))
        outbox.claim(tx, NOW)
        outbox.sent(tx, other, "SM1", at=NOW)
    place.crash()
    place.listed(TEXT)
    place.due(LEFT_OVER + timedelta(minutes=1))

    assert place.text().state == "new"


def test_a_text_with_other_words_leaves_it_unknown_and_a_person_is_told(place: Place) -> None:
    place.crash()
    place.listed("Lump 4 kg, as a template has it")

    done = place.due(LEFT_OVER + timedelta(minutes=1))

    assert place.text().state == "unsure"
    assert "may or may not" in done.alarms[0]


def test_answers_and_texts_that_came_in_are_not_looked_at(place: Place) -> None:
    place.crash()
    place.listed("B3 today 18 L", direction="outbound-reply")
    place.due(LEFT_OVER + timedelta(minutes=1))

    assert place.text().state == "new"


def test_a_text_that_failed_at_the_carrier_is_what_its_code_says(place: Place) -> None:
    place.crash()
    place.listed(TEXT, status="failed", error_code=30006)
    place.due(LEFT_OVER + timedelta(minutes=1))

    assert (place.text().state, place.text().error_code) == ("failed", "30006")


def test_a_carrier_that_cannot_be_asked_is_asked_again_later(place: Place) -> None:
    place.crash()
    place.carrier.get(URL, body=requests.ConnectionError())
    place.due(LEFT_OVER + timedelta(minutes=1))
    assert place.text().state == "unsure"
    place.due(LEFT_OVER + timedelta(minutes=2))  # too soon to ask again: one call in all

    place.carrier.replace(responses.GET, URL, json={"messages": [], "page": 0, "next_page_uri": None})
    place.due(2 * LEFT_OVER + timedelta(minutes=3))

    assert place.text().state == "new"
    assert len(place.carrier.calls) == 2


def test_a_line_that_breaks_while_sending_is_asked_after_later(place: Place) -> None:
    place.carrier.post(URL, body=requests.ReadTimeout())
    assert place.due(timedelta(0)).unsure == 1
    place.listed(TEXT)

    assert place.due(LEFT_OVER + timedelta(minutes=1)).unsure == 0
    assert place.text().state == "sent"


def test_what_a_receipt_says_while_we_wait_for_the_carrier_stands(place: Place) -> None:
    def broken(request: requests.PreparedRequest) -> tuple[int, dict[str, str], str]:
        place.receipt("sent")  # it has the text, and its answer to us is lost
        raise requests.ReadTimeout

    place.carrier.add_callback(responses.POST, URL, callback=broken)
    place.due(timedelta(0))

    assert place.text().state == "sent"


def test_a_gateway_that_is_posted_to_is_asked_by_posting_again(place: Place) -> None:
    place.crash()
    keys = {"office": "s" * 32}
    place.settings = replace(
        place.settings, gateway_keys=keys, gateway_url="https://sms.example.org/", sends_by="gateway"
    )
    place.due(LEFT_OVER + timedelta(minutes=1))
    place.carrier.post("https://sms.example.org/", status=200)

    assert place.due(LEFT_OVER + timedelta(minutes=1) + TRY_AGAIN[0]).sent == 1
    assert place.id in str(place.carrier.calls[-1].request.body)

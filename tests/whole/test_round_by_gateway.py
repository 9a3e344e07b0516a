"""A collector without signal: his morning's texts reach the gateway's door in the evening, with the times at which he sent them."""

import json
from contextlib import closing
from datetime import datetime
from decimal import Decimal
from pathlib import Path

from flask.testing import FlaskClient

from bot.app import create_app
from bot.carriers import signing
from bot.settings import Settings
from tests.talk.cooperative import AMA, MUSA, Cooperative, opened

SECRET = "a secret of thirty-two characters"

#: Hour of the farms' clock and text, in the order in which they arrive; one comes twice, and two before what they hang on.
ARRIVE = [
    (9.5, "sorry ama was 12.0 kg"),
    (10.7, "9 sheets 4.4 kg rss3 from Esi"),
    (9.1, "took 24 sheets 11.8 kg rss3 from Ama"),
    (9.3, "yaw 10 sheets 5 kg rss3"),
    (9.0, "at 1"),
    (9.1, "took 24 sheets 11.8 kg rss3 from Ama"),
]


def test_the_books_are_as_if_each_text_had_come_at_once(tmp_path: Path) -> None:
    with closing(opened(tmp_path)) as books:
        hills = Cooperative(books)
        evening = hills.at(0, 19)
        settings = Settings(tmp_path / "books.sqlite", gateway_keys={"office": SECRET})
        client = create_app(settings, books, lambda: evening).test_client()

        for n, (hour, text) in enumerate(ARRIVE):
            sent(client, f"late-{n}", text, hills.at(0, hour), evening)

        ((ama,), (yaw,), (esi,)) = (hills.book(farm) for farm in (hills.ama, hills.yaw, hills.esi))
        assert (ama.record.kg, yaw.record.kg, esi.record.kg) == (Decimal(12), Decimal(5), Decimal("4.4"))
        assert ama.entered_at.hour == hills.at(0, 9.5).hour
        assert any("12 kg RSS3 x 1.55 = 18.60 USD" in each for each in hills.told(AMA))


def sent(client: FlaskClient, text_id: str, text: str, at: datetime, now: datetime) -> None:
    """One text through the door, signed by the gateway."""
    body = json.dumps({"id": text_id, "from": MUSA, "text": text, "sent": at.isoformat()}).encode()
    path = "/carrier/gateway/texts"
    headers = signing.signed_headers(name="office", secret=SECRET, method="POST", path=path, body=body, now=now)
    answered = client.post(path, data=body, headers=headers, content_type="application/json")
    assert answered.status_code == 200, answered.get_data(as_text=True)

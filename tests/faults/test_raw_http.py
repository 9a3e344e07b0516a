"""Bytes that are hardly HTTP, sent to the real server: it refuses or closes, enters nothing, and goes on answering."""

import os
import re
import socket
from contextlib import suppress
from random import Random
from urllib.parse import urlencode

from twilio.request_validator import RequestValidator

from tests.whole.test_server import TEXT, TOKEN, URL, Running, server

__all__ = ["server"]

DOOR = b"/carrier/twilio"
BODY = urlencode(TEXT).encode()
SIGNED = f"X-Twilio-Signature: {RequestValidator(TOKEN).compute_signature(URL, TEXT)}\r\n".encode()
FORM = b"Content-Type: application/x-www-form-urlencoded\r\n"
LENGTH = b"Content-Length: %d\r\n" % len(BODY)
HOST = b"Host: bot.example.org\r\n"
MANY = int(os.environ.get("RAW", "150"))


def post(head: bytes, body: bytes = BODY) -> bytes:
    return b"POST " + DOOR + b" HTTP/1.1\r\n" + head + b"\r\n" + body


BROKEN = {
    "nothing": b"",
    "no HTTP": b"hello\r\n\r\n",
    "no version": b"POST /carrier/twilio\r\n\r\n",
    "another protocol": bytes.fromhex("16030100c8010000c40303") + bytes(40),
    "an endless line": b"POST /" + b"x" * 100_000 + b" HTTP/1.1\r\n\r\n",
    "an endless header": post(HOST + b"X: " + b"y" * 100_000 + b"\r\n"),
    "thousands of headers": post(HOST + b"".join(b"X-%d: y\r\n" % n for n in range(5000))),
    "two lengths": post(HOST + SIGNED + FORM + LENGTH + b"Content-Length: 5\r\n"),
    "a length that is no number": post(HOST + SIGNED + FORM + b"Content-Length: abc\r\n"),
    "a length below 0": post(HOST + SIGNED + FORM + b"Content-Length: -1\r\n"),
    "a length and pieces": post(HOST + SIGNED + FORM + LENGTH + b"Transfer-Encoding: chunked\r\n", b"0\r\n\r\n" + BODY),
    "pieces of another coding": post(HOST + SIGNED + FORM + b"Transfer-Encoding: xchunked\r\n"),
    "a piece of a wrong length": post(HOST + SIGNED + FORM + b"Transfer-Encoding: chunked\r\n", b"zz\r\n" + BODY),
    "a name with a blank": post(HOST + b"X-Twilio-Signature : x\r\n" + FORM + LENGTH),
    "a header cut in two": post(HOST + b"X-Twilio-Signature: a\r\n b\r\n" + FORM + LENGTH),
    "a bare line feed": post(HOST + b"X: a\nX-Twilio-Signature: b\r\n" + FORM + LENGTH),
    "a zero byte": post(HOST + b"X-Twilio-Signature: a\x00b\r\n" + FORM + LENGTH),
    "a signature with an underscore": post(HOST + SIGNED.replace(b"-", b"_") + FORM + LENGTH),
    "a body cut off": post(HOST + SIGNED + FORM + LENGTH, BODY[:-3]),
    "a whole address of another place": post(HOST + SIGNED + FORM + LENGTH).replace(DOOR, b"http://evil.example/carrier/twilio/"),
}  # fmt: skip


def exchange(server: Running, raw: bytes) -> bytes:
    """What comes back for some bytes; nothing where the server closes at once."""
    got = b""
    with suppress(OSError), socket.create_connection(("127.0.0.1", server.port), timeout=5) as line:
        with suppress(OSError):
            line.sendall(raw)
            line.shutdown(socket.SHUT_WR)
        while piece := line.recv(65536):
            got += piece
    return got


def statuses(got: bytes) -> list[int]:
    return [int(each) for each in re.findall(rb"HTTP/1\.[01] (\d{3})", got)]


def test_what_is_hardly_http_is_refused_and_enters_nothing(server: Running) -> None:
    for name, raw in BROKEN.items():
        got = exchange(server, raw)

        assert all(400 <= status < 500 or status == 501 for status in statuses(got)), (name, got[:200])
        assert b"Traceback" not in got, name
    assert server.stored() == (0, 0)
    assert statuses(exchange(server, post(HOST + SIGNED + FORM + LENGTH))) == [200]
    assert server.stored() == (1, 1)


def test_a_call_hidden_behind_another_is_not_taken(server: Running) -> None:
    """A proxy in front may see one call where the server sees two; without a signature the second enters nothing either."""
    hidden = post(HOST + FORM + LENGTH)
    outer = post(HOST + SIGNED + FORM + b"Content-Length: 0\r\n", hidden)

    assert set(statuses(exchange(server, outer))) <= {400, 403}
    assert server.stored() == (0, 0)


def test_bytes_changed_at_random_never_make_a_fault(server: Running) -> None:
    dice, right, found = Random(1), bytearray(post(HOST + SIGNED + FORM + LENGTH)), []
    for _ in range(MANY):
        raw = bytearray(right)
        for _ in range(dice.randrange(1, 5)):
            at = dice.randrange(len(raw))
            raw[at : at + dice.randrange(3)] = dice.randbytes(dice.randrange(3))
        found += statuses(exchange(server, bytes(raw)))
    texts, entered = server.stored()

    assert max(found) in range(400, 502)
    assert 500 not in found
    assert texts <= 1
    assert entered <= 1

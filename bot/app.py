"""The web application: the carriers' doors, the pages, and whether all is well. Nothing happens at import.

Carriers try again or use their fallback address when they get a fault; so books that cannot be written are 503, and a text
is answered only when it is in the books.
"""

import hmac
import logging
import traceback
from dataclasses import replace
from http import HTTPStatus

from flask import Flask, Response, jsonify, request
from flask.typing import ResponseReturnValue
from gunicorn.http.errors import ParseException
from prometheus_client import CONTENT_TYPE_LATEST
from werkzeug.datastructures import WWWAuthenticate
from werkzeug.exceptions import BadRequest, HTTPException, ServiceUnavailable, Unauthorized

from bot.books import Books, BooksError, outbox
from bot.carriers.carrier import Clock, carriers
from bot.discretion import discreet
from bot.pages import cooperative, farm, links, owner, practice, wording
from bot.settings import Settings
from bot.talk.house import House
from bot.talk.pace import Pace
from bot.watching.metrics import Metrics
from bot.watching.watch import Watch
from parsers import words

#: Bytes of a request. A text of 1,600 letters of any script is under 15 kB when it arrives in a form.
MOST_BYTES = 64 * 1024

SECURITY_HEADERS = {
    "Content-Security-Policy": (
        "default-src 'none'; style-src 'self'; img-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
    ),
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), geolocation=(), microphone=()",
    "Cache-Control": "no-store",
}

log = logging.getLogger(__name__)


def create_app(settings: Settings, books: Books, clock: Clock) -> Flask:
    """The application over these books. `clock` gives the present moment with its zone."""
    metrics = Metrics(books, clock)
    watch = Watch(books, metrics, shows_texts=settings.log_texts)
    house = replace(house_of(settings), around=watch.around)
    app = Flask(__name__, static_folder=None, template_folder="pages/templates")
    app.config["MAX_CONTENT_LENGTH"] = MOST_BYTES
    app.jinja_env.trim_blocks = app.jinja_env.lstrip_blocks = True
    wording.add_to(app)
    app.before_request(_whole)
    app.after_request(_secure)
    app.after_request(lambda response: _counted(metrics, response))
    app.register_error_handler(HTTPException, _plain)
    app.register_error_handler(BooksError, _unavailable)
    app.register_error_handler(Exception, _fault)
    app.add_url_rule("/health", view_func=lambda: _health(books), endpoint="health")
    if settings.metrics_key:
        app.add_url_rule("/metrics", view_func=lambda: _metrics(settings, metrics), endpoint="metrics")
    for carrier in carriers(settings):
        doors = carrier.doors(books, clock, house)
        if doors is not None:
            app.register_blueprint(doors)
    app.register_blueprint(owner.pages(settings, books, clock))
    app.register_blueprint(farm.pages(settings, books, clock, house))
    app.register_blueprint(cooperative.pages(settings, books, clock, house))
    if settings.demonstration:
        app.register_blueprint(practice.pages(books, clock, house))
    return app


def house_of(settings: Settings) -> House:
    """The house as these settings make it. Raises WordsError for local words that cannot be read."""
    here = settings.public_url or (f"http://{settings.host}:{settings.port}" if settings.demonstration else None)
    own = None if not settings.words else words.load(settings.words)
    return House(
        own,
        None if here is None else lambda farm, person: here + links.path(settings, farm, person),
        requires_pin=settings.require_pin,
        pace=Pace(settings.texts_per_hour, settings.texts_per_minute),
        open_enrolment=settings.open_enrolment,
        cooperative_link=None
        if here is None
        else lambda one, person: here + links.cooperative_path(settings, one, person),
    )


def _health(books: Books) -> Response:
    """Whether the books can be read and written, and how many texts wait to be sent."""
    books.check()
    with books.transaction() as tx:
        return jsonify(books="ok", waiting=outbox.waiting_count(tx))


def _whole() -> None:
    """Read the body before anything is done with it: one that breaks off, or is sent in broken pieces, is the caller's fault."""
    try:
        request.get_data(cache=True)
    except (OSError, ParseException) as fault:
        raise BadRequest("The body cannot be read to its end.") from fault


def _metrics(settings: Settings, metrics: Metrics) -> Response:
    """The figures, for who brings the key of the settings as a bearer token."""
    wanted, given = f"Bearer {settings.metrics_key}", request.headers.get("Authorization", "")
    if not hmac.compare_digest(wanted.encode(), given.encode("latin-1", "replace")):
        raise Unauthorized(
            "Bring TAPPING_LOG_METRICS_KEY as a bearer token.", www_authenticate=WWWAuthenticate("bearer")
        )
    return Response(metrics.page(), content_type=CONTENT_TYPE_LATEST)


def _counted(metrics: Metrics, response: Response) -> Response:
    metrics.response(request.blueprint or request.endpoint or "none", response.status_code)
    return response


def _secure(response: Response) -> Response:
    present = {name.lower() for name, _ in response.headers}
    response.headers.extend({name: value for name, value in SECURITY_HEADERS.items() if name.lower() not in present})
    return response


def _plain(error: HTTPException) -> ResponseReturnValue:
    """An error as one line of plain text, with the headers that belong to it."""
    response = error.get_response()
    response.set_data(f"{error.code} {error.name}: {error.description}\n")
    response.content_type = "text/plain; charset=utf-8"
    return response


def _unavailable(error: BooksError) -> ResponseReturnValue:
    log.error("the books cannot be used: %s", discreet(str(error)))
    return _plain(ServiceUnavailable("The books cannot be used just now. Nothing was entered. Try again."))


def _fault(error: Exception) -> ResponseReturnValue:
    """Any other fault, logged by its place only: its message may hold what somebody texted."""
    places = [f"{frame.filename}:{frame.lineno} {frame.name}" for frame in traceback.extract_tb(error.__traceback__)]
    log.error(
        "fault in %s %s: %s at %s",
        request.method,
        discreet(request.path),
        type(error).__name__,
        " < ".join(places[::-1][:8]),
    )
    return (
        f"{HTTPStatus.INTERNAL_SERVER_ERROR.value} Internal Server Error: nothing was entered.\n",
        500,
        {"Content-Type": "text/plain; charset=utf-8"},
    )

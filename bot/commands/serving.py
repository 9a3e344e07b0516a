"""`serve`: the web application, with one worker process and some threads, until Ctrl-C."""

import gc
import socket
from typing import Any

import click
from gunicorn.app.base import BaseApplication
from gunicorn.glogging import Logger

from bot.app import create_app
from bot.books import open_books
from bot.commands.common import now, opened, settings
from bot.discretion import Discreet, begin
from bot.settings import Settings
from bot.speech import catalogue
from bot.speech.language import LANGUAGES, tongue
from parsers import words

#: One process, since with SQLite there is one writer; threads wait for it in turn, and on a slow disk as many as wait are
#: written with one sync.
WORKERS, THREADS = 1, 12

#: Seconds that a worker may be silent, and that a call which runs may still take when the server stops.
TIMEOUT, GRACE = 30, 10


class Log(Logger):  # type: ignore[misc]  # gunicorn has no types
    """What gunicorn itself has to say, in the same form as our own lines."""

    def setup(self, cfg: Any) -> None:
        """As usual, then in our form."""
        super().setup(cfg)
        for handler in self.error_log.handlers:
            handler.setFormatter(Discreet())


class Server(BaseApplication):  # type: ignore[misc]  # gunicorn has no types
    """The application in gunicorn, on a socket that is open already."""

    def __init__(self, chosen: Settings, descriptor: int) -> None:
        self._chosen, self._descriptor = chosen, descriptor
        super().__init__()

    def load_config(self) -> None:
        """Gunicorn's own settings; none is read from files or from the command line."""
        for name, value in self._options().items():
            self.cfg.set(name, value)

    def load(self) -> Any:
        """The application, made in the worker, so that no connection to the books goes through a fork."""
        begin(self._chosen.log_level)
        application = create_app(self._chosen, open_books(self._chosen.books), now)
        _settle()
        return application

    def _options(self) -> dict[str, Any]:
        return {
            "bind": f"fd://{self._descriptor}",
            "worker_class": "gthread",
            "workers": WORKERS,
            "threads": THREADS,
            "timeout": TIMEOUT,
            "graceful_timeout": GRACE,
            "loglevel": "warning",
            "logger_class": Log,
            "control_socket_disable": True,  # it would write to the user's home
            "proc_name": "tapping-log",
        }


def _settle() -> None:
    """What every text needs is made before the first one comes, and then left out of the search for waste: looking through
    all words and catalogues again and again would stop every answer for a tenth of a second.
    """
    words.standard()
    for code in LANGUAGES:
        tongue(code)
    gc.collect()
    gc.freeze()


@click.command()
def serve() -> None:
    """Serve the carriers' door and the pages at HOST and PORT of the settings, until Ctrl-C.

    \b
    Example:
      PORT=8090 TAPPING_LOG_DEMONSTRATION=yes tapping-log serve
    """
    chosen = settings()
    broken = catalogue.faults()
    if broken:
        raise click.ClickException("The languages cannot be used:\n" + "\n".join(broken))
    with opened(chosen) as books:
        books.check()
    descriptor = _listening(chosen.host, chosen.port).detach()  # gunicorn closes it
    for line in addresses(chosen):
        click.echo(line)
    Server(chosen, descriptor).run()


def addresses(chosen: Settings) -> list[str]:
    """Where things are, a line each."""
    host = f"[{chosen.host}]" if ":" in chosen.host else chosen.host
    here = f"http://{host}:{chosen.port}"
    lines = [f"Owner's page    {here}/owner", f"Health          {here}/health", "Ctrl-C stops."]
    return [f"Practice phone  {here}/practice", *lines] if chosen.demonstration else lines


def _listening(host: str, port: int) -> socket.socket:
    """A socket that listens there. A port in use, or an address that is not ours, ends the command with one line."""
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    try:
        return socket.create_server((host, port), family=family, backlog=512)
    except OSError as fault:
        message = f"Cannot listen at {host} port {port}: {fault.strerror}. Set another PORT, or stop what uses it."
        raise click.ClickException(message) from fault

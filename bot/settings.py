"""All that can be set from outside, read once at the start and then passed along.

A setting comes from the environment or, except for secrets, from the one TOML file that `TAPPING_LOG_SETTINGS` names;
the environment wins. All faults are reported together, one line each, so that they can be mended in one go.
"""

import os
import re
import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

from platformdirs import user_data_path

from bot.books.engines import is_address
from bot.settings_readers import country, gateway_keys, numbers, one_of
from parsers import words

FILE_VARIABLE = "TAPPING_LOG_SETTINGS"
MOST_WAIT_SECONDS = 8.0


class BadSettings(ValueError):
    """Settings that cannot be used; `faults` holds one line for each."""

    def __init__(self, faults: list[str]) -> None:
        super().__init__("\n".join(faults))
        self.faults = faults


@dataclass(frozen=True)
class Settings:
    """What the product runs with. Secrets are not shown when a Settings is printed.

    `books` is a file, or the address of a PostgreSQL database, which may hold a password.
    """

    books: Path | str = field(repr=False)
    backups: Path | None = None
    host: str = "127.0.0.1"
    port: int = 8080
    public_url: str | None = None
    demonstration: bool = False
    log_level: str = "INFO"
    words: tuple[Path, ...] = ()
    require_pin: bool = False
    texts_per_hour: int = 60
    texts_per_minute: int = 600
    parts_per_day: int = 0
    twilio_account_sid: str | None = None
    twilio_from: str | None = None
    twilio_messaging_service: str | None = None
    twilio_keeps_words: bool = True
    twilio_timeout: float = MOST_WAIT_SECONDS
    twilio_auth_token: str | None = field(default=None, repr=False)
    twilio_webhook_key: str | None = field(default=None, repr=False)
    twilio_whatsapp_from: str | None = None
    twilio_whatsapp_template: str | None = None
    gateway_keys: Mapping[str, str] = field(default_factory=dict, repr=False)
    gateway_url: str | None = None
    gateway_country: str | None = None
    sends_by: str | None = None
    link_key: str | None = field(default=None, repr=False)
    open_enrolment: bool = False
    log_texts: bool = False
    metrics_key: str | None = field(default=None, repr=False)
    operators: tuple[str, ...] = ()
    operator_language: str = "en"
    boot: str | None = None

    @property
    def backup_folder(self) -> Path:
        """Where backups are kept: as set, or beside the file of the books, or in the user's data folder."""
        books = default_books() if isinstance(self.books, str) else self.books
        return self.backups or books.parent / "backups"

    @property
    def sends(self) -> bool:
        """Whether Twilio can send texts: account, token and a sender are set."""
        return bool(self.twilio_account_sid and self.twilio_auth_token and self.sender)

    @property
    def whatsapp_from(self) -> str | None:
        """The number that WhatsApp messages are sent from, with its prefix."""
        return self.twilio_whatsapp_from or (
            self.twilio_from if (self.twilio_from or "").startswith("whatsapp:") else None
        )

    @property
    def sms_from(self) -> str | None:
        """The number or the messaging service that SMS are sent from."""
        return self.twilio_messaging_service or (None if self.twilio_from == self.whatsapp_from else self.twilio_from)

    @property
    def sender(self) -> str | None:
        """What Twilio sends from: the messaging service or the number, for texts or for WhatsApp."""
        return self.twilio_messaging_service or self.twilio_from or self.twilio_whatsapp_from


@dataclass(frozen=True)
class Variable:
    """One setting: its name in the environment and (as `field`, unless secret) in the file, and how it is read."""

    field: str
    name: str
    help: str
    read: Callable[[str], Any]
    secret: bool = False


def read_settings(environment: Mapping[str, str]) -> Settings:
    """The settings of this environment and of the file that it names. Raises BadSettings with all that is wrong."""
    in_file, faults = _file(environment.get(FILE_VARIABLE, ""))
    values: dict[str, Any] = {}
    for variable in VARIABLES:
        text, where = environment.get(variable.name, ""), variable.name
        if not text.strip() and variable.field in in_file:
            text, where = in_file[variable.field], f"{variable.field} in {environment[FILE_VARIABLE]}"
        if not text.strip():
            continue
        try:
            values[variable.field] = variable.read(text.strip())
        except ValueError as fault:
            faults.append(f"{where}: {fault}")
    faults += _missing(values)
    if faults:
        raise BadSettings(faults)
    return Settings(**{"books": default_books()} | values)


def default_books() -> Path:
    """The books in the user's own data folder."""
    return user_data_path("tapping-log", appauthor=False) / "books.sqlite"


def _file(name: str) -> tuple[dict[str, str], list[str]]:
    """The texts in the settings file by field, and its faults."""
    if not name.strip():
        return {}, []
    try:
        table = tomllib.loads(Path(name).read_text(encoding="utf-8"))
    except OSError as fault:
        return {}, [f"{FILE_VARIABLE}: {name} cannot be read ({fault.strerror})"]
    except ValueError as fault:  # not UTF-8, or not TOML
        return {}, [f"{FILE_VARIABLE}: {name} is not TOML ({fault})"]
    return _known(table, name)


def _known(table: Mapping[str, Any], name: str) -> tuple[dict[str, str], list[str]]:
    allowed = {variable.field for variable in VARIABLES if not variable.secret}
    secret = {variable.field: variable.name for variable in VARIABLES if variable.secret}
    texts, faults = {}, []
    for key, value in table.items():
        if key in secret:
            faults.append(f"{key} in {name}: a secret does not belong in a file; set {secret[key]} in the environment")
        elif key not in allowed:
            faults.append(f"{key} in {name}: no such setting (there are {', '.join(sorted(allowed))})")
        elif isinstance(value, bool | int | float | str):
            texts[key] = str(value)
        else:
            faults.append(f"{key} in {name}: write one value")
    return texts, faults


def _missing(values: Mapping[str, Any]) -> list[str]:
    """What has to be set besides, for what is set to work."""
    faults = []
    if "twilio_auth_token" in values and "public_url" not in values:
        faults.append(
            "TAPPING_LOG_PUBLIC_URL: set it to the address that the carrier calls, such as https://bot.example.org;"
            " without it no signature can be checked"
        )
    senders = [name for name in ("twilio_from", "twilio_messaging_service") if name in values]
    able = {"twilio_account_sid", "twilio_auth_token"} <= values.keys()
    if (senders or "twilio_whatsapp_from" in values) and not able:
        faults.append("TWILIO_FROM: texts cannot be sent unless TWILIO_ACCOUNT_SID and TWILIO_AUTH_TOKEN are set too")
    if len(senders) == 2:
        faults.append("TWILIO_FROM: set either this or TWILIO_MESSAGING_SERVICE, not both")
    if str(values.get("twilio_from", "")).startswith("whatsapp:") and "twilio_whatsapp_from" in values:
        faults.append("TWILIO_FROM: with TWILIO_WHATSAPP_FROM set this is the number for SMS, without whatsapp:")
    return faults + _missing_for_gateways(values, bool(senders) and able)


def _missing_for_gateways(values: Mapping[str, Any], twilio_sends: bool) -> list[str]:
    faults = []
    keys, sends_by = values.get("gateway_keys"), values.get("sends_by")
    if not keys and ("gateway_url" in values or sends_by == "gateway"):
        faults.append(
            "TAPPING_LOG_GATEWAY_KEYS: set a name and a secret, such as office:SECRET; without them no gateway is let in"
        )
    if keys and twilio_sends and sends_by is None:
        faults.append("TAPPING_LOG_SENDS_BY: say twilio or gateway; both could send texts to others")
    return faults


def _books(text: str) -> Path | str:
    return text if is_address(text) else _path(text)


def _path(text: str) -> Path:
    path = Path(text).expanduser()
    if path.is_dir():
        raise ValueError(f"{text} is a folder; name a file in it, such as {path / 'books.sqlite'}")
    return path


def _folder(text: str) -> Path:
    path = Path(text).expanduser()
    if path.exists() and not path.is_dir():
        raise ValueError(f"{text} is a file; name a folder")
    return path


def _word_files(text: str) -> tuple[Path, ...]:
    files = tuple(Path(name).expanduser() for name in text.split(os.pathsep) if name.strip())
    for file in files:
        try:
            words.load((file,))
        except words.WordsError as fault:
            raise ValueError(str(fault)) from fault
    return files


def _port(text: str) -> int:
    if not re.fullmatch(r"[0-9]{1,5}", text) or not 1 <= int(text) <= 65535:
        raise ValueError(f"must be a whole number from 1 to 65535, not {text!r}")
    return int(text)


def _count(text: str) -> int:
    if not re.fullmatch(r"[0-9]{1,9}", text):
        raise ValueError(f"must be a whole number (0: no limit), not {text!r}")
    return int(text)


def _yes(text: str) -> bool:
    words = {"yes": True, "true": True, "1": True, "on": True, "no": False, "false": False, "0": False, "off": False}
    if text.casefold() not in words:
        raise ValueError(f"must be yes or no, not {text!r}")
    return words[text.casefold()]


def _address(text: str) -> str:
    parts = urlsplit(text)
    if parts.scheme not in ("http", "https") or not parts.hostname or parts.query or parts.fragment:
        raise ValueError(f"must be an address such as https://bot.example.org, not {text!r}")
    return text.rstrip("/")


def _level(text: str) -> str:
    if text.upper() not in ("DEBUG", "INFO", "WARNING", "ERROR"):
        raise ValueError(f"must be DEBUG, INFO, WARNING or ERROR, not {text!r}")
    return text.upper()


def _seconds(text: str) -> float:
    if not re.fullmatch(r"[0-9]+(\.[0-9]+)?", text) or not 0 < float(text) <= 60:
        raise ValueError(f"must be seconds, more than 0 and at most 60, not {text!r}")
    return float(text)


def _matching(pattern: str, example: str, secret: bool = False) -> Callable[[str], str]:
    """A reader of texts of one form. A secret is not repeated in the fault."""

    def read(text: str) -> str:
        if not re.fullmatch(pattern, text):
            raise ValueError(f"must look like {example}" + ("" if secret else f", not {text!r}"))
        return text

    return read


VARIABLES = (
    Variable("books", "TAPPING_LOG_BOOKS", "the file of the day-book (SQLite), or postgresql://...", _books),
    Variable("backups", "TAPPING_LOG_BACKUPS", "the folder of backups (backups, beside the books)", _folder),
    Variable("host", "TAPPING_LOG_HOST", "the address to listen at (127.0.0.1)", _matching(r"[\w.:-]+", "127.0.0.1")),
    Variable("port", "PORT", "the port to listen at (8080)", _port),
    Variable("public_url", "TAPPING_LOG_PUBLIC_URL", "the address that the carrier and owners call", _address),
    Variable("demonstration", "TAPPING_LOG_DEMONSTRATION", "yes: show the practice phone (no)", _yes),
    Variable("open_enrolment", "TAPPING_LOG_OPEN_ENROLMENT", "yes: anybody may begin a farm by text (no)", _yes),
    Variable("words", "TAPPING_LOG_WORDS", "files of local words, laid over those of the package", _word_files),
    Variable(
        "require_pin",
        "TAPPING_LOG_REQUIRE_PIN",
        "yes: what moves money or people is refused from owners without a PIN (no)",
        _yes,
    ),
    Variable(
        "texts_per_hour", "TAPPING_LOG_TEXTS_PER_HOUR", "texts of one number that are answered in an hour (60)", _count
    ),
    Variable(
        "texts_per_minute", "TAPPING_LOG_TEXTS_PER_MINUTE", "texts of all that are answered in a minute (600)", _count
    ),
    Variable(
        "parts_per_day",
        "TAPPING_LOG_PARTS_PER_DAY",
        "parts in a day (UTC) after which waiting texts wait on (none)",
        _count,
    ),
    Variable(
        "operators",
        "TAPPING_LOG_OPERATORS",
        "numbers that are texted when something needs a person, with spaces between",
        numbers,
    ),
    Variable(
        "operator_language",
        "TAPPING_LOG_OPERATOR_LANGUAGE",
        "their language where they are not in the books: en, es, fr, id, th or vi (en)",
        one_of("en", "es", "fr", "id", "th", "vi"),
    ),
    Variable(
        "boot",
        "TAPPING_LOG_BOOT",
        "the id of this start of the machine, which the service unit gives",
        _matching(r"[0-9a-f-]{8,64}", "32 hexadecimal digits"),
    ),
    Variable("log_level", "TAPPING_LOG_LOG_LEVEL", "how much is logged: DEBUG, INFO, WARNING, ERROR (INFO)", _level),
    Variable("log_texts", "TAPPING_LOG_LOG_TEXTS", "yes: what is texted and answered is logged too (no)", _yes),
    Variable(
        "twilio_account_sid",
        "TWILIO_ACCOUNT_SID",
        "the account at the carrier",
        _matching(r"AC\w{4,64}", "AC and 32 hexadecimal digits"),
    ),
    Variable(
        "twilio_from",
        "TWILIO_FROM",
        "the number that texts are sent from",
        _matching(r"(whatsapp:)?\+[1-9][0-9]{1,14}|[0-9]{3,8}", "+15005550006"),
    ),
    Variable(
        "twilio_messaging_service",
        "TWILIO_MESSAGING_SERVICE",
        "the messaging service that texts are sent from, instead of a number",
        _matching(r"MG\w{4,64}", "MG and 32 hexadecimal digits"),
    ),
    Variable(
        "twilio_keeps_words",
        "TAPPING_LOG_TWILIO_KEEPS_WORDS",
        "whether the carrier itself answers STOP, START and HELP (yes)",
        _yes,
    ),
    Variable(
        "twilio_timeout", "TAPPING_LOG_TWILIO_TIMEOUT", "seconds to wait for the carrier when sending (8)", _seconds
    ),
    Variable(
        "twilio_auth_token",
        "TWILIO_AUTH_TOKEN",
        "the account's token: checks signatures and sends texts",
        _matching(r"\S{4,200}", "the token of the account, without spaces", secret=True),
        secret=True,
    ),
    Variable(
        "twilio_webhook_key",
        "TWILIO_WEBHOOK_KEY",
        "the shared key of a webhook rule, where the carrier signs with one",
        _matching(r"\S{4,500}", "the shared key of the rule, without spaces", secret=True),
        secret=True,
    ),
    Variable(
        "twilio_whatsapp_from",
        "TWILIO_WHATSAPP_FROM",
        "the number that WhatsApp messages are sent from, beside one for SMS",
        _matching(r"whatsapp:\+[1-9][0-9]{1,14}", "whatsapp:+15005550006"),
    ),
    Variable(
        "twilio_whatsapp_template",
        "TWILIO_WHATSAPP_TEMPLATE",
        "the approved template {{1}} for WhatsApp messages after more than 24 hours",
        _matching(r"HX\w{4,64}", "HX and 32 hexadecimal digits"),
    ),
    Variable(
        "gateway_keys",
        "TAPPING_LOG_GATEWAY_KEYS",
        "who may pass texts on: a name and a secret, name:secret, several with spaces between",
        gateway_keys,
        secret=True,
    ),
    Variable(
        "gateway_url",
        "TAPPING_LOG_GATEWAY_URL",
        "where texts to others are posted to (left out: the gateway fetches them)",
        _address,
    ),
    Variable(
        "gateway_country",
        "TAPPING_LOG_GATEWAY_COUNTRY",
        "the country of numbers that a gateway gives without one, such as TH",
        country,
    ),
    Variable(
        "sends_by",
        "TAPPING_LOG_SENDS_BY",
        "twilio or gateway: who sends texts to others where both are set up",
        one_of("twilio", "gateway"),
    ),
    Variable(
        "link_key",
        "TAPPING_LOG_LINK_KEY",
        "signs the links to owners' pages (left out: links last until a restart)",
        _matching(r".{16,}", "16 characters or more", secret=True),
        secret=True,
    ),
    Variable(
        "metrics_key",
        "TAPPING_LOG_METRICS_KEY",
        "opens /metrics to whoever brings it (left out: there is no such page)",
        _matching(r"[\x21-\x7e]{16,}", "16 letters, digits and signs or more, without spaces", secret=True),
        secret=True,
    ),
)

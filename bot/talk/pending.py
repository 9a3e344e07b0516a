"""A reading that waits in the store until it is confirmed, as plain data and back."""

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from bot.talk.questions import correction_in, correction_out, record_in, record_out
from parsers.reading import Intent, Manage, Reading, Request, Role


def reading_out(reading: Reading) -> dict[str, Any]:
    """A reading with all that its handler needs."""
    return {
        "intent": reading.intent.value,
        "records": [record_out(each) for each in reading.records],
        "targets": list(reading.targets),
        "correction": None if reading.correction is None else correction_out(reading.correction),
        "person": reading.person,
        "confirmed": reading.confirmed,
        "request": None if reading.request is None else _request_out(reading.request),
    }


def reading_in(data: Mapping[str, Any]) -> Reading:
    """The reading that waited."""
    return Reading(
        Intent(data["intent"]),
        records=tuple(record_in(each) for each in data["records"]),
        targets=tuple(data["targets"]),
        correction=None if data["correction"] is None else correction_in(data["correction"]),
        person=data["person"],
        confirmed=data["confirmed"],
        request=None if data["request"] is None else _request_in(data["request"]),
    )


def _request_out(request: Request) -> dict[str, Any]:
    return {
        "manage": request.manage.value,
        "name": request.name,
        "number": request.number,
        "role": None if request.role is None else request.role.value,
        "blocks": list(request.blocks),
        "value": None if request.value is None else str(request.value),
        "word": request.word,
    }


def _request_in(data: Mapping[str, Any]) -> Request:
    return Request(
        Manage(data["manage"]),
        name=data["name"],
        number=data["number"],
        role=None if data["role"] is None else Role(data["role"]),
        blocks=tuple(data["blocks"]),
        value=None if data["value"] is None else Decimal(data["value"]),
        word=data["word"],
    )

"""What the service says of its work: a line an event on the error stream, as text or JSON, without secrets.

Nobody knows what the message of an unforeseen error holds: it may quote a body or a token. So of an error
only its class and the places it passed are told, never its words.
"""

from __future__ import annotations

import json
import logging
import sys
from collections.abc import Iterator, Mapping
from contextvars import ContextVar
from datetime import UTC, datetime
from pathlib import Path
from traceback import walk_tb
from types import TracebackType
from typing import Any, TextIO

from .settings import without_password

REQUEST: ContextVar[str | None] = ContextVar("request", default=None)
"""Id of the request that is being answered, None outside one."""

MOST_PLACES = 20
_OURS, _LIBRARIES = "duskwright", ("uvicorn", "uvicorn.error", "uvicorn.access", "dbos")


def set_up_logging(form: str, stream: TextIO | None = None) -> None:
    """Send all this process logs, the libraries' words among it, to the error stream, or to `stream`."""
    handler = logging.StreamHandler(stream or sys.stderr)
    handler.setFormatter(JsonLines() if form == "json" else TextLines())
    logging.root.handlers[:] = [handler]
    logging.root.setLevel(logging.WARNING)
    logging.getLogger(_OURS).setLevel(logging.INFO)
    for name in _LIBRARIES:
        # Each has the handler itself: one that finds none would bring its own.
        logger = logging.getLogger(name)
        logger.handlers[:] = [handler]
        logger.propagate = False
        logger.setLevel(logging.WARNING)


def tell(event: str, **told: object) -> None:
    """Log an event of ours with what is told of it."""
    logger = logging.getLogger(_OURS)
    if logger.isEnabledFor(logging.INFO):
        # Made by hand: to find out where it was told takes longer than to write it down.
        record = logging.LogRecord(_OURS, logging.INFO, "", 0, event, None, None)
        record.told = told
        logger.handle(record)


class JsonLines(logging.Formatter):
    """One JSON object a line."""

    def format(self, record: logging.LogRecord) -> str:
        """Return the line of a record."""
        return json.dumps(_told_of(record))


class TextLines(logging.Formatter):
    """Time, level, event, then name=value; what is not plain stands in quotes as JSON writes it."""

    def format(self, record: logging.LogRecord) -> str:
        """Return the line of a record."""
        told = dict(_told_of(record))
        time, level, event = told.pop("time"), told.pop("level"), told.pop("event")
        shown = [event if event.isprintable() else json.dumps(event)]
        shown += [f"{name}={_shown(value)}" for name, value in told.items()]
        return f"{time} {level:<7} {' '.join(shown)}"


def _shown(value: object) -> str:
    text = str(value)
    return text if text.isascii() and text.isprintable() and text and " " not in text else json.dumps(text)


def _told_of(record: logging.LogRecord) -> Mapping[str, Any]:
    time = datetime.fromtimestamp(record.created, UTC).isoformat(timespec="milliseconds")
    told: dict[str, Any] = {
        "time": time.replace("+00:00", "Z"), "level": record.levelname.lower(),
        "event": without_password(record.getMessage()),
    }  # fmt: skip
    if (request := REQUEST.get()) is not None:
        told["request"] = request
    if not record.name.startswith(_OURS):
        told["from"] = record.name
    told |= {name: value for name, value in getattr(record, "told", {}).items() if value is not None}
    if record.exc_info and (error := record.exc_info[1]) is not None:
        told |= told_of_error(error)
    return told


def told_of_error(error: BaseException) -> Mapping[str, str]:
    """Return what the log tells of an error: the classes of it and of what led to it, and where it was."""
    return {
        "error": " from ".join(type(one).__name__ for one in _chain_of(error)),
        "at": " < ".join(_places_of(error.__traceback__)),
    }


def _chain_of(error: BaseException) -> Iterator[BaseException]:
    seen: set[int] = set()
    link: BaseException | None = error
    while link is not None and id(link) not in seen:
        seen.add(id(link))
        yield link
        link = link.__cause__ or (None if link.__suppress_context__ else link.__context__)


def _places_of(traceback: TracebackType | None) -> list[str]:
    """List the places an error passed, the innermost first, files by their last two names only."""
    passed = [
        f"{'/'.join(Path(frame.f_code.co_filename).parts[-2:])}:{line} {frame.f_code.co_name}"
        for frame, line in walk_tb(traceback)
    ]
    return passed[::-1][:MOST_PLACES]

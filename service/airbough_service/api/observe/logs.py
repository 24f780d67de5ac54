"""One JSON line a request on standard error; nothing of the caller's data is in it."""

from __future__ import annotations

import logging
import sys
import traceback
from datetime import UTC, datetime
from typing import Any, Final

import msgspec

REQUESTS: Final = logging.getLogger("airbough.requests")
FAULTS: Final = logging.getLogger("airbough.faults")


class _JsonLines(logging.Formatter):
    def format(self, record: logging.LogRecord) -> str:
        line: dict[str, Any] = {
            "time": datetime.fromtimestamp(record.created, UTC).isoformat(timespec="milliseconds"),
            "level": record.levelname.lower(),
            "logger": record.name,
            "message": record.getMessage(),
        }
        line.update(getattr(record, "said", {}))
        return msgspec.json.encode(line).decode()


def set_up(level: str) -> None:
    """Send the service's own log to standard error as JSON lines."""
    logger = logging.getLogger("airbough")
    handler = logging.StreamHandler(sys.stderr)
    handler.setFormatter(_JsonLines())
    logger.handlers[:] = [handler]
    logger.setLevel(level.upper())
    logger.propagate = False


def request(**said: Any) -> None:
    """Log one answered request."""
    if REQUESTS.isEnabledFor(logging.INFO):
        record = logging.LogRecord(
            REQUESTS.name, logging.INFO, "", 0, "request", None, None
        )  # nobody asks for its place
        record.said = said
        REQUESTS.handle(record)


def fault(request_id: str, error: BaseException) -> None:
    """Log a fault of the service: its type and place, and no message, for that could quote the caller."""
    frames = traceback.extract_tb(error.__traceback__)
    places = [f"{frame.filename.rpartition('/')[2]}:{frame.lineno} {frame.name}" for frame in frames[-12:]]
    FAULTS.error("fault", extra={"said": {"request_id": request_id, "type": type(error).__name__, "at": places}})

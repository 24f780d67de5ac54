"""A reply's status, headers and body."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime
from email.utils import parsedate_to_datetime


@dataclass(frozen=True, slots=True)
class Raw:
    """A reply as it came.

    Attributes:
        status: the HTTP status.
        headers: names in lower case.
        content: the body, content encoding already undone.
    """

    status: int
    headers: Mapping[str, str] = field(default_factory=dict, repr=False)
    content: bytes = field(default=b"", repr=False)

    @property
    def request_id(self) -> str | None:
        """The server's id of the request."""
        return self.headers.get("x-request-id")

    @property
    def media_type(self) -> str:
        """The media type without its parameters."""
        return self.headers.get("content-type", "").partition(";")[0].strip().lower()

    def retry_after(self, now: datetime | None = None) -> float | None:
        """Return how many seconds the server asks to wait: `Retry-After` as seconds or date, or None."""
        asked = self.headers.get("retry-after", "").strip()
        if re.fullmatch(r"[0-9]{1,9}", asked):
            return float(asked)
        try:
            moment = parsedate_to_datetime(asked)
        except ValueError:
            return None
        if moment.tzinfo is None:
            moment = moment.replace(tzinfo=UTC)
        return max(0.0, (moment - (now or datetime.now(UTC))).total_seconds())

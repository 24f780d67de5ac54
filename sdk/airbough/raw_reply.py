"""A reply's status, headers and body."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import Final

import msgspec
from msgspec import Struct

_ITEM: Final = re.compile(r'"[^"]*"([^,"]*)')
_NOTHING_LEFT: Final = re.compile(r";\s*r=0+(?![0-9.])")
_RESET: Final = re.compile(r";\s*t=([0-9]{1,9})(?![0-9.])")
"""`RateLimit: "policy";r=0;t=30`, as the IETF draft of 2025 has it."""


@dataclass(frozen=True, slots=True)
class Raw:
    """A reply as it came.

    Attributes:
        status: the HTTP status.
        headers: names in lower case.
        content: the body, content encoding already undone.
        path: the path that was asked, without the base URL's own.
        question: the body that was sent, or the query of a GET, byte for byte.
    """

    status: int
    headers: Mapping[str, str] = field(default_factory=dict, repr=False)
    content: bytes = field(default=b"", repr=False)
    path: str = ""
    question: bytes = field(default=b"", repr=False)

    @property
    def request_id(self) -> str | None:
        """The server's id of the request."""
        return self.headers.get("x-request-id")

    @property
    def media_type(self) -> str:
        """The media type without its parameters."""
        return self.headers.get("content-type", "").partition(";")[0].strip().lower()

    def retry_after(self, now: datetime | None = None) -> float | None:
        """Return how many seconds the server asks to wait, or None.

        `Retry-After` as seconds or date; without one, `t` of the items of `RateLimit` that have nothing left.
        """
        asked = self.headers.get("retry-after", "").strip()
        if not asked:
            return self._until_reset()
        if re.fullmatch(r"[0-9]{1,9}", asked):
            return float(asked)
        from email.utils import parsedate_to_datetime

        try:
            moment = parsedate_to_datetime(asked)
        except ValueError:
            return None
        if moment.tzinfo is None:
            moment = moment.replace(tzinfo=UTC)
        return max(0.0, (moment - (now or datetime.now(UTC))).total_seconds())

    def _until_reset(self) -> float | None:
        items = _ITEM.findall(self.headers.get("ratelimit", ""))
        resets = [float(reset[1]) for item in items if _NOTHING_LEFT.search(item) and (reset := _RESET.search(item))]
        return max(resets, default=None)


class AtHand(Raw):
    """A reply of a service in this process: the answer itself; its bytes are written when they are asked for.

    Attributes:
        told: the answer, number for number what its bytes would be read as.
    """

    __slots__ = ("told",)
    told: Struct

    def __init__(self, told: Struct, headers: Mapping[str, str]) -> None:
        for name, value in (("status", 200), ("headers", headers), ("path", ""), ("question", b""), ("told", told)):
            object.__setattr__(self, name, value)

    @property
    def content(self) -> bytes:
        """The body."""
        return msgspec.json.encode(self.told)

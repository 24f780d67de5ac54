"""What can go wrong, as a tree.

AirboughError
├── Unreachable                 nobody answered
├── TimedOut                    the answer took too long
├── NotUnderstood               what came back is no answer of this service
├── CutStream                   a batch ended before its counts line
├── SignatureRefused            an answer's signature is missing or does not hold
├── ServerFailed                the server could not answer (5xx)
│   └── Busy                    it is full or stopping (503)
└── Refused                     the request has no answer: `problem` says why, with a path for each fault
    ├── InvalidRequest          against the published schema (400)
    │   └── OutOfRange          outside the printed range (400)
    ├── NotADuctTree            cycle, no root, dangling id and the like (422)
    ├── UnknownWord             a word that the catalogue does not know (422)
    ├── NotComputable           a tree, and still without a solution (422)
    ├── AccessRefused           401 or 403
    ├── NotFound                404
    ├── TooLarge                413
    ├── UnsupportedMediaType    415
    └── RateLimited             429
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

import msgspec

from airbough.raw_reply import Raw
from airbough.reading.request import Unreadable
from airbough.wire.known import known
from airbough.wire.problem import (
    Fault,
    Problem,
    printable,
    summary,
)


class AirboughError(Exception):
    """The root of everything that the client raises.

    Attributes:
        raw: the reply, where there was one.
        missing: where a batch ended with this: ids of the lines without a result, in order. Of a list or another
            collection all of them; of an iterator those that were taken from it.
    """

    def __init__(self, message: object, raw: Raw | None = None) -> None:
        super().__init__(message, raw)
        self.raw = raw
        self.missing: tuple[str, ...] = ()

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, AirboughError):
            return NotImplemented
        return type(self) is type(other) and self.args == other.args and self.missing == other.missing

    def __hash__(self) -> int:
        return hash((type(self), str(self)))

    def __str__(self) -> str:
        return str(self.args[0])

    @property
    def status(self) -> int | None:
        """The HTTP status, where there was a reply."""
        return self.raw.status if self.raw else None

    @property
    def headers(self) -> Mapping[str, str]:
        """The reply's headers, names in lower case."""
        return self.raw.headers if self.raw else {}

    @property
    def request_id(self) -> str | None:
        """The server's id of the request."""
        return self.raw.request_id if self.raw else None

    @property
    def retry_after(self) -> float | None:
        """How many seconds the server asks to wait."""
        return self.raw.retry_after() if self.raw else None


class Unreachable(AirboughError):
    """Nobody answered: no name, no connection, or the connection broke."""


class TimedOut(AirboughError):
    """The answer took longer than the timeouts or the deadline allow."""


class NotUnderstood(AirboughError):
    """What came back is no answer of this service."""


class CutStream(AirboughError):
    """A batch ended before its counts line; `missing` names the lines without a result."""

    def __init__(self, message: object, raw: Raw | None = None, missing: tuple[str, ...] = ()) -> None:
        super().__init__(message, raw)
        self.args = (message, raw, missing)
        self.missing = missing


class SignatureRefused(AirboughError):
    """The signature of an answer is missing, by an unknown key, or does not hold for this answer and question."""


class _Explained(AirboughError):
    """An error with a problem body (RFC 9457)."""

    def __init__(self, problem: Problem, raw: Raw | None = None) -> None:
        super().__init__(problem, raw)
        self.problem = problem

    def __str__(self) -> str:
        problem = self.problem
        head = f"{problem.status} {printable(problem.title)}"
        if not problem.errors:
            return f"{head}: {printable(problem.detail)}" if problem.detail else head
        return "\n".join([head, *(f"  {fault.sentence()}" for fault in problem.errors)])

    @property
    def status(self) -> int:
        """The HTTP status."""
        return self.raw.status if self.raw else self.problem.status

    @property
    def request_id(self) -> str | None:
        """The server's id of the request."""
        return super().request_id or self.problem.instance

    @property
    def kind(self) -> str:
        """The last word of the problem's `type`."""
        return kind_of(self.problem)

    @property
    def faults(self) -> tuple[Fault, ...]:
        """Every fault of the level that failed."""
        return self.problem.errors


class ServerFailed(_Explained):
    """The server could not answer."""


class Busy(ServerFailed):
    """The server is full or stopping; later it may answer."""


class Refused(_Explained):
    """The request has no answer; the same request will be refused again."""


class InvalidRequest(Refused):
    """The request is against the published schema."""


class OutOfRange(InvalidRequest):
    """A quantity is outside its printed range."""


class NotADuctTree(Refused):
    """The document fits the schema and still is no duct tree."""


class UnknownWord(Refused):
    """The catalogue does not know a word; the fault names the nearest ones."""


class NotComputable(Refused):
    """The tree has no solution under the chosen laws."""


class AccessRefused(Refused):
    """The key is missing or does not open this."""


class NotFound(Refused):
    """Nothing is at this address."""


class TooLarge(Refused):
    """The request is larger than the server takes."""


class UnsupportedMediaType(Refused):
    """The server does not read this content type or encoding."""


class RateLimited(Refused):
    """Too many requests; `retry_after` says how long to wait."""


_BY_KIND: Final[dict[str, type[Refused | ServerFailed]]] = {
    "not-json": InvalidRequest,
    "against-schema": InvalidRequest,
    "out-of-range": OutOfRange,
    "not-a-duct-tree": NotADuctTree,
    "unknown-word": UnknownWord,
    "not-computable": NotComputable,
    "key-needed": AccessRefused,
    "not-found": NotFound,
    "too-large": TooLarge,
    "over-limit": TooLarge,
    "unsupported-media-type": UnsupportedMediaType,
    "too-many-requests": RateLimited,
    "busy": Busy,
    "took-too-long": ServerFailed,
}
_BY_STATUS: Final[dict[int, type[Refused | ServerFailed]]] = {
    400: InvalidRequest,
    401: AccessRefused,
    403: AccessRefused,
    404: NotFound,
    413: TooLarge,
    415: UnsupportedMediaType,
    429: RateLimited,
    503: Busy,
}


def kind_of(problem: Problem) -> str:
    """Return the last word of the problem's `type`."""
    return problem.type.rstrip("/").rpartition("/")[2]


def from_problem(problem: Problem, raw: Raw | None = None) -> Refused | ServerFailed:
    """Return the exception for a problem: its class by `type` first, by status second."""
    status = raw.status if raw else problem.status
    fallback = ServerFailed if status >= 500 else Refused
    kind = _BY_KIND.get(kind_of(problem)) or _BY_STATUS.get(status, fallback)
    return kind(problem, raw)


def from_reply(raw: Raw) -> AirboughError:
    """Return the exception for a reply that is not an answer."""
    if raw.status < 400:
        return NotUnderstood(f"status {raw.status} is neither an answer nor a problem", raw)
    try:
        problem = msgspec.json.decode(raw.content, type=known(Problem))
    except (msgspec.MsgspecError, UnicodeDecodeError):
        # A proxy's page, most likely.
        shown = " ".join(raw.content[:200].decode("utf-8", "replace").split())
        problem = Problem(type="about:blank", title="no problem document", status=raw.status, detail=shown)
    return from_problem(problem, raw)


_TITLES: Final = {
    "not-json": "Not JSON",
    "against-schema": "Against the published schema",
    "out-of-range": "Out of range",
}


def unreadable(found: Unreadable) -> Refused | ServerFailed:
    """Return the exception for a document that is no request, as the service would refuse it."""
    faults = tuple(found.faults)
    detail = summary(faults)
    title = _TITLES[found.kind]
    problem = Problem(type=f"/problems/{found.kind}", title=title, status=400, detail=detail, errors=faults)
    return from_problem(problem)

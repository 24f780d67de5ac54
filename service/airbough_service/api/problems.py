"""One table from what went wrong to the status and words of an RFC 9457 body."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import msgspec

from airbough.wire.problem import (
    Fault,
    Problem,
    printable,
    summary,
)
from airbough_service.core.deadline import OutOfTimeError
from airbough_service.terms.refusal import (
    NotFiniteError,
    Refusal,
)

MEDIA_TYPE: Final = "application/problem+json"


@dataclass(frozen=True, slots=True)
class ProblemType:
    """A type of problem; it is explained at `/problems/` and its kind."""

    status: int
    title: str
    meaning: str


PROBLEMS: Final[dict[str, ProblemType]] = {
    "not-json": ProblemType(400, "Not JSON", "The body is empty, no UTF-8, no JSON, or names a key twice."),
    "malformed-request": ProblemType(
        400,
        "Not a request as HTTP has it",
        "A request of HTTP/1.1 names its host, once (RFC 9112, 3.2), and its body comes by its length or in chunks, "
        "with no other transfer coding (6.1).",
    ),
    "incomplete-body": ProblemType(
        400, "The body is not whole", "It ended before it was whole, or its chunks are garbled. Send it again."
    ),
    "against-schema": ProblemType(
        400,
        "Against the published schema",
        "A field is missing, unknown or of the wrong type, or a quantity's text does not follow the grammar. "
        "`errors` names every such field.",
    ),
    "out-of-range": ProblemType(
        400, "Out of range", "A value is outside the printed range of its field. Nothing is ever clamped."
    ),
    "key-needed": ProblemType(
        401, "A key is needed", "This server asks for an API key: send `Authorization: Bearer` and the key."
    ),
    "key-not-for-this": ProblemType(
        403,
        "The key does not open this",
        "A key made for pages opens the questions that it names, for pages of the origins that it names.",
    ),
    "not-found": ProblemType(404, "Not found", "Nothing answers at this path."),
    "method-not-allowed": ProblemType(405, "Method not allowed", "The path exists; `Allow` names its methods."),
    "not-acceptable": ProblemType(406, "Not acceptable", "`Accept` names no media type that this answer can have."),
    "too-slow": ProblemType(408, "The body did not arrive in time", "Send the request again, faster."),
    "too-large": ProblemType(413, "Too large", "The body is larger than this server takes."),
    "over-limit": ProblemType(
        413, "Over a limit of this server", "The question is larger than this server answers. `errors` names the limit."
    ),
    "unsupported-media-type": ProblemType(
        415, "Unsupported media type", "Bodies are JSON in UTF-8, not compressed; a batch is NDJSON."
    ),
    "not-a-duct-tree": ProblemType(
        422,
        "Not a duct tree",
        "The document follows the schema and still is no duct tree; `errors` says where and why.",
    ),
    "unknown-word": ProblemType(
        422, "Unknown word", "A word is not in the catalogue or the answer; `errors` gives the nearest ones."
    ),
    "not-computable": ProblemType(422, "Not computable", "The question has no answer; `errors` says why."),
    "too-many-requests": ProblemType(429, "Too many requests", "Wait for the seconds in `Retry-After`."),
    "internal": ProblemType(500, "Internal error", "A fault of the service. Report it with the id in `instance`."),
    "not-finite": ProblemType(
        500,
        "A number of the answer is not finite",
        "A fault of the service: nothing of the answer was sent. Report it with the id in `instance`.",
    ),
    "busy": ProblemType(
        503,
        "Busy",
        "Too much is being computed or waits for it, or what the question needs is still being compiled after a first "
        "start. Wait for the seconds in `Retry-After`.",
    ),
    "took-too-long": ProblemType(
        503,
        "Took too long",
        "The question was given up after this server's time limit, counted from when its turn came. Ask for less.",
    ),
}

_BY_STATUS: Final = {
    400: "against-schema",
    401: "key-needed",
    403: "key-not-for-this",
    404: "not-found",
    405: "method-not-allowed",
    406: "not-acceptable",
    413: "too-large",
    415: "unsupported-media-type",
    429: "too-many-requests",
    503: "busy",
}
_RETRY_SECONDS: Final = "2"


class HttpRefusal(Exception):
    """A request refused before or beside the question itself.

    Attributes:
        kind: a key of `PROBLEMS`.
        detail: what is wrong this time.
        faults: the faults, where there are paths to name.
        headers: headers that go with the answer.
    """

    def __init__(
        self, kind: str, detail: str, faults: Sequence[Fault] = (), headers: Mapping[str, str] | None = None
    ) -> None:
        super().__init__(detail)
        self.kind = kind
        self.detail = detail
        self.faults = tuple(faults)
        self.headers = dict(headers or {})


@dataclass(frozen=True, slots=True)
class Refused:
    """A problem ready to be sent."""

    kind: str
    status: int
    headers: dict[str, str]
    problem: Problem

    def body(self) -> bytes:
        """Return the JSON text."""
        return msgspec.json.encode(self.problem)

    def cell(self) -> str:
        """Return the text of one cell of a sheet: `#ERR path: reason`."""
        first = self.problem.errors[0] if self.problem.errors else None
        if first is None:
            return f"#ERR {printable(self.problem.detail)}"
        return f"#ERR {first.sentence()}"


def from_exception(error: BaseException, instance: str) -> Refused:
    """Return the problem that an exception is told as; anything unknown is `internal` and says nothing of itself."""
    if isinstance(error, Refusal):
        return _refused(error.kind, summary(error.faults), error.faults, {}, instance)
    if isinstance(error, HttpRefusal):
        return _refused(error.kind, error.detail, error.faults, error.headers, instance)
    if isinstance(error, NotFiniteError):
        return _refused("not-finite", "a number of the answer is not finite", (), {}, instance)
    if isinstance(error, OutOfTimeError):
        detail = "given up at this server's limit of time; ask for less at once"
        return _refused("took-too-long", detail, (), {}, instance)
    status = getattr(error, "status_code", None)
    kind = _BY_STATUS.get(status) if isinstance(status, int) else None
    if kind is None:
        return _refused("internal", "the service failed to answer", (), {}, instance)
    headers = {name.title(): value for name, value in (getattr(error, "headers", None) or {}).items()}
    return _refused(kind, PROBLEMS[kind].meaning, (), headers, instance)


def _refused(kind: str, detail: str, faults: Sequence[Fault], headers: dict[str, str], instance: str) -> Refused:
    of_type = PROBLEMS[kind]
    if of_type.status in (429, 503):
        headers = {"Retry-After": _RETRY_SECONDS} | headers
    problem = Problem(
        type=f"/problems/{kind}",
        title=of_type.title,
        status=of_type.status,
        detail=detail,
        instance=instance,
        errors=tuple(faults),
    )
    return Refused(kind=kind, status=of_type.status, headers=headers, problem=problem)

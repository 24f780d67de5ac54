"""POST /v1/batches: a question a line, an answer a line, and the counts last."""

from __future__ import annotations

from typing import Annotated, Final

import msgspec
from msgspec import Meta, Raw

from airbough.wire.base import (
    Asked,
    Id,
    Told,
    Word,
)
from airbough.wire.problem import Problem
from airbough.wire.trimmed import Only

PATH: Final = "/v1/batches"
MEDIA_TYPE: Final = "application/x-ndjson"


class BatchLine(Asked, kw_only=True):
    """One line of a batch: a question, with an id that comes back with the answer."""

    id: Id
    question: Annotated[Word, Meta(description="The operation id of a POST question, such as `balance`.")]
    request: Annotated[Raw, Meta(description="The body that the question alone would have.")]
    only: Annotated[
        Only | None,
        Meta(description="The parts asked for of the answer, which then is a `TrimmedAnswer`. Left out: all of it."),
    ] = None


class BatchResult(Told, kw_only=True):
    """The answer to one line: `answer` with status 200, else `problem`."""

    id: str | None
    status: int
    answer: Raw | msgspec.UnsetType = msgspec.UNSET
    signature: Annotated[
        str | None,
        Meta(
            description="Where this server signs: `Airbough-Signature` as the question alone would have it, over the "
            "bytes of this line's `request` and `answer` and the question's path."
        ),
    ] = None
    problem: Problem | None = None
    line: Annotated[int | None, Meta(description="Number of the line, where it has no id that can be read.")] = None


class BatchCounts(Told, kw_only=True):
    """The last line: a stream without it was cut off."""

    lines: int
    answered: int
    refused: int

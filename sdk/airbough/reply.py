"""What came back over the wire, before and after it is understood."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Generic, TypeVar

import msgspec
from msgspec import Struct

from airbough.errors import NotUnderstood
from airbough.raw_reply import AtHand, Raw
from airbough.wire.known import known

Answer = TypeVar("Answer", bound=Struct)


@dataclass(frozen=True, slots=True)
class Reply(Generic[Answer]):
    """A successful reply; `answer()` decodes it.

    Attributes:
        raw: status, headers and body as they came.
        type: the struct that the body is decoded into.
    """

    raw: Raw
    type: type[Answer]

    @property
    def status(self) -> int:
        """The HTTP status."""
        return self.raw.status

    @property
    def headers(self) -> Mapping[str, str]:
        """The headers, names in lower case."""
        return self.raw.headers

    @property
    def request_id(self) -> str | None:
        """The id to name when asking the server's keeper about this request."""
        return self.raw.request_id

    @property
    def content(self) -> bytes:
        """The body."""
        return self.raw.content

    def answer(self) -> Answer:
        """Return the decoded answer.

        Raises:
            NotUnderstood: where the body is not JSON of the promised shape.
        """
        if isinstance(self.raw, AtHand) and isinstance(self.raw.told, self.type):
            return self.raw.told
        try:
            return msgspec.json.decode(self.raw.content, type=known(self.type))
        except (msgspec.MsgspecError, UnicodeDecodeError) as error:
            raise NotUnderstood(f"the answer is not a {self.type.__name__}: {error}", self.raw) from None

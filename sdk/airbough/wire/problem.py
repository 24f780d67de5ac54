"""The body of a refusal: RFC 9457 problem details with every fault and its path."""

from __future__ import annotations

from airbough.wire.base import Told


class Fault(Told, kw_only=True):
    """One fault of the request."""

    path: str
    code: str
    detail: str


class Problem(Told, kw_only=True):
    """`application/problem+json` (RFC 9457)."""

    type: str
    title: str
    status: int
    detail: str
    instance: str | None = None
    errors: tuple[Fault, ...] = ()

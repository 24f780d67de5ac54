"""Disagreements that are known and not yet mended; each must still occur, so that a mended one leaves this list."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from agreement.comparing import Disagreement
from agreement.shops import Shop


@dataclass(frozen=True, slots=True)
class Known:
    """A disagreement that is known.

    Attributes:
        what: the service does, against the contract.
        covers: whether it is this one.
        check: that tells of it.
        seed: of a shop that it tells of.
    """

    what: str
    covers: Callable[[Disagreement, Shop], bool]
    check: str
    seed: int


def _between(found: Disagreement, *tellers: str) -> bool:
    return any(found.one.startswith(teller) or found.other.startswith(teller) for teller in tellers)


KNOWN: tuple[Known, ...] = ()
REFUSING: dict[str, int] = {}
"""Questions that refuse what the contract lets them be asked, with a shop that one refuses."""

CRASHING: tuple[tuple[str, str], ...] = ()
"""Questions that stop, and how."""


def unknown(found: Iterable[Disagreement], shop: Shop) -> list[Disagreement]:
    """Return the disagreements that no entry covers."""
    return [one for one in found if not any(known.covers(one, shop) for known in KNOWN)]

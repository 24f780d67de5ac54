"""How two ends join, which way round pieces are laid, and what a joint takes; lengths in m, ends seen with the air."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final, Literal, TypeAlias

from airbough_service.core import deadline

End: TypeAlias = Literal["enters", "receives", "flange", "cuff"]
JointKind: TypeAlias = Literal[
    "slip", "inner-sleeve", "outer-sleeve", "lip-against-flow", "flanged", "clamped", "flange-adapter",
    "hose-connector", "not-judged",
]  # fmt: skip
Adapter: TypeAlias = Literal["inner-sleeve", "outer-sleeve", "flange-adapter", "hose-connector"]

_SLACK: Final = 1.0e-9
_TURNING: Final = 0.01


@dataclass(frozen=True, slots=True)
class Joint:
    """How the end of the upstream piece meets the end of the next one.

    Attributes:
        kind: how it is made.
        holds: whether it holds without an adapter.
        adapter: what makes it hold.
        edge_faces_flow: whether an inner edge stays that faces the air.
        seams: slip seams to screw and seal.
        flanges: pairs of flanges to bolt.
        clamps: hose clamps.
        reluctance: how unwelcome it is where pieces may be turned.
    """

    kind: JointKind
    holds: bool
    adapter: Adapter | None = None
    edge_faces_flow: bool = False
    seams: int = 0
    flanges: int = 0
    clamps: int = 0
    reluctance: float = 0.0


_NOT_JUDGED: Final = Joint("not-judged", holds=False, seams=1)
_HOSE_NOT_JUDGED: Final = Joint("not-judged", holds=False, clamps=1)  # a cuff is clamped, whatever it meets
_BY_FLANGE: Final = Joint("flange-adapter", holds=False, adapter="flange-adapter", seams=1, flanges=1, reluctance=2.0)
_TO_CUFF: Final = Joint("clamped", holds=True, clamps=1)
# A hose goes over the pipe: leaving the hose, the air meets the pipe's edge.
_FROM_CUFF: Final = Joint("clamped", holds=True, edge_faces_flow=True, clamps=1, reluctance=0.1)

JOINTS: Final[dict[tuple[End, End], Joint]] = {
    ("enters", "receives"): Joint("slip", holds=True, seams=1),
    ("receives", "receives"): Joint(
        "inner-sleeve", holds=False, adapter="inner-sleeve", edge_faces_flow=True, seams=2, reluctance=1.5
    ),
    ("enters", "enters"): Joint("outer-sleeve", holds=False, adapter="outer-sleeve", seams=2, reluctance=1.0),
    # The pieces would fit, the downstream one inside: its lip would catch chips. A sleeve takes both from outside.
    ("receives", "enters"): Joint("lip-against-flow", holds=False, adapter="outer-sleeve", seams=2, reluctance=10.0),
    ("flange", "flange"): Joint("flanged", holds=True, flanges=1),
    ("enters", "cuff"): _TO_CUFF,
    ("receives", "cuff"): _TO_CUFF,
    ("cuff", "enters"): _FROM_CUFF,
    ("cuff", "receives"): _FROM_CUFF,
    ("cuff", "cuff"): Joint(
        "hose-connector", holds=False, adapter="hose-connector", edge_faces_flow=True, clamps=2, reluctance=1.5
    ),
    ("flange", "enters"): _BY_FLANGE,
    ("flange", "receives"): _BY_FLANGE,
    ("enters", "flange"): _BY_FLANGE,
    ("receives", "flange"): _BY_FLANGE,
    ("flange", "cuff"): Joint(
        "flange-adapter", holds=False, adapter="flange-adapter", flanges=1, clamps=1, reluctance=2.0
    ),
    ("cuff", "flange"): Joint(
        "flange-adapter",
        holds=False,
        adapter="flange-adapter",
        edge_faces_flow=True,
        flanges=1,
        clamps=1,
        reluctance=2.1,
    ),
}
"""(downstream end of the upstream piece, upstream end of the next) -> how they join."""


def joint(upstream: End | None, downstream: End | None) -> Joint:
    """Return how two ends join; not judged where one of them is not known, though a cuff takes its clamp."""
    if upstream is None or downstream is None:
        return _HOSE_NOT_JUDGED if "cuff" in (upstream, downstream) else _NOT_JUDGED
    return JOINTS[upstream, downstream]


@dataclass(frozen=True, slots=True)
class Laid:
    """A piece in its place, ends as it was made (None: not known)."""

    upstream: End | None
    downstream: End | None
    turnable: bool = False

    def ends(self, *, turned: bool) -> tuple[End | None, End | None]:
        """Return the ends as laid."""
        return (self.downstream, self.upstream) if turned else (self.upstream, self.downstream)


@dataclass(frozen=True, slots=True)
class Chain:
    """A row of pieces between two fixed ends.

    Attributes:
        turned: per piece, whether it is laid the other way round.
        joints: one more than there are pieces.
        reluctance: summed over joints and turnings.
    """

    turned: tuple[bool, ...]
    joints: tuple[Joint, ...]
    reluctance: float


@dataclass(slots=True)
class _Way:
    cost: float
    turned: bool = False
    before: _Way | None = None


def lay(start: End | None, pieces: Sequence[Laid], final: End | None) -> Chain:
    """Return which pieces to turn so that the joints are the least unwelcome (exact, by dynamic programming).

    Args:
        start: the downstream end of what stands before the first piece.
        pieces: in the direction of flow.
        final: the upstream end of what follows the last piece.
    """
    ways: dict[End | None, _Way] = {start: _Way(0.0)}
    for piece in pieces:
        deadline.check()
        reached: dict[End | None, _Way] = {}
        for before, way in ways.items():
            for turned in (False, True) if piece.turnable else (False,):
                upstream, downstream = piece.ends(turned=turned)
                cost = way.cost + joint(before, upstream).reluctance + _TURNING * turned
                if downstream not in reached or cost < reached[downstream].cost - 1.0e-12:
                    reached[downstream] = _Way(cost, turned, way)
        ways = reached
    last, best = min(ways.items(), key=lambda item: item[1].cost + joint(item[0], final).reluctance)
    turns, way = [], best
    while way.before is not None:
        turns.append(way.turned)
        way = way.before
    turns.reverse()
    ends = [piece.ends(turned=turned) for piece, turned in zip(pieces, turns, strict=True)]
    row = [(None, start), *ends, (final, None)]
    joints = tuple(joint(before[1], after[0]) for before, after in pairwise(row))
    return Chain(tuple(turns), joints, best.cost + joint(last, final).reluctance)


def seam(bore: float) -> float:
    """Return the length of a seam around a bore, m."""
    return math.pi * bore


def around(bore: float, spacing: float, least: int) -> int:
    """Return how many fasteners stand around a bore, no further apart than `spacing`."""
    return max(least, math.ceil(seam(bore) / spacing - _SLACK))


def packages(needed: float, holds: float) -> int:
    """Return how many packages cover the need."""
    return math.ceil(needed / holds - _SLACK)

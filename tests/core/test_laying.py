"""How ends join: the table of the parts list's contract, written out here once more; no published source."""

import itertools
import math
import random

import pytest

from airbough_service.core.choosing.laying import (
    JOINTS,
    Laid,
    around,
    joint,
    lay,
    packages,
    seam,
)

ENDS = ("enters", "receives", "flange", "cuff")

# upstream piece's end, next piece's end: kind, holds, adapter, edge faces the flow, clamps
EXPECTED = [
    ("enters", "receives", "slip", True, None, False, 0),
    ("enters", "enters", "outer-sleeve", False, "outer-sleeve", False, 0),
    ("enters", "flange", "flange-adapter", False, "flange-adapter", False, 0),
    ("enters", "cuff", "clamped", True, None, False, 1),
    ("receives", "receives", "inner-sleeve", False, "inner-sleeve", True, 0),
    ("receives", "enters", "lip-against-flow", False, "outer-sleeve", False, 0),
    ("receives", "flange", "flange-adapter", False, "flange-adapter", False, 0),
    ("receives", "cuff", "clamped", True, None, False, 1),
    ("flange", "flange", "flanged", True, None, False, 0),
    ("flange", "enters", "flange-adapter", False, "flange-adapter", False, 0),
    ("flange", "receives", "flange-adapter", False, "flange-adapter", False, 0),
    ("flange", "cuff", "flange-adapter", False, "flange-adapter", False, 1),
    ("cuff", "enters", "clamped", True, None, True, 1),
    ("cuff", "receives", "clamped", True, None, True, 1),
    ("cuff", "flange", "flange-adapter", False, "flange-adapter", True, 1),
    ("cuff", "cuff", "hose-connector", False, "hose-connector", True, 2),
]


def test_the_table_is_complete():
    assert {row[:2] for row in EXPECTED} == set(itertools.product(ENDS, ENDS)) == set(JOINTS)


@pytest.mark.parametrize("row", EXPECTED, ids=lambda row: f"{row[0]}-{row[1]}")
def test_each_pair_of_ends(row):
    upstream, downstream, kind, holds, adapter, edge, clamps = row
    made = joint(upstream, downstream)
    assert (made.kind, made.holds, made.adapter, made.edge_faces_flow, made.clamps) == (
        kind,
        holds,
        adapter,
        edge,
        clamps,
    )
    assert made.flanges == (1 if "flange" in (upstream, downstream) else 0)
    assert made.holds == (made.adapter is None)


@pytest.mark.parametrize(("upstream", "downstream"), [(None, "enters"), ("enters", None), (None, None)])
def test_an_unknown_end_is_not_judged(upstream, downstream):
    assert joint(upstream, downstream).kind == "not-judged"
    assert not joint(upstream, downstream).holds


@pytest.mark.parametrize(("upstream", "downstream"), [("cuff", None), (None, "cuff")])
def test_a_cuff_takes_its_clamp_whatever_it_meets(upstream, downstream):
    """Nobody screws a hose: common practice, no source."""
    made = joint(upstream, downstream)
    assert (made.kind, made.holds, made.clamps, made.seams) == ("not-judged", False, 1, 0)


def test_stock_made_for_supply_air_is_turned_where_it_may_be():
    supply = Laid("enters", "receives", turnable=True)
    chain = lay("enters", [supply, supply, supply], "receives")
    assert chain.turned == (True, True, True)
    assert [made.kind for made in chain.joints] == ["slip"] * 4


def test_stock_made_for_supply_air_that_may_not_be_turned_has_lips_against_the_flow():
    fixed = Laid("enters", "receives")
    chain = lay("enters", [fixed, fixed, fixed], "receives")
    assert chain.turned == (False, False, False)
    assert [made.kind for made in chain.joints] == [
        "outer-sleeve",
        "lip-against-flow",
        "lip-against-flow",
        "inner-sleeve",
    ]


def test_nothing_is_turned_where_it_holds_as_it_is():
    chain = lay("enters", [Laid("receives", "enters", turnable=True)] * 3, "receives")
    assert not any(chain.turned)


@pytest.mark.parametrize("seed", range(60))
def test_turning_is_the_best_of_all_ways(seed):
    """Against every one of the 2^n ways to turn the pieces."""
    draw = random.Random(seed)
    known = (*ENDS, None)
    start, final = draw.choice(known), draw.choice(known)
    pieces = [Laid(draw.choice(known), draw.choice(known), draw.random() < 0.6) for _ in range(draw.randint(0, 6))]
    costs = []
    for turned in itertools.product((False, True), repeat=len(pieces)):
        if any(turn and not piece.turnable for turn, piece in zip(turned, pieces, strict=True)):
            continue
        ends = [piece.ends(turned=turn) for piece, turn in zip(pieces, turned, strict=True)]
        row = [(None, start), *ends, (final, None)]
        costs.append(sum(joint(a[1], b[0]).reluctance for a, b in itertools.pairwise(row)) + 0.01 * sum(turned))
    chain = lay(start, pieces, final)
    assert chain.reluctance == pytest.approx(min(costs))
    assert len(chain.joints) == len(pieces) + 1
    assert all(piece.turnable for piece, turn in zip(pieces, chain.turned, strict=True) if turn)


def test_fasteners_around_a_bore():
    # Minnesota Rules 1346.0603, 603.4.1: no fewer than three screws, equally spaced.
    assert around(0.0762, 0.15, 3) == 3
    # pi * 0.3 m = 0.942 m at 0.15 m: seven.
    assert around(0.3, 0.15, 3) == 7
    assert seam(0.3) == pytest.approx(math.pi * 0.3)


def test_packages_cover_the_need():
    assert [packages(need, 100) for need in (1, 100, 101)] == [1, 1, 2]
    assert packages(0.3, 0.1) == 3

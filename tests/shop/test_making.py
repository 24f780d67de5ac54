"""Runs that are made alike are worked out once; what differs between runs made alike stays the run's own."""

from __future__ import annotations

import math

import msgspec
import pytest
from msgspec import structs

import random_documents
from airbough.wire.fitting import AbruptChange, Elbow
from airbough.wire.operating_point import OperatingPointRequest
from airbough.wire.tree import Run
from airbough_service.core.network import tree
from airbough_service.core.network.tree import dynamic
from airbough_service.shop import making
from airbough_service.shop.packing import sums
from airbough_service.shop.pieces import Pieces
from airbough_service.shop.shop import build
from airbough_service.terms import units

ELBOW = Elbow(angle=90.0, radius_ratio=1.5)
RUN = Run(id="a", into=None, diameter=0.15, length=4.0, duct="spiral-galvanized", fittings=(ELBOW, ELBOW))
STEP = AbruptChange(upstream_diameter=0.15, downstream_diameter=0.2, at=1.0)


def test_runs_made_alike_are_worked_out_once_and_keep_their_lengths():
    other = structs.replace(RUN, id="b", into="a", length=7.0)
    one, two = making.made(RUN, "us"), making.made(other, "us")
    assert one is two
    assert [part.length for part in one.along(RUN)] == [4.0]
    assert [part.length for part in two.along(other)] == [7.0]


@pytest.mark.parametrize(
    "change",
    [
        {"diameter": 0.2},
        {"length": 0.0},
        {"duct": "snap-lock-galvanized"},
        {"roughness": 0.001},
        {"fittings": (ELBOW,)},
    ],
)
def test_what_a_run_is_made_of_tells_it_apart(change):
    assert making.made(structs.replace(RUN, **change), "us") is not making.made(RUN, "us")


def test_where_the_bore_changes_the_length_tells_runs_apart():
    run = structs.replace(RUN, fittings=(ELBOW, STEP, ELBOW))
    longer = structs.replace(run, length=7.0)
    assert [part.length for part in making.made(run, "us").along(run)] == [1.0, 3.0]
    assert [part.length for part in making.made(longer, "us").along(longer)] == [1.0, 6.0]


def test_what_is_remembered_is_bounded():
    assert 0 < making._kept.cache_info().maxsize <= 10_000
    run = structs.replace(RUN, fittings=(ELBOW,) * 20)
    before = making._kept.cache_info().currsize
    making.made(run, "us")
    assert making._kept.cache_info().currsize == before


@pytest.mark.parametrize("seed", range(6))
def test_sums_are_those_of_the_pieces(seed):
    """Each piece loses its coefficient times its count of the velocity pressure in its bore: definition."""
    request = msgspec.convert(random_documents.document(seed), OperatingPointRequest)
    for run in build(units.to_si(request)).runs:
        lost = {"entry": 0.0, "port": 0.0, "fitting": 0.0, "change": 0.0}
        for piece in run.pieces:
            lost[piece.part] += piece.coefficient * piece.count * dynamic(1.1, piece.bore)
        assert sums(run.pieces, 1.1) == pytest.approx(list(lost.values()), rel=1e-14)
        for number, piece in enumerate(run.pieces):
            other = Pieces(
                structs.replace(own, coefficient=0.3) if place == number else own
                for place, own in enumerate(run.pieces)
            )
            assert tree.sums(run.pieces.terms_with(number, 0.3), 1.1) == pytest.approx(sums(other, 1.1), rel=1e-14)
            both = Pieces(run.pieces[:number]).and_then(Pieces(run.pieces[number:]))
            assert both == run.pieces
            assert both.together == Pieces(run.pieces).together
            assert piece in both


ZERO = {
    "units": "us",
    "runs": [
        {
            "id": "a",
            "into": None,
            "diameter": 6.0,
            "length": 0.0,
            "rise": 0.0,
            "join": {
                "type": "branch",
                "angle": 30.0,
                "factor": {"low": 0.0, "slope": 0.0, "high": 0.0, "step": 0.5, "lift": 0.0},
                "straight": {"linear": 0.0, "drag": 0.0},
                "entry_factor": 0.0,
            },
            "fittings": [{"type": "known-coefficient", "coefficient": 0.0}],
            "hood": {"port_coefficient": 0.0, "entry": {"type": "known-coefficient", "coefficient": 0.0}},
            "leak": {"coefficient": 0.0, "exponent": 0.5},
        }
    ],
}


def test_zero_and_minus_zero_are_one_number():
    """The two are equal as keys: what was kept of one would else be told of the other."""
    bent = msgspec.json.decode(msgspec.json.encode(ZERO).replace(b":0.0", b":-0.0"))
    asked = [msgspec.convert(document, OperatingPointRequest) for document in (bent, ZERO, bent)]
    told = [msgspec.json.encode(units.to_si(request)) for request in asked]
    assert math.copysign(1.0, bent["runs"][0]["fittings"][0]["coefficient"]) < 0.0
    assert b":-0.0" not in told[0]
    assert told[0] == told[1] == told[2]


@pytest.mark.parametrize("fitting", [{"type": "offset", "angle": 45.0}, {"type": "elbow-pair", "angle": 45.0}])
def test_what_is_stated_and_what_is_left_out_are_told_apart_whichever_came_first(fitting):
    run = {"id": "a", "into": None, "diameter": 6.0, "length": 1.0, "fittings": [fitting | {"radius_ratio": 1.5}]}
    join = {"type": "branch", "angle": 30.0, "factor": {"low": 0.0, "slope": 0.0, "high": 0.0, "step": 0.5}}
    bare = msgspec.json.encode({"units": "us", "runs": [run | {"join": join}]})
    full = bare.replace(b'"step":0.5', b'"step":0.5,"lift":0.0').replace(
        b'"radius_ratio"', b'"spacer_ratio":0.0,"radius_ratio"'
    )
    for document in (bare, full, bare):
        told = msgspec.json.encode(units.to_si(msgspec.json.decode(document, type=OperatingPointRequest)))
        assert [name in told for name in (b"spacer_ratio", b"lift")] == [document is full] * 2

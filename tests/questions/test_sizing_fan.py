"""Sizing where the fan decides: choices are solved as rows, without making each a document, and come to the same."""

import dataclasses

import msgspec
import numpy as np
import pytest

from airbough.calls import SIZING
from airbough_service.core.choosing.sizing import frontier_choices
from airbough_service.questions.sizing.checks import prepared
from airbough_service.questions.sizing.duty import duty
from airbough_service.questions.sizing.fan_flows import Fan
from airbough_service.questions.sizing.fan_solving import Judge
from airbough_service.questions.sizing.meetings import Meetings
from airbough_service.questions.sizing.options import Options
from airbough_service.questions.sizing.problem import Maker
from airbough_service.questions.sizing.rules import Rules, rules_of
from airbough_service.questions.sizing.states import states
from airbough_service.terms import units
from sizing_garage import fan, tree

TAPER = {"type": "taper", "upstream_diameter": 100, "downstream_diameter": 150, "length": 300}


def two_roots(body):
    """Return the shop with both runs of its main ending at the collector, and a piece of duct after the fan."""
    body["runs"][1] |= {"into": None}
    body["runs"][1].pop("join")
    body["runs"][2].pop("join")
    body["collector"]["discharge"] = [{"diameter": 200, "length": 3, "duct": "spiral-galvanized"}]
    return body


def tapered(body):
    body["runs"][3] |= {"fittings": [TAPER]}
    return body


def problem_of(body):
    """Return what makes problems of a shop, and the one without rules."""
    request = units.to_si(msgspec.convert(body, SIZING.request))
    shop, shelf, fixed = prepared(request)
    of = states(request, shop)
    options = Options(request, shop, of, fixed)
    maker = Maker(request, shop, of, options, duty(request, shop, of), Meetings(request, shop, options))
    return maker, maker.problem(shelf, Rules(frozenset(), frozenset()))


@pytest.mark.parametrize("junctions", ["flow-ratio", "entry-angle", "none"])
@pytest.mark.parametrize("changed", [dict, two_roots, tapered])
def test_rows_and_document_let_the_same_flow(junctions, changed):
    body = changed(tree(collector=fan(4000), model={"junctions": junctions}))
    maker, problem = problem_of(body)
    choices = frontier_choices(problem.sites, problem.aim, 8, 1_000_000)
    solver, compared = Fan(maker), 0
    for chosen in choices:
        rows, document = solver.moves(problem, chosen), solver._of_document(problem, chosen)
        assert (rows is None) == (document is None)
        if rows is not None:
            np.testing.assert_allclose(rows.flow, document.flow, rtol=1e-10)
            np.testing.assert_allclose(rows.pressure, document.pressure, rtol=1e-10)
            compared += 1
    assert compared >= 3


@pytest.mark.parametrize("noise", [1.0e-13, -1.0e-13])
def test_what_is_alike_but_for_rounding_is_told_apart_by_bores(noise):
    maker, problem = problem_of(tree(collector=fan(4000)))
    judge = Judge(maker, rules_of(maker.request))
    found = [judge.solved(problem, chosen) for chosen in frontier_choices(problem.sites, problem.aim, 8, 1_000_000)]
    one, other = [candidate for candidate in found if candidate is not None][:2]
    narrow, wide = sorted((one, other), key=lambda candidate: candidate.bores)
    assert narrow.bores < wide.bores
    chosen = dataclasses.replace(wide.chosen, cost=narrow.chosen.cost * (1.0 + noise))
    pressures = narrow.pressures * (1.0 - noise)
    alike = dataclasses.replace(
        wide, chosen=chosen, pressures=pressures, short=narrow.short, wished=narrow.wished * (1.0 + noise)
    )
    for objective in ("cost", "fan-pressure"):
        assert not narrow.beats(alike, objective)
        assert not alike.beats(narrow, objective)
        assert narrow.before(alike, objective)
        assert not alike.before(narrow, objective)
        dearer = dataclasses.replace(alike, short=narrow.short + 1.0e-3)
        assert narrow.beats(dearer, objective)
        assert not dearer.before(narrow, objective)

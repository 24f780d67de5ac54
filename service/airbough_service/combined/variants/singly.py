"""A variant solved alone, from its whole document: what the quick way does not answer, and what it must agree with."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from msgspec import structs

from airbough.reading.telling import taught
from airbough.wire.operating_point import OperatingPointRequest
from airbough.wire.outline import OutlineRequest
from airbough.wire.problem import summary
from airbough.wire.tree import Tree
from airbough.wire.variants import Check, VariantProblem
from airbough_service.combined.variants import checks
from airbough_service.combined.variants.asked import Reading, Set, Variant, drafted
from airbough_service.combined.variants.places import put
from airbough_service.core.errors import DidNotConvergeError
from airbough_service.drafting.following import followed
from airbough_service.questions import operating_point
from airbough_service.solving.solved_state import Solved, system
from airbough_service.terms.refusal import Refusal, undistributed


@dataclass(frozen=True, slots=True)
class Alone:
    """A variant solved alone."""

    solved: Solved
    checks: dict[Check, bool | None]

    def figure(self, name: str) -> Any:
        """Return a figure in SI: a value, or the values by run."""
        where, _, field = name.rpartition(".")
        if not where:
            return self.solved.operating.outcome
        if where == "system":
            return getattr(system(self.solved), field)
        if where == "hoods":
            return {hood.run: getattr(hood, field) for hood in self.solved.hoods}
        return {run.id: getattr(run, field) for run in self.solved.runs}


def tree_of(reading: Reading, document: tuple[Set, ...], tree: tuple[Set, ...]) -> Tree:
    """Return the tree of a variant, in SI.

    Raises:
        Refusal: of an outline that makes no tree.
    """
    given = reading.document
    for goal, value in document:
        given = put(given, goal.steps, value)
    out = _drafted(reading, given, changed=bool(document)) if isinstance(given, OutlineRequest) else given
    for goal, value in tree:
        out = put(out, goal.steps, value)
    return out


def _drafted(reading: Reading, outline: OutlineRequest, *, changed: bool) -> Tree:
    """Return the tree of an outline, that of the request's own made but once."""
    if changed:
        return drafted(outline)
    if reading.tree is None:
        reading.tree = drafted(outline)
    return reading.tree


def solve(reading: Reading, variant: Variant) -> Alone | VariantProblem:
    """Return a variant solved alone, or why it has no answer."""
    tree: Tree | None = None
    try:
        tree = tree_of(reading, variant.document, variant.tree)
        fields = {name: getattr(tree, name) for name in Tree.__struct_fields__}
        request, _ = followed(OperatingPointRequest(**fields, state=variant.state))
        solved = operating_point.point(request)
        return Alone(solved, checks.of_state(solved))
    except DidNotConvergeError:
        return problem(undistributed(), variant, tree)
    except Refusal as refusal:
        return problem(refusal, variant, tree)


def problem(refusal: Refusal, variant: Variant, tree: Tree | None) -> VariantProblem:
    """Return why a variant has no answer; rows are named by their ids."""
    ids = {} if tree is None else {"runs": [{"id": run.id} for run in tree.runs]}
    faults = list(refusal.faults)
    if variant.own_state:
        where = f"changes[{variant.number}].state"
        faults = [
            structs.replace(fault, path=where + fault.path.removeprefix("state"))
            if fault.path.startswith("state.")
            else fault
            for fault in faults
        ]
    told = taught(faults, ids)
    return VariantProblem(type=f"/problems/{refusal.kind}", detail=summary(told), errors=tuple(told))

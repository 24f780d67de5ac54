"""Whether the runs make a duct tree: ids, `into`, cycles, hoods and joins; every fault with its path."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Final

from msgspec import Struct, structs

from airbough.wire.problem import Fault
from airbough.wire.tree import (
    Branch,
    Run,
    Straight,
    Tree,
)
from airbough_service import catalogue
from airbough_service.terms.refusal import no_run

BRANCH_ANGLES: Final = "5 to 90 deg"
_ONE_ANGLE: Final = 1.0e-6  # deg by which two angles may differ and be one
_COLLECTOR: Final = frozenset({"collector", "fan", "inlet", "cyclone", "null", "none"})


class Topology(Struct, frozen=True):
    """The tree as numbers of rows.

    Attributes:
        parents: per run, the number of the run it flows into; -1 at the collector.
        children: per run, the runs that flow into it, in document order.
        roots: runs that end at the collector.
        order: every run, from the collector to the hoods.
    """

    parents: tuple[int, ...]
    children: tuple[tuple[int, ...], ...]
    roots: tuple[int, ...]
    order: tuple[int, ...]

    def way(self, index: int) -> tuple[int, ...]:
        """Return the runs from one, it included, to the collector."""
        out = [index]
        while (parent := self.parents[out[-1]]) >= 0:
            out.append(parent)
        return tuple(out)

    def root(self, index: int) -> int:
        """Return the run at the collector to which a run leads."""
        return self.roots[0] if len(self.roots) == 1 else self.way(index)[-1]


def examine(request: Tree) -> tuple[Topology | None, list[Fault]]:
    """Return the tree's shape (None where there is none) and every fault of it."""
    shape, faults = shape_of(request.runs)
    return (None, faults) if shape is None else (shape, faults + _hoods(request.runs, shape) + _joins(request, shape))


def shape_of(runs: tuple[Run, ...]) -> tuple[Topology | None, list[Fault]]:
    """Return which run flows into which (None where that is no tree), quantities read or not, and what is wrong."""
    number = {run.id: index for index, run in enumerate(runs)}
    faults = _ids(runs) if len(number) < len(runs) else []
    parents = [-1 if run.into is None else number.get(run.into, -2) for run in runs]
    if -2 in parents:
        faults += [_dangling(index, str(runs[index].into), number) for index, to in enumerate(parents) if to == -2]
    if faults:
        return None, faults
    children: list[list[int]] = [[] for _ in runs]
    roots: list[int] = []
    for index, parent in enumerate(parents):
        (roots if parent < 0 else children[parent]).append(index)
    order = _order(children, roots)
    if len(order) < len(runs):
        return None, _reach(runs, order, roots)
    return Topology(tuple(parents), tuple(map(tuple, children)), tuple(roots), tuple(order)), []


def _dangling(index: int, into: str, number: Mapping[str, int]) -> Fault:
    fault = no_run(f"runs[{index}].into", "dangling-into", into, number)
    if into.strip().lower() in _COLLECTOR:
        return structs.replace(fault, detail=f"{fault.detail}; a run that ends at the collector has `into`: null")
    return fault


def _ids(runs: tuple[Run, ...]) -> list[Fault]:
    """Return a fault for each id that stands twice."""
    seen: dict[str, int] = {}
    faults = []
    for index, run in enumerate(runs):
        if run.id in seen:
            detail = f"the id {run.id!r} already stands at runs[{seen[run.id]}]"
            faults.append(Fault(path=f"runs[{index}].id", code="duplicate-id", detail=detail))
        seen.setdefault(run.id, index)
    return faults


def _order(children: list[list[int]], roots: list[int]) -> list[int]:
    """Return the runs that reach the collector, from there to the hoods."""
    order = list(roots)
    for run in order:
        order.extend(children[run])
    return order


def _reach(runs: tuple[Run, ...], order: list[int], roots: list[int]) -> list[Fault]:
    """Return a fault for no root, and one for each run of a cycle."""
    if not roots:
        return [Fault(path="runs", code="no-root", detail="no run has `into`: null, so none reaches the collector")]
    missing = set(range(len(runs))) - set(order)
    return [
        Fault(path=f"runs[{index}].into", code="cycle", detail="this run never reaches the collector: it closes a loop")
        for index in sorted(missing)
    ]


def _hoods(runs: tuple[Run, ...], shape: Topology) -> list[Fault]:
    """Return a fault for each leaf without a hood and each hood that is not at a leaf."""
    faults = []
    for index, (run, arms) in enumerate(zip(runs, shape.children, strict=True)):
        if bool(arms) is (run.hood is None):
            continue
        leaf = not arms
        if leaf and run.hood is None:
            faults.append(
                Fault(
                    path=f"runs[{index}].hood",
                    code="leaf-without-hood",
                    detail="no run flows into this one, so it needs a hood",
                )
            )
        if not leaf and run.hood is not None:
            faults.append(
                Fault(
                    path=f"runs[{index}].hood",
                    code="hood-inside",
                    detail="a hood stands only at a run into which none flows",
                )
            )
    return faults


def _joins(request: Tree, shape: Topology) -> list[Fault]:
    """Return the faults of the joins."""
    faults = []
    for arms in shape.children:
        if len(arms) > 1 and not _usual(request, arms):
            faults += _junction(request, arms)
    for root in shape.roots:
        if request.runs[root].join is not None:
            path = f"runs[{root}].join"
            faults.append(
                Fault(path=path, code="join-at-collector", detail="runs at the collector's inlet have no join")
            )
    for arms in shape.children:
        if len(arms) == 1 and isinstance(request.runs[arms[0]].join, Branch):
            path = f"runs[{arms[0]}].join"
            faults.append(
                Fault(
                    path=path, code="branch-alone", detail="a branch needs another run into the same one; use an elbow"
                )
            )
    return faults


def is_branch_angle(angle: float) -> bool:
    """Return whether a branch may join at an angle, deg."""
    return 5.0 <= angle <= 90.0


def covered(straights: int, angles: Sequence[float]) -> bool:
    """Return whether laws know a junction of so many straight runs and of branches at these angles, deg."""
    if straights == 1:
        return len(angles) in (1, 2)
    return straights == 0 and len(angles) == 2 and abs(angles[0] - angles[1]) < _ONE_ANGLE


def _usual(request: Tree, arms: tuple[int, ...]) -> bool:
    """Return whether a junction is a straight run and a branch at an angle at which one may join: all laws know it."""
    if len(arms) != 2:
        return False
    one, two = request.runs[arms[0]].join, request.runs[arms[1]].join
    branch, straight = (one, two) if type(one) is Branch else (two, one)
    return type(branch) is Branch and type(straight) is Straight and is_branch_angle(float(branch.angle))


def _junction(request: Tree, arms: tuple[int, ...]) -> list[Fault]:
    """Return the faults of one junction of two or more runs."""
    faults, angles, straights = [], [], 0
    for index in arms:
        join = request.runs[index].join
        if isinstance(join, Straight):
            straights += 1
        elif join is None:
            detail = "runs that meet each need `join`"
            faults.append(Fault(path=f"runs[{index}].join", code="join-missing", detail=detail))
        else:
            angle = float(join.angle)
            angles.append(angle)
            if not is_branch_angle(angle):
                faults.append(Fault(path=f"runs[{index}].join.angle", code="outside-range", detail=BRANCH_ANGLES))
    if faults or request.model.junctions not in catalogue.EDITIONS:
        return faults
    if not covered(straights, angles):
        detail = (
            "a junction is straight + branch, two branches of equal angle, or straight + two branches; "
            "part it with a run of zero length"
        )
        faults += [Fault(path=f"runs[{index}].join", code="junction-not-covered", detail=detail) for index in arms]
    return faults

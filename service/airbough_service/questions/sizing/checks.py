"""What a sizing request must be, beyond a duct tree."""

from __future__ import annotations

from collections.abc import Iterator

from msgspec import structs

from airbough.wire.problem import Fault
from airbough.wire.sizing import SizingRequest
from airbough.wire.tree import (
    Branch,
    Model,
    Run,
    Straight,
)
from airbough_service.questions.sizing.resized import inside, resized
from airbough_service.questions.sizing.rules import by_fan, dusty
from airbough_service.questions.sizing.stock import (
    Shelf,
    nominal,
    shelf,
)
from airbough_service.shop import junction_laws
from airbough_service.shop.shop import (
    Shop,
    build,
)
from airbough_service.shop.topology import (
    Topology,
    covered,
    examine,
)
from airbough_service.terms.refusal import Refusal, no_run

ASKED = ("must", "prefer")


def prepared(request: SizingRequest) -> tuple[Shop, Shelf, frozenset[int]]:
    """Return the tree in bores of the stock, the stock, and the numbers of the fixed runs.

    Raises:
        Refusal: with every fault of the tree, else of what else the request says, each with its path.
    """
    shape, faults = examine(request)
    if shape is not None and not faults:
        faults = junction_laws.faults(request, shape)
    if shape is None or faults:
        raise Refusal("not-a-duct-tree", faults)
    found: list[Fault] = []
    shelves = shelf(request.stock, request.units, found) if request.stock is not None else nominal(request.units)
    fixed = _fixed(request, found)
    found += [*_unanswered(request), *_runs(request, fixed), *_junctions(request, shape), *_rules(request)]
    if not any(fault.code == "stock-empty" for fault in found):
        found += _unstocked(request, shelves, fixed)
    if found:
        words_only = all(fault.code == "unknown-word" for fault in found)
        raise Refusal("unknown-word" if words_only else "not-computable", found)
    return _built(request, shelves, fixed), shelves, fixed


def _built(request: SizingRequest, shelves: Shelf, fixed: frozenset[int]) -> Shop:
    """Return the tree in some bores of the stock and without junction laws, for what does not depend on bores."""
    refusals = []
    for share in (0.5, 1.0, 0.0):
        runs = tuple(
            _bare(run if index in fixed else resized(run, _bore(run, shelves, share), {}))
            for index, run in enumerate(request.runs)
        )
        model = Model(friction=request.model.friction, junctions="none")
        try:
            return build(structs.replace(request, runs=runs, model=model))
        except Refusal as refusal:
            refusals.append(refusal)
    raise refusals[0]


def _bare(run: Run) -> Run:
    """Return a run whose join states nothing that only some laws use."""
    if run.join is None:
        return run
    return structs.replace(run, join=Branch(angle=run.join.angle) if isinstance(run.join, Branch) else Straight())


def _bore(run: Run, shelves: Shelf, share: float) -> float:
    sizes = shelves.sizes(run.duct)
    return sizes[round(share * (len(sizes) - 1))]


def _fixed(request: SizingRequest, faults: list[Fault]) -> frozenset[int]:
    """Return the numbers of the fixed runs."""
    numbers = {run.id: index for index, run in enumerate(request.runs)}
    out = set()
    for place, name in enumerate(request.fixed):
        if name not in numbers:
            faults.append(no_run(f"fixed[{place}]", "unknown-id", name, numbers))
        elif numbers[name] in out:
            faults.append(Fault(path=f"fixed[{place}]", code="duplicate-id", detail=f"{name!r} already stands"))
        else:
            out.add(numbers[name])
    return frozenset(out)


def _unanswered(request: SizingRequest) -> Iterator[Fault]:
    """Give what goes with computed flows and not with a choice."""
    asked_for = {
        "uncertainty": request.uncertainty is not None,
        "explain": request.explain,
        "resolved": request.resolved,  # its numbers would be those of the bores where the search starts
    }
    for name, asked in asked_for.items():
        if asked:
            detail = "sizing does not answer this; ask balance or operating-point with the document that it returns"
            yield Fault(path=name, code="not-for-this-question", detail=detail)
    if by_fan(request) and (request.collector is None or request.collector.fan is None):
        yield Fault(path="collector.fan", code="fan-missing", detail="with `flows` fan, the fan's curve is needed")


def _runs(request: SizingRequest, fixed: frozenset[int]) -> Iterator[Fault]:
    """Give the changes of bore that leave a run to be sized more than one diameter."""
    for index, run in enumerate(request.runs):
        place = inside(run) if index not in fixed else None
        if place is not None:
            detail = (
                "a run to be sized has one diameter: part it here, the upper part flowing into the lower one with the "
                "change of size in its join, or name the run in `fixed`; first or last in a run a taper is taken"
            )
            yield Fault(path=f"runs[{index}].fittings[{place}]", code="taper-in-free-run", detail=detail)


def _junctions(request: SizingRequest, shape: Topology) -> Iterator[Fault]:
    """Give the junctions for which no stock fitting has a name; under flow-ratio the tree itself was refused."""
    for arms in shape.children:
        angles = [float(join.angle) for arm in arms if isinstance(join := request.runs[arm].join, Branch)]
        straights = len(arms) - len(angles)
        if len(arms) > 1 and not covered(straights, angles):
            detail = "straight and one or two branches, or two branches of equal angle; part it with a run of no length"
            for arm in arms:
                yield Fault(path=f"runs[{arm}].join", code="junction-not-covered", detail=detail)


def _rules(request: SizingRequest) -> Iterator[Fault]:
    """Give the rules that lack their limit, and the limits that lack their rule."""
    rules, limits = request.rules, request.limits
    for rule in ("transport_velocity", "upper_velocity"):
        if getattr(rules, rule) in ASKED and getattr(limits, rule) is None and not dusty(request):
            detail = f"without a dust there is nothing to judge by: name the tree's `dust`, or give limits.{rule}"
            yield Fault(path=f"rules.{rule}", code="dust-missing", detail=detail)
    fan = request.collector is not None and request.collector.fan is not None
    if rules.pressure_available in ASKED and limits.pressure_available is None and not fan:
        detail = "give limits.pressure_available, or the fan's curve under collector.fan"
        yield Fault(path="rules.pressure_available", code="pressure-missing", detail=detail)
    if rules.meeting_without_gates in ASKED and limits.meeting_tolerance is None:
        detail = "this rule needs limits.meeting_tolerance"
        yield Fault(path="limits.meeting_tolerance", code="parameter-missing", detail=detail)
    for rule in ("transport_velocity", "upper_velocity", "pressure_available"):
        if getattr(rules, rule) == "off" and getattr(limits, rule) is not None:
            detail = f"rules.{rule} is off, so this limit is not followed; leave one of them out"
            yield Fault(path=f"limits.{rule}", code="limit-not-followed", detail=detail)
    if rules.meeting_without_gates not in ASKED and limits.meeting_tolerance is not None:
        detail = "this limit is followed only with rules.meeting_without_gates"
        yield Fault(path="limits.meeting_tolerance", code="limit-not-followed", detail=detail)
    if rules.meeting_without_gates in ASKED and by_fan(request):
        detail = "where the fan decides what flows, all open paths lose the same, gates or not"
        yield Fault(path="rules.meeting_without_gates", code="not-for-this-question", detail=detail)


def _unstocked(request: SizingRequest, shelves: Shelf, fixed: frozenset[int]) -> Iterator[Fault]:
    """Give the runs for whose construction the stock has no bore at all."""
    for index, run in enumerate(request.runs):
        if index not in fixed and not shelves.sizes(run.duct):
            detail = f"the stock has no duct of {run.duct!r}"
            yield Fault(path=f"runs[{index}].duct", code="duct-not-stocked", detail=detail)

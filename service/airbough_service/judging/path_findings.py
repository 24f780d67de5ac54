"""Findings of the runs' paths: what is stated against them, ends that do not meet, a corner where two runs meet."""

from __future__ import annotations

from collections.abc import Sequence

from airbough.wire.answer import Finding, Suggestion
from airbough.wire.tree import Branch
from airbough_service.catalogue.checks import check
from airbough_service.core.laws import polyline
from airbough_service.core.laws.polyline import Point
from airbough_service.core.limits import above
from airbough_service.shop import paths
from airbough_service.shop.paths import Centreline
from airbough_service.shop.shop import Shop, ShopRun
from airbough_service.terms.finding import finding, show


def of_tree(shop: Shop) -> list[Finding]:
    """Return the findings of every run that has a path, in document order."""
    out: list[Finding] = []
    for run in shop.runs:
        if run.run.path is None:
            continue
        line, parent = paths.centreline(run.run.path), shop.shape.parents[run.index]
        out += _stated(shop, run, line)
        onward = () if parent < 0 else paths.points(shop.runs[parent].run)
        if onward:
            out += _apart(shop, run, line.points, onward)
            out += _corner(shop, run, line, onward)
    return out


def _stated(shop: Shop, run: ShopRun, line: Centreline) -> list[Finding]:
    """Return the findings of a length and a rise that the path does not have; those stated are computed with.

    A hose may be longer than its path: it sags.
    """
    length, rise = run.length, float(run.run.rise or 0.0)
    if length == line.length and rise == line.rise:  # as where they are taken from it
        return []
    sags = run.wall.duct is not None and run.wall.duct.kind == "hose" and length > line.length
    told = (("length", length, line.length), ("rise", rise, line.rise))
    preset = shop.request.units
    slack = paths.slack(line.length)
    return [
        finding(
            preset,
            "path-disagrees",
            f"{run.id}: a {name} of {show(preset, 'length', stated)} is stated and its path gives "
            f"{show(preset, 'length', drawn)}; what is stated was computed with",
            at=f"runs[{run.index}].{name}",
            run=run.id,
            quantity=name,
            kind="length",
            value=stated,
            minimum=drawn if stated < drawn else None,
            maximum=None if stated < drawn else drawn,
            suggestion=Suggestion(text=f"measure again; where the {name} is left out it is taken from the path"),
            source="common-practice",
        )
        for name, stated, drawn in told
        if above(abs(stated - drawn), slack) and not (sags and name == "length")
    ]


def _apart(shop: Shop, run: ShopRun, line: Sequence[Point], into: Sequence[Point]) -> list[Finding]:
    """Return the finding of a run that does not end where the run it flows into begins."""
    if line[0] == into[-1]:
        return []
    gap, limit = polyline.between(line[0], into[-1]), check("path-slack").value
    if not above(gap, limit):
        return []
    preset, parent = shop.request.units, shop.runs[shop.shape.parents[run.index]]
    return [
        finding(
            preset,
            "path-ends-apart",
            f"the path of {run.id} ends {show(preset, 'length', gap)} from where that of {parent.id} begins",
            at=f"runs[{run.index}].path[0]",
            run=run.id,
            quantity="gap",
            kind="length",
            value=gap,
            maximum=limit,
            suggestion=Suggestion(text="let both paths share that point, or check which one was measured wrong"),
            source="common-practice",
        )
    ]


def _turns_there(run: ShopRun, line: Centreline) -> bool:
    """Return whether a run has more turns than its path has corners: the further one stands where it ends."""
    turning = sum(piece.count for piece in run.pieces if piece.type in ("elbow", "elbow-pair", "hose-bend"))
    return turning > len(line.turns)


def _corner(shop: Shop, run: ShopRun, line: Centreline, into: Sequence[Point]) -> list[Finding]:
    """Return the finding of a run that goes on as another without a branch, at an angle that no fitting makes."""
    if isinstance(run.run.join, Branch):
        return []
    end = line.points[0]
    turned = polyline.angle(line.points[1], end, _onward(end, into))
    limit = check("path-corner").value
    if not above(turned, limit) or _turns_there(run, line):
        return []
    parent = shop.runs[shop.shape.parents[run.index]]
    return [
        finding(
            shop.request.units,
            "path-corner-free",
            f"{run.id} meets {parent.id} at an angle of {turned:.0f} deg; no fitting turns the air there and none is "
            "charged",
            at=f"runs[{run.index}].path[0]",
            run=run.id,
            quantity="angle",
            value=turned,
            maximum=limit,
            suggestion=Suggestion(text=f"let the path of {run.id} or of {parent.id} go round the corner"),
            source="common-practice",
        )
    ]


def _onward(end: Point, into: Sequence[Point]) -> Point:
    """Return where a run's end would go on along the first stretch of the run it flows into."""
    x, y, z = (there - here for here, there in zip(into[-1], into[-2], strict=True))
    return end[0] + x, end[1] + y, end[2] + z

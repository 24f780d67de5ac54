"""What speaks against a traverse: its place, its depths, its readings."""

from __future__ import annotations

from collections.abc import Sequence

from airbough.wire.answer import Finding
from airbough.wire.measurement import TraverseRequest
from airbough_service.catalogue.traverse import depth_tolerance, evenness, placing
from airbough_service.core.measurement import Traverse
from airbough_service.edge.site import finding

SLACK = 1.0e-6  # a comparison within this share of its limit holds


def well_placed(request: TraverseRequest) -> bool:
    """Return whether both straight lengths are given and as long as recommended."""
    if request.straight_upstream is None or request.straight_downstream is None:
        return False
    bore, wanted = float(request.diameter) * (1.0 - SLACK), placing()
    upstream, downstream = float(request.straight_upstream), float(request.straight_downstream)
    return upstream >= wanted.recommended_upstream * bore and downstream >= wanted.recommended_downstream * bore


def of_place(request: TraverseRequest) -> list[Finding]:
    """Return the findings of where the plane stands and of the bore."""
    wanted, bore, found = placing(), float(request.diameter), []
    sides = (
        ("straight_upstream", request.straight_upstream, wanted.recommended_upstream, wanted.least_upstream),
        ("straight_downstream", request.straight_downstream, wanted.recommended_downstream, wanted.least_downstream),
    )
    for name, given, recommended, least in sides:
        if given is not None and float(given) < recommended * bore * (1.0 - SLACK):
            found.append(_too_close(request, name, float(given), recommended, least))
    if request.straight_upstream is None or request.straight_downstream is None:
        found.append(finding("placing-not-known", "give the straight lengths before and after the plane to have it judged"))
    if bore < wanted.smallest_diameter * (1.0 - SLACK):
        message = "the bore is below that of the standard method: use a thin tube and expect a wider spread"
        found.append(
            finding(
                "small-duct-traverse",
                message,
                preset=request.units,
                kind="diameter",
                quantity="diameter",
                value=bore,
                limit=wanted.smallest_diameter,
                bound="minimum",
                at="diameter",
                source=wanted.passport.source,
            )
        )
    if request.diameters == 1:
        found.append(finding("one-diameter", "read two diameters at right angles or three to see a lopsided profile"))
    return found


def _too_close(request: TraverseRequest, name: str, given: float, recommended: float, least: float) -> Finding:
    """Return the finding of too short a straight length."""
    bore = float(request.diameter)
    side = "before" if name == "straight_upstream" else "after"
    message = f"{recommended:g} diameters of straight duct are recommended {side} the plane"
    if given < least * bore * (1.0 - SLACK):
        message = f"less than {least:g} diameters of straight duct {side} the plane: no method covers this place"
    return finding(
        "traverse-too-close",
        message,
        preset=request.units,
        kind="length",
        quantity=name,
        value=given,
        limit=recommended * bore,
        bound="minimum",
        at=name,
        source=placing().passport.source,
    )


def of_depths(request: TraverseRequest, points: Sequence[float]) -> list[Finding]:
    """Return a finding for each reading that was taken away from its point."""
    bore, allowed, found = float(request.diameter), depth_tolerance(), []
    for k, row in enumerate(request.depths):
        for m, (depth, share) in enumerate(zip(map(float, row), points, strict=True)):
            if abs(depth - share * bore) <= allowed.value * bore * (1.0 + SLACK):
                continue
            found.append(
                finding(
                    "depth-off-point",
                    "this reading stands away from the rule's point, so the mean is not the rule's",
                    preset=request.units,
                    kind="diameter",
                    quantity="depth",
                    value=depth,
                    limit=share * bore,
                    at=f"depths[{k}][{m}]",
                    source=allowed.passport.source,
                )
            )
    return found


def of_readings(request: TraverseRequest, velocities: Sequence[Sequence[float]], found: Traverse) -> list[Finding]:
    """Return the findings of the readings themselves."""
    out = [
        finding(
            "negative-reading",
            "below zero: it counts as no flow; the air turns back here, choose another place",
            preset=request.units,
            kind="pressure",
            quantity="velocity_pressure",
            value=float(value),
            limit=0.0,
            bound="minimum",
            at=f"velocity_pressures[{k}][{m}]",
        )
        for k, row in enumerate(request.velocity_pressures)
        for m, value in enumerate(row)
        if float(value) < 0.0
    ]
    rule = evenness()
    greatest = max(value for row in velocities for value in row)
    name = "velocity_pressures" if request.velocity_pressures else "velocities"
    negative = {one.at for one in out}
    for k, row in enumerate(velocities):
        for m, value in enumerate(row):
            at = f"{name}[{k}][{m}]"
            if value * value <= rule.of_maximum * greatest * greatest and at not in negative:
                out.append(finding("reading-near-zero", "small beside the greatest: near a wall, an eddy or a fault", at=at))
    if found.share_above < rule.share * (1.0 - SLACK):
        message = f"fewer than {rule.share:.0%} of the velocity pressures lie above {rule.of_maximum:.0%} of the greatest"
        out.append(
            finding(
                "uneven-profile",
                message,
                quantity="share_of_readings",
                value=found.share_above,
                limit=rule.share,
                bound="minimum",
                source=rule.passport.source,
            )
        )
    return out

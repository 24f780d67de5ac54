"""What speaks against a traverse: its place, its depths, its readings."""

from __future__ import annotations

from collections.abc import Sequence

from airbough.wire.answer import Finding
from airbough.wire.measurement import TraverseRequest
from airbough_service.catalogue.traverse import (
    depth_tolerance,
    evenness,
    placing,
)
from airbough_service.core.laws.measurement import Traverse
from airbough_service.core.limits import above, below
from airbough_service.terms.finding import (
    finding,
    show,
)


def well_placed(request: TraverseRequest) -> bool:
    """Return whether both straight lengths are given and as long as recommended."""
    if request.straight_upstream is None or request.straight_downstream is None:
        return False
    bore, wanted = float(request.diameter), placing()
    short_before = below(float(request.straight_upstream), wanted.recommended_upstream * bore)
    return not short_before and not below(float(request.straight_downstream), wanted.recommended_downstream * bore)


def of_place(request: TraverseRequest) -> list[Finding]:
    """Return the findings of where the plane stands and of the bore."""
    wanted, bore, found = placing(), float(request.diameter), []
    sides = (
        ("straight_upstream", request.straight_upstream, wanted.recommended_upstream, wanted.least_upstream),
        ("straight_downstream", request.straight_downstream, wanted.recommended_downstream, wanted.least_downstream),
    )
    for name, given, recommended, least in sides:
        if given is not None and below(float(given), recommended * bore):
            found.append(_too_close(request, name, float(given), recommended, least))
    if request.straight_upstream is None or request.straight_downstream is None:
        message = "give the straight lengths before and after the plane to have its place judged"
        found.append(finding(request.units, "placing-not-known", message))
    if below(bore, wanted.smallest_diameter):
        message = "the diameter is below that of the standard method: use a thin tube and expect a wider spread"
        found.append(
            finding(
                request.units,
                "small-duct-traverse",
                message,
                at="diameter",
                quantity="diameter",
                kind="diameter",
                value=bore,
                minimum=wanted.smallest_diameter,
                source=wanted.passport.source,
            )
        )
    if request.diameters == 1:
        message = "read two diameters at right angles, or three, to see a lopsided profile"
        found.append(finding(request.units, "one-diameter", message, at="diameters"))
    return found


def _too_close(request: TraverseRequest, name: str, given: float, recommended: float, least: float) -> Finding:
    """Return the finding of too short a straight length."""
    bore = float(request.diameter)
    side = "before" if name == "straight_upstream" else "after"
    message = f"{recommended:g} diameters of straight duct are recommended {side} the plane"
    if below(given, least * bore):
        message = f"less than {least:g} diameters of straight duct {side} the plane: no method covers this place"
    return finding(
        request.units,
        "traverse-too-close",
        message,
        at=name,
        quantity=name,
        kind="length",
        value=given,
        minimum=recommended * bore,
        source=placing().passport.source,
    )


def of_depths(request: TraverseRequest, points: Sequence[float]) -> list[Finding]:
    """Return a finding for each reading that was taken away from its point."""
    bore, allowed, found = float(request.diameter), depth_tolerance(), []
    for k, row in enumerate(request.depths):
        for m, (depth, share) in enumerate(zip(map(float, row), points, strict=True)):
            if not above(abs(depth - share * bore), allowed.value * bore):
                continue
            wanted = show(request.units, "diameter", share * bore)
            found.append(
                finding(
                    request.units,
                    "depth-off-point",
                    f"the rule's point lies at {wanted}; read elsewhere, the mean is not the rule's",
                    at=f"depths[{k}][{m}]",
                    quantity="depth",
                    kind="diameter",
                    value=depth,
                    source=allowed.passport.source,
                )
            )
    return found


def of_readings(request: TraverseRequest, velocities: Sequence[Sequence[float]], found: Traverse) -> list[Finding]:
    """Return the findings of the readings themselves."""
    out = [
        finding(
            request.units,
            "negative-reading",
            "below zero: it counts as no flow; the air turns back here, choose another place",
            at=f"velocity_pressures[{k}][{m}]",
            quantity="velocity_pressure",
            kind="pressure",
            value=float(value),
            minimum=0.0,
        )
        for k, row in enumerate(request.velocity_pressures)
        for m, value in enumerate(row)
        if float(value) < 0.0
    ]
    out += _small(request, velocities, {one.at for one in out})
    rule = evenness()
    if below(found.share_above, rule.share):
        message = f"fewer than {rule.share:.0%} of the velocity pressures lie well up: the place is unfit"
        out.append(
            finding(
                request.units,
                "uneven-profile",
                message,
                quantity="share_of_readings",
                value=found.share_above,
                minimum=rule.share,
                source=rule.passport.source,
            )
        )
    return out


def _small(request: TraverseRequest, velocities: Sequence[Sequence[float]], negative: set[str | None]) -> list[Finding]:
    """Return a finding for each reading that is small beside the greatest, those below zero left out."""
    least = evenness().of_maximum * max(value for row in velocities for value in row) ** 2
    name = "velocity_pressures" if request.velocity_pressures else "velocities"
    message = "small beside the greatest: an eddy, a blocked tube or a place too near the wall"
    places = (f"{name}[{k}][{m}]" for k, row in enumerate(velocities) for m, v in enumerate(row) if v * v <= least)
    return [finding(request.units, "reading-near-zero", message, at=at) for at in places if at not in negative]

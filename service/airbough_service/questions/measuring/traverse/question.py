"""The question of a traverse: where to read, and the flow that the readings make."""

from __future__ import annotations

import math
from dataclasses import dataclass

from msgspec import structs

from airbough.wire.answer import Finding
from airbough.wire.measurement import (
    TraverseAnswer,
    TraversePoint,
    TraverseRequest,
    TraverseSpread,
)
from airbough_service.catalogue.passports import Passport
from airbough_service.catalogue.traverse import (
    disturbed_bias,
    evenness,
    instrument,
    placing,
    rule,
)
from airbough_service.core.laws import measurement
from airbough_service.core.network.tree import area
from airbough_service.judging.speed import beyond_sense
from airbough_service.questions.measuring.air import measured_air
from airbough_service.questions.measuring.traverse import (
    checks,
)
from airbough_service.questions.measuring.traverse import (
    findings as traverse_findings,
)
from airbough_service.terms import sources
from airbough_service.terms.cautions import cautions
from airbough_service.terms.refusal import Refusal

Rows = tuple[tuple[float, ...], ...]


@dataclass(frozen=True, slots=True)
class _Read:
    """What the readings make: the average, its spread, and where those numbers come from."""

    found: measurement.Traverse
    spread: TraverseSpread
    findings: list[Finding]
    passports: tuple[Passport, ...]


def answer(request: TraverseRequest) -> TraverseAnswer:
    """Answer the points of a traverse, and the flow where readings are given.

    Raises:
        Refusal: readings that do not fit the rule's points, or none above zero.
    """
    points = checks.points(request)
    air, origins = measured_air(request.air)
    bore = float(request.diameter)
    plain = TraverseAnswer(
        units={},
        preset=request.units,
        rule=request.rule,
        points=tuple(TraversePoint(share=share, depth=share * bore) for share in points),
        area=area(bore),
        air=air,
        cautions=cautions("estimates", "measurement"),
    )
    findings = [*traverse_findings.of_place(request), *traverse_findings.of_depths(request, points)]
    passports: tuple[Passport, ...] = (rule(request.rule).passport, placing().passport)
    if request.velocity_pressures or request.velocities:
        read = _read(request, float(air.density))
        findings += read.findings
        passports += read.passports
        plain = _with_flow(plain, read, bore)
    return structs.replace(plain, findings=tuple(findings), sources=sources.told(origins | sources.origins(*passports)))


def _read(request: TraverseRequest, density: float) -> _Read:
    """Average the readings."""
    pressures: Rows = tuple(tuple(map(float, row)) for row in request.velocity_pressures)
    if pressures:
        velocities: Rows = tuple(tuple(measurement.velocity(p, density) for p in row) for row in pressures)
    else:
        velocities = tuple(tuple(map(float, row)) for row in request.velocities)
    if not any(value > 0.0 for row in velocities for value in row):
        field = "velocity_pressures" if pressures else "velocities"
        raise Refusal("not-computable", [checks.fault(field, "no-flow-read", "no reading is above zero")])
    found = measurement.traverse(velocities, evenness().of_maximum)
    findings = traverse_findings.of_readings(request, velocities, found)
    findings += beyond_sense(request.units, found.mean_velocity)
    passports = (evenness().passport, disturbed_bias().passport, instrument().passport)
    return _Read(found, _spread(request, found), findings, passports)


def _with_flow(plain: TraverseAnswer, read: _Read, bore: float) -> TraverseAnswer:
    """Return the answer with what the readings make."""
    mean = read.found.mean_velocity
    negative = any(found.code == "negative-reading" for found in read.findings)
    return structs.replace(
        plain,
        flow=mean * area(bore),
        mean_velocity=mean,
        velocity_pressure=0.5 * float(plain.air.density) * mean * mean,
        by_diameter=read.found.by_diameter,
        least_over_greatest=read.found.lowest,
        spread=read.spread,
        cautions=cautions("estimates", "measurement", *(("negative-reading",) if negative else ())),
    )


def _spread(request: TraverseRequest, found: measurement.Traverse) -> TraverseSpread:
    """Return the spread of the flow: the root of the sum of the squares of its parts."""
    parts = {
        "rule": rule(request.rule).passport.spread,
        "instrument": instrument().value,
        "placing": 0.0 if traverse_findings.well_placed(request) else disturbed_bias().value,
    }
    squares = sum(part * part for part in parts.values()) + (found.scatter or 0.0) ** 2
    return TraverseSpread(whole=math.sqrt(squares), between_diameters=found.scatter, **parts)

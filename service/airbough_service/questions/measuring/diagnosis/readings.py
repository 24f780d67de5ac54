"""The gates as they stood while the readings were taken, and which run each reading belongs to."""

from __future__ import annotations

from msgspec import structs

from airbough.wire.diagnosis import (
    DiagnosisRequest,
    FanStaticPressureReading,
    Reading,
)
from airbough.wire.problem import Fault
from airbough.wire.state import GateSetting
from airbough.wire.tree import (
    Run,
)
from airbough_service.questions.measuring.diagnosis.model import is_static
from airbough_service.shop.gates import setting
from airbough_service.shop.pieces import length_of
from airbough_service.shop.shop import Shop
from airbough_service.terms.refusal import Refusal, no_run


def in_state(request: DiagnosisRequest, shop: Shop) -> DiagnosisRequest:
    """Return the request with its gates as measured.

    Raises:
        Refusal: a gate that does not exist.
    """
    if not isinstance(request.state, GateSetting):
        return request
    faults: list[Fault] = []
    opened = setting(shop, request.state, "state", faults).openings
    if faults:
        raise Refusal("not-a-duct-tree", faults)
    runs = tuple(_set(run, opened.get(index)) for index, run in enumerate(request.runs))
    return structs.replace(request, runs=runs, state="as-document")


def _set(run: Run, opening: float | None) -> Run:
    if run.gate is None or opening is None:
        return run
    return structs.replace(run, gate=structs.replace(run.gate, opening=opening))


def places(request: DiagnosisRequest) -> tuple[int, ...]:
    """Return the number of each reading's run, -1 for the fan's.

    Raises:
        Refusal: with every fault of the readings.
    """
    number = {run.id: index for index, run in enumerate(request.runs)}
    faults: list[Fault] = []
    found = tuple(_place(reading, k, request, number, faults) for k, reading in enumerate(request.readings))
    scaling = [k for k, reading in enumerate(request.readings) if reading.scales_fan]
    faults += [
        Fault(path=f"readings[{k}].scales_fan", code="two-readings-scale-fan", detail="one reading may scale the fan")
        for k in scaling[1:]
    ]
    if len(scaling) == len(request.readings):
        detail = "besides the reading that scales the fan at least one is needed"
        faults.append(Fault(path="readings", code="no-reading-left", detail=detail))
    for k, word in enumerate(request.suspects or ()):
        if word not in number:
            faults.append(no_run(f"suspects[{k}]", "unknown-run", word, number))
    if faults:
        raise Refusal("not-a-duct-tree", faults)
    return found


def _place(reading: Reading, k: int, request: DiagnosisRequest, number: dict[str, int], faults: list[Fault]) -> int:
    """Return one reading's run, noting what is wrong with it."""
    path = f"readings[{k}]"
    if float(reading.value) == 0.0:
        faults.append(Fault(path=f"{path}.value", code="reading-of-zero", detail="a reading of 0 cannot be weighed"))
    if is_static(reading) and float(reading.value) > 0.0:
        detail = "gauge pressure in a duct under suction is negative"
        faults.append(Fault(path=f"{path}.value", code="suction-is-negative", detail=detail))
    if isinstance(reading, FanStaticPressureReading):
        return -1
    if reading.run not in number:
        faults.append(no_run(f"{path}.run", "unknown-run", reading.run, number))
        return -1
    run = request.runs[number[reading.run]]
    distance = getattr(reading, "distance", None)
    if distance is not None and float(distance) > length_of(run) * (1.0 + 1.0e-9):
        faults.append(Fault(path=f"{path}.distance", code="beyond-run", detail="the run ends before this distance"))
    if reading.__struct_config__.tag == "hood-static-pressure" and run.hood is None:
        faults.append(Fault(path=f"{path}.run", code="no-hood", detail=f"{reading.run!r} has no hood"))
    return number[reading.run]

"""Every question by name, and the one function that answers it; server, batch and in-process SDK all come here."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from msgspec import Struct

from airbough.wire.problem import Fault
from airbough.wire.tree import Tree
from airbough_service.core.errors import DidNotConvergeError
from airbough_service.edge import units
from airbough_service.edge.refusal import Refusal

Answering = Callable[..., Struct]
"""Takes the request in SI (and path words as keywords) and returns the answer in SI."""


def _table() -> dict[str, Answering]:
    """Return question name -> answering function."""
    from airbough_service.edge import (
        air,
        balance,
        catalogue,
        compare,
        diagnosis,
        drawing,
        duty_cycle,
        fitting,
        friction,
        gate_states,
        hood_static_pressure,
        operating_point,
        room_air,
        sizing,
        strength,
        take_off,
        traverse,
        velocity,
    )

    return {
        "air": air.answer,
        "take-off": take_off.answer,
        "friction-loss": friction.answer,
        "velocity-check": velocity.answer,
        "fittings": catalogue.fittings,
        "fitting": catalogue.fitting,
        "fitting-loss": fitting.answer,
        "ducts": catalogue.ducts,
        "dusts": catalogue.dusts,
        "hoods": catalogue.hoods,
        "sources": catalogue.sources,
        "balance": balance.answer,
        "operating-point": operating_point.answer,
        "duty-cycle": duty_cycle.answer,
        "gate-states": gate_states.answer,
        "drawing": drawing.answer,
        "strength": strength.answer,
        "room-air": room_air.answer,
        "sizing": sizing.answer,
        "traverse": traverse.answer,
        "hood-static-pressure": hood_static_pressure.answer,
        "diagnosis": diagnosis.answer,
        "compare": compare.answer,
    }


_answering: dict[str, Answering] = {}


def answer(name: str, request: Any, **path_words: str) -> Any:
    """Answer a question.

    Args:
        name: the call's name, as in ``airbough.calls``.
        request: the decoded request struct, quantities as the caller wrote them.
        path_words: words of the path template.

    Returns:
        The answer struct in the request's preset, all numbers finite.

    Raises:
        Refusal: with every fault of the level that failed.
        NotFiniteError: where a number of the answer is not finite.
    """
    if not _answering:
        _answering.update(_table())
    in_si = units.to_si(request)
    try:
        found = _answering[name](in_si, **path_words)
        if isinstance(request, Tree):
            found = with_extras(name, request, in_si, found)
    except DidNotConvergeError:
        detail = "no flow was found that enters every open hood; unlike bores, or many hoods on one duct, have none"
        raise Refusal("not-computable", [Fault(path="runs", code="no-distribution-of-flow", detail=detail)]) from None
    return units.told(found, request.units)


def with_extras(name: str, written: Tree, in_si: Tree, found: Struct) -> Struct:
    """Return a tree's answer with what may be asked of any: the resolved request, the explanation, how sure it is."""
    if not (written.resolved or written.explain or written.uncertainty is not None):
        return found
    from airbough_service.edge import extras

    return extras.added(name, written, in_si, found)

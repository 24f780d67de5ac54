"""Every call of the service as a value: name, method, path, request type, answer type.

The service binds its handlers to this list, the SDK's senders execute it, batches and tests walk it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Generic, TypeVar

from msgspec import Struct

from airbough.wire import (
    air,
    balance,
    compare,
    diagnosis,
    drawing,
    gate_states,
    layout,
    make_up_air,
    measurement,
    operating_point,
    outline,
    parts_list,
    quote,
    reference,
    sizing,
    strength,
    variants,
    working_day,
)

Request = TypeVar("Request", bound=Struct)
Answer = TypeVar("Answer", bound=Struct)


@dataclass(frozen=True, slots=True)
class Call(Generic[Request, Answer]):
    """One call.

    Attributes:
        name: operation id; for tree questions also the word of a batch line's `question`.
        method: `GET` or `POST`.
        path: path template.
        request: struct of the query (GET) or body (POST).
        answer: struct of the answer.
    """

    name: str
    method: str
    path: str
    request: type[Request]
    answer: type[Answer]

    @property
    def method_name(self) -> str:
        """Its method's name on a client."""
        return self.name.replace("-", "_")

    @property
    def path_words(self) -> tuple[str, ...]:
        """The names of the words in the path."""
        return tuple(part[1:-1] for part in self.path.split("/") if part.startswith("{"))


AIR: Final = Call("air", "GET", "/v1/air", air.AirRequest, reference.AirAnswer)
FRICTION_LOSS: Final = Call(
    "friction-loss", "GET", "/v1/friction-loss", reference.FrictionLossRequest, reference.FrictionLossAnswer
)
VELOCITY_CHECK: Final = Call(
    "velocity-check", "GET", "/v1/velocity-check", reference.VelocityCheckRequest, reference.VelocityCheckAnswer
)
FITTINGS: Final = Call("fittings", "GET", "/v1/fittings", reference.CatalogueRequest, reference.FittingsAnswer)
FITTING: Final = Call("fitting", "GET", "/v1/fittings/{type}", reference.CatalogueRequest, reference.FittingAnswer)
FITTING_LOSS: Final = Call(
    "fitting-loss", "GET", "/v1/fittings/{type}/loss", reference.FittingLossRequest, reference.FittingLossAnswer
)
DUCTS: Final = Call("ducts", "GET", "/v1/ducts", reference.CatalogueRequest, reference.DuctsAnswer)
DUSTS: Final = Call("dusts", "GET", "/v1/dusts", reference.CatalogueRequest, reference.DustsAnswer)
HOODS: Final = Call("hoods", "GET", "/v1/hoods", reference.CatalogueRequest, reference.HoodsAnswer)
SOURCES: Final = Call("sources", "GET", "/v1/sources", reference.CatalogueRequest, reference.SourcesAnswer)
BALANCE: Final = Call("balance", "POST", "/v1/trees/balance", balance.BalanceRequest, balance.BalanceAnswer)
OPERATING_POINT: Final = Call(
    "operating-point",
    "POST",
    "/v1/trees/operating-point",
    operating_point.OperatingPointRequest,
    operating_point.OperatingPointAnswer,
)
WORKING_DAY: Final = Call(
    "working-day", "POST", "/v1/trees/working-day", working_day.WorkingDayRequest, working_day.WorkingDayAnswer
)
GATE_STATES: Final = Call(
    "gate-states", "POST", "/v1/trees/gate-states", gate_states.GateStatesRequest, gate_states.GateStatesAnswer
)
DRAWING: Final = Call("drawing", "POST", "/v1/trees/drawing", drawing.DrawingRequest, drawing.DrawingAnswer)
SIZING: Final = Call("sizing", "POST", "/v1/trees/sizing", sizing.SizingRequest, sizing.SizingAnswer)
STRENGTH: Final = Call("strength", "POST", "/v1/trees/strength", strength.StrengthRequest, strength.StrengthAnswer)
MAKE_UP_AIR: Final = Call(
    "make-up-air", "POST", "/v1/trees/make-up-air", make_up_air.MakeUpAirRequest, make_up_air.MakeUpAirAnswer
)
TRAVERSE: Final = Call(
    "traverse", "POST", "/v1/measurements/traverse", measurement.TraverseRequest, measurement.TraverseAnswer
)
HOOD_STATIC_PRESSURE: Final = Call(
    "hood-static-pressure",
    "POST",
    "/v1/measurements/hood-static-pressure",
    measurement.HoodStaticPressureRequest,
    measurement.HoodStaticPressureAnswer,
)

PARTS_LIST: Final = Call(
    "parts-list", "POST", "/v1/trees/parts-list", parts_list.PartsListRequest, parts_list.PartsListAnswer
)
QUOTE: Final = Call("quote", "POST", "/v1/quotes", quote.QuoteRequest, quote.QuoteAnswer)
DIAGNOSIS: Final = Call(
    "diagnosis", "POST", "/v1/trees/diagnosis", diagnosis.DiagnosisRequest, diagnosis.DiagnosisAnswer
)
OUTLINE: Final = Call("outline", "POST", "/v1/outlines/tree", outline.OutlineRequest, outline.OutlineAnswer)
OUTLINE_TEMPLATE: Final = Call(
    "outline-template", "GET", "/v1/outlines/template", outline.OutlineTemplateRequest, outline.OutlineTemplateAnswer
)
VARIANTS: Final = Call("variants", "POST", "/v1/trees/variants", variants.VariantsRequest, variants.VariantsAnswer)
LAYOUT: Final = Call("layout", "POST", "/v1/outlines/layout", layout.LayoutRequest, layout.LayoutAnswer)
COMPARE: Final = Call("compare", "POST", "/v1/trees/compare", compare.CompareRequest, compare.CompareAnswer)

CALLS: Final[tuple[Call, ...]] = (  # type: ignore[type-arg]  # a mixed tuple has no one argument
    AIR,
    FRICTION_LOSS,
    VELOCITY_CHECK,
    FITTINGS,
    FITTING,
    FITTING_LOSS,
    DUCTS,
    DUSTS,
    HOODS,
    SOURCES,
    BALANCE,
    OPERATING_POINT,
    WORKING_DAY,
    GATE_STATES,
    DRAWING,
    SIZING,
    STRENGTH,
    MAKE_UP_AIR,
    TRAVERSE,
    HOOD_STATIC_PRESSURE,
    PARTS_LIST,
    QUOTE,
    DIAGNOSIS,
    COMPARE,
    VARIANTS,
    OUTLINE,
    OUTLINE_TEMPLATE,
    LAYOUT,
)

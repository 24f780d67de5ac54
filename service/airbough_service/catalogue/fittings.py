"""Loss coefficients of fittings, entries and gates by the laws that the catalogue names."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import cache, lru_cache
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from airbough_service.catalogue.families import (
    Family,
    FamilyTable,
    Parameters,
    completed,
    families,
    family,
    interaction_of,
    multiplier_of,
)
from airbough_service.catalogue.passports import (
    GIVEN,
    Loss,
    beyond,
    passport_of,
)
from airbough_service.catalogue.reading import (
    MissingParameterError,
    UnknownWordError,
)
from airbough_service.core.errors import OutsideTableError
from airbough_service.core.laws import fitting as laws
from airbough_service.core.laws.fitting import Opening

Values = dict[str, Any]


def fitting_loss(type_: str, parameters: Parameters, bore: float) -> Loss:
    """Return the coefficient of one piece, on the velocity pressure in `refers_bore`.

    Args:
        type_: family of the catalogue, also an entry.
        parameters: SI floats, angles in degrees, words; what is left out takes the family's default.
        bore: of the run [m]; of the port for an entry.

    Raises:
        UnknownWordError: a type, parameter or word that the catalogue does not know.
        MissingParameterError: a required parameter was left out.
        OutsideTableError: a value that no table or law can answer.
    """
    return _fitting_loss(type_, tuple(parameters.items()), bore)


@lru_cache(maxsize=4096)  # bounded: parameters and bores are the caller's
def _fitting_loss(type_: str, parameters: tuple[tuple[str, Any], ...], bore: float) -> Loss:
    of = family(type_)
    law = _LAWS.get(of.function)
    if law is None:
        raise UnknownWordError("fitting with a coefficient of its own", type_, ())
    return law(of, completed(of, dict(parameters)), bore)


def entry_loss(type_: str, parameters: Parameters, port_bore: float) -> Loss:
    """Return the coefficient of an entry on the velocity pressure in the port; raises as `fitting_loss`."""
    return fitting_loss(type_, parameters, port_bore)


def refers_bore(type_: str, parameters: Parameters, bore: float) -> float:
    """Return the bore [m] whose velocity pressure the coefficient refers to."""
    if family(type_).refers_to == "smaller-diameter":
        return min(float(parameters["upstream_diameter"]), float(parameters["downstream_diameter"]))
    return bore


def change_of_size(upstream: float, downstream: float, length: float | None) -> Loss:
    """Return the loss of a change of bore on the smaller bore; abrupt where it has no length [m].

    Raises:
        OutsideTableError: a bore or length that is not answered.
    """
    bores = {"upstream_diameter": upstream, "downstream_diameter": downstream}
    if length:
        return fitting_loss("taper", {**bores, "length": length}, upstream)
    return fitting_loss("abrupt-change", bores, upstream)


@lru_cache(maxsize=1024)  # bounded: openings are the caller's
def gate_loss(opening: float) -> Loss:
    """Return the coefficient of a slide gate at this open share of the bore's area.

    Raises:
        OutsideTableError: below the least opening that is answered, or above 1. A gate that is shut is no loss.
    """
    return fitting_loss("slide-gate", {"opening": opening}, 0.0)


def gate_coefficients(openings: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the coefficients of many openings, any shape; infinite at 0, which is shut.

    Raises:
        OutsideTableError: outside the openings that are answered, and not 0.
    """
    return _opening("slide-gate").coefficients(openings)


def gate_opening(coefficient: float) -> float:
    """Return the opening at which a slide gate has this coefficient; the inverse of `gate_loss`.

    Raises:
        OutsideTableError: where no opening has it.
    """
    return _opening("slide-gate").share(coefficient)


def gate_travel(opening: float) -> float:
    """Return how far a blade with the bore's own edge stands pulled out, over the bore, at an open share of its area.

    Raises:
        OutsideTableError: not 0 to 1.
    """
    if not 0.0 <= opening <= 1.0:
        raise OutsideTableError("opening", opening, 0.0, 1.0)
    return laws.blade_travel(opening)


@cache
def _opening(type_: str) -> Opening:
    of = families()[type_]
    (part,) = of.tables.values()
    parameter = of.parameters[part.table.axes[0].name]
    constant = of.block["below_table"]["constant"]
    bend, reach = (constant, 1.0) if type_ == "slide-gate" else (0.0, constant)
    return Opening(part.table, bend, reach, parameter.minimum)


def _told(of: Family, part: FamilyTable, coefficient: float, values: Values) -> Loss:
    ranges = of.published(values, {"published": part.published})
    return Loss(coefficient, f"{of.type}/{part.id}", part.passport, beyond(ranges, values))


def _variant(of: Family, values: Values) -> FamilyTable:
    """Return the table that the family's word chooses, or its only one."""
    for name, parameter in of.parameters.items():
        if parameter.kind == "word":
            return of.tables[values[name]]
    (only,) = of.tables.values()
    return only


def _coordinates(of: Family, part: FamilyTable, values: Values) -> list[float]:
    for axis in part.table.axes:
        if axis.name not in values:
            raise MissingParameterError(of.type, (axis.name,))
    return [values[axis.name] for axis in part.table.axes]


def _by_table(of: Family, values: Values, bore: float) -> Loss:
    part = _variant(of, values)
    return _told(of, part, part.table.at(*_coordinates(of, part, values)), values)


def _elbow(of: Family, values: Values, bore: float) -> Loss:
    known = values | {"diameter": bore}
    part = _variant(of, known)
    coefficient = part.table.at(*_coordinates(of, part, known))
    if part.table.axes[0].name != "angle":
        coefficient = laws.elbow_coefficient(coefficient, values["angle"], multiplier_of(of.type))
    loss = _told(of, part, coefficient, known)
    factor = 1.0 if part.by_bore is None else part.by_bore.table.at(bore)
    if part.by_bore is None or factor == 1.0:
        return loss
    return replace(loss, coefficient=coefficient * factor, passport=part.by_bore.passport)


def _elbow_pair(of: Family, values: Values, bore: float) -> Loss:
    each = dict(values)
    each.pop("spacer_ratio")
    if of.type == "elbow-pair":
        each["angle"] = values["angle"] / 2.0
    one = _elbow(family("elbow"), each, bore)
    pair = interaction_of(of.type)
    coefficient = laws.elbow_pair_coefficient(one.coefficient, pair.factor)
    close = values["construction"] == "mitered" and values["spacer_ratio"] < pair.close_below
    spread = max(one.passport.spread, pair.close_spread if close else pair.passport.spread)
    of_pair = f"the pair: {pair.passport.source}, {pair.passport.place}"
    notes = "; ".join(note for note in (one.passport.note, of_pair, pair.passport.note) if note)
    ranges = {name: parameter.published for name, parameter in of.parameters.items() if parameter.published}
    spacing = {"spacer_ratio": ranges["spacer_ratio"]}
    passport = replace(one.passport, spread=spread, note=notes)
    return Loss(coefficient, f"{of.type}/{one.entry.split('/')[1]}", passport, one.outside + beyond(spacing, values))


def _abrupt(of: Family, values: Values, bore: float) -> Loss:
    upstream, downstream = values["upstream_diameter"], values["downstream_diameter"]
    ratio = laws.area_ratio(upstream, downstream)
    if downstream <= upstream:
        part = of.tables["narrowing"]
        return _told(of, part, part.table.at(ratio), values | {"area_ratio": ratio})
    widening = of.block["widening"]
    coefficient = laws.expansion_coefficient(ratio, widening["exponent"])
    return Loss(coefficient, f"{of.type}/widening", passport_of(widening))


def _taper(of: Family, values: Values, bore: float) -> Loss:
    upstream, downstream = values["upstream_diameter"], values["downstream_diameter"]
    ratio = laws.area_ratio(upstream, downstream)
    angle = laws.included_angle(upstream, downstream, values["length"])
    step = _abrupt(family("abrupt-change"), values, bore).coefficient
    known = values | {"area_ratio": ratio, "included_angle": angle}
    if downstream <= upstream:
        part = of.tables["converging"]
        return _told(of, part, laws.contraction_coefficient(part.table, step, ratio, angle), known)
    part = of.tables["diverging"]
    coefficient = laws.taper_coefficient(part.table, step, ratio, angle)
    return _told(of, part, coefficient + of.tables["diverging-friction"].table.at(ratio, angle), known)


def _gate(of: Family, values: Values, bore: float) -> Loss:
    (part,) = of.tables.values()
    return _told(of, part, _opening(of.type).coefficient(values["opening"]), values)


def _sharp_orifice(of: Family, values: Values, bore: float) -> Loss:
    known = dict(values)
    if "area_share" not in known:
        if "orifice_diameter" not in known:
            raise MissingParameterError(of.type, ("orifice_diameter", "area_share"))
        if known["orifice_diameter"] > bore * (1.0 + 1.0e-9):
            raise OutsideTableError("orifice_diameter", known["orifice_diameter"], 0.0, bore)
        known["area_share"] = min((known["orifice_diameter"] / bore) ** 2, 1.0)
    (part,) = of.tables.values()
    return _told(of, part, _opening(of.type).coefficient(known["area_share"]), known)


def _slot(of: Family, values: Values, bore: float) -> Loss:
    block = of.block["slot_coefficient"]
    coefficient = laws.slot_coefficient(values["area_share"], block["value"], values["duct_entry"])
    return Loss(coefficient, of.type, passport_of(block), beyond(of.published(values), values))


def _stack_head(of: Family, values: Values, bore: float) -> Loss:
    block = of.block["outlet"]
    coefficient = laws.stack_head_coefficient(values["outlet_ratio"], block["exponent"])
    return Loss(coefficient, of.type, passport_of(block), beyond(of.published(values), values))


def _known(of: Family, values: Values, bore: float) -> Loss:
    return Loss(values["coefficient"], of.type, GIVEN)


_LAWS: Final[dict[str, Callable[[Family, Values, float], Loss]]] = {
    "elbow_coefficient": _elbow,
    "elbow_pair_coefficient": _elbow_pair,
    "hose_bend_coefficient": _elbow,
    "table_coefficient": _by_table,
    "taper_coefficient": _taper,
    "abrupt_change_coefficient": _abrupt,
    "slide_gate_coefficient": _gate,
    "sharp_orifice_coefficient": _sharp_orifice,
    "slot_coefficient": _slot,
    "stack_head_coefficient": _stack_head,
    "known_coefficient": _known,
}

"""Junction coefficients of a single question: the branch's and, where there is one, the straight run's."""

from __future__ import annotations

import math
from typing import Any, Final

from airbough_service import catalogue
from airbough_service.catalogue import (
    Arrangement,
    BranchLaw,
    Edition,
    Loss,
    MissingParameterError,
)
from airbough_service.core.errors import OutsideTableError
from airbough_service.core.network.coefficients import flow_ratio_coefficients
from airbough_service.core.network.tree import Arm

EXTRA: Final = {"flow_share", "branch_diameter"}
_LAWS: Final[dict[str, tuple[Arrangement, Edition]]] = {
    **{edition: ("wye", edition) for edition in catalogue.EDITIONS},
    "symmetrical-wye": ("symmetrical", "flow-ratio"),
    "double-wye": ("double", "flow-ratio"),
}


def loss(type_: str, given: dict[str, Any], bore: float) -> tuple[Loss, float | None, float]:
    """Return the branch's coefficient, the straight run's where there is one, and the bore that they refer to.

    Args:
        type_: a junction law of the catalogue.
        given: `angle`; for flow-ratio laws also `flow_share` and `branch_diameter`.
        bore: of the common run [m]; for entry-angle of the branch.

    Raises:
        MissingParameterError: where one of these was left out.
        OutsideTableError: where no law answers.
    """
    _need(type_, given, "angle")
    if type_ == "entry-angle":
        return catalogue.entry_factor(given["angle"]), 0.0, bore
    for name in ("flow_share", "branch_diameter"):
        _need(type_, given, name)
    if math.isnan(bore):
        raise MissingParameterError(type_, ("diameter",))
    ratio = (given["branch_diameter"] / bore) ** 2
    law = catalogue.branch_law(given["angle"], ratio, *_LAWS[type_])
    branch, straight = _coefficients(type_, law, ratio, given["flow_share"])
    return Loss(branch, law.entry, law.passport, law.outside), straight, bore


def _need(type_: str, given: dict[str, Any], name: str) -> None:
    if name not in given:
        raise MissingParameterError(type_, (name,))


def _coefficients(type_: str, law: BranchLaw, ratio: float, share: float) -> tuple[float, float | None]:
    """Return the coefficients of the branch asked for and of the straight run; flows add up to 1."""
    branch = Arm(
        is_branch=True,
        cosine=law.cosine,
        area_ratio=1.0 / ratio,
        factor=law.factor,
        lift=law.lift,
        linear=law.linear,
        drag=law.drag,
        constants=law.constants,
    )
    straight = Arm(constants=law.constants)
    if type_ == "symmetrical-wye":
        return flow_ratio_coefficients([branch, branch], [share, 1.0 - share])[0], None
    if type_ in catalogue.EDITIONS:
        values = flow_ratio_coefficients([branch, straight], [share, 1.0 - share])
        return values[0], values[1]
    if share > 0.5:
        raise OutsideTableError("flow_share", share, 0.0, 0.5)
    values = flow_ratio_coefficients([branch, branch, straight], [share, share, 1.0 - 2.0 * share])
    return values[0], values[2]

"""Measured coefficients of converging junctions beside our default law: `tests/data/measured_junctions.toml`."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any, Final

from airbough_service import catalogue
from handbook.case_units import Inputs
from handbook.single_values import flow_ratio

MEASURED: Final = tomllib.loads(
    (Path(__file__).parents[1] / "data" / "measured_junctions.toml").read_text(encoding="utf-8")
)
ALLOWED: Final = {"branch": 0.2, "straight": 0.21}
"""Velocity pressures of the common run that a point may be off: twice and more the root mean square of the fit, where
both series differ by 0.1 at the same ratios."""


def points() -> Iterator[tuple[str, str, str, float, float, float, float]]:
    """Give every point: source, place, arm, angle, area ratio, flow ratio, measured coefficient."""
    for series in MEASURED["series"]:
        for arm in ALLOWED:
            for share, value in series[arm]:
                yield series["source"], series["place"], arm, 45.0, series["area_ratio"], share, value
    others = MEASURED["other_angles"]
    for angle, share, value in others["branch"]:
        yield others["source"], others["place"], "branch", angle, 1.0, share, value


def ours(arm: str, angle: float, area_ratio: float, share: float) -> float:
    """Return our coefficient of the branch, or of the straight run."""
    inputs = {
        "angle": angle, "common_diameter": 1.0, "straight_diameter": 1.0, "branch_diameter": area_ratio**0.5,
        "branch_flow": share, "straight_flow": 1.0 - share,
    }  # fmt: skip
    return flow_ratio(0 if arm == "branch" else 1)(Inputs(inputs))


def allowed(arm: str, angle: float, area_ratio: float, value: float) -> float:
    """Return how far a point may be off: a branch by the spread of its law where that is more."""
    spread = catalogue.branch_law(angle, area_ratio, "wye").passport.spread
    return max(ALLOWED[arm], spread * (1.0 + value)) if arm == "branch" else ALLOWED[arm]


def lines() -> Iterator[tuple[dict[str, Any], str]]:
    """Give every point as a line of the validation page, with its source."""
    for source, place, arm, angle, area_ratio, share, value in points():
        words = "branch" if arm == "branch" else "straight run"
        line = {
            "what": f"{words} of a {angle:g} degree junction, area ratio {area_ratio:g}, flow ratio {share:g}",
            "place": place, "how": "read", "printed": value, "ours": ours(arm, angle, area_ratio, share), "unit": "-",
            "tolerance": allowed(arm, angle, area_ratio, value), "note": "",
        }  # fmt: skip
        yield line, source

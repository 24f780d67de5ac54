"""Reference trees packed for the solver, and their fans."""

import json
import math
from pathlib import Path

import numpy as np

from airbough_service.core.laws.fan import (
    Fan,
    curve_pieces,
)
from airbough_service.core.network import columns
from airbough_service.core.network.tree import (
    Run,
    Tree,
    dynamic,
    pack,
)

FOLDER = Path(__file__).parent / "data" / "reference_trees"
NAMES = sorted(path.stem for path in FOLDER.glob("*.json"))


def document(name: str) -> dict:
    return json.loads((FOLDER / f"{name}.json").read_text())


def packed(reference: dict) -> Tree:
    """Pack a reference tree; its local losses stand as entry losses, its junctions charge nothing."""
    edges, density = reference["edges"], reference["air"]["density_kg_m3"]
    number = {edge["id"]: index for index, edge in enumerate(edges)}
    runs = [
        Run(
            parent=-1 if edge["downstream_edge_id"] is None else number[edge["downstream_edge_id"]],
            start=edge["diameter_m"],
            end=edge["diameter_m"],
            length=edge["length_m"],
            roughness=edge["roughness_m"],
            entry=edge["loss_coefficient_sum"] * dynamic(density, edge["diameter_m"]),
            gate=math.inf if edge["is_leaf"] and not edge["open"] else 0.0,
        )
        for edge in edges
    ]
    return pack(runs, density, reference["air"]["dynamic_viscosity_pa_s"], columns.MEET)


def fan_of(reference: dict) -> Fan:
    """Return the reference's fan, a quadratic or straight lines between points."""
    fan = reference["fan"]
    if fan["kind"] == "points":
        flows = [point["flow_m3_s"] for point in fan["points"]]
        pressures = [point["total_pressure_rise_pa"] for point in fan["points"]]
        return Fan(curve_pieces(flows, pressures, linear=True), np.zeros((0, 2)), 0.0)
    p0, a1, a2 = fan["p0_pa"], fan["a1_pa_per_m3_s"], fan["a2_pa_per_m3_s_squared"]
    highest = (-a1 - math.sqrt(a1 * a1 - 4.0 * a2 * p0)) / (2.0 * a2)
    return Fan(np.array([[0.0, highest, p0, a1, a2, 0.0]]), np.zeros((0, 2)), 0.0)

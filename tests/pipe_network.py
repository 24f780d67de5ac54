"""Reference trees as networks of a general pipe-network solver: EPANET, through wntr's toolkit.

Hoods are reservoirs at head 0, the fan inlet is a reservoir at the (negative) head of its suction; heads are metres of
the tree's air. Zero lengths are given 1 mm. EPANET's Darcy-Weisbach takes Swamee and Jain's factor, not Colebrook's.
"""

import math
from pathlib import Path

from wntr.epanet.toolkit import ENepanet
from wntr.epanet.util import EN

GRAVITY = 9.80665
WATER_VISCOSITY = 1.1e-5 * 0.3048**2  # EPANET's reference kinematic viscosity, 1.1e-5 ft2/s, in m2/s


def write_input(reference: dict, suction: float, path: Path) -> None:
    """Write an EPANET input file; suction is the fall of total pressure at the fan inlet, Pa."""
    density, viscosity = reference["air"]["density_kg_m3"], reference["air"]["dynamic_viscosity_pa_s"]
    head = -suction / (density * GRAVITY)
    lines = ["[JUNCTIONS]"]
    lines += [f"J{edge['id']} 0 0" for edge in reference["edges"] if not edge["is_leaf"]]
    lines += ["[RESERVOIRS]", f"FAN {head!r}"]
    lines += [f"H{edge['id']} 0" for edge in reference["edges"] if edge["is_leaf"]]
    lines.append("[PIPES]")
    for edge in reference["edges"]:
        upstream = f"H{edge['id']}" if edge["is_leaf"] else f"J{edge['id']}"
        downstream = "FAN" if edge["downstream_edge_id"] is None else f"J{edge['downstream_edge_id']}"
        length, bore, rough = max(edge["length_m"], 1.0e-3), edge["diameter_m"] * 1000.0, edge["roughness_m"] * 1000.0
        status = "CLOSED" if edge["is_leaf"] and not edge["open"] else "OPEN"
        minor = edge["loss_coefficient_sum"]
        lines.append(f"P{edge['id']} {upstream} {downstream} {length!r} {bore!r} {rough!r} {minor!r} {status}")
    relative = viscosity / density / WATER_VISCOSITY
    lines += ["[OPTIONS]", "UNITS LPS", "HEADLOSS D-W", f"VISCOSITY {relative!r}", "SPECIFIC GRAVITY 1.0"]
    lines += [
        "ACCURACY 0.00001",
        "TRIALS 200",
        "[TIMES]",
        "DURATION 0",
        "[REPORT]",
        "STATUS NO",
        "SUMMARY NO",
        "[END]",
        "",
    ]
    path.write_text("\n".join(lines))


class Network:
    """An opened EPANET network that can be solved again and again."""

    def __init__(self, path: Path) -> None:
        self.toolkit = ENepanet()
        self.toolkit.ENopen(str(path), str(path.with_suffix(".rpt")), str(path.with_suffix(".bin")))
        self.toolkit.ENopenH()

    def solve(self) -> None:
        """Solve from EPANET's own cold start."""
        self.toolkit.ENinitH(10)
        self.toolkit.ENrunH()

    def flow(self, edge: int) -> float:
        """Return a pipe's flow, m3/s."""
        return float(self.toolkit.ENgetlinkvalue(self.toolkit.ENgetlinkindex(f"P{edge}"), EN.FLOW)) / 1000.0

    def close(self) -> None:
        self.toolkit.ENcloseH()
        self.toolkit.ENclose()


def reynolds(reference: dict, edge: dict, flow: float) -> float:
    """Return the Reynolds number of an edge."""
    viscosity = reference["air"]["dynamic_viscosity_pa_s"] / reference["air"]["density_kg_m3"]
    return 4.0 * flow / (math.pi * edge["diameter_m"] * viscosity)

"""The engine beside general network solvers on the same trees, in one run: python tests/bench/speed.py

One operating point of a tree, hot: the engine's compiled solve and its Python door (`operate`), EPANET's re-solve
through wntr's toolkit, a loop on `fluids`' friction, and pandapipes. Then 10,000 gate states, 1,000 hoods against 20,
and how well all agree. Needs the `bench` group, best in an environment of its own: see tests/bench/README.md.
"""

import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from fluids.friction import friction_factor

import packing
import pipe_network
from airbough_service.core.laws.fan import Fan
from airbough_service.core.network import solver
from airbough_service.core.network.operating import operate
from airbough_service.core.network.tree import Tree

STATES = 10_000


def median(call: Callable[[], object], seconds: float = 1.0) -> float:
    """Return the median time of a call in s, over at least five calls and about the given time."""
    call()
    times: list[float] = []
    while len(times) < 5 or sum(times) < seconds:
        began = time.perf_counter()
        call()
        times.append(time.perf_counter() - began)
    return statistics.median(times)


def engine(tree: Tree, fan: Fan) -> Callable[[], object]:
    """Return the compiled solve of one state, many times over to drown the call's own cost."""
    gates = np.repeat(tree.gate[None, :], 200, axis=0)
    return lambda: states(tree, fan, gates)


def states(tree: Tree, fan: Fan, gates: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Solve states of one tree; return flows, statuses and iterations."""
    flows, status, steps = np.empty_like(gates), np.empty(len(gates), np.int64), np.empty(len(gates), np.int64)
    solver.solve_states(
        tree.table,
        tree.links,
        gates,
        fan.pieces,
        fan.terms,
        fan.net_quadratic,
        0.0,
        flows,
        status,
        steps,
        np.empty((0, gates.shape[1])),
    )
    return flows, status, steps


class FluidsLoop:
    """A plain loop: conductances composed with `fluids` friction factors until the flows settle."""

    def __init__(self, reference: dict, fan: Fan) -> None:
        self.edges, self.fan = reference["edges"], fan
        self.density, self.viscosity = reference["air"]["density_kg_m3"], reference["air"]["dynamic_viscosity_pa_s"]
        self.down = [-1 if e["downstream_edge_id"] is None else e["downstream_edge_id"] for e in self.edges]
        self.area = [np.pi * e["diameter_m"] ** 2 / 4.0 for e in self.edges]
        self.shut = [e["is_leaf"] and not e["open"] for e in self.edges]

    def __call__(self) -> np.ndarray:
        """Return every edge's flow, m3/s."""
        flow, factor = np.zeros(len(self.edges)), [0.02] * len(self.edges)
        for _ in range(30):
            before = flow.copy()
            self.share(flow, *self.conductances(factor))
            self.factors(flow, factor)
            if np.max(np.abs(flow - before)) < 1.0e-10 * flow[-1]:
                break
        return flow

    def conductances(self, factor: list[float]) -> tuple[list[float], list[float]]:
        """Return each edge's conductance down to its end, and the sum of those that flow into it."""
        conductance, above = [0.0] * len(self.edges), [0.0] * len(self.edges)
        for i, edge in enumerate(self.edges):
            turns = edge["loss_coefficient_sum"] + factor[i] * edge["length_m"] / edge["diameter_m"]
            own = self.density / (2.0 * self.area[i] ** 2) * turns
            if edge["is_leaf"]:
                conductance[i] = 0.0 if self.shut[i] else own**-0.5
            elif above[i] > 0.0:
                conductance[i] = (own + above[i] ** -2) ** -0.5
            if self.down[i] >= 0:
                above[self.down[i]] += conductance[i]
        return conductance, above

    def share(self, flow: np.ndarray, conductance: list[float], above: list[float]) -> None:
        """Meet the fan's curve by bisection and share the flow out."""
        low, high = self.fan.lowest, self.fan.highest
        for _ in range(60):
            middle = 0.5 * (low + high)
            if self.fan.left_for_tree(middle) > (middle / conductance[-1]) ** 2:
                low = middle
            else:
                high = middle
        flow[-1] = low
        for i in range(len(self.edges) - 2, -1, -1):
            shares = above[self.down[i]]
            flow[i] = flow[self.down[i]] * conductance[i] / shares if shares > 0.0 else 0.0

    def factors(self, flow: np.ndarray, factor: list[float]) -> None:
        """Work the friction factors out again with `fluids`."""
        for i, edge in enumerate(self.edges):
            if flow[i] > 0.0:
                reynolds = self.density * flow[i] * edge["diameter_m"] / (self.area[i] * self.viscosity)
                factor[i] = friction_factor(Re=reynolds, eD=edge["roughness_m"] / edge["diameter_m"])


def pandapipes_net(reference: dict, suction: float, fluid: tuple[float, float]) -> Callable[[], object]:
    """Return pandapipes' solve of the tree with the fan's suction as a fixed pressure."""
    import pandapipes as pp

    net = pp.create_empty_network()
    density, viscosity = fluid
    properties = {
        "density": pp.FluidPropertyConstant(density),
        "viscosity": pp.FluidPropertyConstant(viscosity),
        "heat_capacity": pp.FluidPropertyConstant(1006.0),
        "compressibility": pp.FluidPropertyConstant(1.0),
        "der_compressibility": pp.FluidPropertyConstant(0.0),
        "molar_mass": pp.FluidPropertyConstant(28.96),
    }
    # A liquid to pandapipes: constant density, as the engine takes the air.
    net["fluid"] = pp.Fluid("air", "liquid", **properties)
    room = 1.0e5
    nodes = {e["id"]: pp.create_junction(net, pn_bar=1.0, tfluid_k=293.15) for e in reference["edges"]}
    inlet = pp.create_junction(net, pn_bar=1.0, tfluid_k=293.15)
    pp.create_ext_grid(net, inlet, p_bar=(room - suction) / 1.0e5, t_k=293.15)
    for edge in reference["edges"]:
        if edge["is_leaf"] and not edge["open"]:
            continue
        to = inlet if edge["downstream_edge_id"] is None else nodes[edge["downstream_edge_id"]]
        pp.create_pipe_from_parameters(
            net, nodes[edge["id"]], to, length_km=max(edge["length_m"], 1.0e-3) / 1000.0,
            **{"diameter_m" if _old() else "inner_diameter_mm": edge["diameter_m"] * (1.0 if _old() else 1000.0)},
            k_mm=edge["roughness_m"] * 1000.0, loss_coefficient=edge["loss_coefficient_sum"],
        )  # fmt: skip
        if edge["is_leaf"]:
            pp.create_ext_grid(net, nodes[edge["id"]], p_bar=room / 1.0e5, t_k=293.15)
    used = set(net.pipe.from_junction) | set(net.pipe.to_junction)
    net.junction.loc[~net.junction.index.isin(used), "in_service"] = False
    return lambda: pp.pipeflow(net, friction_model="swamee-jain", tol_p=1e-8, tol_m=1e-8, iter=100)


def _old() -> bool:
    """Return whether this pandapipes names a pipe's bore in metres."""
    import inspect

    import pandapipes as pp

    return "diameter_m" in inspect.signature(pp.create_pipe_from_parameters).parameters


def random_gates(tree: Tree, number: int) -> np.ndarray:
    """Return gate states in which each hood is open with an even chance."""
    draw = np.random.default_rng(1)
    gates = np.zeros((number, tree.gate.size))
    leaves = np.flatnonzero(tree.links[:, 2] == 0)
    for row in gates:
        row[leaves[draw.random(leaves.size) < 0.5]] = np.inf
    return gates


def main() -> None:
    """Print the figures."""
    print(f"numpy {np.__version__}, python {sys.version.split()[0]}; medians, one core")
    times: dict[str, dict[str, float]] = {}
    for name in ("tree-020-00", "tree-1000-00"):
        times[name] = side_by_side(name)
    small, large = all_open("tree-020-00"), all_open("tree-1000-00")
    print(
        f"all hoods open: 20 in {small * 1e6:.2f} us, 1000 in {large * 1e6:.1f} us, {large / small:.1f} times as long"
    )
    reference = packing.document("tree-020-00")
    tree, fan = packing.packed(reference), packing.fan_of(reference)
    for label, gates in (
        ("half the gates shut", random_gates(tree, STATES)),
        ("all open", np.zeros((STATES, tree.gate.size))),
    ):
        spent = median(lambda g=gates: states(tree, fan, g), 2.0) / STATES
        print(f"{STATES} gate states of the 20-hood tree, {label}: {spent * 1e6:.2f} us each")


def all_open(name: str) -> float:
    """Return the time of one state of a tree with every hood open, s."""
    reference = packing.document(name)
    tree, fan = packing.packed(reference), packing.fan_of(reference)
    gates = np.zeros((2000 if tree.gate.size < 100 else 100, tree.gate.size))
    return median(lambda: states(tree, fan, gates)) / len(gates)


def side_by_side(name: str) -> dict[str, float]:
    """Print one tree's figures; return times in s."""
    reference = packing.document(name)
    tree, fan = packing.packed(reference), packing.fan_of(reference)
    flow = operate(tree, fan, tree.gate).flow[tree.place]
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "tree.inp"
        pipe_network.write_input(reference, fan.left_for_tree(float(flow.max())), path)
        network = pipe_network.Network(path)
        out = {
            "engine": median(engine(tree, fan)) / 200,
            "engine, through Python": median(lambda: operate(tree, fan, tree.gate)),
            "EPANET re-solve": median(network.solve),
        }
        off = (
            max(abs(abs(network.flow(e["id"])) - q) for e, q in zip(reference["edges"], flow, strict=True)) / flow.max()
        )
        network.close()
    loop = FluidsLoop(reference, fan)
    out["fluids loop"] = median(loop, 0.5)
    differ = float(np.max(np.abs(loop() - flow)) / flow.max())
    air = (reference["air"]["density_kg_m3"], reference["air"]["dynamic_viscosity_pa_s"])
    try:
        out["pandapipes"] = median(pandapipes_net(reference, fan.left_for_tree(float(flow.max())), air), 1.0)
    except ImportError:
        print("pandapipes is not installed: left out")
    print(f"{name}: EPANET within {off:.1e} of the engine's flows, the fluids loop within {differ:.1e}")
    for label, spent in out.items():
        print(f"  {label:>24}: {spent * 1e6:10.2f} us   {spent / out['engine']:8.1f} x")
    return out


if __name__ == "__main__":
    main()

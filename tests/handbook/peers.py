"""A few lines of each general library beside ours: same inputs, two independent answers."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import fluids
import numpy as np
from CoolProp.CoolProp import HAPropsSI
from scipy.interpolate import PchipInterpolator

import packing
import pipe_network
from airbough_service import catalogue
from airbough_service.core.laws import friction
from airbough_service.core.laws.fan import Fan, curve_pieces
from airbough_service.core.network.operating import operate


@dataclass(frozen=True, slots=True)
class Peer:
    """One value, theirs and ours; `why` says what their difference is made of."""

    library: str
    what: str
    unit: str
    theirs: float
    ours: float
    why: str


def peers() -> list[Peer]:
    """Return every comparison."""
    return [*_friction(), *_air(), *_changes(), *_curves(), *_network()]


def _friction() -> Iterator[Peer]:
    """Colebrook's factor, bent as the duct's wall and the air's speed ask."""
    for reynolds, relative in ((1.0e5, 9.0e-4), (2.0e5, 6.0e-4), (1.0e5, 9.0e-3), (5.0e3, 1.0e-3)):
        theirs = float(fluids.friction.Colebrook(reynolds, relative))
        ours = float(friction.friction_factor(reynolds, relative))
        what = f"Colebrook's friction factor, Re {reynolds:,.0f}, roughness {relative:g} of the bore"
        yield Peer("fluids", what, "-", theirs, ours, "the same equation")
    theirs = float(fluids.friction.friction_factor(Re=2.0e5, eD=6.0e-4, Method="Clamond"))
    ours = float(friction.friction_factor(2.0e5, 6.0e-4))
    yield Peer("fluids", "the same by Clamond's iteration, Re 200,000, 0.0006", "-", theirs, ours, "the same equation")


def _air() -> Iterator[Peer]:
    """Moist air."""
    for celsius, pressure, humidity in ((20.0, 101325.0, 0.5), (0.0, 101325.0, 0.5), (35.0, 84000.0, 0.8)):
        theirs = 1.0 / float(HAPropsSI("Vha", "T", celsius + 273.15, "P", pressure, "R", humidity))
        ours = catalogue.moist_air(celsius + 273.15, pressure, humidity).density
        what = f"density of air, {celsius:g} degC, {pressure / 1000:g} kPa, {100 * humidity:g} % humidity"
        yield Peer("CoolProp", what, "kg/m3", theirs, ours, "two formulations of moist air")
    theirs = 1.0e6 * float(HAPropsSI("mu", "T", 293.15, "P", 101325.0, "R", 0.5))
    ours = 1.0e6 * catalogue.moist_air(293.15, 101325.0, 0.5).viscosity
    why = "ours leaves humidity out"
    yield Peer("CoolProp", "viscosity of air, 20 degC, 50 % humidity", "uPa s", theirs, ours, why)


def _changes() -> Iterator[Peer]:
    """Abrupt changes of size, on the smaller bore."""
    for small, wide in ((0.1, 0.15), (0.125, 0.2)):
        theirs = float(fluids.fittings.diffuser_sharp(small, wide))
        ours = catalogue.change_of_size(small, wide, None).coefficient
        what = f"abrupt widening, {1000 * small:g} to {1000 * wide:g} mm"
        yield Peer("fluids", what, "-", theirs, ours, "both Borda and Carnot's momentum balance")


def _curves() -> Iterator[Peer]:
    """A fan's curve through its points."""
    flows, pressures = [0.0, 0.1, 0.25, 0.4, 0.5], [2000.0, 2050.0, 1700.0, 1100.0, 500.0]
    fan = Fan(curve_pieces(flows, pressures, linear=False), np.zeros((0, 2)), 0.0)
    theirs = PchipInterpolator(flows, pressures)
    for flow in (0.05, 0.2, 0.47):
        what = f"fan curve through five points, at {flow:g} m3/s"
        yield Peer("scipy", what, "Pa", float(theirs(flow)), fan.left_for_tree(flow), "the same interpolation")


def _network() -> Iterator[Peer]:
    """Whole trees, the fan's suction given as a fixed head."""
    for name in ("tree-005-02", "tree-020-03", "tree-100-01"):
        reference = packing.document(name)
        tree, fan = packing.packed(reference), packing.fan_of(reference)
        flow = operate(tree, fan, tree.gate).flow[tree.place]
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / "tree.inp"
            pipe_network.write_input(reference, fan.left_for_tree(float(flow.max())), path)
            network = pipe_network.Network(path)
            network.solve()
            theirs = [abs(network.flow(edge["id"])) for edge in reference["edges"]]
            network.close()
        hoods = [index for index, edge in enumerate(reference["edges"]) if edge["is_leaf"] and edge["open"]]
        worst = max(hoods, key=lambda index: abs(theirs[index] / flow[index] - 1.0))
        main = int(flow.argmax())
        for words, index in (("the whole tree", main), ("the hood that differs most", worst)):
            what = f"flow of {words} of {len(hoods)} open hoods"
            why = "EPANET takes Swamee and Jain's factor in place of Colebrook's"
            yield Peer("EPANET 2.2 (wntr)", what, "m3/s", theirs[index], float(flow[index]), why)

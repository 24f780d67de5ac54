"""A few lines of each general library beside ours: same inputs, two independent answers."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import fluids
from CoolProp.CoolProp import HAPropsSI

import packing
import pipe_network
from airbough_service import catalogue
from airbough_service.core.laws import friction
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
    return [*_friction(), *_air(), *_network()]


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


def _network() -> Iterator[Peer]:
    """Whole trees, the fan's suction given as a fixed head."""
    for name in ("tree-005-00", "tree-020-00"):
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

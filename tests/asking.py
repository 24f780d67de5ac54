"""Every example and every word of the catalogue, asked in process."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import msgspec

from airbough.calls import CALLS
from airbough_service import catalogue
from airbough_service.api.document import examples
from airbough_service.catalogue import reading
from airbough_service.combined import registry
from airbough_service.terms.refusal import Refusal
from junction_models import under

Document = dict[str, Any]


def everything() -> set[str]:
    """Ask all; return every caution that went out."""
    said: set[str] = set()
    for name, request in questions():
        try:
            answer = ask(name, dict(request))
        except Refusal:
            continue
        said |= set(getattr(answer, "cautions", ()))
        walk(msgspec.structs.asdict(answer) if isinstance(answer, msgspec.Struct) else answer)
    return said


def ask(name: str, request: Document) -> Any:
    """Answer one question given as plain data."""
    call = next(call for call in CALLS if call.name == name)
    words = {word: request.pop(word) for word in ("type",) if f"{{{word}}}" in call.path}
    return registry.answer(name, msgspec.convert(request, call.request), **words)


def walk(value: Any) -> None:
    """Take everything below a value, as an encoder does."""
    if isinstance(value, msgspec.Struct):
        value = msgspec.structs.asdict(value)
    if isinstance(value, dict):
        for _, item in value.items():
            walk(item)
    elif isinstance(value, list | tuple):
        for item in value:
            walk(item)


def questions() -> Iterator[tuple[str, Document]]:
    """Give every question to be asked."""
    for call in CALLS:
        yield call.name, examples.request(call.name)
    for preset in ("us", "metric"):
        yield from lookups(preset)
        yield "sizing", of_every_size(preset)
    yield from trees()
    yield from rooms()
    yield from traverses()


def of_every_size(preset: str) -> Document:
    """Give two runs to be sized from the nominal diameters, no seller's stock given."""
    inch, foot, cfm = (1.0, 1.0, 1.0) if preset == "us" else (25.0, 0.3, 1.7)
    run = {"length": 10 * foot, "duct": "spiral-galvanized", "diameter": 6 * inch}
    hood = {"flow": 500 * cfm, "entry": {"type": "plain-opening"}}
    return {
        "units": preset,
        "runs": [{**run, "id": "main", "into": None}, {**run, "id": "saw", "into": "main", "hood": hood,
                                                       "join": {"type": "straight"}}],
    }  # fmt: skip


def lookups(preset: str) -> Iterator[tuple[str, Document]]:
    """Give the catalogue's own questions for every word."""
    flow, diameter = (400, 4) if preset == "us" else (700, 100)
    for family in catalogue.families().values():
        yield "fitting", {"units": preset, "type": family.type}
    for dust in catalogue.all_dusts():
        request = {"units": preset, "flow": flow, "diameter": diameter, "dust": dust.id, "loading": 0.1}
        yield "velocity-check", request
    for duct in catalogue.all_ducts():
        asked = {"units": preset, "flow": flow, "diameter": diameter, "length": 10, "duct": duct.id}
        for friction in ("colebrook", "power-law"):
            for stretch in (None, 0.9):
                hose = {} if stretch is None else {"stretch": stretch}
                yield "friction-loss", {**asked, **hose, "friction": friction}
    yield "air", {"units": preset, "temperature": 20, "altitude": 300, "humidity": 0.5}


def trees() -> Iterator[tuple[str, Document]]:
    """Give the example tree with every machine, leakage class, junction law, gauge and material."""
    base = examples.request("operating-point")
    for machine in catalogue.all_machines():
        tree = json.loads(json.dumps(base))
        hood = next(run["hood"] for run in tree["runs"] if run.get("hood"))
        hood["machine"] = machine.id
        yield "operating-point", tree
    for block in reading.read("leakage")["class"]:
        tree = json.loads(json.dumps(base))
        for run in tree["runs"]:
            run["leakage_class"] = block["id"]
        yield "operating-point", tree
    for friction in ("colebrook", "power-law"):
        for junctions in ("flow-ratio", "flow-ratio-third-edition", "entry-angle", "none"):
            for extra in ({}, {"explain": True}, {"uncertainty": {"samples": 100, "seed": 1}}, {"resolved": True}):
                yield "operating-point", {**under(base, junctions, friction=friction), **extra}
    yield "operating-point", with_paths(base)
    for figures in (
        {"greatest_flow": 1500, "greatest_suction": 12},
        {"power": 3, "inlet_diameter": 7},
    ):
        yield "operating-point", {**base, "units": "us", "collector": {"known_by": figures}}
    yield from walls()
    yield from motors(base)
    paths = with_paths(examples.request("drawing"))
    yield "drawing", {**paths, "of": "plan", "states": [], "walls": [[2, -3], [2, 3], [30, 3], [30, -3]]}
    yield from whole_shop()


def motors(tree: Document) -> Iterator[tuple[str, Document]]:
    """Give a tree with a motor at each supply."""
    for supply in ("single-phase", "three-phase"):
        motor = {"rated_power": "3 hp", "voltage": 230, "supply": supply}
        yield "operating-point", {**tree, "collector": {**tree["collector"], "motor": motor}}


def with_paths(tree: Document) -> Document:
    """Give a tree whose runs all have paths that turn once."""
    runs = [{**run, "path": [[0, 0, 9], [4, 0, 9], [4, 0, 7]]} for run in tree["runs"]]
    return {**tree, "runs": runs}


def whole_shop() -> Iterator[tuple[str, Document]]:
    """Give the questions on a shop of eight machines, its fan too fast, and balanced by flow."""
    shop = json.loads((Path(__file__).parent / "data" / "eight_machines.json").read_text("utf-8"))
    yield "operating-point", shop
    for junctions in ("flow-ratio", "entry-angle"):
        yield "balance", {**under(shop, junctions), "by": "flow"}
    fast = json.loads(json.dumps(shop))
    fast["collector"]["fan"]["speed_ratio"] = 1.1
    yield "operating-point", fast


def walls() -> Iterator[tuple[str, Document]]:
    """Give the question on strength with every material and gauge, with rings and without."""
    base = examples.request("strength")
    materials = [block["id"] for block in reading.read("gauges")["material"]]
    for material in materials:
        for gauge in (None, *range(10, 31, 2)):
            tree = json.loads(json.dumps(base))
            tree["material"] = material
            for run in tree["runs"]:
                run.pop("duct", None)
                run.pop("gauge", None)
                run["roughness"] = "0.1 mm"
                run.pop("stretch", None)
                run.pop("wall_thickness", None)
                run.update({"wall_thickness": "1 mm"} if gauge is None else {"gauge": gauge})
            yield "strength", tree
            yield "strength", {**tree, "suction": "60 inH2O"}


def rooms() -> Iterator[tuple[str, Document]]:
    """Give the question on make-up air with every appliance."""
    base = examples.request("make-up-air")
    for block in reading.read("make_up_air")["appliance"]:
        yield "make-up-air", {**base, "room": {**base["room"], "combustion_appliances": [block["id"]]}}


def traverses() -> Iterator[tuple[str, Document]]:
    """Give the traverse of every rule."""
    base = examples.request("traverse")
    for rule in ("log-linear", "log-tchebycheff", "equal-area"):
        for points in (4, 6, 8, 10, 12, 16, 20):
            readings = [[0.5] * points for _ in range(2)]
            yield "traverse", {**base, "rule": rule, "per_diameter": points, "velocity_pressures": readings}
    yield "traverse", {**base, "velocity_pressures": [[0.5, 0.5, -0.1, 0.5, 0.5, 0.5]] * 2}
    yield "hood-static-pressure", {**examples.request("hood-static-pressure"), "tap_distance": "6 in"}

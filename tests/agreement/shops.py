"""Random documents of small shops and random named states of their gates, with the features that each one has.

Everything is drawn in the us preset; `in_metric` writes the same shop in the other one, by factors of its own.
"""

from __future__ import annotations

import random
from copy import deepcopy
from dataclasses import dataclass, field
from typing import Any

from agreement import oracle

FEATURES = (
    "gate on a metal drop, hose upstream",
    "gate on a hose",
    "two gates in line",
    "zone gate inside a main",
    "machine_id on hoods only",
    "machine_id on gates only",
    "machine_id on both",
    "no machine_id",
    "machine with two ports",
    "two ports with a gate each",
    "two ports with one gate",
    "hood without gate",
    "leakage_class",
    "leak",
    "tight",
    "taper first",
    "taper last",
    "gate half open",
    "gate shut",
    "shut gate that leaks",
    "flow-ratio",
    "entry-angle",
    "none",
    "double wye",
    "symmetrical wye",
    "several inlets",
    "fan-static",
    "fan-total",
    "inlet-static",
    "linear curve",
    "cubic curve",
    "curve from no flow",
    "curve from some flow",
    "power points",
    "efficiency",
    "motor",
    "discharge",
    "altitude",
    "dust by hood",
    "us",
    "metric",
    "state by machine",
    "state by hood run",
    "state by gate run",
    "state with openings",
    "state without open",
    "state with a zone gate",
    "state with a hood that has no gate",
)
"""What the shops drawn must have often; tests count them."""

Document = dict[str, Any]
ALONE = "one machine alone"
BY_MACHINE = ("state by machine", "state by hood run", "state by gate run")
METAL = ("spiral-galvanized", "snap-lock-galvanized", "spiral-galvanized", "smooth-plastic")
DESIGN = {4: (240, 320, 350), 5: (350, 450, 550), 6: (500, 600, 780)}
ENTRIES: tuple[Document, ...] = (
    {"type": "plain-opening"},
    {"type": "flanged-opening"},
    {"type": "tapered-hood", "included_angle": 60, "shape": "round"},
    {"type": "known-coefficient", "coefficient": 0.8},
)
WORDS = ("table-saw", "band-saw", "planer", "jointer", "drum-sander", "lathe", "drill-press", "miter-saw")
DUSTS = ("sawdust", "shavings", "chips", "fine-sanding-dust", "mixed-wood", "wood-flour")
TURN: Document = {"type": "elbow", "angle": 90, "radius_ratio": 1.5}


@dataclass(slots=True)
class Shop:
    """One shop: its document, the same in the other preset, named states of its gates, and what is in it."""

    seed: int
    document: Document
    other: Document
    states: list[Document]
    features: set[str]


@dataclass(slots=True)
class Grower:
    """Grows one document."""

    dice: random.Random
    law: str
    leaks: str
    runs: list[Document] = field(default_factory=list)
    features: set[str] = field(default_factory=set)

    def run(self, name: str, into: str | None, join: Document | None, bore: int, *, hose: bool = False) -> Document:
        """Add a run."""
        dice = self.dice
        made: Document = {"id": name, "into": into, "diameter": bore, "length": round(dice.uniform(2, 9), 2)}
        if join is not None:
            made["join"] = dict(join)
        if hose:
            made |= {"duct": "flexible-hose-ribbed", "stretch": round(dice.uniform(0.92, 1.0), 3)}
            if dice.random() < 0.5:
                made["fittings"] = [{"type": "hose-bend", "angle": 90, "radius_ratio": 1.5}]
        else:
            made |= {"duct": dice.choice(METAL)}
            made |= {"wall_thickness": 0.15} if made["duct"] == "smooth-plastic" else {"gauge": 24}
            if dice.random() < 0.5:
                made["fittings"] = [dict(TURN, count=dice.choice((1, 2)))]
        self._leak(made, hose=hose)
        self.runs.append(made)
        return made

    def _leak(self, run: Document, *, hose: bool) -> None:
        if self.leaks == "leakage_class" and not hose and self.dice.random() < 0.8:
            run["leakage_class"] = self.dice.choice(("round-joints-sealed", "round-unsealed"))
            self.features.add("leakage_class")
        if self.leaks == "leak" and self.dice.random() < 0.6:
            run["leak"] = {"coefficient": round(self.dice.uniform(2e-5, 2e-4), 7), "exponent": 0.65}
            self.features.add("leak")

    def hood(self, run: Document, machine_id: str | None) -> None:
        """Give a run a hood."""
        dice, bore = self.dice, int(run["diameter"])
        hood: Document = {"entry": dict(dice.choice(ENTRIES)), "flow": float(dice.choice(DESIGN[bore]))}
        if dice.random() < 0.3:
            hood["machine"] = dice.choice(WORDS)
        if dice.random() < 0.3:
            hood["port_diameter"] = bore - 1
        if dice.random() < 0.25:
            hood["resistance"] = {"flow": 400, "pressure": round(dice.uniform(0.2, 1.0), 2), "exponent": 1.8}
        if dice.random() < 0.25:
            hood["dust"] = dice.choice(DUSTS)
            self.features.add("dust by hood")
        if machine_id is not None:
            hood["machine_id"] = machine_id
        run["hood"] = hood

    def gate(self, run: Document, machine_id: str | None, *, shut: bool) -> None:
        """Give a run a gate."""
        dice = self.dice
        gate: Document = {"opening": 0.0 if shut else dice.choice((1.0, 1.0, 0.75, 0.5, 0.35))}
        if dice.random() < 0.35:
            gate["leakage"] = dice.choice((0.005, 0.02, 0.05))
        if machine_id is not None:
            gate["machine_id"] = machine_id
        run["gate"] = gate
        self._note(gate)

    def _note(self, gate: Document) -> None:
        if 0.0 < gate["opening"] < 1.0:
            self.features.add("gate half open")
        if gate["opening"] == 0.0:
            self.features.add("shut gate that leaks" if gate.get("leakage") else "gate shut")

    def taper(self, run: Document) -> None:
        """Perhaps let a run's bore change, first or last."""
        bore, dice = int(run["diameter"]), self.dice
        if dice.random() > 0.2:
            return
        fittings = run.setdefault("fittings", [])
        if bore == 6 or (bore == 5 and dice.random() < 0.6):
            run["diameter"] = bore - 1
            change = {"type": "taper", "upstream_diameter": bore - 1, "downstream_diameter": bore, "length": 5}
            fittings.insert(0, change)
            self.features.add("taper first")
        else:
            change = {"type": "taper", "upstream_diameter": bore, "downstream_diameter": bore + 1, "length": 5}
            fittings.append(change)
            self.features.add("taper last")

    def one_port(self, name: str, into: str, join: Document | None, *, is_open: bool) -> None:
        """Add a machine with one port: a drop and its hose, a hose alone, or metal alone."""
        dice, bore = self.dice, self.dice.choice((4, 4, 5, 6))
        kind = dice.choice(("drop", "drop", "drop", "hose on drop", "hose", "metal"))
        gated = dice.random() < 0.88
        ids = dice.choice(("hood", "gate", "both", "none") if gated else ("hood", "none"))
        word = self._id(name)
        if kind in ("drop", "hose on drop"):
            metal = self.run(name, into, join, bore)
            if dice.random() < 0.4:
                metal["rise"] = round(0.5 * metal["length"], 3)
            leaf = self.run(f"{name}-hose", name, dice.choice((None, {"type": "straight"})), bore, hose=True)
            carrier = metal if kind == "drop" else leaf
            self.taper(metal)
        else:
            leaf = carrier = self.run(name, into, join, bore, hose=kind == "hose")
            if kind == "metal":
                self.taper(leaf)
        self.hood_after_taper(leaf, word if ids in ("hood", "both") else None)
        if gated:
            self.gate(carrier, word if ids in ("gate", "both") else None, shut=not is_open)
            if kind in ("drop", "hose on drop") and dice.random() < 0.3:
                other = leaf if carrier is metal else metal
                self.gate(other, word if dice.random() < 0.3 and ids in ("gate", "both") else None, shut=not is_open)
                self.features.add("two gates in line")
            on_hose = carrier["duct"] == "flexible-hose-ribbed"
            if on_hose:
                self.features.add("gate on a hose")
            elif kind == "drop":
                self.features.add("gate on a metal drop, hose upstream")
        else:
            self.features.add("hood without gate")
        self.features.add(f"machine_id on {ids}s only" if ids in ("hood", "gate") else _ids(ids))

    def hood_after_taper(self, leaf: Document, machine_id: str | None) -> None:
        """Give a leaf its hood; ports and design flows go by the bore at its upstream end."""
        self.hood(leaf, machine_id)

    def two_ports(self, name: str, into: str, join: Document | None, *, is_open: bool) -> None:
        """Add a machine with two ports whose hoses meet on one drop, with one gate or one each."""
        dice, word = self.dice, self._id(name)
        self.run(name, into, join, 6 if self.law == "flow-ratio" else dice.choice((5, 6)))
        angle = dice.choice((30, 45))
        joins = ({"type": "straight"}, {"type": "branch", "angle": angle})
        if dice.random() < 0.5:
            joins = ({"type": "branch", "angle": angle},) * 2
            self.features.add("symmetrical wye")
        leaves = [
            self.run(f"{name}-{side}", name, how, dice.choice((4, 4, 5)), hose=dice.random() < 0.6)
            for side, how in zip(("low", "high"), joins, strict=True)
        ]
        self._sized_straights(name)
        shared = dice.random() < 0.5
        self.features |= {"machine with two ports", f"two ports with {'one gate' if shared else 'a gate each'}"}
        if shared:
            ids = dice.choice(("hood", "gate", "both", "first"))
            for number, leaf in enumerate(leaves):
                own = ids in ("hood", "both") or (ids == "first" and number == 0)
                self.hood(leaf, word if own else None)
            self.gate(self._by_id(name), word if ids != "hood" else None, shut=not is_open)
            self.features.add(_ids("both" if ids == "first" else ids))
            return
        ids = dice.choice(("hood", "gate", "both", "mixed"))
        for number, leaf in enumerate(leaves):
            at_hood, at_gate = ids in ("hood", "both"), ids in ("gate", "both")
            if ids == "mixed":
                at_hood, at_gate = number == 0, number == 1
            self.hood(leaf, word if at_hood else None)
            self.gate(leaf, word if at_gate else None, shut=not is_open or (number == 1 and dice.random() < 0.15))
            if leaf["duct"] == "flexible-hose-ribbed":
                self.features.add("gate on a hose")
        self.features.add(_ids("both" if ids == "mixed" else ids))

    def _id(self, name: str) -> str:
        return self.dice.choice((name, f"the {name}"))

    def _by_id(self, name: str) -> Document:
        return next(run for run in self.runs if run["id"] == name)

    def _sized_straights(self, into: str) -> None:
        """Let straights whose bore differs at a junction have a taper, where the junction's law charges it."""
        parent = self._by_id(into)
        arms = [run for run in self.runs if run["into"] == into]
        for run in arms:
            if (run.get("join") or {}).get("type") != "straight" or run["join"].get("taper_length"):
                continue
            differs = oracle.end(run) != parent["diameter"]
            charged = self.law == "flow-ratio" or (self.law == "entry-angle" and len(arms) == 1)
            if differs and charged and self.dice.random() < 0.7:
                run["join"]["taper_length"] = 6

    def line(self, name: str, into: str | None, join: Document | None, bore: int, machines: list[Any]) -> None:
        """Add a line of duct: section after section, at each upstream end a wye with one machine or two."""
        dice, left, number, here = self.dice, list(machines), 0, name
        section = self.run(here, into, join, bore)
        while True:
            angle = dice.choice((30, 45))
            branch = {"type": "branch", "angle": angle}
            if len(left) == 1:
                left.pop()(here, dice.choice((None, {"type": "straight"})))
                break
            if len(left) == 2 and dice.random() < 0.35:
                left.pop()(here, branch)
                left.pop()(here, branch)
                self.features.add("symmetrical wye")
                break
            left.pop(0)(here, branch)
            if len(left) >= 2 and dice.random() < 0.25:
                left.pop(0)(here, {"type": "branch", "angle": dice.choice((30, 45))})
                self.features.add("double wye")
            number += 1
            onward = f"{name}-{number}"
            bore = dice.choice((bore, bore, max(bore - 1, 6)))
            section = self.run(onward, here, {"type": "straight"}, bore)
            self._sized_straights(here)
            here = onward
            if dice.random() < 0.22 and len(left) > 1:
                self.zone_gate(section)
        self._sized_straights(here)

    def zone_gate(self, section: Document) -> None:
        """Give a section of a main a gate of its own."""
        self.gate(section, None, shut=self.dice.random() < 0.3)


def _ids(ids: str) -> str:
    """Return the feature of where a machine's ids stand."""
    return {"none": "no machine_id", "both": "machine_id on both"}.get(ids, f"machine_id on {ids}s only")


def draw(seed: int) -> Shop:
    """Return the shop of a seed."""
    dice = random.Random(seed)
    law = dice.choice(("flow-ratio", "entry-angle", "none"))
    leaks = dice.choice(("leakage_class", "leak", "tight"))
    grower = Grower(dice, law, leaks)
    _grow(dice, grower)
    dice.shuffle(grower.runs)
    document: Document = {"units": "us", "name": f"shop {seed}", "runs": grower.runs, "model": {"junctions": law}}
    grower.features |= {law, *(("tight",) if leaks == "tight" else ())}
    _airs(dice, document, grower.features)
    document["collector"] = _collector(dice, document, grower.features)
    _open_some(document)
    if _zones(document):
        grower.features.add("zone gate inside a main")
    states = _states(dice, document, grower.features)
    pair = [document, in_metric(document)]
    if dice.random() < 0.5:
        pair.reverse()
    return Shop(seed, *pair, states, grower.features | {pair[0]["units"]})


def _grow(dice: random.Random, grower: Grower) -> None:
    """Grow mains, lines and machines."""
    count = dice.randint(4, 14)
    running = set(dice.sample(range(count), dice.choice((1, 1, 2, 2, 3, 4))))
    machines = [_machine(dice, grower, number, number in running) for number in range(count)]
    roots = 2 if dice.random() < 0.3 else 1
    cut = dice.randint(1, count - 2) if roots == 2 else count
    grower.line("main", None, None, dice.choice((7, 8)), _with_line(dice, grower, machines[:cut], "north"))
    if roots == 2:
        grower.line("second", None, None, dice.choice((6, 7)), _with_line(dice, grower, machines[cut:], "south"))
        grower.features.add("several inlets")
    for run in grower.runs:
        if run["id"] in ("second", "main") and "gate" not in run and dice.random() < 0.08:
            grower.zone_gate(run)


def _machine(dice: random.Random, grower: Grower, number: int, is_open: bool) -> Any:
    """Return how to add a machine."""
    add = grower.two_ports if dice.random() < 0.2 else grower.one_port
    return lambda into, join: add(f"m{number}", into, join, is_open=is_open)


def _with_line(dice: random.Random, grower: Grower, machines: list[Any], name: str) -> list[Any]:
    """Put some of a main's machines on a line of their own, often behind a gate."""
    if len(machines) < 4 or dice.random() < 0.25:
        return machines
    cut = dice.randint(2, len(machines) - 2)
    own = machines[:cut]

    def add(into: str, join: Document | None) -> None:
        grower.line(name, into, join, 6, own)
        if dice.random() < 0.6:
            grower.zone_gate(next(run for run in grower.runs if run["id"] == name))

    return [add, *machines[cut:]]


def _zones(document: Document) -> list[str]:
    """Return the runs of the gates that serve no one machine."""
    model = oracle.read(document)
    return [gate for gate, machine in model.machine_of_gate.items() if machine is None]


def _open_some(document: Document) -> None:
    """Open the zone gates of a document in which no hood would be open."""
    if any(oracle.read(document).open_hoods(None).values()):
        return
    for run in document["runs"]:
        if "gate" in run and run["gate"]["opening"] == 0.0 and "hood" not in run:
            run["gate"]["opening"] = 1.0
    if not any(oracle.read(document).open_hoods(None).values()):
        for run in document["runs"]:
            if "gate" in run:
                run["gate"]["opening"] = 1.0


def _airs(dice: random.Random, document: Document, features: set[str]) -> None:
    if dice.random() < 0.9:
        document["dust"] = dice.choice(DUSTS)
    if dice.random() < 0.5:
        document["air"] = {"temperature": dice.randint(40, 95), "altitude": dice.randint(500, 6000), "humidity": 0.4}
        features.add("altitude")


def _collector(dice: random.Random, document: Document, features: set[str]) -> Document:
    """Return a fan, its losses, what drives it and what stands behind it."""
    most, peak = dice.randrange(1800, 3600, 100), dice.uniform(9.0, 14.0)
    rated, linear, from_zero = (
        dice.choice(("fan-static", "fan-total", "inlet-static")),
        dice.random() < 0.4,
        dice.random() < 0.65,
    )
    shares = [0.0 if from_zero else dice.choice((0.01, 0.02)), 0.2, 0.4, 0.6, 0.8, 1.0]
    hump = 0.6 if dice.random() < 0.2 else 0.0
    curve = [{"flow": round(s * most, 3), "pressure": round(peak * _shape(s, hump), 4)} for s in shares]
    fan: Document = {"curve": curve, "rated_as": rated, "includes": []}
    fan |= {"interpolation": "linear"} if linear else {}
    if rated == "fan-total" or dice.random() < 0.3:
        fan["outlet_diameter"] = dice.choice((6, 7, 8))
    if rated == "inlet-static":
        fan["inlet_diameter"] = dice.choice((7, 8))
    if dice.random() < 0.3:
        fan["speed_ratio"] = round(dice.uniform(0.85, 1.0), 3)
    collector: Document = {"fan": fan, "losses": [{"name": "cyclone", "flow": 1000, "pressure": 1.2, "exponent": 2}]}
    if dice.random() < 0.6:
        collector["losses"].append({"name": "filter", "flow": 1000, "pressure": 0.6, "exponent": 1})
        fan["includes"] = dice.choice(([], ["filter"]))
    _driven(dice, collector, most, features)
    if dice.random() < 0.4:
        bore = dice.choice((7, 8))
        collector["discharge"] = [
            {"diameter": bore, "length": 6, "duct": "spiral-galvanized", "fittings": [dict(TURN)]},
        ]
        features.add("discharge")
    features |= {rated, "linear curve" if linear else "cubic curve"}
    features.add("curve from no flow" if from_zero else "curve from some flow")
    return collector


def _shape(share: float, hump: float) -> float:
    """Return a curve's pressure over that without flow; `hump` lets it rise a little first."""
    return 1.0 - share**2 + hump * share * (1.0 - share) * (0.5 - share)


def _driven(dice: random.Random, collector: Document, most: float, features: set[str]) -> None:
    """Give the collector what its shaft power follows from, and a motor."""
    known = dice.choice(("power", "power", "efficiency", "efficiency", "nothing"))
    if known == "power":
        shares = (0.0, 0.3, 0.6, 1.0)
        collector["power"] = [{"flow": s * most, "power": round(1.0 + 2.5 * s, 3)} for s in shares]
        features.add("power points")
    if known == "efficiency":
        collector["efficiency"] = round(dice.uniform(0.4, 0.65), 3)
        features.add("efficiency")
    if known != "nothing" and dice.random() < 0.8:
        collector["motor"] = {"rated_power": dice.choice((2, 3, 5)), "efficiency": 0.85}
        features.add("motor")


def _states(dice: random.Random, document: Document, features: set[str]) -> list[Document]:
    """Return named states: one machine alone, and one by whatever a caller may name."""
    model = oracle.read(document)
    gated = [name for name, own in model.machines.items() if own.gates]
    words: dict[str, list[str]] = {
        "state by machine": gated,
        "state by hood run": [hood for name in gated for hood in model.machines[name].hoods],
        "state by gate run": [gate for name in gated for gate in model.machines[name].gates],
        "state with a hood that has no gate": [name for name, own in model.machines.items() if not own.gates],
        "state with a zone gate": [gate for gate, machine in model.machine_of_gate.items() if machine is None],
    }
    out = [_state(dice, model, words, features)]
    if gated:
        kind = dice.choice(BY_MACHINE)
        out.insert(0, {"name": ALONE, "open": [dice.choice(words[kind])]})
        features.add(kind)
    return out


def _state(dice: random.Random, model: oracle.Model, words: dict[str, list[str]], features: set[str]) -> Document:
    """Return one named state."""
    state: Document = {"name": "as named"}
    if dice.random() < 0.7:
        kinds = [kind for kind in words if words[kind] and dice.random() < 0.6]
        machines = [kind for kind in BY_MACHINE if words[kind]]
        kinds += [] if set(machines) & set(kinds) else machines[:1]
        state["open"] = list(dict.fromkeys(dice.choice(words[kind]) for kind in kinds))
        features |= set(kinds)
    else:
        features.add("state without open")
    gates = list(model.machine_of_gate)
    if gates and dice.random() < 0.45:
        some = dice.sample(gates, min(len(gates), dice.choice((1, 2))))
        state["openings"] = {gate: dice.choice((0.0, 0.25, 0.6, 1.0)) for gate in some}
        features.add("state with openings")
    return state


# The other preset, by factors of this file's own: kind -> (factor, offset before it).
FACTORS = {
    "inch": 25.4,
    "foot": 0.3048,
    "flow": 0.3048**3 * 60.0,
    "pressure": 249.08891,
    "power": 0.74569987,
    "volume": 0.3048**3,
}
_INCHES = ("diameter", "port_diameter", "upstream_diameter", "downstream_diameter", "taper_length", "outlet_diameter",
           "inlet_diameter", "wall_thickness")  # fmt: skip
_KINDS = dict.fromkeys(_INCHES, "inch") | {
    "rise": "foot",
    "altitude": "foot",
    "flow": "flow",
    "pressure": "pressure",
    "power": "power",
    "rated_power": "power",
    "volume": "volume",
}


def in_metric(part: Any, key: str = "", of: str = "") -> Any:
    """Return the same document, or part of one, with its numbers in the metric preset."""
    if isinstance(part, dict):
        return {name: in_metric(value, name, str(part.get("type", ""))) for name, value in part.items()}
    if isinstance(part, list):
        return [in_metric(value, key, of) for value in part]
    if key == "units":
        return "metric"
    if isinstance(part, str | bool) or part is None:
        return part
    if key == "temperature":
        return (part - 32.0) / 1.8
    if key == "length":  # a fitting's is in inches, a run's in feet
        return part * FACTORS["inch" if of else "foot"]
    return part * FACTORS[_KINDS[key]] if key in _KINDS else part


def tightened(document: Document) -> Document:
    """Return the document without leaks of joints and of gates."""
    out = deepcopy(document)
    for run in out["runs"]:
        run.pop("leak", None)
        run.pop("leakage_class", None)
        if "gate" in run:
            run["gate"].pop("leakage", None)
    return out

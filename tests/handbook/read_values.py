"""Printed values of the catalogue's read entries, each computed by the question or the law that answers with it.

`entry` is the entry's file and path. A line of the validation page names the source that the entry's passport names.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

import airbough
from airbough_service import catalogue
from airbough_service.catalogue import gauges, leakage, rooms
from airbough_service.catalogue.power import power_shape
from airbough_service.core.laws import power, transport
from airbough_service.core.laws.leakage import leak_coefficient, leak_flow
from handbook.case_units import Inputs
from handbook.single_values import branch_of, flow_ratio
from site_shop import ask, shop

CLIENT: Final = airbough.local()
PASCAL: Final = 249.08891  # in an inch of water


@dataclass(frozen=True, slots=True)
class Value:
    """One printed value: the entry it rests on, what it is, as printed, and how it is computed here."""

    entry: str
    what: str
    printed: float
    tolerance: float
    unit: str
    ours: Callable[[], float]
    note: str = ""


def duct(word: str) -> Any:
    return next(one for one in CLIENT.ducts({"units": "metric"}).ducts if one.id == word)


def fitting(type_: str, **given: Any) -> Callable[[], float]:
    return lambda: CLIENT.fitting_loss(type_, {"units": "metric", **given}).coefficient


def elbow(construction: str, diameter: float, angle: float = 90.0, radius: float = 1.5) -> Callable[[], float]:
    return fitting("elbow", construction=construction, diameter=diameter, angle=angle, radius_ratio=radius)


def roughnesses() -> Iterator[Value]:
    """ASHRAE Fundamentals 2021, ch. 21, Table 1, mm, read; of a printed range the middle, or its ends."""
    middle = {
        "aluminum": (0.037, 0.061), "corrugated-spiral": (0.54, 0.91), "welded-galvanized": (0.049, 0.098),
        "flexible-metal": (1.2, 2.1), "spiral-galvanized-ribbed": (0.088, 0.116), "smooth-plastic": (0.009, 0.046),
    }  # fmt: skip
    for word, (low, high) in middle.items():
        yield Value(
            f"ducts duct {word}", f"roughness of {word}, middle of the printed range", (low + high) / 2.0,
            (high - low) / 10.0, "mm", lambda word=word: duct(word).roughness,
        )  # fmt: skip
    for word, high in (("flexible-hose-smooth", 0.9), ("flexible-duct", 0.9)):
        told = "roughness_high" if word.endswith("smooth") else "roughness"
        yield Value(
            f"ducts duct {word}", f"{told.replace('_', ' ')} of {word}", high, 0.0005, "mm",
            lambda word=word, told=told: getattr(duct(word), told),
            "nonmetallic and wire, fully extended: 0.09 to 0.9 mm, category medium rough 0.9 mm",
        )  # fmt: skip
    what = "roughness of snap-lock-galvanized"
    yield Value(
        "ducts duct snap-lock-galvanized", what, 0.15, 0.0005, "mm", lambda: duct("snap-lock-galvanized").roughness
    )
    wood = (0.0006 * 0.003) ** 0.5 * 304.8
    what = "roughness of planed-wood, geometric middle of wood stave 0.0006 to 0.003 ft"
    yield Value("ducts duct planed-wood", what, wood, 0.01, "mm", lambda: duct("planed-wood").roughness)


def power_laws() -> Iterator[Value]:
    """Velocity pressures lost in a foot, a V^b / Q^c, at 4,000 ft/min and 500 ft3/min, by the printed constants."""
    diameter = (500.0 / 4000.0 / (np.pi / 4.0)) ** 0.5 * 12.0
    printed = {
        0.0307 * 4000.0**0.533 / 500.0**0.612: (
            "snap-lock-galvanized", "spiral-galvanized-ribbed", "welded-galvanized",
        ),
        0.0425 * 4000.0**0.465 / 500.0**0.602: ("black-iron", "aluminum", "stainless-steel"),
    }  # fmt: skip

    def lost(word: str) -> float:
        asked = {"units": "us", "flow": 500, "diameter": diameter, "length": 1, "duct": word, "friction": "power-law"}
        told = CLIENT.friction_loss(asked)
        return told.friction_loss / told.velocity_pressure

    for value, words in printed.items():
        for word in words:
            what = f"velocity pressures lost in a foot of {word} at 4,000 ft/min and 500 ft3/min"
            yield Value(
                f"ducts duct {word} power_law", what, value, 0.00005, "-", lambda word=word: lost(word),
                "the printed constants put in by hand",
            )  # fmt: skip


def hoses() -> Iterator[Value]:
    """ASHRAE Fundamentals 2021, ch. 21, Table 2: 250 mm, times the loss of full stretch."""

    def slack(word: str, stretch: float) -> float:
        asked = {"units": "metric", "flow": 1692, "diameter": 250, "length": 1.8, "duct": word}
        full = CLIENT.friction_loss(asked | {"stretch": 1.0}).friction_loss
        return CLIENT.friction_loss(asked | {"stretch": stretch}).friction_loss / full

    for word in ("flexible-duct", "flexible-metal"):
        for stretch, printed in ((0.96, 19.5 / 11.4), (0.85, 40.0 / 11.4), (0.70, 68.9 / 11.4)):
            what = f"loss of {word}, 250 mm, at stretch {stretch:g} over that at full stretch"
            yield Value(
                f"ducts duct {word} stretch_law", what, printed, 0.04, "-",
                lambda word=word, stretch=stretch: slack(word, stretch),
            )  # fmt: skip


def elbows() -> Iterator[Value]:
    """ASHRAE Fundamentals 2009, p. 21.26-27, by diameter; SMACNA HVAC Duct Design, 4th ed., Table A-7, p. A.15."""
    by_bore = (
        ("smooth", 100, 90, 1.5, 0.21, "CD3-1"), ("smooth", 75, 90, 1.5, 0.30, "CD3-1"),
        ("five-piece", 75, 90, 1.5, 0.51, "CD3-9"), ("five-piece", 150, 90, 1.5, 0.28, "CD3-9"),
        ("seven-piece", 75, 90, 2.5, 0.16, "CD3-10"), ("seven-piece", 150, 90, 2.5, 0.12, "CD3-10"),
        ("three-piece", 75, 60, 1.5, 0.40, "CD3-13"), ("three-piece", 75, 45, 1.5, 0.31, "CD3-14"),
    )  # fmt: skip
    for construction, diameter, angle, radius, printed, name in by_bore:
        what = f"{construction} elbow of {angle} degrees, {diameter} mm, radius ratio {radius:g} ({name})"
        entry = f"elbows elbow table {construction} by_bore"
        yield Value(entry, what, printed, 0.006, "-", elbow(construction, diameter, angle, radius))
    for angle, printed in ((30, 0.45), (45, 0.60), (60, 0.78), (130, 1.20)):
        share = lambda angle=angle: elbow("smooth", 300, angle)() / elbow("smooth", 300)()  # noqa: E731
        what = f"share of the 90 degree elbow at {angle} degrees"
        yield Value("elbows elbow angle_multiplier", what, printed, 0.005, "-", share)
        bent = lambda angle=angle: (  # noqa: E731
            fitting("hose-bend", angle=angle, radius_ratio=2.0)() / fitting("hose-bend", angle=90, radius_ratio=2.0)()
        )
        yield Value("elbows hose-bend angle_multiplier", f"{what}, carried over to hose", printed, 0.005, "-", bent)
    for radius, printed in ((1.0, 0.51), (2.0, 0.29), (4.0, 0.26)):
        what = f"rough pipe bend of 90 degrees, radius ratio {radius:g}, taken for hose"
        asked = fitting("hose-bend", angle=90, radius_ratio=radius)
        yield Value("elbows hose-bend table hose", what, printed, 0.005, "-", asked, "series zbe of liquidpipe.f")
    for type_, half in (("elbow-pair", 45), ("offset", 45)):
        asked = {"angle": 90 if type_ == "elbow-pair" else 45, "construction": "smooth", "spacer_ratio": 8.0}
        pair = lambda type_=type_, asked=asked, half=half: (  # noqa: E731
            fitting(type_, diameter=300, radius_ratio=1.5, **asked)() / (2.0 * elbow("smooth", 300, half)())
        )
        what = f"{type_} with eight diameters between over twice one elbow"
        yield Value(f"elbows {type_} interaction", what, 1.0, 0.01, "-", pair, "within 1 % beyond eight diameters")


def other_fittings() -> Iterator[Value]:
    """Openings, ends, cones and tees."""
    tee = fitting("tee-as-elbow", direction="enters-by-side")
    what = "square tee entered by its side leg: 0.60 (1 + 1)"
    yield Value("elbows tee-as-elbow table enters-by-side", what, 0.60 * 2.0, 0.005, "-", tee)
    what = "tap at the end of a run, 90 degree turn"
    leaving = fitting("tee-as-elbow", direction="leaves-by-side")
    yield Value("elbows tee-as-elbow table leaves-by-side", what, 1.20, 0.005, "-", leaving)
    yield Value(
        "discharge free-discharge table open", "open end, turbulent", 1.0, 0.005, "-", fitting("free-discharge")
    )
    for ratio, printed in ((0.02, 0.37), (0.06, 0.20), (0.12, 0.09)):
        what = f"rounded entrance in a wall, radius {ratio:g} of the diameter"
        asked = fitting("bellmouth", radius_ratio=ratio, setting="in-panel")
        yield Value("entries bellmouth table in-panel", what, printed, 0.005, "-", asked)
    slot = fitting("slot", area_share=1.0, duct_entry=0.0)
    yield Value("entries slot slot_coefficient", "slot, on its own velocity pressure", 1.78, 0.005, "-", slot)
    yield from cones()


def cones() -> Iterator[Value]:
    """A widening cone's whole loss, 3.2 (tan a/2)^1.25 (1 - n)^2 and the table of its friction, Idelchik, 1st ed."""
    for share, angle, whole in ((0.4, 6.0, 0.07), (0.4, 10.0, 0.08)):
        wide = 100.0 / share**0.5
        length = (wide - 100.0) / 2.0 / np.tan(np.radians(angle / 2.0))
        asked = {"upstream_diameter": 100.0, "downstream_diameter": wide, "length": float(length)}
        what = f"widening cone of {angle:g} degrees, area ratio {share:g}, friction in it included"
        yield Value(
            "changes taper table diverging-friction", what, whole, 0.005, "-", fitting("taper", **asked),
            "both tables as carried by fluids 1.3.1",
        )  # fmt: skip


def junctions() -> Iterator[Value]:
    """Idelchik, 1st English ed. 1966, diagrams 7-2, 7-4 and 7-7, tables as transcribed by an open library."""
    cells = (
        (1, 30.0, 0.4, 0.2, 0.19, "7-2"), (1, 30.0, 0.4, 0.5, -0.35, "7-2"), (1, 45.0, 0.4, 0.2, 0.27, "7-4"),
        (1, 45.0, 0.4, 0.5, -0.13, "7-4"), (0, 30.0, 0.3, 0.2, -0.06, "7-1"), (0, 30.0, 0.3, 0.5, 1.78, "7-1"),
        (0, 45.0, 0.3, 0.5, 2.10, "7-3"), (1, 90.0, 0.4, 0.5, 0.53, "7-7"), (1, 90.0, 0.4, 0.8, 0.60, "7-7"),
    )  # fmt: skip
    edition = "flow-ratio-third-edition"
    for which, angle, ratio, share, printed, diagram in cells:
        inputs = {
            "angle": angle, "common_diameter": 1.0, "straight_diameter": 1.0, "branch_diameter": ratio**0.5,
            "branch_flow": share, "straight_flow": 1.0 - share, "edition": edition,
        }  # fmt: skip
        part = "momentum_straight" if which else "correction"
        entry = "junctions flow-ratio tee_straight" if angle == 90.0 else f"junctions {edition} {part}"
        what = (
            f"{'straight run' if which else 'branch'}, {angle:g} degrees, area ratio {ratio:g}, flow ratio {share:g} "
            f"(diagram {diagram})"
        )
        compute = lambda which=which, inputs=inputs: flow_ratio(which)(Inputs(inputs))  # noqa: E731
        yield Value(entry, what, printed, 0.06, "-", compute, "the table's own rounding and smoothing")
    what = "branch of a 90 degree tee of one bore above flow ratio 0.4, over the momentum form"
    yield Value("junctions flow-ratio tee", what, 0.55, 0.0005, "-", tee_factor, "Table 7-1, p. 417")


def tee_factor() -> float:
    """Return the default law's branch of a tee of one bore, over 1 + 1 - 2 (1 - q)^2 at q = 0.6."""
    law = catalogue.branch_law(90.0, 1.0, "wye")
    inputs = {
        "angle": 90.0, "common_diameter": 1.0, "straight_diameter": 1.0, "branch_diameter": 1.0, "branch_flow": 0.6,
        "straight_flow": 0.4,
    }  # fmt: skip
    assert branch_of(law, 1.0).lift == 0.0
    return flow_ratio(0)(Inputs(inputs)) / (1.0 + 0.36 - 2.0 * 0.16)


def walls() -> Iterator[Value]:
    """Sheets, zinc and what is left of an ideal shell."""
    for gauge, printed in ((26, 0.0179), (24, 0.0239), (22, 0.0299), (18, 0.0478)):
        what = f"uncoated sheet of {gauge} gauge"
        thick = lambda gauge=gauge: gauges.sheet("carbon-steel", gauge).nominal / 0.0254  # noqa: E731
        yield Value("gauges sheet uncoated-steel", what, printed, 0.00005, "in", thick)
    zinc = lambda: (0.0236 - wall().wall_thickness) * 25.4  # noqa: E731
    what = "zinc taken off a galvanized wall of 24 gauge, G90: 275 g/m2 of 7,140 kg/m3"
    yield Value("gauges coating", what, 0.275 / 7.14, 0.0003, "mm", zinc)
    reserve = lambda: 2.25 * wall().allowable_suction / wall().buckling_pressure  # noqa: E731
    what = "share of an ideal shell's pressure that is reckoned with, before the safety factor of 2.25"
    yield Value("gauges buckling reserve", what, 0.75, 0.0005, "-", reserve, "square root of 0.5625")


def wall() -> Any:
    return next(one for one in ask("strength", shop()).strengths if one.run == "main")


def leaks_and_rooms() -> Iterator[Value]:
    """Leakage classes, ft3/min through 100 ft2 at 1 inH2O; limits of combustion appliances, Pa; cracks."""
    classes = {
        "round-all-sealed": 3.0, "round-joints-and-seams-sealed": 6.0, "round-joints-sealed": 12.0,
        "flexible-sealed": 12.0, "flexible-unsealed": 30.0,
    }  # fmt: skip
    for word, printed in classes.items():
        what = f"leak of 100 ft2 of {word} at 1 inH2O"
        yield Value(f"leakage class {word}", what, printed, 0.05, "ft^3/min", lambda word=word: leak(word))
    limits = {
        "natural-draft-shared-flue": 3.0, "natural-draft-boiler": 5.0, "fan-assisted-appliance": 15.0,
        "sealed-appliance": 50.0,
    }  # fmt: skip
    for word, printed in limits.items():
        limit = lambda word=word: rooms.appliance(word).limit  # noqa: E731
        yield Value(
            f"make_up_air appliance {word}", f"depressurization that a {word} bears", printed, 0.05, "Pa", limit
        )
    what = "exponent of cracks without one of the caller's: from 50 to 10 Pa"
    yield Value("make_up_air cracks", what, 0.65, 0.005, "-", crack_exponent)


def leak(word: str) -> float:
    law = leakage.leakage_class(word)
    surface = 100.0 * 0.3048**2
    through = leak_coefficient(law.leakage_class, law.coefficient / law.leakage_class, surface / np.pi, 1.0)
    return float(leak_flow(through, PASCAL, law.exponent)) / (0.3048**3 / 60.0)


def crack_exponent() -> float:
    """Return it from what a room's answer lets through its cracks at 10 Pa, read at 50."""
    body = shop(collector_stands="outdoors")
    body["room"] = {"volume": 6000, "openings_area": 0.0, "tightness": {"flow": 1000, "pressure": "50 Pa"}}
    told = ask("make-up-air", body | {"room": body["room"] | {"allowed_depressurization": "10 Pa"}}).room
    opening = 0.61 * (2.0 * 10.0 / 1.2) ** 0.5 * 0.3048**2 / (0.3048**3 / 60.0)  # ft3/min for each ft2
    cracks = told.make_up_flow - told.further_free_area * opening
    return float(np.log(cracks / 1000.0) / np.log(10.0 / 50.0))


def fans() -> Iterator[Value]:
    """Efficiency by the Euler number against the polynomial printed beside it; power without flow."""
    for x in (-0.3, 0.2, 0.4):
        form = (0.378246 * x**3 - 0.759885 * x**2 - 0.0606145 * x + 1.01427) / 1.01545
        what = f"efficiency over the best one where the Euler number is 10^{x:g} of the best point's"
        note = "the polynomial printed beside the law, middle piece"
        yield Value("power efficiency", what, form, 0.012, "-", lambda x=x: efficiency_at(x), note)
    what = "power without flow over that at the best point: two fans, 0.34 and 0.43"
    yield Value("power shut_off", what, 0.385, 0.045, "-", shut_off)


def shaft(flow: float, pressure: float) -> float:
    """Return the shaft power of a fan of efficiency 1 and best point (1 m3/s, 1 Pa)."""
    best, shape = power.BestPoint(1.0, 1.0), power_shape().shape
    return float(power.power_of_efficiency(np.array([flow]), np.array([pressure]), 1.0, best, shape)[0])


def efficiency_at(x: float) -> float:
    """At the best flow and 10^x of the best pressure; efficiency is air power over shaft power."""
    pressure = 10.0**x
    return pressure / shaft(1.0, pressure)


def shut_off() -> float:
    return shaft(0.0, 1.2)


def rules() -> Iterator[Value]:
    """A parts list's rules, by its answer, in feet; screws; traverse and saltation."""
    feet = {
        "hanger_spacing": 10.0, "hose_hanger_spacing": 4.0, "elbow_hanger_reach": 2.0, "junction_hanger_reach": 4.0,
    }  # fmt: skip
    for word, printed in feet.items():
        length = lambda word=word: told_rule(word).length / 12.0  # noqa: E731
        yield Value(f"parts_list rule {word}", word.replace("_", " "), printed, 0.005, "ft", length)
    for word, printed in {"hangers_at_elbow": 1.0, "hangers_at_junction": 1.0, "least_screws": 3.0}.items():
        number = lambda word=word: float(told_rule(word).number)  # noqa: E731
        yield Value(f"parts_list rule {word}", word.replace("_", " "), printed, 0.0, "-", number)
    what = "suction at a machine's connection that makers ask for at most"
    yield Value("checks check machine-suction", what, 1500.0, 0.5, "Pa", asked_suction)
    what = "hole in a wall for a duct of 6 in., 1 in. clear all round"
    yield Value("parts_list room hole_clearance", what, 8.0, 0.05, "in", hole)
    what = "bias of a traverse near a fitting, middle of 3 to 4 %"
    yield Value("traverse accuracy", what, 0.035, 0.0005, "-", bias)
    what = "straight duct before the plane from which a traverse is told well placed, in diameters"
    yield Value("traverse placing", what, 7.5, 0.01, "-", placed_from)
    what = "saltation by Rizk: 0.25 kg/s of 0.1 mm grains, gas of 1.2 kg/m3, 78 mm bore"
    yield Value("dusts saltation", what, 9.8833, 0.001, "m/s", rizk, "as printed in fluids 1.3.1, saltation.Rizk")


def told_rule(word: str) -> Any:
    body = shop(stock={"supplies": [{"item": "hangers", "use": "hanger", "price": 3}]})
    return next(rule for rule in ask("parts-list", body).rules if rule.rule == word)


def asked_suction() -> float:
    """Return the limit that an outline tells of machines whose inside is not known, Pa."""
    saw = {"id": "saw", "line": "main", "at": 8, "off": 1, "drop": 2, "port": 100, "hose": 1, "machine": "table-saw"}
    rows = {"lines": [{"id": "main", "length": 8, "diameter": 125}], "machines": [saw]}
    found = CLIENT.outline({"units": "metric", **rows}).findings
    return next(item.limit for item in found if item.code == "machine-inside-not-known")


def hole() -> float:
    """Return the hole that a duct of 6 in. wants, in inches, as the plan tells it."""
    body = shop(of="plan", walls=[[5, -5], [5, 5], [40, 5], [40, -5]])
    body["runs"][0] |= {"path": [[0, 0, 8], [14, 0, 8]], "diameter": 6}
    told = ask("drawing", body).description
    return float(told.split("a hole of ")[1].split()[0])


def traverse(upstream: float) -> Any:
    """Return a traverse of even readings, 100 mm, this many diameters after a fitting."""
    rows = [[100.0] * 6] * 2
    asked = {
        "units": "metric", "diameter": 400, "per_diameter": 6, "velocity_pressures": rows,
        "straight_upstream": 0.4 * upstream, "straight_downstream": 2.0,
    }  # fmt: skip
    return CLIENT.traverse(asked)


def bias() -> float:
    return float(traverse(3.0).spread.placing)


def placed_from() -> float:
    """Return by halving where the bias stops."""
    low, high = 2.0, 20.0
    while high - low > 1.0e-4:
        middle = 0.5 * (low + high)
        low, high = (middle, high) if traverse(middle).spread.placing > 0.0 else (low, middle)
    return high


def rizk() -> float:
    """Return the velocity at which the printed loading is that of the flow, which both hold on each other."""
    law, size, bore, area = catalogue.saltation(), 1.0e-4, 0.078, np.pi / 4.0 * 0.078**2
    delta = law.delta_slope * size + law.delta_base
    chi = law.chi_slope * size + law.chi_base
    velocity = 10.0
    for _ in range(200):
        loading = 0.25 / (1.2 * velocity * area)
        velocity = transport.saltation_velocity(loading, bore, delta, chi)
    return float(velocity)


def benches() -> Iterator[Value]:
    """A downdraft table: 150 ft3/min for each square foot of plan area, of the widest area of its row."""
    for number, area in enumerate((0.5, 1.0, 2.0)):
        what = f"flow of a downdraft table of {area:g} m2: 150 ft3/min for each square foot"
        printed = 150.0 * area / 0.3048**2
        flow = lambda number=number: machine("downdraft-table").sizes[number].flow  # noqa: E731
        yield Value(f"hoods machine downdraft-table sizes {number + 1}", what, printed, 0.5, "ft^3/min", flow)


def machine(word: str) -> Any:
    return next(one for one in CLIENT.hoods({"units": "us"}).machines if one.id == word)


VALUES: Final[tuple[Value, ...]] = (
    *roughnesses(), *power_laws(), *hoses(), *elbows(), *other_fittings(), *junctions(), *walls(), *leaks_and_rooms(),
    *fans(), *rules(), *benches(),
)  # fmt: skip

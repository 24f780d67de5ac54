"""The one table of finding codes: severity and meaning of each. A code's meaning never changes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from airbough.wire.answer import Severity


@dataclass(frozen=True, slots=True)
class Code:
    """A finding's severity and meaning."""

    severity: Severity
    meaning: str


_TABLE: Final[dict[str, tuple[Severity, str]]] = {
    # trees
    "all-gates-shut": (
        "danger",
        "every gate is shut while the fan runs: at most leaks flow, and the duct sees full suction",
    ),
    "sparks-into-wood-dust": ("danger", "a machine that throws sparks shares a duct with wood dust"),
    "fan-above-rated-speed": ("danger", "the fan is asked to run faster than the speed of its curve"),
    "motor-overloaded": ("danger", "the shaft power exceeds the motor's rated power"),
    "below-transport-velocity": (
        "warning",
        "air in a run is slower than its dust needs in this state; the grade of the run tells how far",
    ),
    "shut-off-downstream": ("warning", "a machine is open and a shut gate further down cuts it off"),
    "hood-starved": ("warning", "a hood gets less than its design flow; the grade of the hood tells how far"),
    "fan-beyond-curve": ("warning", "the system crosses the fan's curve outside its given points"),
    "several-operating-points": ("warning", "fan and system cross more than once; the fan may hunt between them"),
    "narrower-than-upstream": ("warning", "a run is narrower than one that flows into it"),
    "gate-needed": ("warning", "a branch must absorb pressure and has no gate"),
    "resize-branch": ("warning", "a branch is too far from balance to be fixed by flow; it needs another diameter"),
    "nonconductive-duct": ("warning", "a duct of nonconductive material cannot be bonded along its length"),
    "fine-dust-returned-to-room": ("warning", "air with fine dust may come back into the room"),
    "abrupt-change": ("warning", "a change of diameter without a taper"),
    "square-tee": ("warning", "a branch joins at or near 90 degrees"),
    "machine-port-bottleneck": (
        "warning",
        "a machine's port or inside takes more than half of the pressure on its path",
    ),
    "design-flow-unknown": (
        "warning",
        "a machine that the catalogue does not have was given no flow, so none is asked for it",
    ),
    "fan-guessed": ("warning", "no curve of the fan is known; it was guessed from a few figures, and has a wide band"),
    "machine-unknown": ("note", "a machine that the catalogue does not have is judged by what the caller stated alone"),
    "machine-size-assumed": ("note", "a machine that has several sizes was given none; the smallest listed was taken"),
    "design-flow-from-memory": (
        "note",
        "a design flow filled in was remembered from a document that was not read, or is an estimate",
    ),
    "sharp-turn": ("note", "a sharp turn that a gentler one would ease"),
    "smoother-elbow": ("note", "an elbow of a wider radius or of a smoother construction would ease a sharp turn"),
    "construction-assumed": ("note", "elbows without a construction were given the catalogue's usual one"),
    "needlessly-fast": ("note", "air is faster than its purpose needs; power and wear rise"),
    "outside-correlation-range": ("note", "a value is computed beyond the published range of its source"),
    "compressibility-neglected": ("note", "suction above 20 in. wg: one density for the whole tree is a rough reading"),
    "transport-not-judged": ("note", "no dust was named, so transport velocity is not judged"),
    "change-place-assumed": (
        "note",
        "a change of diameter that is its run's only fitting does not say where it stands; it was taken first",
    ),
    "speed-beyond-sense": (
        "warning",
        "air at this speed is no longer of one density, and no fan of a workshop moves it: nothing computed here holds",
    ),
    "hose-range": ("note", "what a hose loses against spiral duct of its diameter, and how surely that is known"),
    "stretch-assumed": ("note", "a hose without a stretch was given the catalogue's typical value"),
    "path-disagrees": ("warning", "a length or rise is stated that the run's path does not have"),
    "path-ends-apart": ("warning", "a run's path does not end where that of the run it flows into begins"),
    "path-corner-free": ("warning", "two runs meet at an angle, by their paths, and no fitting is charged for it"),
    "close-coupled": (
        "note",
        "fittings stand so close that they disturb one another; the sum of their losses is rough",
    ),
    "transitional-flow": ("note", "the flow in a run is between laminar and turbulent; friction there is bridged"),
    "motor-figures-assumed": (
        "note",
        "the motor's current was computed with a usual efficiency or power factor in place of its own",
    ),
    # outlines
    "machine-inside-not-known": (
        "note",
        "what machines lose inside is in no open source; where the caller does not say, it counts as nothing",
    ),
    "beyond-last-machine": ("note", "what lies beyond the last that joins a line was left out of the tree"),
    "line-left-out": ("note", "a line that serves no machine was left out of the tree"),
    "too-wide-for-smallest": (
        "warning",
        "in the diameter chosen for a line or a machine, the smallest machine alone does not carry its dust",
    ),
    # parts list
    "lip-against-flow": (
        "warning",
        "a piece made for supply air is outside where it must be inside: its neighbour's lip would face the flow",
    ),
    "stock-expired": ("warning", "the last day on which the stock's prices hold is past"),
    "out-of-stock": ("warning", "fewer of a stock piece are there than the tree needs"),
    "not-stocked": ("warning", "the stock list has no piece for something that the tree needs"),
    "edge-faces-flow": ("note", "an inner edge stays that faces the flow; chips may catch on it"),
    "piece-turned": ("note", "stock pieces are laid the other way round so that their joints hold"),
    "plain-cut-end": ("note", "a cut takes the formed end off: what is left there is a plain end"),
    "cutting-not-proved": ("note", "the cutting plan may not be the best; its bound is given"),
    "stretches-not-given": ("note", "where a run's fittings sit was not given; its straight duct counts as one piece"),
    "end-not-judged": ("note", "a joint was not judged, as the end of one of its pieces is not known"),
    "fitting-length-unknown": ("note", "a fitting's length is not known, so nothing was taken off its run for it"),
    "lengths-count-fittings": (
        "note",
        "lengths that count fittings were bought as straight duct, too much of it",
    ),
    "no-stock": ("note", "no stock list was given: only what is required is listed"),
    "price-missing": ("note", "a line has no price, so the sum is not the whole price"),
    # working day
    "chips-left-in-duct": (
        "warning",
        "chips stay in the duct: a gate shuts or the fan stops before the last have reached the collector, or the air "
        "on their way is too slow to move them",
    ),
    "chips-may-settle": (
        "note",
        "the last chips pass a run in air faster than that in which they lie, and slower than the transport velocity",
    ),
    "machine-without-fan": ("warning", "a machine is on while the fan stands still for its rest"),
    "hood-without-air": (
        "warning",
        "a machine works while a shut gate on its way to the collector lets no air through",
    ),
    "too-many-starts": ("warning", "the fan starts more often within an hour than allowed"),
    "bin-full": ("warning", "the chips of the day reach the bin's volume"),
    "machine-without-gate": ("note", "a machine has no gate, so air enters its hood all day"),
    "machine-not-named": ("note", "a machine of the tree is not named in the day: it stays off and its gates shut"),
    "chips-not-counted": ("note", "a machine that works gives no chip volume, so chips and bin leave it out"),
    "energy-not-known": ("note", "the power of a state of the day is not known, so energy and cost are left out"),
    "clearing-not-known": ("note", "the flow of a state is not known, so whether chips are left there is not judged"),
    "clearing-not-listed": ("note", "the day has too many states for all clearing times and chips left to be listed"),
    # measuring, walls and rooms
    "duct-may-collapse": (
        "danger",
        "suction in a run exceeds what an ideal round shell of its wall bears, without any reserve",
    ),
    "wall-reserve-short": (
        "warning",
        "suction in a run exceeds the estimated limit of its wall, and not what an ideal round shell of it bears",
    ),
    "unknown-wall": ("note", "a run's wall is not known, so its strength is not judged"),
    "shut-off-not-on-curve": (
        "note",
        "the fan's curve does not begin at no flow; shut-off may be deeper than its points",
    ),
    "combustion-appliance-backdraft": (
        "danger",
        "the room is drawn below the limit used here for a combustion appliance in it",
    ),
    "depressurization-not-known": (
        "warning",
        "a combustion appliance is declared and no opening, so nothing is judged",
    ),
    "make-up-air-short": ("warning", "the openings given draw the room below the depressurisation allowed"),
    "efficiency-shape-assumed": (
        "note",
        "one efficiency is taken for that of the fan's best point; power elsewhere follows a published shape",
    ),
    "exhaust-falls": ("note", "the exhaust would fall as the fan works against the depressurisation that it causes"),
    "return-path-not-given": (
        "note",
        "the collector stands in another room and no way back is given, so all air is taken to come from outdoors",
    ),
    "power-beyond-points": ("note", "the flow lies beyond the power points; no power is given"),
    "negative-reading": ("warning", "a velocity pressure is below zero; it counts as no flow, and the place is unfit"),
    "reading-near-zero": ("note", "a velocity pressure is small beside the greatest"),
    "uneven-profile": ("warning", "too few readings come near the greatest; the place is unfit for a traverse"),
    "depth-off-point": ("warning", "a reading was taken away from the rule's point"),
    "traverse-too-close": ("warning", "too little straight duct before or after the plane"),
    "placing-not-known": ("note", "the straight lengths before and after the plane were not given"),
    "small-duct-traverse": ("note", "the diameter is below that of the standard method; the tube itself disturbs"),
    "one-diameter": ("note", "one diameter does not show a lopsided profile"),
    "tap-too-close": ("warning", "the static tap stands too near the hood"),
    # states of the gates
    "open-further-gates": ("warning", "a check fails in a state of the gates, and opening further gates fixes it"),
    "no-gates-fix": ("warning", "a check fails in a state of the gates, and no set of further gates fixes it"),
    "fix-not-found": (
        "warning",
        "a check fails in a state of the gates; of the sets of further gates tried, not all there are, none fixes it",
    ),
    "fix-not-searched": ("note", "more named states fail than further gates were searched for"),
    # sizing
    "no-size-fits": ("warning", "no choice of diameters from the stock keeps every rule that it must"),
    "too-narrow-for-machine": (
        "warning",
        "a run is sized narrower than its machine's port or design flow asks for, as nothing wider is stocked",
    ),
    "preferred-rule-broken": ("warning", "a rule that was preferred does not hold everywhere"),
    "fan-falls-short": ("warning", "the fan has less pressure at a state's design flow than the sized tree needs"),
    "sizing-not-proved": ("note", "the diameters may not be the best; the bound is given"),
    "wye-of-next-size": (
        "note",
        "the stock has no wye of a size, so one of the next size is taken with reducers",
    ),
    "piece-not-priced": ("note", "some pieces of the sized tree have no price, so the price is without them"),
    # proof and comparison
    "draws-beyond-curve": (
        "note",
        "some draws cross the fan's curve outside its points and are left out",
    ),
    "readings-not-explained": ("warning", "no single suspect brings the readings within their spreads"),
    "suspects-not-told-apart": (
        "note",
        "two suspects explain the readings alike; a further reading would tell them apart",
    ),
    "reading-far-off": ("warning", "a reading lies far from what is computed for the stated gates"),
    "no-reading-to-spare": ("note", "as many things are unknown as there are readings; nothing is left to check them"),
}

CODES: Final[dict[str, Code]] = {code: Code(*entry) for code, entry in _TABLE.items()}
"""Finding code -> severity and meaning."""

"""Sizing by brute force: every bore of every run and every way to join them, each asked of balance; prices summed here.

Random small shops; nothing of the sizing's own code is used to judge or to price.
"""

import itertools
import json
import math
import random
from collections import defaultdict

import msgspec

from airbough.wire.balance import BalanceRequest
from airbough.wire.sizing import SizingRequest
from airbough_service import catalogue
from airbough_service.questions import sizing
from airbough_service.shop.shop import build
from airbough_service.solving.balanced_tree import balanced as balanced_shop
from airbough_service.terms import units
from airbough_service.terms.refusal import Refusal

SIZES = (80, 100, 120, 140, 160, 180)
WEIGHTS = ("off", None, "must", "prefer")
LAST = ("design_flow", "pressure_available")
HOLDS = 1.0e-6


def random_request(seed):
    """Return a random sizing request of few choices, metric, as plain data."""
    dice = random.Random(seed)
    while True:
        body = _tree(dice)
        sizes = sorted(dice.sample(SIZES, dice.choice((2, 2, 3))))
        free = len(body["runs"]) - len(body["fixed"])
        if len(sizes) ** free <= 81:
            break
    body["stock"] = _stock(dice, sizes, body)
    names = ("transport_velocity", "design_flow", "upper_velocity", "no_narrowing", "pressure_available")
    body["rules"] = {name: weight for name in names if (weight := dice.choice(WEIGHTS)) is not None}
    limits = {
        "transport_velocity": dice.choice((8, 12, 16, 20)),
        "upper_velocity": dice.choice((22, 28, 40)),
    }
    if dice.random() < 0.4:
        body["rules"]["meeting_without_gates"] = dice.choice(("must", "prefer"))
        limits["meeting_tolerance"] = dice.choice((0.1, 0.3, 0.6))
    if "collector" not in body or dice.random() < 0.5:
        limits["pressure_available"] = dice.choice((600, 1200, 2000, 4000))
    body["limits"] = {name: limit for name, limit in limits.items() if body["rules"].get(name) != "off"}
    body["flows"] = "design"
    body["objective"] = dice.choice(("cost", "fan-pressure"))
    return body


class Grower:
    """Grows the runs of one random tree."""

    def __init__(self, dice):
        self.dice, self.runs = dice, []

    def run(self, into, join=None, hood=False):
        dice = self.dice
        out = {"id": f"r{len(self.runs)}", "into": into, "diameter": dice.choice(SIZES)}
        out |= {"length": dice.choice((0, 1.5, 3, 6)), "duct": "spiral-galvanized"}
        if join is not None:
            out["join"] = join
        if dice.random() < 0.4:
            elbow = {"type": "elbow", "angle": dice.choice((45, 90)), "radius_ratio": 1.5, "count": dice.choice((1, 2))}
            out["fittings"] = [elbow]
        if hood:
            out["hood"] = {"flow": dice.choice((350, 600, 900)), "entry": {"type": "plain-opening"}}
            if dice.random() < 0.3:
                out["hood"]["port_diameter"] = 100
            if dice.random() < 0.2:
                self.tapered(out, first=True)
            if dice.random() < 0.8:
                out["gate"] = {"opening": dice.choice((1.0, 1.0, 0.7))}
        elif into is not None and dice.random() < 0.15:
            self.tapered(out, first=False)
        self.runs.append(out)
        return out["id"]

    def tapered(self, run, *, first):
        """Add a taper first or last in a run: one side is to be sized."""
        far = self.dice.choice(SIZES)
        sides = (far, run["diameter"]) if first else (run["diameter"], far)
        taper = {"type": "taper", "upstream_diameter": sides[0], "downstream_diameter": sides[1], "length": 200}
        if sides[0] == sides[1]:
            return
        if first:
            run["diameter"] = far
        others = run.get("fittings", [])
        run["fittings"] = [taper, *others] if first else [*others, taper]

    def grow(self, into, join, load):
        dice = self.dice
        if load == 1:
            self.run(into, join, hood=True)
            return
        here = self.run(into, join)
        straight, branch = {"type": "straight"}, {"type": "branch", "angle": dice.choice((30, 45, 90))}
        if load == 3 and dice.random() < 0.3:
            loads, ways = (1, 1, 1), (straight, {"type": "branch", "angle": 45}, {"type": "branch", "angle": 45})
        else:
            first = 1 if load == 2 else dice.choice((1, 2))
            even = ({"type": "branch", "angle": 30}, {"type": "branch", "angle": 30})
            loads, ways = (load - first, first), even if dice.random() < 0.2 else (straight, branch)
        for part, way in zip(loads, ways, strict=True):
            self.grow(here, way, part)


def _tree(dice):
    hoods, grower = dice.choice((1, 2, 2, 3, 3)), Grower(dice)
    if hoods > 1 and dice.random() < 0.25:
        grower.grow(None, None, 1)
        grower.grow(None, None, hoods - 1)
    else:
        grower.grow(grower.run(None) if dice.random() < 0.25 else None, None, hoods)
    runs = grower.runs
    dice.shuffle(runs)
    body = {"units": "metric", "runs": runs, "dust": "shavings"}
    body["model"] = {"junctions": dice.choice(("flow-ratio", "flow-ratio", "entry-angle", "none"))}
    body["fixed"] = [item["id"] for item in runs if dice.random() < 0.12]
    leaves = [item["id"] for item in runs if "hood" in item]
    if any("gate" in item for item in runs) and dice.random() < 0.7:
        sets = [dice.sample(leaves, dice.randint(1, len(leaves))) for _ in range(dice.randint(1, 2))]
        body["states"] = [{"name": f"s{k}", "open": names} for k, names in enumerate(sets)]
        if dice.random() < 0.3:
            body["states"][0]["flows"] = {sets[0][0]: 500}
    if dice.random() < 0.5:
        body["collector"] = _collector(dice)
    return body


def _collector(dice):
    points = [(0, 3000), (1500, 2400), (3000, 600)]
    top = dice.choice((1.0, 1.5))
    out = {
        "fan": {
            "curve": [{"flow": flow, "pressure": pressure * top} for flow, pressure in points],
            "rated_as": "fan-static",
            "interpolation": "linear",
            "includes": [],
        },
        "losses": [{"name": "cyclone", "flow": 1500, "pressure": 400, "exponent": 2}],
    }
    if dice.random() < 0.3:
        out["discharge"] = [{"diameter": 180, "length": 3, "duct": "spiral-galvanized"}]
    return out


def _stock(dice, sizes, body):
    def price(low, high):
        return round(dice.uniform(low, high), 2)

    fixed = {item["diameter"] for item in body["runs"] if item["id"] in body["fixed"]}
    for item in body["runs"]:
        for fitting in item.get("fittings", ()):
            fixed |= {fitting[side] for side in ("upstream_diameter", "downstream_diameter") if side in fitting}
    bores = sorted({*sizes, *fixed})
    seen, kept = set(), []
    for item in (*_turns_and_tapers(dice, bores), *_wyes(dice, bores)):
        key = json.dumps(item, sort_keys=True)
        if key not in seen and dice.random() < 0.93:
            kept.append(item | {"price": price(5, 60)})
        seen.add(key)
    return {
        "ducts": [{"diameter": bore, "price_per_length": round(price(5, 30), 1)} for bore in sizes],  # whole cents
        "fittings": kept,
        "gates": [{"diameter": bore, "price": price(10, 50)} for bore in bores if dice.random() < 0.95],
    }


def _turns_and_tapers(dice, bores):
    for bore in bores:
        yield from ({"type": "elbow", "diameter": bore, "angle": angle} for angle in (45, 90))
        for wider in (other for other in bores if other > bore):
            yield {"type": "taper", "diameter": bore, "downstream_diameter": wider}
            if dice.random() < 0.3:
                yield {"type": "taper", "diameter": wider, "downstream_diameter": bore, "length": 400}
            if dice.random() < 0.1:
                yield {"type": "abrupt-change", "diameter": bore, "downstream_diameter": wider}


def _wyes(dice, bores):
    for bore, out in itertools.product(bores, repeat=2):
        if out >= bore or dice.random() < 0.3:
            yield from ({"type": "wye", "diameter": out, "branch_diameter": bore, "angle": a} for a in (30, 45, 90))
        if out != bores[0] and dice.random() < 0.2:
            reducing = {"type": "wye", "diameter": bores[0], "branch_diameter": bore, "downstream_diameter": out}
            yield reducing | {"angle": 45}
        for second in (other for other in bores if other >= bore):
            even = {"type": "symmetrical-wye", "diameter": bore, "branch_diameter": second}
            yield even | {"downstream_diameter": out, "angle": 30}
            double = {"type": "double-wye", "diameter": out, "branch_diameter": bore}
            yield double | {"second_branch_diameter": second, "angle": 45}


class Brute:
    """Every choice of one request."""

    def __init__(self, body):
        self.body = body
        self.runs = {run["id"]: run for run in body["runs"]}
        self.arms = defaultdict(list)
        for run in body["runs"]:
            self.arms[run["into"]].append(run["id"])
        self.fittings = defaultdict(list)
        for item in body["stock"]["fittings"]:
            self.fittings[item["type"]].append(item)
        self.ducts = {item["diameter"]: item["price_per_length"] for item in body["stock"]["ducts"]}
        self.gates = {item["diameter"]: item["price"] for item in body["stock"]["gates"]}
        self.leaves = [name for name in self.runs if not self.arms[name]]
        self.states = body.get("states") or self.each_alone()

    def each_alone(self):
        """Return the states in which one hood is open, with those that have no gate; alike ones once."""
        always = [name for name in self.leaves if "gate" not in self.runs[name]]
        sets = list(dict.fromkeys(frozenset([name, *always]) for name in self.leaves))
        if len(sets) == 1:
            return [{"name": "document"}]
        return [{"name": str(number), "open": sorted(names)} for number, names in enumerate(sets)]

    def wide_enough(self, name):
        """Return the bores of a free run: no narrower than its port, nor than what is never open needs alone."""
        able = [bore for bore in sorted(self.ducts) if self.bought(name, bore)]
        least = self.runs[name].get("hood", {}).get("port_diameter", 0)
        upstream = [name]
        for one in upstream:
            upstream.extend(self.arms[one])
        hoods = [one for one in upstream if not self.arms[one]]
        always = any("gate" not in self.runs[one] for one in upstream if one in hoods)
        if not always and not any(set(hoods) & set(state.get("open", hoods)) for state in self.states):
            high = self.body["limits"].get("upper_velocity", catalogue.dust("shavings").upper_velocity)
            flow = max(self.runs[one]["hood"]["flow"] for one in hoods) / 3600
            least = max(least, 1000 * math.sqrt(4 * flow / (math.pi * high)))
        wide = [bore for bore in able if bore >= least * (1 - HOLDS)]
        return wide or able[-1:]

    def choices(self):
        """Give every choice: the runs as they would stand in a document, and the price."""
        ways = [
            self.bought(name, run["diameter"])
            if name in self.body["fixed"]
            else [way for bore in self.wide_enough(name) for way in self.bought(name, bore)]
            for name, run in self.runs.items()
        ]
        for own in itertools.product(*ways):
            runs = dict(zip(self.runs, (run for _, run in own), strict=True))
            ends = {name: (begins(run), finishes(run)) for name, run in runs.items()}
            joints = [self.joints(name, ends) for name in self.runs if self.arms[name]]
            for joined in itertools.product(*joints):
                out = dict(runs)
                for _, edits in joined:
                    for name, edit in edits.items():
                        before, more = out.get(name, {}), [edit["taper"]] if "taper" in edit else []
                        plain = {field: value for field, value in edit.items() if field != "taper"}
                        out[name] = before | plain | {"fittings": [*before.get("fittings", []), *more]}
                yield list(out.values()), sum(price for price, _ in own) + sum(price for price, _ in joined)

    def bought(self, name, bore):
        """Return every way to buy a run's own pieces: price, and the run; none where the stock lacks one."""
        run, fixed = self.runs[name], name in self.body["fixed"]
        tapers = [fitting for fitting in run.get("fittings", ()) if fitting["type"] == "taper"]
        if not tapers or fixed:
            price = self.own_price(name, run if fixed else run | {"diameter": bore})
            return [] if price is None else [(price, run if fixed else run | {"diameter": bore})]
        first = run["fittings"][0] is tapers[0]
        side, far = ("downstream_diameter", run["diameter"]) if first else ("upstream_diameter", None)
        taper = tapers[0] | {side: bore}
        others = [fitting for fitting in run["fittings"] if fitting["type"] != "taper"]
        start = far if first else bore
        if taper["upstream_diameter"] == taper["downstream_diameter"]:
            lengths = [(0.0, None)]
        else:
            lengths = self.tapers(taper["upstream_diameter"], taper["downstream_diameter"])
        out = []
        for each, length in lengths:
            kept = [] if length is None else [taper | {"length": length, "at": 0 if first else run["length"]}]
            whole = run | {"diameter": start, "fittings": [*kept, *others] if first else [*others, *kept]}
            own = self.own_price(name, whole | {"diameter": bore, "fittings": others}, gate=start)
            out += [] if own is None else [(own + each, whole)]
        return out

    def tapers(self, one, two):
        """Return price and length of every taper between two bores."""
        return [(price, length) for price, length in self.changes(one, two) if length is not None]

    def own_price(self, name, run, gate=None):
        """Return the price of a run's own pieces; None where the stock lacks one and the run is free."""
        bore, parts = run["diameter"], []
        changes = [fitting for fitting in run.get("fittings", ()) if fitting["type"] == "taper"]
        wide = bore
        for fitting in changes:  # of a fixed run: the duct's bore is that of the side where it lies
            wide = fitting["downstream_diameter"] if run["fittings"][0] is fitting else bore
            able = [price for price, _ in self.tapers(fitting["upstream_diameter"], fitting["downstream_diameter"])]
            parts.append(min(able) if able else None)
        if run["length"]:
            each = self.ducts.get(wide)
            parts.append(None if each is None else each * run["length"])
        if "gate" in run:
            parts.append(self.gates.get(gate or bore) if self.gates else 0.0)
        for fitting in run.get("fittings", ()):
            if fitting["type"] == "taper":
                continue
            able = [item["price"] for item in self.fittings["elbow"]
                    if item["diameter"] == wide and item["angle"] == fitting["angle"]]  # fmt: skip
            parts.append(min(able) * fitting["count"] if able else None)
        if name in self.body["fixed"]:
            return sum(part or 0.0 for part in parts)
        return None if None in parts else sum(parts)

    def joints(self, into, ends):
        """Return every way to join the arms of a run: price, and what it writes into runs, by their ids."""
        arms, out = self.arms[into], ends[into][0]
        bore = {name: end for name, (_, end) in ends.items()}
        if {into, *arms} <= set(self.body["fixed"]):
            return [(0.0, {})]
        joins = {arm: self.runs[arm].get("join") for arm in arms}
        straights = [arm for arm in arms if (joins[arm] or {"type": "straight"})["type"] == "straight"]
        branches = sorted(bore[arm] for arm in arms if arm not in straights)
        angle = next((join["angle"] for join in joins.values() if join and "angle" in join), None)
        changed = [arm for arm in straights if bore[arm] != out]
        if len(arms) == 1:
            return [(price, {arms[0]: {"join": self.straight(length, alone=True)}}) for price, length in
                    self.changes(bore[arms[0]], out)] if changed else [(0.0, {})]  # fmt: skip
        if not straights:
            able = [item["price"] for item in self.fittings["symmetrical-wye"]
                    if sorted((item["diameter"], item["branch_diameter"])) == branches
                    and item["downstream_diameter"] == out and item["angle"] == angle]  # fmt: skip
            return [(min(able), {})] if able else self.next_size(into, straights, bore, out, angle)
        even = self.wyes(out, branches, out, angle)
        if not changed:
            return [(even[0][0], {})] if even else self.next_size(into, straights, bore, out, angle)
        ways = [(price, {changed[0]: {"join": self.straight(length)}}) for price, length in
                self.wyes(bore[changed[0]], branches, out, angle)]  # fmt: skip
        if even:
            ways += [(price + even[0][0], {changed[0]: {"join": self.straight(length)}}) for price, length in
                     self.changes(bore[changed[0]], out)]  # fmt: skip
        return ways or self.next_size(into, straights, bore, out, angle)

    def next_size(self, into, straights, bore, out, angle):
        """Return a wye of the next size with its reducers: the fewest, then the narrowest, then the cheapest."""
        arms = self.arms[into]
        if max(bore[arm] for arm in arms) > out:
            return []
        branches = sorted((arm for arm in arms if arm not in straights), key=lambda arm: bore[arm])
        word = "symmetrical-wye" if not straights else "wye" if len(branches) == 1 else "double-wye"
        able = []
        for item in self.fittings[word]:
            first, last = item["diameter"], item.get("downstream_diameter", item["diameter"])
            sides = sorted(
                [item["branch_diameter"], *([item["second_branch_diameter"]] if word == "double-wye" else [])]
            )
            to = {**dict.fromkeys(straights, first), **dict(zip(branches, sides, strict=False))}
            if not straights:
                to = dict(zip(branches, sorted([first, item["branch_diameter"]]), strict=True))
            if (
                item["angle"] != angle
                or (straights and first != last)
                or any(not bore[arm] <= to[arm] <= last for arm in arms)
            ):
                continue
            pairs = {arm: (bore[arm], to[arm]) for arm in arms if bore[arm] != to[arm]}
            if last != out:
                pairs[None] = (last, out)
            found = {key: sorted(self.changes(*pair), key=lambda way: way[0])[:1] for key, pair in pairs.items()}
            able.append(((len(pairs), last, *sorted(to.values()), item["price"]), pairs, found, last))
        for (*_, price), pairs, found, last in sorted(able, key=lambda way: way[0]):
            if all(found.values()):
                return [
                    (price + sum(way[0][0] for way in found.values()), self.edits(into, straights, pairs, found, last))
                ]
        return []

    def edits(self, into, straights, pairs, found, last):
        """Return what a wye of the next size writes into runs."""
        out = defaultdict(dict)
        for arm, (one, two) in pairs.items():
            length = found[arm][0][1]
            if arm is None:
                join = self.straight(length, alone=True)
                out[f"{into}-wye"] = {"id": f"{into}-wye", "into": into, "diameter": last, "length": 0, "join": join}
                out[f"{into}-wye"]["duct"] = "spiral-galvanized"
                for each in self.arms[into]:
                    out[each]["into"] = f"{into}-wye"
            elif arm in straights:
                out[arm]["join"] = self.straight(length)
            else:
                change = {"type": "abrupt-change", "upstream_diameter": one, "downstream_diameter": two}
                change |= {"at": self.runs[arm]["length"]}
                out[arm]["taper"] = change if length is None else change | {"type": "taper", "length": length}
        return dict(out)

    def straight(self, length, *, alone=False):
        """Return the join of a straight run; a length is left out where the law charges no change of size."""
        law = self.body["model"]["junctions"]
        charged = law.startswith("flow-ratio") or (law == "entry-angle" and alone)
        return {"type": "straight", "taper_length": length} if charged and length is not None else {"type": "straight"}

    def changes(self, one, two):
        """Return price and length of every change of size between two bores."""
        out = []
        for word in ("taper", "abrupt-change"):
            for item in self.fittings[word]:
                if {item["diameter"], item["downstream_diameter"]} == {one, two}:
                    usual = max(5 * abs(one - two), 50)
                    out.append((item["price"], item.get("length", usual) if word == "taper" else None))
        return out

    def wyes(self, first, branches, out, angle):
        """Return price and length of change of the wyes of these bores, cheapest first."""
        found = []
        word = "wye" if len(branches) == 1 else "double-wye"
        for item in self.fittings[word]:
            own = [item["branch_diameter"], *([item["second_branch_diameter"]] if word == "double-wye" else [])]
            same = item["diameter"] == first and sorted(own) == branches and item["angle"] == angle
            if same and item.get("downstream_diameter", item["diameter"]) == out:
                found.append((item["price"], max(5 * abs(first - out), 50)))
        return sorted(found)

    def judged(self, runs, price):
        """Return a choice's key, (broken by class, objective, other); None where a rule that must hold does not."""
        broken, pressures, moving = self.narrowings(runs), [], []
        for number, state in enumerate(self.states):
            pressure, places, flows = self.in_state(runs, state)
            pressures.append(pressure)
            broken += [(rule, run, number, share) for rule, run, share in places]
            moving += [(run, number) for run in flows]
        if any(self.body["rules"].get(rule) == "must" for rule, *_ in broken):
            return None
        pair = (price, max(pressures))
        return (*self.classes(broken, moving), *(pair if self.body["objective"] == "cost" else pair[::-1]))

    def classes(self, broken, moving):
        """Return how often each class of rules is broken, from what is kept first to what is given up first.

        A place of a rule that the caller left out counts once for each tenth of its limit begun, at most ten times.

        Args:
            broken: rule, run and state of each place, and the share of its limit by which it is missed.
            moving: run and state, where air is meant to flow.
        """
        rules = self.body["rules"]
        slow = {place[:3] for place in broken if place[0] == "transport_velocity"}
        out = dict.fromkeys(("prefer", "last", "transport", "cleared", "no_narrowing", "upper_velocity"), 0)
        for rule, run, _, share in broken:
            count = 10 if share is None else min(max(math.ceil(share * 10 - HOLDS), 1), 10)
            if rules.get(rule) == "prefer":
                out["prefer"] += 1
            elif rules.get(rule) is not None or rule == "meeting_without_gates":
                continue
            elif rule in LAST:
                out["last"] += count
            elif rule == "transport_velocity":
                clears = any(one == run and (rule, run, other) not in slow for one, other in moving)
                out["cleared" if clears else "transport"] += count
            else:
                out[rule] += count
        return tuple(out.values())

    @staticmethod
    def narrowings(runs):
        start = {run["id"]: begins(run) for run in runs}
        return [
            ("no_narrowing", run["id"], None, 1 - start[run["into"]] / finishes(run))
            for run in runs
            if run["into"] and start[run["into"]] < finishes(run)
        ]

    def in_state(self, runs, state):
        """Return the fan static pressure needed in a state, Pa, the rules broken by run, and where air flows."""
        told = balanced(self.body, runs, state)
        need, limits, out = told.system.required.fan_static_pressure, self.body["limits"], []
        low, high = limits.get("transport_velocity", 0.0), limits.get("upper_velocity", math.inf)
        tolerance = limits.get("meeting_tolerance", math.inf)
        for run in told.runs:
            if run.flow > 0.0 and run.velocity < low * (1 - HOLDS):
                out.append(("transport_velocity", run.id, 1 - run.velocity / low))
            if run.flow > 0.0 and run.velocity > high * (1 + HOLDS):
                out.append(("upper_velocity", run.id, run.velocity / high - 1))
        by_junction, into = defaultdict(list), {run["id"]: run["into"] for run in runs}
        for branch in told.branches:
            by_junction[into[branch.run]].append(branch)
        for branches in by_junction.values():
            governing = branches[0].governing_pressure
            least = min(branch.pressure for branch in branches)
            if governing - least > tolerance * abs(governing) * (1 + HOLDS) + 1e-9 * abs(governing):
                out.append(("meeting_without_gates", branches[0].run, 1))
        of_fan = self.of_fan(3600.0 * told.system.flow)
        given = limits.get("pressure_available")
        for rule, limit in (("pressure_available", of_fan if given is None else given), ("design_flow", of_fan)):
            if limit is not None and need > limit * (1 + HOLDS):
                out.append((rule, None, need / limit - 1 if 0 < limit < math.inf else None))
        return need, out, [run.id for run in told.runs if run.flow > 0.0]

    def of_fan(self, flow):
        """Return the fan static pressure of the curve's straight lines, Pa; -inf off its ends, None without a fan."""
        if "collector" not in self.body:
            return None
        points = [(point["flow"], point["pressure"]) for point in self.body["collector"]["fan"]["curve"]]
        for (q0, p0), (q1, p1) in itertools.pairwise(points):
            if q0 <= flow <= q1:
                return p0 + (p1 - p0) * (flow - q0) / (q1 - q0)
        return -math.inf


def begins(run):
    """Return the bore at a run's upstream end."""
    return run["diameter"]


def finishes(run):
    """Return the bore at a run's downstream end."""
    changes = [item["downstream_diameter"] for item in run.get("fittings", ()) if "downstream_diameter" in item]
    return changes[-1] if changes else run["diameter"]


def balanced(body, runs, state):
    """Return balance's answer for runs in a state of the gates."""
    shown = []
    for run in runs:
        run = dict(run)
        if "gate" in run and state.get("open") is not None:
            run["gate"] = run["gate"] | {"opening": run["gate"]["opening"] if run["id"] in state["open"] else 0.0}
        if run["id"] in (state.get("flows") or {}):
            run["hood"] = run["hood"] | {"flow": state["flows"][run["id"]]}
        shown.append(run)
    tree = {name: body[name] for name in ("units", "dust", "model", "collector") if name in body}
    request = msgspec.convert(tree | {"runs": shown}, BalanceRequest)
    shop = build(units.to_si(request))
    return balanced_shop(shop, request.by, request.correction, bores=False)  # Pa and m/s, as metric has them


def asked(body):
    """Return the service's answer."""
    request = msgspec.convert(body, SizingRequest)
    return units.told(sizing.answer(units.to_si(request)), body["units"])


def alike(one, other):
    """Return whether two keys are the same."""
    return (
        one is not None
        and other is not None
        and all(math.isclose(a, b, rel_tol=1e-8, abs_tol=1e-8) for a, b in zip(one, other, strict=True))
    )


DEEP = 5000.0  # Pa of fan static pressure, some of which, with the velocity pressure, makes 60 inH2O of suction


def best_by_brute_force(brute):
    """Return the best key of all choices, None where none keeps every rule that it must, and their number."""
    best, count = None, 0
    for runs, price in brute.choices():
        count += 1
        try:
            key = brute.judged(runs, price)
        except Refusal as refusal:  # a law that does not answer these bores
            if not all(fault.code == "outside-range" for fault in refusal.faults):
                raise
            continue
        if key is not None and (best is None or key < best):
            best = key
    return best, count


def compared(seed):
    """Compare the service with brute force on one random request.

    Returns:
        (verdict, detail): verdict is `same`, `none` (no choice, both say), `deep` (the best of both draws more suction
        than is answered), `refused` or `different`.
    """
    body = random_request(seed)
    brute = Brute(body)
    best, count = best_by_brute_force(brute)
    try:
        answer = asked(body)
    except Refusal as refusal:
        pressure = best[-1 if body["objective"] == "cost" else -2] if best is not None else 0.0
        deep = all(fault.code == "suction-too-deep" for fault in refusal.faults) and pressure > DEEP
        return ("deep" if deep else "refused"), str(refusal)
    if best is not None and best[-1 if body["objective"] == "cost" else -2] > DEEP and answer.proof == "gap":
        return "deep", "another choice in its place"
    if answer.proof != "exact":
        return "different", "not proved"
    if answer.outcome == "no-solution":
        return ("none", f"{count} choices") if best is None else ("different", f"brute force found {best}")
    pair = (float(answer.price), answer.fan_static_pressure)
    number = {state.state: number for number, state in enumerate(answer.states)}
    broken = [item for item in answer.broken if item.weight != "must"]
    places = [(item.rule, item.run, number.get(item.state), item.share) for item in broken]
    moving = [(run.run, number[at.state]) for run in answer.sizes for at in run.states if at.flow > 0.0]
    key = (*brute.classes(places, moving), *(pair if body["objective"] == "cost" else pair[::-1]))
    again = brute.judged(answer.document["runs"], float(answer.price))
    for told, expected in ((key, best), (again, best)):
        if not alike(told, expected):
            return "different", f"{told} and {expected}"
    if len(answer.broken) != answer.preferred_broken:
        return "different", "places told and counted"
    return "same", f"{count} choices"

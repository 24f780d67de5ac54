"""Layouts: priced as sizing prices them, the cheapest there are, and documents that every other question takes."""

import copy
import itertools
import json
import math
import re
from decimal import Decimal
from pathlib import Path

import msgspec
import numpy as np
import pytest
from msgspec import structs

import layout_shops
from airbough.reading.request import Unreadable, read
from airbough.wire.layout import LayoutRequest
from airbough.wire.sizing import SizingRules
from airbough.wire.tree import Tree
from airbough_service.api.document import examples
from airbough_service.combined.layout import lacking
from airbough_service.combined.layout.asked import asked, sizing_request
from airbough_service.combined.layout.places import places
from airbough_service.combined.layout.pressing import pressing
from airbough_service.combined.layout.pricing import priced
from airbough_service.combined.layout.search import Search
from airbough_service.combined.layout.trying import tried
from airbough_service.combined.layout.writing import written
from airbough_service.core.choosing.placing import program, relaxed
from airbough_service.core.choosing.placing.trace import trace
from airbough_service.questions import sizing as sizing_question
from airbough_service.questions.outline import question as outlining
from airbough_service.terms.refusal import Refusal
from airbough_service.terms.units import to_si
from asking import ask

FIELDS = Tree.__struct_fields__
JOINED_ASLANT = json.loads((Path(__file__).parents[1] / "data" / "joined_aslant.json").read_text("utf-8"))


def told(struct):
    return msgspec.to_builtins(struct)


def tree_of(layout):
    return told(layout.tree)


def first(**more):
    return ask("layout", layout_shops.shop(**more)).layouts[0]


@pytest.mark.parametrize(("seed", "together"), [*((seed, 1) for seed in range(12)), *((seed, 2) for seed in range(8))])
def test_price_is_what_sizing_says_of_the_same_tree(seed, together):
    """With each machine alone, and with each that runs together with the next."""
    shop = layout_shops.random_shop(seed, 2 + seed % 4, alternatives=2)
    ids = [one["id"] for one in shop["machines"]] * 2
    states = [{"name": ids[at], "open": ids[at : at + together]} for at in range(len(ids) // 2)]
    if together > 1:
        shop["states"] = states
    answer = ask("layout", shop)
    assert answer.outcome == "proposed"
    for layout in answer.layouts:
        rules = dict.fromkeys(("transport_velocity", "no_narrowing"), "must")
        asked = tree_of(layout) | {"stock": shop["stock"], "states": states, "rules": rules, "flows": "design"}
        sized = ask("sizing", asked)
        assert layout.price == sized.price
        assert layout.price >= answer.bound
    if not answer.layouts[0].overlaps:
        assert answer.proof == "exact"
        assert answer.layouts[0].price == answer.bound


@pytest.mark.parametrize("seed", range(6))
def test_the_outline_makes_the_tree(seed):
    """What is told as outline is, through its own question, the runs that are told as tree but for their diameters."""
    for layout in ask("layout", layout_shops.random_shop(seed, 4)).layouts:
        made = ask("outline", told(layout.outline))
        ways = {run.id: (run.into, run.length, run.path) for run in made.tree.runs}
        assert ways == {run.id: (run.into, pytest.approx(run.length), run.path) for run in layout.tree.runs}


@pytest.mark.parametrize("seed", range(6))
def test_a_shop_mirrored_or_told_in_another_order_costs_the_same(seed):
    shop = layout_shops.random_shop(seed, 4, alternatives=1)
    price = float(ask("layout", shop).bound)
    other = copy.deepcopy(shop)
    other["machines"].reverse()
    assert float(ask("layout", other).bound) == pytest.approx(price, abs=0.2)  # coins, rounded for each entry
    for one in other["machines"]:
        one["place"][1] = 8.0 - one["place"][1]
    for box in other["room"]["forbidden"]:
        for corner in ("corner", "opposite"):
            box[corner][1] = 8.0 - box[corner][1]
    other["collector"]["inlet"]["place"][1] = 8.0 - 4.2
    assert float(ask("layout", other).bound) == pytest.approx(price, abs=0.2)  # coins, rounded for each entry


def test_a_layout_goes_back_to_every_question():
    shop = layout_shops.shop(collector=layout_shops.shop()["collector"] | layout_shops.fan(), drawings=["plan"])
    answer = ask("layout", shop)
    for layout in answer.layouts:
        tree = tree_of(layout)
        states = [{"name": one["id"], "open": [one["id"]]} for one in shop["machines"]]
        solved = ask("gate-states", tree | {"states": states})
        by_name = {state.name: state for state in solved.states}
        for state in layout.states:
            assert state.flow == pytest.approx(by_name[state.name].flow)
            assert state.holds == by_name[state.name].holds
        assert ask("operating-point", dict(tree)).outcome == "operating-point"
        assert ask("parts-list", dict(tree)).requirement
        assert ask("drawing", tree | {"of": "plan"}).svg.startswith("<svg")
        rules = dict.fromkeys(("transport_velocity", "no_narrowing"), "must")
        sized = ask("sizing", tree | {"stock": shop["stock"], "states": states, "rules": rules, "flows": "design"})
        assert sized.price == layout.price
        assert layout.drawings["plan"].startswith("<svg")
    assert answer.drawing.count("<svg") == 1 + len(answer.layouts)


def ported(**more):
    """A shop whose first machine has a wide port and a narrow one, each with its hose, in a stock that has these."""
    shop = layout_shops.shop(collector=layout_shops.shop()["collector"] | layout_shops.fan(5200), **more)
    stock = shop["stock"]
    stock["ducts"] += [
        {"duct": "flexible-hose-ribbed", "diameter": size, "price_per_length": size / 7} for size in (63, 100)
    ]
    for size in layout_shops.SIZES:
        wye = {"type": "wye", "diameter": size, "branch_diameter": 63, "angle": 45, "price": 13}
        stock["fittings"] += [{"type": "taper", "diameter": 63, "downstream_diameter": size, "price": 6}, wye]
    machine = shop["machines"][0]
    del machine["port"]
    machine["ports"] = [
        {"port": 100, "hose": 1.2, "hose_rise": 0.4},
        {"port": 63, "hose": 1.5, "hose_rise": -0.2},
    ]
    return shop


def test_both_ports_of_a_machine_are_served_together_and_priced():
    """A saw with a port under its table and one at its guard: one riser, two hoses that meet at its foot."""
    shop = ported(alternatives=1)
    answer = ask("layout", shop)
    assert answer.proof == "exact"
    (layout,) = answer.layouts
    tree, runs = tree_of(layout), {run.id: run for run in layout.tree.runs}
    hoses = [run for run in runs.values() if run.into == "saw"]
    assert sorted(run.diameter for run in hoses) == [63, 100]
    assert {type(run.join).__name__ for run in hoses} == {"Straight", "Branch"}
    flow = sum(run.hood.flow for run in hoses)
    assert flow == pytest.approx(950)
    states = [{"name": one["id"], "open": [one["id"]]} for one in shop["machines"]]
    rules = dict.fromkeys(("transport_velocity", "no_narrowing"), "must")
    asked = tree | {"stock": shop["stock"], "states": states, "rules": rules, "flows": "design"}
    assert ask("sizing", asked | {"fixed": [run.id for run in hoses]}).price == layout.price
    solved = ask("gate-states", tree | {"states": states[:1], "detail": "runs"}).states
    served = [hood.run for state in solved if state.named for hood in state.hoods if hood.flow > 0]
    assert set(served) >= {run.id for run in hoses}
    assert ask("parts-list", tree | {"stock": shop["stock"]}).system.price
    assert ask("drawing", tree | {"of": "plan"}).svg.startswith("<svg")
    assert ask("operating-point", dict(tree)).outcome == "operating-point"


@pytest.mark.parametrize("top", [1750.0, 2050.0])
def test_hoses_that_meet_do_not_raise_the_bound_above_a_layout(top):
    shop = ported(alternatives=1, allowance=0.0, stock=layout_shops.stock((100, 125, 150, 175, 200)))
    shop["collector"] |= layout_shops.fan(top)
    for machine in shop["machines"]:
        machine["flow"] = 900
    answer = ask("layout", shop)
    assert answer.layouts
    assert answer.lacking or answer.bound <= answer.layouts[0].price


def test_hoses_end_at_the_places_of_their_ports():
    """Ten centimetres aside at most, where the hose hangs under its riser; as high as told; what is over sags."""
    shop = ported(alternatives=1)
    (layout,) = ask("layout", shop).layouts
    place = shop["machines"][0]["place"]
    hose = next(run for run in layout.tree.runs if run.into == "saw" and run.diameter == 100)
    assert math.dist(hose.path[-1], place) < 0.11
    assert hose.length == pytest.approx(1.2)
    assert math.dist(*hose.path) <= 1.2
    assert hose.path[0][2] - hose.path[-1][2] == pytest.approx(0.4)
    told_of = ask("drawing", tree_of(layout) | {"of": "plan"}).findings
    assert not [one for one in told_of if one.code.startswith("path-")]


@pytest.mark.parametrize("length", [2.5, 20.0])
def test_a_long_slack_hose_lies_over_the_floor(length):
    """Its path leads from the foot of its riser to the port; the picture lets it sag and tells its length."""
    shop = layout_shops.shop(layout_shops.FOUR[:1], alternatives=1)
    shop["machines"][0] |= {"hose": length, "hose_rise": 0.3}
    (layout,) = ask("layout", shop).layouts
    (hose,) = (run for run in layout.tree.runs if run.into == "saw")
    assert hose.length == pytest.approx(length)
    assert min(z for _, _, z in hose.path) == pytest.approx(0.8)
    plan = ask("drawing", tree_of(layout) | {"of": "plan"})
    assert not [one for one in plan.findings if one.code.startswith("path-")]
    assert re.search(rf"{1000 * length:g} mm long", plan.svg)


def test_what_comes_on_top_of_the_price_is_told():
    """Four ports of 100 mm at ducts of 125 want adapters at 100 / 12 each; the stock has no screws."""
    (layout,) = ask("layout", layout_shops.shop(alternatives=1)).layouts
    listed = ask("parts-list", tree_of(layout) | {"stock": layout_shops.stock()})
    assert layout.bought == listed.system.price
    top = {one.what: one for one in layout.on_top}
    assert top["port-adapter"].price == Decimal("33.33")
    assert top["screw"].price is None
    assert layout.bought - layout.price == top["port-adapter"].price
    assert "33.33 more: port adapter" in layout.price_in_words
    assert "no price for screw" in layout.price_in_words


def test_a_quote_of_the_tree_as_it_is_comes_to_what_is_bought():
    """One of the outline sizes anew, by what the fan moves."""
    shop = layout_shops.shop(alternatives=1)
    shop["collector"] |= layout_shops.fan()
    (layout,) = ask("layout", shop).layouts
    tree = tree_of(layout)
    quoted = {"units": "metric", "stock": shop["stock"], "tree": tree, "fixed": [run["id"] for run in tree["runs"]]}
    assert ask("quote", quoted).price == layout.bought


def test_air_beyond_the_fan_curve_is_no_number_that_anything_holds_against():
    """3950 m3/h of a curve that ends at 3000: there is no pressure at all, and no layout that holds."""
    every = [{"name": "all", "open": [name for name, *_ in layout_shops.FOUR]}]
    shop = layout_shops.shop(alternatives=1, states=every)
    shop["collector"] |= layout_shops.fan()
    answer = ask("layout", shop)
    (layout,) = answer.layouts
    assert [(state.outcome, state.holds) for state in layout.states] == [("beyond-fan-curve", False)]
    assert answer.proof == "gap"
    assert answer.bound is None
    (lack,) = answer.lacking
    assert (lack.state, lack.flow, lack.flow_of_curve) == ("all", pytest.approx(3950.0), pytest.approx(3000.0))
    assert lack.needed is None
    assert "outside the fan's curve" in answer.statement
    alone = [{"name": name, "open": [name]} for name, *_ in layout_shops.FOUR]
    both = ask("layout", shop | {"states": alone + every})
    assert [one.state for one in both.lacking] == ["all"]


def test_forbidden_boxes_are_drawn():
    shop = layout_shops.shop(alternatives=1, drawings=["plan"])
    bare = ask("layout", shop).layouts[0].drawings["plan"]
    shop["room"]["forbidden"] = [{"corner": [9.8, 6.2], "opposite": [11.5, 7.5]}]
    drawn = ask("layout", shop).layouts[0].drawings["plan"]
    assert "no duct here" in drawn
    assert "no duct here" not in bare


def test_corridors_are_drawn():
    """In the picture, in its key and in its words; a shop without them shows none."""
    shop = layout_shops.shop(alternatives=1, drawings=["plan"])
    bare = ask("layout", shop).layouts[0].drawings["plan"]
    shop["room"]["corridors"] = [
        {"corner": [0, 3.8], "opposite": [12, 4.6]}, {"corner": [1, 0.5], "opposite": [12, 7.5], "name": "middle"},
    ]  # fmt: skip
    drawn = ask("layout", shop).layouts[0].drawings["plan"]
    assert drawn.count("ducts may run") == 3  # each corridor in words, and the key
    assert "ducts may run" not in bare
    tree = ask("layout", shop).layouts[0].tree
    with pytest.raises(Refusal) as refused:
        ask("drawing", told(tree) | {"of": "side", "corridors": [{"corner": [0, 0], "opposite": [1, 1]}]})
    assert [(fault.path, fault.code) for fault in refused.value.faults] == [("corridors", "not-for-this-picture")]


def test_more_effort_never_ends_farther_from_the_proof(monkeypatch):
    """With a thousandth of the usual work the search stops with its gap told; a thousand times as much proves."""
    monkeypatch.setattr("airbough_service.combined.layout.search.WORK", 2.0e7)
    shop = pressed(1700.0)
    little, much = ask("layout", shop), ask("layout", shop | {"effort": 50})
    assert much.proof == "exact"
    assert little.proof == "gap"
    assert little.bound <= much.bound <= little.layouts[0].price


def test_runs_turn_at_lines_and_keep_clear_of_walls_and_boxes():
    shop = layout_shops.shop()
    shop["room"]["forbidden"] = [{"corner": [5.0, 3.5], "opposite": [7.0, 5.0]}]
    layout = ask("layout", shop).layouts[0]
    for line in layout.outline.lines:
        for (x1, y1, _), (x2, y2, _) in zip(line.path, line.path[1:], strict=False):
            assert math.isclose(x1, x2) or math.isclose(y1, y2)
            x, y = (x1 + x2) / 2, (y1 + y2) / 2
            assert not (5.0 < x < 7.0 and 3.5 < y < 5.0)


def test_a_corridor_keeps_ducts_inside():
    shop = layout_shops.shop(layout_shops.FOUR[:2])
    corridors = [
        {"corner": [0, 7.0], "opposite": [12, 7.6]}, {"corner": [0, 4.2], "opposite": [0.6, 7.6]},
        {"corner": [5.9, 3.0], "opposite": [6.1, 7.6]}, {"corner": [9.4, 1.0], "opposite": [9.6, 7.6]},
    ]  # fmt: skip
    free = ask("layout", shop).bound
    shop["room"]["corridors"] = corridors
    shop["collector"]["inlet"] = {"place": [0.3, 4.2, 2.6], "direction": "+y"}
    answer = ask("layout", shop)
    assert answer.bound > free
    for line in answer.layouts[0].outline.lines:
        assert all(
            any(box["corner"][0] - 1e-6 <= x <= box["opposite"][0] + 1e-6 and
                box["corner"][1] - 1e-6 <= y <= box["opposite"][1] + 1e-6 for box in corridors)
            for x, y, _ in line.path
        )  # fmt: skip


def test_an_inlet_that_faces_up_is_met_from_above():
    shop = layout_shops.shop(collector={"inlet": {"place": [0.5, 4.2, 1.6], "direction": "+z"}})
    layout = ask("layout", shop).layouts[0]
    assert layout.outline.lines[0].path[:2] == ((0.5, 4.2, 1.6), (0.5, 4.2, 2.6))


def test_states_that_leave_machines_without_a_common_duct_are_named():
    """A slow machine alone and a pair of fast ones: 900 m3/h carries dust in 100 mm, 3000 m3/h is far too fast there.

    Sawdust wants 18 m/s and more; 3000 m3/h in 100 mm would be 106 m/s.
    """
    machines = [("slow", 3.0, 3.0, 600), ("fast", 6.0, 5.0, 3000)]
    shop = layout_shops.shop(machines, rules={"upper_velocity": "must"}, states=[
        {"name": "slow alone", "open": ["slow"]}, {"name": "fast alone", "open": ["fast"]},
    ])  # fmt: skip
    answer = ask("layout", shop)
    assert answer.outcome == "no-layout"
    assert answer.bound is None
    assert answer.layouts == ()
    assert [(clash.machines, clash.states) for clash in answer.clashes] == [
        (("slow", "fast"), ("slow alone", "fast alone"))
    ]
    assert answer.statement.endswith(
        "slow and fast cannot share a duct: it must be at most 103 mm, or dust settles in the state slow alone, and at "
        "least 195 mm, or air is too fast in the state fast alone; open a second gate where little air flows, or give "
        "one of them a collector of its own"
    )


def test_a_diameter_to_share_that_is_not_stocked_is_told():
    """850 m3/h at 20 m/s are 123 mm, 1000 at 28 are 112: 118 does, and is not stocked."""
    machines = [("small", 3.0, 3.0, 850), ("large", 6.0, 5.0, 1000)]
    stock = layout_shops.stock((110, 125))
    answer = ask("layout", layout_shops.shop(machines, stock=stock, rules={"upper_velocity": "must"}))
    assert [(one.machines, one.states) for one in answer.clashes] == [(("small", "large"), ("small", "large"))]
    assert answer.clashes[0].at_least < 118 < answer.clashes[0].at_most
    assert "the stock has none: add one, or open a second gate" in answer.statement


@pytest.mark.parametrize("upper", [None, "off"])
def test_a_velocity_that_need_not_be_kept_leaves_no_machine_without_a_diameter(upper):
    """950 m3/h at 20 m/s are 130 mm and 1150 are 143, of a stock from 150 on: only dust that settles is a reason."""
    states = [{"name": "saw alone", "open": ["saw"]}, {"name": "both", "open": ["saw", "planer"]}]
    rules = {} if upper is None else {"upper_velocity": upper}
    shop = layout_shops.shop(layout_shops.FOUR[:2], stock=layout_shops.stock((150, 200)), rules=rules, states=states)
    answer = ask("layout", shop)
    told = [(one.machines, one.states, one.at_least) for one in answer.clashes]
    assert told == [(("saw",), ("saw alone",), None), (("planer",), ("both",), None)]
    assert "too fast" not in answer.statement


def test_shut_gates_that_leak_are_allowed_for():
    """Sized at design flow exactly a state may starve while shut gates leak; then as much more is sized for."""
    machines = [(name, x, y, 1000) for name, x, y, _ in layout_shops.FOUR]
    sizes = (100, 112, 118, 125, 132, 140)
    collector = layout_shops.shop()["collector"] | layout_shops.fan(2200.0)
    shop = layout_shops.shop(machines, collector=collector, stock=layout_shops.stock(sizes), alternatives=1)
    for machine in shop["machines"]:
        machine["leakage"] = 0.04
    (tight,) = ask("layout", shop | {"allowance": 0.0}).layouts
    (layout,) = ask("layout", shop).layouts
    assert min(state.share_of_design for state in tight.states) < 1.0 - 1e-6
    assert layout.allowance > 0.0
    assert min(state.share_of_design for state in layout.states) >= 1.0 - 1e-6
    assert layout.tree.collector == tight.tree.collector


def faults(shop):
    with pytest.raises(Refusal) as refused:
        ask("layout", shop)
    return {(fault.path, fault.code) for fault in refused.value.faults}


def test_all_faults_are_told_at_once():
    shop = layout_shops.shop()
    shop["machines"][0]["place"] = [20, 3, 0.8]
    shop["machines"][1]["place"][2] = 2.8
    shop["machines"][2] |= {"dust": "no-such-dust"}
    shop["machines"][3]["id"] = "saw"
    shop["collector"]["inlet"]["place"][2] = 1.0
    shop["states"] = [{"name": "one", "open": ["swa"]}, {"name": "one", "open": ["saw"]}]
    shop["stock"]["ducts"][0]["price_per_length"] = 0
    assert faults(shop) >= {
        ("machines[0].place", "outside-room"),
        ("machines[1].place", "above-ducts"),
        ("machines[2].dust", "unknown-word"),
        ("machines[3].id", "duplicate-id"),
        ("collector.inlet.place", "not-at-duct-height"),
        ("states[0].open[0]", "unknown-machine"),
        ("states[1].name", "duplicate-name"),
        ("stock.ducts[0].price_per_length", "without-price"),
    }


def test_a_place_without_a_way_is_told():
    shop = layout_shops.shop(layout_shops.FOUR[:1])
    shop["room"]["corridors"] = [{"corner": [0, 4.0], "opposite": [12, 4.4]}]
    assert {path for path, code in faults(shop) if code == "no-way"} == {"machines[0].place"}


def test_what_is_proven_is_said_with_care():
    answer = ask("layout", layout_shops.shop())
    assert answer.statement == (
        "no arrangement along these lines, with these bores, prices, states and rules, is cheaper"
    )
    assert not re.search("safe|approved|optimal|best", answer.statement + " ".join(answer.not_modelled))
    assert any("beams" in text for text in answer.not_modelled)
    assert any("upper velocity" in text for text in answer.not_modelled)
    asked_for = ask("layout", layout_shops.shop(rules={"upper_velocity": "must"}))
    assert not any("upper velocity" in text for text in asked_for.not_modelled)


def pressed(top, machines=layout_shops.FOUR):
    """A shop whose fan is too weak for the cheapest tree in its cheapest diameters."""
    alike = [(name, x, y, 1000) for name, x, y, _ in machines]
    collector = layout_shops.shop()["collector"] | layout_shops.fan(top)
    sizes = (100, 112, 118, 125, 132, 140)
    return layout_shops.shop(alike, collector=collector, stock=layout_shops.stock(sizes), allowance=0.0)


def prepared(shop):
    """A shop made ready, its places, prices and losses."""
    request = to_si(msgspec.convert(shop, LayoutRequest))
    ready, where = asked(request), places(request)
    work = priced(ready, where)
    return ready, where, work, pressing(ready, where, work)


def cheapest_at(ready, where, work, prices):
    """The program's cheapest tree at some prices, sized and solved; None where there is none."""
    solved = program.solve(where.lattice, where.machines, work.rows, prices)
    _, row, heading = program.best(solved, prices, where.inlet)
    if row < 0:
        return None
    found = trace(where.lattice, list(where.machines), solved, prices, where.inlet, row, heading)
    return tried(ready, where, found)


@pytest.mark.parametrize("top", [1700.0, 1900.0])
def test_the_bound_is_not_above_any_tree_that_holds(top):
    """Trees at random weights of pressure, with sets of machines kept apart: each that sizing lets hold is dearer."""
    shop = pressed(top)
    answer = ask("layout", shop)
    ready, where, work, press = prepared(shop)
    draw = np.random.default_rng(int(top))
    found = set()
    for apart in ((), (3,), (5,), (6,), (9,), (10,), (12,), (7,), (11,), (13,), (14,), (3, 12), (5, 10)):
        keep = ~np.isin(work.rows.group, apart)
        mine, own = work.kept(keep), press.kept(keep)
        for weight in (0.01, 0.05):
            one = cheapest_at(ready, where, mine, own.prices(mine, weight * draw.random(press.opened.shape)))
            if one is not None and one.holds:
                found.add(one.price)
                assert one.price >= answer.bound
    assert len(found) > 1
    assert min(found) >= answer.layouts[0].price


def topologies(machines):
    """Every way in which machines may be joined two by two: the sets that share ducts."""

    def split(group):
        if group & (group - 1) == 0:
            yield frozenset()
            return
        lowest, part = group & -group, (group - 1) & group
        while part:
            if part & lowest:
                for one, other in itertools.product(split(part), split(group ^ part)):
                    yield one | other | {group}
            part = (part - 1) & group

    return list(split((1 << machines) - 1))


@pytest.mark.parametrize(("machines", "top"), [(3, 1700.0), (4, 1700.0)])
def test_no_topology_is_cheaper_with_pressure(machines, top):
    """Each of the 3 and 15 ways to join machines two by two, at several weights of pressure, sized and solved."""
    shop = pressed(top, layout_shops.FOUR[:machines])
    answer = ask("layout", shop)
    assert answer.proof == "exact"
    ready, where, work, press = prepared(shop)
    prices, numbers = [], np.arange(1 << machines)
    every = topologies(machines)
    assert len(every) == {3: 3, 4: 15}[machines]
    for joined in every:
        alone = numbers & (numbers - 1) == 0
        keep = np.isin(work.rows.group, [*joined, *numbers[alone]])
        mine, own = work.kept(keep), press.kept(keep)
        for weight in (0.0, 0.02):
            one = cheapest_at(ready, where, mine, own.prices(mine, np.full(press.opened.shape, weight)))
            if one is not None and one.holds:
                prices.append(one.price)
    assert prices
    assert min(prices) >= answer.layouts[0].price


@pytest.mark.parametrize("seed", [9, 15])
def test_no_topology_is_cheaper_where_machines_run_together(seed):
    """Each machine runs with the next; every way to join four of them two by two, sized by sizing's own rules."""
    shop = layout_shops.random_shop(seed, 4)
    ids = [one["id"] for one in shop["machines"]] * 2
    shop["states"] = [{"name": ids[at], "open": ids[at : at + 2]} for at in range(4)]
    answer = ask("layout", shop)
    assert answer.proof == "exact"
    ready, where, work, _ = prepared(shop)
    numbers, found = np.arange(16), []
    for joined in topologies(4):
        mine = work.kept(np.isin(work.rows.group, [*joined, *numbers[numbers & (numbers - 1) == 0]]))
        one = cheapest_at(ready, where, mine, mine.prices)
        if one is not None and one.holds:
            found.append(one.price)
    assert min(found) == answer.layouts[0].price


@pytest.mark.parametrize("seed", range(3))
def test_labels_close_what_weights_leave(seed):
    """Five machines at random whose fan is too weak for the cheapest tree in its narrowest diameters."""
    shop = layout_shops.random_shop(seed, 5, stock=layout_shops.stock((100, 112, 118, 125, 132, 140)), allowance=0.0)
    for one in shop["machines"]:
        one["flow"] = 1000
    shop["collector"] = shop["collector"] | layout_shops.fan(1850.0)
    answer = ask("layout", shop)
    free = ask("layout", shop | {"collector": layout_shops.shop()["collector"]}).bound
    assert answer.layouts[0].holds == (not answer.lacking)
    assert answer.lacking or (answer.proof == "exact" and answer.bound >= free)


def test_a_fan_too_weak_for_any_layout_is_told_with_what_is_missing():
    """By hand: the sharpest state needs more than the curve's own shut-off."""
    shop = pressed(700.0)
    answer = ask("layout", shop)
    assert answer.lacking
    assert answer.bound is None
    assert "suffice" in answer.statement
    for one in answer.lacking:
        assert one.missing == pytest.approx(one.needed - one.available)
        assert one.available < 700.0 < one.needed
    worst = max(answer.lacking, key=lambda one: one.missing)
    assert f"{worst.state} needs at least {round(worst.needed / 10.0)}" in answer.statement  # to three figures
    assert "a stronger fan" in answer.statement
    stronger = ask("layout", pressed(700.0 + 2.0 * max(one.missing for one in answer.lacking)))
    assert not stronger.lacking


@pytest.mark.parametrize("together", [False, True])
def test_no_way_loses_less_than_what_is_told_to_be_missing(together):
    """The easiest way, whatever the tree; the bound by sets; what the cheapest tree loses: each no less than before."""
    shop = pressed(900.0)
    if together:
        names = [name for name, *_ in layout_shops.FOUR]
        shop["states"] = [{"name": "two", "open": names[:2]}, {"name": "all", "open": names}]
    ready, where, work, press = prepared(shop)
    solved = program.solve(where.lattice, where.machines, work.rows, work.prices)
    _, row, heading = program.best(solved, work.prices, where.inlet)
    traced = trace(where.lattice, list(where.machines), solved, work.prices, where.inlet, row, heading)
    lost = press.lost(where, work, np.zeros(press.opened.shape), traced)
    search = Search(ready, where, work)
    for state, machine in zip(*np.nonzero(press.opened), strict=True):
        way = lacking._way(search, work, press, int(state), int(machine))
        least = lacking._least(search, work, press, int(state), int(machine))
        assert way * (1 - relaxed.GRAIN) <= least * (1 + 1e-6)
        assert least <= lost[state, machine] * (1 + 1e-9)
        assert together or way > 0.0  # where several run, a run may gain at a wye


@pytest.mark.parametrize("top", [1450.0, 2000.0])
def test_losses_that_weigh_are_those_of_sizing(top):
    """Pressure needed of the fan, told by sizing of a tree in the diameters that the program took, state by state."""
    request = to_si(msgspec.convert(pressed(top), LayoutRequest))
    ready, where = asked(request), places(request)
    work = priced(ready, where)
    press = pressing(ready, where, work)
    none = np.zeros(press.opened.shape)
    solved = program.solve(where.lattice, where.machines, work.rows, work.prices)
    _, row, heading = program.best(solved, work.prices, where.inlet)
    traced = trace(where.lattice, list(where.machines), solved, work.prices, where.inlet, row, heading)
    written_as = written(ready, where, traced.root)
    sizing = sizing_request(request, outlining.answer(written_as.outline))
    bores = {ready.shopping.sizes[run.diameter] for run in traced.root.runs()}
    assert len(bores) == 1
    runs = tuple(structs.replace(run, diameter=min(bores)) for run in sizing.runs)
    fixed = tuple(run.id for run in runs)
    told = sizing_question.answer(structs.replace(sizing, runs=runs, fixed=fixed, rules=SizingRules()))
    lost = press.lost(where, work, none, traced).max(axis=1)
    for state, pascals in zip(told.states, lost, strict=True):
        assert state.fan_static_pressure == pytest.approx(pascals, rel=1e-9)


def test_a_duct_along_each_wall_has_its_price():
    answer = ask("layout", layout_shops.shop(layout_shops.FOUR, alternatives=1))
    prices = {one.along: one for one in answer.corridor_prices}
    assert list(prices) == ["wall 1", "wall 2", "wall 3", "wall 4"]
    for one in prices.values():
        assert one.price >= answer.bound
        assert abs(one.more - (one.price - answer.bound)) <= Decimal("0.01")
    assert prices["wall 2"].more > 0


def test_the_layout_told_first_uses_a_corridor_that_costs_nothing_more():
    """One machine on the line along a wall: the cheapest tree runs there."""
    shop = layout_shops.shop([("saw", 8.0, 0.3, 1000)], alternatives=1)
    shop["collector"]["inlet"]["place"] = [0, 0.3, 2.6]
    answer = ask("layout", shop)
    prices = {one.along: one.more for one in answer.corridor_prices}
    assert prices["wall 1"] == 0
    assert prices["wall 3"] > 0


@pytest.mark.parametrize("from_below", [False, True])
def test_a_riser_enters_the_run_that_passes_over_it(from_below):
    """Machines in a row under one line: from the side by an elbow and a stub, or from below by neither."""
    machines = [("far", 9.0, 4.2, 1000), ("middle", 6.0, 4.2, 1000), ("near", 3.0, 4.2, 1000)]
    answer = ask("layout", layout_shops.shop(machines, alternatives=1, from_below=from_below))
    assert answer.proof == "exact"
    (layout,) = answer.layouts
    assert len(layout.outline.lines) == 1
    ways = {row.id: row for row in layout.outline.machines}
    assert ways["middle"].line == ways["near"].line == layout.outline.lines[0].id
    assert (ways["middle"].at, ways["near"].at) == (6.0, 3.0)
    assert (ways["near"].off > 0.0) != from_below


@pytest.mark.parametrize("seed", [0, 3])
def test_ducts_that_may_run_aslant_are_never_dearer(seed):
    """Every square arrangement is one of theirs; prices stay those of sizing, and other questions take the tree."""
    shop = layout_shops.random_shop(seed, 3, alternatives=1)
    square, aslant = (ask("layout", shop | {"headings": angle}) for angle in (90, 45))
    assert aslant.bound <= square.bound
    (layout,) = aslant.layouts
    if not layout.overlaps:
        assert aslant.proof == "exact"
        assert layout.price == aslant.bound
    slopes = {
        round(math.degrees(math.atan2(y2 - y1, x2 - x1))) % 45
        for line in layout.outline.lines
        for (x1, y1, _), (x2, y2, _) in itertools.pairwise(line.path)
    }
    assert slopes == {0}
    tree = tree_of(layout)
    angles = {
        fitting["angle"] for run in tree["runs"] for fitting in run.get("fittings", ()) if fitting["type"] == "elbow"
    }
    assert angles <= {45.0, 90.0}
    assert ask("drawing", tree | {"of": "plan"}).svg.startswith("<svg")
    assert ask("parts-list", dict(tree)).requirement


def test_a_diagonal_enters_a_wye_without_an_elbow():
    """Two machines: the far one runs straight to the inlet, the other comes aslant by one elbow less."""
    machines = [("far", 9.0, 4.2, 1000), ("aside", 5.0, 3.6, 1000)]
    shop = layout_shops.shop(machines, alternatives=1)
    square, aslant = (ask("layout", shop | {"headings": angle}) for angle in (90, 45))
    assert aslant.layouts[0].price < square.layouts[0].price

    def elbows(answer):
        tree = tree_of(answer.layouts[0])
        return sorted(one["angle"] for run in tree["runs"] for one in run.get("fittings", ()) if one["type"] == "elbow")

    assert elbows(aslant) == [90.0, 90.0]  # of the two risers
    assert elbows(square) == [45.0, 90.0, 90.0]


def example():
    return copy.deepcopy(examples.request("layout"))


def test_machines_whose_ducts_no_piece_joins_are_named():
    shop = example()
    shop["stock"]["fittings"] = [one for one in shop["stock"]["fittings"] if one["type"] != "wye"]
    answer = ask("layout", shop)
    assert answer.outcome == "no-layout"
    assert [one.machines for one in answer.unjoined] == [("saw", "planer"), ("saw", "band saw"), ("planer", "band saw")]
    assert all(min(one.diameters) >= 4 and not one.to_inlet for one in answer.unjoined)
    assert "in 5 in. the stock has no pieces that join the ducts of saw, planer" in answer.statement


def test_an_inlet_that_no_piece_enters_is_told():
    shop = example()
    shop["stock"]["fittings"] = [one for one in shop["stock"]["fittings"] if one["type"] != "elbow"]
    shop["machines"] = shop["machines"][:1]
    shop["machines"][0]["place"] = [16, 12, 2]
    answer = ask("layout", shop)
    assert answer.outcome == "no-layout"
    assert [one.machines for one in answer.unjoined] == [("saw",)]


def test_why_no_diameter_serves_is_in_the_statement():
    """250 cfm in 5 in. are 1,800 ft/min: a machine alone whose dust settles in its own port."""
    shop = example()
    shop["machines"][0] |= {"port": 5, "flow": 250}
    answer = ask("layout", shop)
    assert answer.clashes[0].machines == ("saw",)
    assert "the duct of saw must be at most 3 7/16 in., or dust settles in the state saw" in answer.statement


def test_a_small_machine_whose_main_duct_is_too_narrow_for_a_big_port_is_told():
    """450 m3/h want 89 mm and less at 20 m/s: the stock's 80 is narrower than the planer's port of 150."""
    machines = [("planer", 9.5, 1.0, 1900), ("sander", 11.2, 7.0, 450)]
    shop = layout_shops.shop(machines, stock=layout_shops.stock((80, 100, 125, 150, 175)))
    shop["machines"][0]["port"], shop["machines"][1]["port"] = 150, 80
    answer = ask("layout", shop)
    assert answer.outcome == "no-layout"
    assert [(one.machines, one.state) for one in answer.unjoined] == [(("planer",), "sander")]
    assert answer.unjoined[0].port == pytest.approx(150)
    assert "its port or hose is 150 mm; open a second gate" in answer.statement


@pytest.mark.filterwarnings("error")
def test_a_search_that_sizes_nothing_ends_without_an_invalid_number():
    """Where no arrangement can be sized there is no price to aim at; the weights of pressure stay finite."""
    shop = example()
    shop["rules"] = {"no_narrowing": "off"}
    del shop["stock"]["fittings"]
    for machine, port, flow, place in zip(
        shop["machines"], (5, 3, 5), (250, 150, 330), ([5, 13], [14, 5], [25, 8]), strict=True
    ):
        machine |= {"port": port, "flow": flow, "place": [*place, 2.5], "hose": 3}
    shop["stock"]["ducts"] += [{"diameter": bore, "price_per_length": 2.1} for bore in (2.5, 3, 7, 8)]
    shop["stock"]["gates"] += [{"diameter": bore, "price": 12} for bore in (2.5, 3, 7, 8)]
    shop["room"] = {"corners": [[0, 0], [32, 0], [32, 20], [0, 20]], "duct_height": 8}
    answer = ask("layout", shop)
    assert (answer.outcome, answer.none_holds) == ("no-layout", True)
    assert "the cheapest cannot be sized" in answer.statement
    assert "no-size-fits" in [one.code for one in answer.findings]


@pytest.mark.parametrize(("given", "code"), [(30, "unknown-value"), ("45 deg", "wrong-type")])
def test_headings_that_there_are_not_name_those_that_there_are(given, code):
    with pytest.raises(Unreadable) as refused:
        read(example() | {"headings": given}, LayoutRequest)
    assert [(fault.path, fault.code, fault.detail) for fault in refused.value.faults] == [
        ("headings", code, "must be 45 or 90")
    ]


def test_hoses_and_a_collector_known_by_two_figures_go_together():
    """The fan is guessed anew from what the caller said of it wherever the tree is sent."""
    collector = layout_shops.shop()["collector"] | {"known_by": {"greatest_flow": 4000, "greatest_suction": 3500}}
    shop = ported(alternatives=1) | {"collector": collector}
    (layout,) = ask("layout", shop).layouts
    assert layout.tree.collector.fan is None
    assert layout.tree.collector.known_by is not None
    assert ask("operating-point", tree_of(layout)).outcome == "operating-point"


def test_who_joins_from_the_side_turns_by_that_alone():
    """At 45 degrees and 75 mm an elbow loses more than the wye that a duct enters aslant: the fan just suffices."""
    answer = ask("layout", JOINED_ASLANT)
    assert (answer.proof, answer.lacking) == ("exact", ())
    assert answer.layouts[0].holds

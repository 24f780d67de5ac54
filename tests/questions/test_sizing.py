"""Sizing of an invented garage shop, priced in an invented currency; random shops against brute force."""

import copy
import math

import msgspec
import numpy as np
import pytest

import sizing_shops
from airbough.calls import (
    BALANCE,
    OPERATING_POINT,
    PARTS_LIST,
    SIZING,
)
from airbough_service.combined import registry
from airbough_service.questions.sizing import engine
from airbough_service.questions.sizing.states import states
from airbough_service.shop.shop import build
from airbough_service.terms import units
from airbough_service.terms.refusal import Refusal
from sizing_garage import ENTRY, HOSE, OFF, SIZES, SPIRAL, fan, shop, stock, tree


def ask(body, call=SIZING):
    return registry.answer(call.name, msgspec.convert(body, call.request))


def refused(body):
    with pytest.raises(Refusal) as caught:
        ask(body)
    return {fault.path: fault.code for fault in caught.value.faults}


def bores(answer):
    return {run.run: run.diameter for run in answer.sizes}


@pytest.mark.parametrize("seed", range(60))
def test_brute_force_agrees_on_random_small_trees(seed):
    verdict, detail = sizing_shops.compared(seed)
    assert verdict in ("same", "none", "deep"), detail


@pytest.mark.parametrize("seed", range(12))
def test_a_state_of_the_sized_tree_is_what_would_be_built_of_its_document(seed):
    request = units.to_si(msgspec.convert(sizing_shops.random_request(seed), SIZING.request))
    ready = engine.ready(request)
    for state in states(request, build(request)):
        here, built = ready.in_state(state), build(engine.in_state(request, state))
        assert (here.request.runs, here.hoods, here.runs) == (built.request.runs, built.hoods, built.runs)
        for column in ("table", "links", "gate", "place"):
            np.testing.assert_array_equal(getattr(here.tree, column), getattr(built.tree, column))


def test_without_rules_the_cheapest_bores_are_the_narrowest():
    answer = ask(shop())
    assert (answer.outcome, answer.proof) == ("sized", "exact")
    assert list(bores(answer).values()) == pytest.approx([100] * 4)
    # by hand: duct 9.4 m at 10, hose 1.8 m / 0.9 at 20, two elbows at 10, one wye at 20, two gates at 25
    assert answer.price == 94 + 40 + 20 + 20 + 50
    assert answer.price == sum(run.price for run in answer.sizes)


def test_the_least_pressure_costs_more():
    answer, cheap = ask(shop(objective="fan-pressure")), ask(shop())
    assert answer.fan_static_pressure < cheap.fan_static_pressure
    assert answer.price > cheap.price


def test_a_price_per_length_is_per_foot_in_us_units():
    body = shop(units="us")
    for run in body["runs"]:
        run |= {"diameter": 4, "length": 10}
        if "hood" in run:
            run["hood"] = {"flow": 400, "entry": ENTRY}
    for part in ("ducts", "fittings", "gates"):
        for item in body["stock"][part]:
            for name in [name for name in item if name.endswith("diameter")]:
                item[name] = {100: 4, 125: 5, 150: 6, 180: 7, 200: 8}[item[name]]
    answer = ask(body)
    lengths = {piece.diameters[0]: piece for run in answer.sizes for piece in run.pieces if piece.type == "duct"}
    assert lengths
    for run in answer.sizes:
        duct = next(piece for piece in run.pieces if piece.type == "duct")
        assert float(duct.price) == pytest.approx(duct.length * (20 if run.run == "saw" else 10), abs=0.005)


def test_tapers_are_placed_and_priced_where_bores_change():
    answer = ask(shop(rules={"transport_velocity": "must", "upper_velocity": "must", "no_narrowing": "must"},
                      limits={"transport_velocity": 10, "upper_velocity": 26}))  # fmt: skip
    assert answer.outcome == "sized"
    placed = {run.run: [piece for piece in run.pieces if piece.type == "taper"] for run in answer.sizes}
    documents = {run["id"]: run for run in answer.document["runs"]}
    size = bores(answer)
    assert size["east"] != size["main"]
    (taper,) = placed["main"]
    assert taper.diameters == (pytest.approx(size["east"]), pytest.approx(size["main"]))
    assert float(taper.price) == pytest.approx(size["main"] / 12, abs=0.005)
    assert documents["east"]["join"]["taper_length"] == pytest.approx(5 * (size["main"] - size["east"]))
    for run in answer.sizes:
        for state in run.states:
            assert state.flow == 0 or 10 * (1 - 1e-6) <= state.velocity <= 26 * (1 + 1e-6)


def test_the_engine_is_asked_again_and_agrees():
    body = shop(
        collector=fan(includes=[]),
        states=[{"name": "both", "open": ["saw", "planer"]}, {"name": "saw", "open": ["saw"]}],
    )
    answer = ask(body | {"rules": OFF | {"pressure_available": "must"}})
    assert answer.outcome == "sized"
    for state in answer.states:
        assert state.engine_fan_static_pressure == pytest.approx(state.fan_static_pressure, rel=1e-10)
        assert state.fan_static_pressure <= state.available
        assert state.operating_point == "operating-point"
    assert answer.fan_static_pressure == max(state.fan_static_pressure for state in answer.states)


def test_the_document_can_be_sent_on():
    answer = ask(shop(collector=fan(), rules={"pressure_available": "must", "no_narrowing": "must"}))
    balanced = ask(answer.document, BALANCE)
    assert balanced.system.required.fan_static_pressure == pytest.approx(answer.fan_static_pressure, rel=1e-9)
    assert ask(answer.document, OPERATING_POINT).outcome == "operating-point"
    parts_list = ask(answer.document, PARTS_LIST)
    bought = {need.type: need.quantity for need in parts_list.requirement}
    assert bought["elbow"] == 2


def test_a_fixed_run_keeps_its_bore_and_its_unstocked_pieces_have_no_price():
    body = shop(fixed=["main"])
    body["runs"][0]["diameter"] = 160
    body["stock"]["fittings"] += [
        {"type": "wye", "diameter": 160, "branch_diameter": 100, "angle": 45, "price": 9},
        {"type": "taper", "diameter": 160, "downstream_diameter": 100, "price": 4, "length": 300},
    ]
    answer = ask(body)
    main = next(run for run in answer.sizes if run.run == "main")
    assert main.fixed
    assert main.diameter == pytest.approx(160)
    assert not answer.price_complete
    assert "piece-not-priced" in [item.code for item in answer.findings]
    assert main.price == 9 + 4
    east = next(run for run in answer.document["runs"] if run["id"] == "east")
    assert east["join"]["taper_length"] == 300  # a taper lies either way round, and its length is the stock's


@pytest.mark.parametrize("more", [{}, {"rules": {"upper_velocity": "must"}, "limits": {"upper_velocity": 60}}])
def test_a_tree_sized_and_then_fixed_costs_the_same(more):
    body = shop(**more)
    sized = ask(body)
    fixed = body | {"runs": sized.document["runs"], "fixed": [run["id"] for run in sized.document["runs"]]}
    again = ask(fixed)
    assert (again.price, again.price_complete) == (sized.price, True)
    (wye,) = [piece for run in again.sizes for piece in run.pieces if piece.type == "wye"]
    stock = body["stock"] | {"fittings": [one for one in body["stock"]["fittings"] if one["type"] != "wye"]}
    without = ask(fixed | {"stock": stock})
    assert not without.price_complete
    assert without.price == sized.price - wye.price
    assert [item.at for item in without.findings if item.code == "piece-not-priced"] == ["fixed"]
    (kept,) = [piece for run in without.sizes for piece in run.pieces if piece.type == "wye"]
    assert (kept.diameters, kept.price) == (wye.diameters, None)


def tapered(number, taper, **more):
    """Return the shop with a taper in a run, of which one side is to be sized."""
    body = shop(rules={"transport_velocity": "must", "upper_velocity": "must"},
                limits={"transport_velocity": 10, "upper_velocity": 26})  # fmt: skip
    body["runs"][number] |= {"diameter": taper["upstream_diameter"], "fittings": [taper]} | more
    return body


@pytest.mark.parametrize(("first", "number"), [(True, 3), (False, 3)])
def test_a_taper_first_or_last_in_a_run_keeps_its_far_side_and_follows_the_chosen_diameter(first, number):
    far, other = (100, 180) if first else (180, 100)
    taper = {"type": "taper", "upstream_diameter": 100, "downstream_diameter": 180, "length": 999}
    answer = ask(tapered(number, taper, **({} if first else {"fittings": [BEND, taper]})))
    name = ("main", "east", "saw", "planer")[number]
    sized = next(run for run in answer.sizes if run.run == name)
    (run,) = [run for run in answer.document["runs"] if run["id"] == name]
    written = next(fitting for fitting in run["fittings"] if fitting["type"] == "taper")
    sides = [written["upstream_diameter"], written["downstream_diameter"]]
    assert sides == ([far, sized.diameter] if first else [sized.diameter, far])
    assert sized.diameter not in (far, other)
    assert written["length"] == pytest.approx(max(50, 5 * abs(far - sized.diameter)))  # the stock's own, not 999
    assert run["diameter"] == sides[0]
    (piece,) = [piece for piece in sized.pieces if piece.type == "taper"]
    assert piece.diameters == tuple(sides)
    assert float(piece.price) == pytest.approx(max(sides) / 12, abs=0.005)
    assert next(piece.diameters for piece in sized.pieces if piece.type == "duct") == (sized.diameter,)
    for at in sized.states:
        assert 10 <= at.velocity <= 26
    required = ask(answer.document, BALANCE).system.required
    assert required.fan_static_pressure == pytest.approx(answer.fan_static_pressure, rel=1e-9)


def test_a_taper_whose_sides_become_alike_vanishes_and_costs_nothing():
    far = next(run.diameter for run in ask(shop()).sizes if run.run == "planer")
    taper = {"type": "taper", "upstream_diameter": far, "downstream_diameter": 180, "length": 300}
    body = shop()
    body["runs"][3] |= {"diameter": far, "fittings": [taper]}
    answer, plain = ask(body), ask(shop())
    assert "fittings" not in next(run for run in answer.document["runs"] if run["id"] == "planer")
    assert answer.price == plain.price
    assert answer.fan_static_pressure == pytest.approx(plain.fan_static_pressure, rel=1e-12)


def test_a_fixed_run_may_change_its_diameter_between_lengths_of_duct():
    taper = {"type": "taper", "upstream_diameter": 125, "downstream_diameter": 160, "length": 175, "at": 1.5}
    body = shop(fixed=["main"], rules={"upper_velocity": "prefer"}, limits={"upper_velocity": 30})
    body["runs"][0] |= {"diameter": 125, "fittings": [taper]}
    answer = ask(body)
    main = next(run for run in answer.sizes if run.run == "main")
    lengths = {piece.diameters[0]: piece.length for piece in main.pieces if piece.type == "duct"}
    assert lengths == {125: pytest.approx(1.5), 160: pytest.approx(2.5)}
    required = ask(answer.document, BALANCE).system.required
    assert required.fan_static_pressure == pytest.approx(answer.fan_static_pressure, rel=1e-9)
    # 2000 m3/h in 125 mm by hand: 45.3 m/s; in 160 mm 27.6 m/s, below the limit
    (fast,) = [item for item in answer.broken if item.run == "main"]
    assert fast.share == pytest.approx(45.3 / 30 - 1, abs=0.002)


def test_what_is_not_stocked_is_left_out():
    body = shop()
    body["stock"]["gates"] = [{"diameter": 150, "price": 1}]
    body["stock"]["fittings"] = [item for item in body["stock"]["fittings"] if item["type"] != "elbow"]
    body["stock"]["fittings"].append({"type": "elbow", "diameter": 180, "angle": 45, "price": 1})
    size = bores(ask(body))
    assert size["saw"] == size["planer"] == pytest.approx(150)
    assert size["main"] == pytest.approx(180)


def wyes_of(*sizes, **more):
    """Return the shop with wyes of only these diameters (straight and outlet, branch) in the stock."""
    body = shop(**more)
    others = [item for item in body["stock"]["fittings"] if item["type"] != "wye"]
    wyes = [{"type": "wye", "diameter": one, "branch_diameter": two, "angle": 45, "price": 7} for one, two in sizes]
    body["stock"]["fittings"] = others + wyes
    return body


def test_where_a_wye_is_not_stocked_one_of_the_next_size_is_taken_as_a_run_of_no_length():
    answer = ask(wyes_of((150, 100), (180, 100)))
    plain = ask(shop())
    # all of 100 mm by the first test: the stock's 150 x 100 wye there needs a taper before it and one after it
    assert set(bores(answer).items()) == {*bores(plain).items(), ("main-wye", 150)}
    runs = {run["id"]: run for run in answer.document["runs"]}
    assert runs["main-wye"]["into"] == "main"
    assert (runs["main-wye"]["length"], runs["main-wye"]["diameter"]) == (0, 150)
    assert runs["main-wye"]["join"]["taper_length"] == 250  # five times the difference, as the stock's tapers
    assert runs["east"]["into"] == runs["saw"]["into"] == "main-wye"
    assert runs["east"]["join"]["taper_length"] == 250
    told = {run.run: run for run in answer.sizes}
    assert [run.run for run in answer.sizes if run.gained] == ["main-wye"]
    kinds = [(piece.type, piece.diameters, piece.price) for piece in told["main-wye"].pieces]
    assert kinds == [("wye", (150, 100, 150), 7), ("taper", (100, 150), 12.5)]
    assert ("taper", (150, 100)) in [(piece.type, piece.diameters) for piece in told["main"].pieces]
    assert answer.price == sum(run.price for run in answer.sizes) == plain.price - 20 + 7 + 25
    required = ask(answer.document, BALANCE).system.required
    assert required.fan_static_pressure == pytest.approx(answer.fan_static_pressure, rel=1e-9)
    (note,) = [item for item in answer.findings if item.code == "wye-of-next-size"]
    assert note.run == "main-wye"
    assert "2 changes of size" in note.message
    assert note.at == f"stock.fittings[{len(shop()['stock']['fittings']) - 15}]"  # behind all but the 15 wyes
    parts = [need.type for need in ask(answer.document, PARTS_LIST).requirement]
    assert parts.count("taper") == 2


def test_a_branch_changes_size_before_a_wye_whose_branch_is_wider():
    answer = ask(wyes_of((100, 150), (125, 125), (150, 150)))
    # a 100 x 150 wye narrows its branch, so the next size is 125 x 125: three tapers
    assert bores(answer)["main-wye"] == 125
    saw = next(run for run in answer.document["runs"] if run["id"] == "saw")
    taper = saw["fittings"][-1]
    assert (taper["type"], taper["downstream_diameter"], taper["length"]) == ("taper", 125, 125)
    assert [piece.type for piece in next(run for run in answer.sizes if run.gained).pieces].count("taper") == 1
    required = ask(answer.document, BALANCE).system.required
    assert required.fan_static_pressure == pytest.approx(answer.fan_static_pressure, rel=1e-9)


def test_a_wye_of_the_next_size_is_judged_by_the_rules_as_any_run():
    body = wyes_of((150, 100), rules={"no_narrowing": "must"})
    narrowing = ask(body)
    assert narrowing.outcome == "sized"
    assert all(run.diameter >= 150 for run in narrowing.sizes if run.run == "main")  # never from 150 into less
    unsaid = ask(wyes_of((150, 100)) | {"rules": {name: rule for name, rule in OFF.items() if name != "no_narrowing"}})
    assert all(item.run != "main-wye" for item in unsaid.broken)
    only = wyes_of((150, 100), fixed=["main"])
    only["rules"] = {name: rule for name, rule in OFF.items() if name != "no_narrowing"}
    (place,) = ask(only).broken
    assert (place.rule, place.run, place.share) == ("no_narrowing", "main-wye", pytest.approx(1 / 3))


def test_a_wye_of_the_next_size_is_solved_with_the_fan():
    states = [{"name": "both", "open": ["saw", "planer"]}, {"name": "saw", "open": ["saw"]}]
    answer = ask(wyes_of((150, 100), fixed=["main"], collector=fan(4000), flows="fan", states=states))
    assert answer.outcome == "sized"
    assert "main-wye" in bores(answer)
    told = ask(answer.document, OPERATING_POINT)
    assert told.system.flow == pytest.approx(answer.states[0].operating_flow, rel=1e-9)
    assert ask(wyes_of((150, 100), fixed=["main"], collector=fan(4000)) | {"states": []}).pairs


def test_flows_of_a_state_win_over_those_of_the_hoods():
    plain = ask(shop(states=[{"name": "a", "open": ["saw"]}]))
    more = ask(shop(states=[{"name": "a", "open": ["saw"], "flows": {"saw": 900}}]))
    assert plain.states[0].flow == pytest.approx(700)
    assert more.states[0].flow == pytest.approx(900)
    assert more.fan_static_pressure > plain.fan_static_pressure


def test_preferred_rules_come_first_and_are_counted_by_run_and_state():
    states = [{"name": "both", "open": ["saw", "planer"]}, {"name": "saw", "open": ["saw"]}]
    body = shop(states=states, rules={"transport_velocity": "prefer"}, limits={"transport_velocity": 30})
    answer = ask(body)
    assert answer.preferred_broken == len(answer.broken)
    assert {item.rule for item in answer.broken} == {"transport_velocity"}
    low = [(run.run, state.state) for run in answer.sizes for state in run.states if 0 < state.velocity < 30]
    assert sorted((item.run, item.state) for item in answer.broken) == sorted(low)
    assert "preferred-rule-broken" in [item.code for item in answer.findings]


def test_no_solution_names_the_fewest_rules_and_dropping_them_helps():
    body = shop(rules={"transport_velocity": "must", "pressure_available": "must", "no_narrowing": "must"},
                limits={"transport_velocity": 22, "pressure_available": 2000})  # fmt: skip
    answer = ask(body)
    assert (answer.outcome, answer.proof) == ("no-solution", "exact")
    drops = [remedy for remedy in answer.remedies if remedy.drop]
    assert {remedy.drop for remedy in drops} == {("transport_velocity",), ("pressure_available",)}
    for remedy in drops:
        assert {item.rule for item in remedy.broken} == set(remedy.drop)
        rules = body["rules"] | dict.fromkeys(remedy.drop, "off")
        limits = {name: limit for name, limit in body["limits"].items() if name not in remedy.drop}
        assert ask(body | {"rules": rules, "limits": limits}).outcome == "sized"
    assert ask(shop(rules={"no_narrowing": "must"})).outcome == "sized"
    assert "no-size-fits" in [item.code for item in answer.findings]
    assert answer.tried


def test_no_solution_names_a_bore_to_stock_and_stocking_it_helps():
    rules = {"transport_velocity": "must", "upper_velocity": "must"}
    limits = {"transport_velocity": 17, "upper_velocity": 21}
    runs = [
        {"id": "a", "into": None, "diameter": 100, "length": 3, "duct": SPIRAL, "hood": {"flow": 900, "entry": ENTRY}}
    ]
    body = {"units": "metric", "runs": runs, "dust": "shavings", "rules": OFF | rules, "limits": limits}
    answer = ask(body | {"stock": stock((100, 160))})
    assert answer.outcome == "no-solution"
    (remedy,) = [remedy for remedy in answer.remedies if remedy.add_diameters]
    # 900 m3/h by hand: 17 to 21 m/s in 137 to 123 mm; of the nominal diameters only 125 mm lies between
    assert remedy.add_diameters == (pytest.approx(125),)
    assert ask(body | {"stock": stock((100, 125, 160))}).outcome == "sized"
    named = ask(body | {"stock": stock((100, 160)), "trade_sizes": [112, 125, 140]})
    assert [remedy.add_diameters for remedy in named.remedies if remedy.add_diameters] == [(pytest.approx(125),)]


def test_no_solution_names_a_nominal_bore_beyond_those_of_the_stock():
    runs = [
        {"id": "a", "into": None, "diameter": 100, "length": 3, "duct": SPIRAL, "hood": {"flow": 900, "entry": ENTRY}}
    ]
    rules = OFF | {"upper_velocity": "must"}
    body = {"units": "metric", "runs": runs, "dust": "shavings", "rules": rules, "limits": {"upper_velocity": 21}}
    answer = ask(body | {"stock": stock((80, 100))})
    # 900 m3/h by hand: 21 m/s need 123 mm, which no stock of 80 and 100 mm lies about
    added = [remedy.add_diameters[0] for remedy in answer.remedies if remedy.add_diameters]
    assert added[0] == pytest.approx(125)
    assert len(added) == 3
    assert "stock one of 125 mm" in answer.findings[0].suggestion.text
    assert ask(body | {"stock": stock((80, 100, 125))}).outcome == "sized"


@pytest.mark.parametrize("before", [[], [{"type": "taper", "upstream_diameter": 125, "downstream_diameter": 100,
                                          "length": 125}]])  # fmt: skip
def test_a_change_before_a_wider_wye_stands_behind_all_duct(before):
    body = wyes_of((180, 150), fixed=["main"])
    body["runs"][2] |= {"fittings": before, "diameter": 125 if before else 100}
    body["stock"]["ducts"] = [item for item in body["stock"]["ducts"] if item["diameter"] <= 100] + [
        {"diameter": 180, "price_per_length": 1}
    ]
    answer = ask(body)
    saw = next(run for run in answer.document["runs"] if run["id"] == "saw")
    assert saw["fittings"][-1]["at"] == saw["length"]
    size = next(run for run in answer.sizes if run.run == "saw")
    (state, *_) = [one for one in size.states if one.flow > 0]
    # what is told of the run is its flow through its own diameter; the engine's answer to the document says the same
    assert state.velocity == pytest.approx(state.flow / 3600 / (math.pi / 4 * (size.diameter / 1000) ** 2))
    assert all(item.code != "change-place-assumed" for item in answer.findings)
    told = {run.id: run for run in ask(answer.document, BALANCE).runs}
    assert told["saw"].velocity == pytest.approx(state.velocity)


def test_no_solution_names_the_pieces_to_stock():
    body = shop()
    body["stock"]["fittings"] = [item for item in body["stock"]["fittings"] if item["type"] != "wye"]
    answer = ask(body)
    assert answer.outcome == "no-solution"
    (remedy,) = [remedy for remedy in answer.remedies if remedy.add_pieces]
    assert [piece.type for piece in remedy.add_pieces] == ["wye"]
    out, branch = remedy.add_pieces[0].diameters[0], remedy.add_pieces[0].diameters[1]
    wye = {"type": "wye", "diameter": round(out), "branch_diameter": round(branch), "angle": 45, "price": 1}
    body["stock"]["fittings"].append(wye)
    assert ask(body).outcome == "sized"


def test_runs_that_meet_without_gates_need_like_pressures():
    body = shop(rules={"meeting_without_gates": "must"}, limits={"meeting_tolerance": 0.15})
    body["runs"][2]["friction_multiplier"] = 2.3  # of the saw's hose, so that both sides can need alike
    answer = ask(body)
    assert (answer.outcome, answer.proof) == ("sized", "exact")
    for branch in ask(answer.document, BALANCE).branches:
        assert branch.governing_pressure - branch.pressure <= 0.15 * branch.governing_pressure * (1 + 1e-6)
    assert answer.price >= ask(shop()).price


@pytest.mark.parametrize("junctions", ["flow-ratio", "flow-ratio-third-edition", "entry-angle", "none"])
def test_each_junction_model_is_that_of_balance(junctions):
    answer = ask(shop(model={"junctions": junctions}, objective="fan-pressure"))
    required = ask(answer.document, BALANCE).system.required
    assert required.fan_static_pressure == pytest.approx(answer.fan_static_pressure, rel=1e-10)


def chain(machines):
    """Return an invented main with so many machines, without rules that thin out the choices."""
    runs = []
    for number in range(machines):
        into = f"main{number - 1}" if number else None
        straight = {"join": {"type": "straight"}} if number else {}
        runs.append({"id": f"main{number}", "into": into, "length": 1 + number % 3} | straight)
        hood = {"flow": 400 + 150 * (number % 4), "entry": ENTRY}
        branch = {"type": "branch", "angle": 45}
        runs.append(
            {"id": f"m{number}", "into": f"main{number}", "length": 2 + number % 2, "hood": hood, "join": branch}
        )
    end = {"id": "end", "into": f"main{machines - 1}", "length": 2, "hood": {"flow": 500, "entry": ENTRY}}
    runs.append(end | {"join": {"type": "straight"}})
    runs = [{"duct": SPIRAL, "diameter": 100} | run for run in runs]
    body = {"units": "metric", "dust": "shavings", "runs": runs, "stock": stock()}
    return body | {"rules": OFF | {"pressure_available": "must"}, "limits": {"pressure_available": 4000}}


def test_past_the_frontier_limit_the_answer_has_a_gap_and_a_bound_below_the_best():
    exact, cut = ask(chain(9)), ask(chain(9) | {"frontier_limit": 10})
    assert (exact.outcome, exact.proof, cut.outcome, cut.proof) == ("sized", "exact", "sized", "gap")
    assert cut.lower_bound.price <= exact.price <= cut.price
    assert "sizing-not-proved" in [item.code for item in cut.findings]
    assert exact.lower_bound.price == exact.price


def test_where_the_fan_decides_the_rules_hold_at_its_operating_points():
    states = [{"name": "both", "open": ["saw", "planer"]}, {"name": "saw", "open": ["saw"]}]
    body = shop(collector=fan(4000), flows="fan", states=states, rules={"design_flow": "must", "no_narrowing": "must"})
    answer = ask(body)
    assert (answer.outcome, answer.proof) == ("sized", "gap")
    assert answer.lower_bound.price <= answer.price
    assert answer.lower_bound.fan_static_pressure <= answer.fan_static_pressure
    for state in states:
        tree = copy.deepcopy(answer.document)
        for run in tree["runs"]:
            if "gate" in run:
                run["gate"]["opening"] = 1.0 if run["id"] in state["open"] else 0.0
        told = ask(tree, OPERATING_POINT)
        assert all(hood.flow >= hood.design_flow * (1 - 1e-6) for hood in told.hoods if hood.open)
    size = bores(answer)
    assert size["main"] >= max(size["east"], size["saw"]) - 1e-9


def test_a_fan_needs_no_design_flows_where_no_rule_asks_for_them():
    body = shop(collector=fan(), flows="fan", rules={"transport_velocity": "must"}, limits={"transport_velocity": 15})
    for run in body["runs"]:
        if "hood" in run:
            run["hood"] = {"entry": ENTRY}
    answer = ask(body)
    assert answer.outcome == "sized"
    assert all(state.velocity >= 15 * (1 - 1e-6) for run in answer.sizes for state in run.states)


@pytest.mark.parametrize("flows", ["fan", "design"])
def test_a_fan_too_weak_names_the_rule_that_fails_and_a_fan_that_mends_it(flows):
    body = shop(collector=fan(300), flows=flows, rules={"design_flow": "must"})
    answer = ask(body)
    assert answer.outcome == "no-solution"
    assert [remedy.drop for remedy in answer.remedies if remedy.drop] == [("design_flow",)]
    (needed,) = [remedy.fan for remedy in answer.remedies if remedy.fan]
    assert [duty.flow for duty in needed] == pytest.approx([2000])
    easiest = ask(shop(collector=fan(300), objective="fan-pressure"))
    assert needed[0].fan_static_pressure == pytest.approx(easiest.fan_static_pressure, rel=1e-9)
    (item,) = [item for item in answer.findings if item.code == "no-size-fits"]
    assert "a fan that gives" in item.suggestion.text
    if flows == "design":  # by hand: what it needs over what the fan has at 2000 m3/h, to the tenth of a percent
        assert (
            f"by {100 * (easiest.states[0].fan_static_pressure / easiest.states[0].available - 1):.0f}" in item.message
        )
    assert "may not be the best" not in item.message
    assert "sizing-not-proved" not in [item.code for item in answer.findings]
    # such a fan mends it
    top = needed[0].fan_static_pressure * 1.0001
    points = [{"flow": 0, "pressure": top}, {"flow": 2000, "pressure": top}, {"flow": 3000, "pressure": 0}]
    body["collector"] = {"fan": {"curve": points, "rated_as": "fan-static", "interpolation": "linear"}}
    assert ask(body | {"flows": "design"}).outcome == "sized"


def test_a_stock_that_cannot_build_the_tree_names_what_to_buy_whatever_decides_the_flow():
    body = shop(collector=fan(), flows="fan")
    body["stock"]["fittings"] = [item for item in body["stock"]["fittings"] if item["type"] != "wye"]
    answer = ask(body)
    assert answer.outcome == "no-solution"
    assert [piece.type for remedy in answer.remedies for piece in remedy.add_pieces] == ["wye"]
    (item,) = [item for item in answer.findings if item.code == "no-size-fits"]
    assert "a wye of " in item.suggestion.text
    assert "cannot be built" in item.message


def test_a_curve_that_ends_too_early_for_each_choice_says_so():
    short = [{"flow": 0, "pressure": 900}, {"flow": 200, "pressure": 890}]
    answer = ask(tree(collector={"fan": {"curve": short, "rated_as": "fan-static"}}))
    (item,) = [item for item in answer.findings if item.code == "no-size-fits"]
    assert "curve ends" in item.message
    assert "points" in item.suggestion.text


def test_a_fan_that_falls_short_is_told_where_no_rule_asks():
    answer = ask(shop(collector=fan(300)))
    assert "fan-falls-short" in [item.code for item in answer.findings]


def test_the_start_does_not_matter():
    wild = shop(rules={"no_narrowing": "must"})
    for run, size in zip(wild["runs"], (30, 500, 900, 77), strict=True):
        run["diameter"] = size
    one, two = ask(wild), ask(shop(rules={"no_narrowing": "must"}))
    assert (one.price, one.fan_static_pressure) == (two.price, two.fan_static_pressure)


def test_every_number_of_the_answer_is_finite():
    answer = msgspec.to_builtins(ask(shop(collector=fan(), rules={"transport_velocity": "prefer"})))

    def walk(data):
        if isinstance(data, dict):
            return all(map(walk, data.values()))
        if isinstance(data, list | tuple):
            return all(map(walk, data))
        return not isinstance(data, float) or math.isfinite(data)

    assert walk(answer)


def _run(number, **change):
    body = shop()
    body["runs"][number] |= change
    return body


def _stock(**change):
    return shop(stock=stock() | change)


SAME = {"diameter": "100 mm", "price": 3}
UNKNOWN = {"diameter": 100, "duct": "spiral", "price_per_length": 1}
OF_HOSE = {"diameter": 100, "duct": HOSE, "price_per_length": 1}
WYE = {"type": "wye", "diameter": 100, "price": 1}
TAPERED = {"type": "taper", "upstream_diameter": 100, "downstream_diameter": 125, "length": 200}
BEND = {"type": "elbow", "angle": 45, "radius_ratio": 1.5}
TAPER = {"type": "taper", "diameter": 100, "downstream_diameter": 125, "price": 3}


@pytest.mark.parametrize(
    ("body", "path", "code"),
    [
        (_stock(ducts=[]), "stock.ducts", "stock-empty"),
        (_stock(gates=[SAME, SAME]), "stock.gates[1]", "duplicate-size"),
        (_stock(fittings=[TAPER, TAPER | {"price": 4}]), "stock.fittings[1]", "duplicate-size"),
        (_stock(ducts=[UNKNOWN]), "stock.ducts[0].duct", "unknown-word"),
        (_stock(ducts=[OF_HOSE]), "runs[0].duct", "duct-not-stocked"),
        (_stock(fittings=[WYE]), "stock.fittings[0].angle", "parameter-missing"),
        (_stock(fittings=[TAPER | {"downstream_diameter": 100}]), "stock.fittings[0].downstream_diameter", "no-change"),
        (_stock(fittings=[TAPER | {"length": 0}]), "stock.fittings[0].length", "outside-range"),
        (shop(fixed=["nobody"]), "fixed[0]", "unknown-id"),
        (shop(fixed=["saw", "saw"]), "fixed[1]", "duplicate-id"),
        (shop(states=[{"name": "a"}, {"name": "a"}]), "states[1].name", "duplicate-name"),
        (shop(states=[{"name": "a", "open": ["nobody"]}]), "states[0].open[0]", "unknown-machine"),
        (shop(states=[{"name": "a", "flows": {"main": 5}}]), "states[0].flows.main", "no-hood"),
        (shop(states=[{"name": "a", "flows": {"nobody": 5}}]), "states[0].flows.nobody", "unknown-run"),
        (shop(states=[{"name": "a", "open": []}]), "states[0]", "all-gates-shut"),
        (_run(2, hood={"entry": ENTRY}), "runs[2].hood.flow", "design-flow-missing"),
        (_run(2, leakage_class="unsealed"), "runs[2].leakage_class", "unknown-word"),
        (shop(limits={"transport_velocity": 15}), "limits.transport_velocity", "limit-not-followed"),
        (shop(limits={"upper_velocity": 25}), "limits.upper_velocity", "limit-not-followed"),
        (shop(limits={"pressure_available": 900}), "limits.pressure_available", "limit-not-followed"),
        (shop(limits={"meeting_tolerance": 0.1}), "limits.meeting_tolerance", "limit-not-followed"),
        (_run(1, fittings=[TAPERED | {"at": 1}]), "runs[1].fittings[0]", "taper-in-free-run"),
        (_run(1, length=0, fittings=[BEND, TAPERED, BEND]), "runs[1].fittings[1]", "taper-in-free-run"),
        (_run(0, duct="spiral"), "runs[0].duct", "duct-not-stocked"),
        (shop(rules={"pressure_available": "must"}), "rules.pressure_available", "pressure-missing"),
        (shop(rules={"transport_velocity": "must"}, dust=None), "rules.transport_velocity", "dust-missing"),
        (shop(rules={"meeting_without_gates": "must"}), "limits.meeting_tolerance", "parameter-missing"),
        (shop(flows="fan"), "collector.fan", "fan-missing"),
        (shop(flows="fan", collector=fan(), rules={"meeting_without_gates": "must"}, limits={"meeting_tolerance": 0.1}),
         "rules.meeting_without_gates", "not-for-this-question"),
        (shop(explain=True), "explain", "not-for-this-question"),
        (shop(uncertainty={}), "uncertainty", "not-for-this-question"),
        (shop(resolved=True), "resolved", "not-for-this-question"),
        (shop(collector=fan(rated_as="fan-total")), "collector.fan.outlet_diameter", "parameter-missing"),
    ],
)  # fmt: skip
def test_bad_requests_are_refused_with_their_path(body, path, code):
    assert refused(body).get(path) == code


def test_every_fault_is_told_at_once():
    body = shop(fixed=["nobody"], rules={"meeting_without_gates": "must"})
    body["stock"]["ducts"] = []
    assert set(refused(body)) == {"fixed[0]", "limits.meeting_tolerance", "stock.ducts"}


@pytest.mark.parametrize(
    "change",
    [
        {"stock": stock() | {"gates": [{"diameter": 100, "price": -1}]}},
        {"stock": stock() | {"ducts": [{"diameter": 100, "price_per_length": -0.01}]}},
        {"rules": {"no_narrowing": "perhaps"}},
        {"objective": "beauty"},
        {"frontier_limit": 0},
    ],
)
def test_what_is_against_the_schema_is_no_request(change):
    with pytest.raises(msgspec.ValidationError):
        msgspec.convert(shop(**change), SIZING.request)


def wide_stock(sizes):
    """Return a shop of two machines and a stock of ducts alone in so many diameters."""
    body = tree()
    stiff = [run | {"duct": SPIRAL} for run in body["runs"]]
    body["runs"] = [{name: run[name] for name in run if name != "stretch"} for run in stiff]
    body["stock"] = {"ducts": [{"diameter": 80 + 5 * number, "duct": SPIRAL} for number in range(sizes)]}
    return body


def many_states(number):
    """Return so many states of the two machines."""
    opened = (["saw"], ["planer"], ["saw", "planer"])
    return [{"name": f"{at}", "open": opened[at % 3]} for at in range(number)]


def test_sets_of_diameters_times_states_have_a_limit_told_with_its_path():
    """At 40 diameters two runs meet in a third in 64,000 sets: 100 states of those pass 3,000,000, 20 do not."""
    with pytest.raises(Refusal) as refusal:
        ask(wide_stock(40) | {"states": many_states(100)})
    assert [(fault.path, fault.code) for fault in refusal.value.faults] == [("states", "too-many-sets")]
    assert ask(wide_stock(40) | {"states": many_states(20)}).outcome == "sized"
    with pytest.raises(msgspec.ValidationError):
        msgspec.convert(tree(states=many_states(101)), SIZING.request)


def row_of_machines(number, sizes):
    """Return so many machines behind gates along a main duct, and a stock of ducts alone in so many diameters."""
    runs = [{"id": "main", "into": None, "length": 3, "diameter": 200}]
    for at in range(number):
        into, last = ("main" if at == 0 else f"main {at}"), at == number - 1
        if not last:
            straight = {"join": {"type": "straight"}}
            runs.append({"id": f"main {at + 1}", "into": into, "length": 3, "diameter": 150} | straight)
        join = {"type": "straight"} if last else {"type": "branch", "angle": 45}
        hood = {"join": join, "hood": {"flow": 800, "entry": {"type": "plain-opening"}}, "gate": {"opening": 1}}
        runs.append({"id": f"machine {at}", "into": into, "length": 3, "diameter": 100} | hood)
    ducts = [{"diameter": 80 + 10 * at, "duct": SPIRAL} for at in range(sizes)]
    rules = {"transport_velocity": "prefer", "upper_velocity": "prefer"}
    body = {"units": "metric", "dust": "sawdust", "flows": "design", "rules": rules, "stock": {"ducts": ducts}}
    return body | {"limits": {"pressure_available": 3000}, "runs": [run | {"duct": SPIRAL} for run in runs]}


def test_who_names_no_states_is_sized_for_as_many_sets_whatever_his_machines():
    """Forty machines are forty states: 85,000 sets of 13 diameters, 3,400,000 with the states."""
    assert ask(row_of_machines(40, 13)).outcome == "sized"


def test_as_many_machines_as_take_more_memory_than_there_is_are_told_to_name_states():
    """Three hundred machines by seven diameters took 2 GB before the limit of time."""
    with pytest.raises(Refusal) as refusal:
        ask(row_of_machines(300, 7))
    (fault,) = refusal.value.faults
    assert (fault.path, fault.code) == ("states", "too-many-sets")
    assert "one for each machine; name those" in fault.detail


def test_more_states_change_nothing_where_they_are_the_same_ones_again():
    few, many = (ask(tree(states=many_states(number))) for number in (3, 100))
    assert (few.outcome, few.proof, few.price) == (many.outcome, many.proof, many.price)
    assert bores(few) == bores(many)
    assert [state.state for state in many.states] == [str(at) for at in range(100)]
    told = {state.state: state.fan_static_pressure for state in many.states}
    assert all(told[str(at)] == pytest.approx(told[str(at % 3)], rel=1e-12) for at in range(100))


def starved_stock():
    """Return a stock of ducts alone."""
    return {"ducts": stock()["ducts"]}


def test_left_out_states_are_each_machine_alone_and_pairs_are_told():
    answer = ask(tree())
    assert (answer.outcome, answer.proof) == ("sized", "exact")
    assert [state.state for state in answer.states] == ["saw", "planer"]
    assert [state.flow for state in answer.states] == pytest.approx([700, 1300])
    (pair,) = answer.pairs
    assert pair.machines == ("saw", "planer")
    assert pair.flow == pytest.approx(2000)
    # 700 m3/h of the saw alone move at 24.8 m/s in 100 mm and at 15.8 m/s in 125 mm (by hand), too slow for shavings;
    # the upper velocity is given up before that, and both together say so too
    assert bores(answer)["main"] == pytest.approx(100)
    assert ("main", "upper_velocity") in [(item.run, item.rule) for item in pair.broken]
    assert {item.weight for item in pair.broken} == {"judged"}
    named = ask(tree(states=[{"name": "saw", "open": ["saw"]}]))
    assert named.pairs == ()


def test_left_out_rules_are_given_up_in_order_and_refuse_nothing():
    """Transport is kept before upper velocity; what cannot be kept is told with the share by which it is missed."""
    answer = ask(tree())
    assert answer.preferred_broken == len(answer.broken)
    assert {item.weight for item in answer.broken} <= {"trade"}
    speed = {(run.run, at.state): at.velocity for run in answer.sizes for at in run.states}
    for item in answer.broken:
        if item.rule == "transport_velocity":
            assert item.share == pytest.approx(1 - speed[item.run, item.state] / 17.5, abs=0.2)
    off = ask(tree(rules={"upper_velocity": "off"}))
    assert "upper_velocity" not in {item.rule for item in (*off.broken, *off.pairs[0].broken)}
    hopeless = ask(tree(limits={"transport_velocity": 60, "pressure_available": 100}))
    assert hopeless.outcome == "sized"
    assert {"transport_velocity", "pressure_available"} & {item.rule for item in hopeless.broken}
    pressure = [item for item in hopeless.broken if item.rule == "pressure_available"]
    for item in pressure:
        need = next(state.fan_static_pressure for state in answer.states if state.state == item.state)
        assert item.share is not None
        assert need > 0


def test_a_share_is_that_by_which_the_limit_is_missed():
    answer = ask(shop(rules={"transport_velocity": "prefer"}, limits={"transport_velocity": 60}))
    speed = {run.run: run.states[0].velocity for run in answer.sizes}
    assert answer.broken
    for item in answer.broken:
        assert item.share == pytest.approx(1 - speed[item.run] / 60)
    none = ask(shop(rules={"transport_velocity": "must"}, limits={"transport_velocity": 60}))
    assert none.outcome == "no-solution"
    (remedy,) = [remedy for remedy in none.remedies if remedy.drop]
    worst = max(item.share for item in remedy.broken)
    (finding,) = [item for item in none.findings if item.code == "no-size-fits"]
    assert f"by {100 * worst:.1f} %" in finding.message
    assert "sizing-not-proved" not in [item.code for item in none.findings]


def test_where_a_fan_is_given_it_decides_unless_asked_otherwise():
    by_fan = ask(tree(collector=fan(4000)))
    given = ask(tree(collector=fan(4000), flows="design"))
    assert [state.operating_point for state in by_fan.states] == ["operating-point"] * 2
    assert [state.flow for state in given.states] == pytest.approx([700, 1300])
    assert [state.flow for state in by_fan.states] != pytest.approx([700, 1300])
    assert by_fan.outcome == "sized"
    assert by_fan.pairs[0].operating_point == "operating-point"
    assert by_fan.pairs[0].most_starved_hood in ("saw", "planer")


def test_ducts_alone_are_stock_enough_and_without_a_stock_the_nominal_diameters_serve():
    answer = ask(tree(stock=starved_stock()))
    assert answer.outcome == "sized"
    assert not answer.price_complete
    lengths = {"main": 4, "east": 3, "saw": 1.8 / 0.9, "planer": 2.4}
    each = {run.run: run.diameter / (5 if run.run == "saw" else 10) for run in answer.sizes}
    assert float(answer.price) == pytest.approx(sum(each[run] * lengths[run] for run in lengths))
    kinds = {piece.type: piece.price for run in answer.sizes for piece in run.pieces if piece.type != "duct"}
    assert set(kinds) >= {"elbow", "wye", "gate"}
    assert set(kinds.values()) == {None}
    body = tree()
    del body["stock"]
    free = ask(body)
    assert (free.outcome, free.price, free.price_complete) == ("sized", None, False)
    assert "piece-not-priced" in [item.code for item in free.findings]
    assert ask(free.document, BALANCE).system.required.fan_static_pressure > 0


def test_no_machine_is_sized_below_its_port_nor_its_own_flow():
    body = shop(states=[{"name": "saw", "open": ["saw"]}])
    body["runs"][3]["hood"]["port_diameter"] = 150
    answer = ask(body)
    size = bores(answer)
    assert size["planer"] == pytest.approx(150)  # its port
    # never open, and yet 1300 m3/h must pass east: at the upper velocity of shavings that is 127 mm at 28.5 m/s
    # (the catalogue's), so no narrower than 125 to 150 mm
    assert size["east"] >= 125 * (1 - 1e-9)
    assert size["saw"] == pytest.approx(100)


def test_a_pair_beyond_the_fans_curve_says_so():
    flat = [{"flow": 0, "pressure": 600}, {"flow": 900, "pressure": 500}]
    body = tree(collector={"fan": {"curve": flat, "rated_as": "fan-static"}}, fixed=["main", "east", "saw", "planer"])
    for run, diameter in zip(body["runs"], (200, 200, 100, 100), strict=True):
        run["diameter"] = diameter
    (pair,) = ask(body).pairs
    assert (pair.operating_point, pair.broken) == ("beyond-fan-curve", ())


def test_runs_behind_shut_gates_that_leak_are_not_judged():
    body = tree(collector=fan(6000), limits={"transport_velocity": 15}, rules={"transport_velocity": "must"})
    for run in body["runs"]:
        if "gate" in run:
            run["gate"]["leakage"] = 0.01
    answer = ask(body)
    assert answer.outcome == "sized"
    for run in answer.sizes:
        for at in run.states:
            if at.state == run.run or run.run == "main" or (run.run, at.state) == ("east", "planer"):
                assert at.velocity >= 15 * (1 - 1e-6)


@pytest.mark.parametrize(
    "wall", [{"leakage_class": "round-unsealed"}, {"leak": {"coefficient": 3e-5, "exponent": 0.65}}]
)
def test_leaks_are_allowed_for_and_the_engine_leaks_no_more(wall):
    body = shop(rules={"transport_velocity": "must", "upper_velocity": "prefer"},
                limits={"transport_velocity": 15, "upper_velocity": 30},
                states=[{"name": "both", "open": ["saw", "planer"]}, {"name": "saw", "open": ["saw"]}])  # fmt: skip
    tight = ask(copy.deepcopy(body))
    for run in body["runs"]:
        run |= wall
    answer = ask(body)
    assert (answer.outcome, answer.proof) == ("sized", "exact")
    assert all(state.leak_allowance is None for state in tight.states)
    for state, flow in zip(answer.states, (2000, 700), strict=True):
        assert state.leak_allowance > 0.001 * flow
        assert state.flow == pytest.approx(flow + state.leak_allowance)
        assert state.engine_fan_static_pressure <= state.fan_static_pressure * (1 + 1e-9)
        assert state.engine_fan_static_pressure == pytest.approx(state.fan_static_pressure, rel=0.05)
        document = copy.deepcopy(answer.document)
        for run in document["runs"]:
            if "gate" in run:
                run["gate"]["opening"] = 1.0 if run["id"] in state.state or state.state == "both" else 0.0
        told = ask(document, BALANCE)
        assert told.system.flow - flow <= state.leak_allowance * (1 + 1e-6)
        assert told.system.flow - flow >= 0.9 * state.leak_allowance


def test_a_class_and_its_resolved_numbers_are_sized_alike():
    first = shop(rules={"transport_velocity": "must"}, limits={"transport_velocity": 15})
    for run in first["runs"]:
        run["leakage_class"] = "round-unsealed"
    for item in first["stock"]["ducts"]:
        item.pop("duct", None)  # walls are numbers in a resolved document
    first["stock"]["ducts"] = first["stock"]["ducts"][: len(SIZES)]
    asked = {name: first[name] for name in ("stock", "rules", "limits", "flows", "states")}
    start = ask(first).document
    resolved = msgspec.to_builtins(ask(start | {"resolved": True}, BALANCE).resolved)
    assert all("leak" in run for run in resolved["runs"])
    numbers = {name: value for name, value in resolved.items() if name in start}
    one, other = ask(start | asked), ask(numbers | asked)
    assert bores(one) == pytest.approx(bores(other))  # not the price: a resolved wall is no hose, sold at full stretch
    for here, there in zip(one.states, other.states, strict=True):
        assert here.leak_allowance == pytest.approx(there.leak_allowance, rel=1e-6)
        assert here.fan_static_pressure == pytest.approx(there.fan_static_pressure, rel=1e-6)


@pytest.mark.parametrize("flows", [{"flows": "design"}, {"flows": "fan", "collector": fan()}])
def test_a_run_below_its_port_for_want_of_stock_is_told(flows):
    """The contract: no machine is sized below its port and its own design flow, open in a state or not."""

    def told(body):
        found = [item for item in ask(body).findings if item.code == "too-narrow-for-machine"]
        return [(item.run, item.value, item.limit) for item in found]

    wide = shop(**flows)
    assert told(wide) == []
    wide["runs"][3]["hood"]["port_diameter"] = 250
    assert told(wide) == [("planer", pytest.approx(200), pytest.approx(250))], "the widest in stock is 200 mm"
    assert told(wide | {"fixed": ["planer"]}) == [], "a run that the caller fixed is the caller's own"


def test_no_bore_below_the_port_is_taken_of_the_nominal_ones_though_air_is_slow_in_it():
    """500 m3/h move at 20 m/s in 94 mm; in the port's 200 mm at 4.4 m/s, which is told."""
    body = tree()
    del body["stock"]
    body["runs"][3]["hood"] |= {"port_diameter": 200, "flow": 500}
    answer = ask(body)
    assert bores(answer)["planer"] == 200
    codes = {(item.code, item.run) for item in answer.findings}
    assert ("below-transport-velocity", "planer") in codes
    assert not any(code == "too-narrow-for-machine" for code, _ in codes)


def test_a_run_too_narrow_for_a_machine_that_no_state_opens_is_told():
    """At most 28 m/s for shavings (catalogue, DGUV 209-044): 4000 m3/h ask for sqrt(4 q / (pi v)) = 224.8 mm."""
    body = shop(states=[{"name": "saw", "open": ["saw"]}])
    body["runs"][3]["hood"] |= {"flow": 4000}
    found = {item.run: item for item in ask(body).findings if item.code == "too-narrow-for-machine"}
    least = 1000 * math.sqrt(4 * 4000 / 3600 / (math.pi * 28))
    assert set(found) == {"planer", "east"}
    for item in found.values():
        assert (item.value, item.limit) == (pytest.approx(200), pytest.approx(least))
        assert item.bound == "minimum"
        assert item.unit == "mm"


@pytest.mark.parametrize(("preset", "sizes"), [("metric", range(50, 801, 5)), ("us", [n / 4 for n in range(8, 121)])])
def test_bores_come_back_as_the_caller_wrote_them(preset, sizes):
    for size in sizes:
        hood = {"flow": 3600 if preset == "metric" else 2000, "entry": ENTRY}
        run = {
            "id": "a",
            "into": None,
            "diameter": 200,
            "length": 1,
            "duct": SPIRAL,
            "hood": hood,
            "gate": {"opening": 1},
        }
        body = {"units": preset, "runs": [run], "rules": OFF,
                "stock": {"ducts": [{"diameter": size, "price_per_length": 1}]}}  # fmt: skip
        try:
            answer = ask(body)
        except Refusal:  # so narrow that one density cannot answer
            continue
        assert answer.sizes[0].diameter == size
        assert {piece.diameters for piece in answer.sizes[0].pieces} == {(size,)}
        assert answer.document["runs"][0]["diameter"] == size

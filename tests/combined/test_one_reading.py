"""One document, two questions, one reading: what one question tells of gates, flows and fan the others tell too.

The shops are invented. Who is open, and what a named state means, is the contract's paragraph on gates.
"""

import math

import msgspec
import pytest

import airbough

CLIENT = airbough.local()
SPIRAL = "spiral-galvanized"
CURVE = [(0, 12), (800, 11), (1400, 8), (1800, 3)]
FAN = {
    "curve": [{"flow": flow, "pressure": pressure} for flow, pressure in CURVE],
    "rated_as": "fan-static",
    "includes": [],
}
ROOM = {"room": {"volume": 5000, "openings_area": 1}, "collector_stands": "outdoors"}
READ = [{"quantity": "flow", "run": run, "value": 600} for run in ("planer", "trunk")]
READINGS = {"state": "as-document", "readings": READ}
DAY = {"machines": [{"machine": "planer", "times": [{"on": 0, "off": 100}]},
                    {"machine": "saw", "times": [{"on": 0, "off": 100}]}], "duration": 200}  # fmt: skip
BOTH = {"states": [{"name": "both", "open": ["planer", "saw"]}]}


def machine(name, into, join, flow, diameter=5):
    """Return the run of a machine with a gate."""
    return {
        "id": name, "into": into, "join": join, "diameter": diameter, "length": 7, "duct": SPIRAL,
        "hood": {"machine_id": name, "flow": flow, "entry": {"type": "plain-opening"}},
        "gate": {"opening": 1.0, "leakage": 0.01},
    }  # fmt: skip


def shop(*, zone=None, fan=FAN, **more):
    """Return a planer, and behind a zone gate of this opening a saw and a lathe."""
    straight, branch = {"type": "straight"}, {"type": "branch", "angle": 45}
    runs = [
        {"id": "trunk", "into": None, "diameter": 6, "length": 12, "duct": SPIRAL},
        {"id": "zone", "into": "trunk", "join": straight, "diameter": 6, "length": 8, "duct": SPIRAL},
        machine("planer", "trunk", branch, 500),
        machine("saw", "zone", branch, 480),
        machine("lathe", "zone", straight, 400),
    ]
    if zone is not None:
        runs[1]["gate"] = {"opening": zone, "leakage": 0.02}
    found = {"units": "us", "dust": "sawdust", "runs": runs} | more
    return found if fan is None else found | {"collector": {"fan": fan}}


def codes(answer):
    """Return the codes of an answer's findings."""
    return {item.code for item in answer.findings}


@pytest.mark.parametrize("fan", [FAN, None])
@pytest.mark.parametrize(
    ("question", "more"),
    [
        ("balance", {}),
        ("drawing", {"of": "tree"}),
        ("sizing", BOTH),
        ("make_up_air", ROOM),
        ("operating_point", {}),
        ("gate_states", BOTH),
        ("working_day", DAY),
        ("strength", {}),
        ("diagnosis", READINGS),
    ],
)
def test_every_question_tells_of_a_machine_behind_a_shut_zone_gate(question, more, fan):
    if fan is None and question in ("operating_point", "gate_states", "working_day", "strength", "diagnosis"):
        pytest.skip("needs a fan")
    asked = getattr(CLIENT, question)
    assert "shut-off-downstream" in codes(asked(shop(zone=0.0, fan=fan) | more))
    assert "shut-off-downstream" not in codes(asked(shop(zone=1.0, fan=fan) | more))


def test_a_picture_of_pairs_says_who_is_cut_off_and_blames_no_motor():
    """The zone gate is shut: the saw and the lathe get no air, whatever else runs."""
    told = CLIENT.drawing(shop(zone=0.0, of="pairs")).description
    assert "planer and saw: cut off, by a shut gate" in told
    weak = FAN | {"curve": [{"flow": 0, "pressure": 3}, {"flow": 500, "pressure": 0.5}]}
    told = CLIENT.drawing(shop(zone=0.0, fan=weak, of="pairs")).description
    assert "saw: no air, every way is shut" in told
    assert "motor" not in told


@pytest.mark.parametrize("of", ["tree", "fan", "pairs"])
def test_a_picture_that_rests_on_a_guessed_fan_says_so(of):
    known = shop(fan=None, collector={"known_by": {"greatest_flow": 1600, "greatest_suction": 12}}, of=of)
    assert "a guess, no curve of the maker's" in CLIENT.drawing(known).svg.replace("&apos;", "'")
    assert "a guess" not in CLIENT.drawing(shop(of=of)).svg


def test_a_picture_claims_design_flows_only_of_hoods_that_have_one():
    whole = shop(of="tree")
    told = CLIENT.drawing(whole).description
    short = [run for run in CLIENT.operating_point(shop()).hoods if (run.share_of_design or 0.0) < 1.0]
    for run in whole["runs"]:
        if "hood" in run:
            run["hood"]["flow"] = 50
    told = CLIENT.drawing(whole).description
    assert short
    assert "Every open hood gets its design flow" in told
    del whole["runs"][3]["hood"]["flow"]
    told = CLIENT.drawing(whole).description
    assert "Every open hood" not in told
    assert "Each open hood of a known design flow gets it" in told


def test_a_run_slow_in_its_wide_part_and_fast_in_its_narrow_one_is_told_both_by_one_state_and_by_many():
    document = shop()
    document["runs"][0] |= {"diameter": 5, "fittings": [
        {"type": "taper", "upstream_diameter": 5, "downstream_diameter": 9, "length": 20, "at": 6}]}  # fmt: skip
    every = {"states": [{"name": "all", "open": ["planer", "saw", "lathe"]}]}
    wanted = {"below-transport-velocity", "needlessly-fast"}
    for answer in (CLIENT.operating_point(document), CLIENT.gate_states(document | every)):
        assert wanted <= {item.code for item in answer.findings if item.run == "trunk"}


def quoted(document, **more):
    """Return a quote of a tree."""
    ducts = [{"item": f"d{size}", "diameter": size, "duct": SPIRAL, "price_per_length": 2} for size in (4, 5, 6, 7, 8)]
    return CLIENT.quote({"units": "us", "tree": document, "stock": {"currency": "USD", "ducts": ducts}} | more)


def test_a_quote_without_fan_tells_open_hoods_by_gates_and_design_flows_without_leaks():
    leaky = shop(fan=None)
    for run in leaky["runs"]:
        run["leakage_class"] = "en-a"
    (state,) = quoted(leaky, states=[{"name": "planer", "open": ["planer"]}]).states
    assert {hood.run: (hood.open, hood.flow, hood.design_flow) for hood in state.hoods} == {
        "planer": (True, pytest.approx(500), pytest.approx(500)),
        "saw": (False, 0.0, pytest.approx(480)),
        "lathe": (False, 0.0, pytest.approx(400)),
    }
    assert state.flow > 500  # what leaks in comes on top


@pytest.mark.parametrize("fan", [FAN, None])
def test_a_quote_judges_a_state_by_the_design_flows_that_it_was_sized_for(fan):
    named = [{"name": "own", "open": ["planer"], "flows": {"planer": 2000}}, {"name": "plain", "open": ["planer"]}]
    answer = quoted(shop(fan=fan), states=named, rules={"design_flow": "off"} if fan else {})
    planers = {state.name: next(hood for hood in state.hoods if hood.run == "planer") for state in answer.states}
    flows = {name: hood.design_flow for name, hood in planers.items()}
    assert list(flows) == ["own", "plain"]
    assert flows == {"own": pytest.approx(2000), "plain": pytest.approx(500)}
    if fan:
        assert [state.name for state in answer.states if "hood-starved" in state.findings] == ["own"]


def test_a_run_is_not_told_to_leak_in_two_ways():
    document = shop()
    document["runs"][0] |= {"leakage_class": "en-a", "leak": {"coefficient": 1e-3, "exponent": 0.65}}
    with pytest.raises(airbough.errors.NotADuctTree) as refused:
        CLIENT.operating_point(document)
    assert [(fault.path, fault.code) for fault in refused.value.problem.errors] == [("runs[0].leak", "given-twice")]


def test_a_taper_is_as_long_by_advice_by_sizing_and_by_an_outline():
    """Common practice (checks.toml, taper-length and taper-shortest): five to one, 50 mm at least."""
    outline = {
        "units": "metric", "dust": "sawdust", "lines": [{"id": "main", "into": None, "length": 5, "diameter": 105}],
        "machines": [{"id": "saw", "line": "main", "at": 5, "off": 0, "drop": 2, "port": 100, "hose": 1, "flow": 700,
                      "hose_diameter": 100, "diameter": 105}],
    }  # fmt: skip
    tree = CLIENT.outline(outline).tree
    hose = next(run for run in tree.runs if run.id == "saw-hose")
    assert hose.join.taper_length == pytest.approx(50)
    abrupt = msgspec.to_builtins(tree)
    for run in abrupt["runs"]:
        run.get("join", {}).pop("taper_length", None)
    advised = next(item for item in CLIENT.balance(abrupt).findings if item.code == "abrupt-change")
    assert advised.suggestion.text == "a taper 50 mm long"
    sized = CLIENT.sizing(abrupt | {"fixed": [run["id"] for run in abrupt["runs"] if run["id"] != "main"],
                                    "stock": {"ducts": [{"diameter": 110}]}})  # fmt: skip
    assert {piece.fitting_length for run in sized.sizes for piece in run.pieces if piece.type == "taper"} == {50}


@pytest.mark.parametrize(("corner", "angle", "count"), [((5, 6, 8), 64.902786, 2), ((10, 6, 8), 90.0, 1)])
def test_a_turn_sharper_than_a_right_angle_is_two_elbows_by_outline_and_by_path(corner, angle, count):
    """From (0, 0) by (10, 0) to (5, 6) the line turns by 180 deg - atan(6 / 5) = 129.805571 deg, to (10, 6) by 90."""
    path = [[0, 0, 8], [10, 0, 8], list(corner)]
    end = 10 + math.dist(path[1], path[2])
    saw = {"id": "saw", "line": "main", "at": end, "off": 0, "drop": 5, "port": 4, "hose": 0, "flow": 400}
    lines = [{"id": "main", "into": None, "path": path}]
    made = CLIENT.outline({"units": "us", "dust": "sawdust", "lines": lines, "machines": [saw]}).tree
    followed = {"units": "us", "runs": [machine("main", None, None, 400) | {"path": path}]}
    del followed["runs"][0]["join"]
    for document in (made, followed):
        needs = CLIENT.parts_list(document).requirement
        own = [need for need in needs if need.type == "elbow" and "main" in need.runs]
        assert [need.quantity - ("saw" in need.runs) for need in own] == [count]  # a drop turns by 90 as well
        assert own[0].angle == pytest.approx(angle, abs=1e-6)
    stated = lines[0] | {"path": None, "length": 16, "turns": [{"at": 10, "angle": 130, "made": "elbow"}]}
    asked = {"units": "us", "dust": "sawdust", "lines": [stated], "machines": [saw | {"at": 16}]}
    del stated["path"]
    assert {need.angle for need in CLIENT.parts_list(CLIENT.outline(asked).tree).requirement if need.angle} >= {130.0}


def test_the_end_of_a_fans_curve_is_told_as_it_was_given():
    """Of a cubic through (0, 12), (600, 11), (1500, 5) the last point is 5 in. wg, not a last digit beside it."""
    curve = [{"flow": flow, "pressure": pressure} for flow, pressure in ((0, 12), (600, 11), (1500, 5))]
    document = shop(fan=FAN | {"curve": curve})
    assert CLIENT.sizing(document).lower_bound.fan_static_pressure == 5.0
    for run in document["runs"]:
        run["diameter"] = 12
    (beyond,) = [one for one in CLIENT.operating_point(document).findings if one.code == "fan-beyond-curve"]
    assert beyond.value == 5.0


@pytest.mark.parametrize(("word", "meant"), [("bend", "elbow"), ("reducer", "taper"), ("hose bend", "hose-bend")])
def test_a_word_of_the_trade_is_pointed_to_what_it_means(word, meant):
    document = shop()
    document["runs"][0]["fittings"] = [{"type": word, "angle": 90}]
    with pytest.raises(airbough.errors.InvalidRequest) as refused:
        CLIENT.operating_point(document)
    assert refused.value.problem.errors[0].example == meant


def test_a_value_within_a_millionth_of_its_limit_holds_whatever_the_check():
    """The contract: a comparison within 1e-6 of its limit holds; branches are advised from 75 deg, common practice."""
    for angle, told in ((75.0 * (1.0 + 9e-7), False), (75.0 * (1.0 + 2e-6), True)):
        document = shop()
        document["runs"][2]["join"]["angle"] = angle
        assert ("square-tee" in codes(CLIENT.operating_point(document))) is told


def test_a_sizing_says_what_its_price_is_without_and_a_parts_list_has_it():
    """By hand: its parts list costs what sizing says, three adapters, and the discharge's duct and elbow."""
    document = shop()
    for run in document["runs"]:
        if "hood" in run:
            run["hood"]["port_diameter"] = 4
    fixed = [run["id"] for run in document["runs"] if "hood" in run]
    elbow = {"type": "elbow", "angle": 90, "radius_ratio": 1.5}
    after = [{"diameter": 6, "length": 7, "duct": SPIRAL, "fittings": [elbow]}]
    stock = {
        "currency": "USD",
        "ducts": [{"item": f"d{size}", "diameter": size, "duct": SPIRAL, "price_per_length": size} for size in (5, 6)],
        "fittings": [
            {"item": "elbow", "type": "elbow", "angle": 90, "diameter": 6, "price": 9},
            {"item": "wye", "type": "wye", "angle": 45, "diameter": 6, "branch_diameter": 5, "price": 10},
            {"item": "adapter", "type": "port-adapter", "diameter": 4, "downstream_diameter": 5, "price": 3},
            {"item": "taper", "type": "taper", "diameter": 5, "downstream_diameter": 6, "price": 4},
        ],
        "gates": [{"item": "gate", "diameter": 5, "price": 20}],
    }
    plain = CLIENT.sizing(shop() | {"stock": stock, "fixed": fixed})
    asked = document | {"collector": {"fan": FAN, "discharge": after}, "stock": stock, "fixed": fixed}
    sized = CLIENT.sizing(asked)
    assert plain.price_complete
    assert not sized.price_complete
    assert "without port adapters and the pieces after the fan" in next(
        item.message for item in sized.findings if item.code == "piece-not-priced"
    )
    lines = CLIENT.parts_list(sized.document | {"stock": stock}).lines
    cost = {line.item: line.price for line in lines if line.price is not None}
    assert sum(cost.values()) == sized.price + 3 * 3 + 7 * 6 + 9
    assert {line.what for line in lines if line.item in ("d5", "d6")} == {"duct, spiral-galvanized"}


@pytest.mark.parametrize("question", ["balance", "make_up_air", "sizing"])
def test_a_missing_design_flow_is_one_kind_of_problem_whatever_is_asked(question):
    document = shop(fan=None)
    del document["runs"][2]["hood"]["flow"]
    more = {"make_up_air": ROOM, "sizing": {"flows": "design"}}.get(question, {})
    with pytest.raises(airbough.errors.NotComputable) as refused:
        getattr(CLIENT, question)(document | more)
    assert {fault.code for fault in refused.value.problem.errors} == {"design-flow-missing"}

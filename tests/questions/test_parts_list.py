"""The parts list of an invented garage shop, priced in an invented currency; rules of joints from its contract."""

import copy
import csv
import io
import itertools
import math
from decimal import Decimal

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from airbough.wire.parts_list import PartsListRequest
from airbough_service.combined import registry
from airbough_service.questions.parts_list.hangers import Mark, places
from airbough_service.terms.refusal import Refusal

SPIRAL, HOSE = "spiral-galvanized", "flexible-hose-ribbed"
ENTRY = {"type": "plain-opening"}


def shop(**more):
    """Return an invented shop: a saw on hose and a planer on stiff duct."""
    runs = [
        {
            "id": "main",
            "into": None,
            "diameter": 0.18,
            "length": 4.3,
            "duct": SPIRAL,
            "fittings": [{"type": "elbow", "angle": 45, "radius_ratio": 1.5, "count": 2}],
        },
        {
            "id": "east",
            "into": "main",
            "diameter": 0.15,
            "length": 3.1,
            "duct": SPIRAL,
            "join": {"type": "straight", "taper_length": 150},
        },
        {
            "id": "saw",
            "into": "main",
            "diameter": 0.1,
            "length": 1.8,
            "duct": HOSE,
            "stretch": 0.9,
            "join": {"type": "branch", "angle": 45},
            "hood": {"flow": 700, "entry": ENTRY},
            "gate": {"opening": 1.0},
        },
        {
            "id": "planer",
            "into": "east",
            "diameter": 0.15,
            "length": 2.4,
            "duct": SPIRAL,
            "hood": {"flow": 1300, "entry": ENTRY, "port_diameter": 0.1},
            "gate": {"opening": 1.0},
        },
    ]
    for run in runs:
        run["diameter"] *= 1000
        if "port_diameter" in run.get("hood", {}):
            run["hood"]["port_diameter"] *= 1000
    return {"units": "metric", "runs": runs, **more}


def ends(upstream="receives", downstream="enters", **more):
    return {"upstream_end": upstream, "downstream_end": downstream, **more}


def sizes(upstream, downstream):
    return {"diameter": upstream, "downstream_diameter": downstream}


def items():
    """Return invented pieces, each with the list that it stands on: everything but sealant."""
    pipe = {"on": "ducts", "duct": SPIRAL, "piece_length": 1.5, **ends()}
    fitting = {"on": "fittings", **ends()}
    return [
        {**pipe, "item": "pipe 180", "diameter": 180, "price": 21.5},
        {**pipe, "item": "pipe 150", "diameter": 150, "price": 18.25},
        {"on": "ducts", "item": "hose 100", "diameter": 100, "duct": HOSE, "piece_length": 3, "price": 30},
        {**fitting, "item": "elbow 180", "type": "elbow", "diameter": 180, "angle": 45, "price": 14},
        {**fitting, "item": "wye", "type": "wye", "diameter": 180, "branch_diameter": 100, "angle": 45, "price": 33},
        {**fitting, "item": "taper", "type": "taper", **sizes(150, 180), "length": 150, "price": 12},
        {**fitting, "item": "port", "type": "port-adapter", **sizes(100, 150), "price": 11},
        {"on": "gates", "item": "gate 100", "diameter": 100, **ends(), "price": 19},
        {"on": "gates", "item": "gate 150", "diameter": 150, **ends(), "price": 25},
        {"on": "supplies", "item": "screws", "use": "screw", "pack": 50, "price": 4},
        {"on": "supplies", "item": "clamps", "use": "clamp", "pack": 1, "diameter": 100, "price": 2},
        {"on": "supplies", "item": "hangers", "use": "hanger", "pack": 1, "price": 3},
        {"on": "supplies", "item": "wire", "use": "bonding-wire", "length": 5, "price": 6},
    ]  # fmt: skip


def stock(pieces=None, **more):
    """Return a stock of pieces, each on its list."""
    lists = {"ducts": [], "fittings": [], "gates": [], "supplies": []} | more
    for piece in pieces or items():
        lists[piece["on"]].append({name: value for name, value in piece.items() if name != "on"})
    return lists


def ask(document):
    return registry.answer("parts-list", msgspec.convert(document, PartsListRequest))


def codes(answer):
    return [item.code for item in answer.findings]


def laid(answer):
    """Return run -> the length that its pieces of duct cover, as the cutting plans tell it."""
    out = {}
    for plan in answer.cutting:
        for bought in plan.lengths_bought:
            for cut in bought.cuts:
                out[cut.run] = out.get(cut.run, 0.0) + cut.laid_length
    return out


def refused(document):
    with pytest.raises(Refusal) as caught:
        ask(document)
    return {(fault.path, fault.code) for fault in caught.value.faults}


def test_pieces_cover_each_run():
    answer = ask(shop(stock=stock()))
    assert laid(answer) == pytest.approx({"main": 4.3, "east": 3.1, "saw": 1.8, "planer": 2.4}, rel=1e-9)
    assert answer.system.duct_length == pytest.approx(4.3 + 3.1 + 2.4)
    assert answer.system.hose_length == pytest.approx(1.8 / 0.9)


@pytest.mark.parametrize("kerf", [0, 3, 40])
@pytest.mark.parametrize("lap", [0, 25, 60])
def test_no_stock_piece_gives_more_than_it_has(kerf, lap):
    answer = ask(shop(stock=stock(), kerf=kerf, rules={"lap": lap}))
    for plan in answer.cutting:
        for bought in plan.lengths_bought:
            taken = math.fsum(cut.cut_length for cut in bought.cuts) + (len(bought.cuts) - 1) * kerf / 1000
            assert taken <= bought.length + 1e-9
            saw = bought.length - bought.offcut - math.fsum(cut.cut_length for cut in bought.cuts)
            assert -1e-9 <= saw <= len(bought.cuts) * kerf / 1000 + 1e-9
        assert plan.bought_length == pytest.approx(math.fsum(bought.length for bought in plan.lengths_bought))
        assert plan.waste == pytest.approx(
            math.fsum(bought.offcut for bought in plan.lengths_bought) + plan.kerf_length, abs=1e-9
        )
    assert laid(answer) == pytest.approx({"main": 4.3, "east": 3.1, "saw": 1.8, "planer": 2.4}, rel=1e-9)


def test_a_run_longer_than_a_stock_piece_takes_several_and_they_are_counted():
    # 4.3 m of 1.5 m pieces that lap 25.4 mm: two whole (1.4746 m each) and a cut of 1.3508 m and its lap.
    answer = ask(shop(stock=stock()))
    plan = next(plan for plan in answer.cutting if plan.diameter == pytest.approx(180))
    cuts = sorted((cut for bought in plan.lengths_bought for cut in bought.cuts), key=lambda cut: cut.place)
    assert [cut.cut_length for cut in cuts] == pytest.approx([1.5, 1.5, 4.3 - 2 * 1.4746 + 0.0254])
    assert plan.proof == "exact"
    assert (plan.objective, plan.bound_price) == ("price", Decimal("64.50"))


def test_prices_sum_and_what_has_none_is_named():
    answer = ask(shop(stock=stock(currency="invented crowns")))
    priced = [line for line in answer.lines if line.price is not None]
    for line in priced:
        assert line.price == line.price_each * line.quantity
    assert answer.system.price == sum(line.price for line in priced)
    assert answer.system.currency == "invented crowns"
    assert {line.what for line in answer.lines if line.price is None} == {"sealant", "outer-sleeve"} & {
        line.what for line in answer.lines
    }
    assert "sealant" in answer.price_missing
    assert not answer.system.price_complete
    assert "price-missing" in codes(answer)


def test_a_full_price_list_is_complete():
    whole = [
        *items(),
        {"on": "supplies", "item": "sealant", "use": "sealant", "length": 20, "price": 7},
        {
            "on": "supplies",
            "item": "outer sleeve 150",
            "use": "outer-sleeve",
            "diameter": 150,
            "length": 90,
            "price": 5,
        },
    ]
    answer = ask(shop(stock=stock(whole)))
    assert answer.price_missing == ()
    assert answer.system.price_complete
    assert "price-missing" not in codes(answer)


def test_lines_count_what_the_tree_needs():
    answer = ask(shop(stock=stock()))
    bought = {line.item: line for line in answer.lines if line.item}
    assert bought["elbow 180"].quantity == 2
    assert bought["wye"].quantity == bought["taper"].quantity == bought["port"].quantity == 1
    assert bought["gate 100"].quantity == bought["gate 150"].quantity == 1
    screws = sum(joint.screws for joint in answer.joints)
    assert bought["screws"].needed == screws
    assert bought["screws"].quantity == math.ceil(screws / 50)
    assert bought["clamps"].needed == sum(joint.clamps for joint in answer.joints) == 2
    # Spacing 3.048 m: main 2, of which one stands within 1.22 m of the junction, east 2, planer 1; hose at 1.2192 m: 2;
    # two elbows whose places are not told.
    assert answer.system.hangers == bought["hangers"].needed == 9


FOOT = 0.3048


@pytest.mark.parametrize(("feet", "count"), [(0, 0), (1, 1), (10, 1), (11, 2), (20, 2), (20.1, 3)])
def test_hangers_along_a_straight(feet, count):
    # Standard Work Specifications 2020, 6.0101.1g: every 10 ft or less.
    assert len(places(feet * FOOT, 10 * FOOT)) == count


@given(
    st.integers(0, 40),
    st.lists(st.tuples(st.integers(0, 40), st.integers(0, 2)), max_size=3),
    st.sampled_from([8, 10]),
)
@settings(max_examples=100, deadline=None)
def test_no_fewer_hangers_would_do(length, marks, spacing):
    """By trying every set of places, in half feet; a hanger carries half of the spacing on either side."""
    own = [Mark(min(at, length) / 2, 2.0, number) for at, number in marks]
    found = places(length / 2, spacing, own)

    def holds(stand):
        ends = length == 0 or (stand and stand[0] <= spacing / 2 and length / 2 - stand[-1] <= spacing / 2)
        gaps = all(after - before <= spacing for before, after in itertools.pairwise(stand))
        near = all(sum(abs(place - mark.at) <= mark.reach for place in stand) >= mark.number for mark in own)
        return ends and gaps and near

    assert holds(found)
    half_feet = [place / 2 for place in range(length + 1)]
    fewer = itertools.combinations_with_replacement(half_feet, max(len(found) - 1, 0))
    assert not found or not any(holds(stand) for stand in fewer)


def test_one_hanger_serves_a_pair_of_elbows_and_one_on_each_side_where_they_stand_apart():
    body = shop(stock=stock())
    pair = {"type": "elbow-pair", "angle": 90, "radius_ratio": 1.5, "spacer_ratio": 1}
    body["runs"][0]["fittings"] = [pair]
    # Main 2, one near the junction, and one for the pair 0.18 m apart; east 2, planer 1, hose 2.
    assert ask(body).system.hangers == 8
    body["runs"][0]["fittings"] = [{"type": "elbow", "angle": 45, "radius_ratio": 1.5}] * 2
    told = body | {"stretches": [{"run": "main", "lengths": [1.0, 2.3, 1.0]}]}
    # Hangers within 0.61 m of 1.0 m and of 3.3 m also keep the spacing, and the first the junction: 2 in the main.
    assert ask(told).system.hangers == 7
    rules = {"elbow_hanger_reach": 10}
    assert ask(told | {"rules": rules}).system.hangers == 7
    assert ask(told | {"rules": rules | {"junction_hanger_reach": 10}}).system.hangers == 8


def test_hose_gets_a_bonding_wire_and_a_warning():
    answer = ask(shop(stock=stock()))
    wire = next(line for line in answer.lines if line.what == "bonding-wire")
    assert wire.length == pytest.approx(1.8 + 2 * 0.3)
    assert any(item.code == "nonconductive-duct" and item.severity == "warning" for item in answer.findings)
    assert any("does not conduct" in text for text in answer.cautions)
    assert any("burns" in text for text in answer.cautions)
    assert any("bonded" in text for text in answer.cautions)
    assert any("Local codes" in text for text in answer.cautions)


def test_stiff_conductive_duct_alone_needs_no_bonding_wire():
    runs = [{**shop()["runs"][0], "hood": {"entry": ENTRY}}]
    answer = ask({"units": "metric", "runs": runs, "stock": stock()})
    assert not any(line.what == "bonding-wire" for line in answer.lines)
    assert "nonconductive-duct" not in codes(answer)


def one_run(length=3.0, **more):
    return {
        "units": "metric",
        "runs": [
            {"id": "only", "into": None, "diameter": 150, "length": length, "duct": SPIRAL, "hood": {"entry": ENTRY}}
        ],
        **more,
    }


def one_pipe(upstream, downstream, **more):
    pipe = {"item": "pipe", "diameter": 150, "duct": SPIRAL, "piece_length": 1.0}
    return {"ducts": [{**pipe, **ends(upstream, downstream), **more}]}


ALL_ENDS = ("enters", "receives", "flange", "cuff")


@pytest.mark.parametrize(("upstream", "downstream"), list(itertools.product(ALL_ENDS, ALL_ENDS)))
def test_whole_pieces_meet_as_their_ends_say(upstream, downstream):
    """Three whole pieces: the joints between them are those of (downstream end, upstream end)."""
    document = one_run(3.0, stock=one_pipe(upstream, downstream), rules={"lap": 0})
    answer = ask(document)
    inner = [
        joint for joint in answer.joints if joint.upstream.startswith("piece") and joint.downstream.startswith("piece")
    ]
    assert len(inner) == 2
    expected = {
        ("enters", "receives"): "slip",
        ("enters", "enters"): "outer-sleeve",
        ("receives", "receives"): "inner-sleeve",
        ("receives", "enters"): "lip-against-flow",
        ("flange", "flange"): "flanged",
        ("cuff", "cuff"): "hose-connector",
    }
    pair = (downstream, upstream)
    kind = expected.get(pair) or ("flange-adapter" if "flange" in pair else "clamped")
    assert {joint.kind for joint in inner} == {kind}
    assert ("lip-against-flow" in codes(answer)) == (kind == "lip-against-flow")
    if kind in ("inner-sleeve", "hose-connector"):
        assert "edge-faces-flow" in codes(answer)


def test_supply_air_pipe_is_warned_of_and_its_adapters_stand_in_the_cut_list():
    answer = ask(one_run(3.0, stock=one_pipe("enters", "receives"), rules={"lap": 0, "adapter_length": 120}, csv=True))
    warning = next(item for item in answer.findings if item.code == "lip-against-flow")
    assert (warning.severity, warning.run, warning.value) == ("warning", "only", 2.0)
    (plan,) = answer.cutting
    (adapter,) = plan.adapters
    assert (adapter.use, adapter.quantity, adapter.length) == ("outer-sleeve", 2, pytest.approx(0.12))
    rows = list(csv.DictReader(io.StringIO(answer.csv)))
    (row,) = [row for row in rows if row["list"] == "adapter"]
    assert (row["what"], float(row["length [m]"]), row["quantity"]) == ("outer sleeve", pytest.approx(0.12), "2")
    assert answer.system.joints_holding == 0


def test_supply_air_pipe_that_may_be_turned_holds():
    answer = ask(one_run(3.0, stock=one_pipe("enters", "receives", turnable=True), rules={"lap": 0}))
    assert "lip-against-flow" not in codes(answer)
    assert "piece-turned" in codes(answer)
    assert [joint.kind for joint in answer.joints] == ["not-judged", "slip", "slip", "not-judged"]
    assert all(cut.turned for plan in answer.cutting for bought in plan.lengths_bought for cut in bought.cuts)


def test_told_ends_of_port_and_collector_are_judged():
    told = one_run(3.0, stock=one_pipe("receives", "enters"), port_end="enters", collector_end="flange")
    answer = ask(told)
    assert answer.joints[0].kind == "slip"
    assert answer.joints[-1].kind == "flange-adapter"
    assert "end-not-judged" not in codes(answer)


def test_flanged_pipe_is_bolted_and_gasketed_and_takes_no_lap():
    answer = ask(one_run(3.0, stock=one_pipe("flange", "flange")))
    inner = answer.joints[1:-1]
    # pi * 150 mm at 150 mm spacing: four bolts.
    assert [(joint.kind, joint.bolts, joint.screws) for joint in inner] == [("flanged", 4, 0)] * 2
    gasket = next(line for line in answer.lines if line.what == "gasket")
    assert gasket.length == pytest.approx(2 * math.pi * 0.15)
    assert all(cut.allowance == 0 for plan in answer.cutting for bought in plan.lengths_bought for cut in bought.cuts)


def test_a_cut_end_is_plain_and_said_to_be():
    answer = ask(one_run(0.6, stock=one_pipe("receives", "flange")))
    ((cut,),) = [[cut for bought in plan.lengths_bought for cut in bought.cuts] for plan in answer.cutting]
    assert {cut.upstream_end, cut.downstream_end} in ({"receives", "enters"}, {"enters", "flange"})
    assert "plain-cut-end" in codes(answer)
    assert "plain-cut-end" not in codes(ask(one_run(2.0, stock=one_pipe("receives", "enters"), rules={"lap": 0})))


def test_the_middle_of_a_stock_piece_has_two_plain_ends():
    """Three runs of 0.3 m from one piece of 1 m: one keeps its upstream end, one its downstream end, one neither."""
    run = one_run()["runs"][0]
    runs = [{**run, "id": f"run {number}", "length": 0.3} for number in range(3)]
    document = {"units": "metric", "runs": runs, "stock": one_pipe("flange", "flange"), "rules": {"lap": 0}}
    answer = ask({**document, "port_end": "flange", "collector_end": "flange"})
    (plan,) = answer.cutting
    (bought,) = plan.lengths_bought
    found = sorted((cut.upstream_end, cut.downstream_end) for cut in bought.cuts)
    assert found == [("enters", "enters"), ("enters", "flange"), ("flange", "enters")]


def test_a_taper_is_turned_to_widen_where_it_may_be():
    others = [item for item in items() if item["item"] != "taper"]
    narrowing = {"on": "fittings", "item": "narrowing", "type": "taper", "diameter": 180, "downstream_diameter": 150}
    narrowing |= ends("enters", "receives", length=150)
    assert [need.type for need in ask(shop(stock=stock([*others, narrowing]))).not_stocked] == ["taper"]
    answer = ask(shop(stock=stock([*others, {**narrowing, "turnable": True}])))
    assert answer.not_stocked == ()
    assert any("taper of east" in joint.turned for joint in answer.joints)


def test_what_is_not_stocked_is_listed_and_warned_of():
    others = [item for item in items() if item["item"] not in ("pipe 150", "gate 100", "wye")]
    answer = ask(shop(stock=stock(others)))
    missing = {(need.type, tuple(round(bore) for bore in need.diameters)) for need in answer.not_stocked}
    assert missing == {("duct", (150,)), ("gate", (100,)), ("wye", (180, 100, 180))}
    duct = next(need for need in answer.not_stocked if need.type == "duct")
    assert duct.length == pytest.approx(5.5)
    assert codes(answer).count("not-stocked") == 3
    assert not answer.system.price_complete


def test_without_stock_only_the_requirement_is_listed():
    answer = ask(shop(csv=True))
    assert (answer.lines, answer.cutting, answer.joints, answer.rules) == ((), (), (), ())
    assert "no-stock" in codes(answer)
    needs = {(need.type, tuple(round(bore) for bore in need.diameters)): need for need in answer.requirement}
    assert needs["duct", (150,)].length == pytest.approx(5.5)
    assert needs["hose", (100,)].length == pytest.approx(2.0)
    assert needs["elbow", (180,)].quantity == 2
    assert needs["wye", (180, 100, 180)].angle == 45
    assert set(needs) >= {("taper", (150, 180)), ("port-adapter", (100, 150)), ("gate", (100,)), ("gate", (150,))}
    assert {row["list"] for row in csv.DictReader(io.StringIO(answer.csv))} == {"needed"}


def test_csv_reads_back_as_the_answer():
    document = shop(stock=stock(), csv=True)
    document["runs"][2]["id"] = 'the "old", saw'
    document["runs"][3]["id"] = "=planer"
    document["stock"]["ducts"][0]["item"] = 'pipe, "180"'
    answer = ask(document)
    assert answer.csv.endswith("\r\n")
    rows = list(csv.DictReader(io.StringIO(answer.csv, newline="")))
    buy = [row for row in rows if row["list"] == "buy"]
    assert [row["item"] or None for row in buy] == [line.item for line in answer.lines]
    assert math.fsum(float(row["price"]) for row in buy if row["price"]) == pytest.approx(float(answer.system.price))
    cuts = [row for row in rows if row["list"] == "cut"]
    told = [cut for plan in answer.cutting for bought in plan.lengths_bought for cut in bought.cuts]
    # A cell is rounded to what a rule shows, 1 mm.
    assert [float(row["length [m]"]) for row in cuts] == pytest.approx([cut.cut_length for cut in told], abs=0.0005001)
    assert {row["runs"] for row in cuts} == {"main", "east", 'the "old", saw', "'=planer"}


def test_stretches_place_the_straights_between_the_fittings():
    answer = ask(shop(stock=stock(), stretches=[{"run": "main", "lengths": [2.0, 2.3]}]))
    assert "stretches-not-given" not in codes(answer)
    assert laid(answer)["main"] == pytest.approx(4.3)
    names = [joint.upstream for joint in answer.joints if joint.run == "main"]
    assert names.index("elbow of main") < names.index("piece 3 of main")
    assert "stretches-not-given" in codes(ask(shop(stock=stock())))


def test_centreline_lengths_leave_out_what_fittings_take():
    straight = ask(shop(stock=stock()))
    centre = ask(shop(stock=stock(), lengths="centerline"))
    # Two elbows of 45 deg, centreline radius 1.5 * 180 mm; a taper of 150 mm at the end of `east`.
    elbows = 2 * math.radians(45) * 1.5 * 0.18
    assert laid(centre)["main"] == pytest.approx(laid(straight)["main"] - elbows)
    assert laid(centre)["east"] == pytest.approx(laid(straight)["east"] - 0.15)
    assert "fitting-length-unknown" in codes(centre)


def test_pairs_offsets_and_capped_tees_become_pieces():
    run = one_run(2.0)["runs"][0]
    run["fittings"] = [
        {"type": "elbow-pair", "angle": 90, "radius_ratio": 1.5, "spacer_ratio": 1.0},
        {"type": "offset", "angle": 30, "radius_ratio": 1.5, "spacer_ratio": 2.0},
        {"type": "tee-as-elbow"},
    ]
    answer = ask({"units": "metric", "runs": [run]})
    needs = {(need.type, need.angle): need for need in answer.requirement}
    assert needs["elbow", 45.0].quantity == 2
    assert needs["elbow", 30.0].quantity == 2
    assert needs["tee", 90.0].quantity == needs["cap", None].quantity == 1
    assert needs["duct", None].length == pytest.approx(2.0)


def test_junctions_of_every_kind_name_their_piece():
    def arm(word, join, diameter=100):
        run = {"id": word, "into": "m", "diameter": diameter, "length": 1, "duct": SPIRAL}
        return {**run, "join": join, "hood": {"entry": ENTRY}}

    main = {"id": "m", "into": None, "diameter": 150, "length": 1, "duct": SPIRAL}
    straight, at_45, square = {"type": "straight"}, {"type": "branch", "angle": 45}, {"type": "branch", "angle": 90}
    cases = [
        ("wye", [straight, at_45]),
        ("tee", [straight, square]),
        ("symmetrical-wye", [at_45, at_45]),
        ("double-wye", [straight, at_45, at_45]),
    ]
    for kind, joins in cases:
        arms = [arm(f"arm {number}", join) for number, join in enumerate(joins)]
        answer = ask({"units": "metric", "runs": [main, *arms]})
        assert kind in {need.type for need in answer.requirement}
    four = [arm(f"arm {number}", at_45) for number in range(4)]
    answer = ask({"units": "metric", "runs": [main, *four], "model": {"junctions": "entry-angle"}})
    assert "manifold" in {need.type for need in answer.requirement}


def test_pieces_after_the_fan_are_counted_too():
    discharge = [{"diameter": 180, "length": 2.0, "duct": SPIRAL, "fittings": [{"type": "stack-head"}]}]
    answer = ask(shop(stock=stock(), collector={"discharge": discharge}))
    assert laid(answer)["collector.discharge[0]"] == pytest.approx(2.0)
    assert "stack-head" in {need.type for need in answer.not_stocked}


def test_the_cheapest_of_two_that_serve_is_taken():
    more = [*items(), {**items()[3], "item": "elbow 180 cheap", "price": 9}]
    answer = ask(shop(stock=stock(more)))
    assert {line.item for line in answer.lines} & {"elbow 180", "elbow 180 cheap"} == {"elbow 180 cheap"}


def test_sizes_that_decide_head_room_are_told():
    answer = ask(shop())
    found = {need.type: need for need in answer.requirement}
    elbow = found["elbow"]
    radius = elbow.radius_ratio * elbow.diameters[0]
    assert elbow.corner_to_end == pytest.approx(radius * math.tan(math.radians(elbow.angle / 2.0)))
    wye = found["wye"]
    assert wye.reach > wye.diameters[-1] / 2.0
    assert wye.straight_way > wye.diameters[1]
    assert all(need.reach is None for need in answer.requirement if need.type in ("duct", "hose", "gate"))


def test_a_path_says_where_the_straights_lie():
    # Up 4 ft, then level 10 ft, one elbow of 5 in. and R = 1.5 D: it takes 7.5 in. of either, so 3.375 to 9.375 ft.
    run = {"id": "run", "into": None, "diameter": 5, "path": [[0, 0, 8], [0, 10, 8], [0, 10, 4]]}
    run |= {"duct": "spiral-galvanized", "hood": {"flow": 400, "entry": {"type": "plain-opening"}}}
    pipe = {"item": "pipe", "diameter": 5, "duct": "spiral-galvanized", "piece_length": 50, "price": 1}
    answer = ask({"units": "us", "runs": [run], "stock": {"ducts": [pipe]}})
    laid_ = [cut.laid_length for plan in answer.cutting for bar in plan.lengths_bought for cut in bar.cuts]
    assert sorted(laid_) == pytest.approx([14.0 * 3.375 / 12.75, 14.0 * 9.375 / 12.75])
    assert "stretches-not-given" not in codes(answer)


def test_lengths_that_count_their_fittings_are_told():
    # By elementary geometry: 14 ft along the centreline, of which an elbow of 5 in. and R = 1.5 D takes 7.5 in. of
    # either leg, so that 12.75 ft of straight duct are needed.
    run = {"id": "run", "into": None, "diameter": 5, "path": [[0, 0, 8], [0, 10, 8], [0, 10, 4]]}
    run |= {"duct": "spiral-galvanized", "hood": {"flow": 400, "entry": {"type": "plain-opening"}}}
    run["fittings"] = [{"type": "elbow", "angle": 90, "radius_ratio": 1.5}]

    def told(run, **more):
        return [one for one in ask({"units": "us", "runs": [run]} | more).findings if "count" in one.code]

    (finding,) = told(run)
    assert (finding.code, finding.at) == ("lengths-count-fittings", "runs[0].length")
    assert told(run | {"length": 14})
    assert not told(run | {"length": 12.75})
    assert not told(run, lengths="centerline")
    assert not told(run, stretches=[{"run": "run", "lengths": [4.4, 9.6]}])
    bare = {name: value for name, value in run.items() if name != "fittings"} | {"path": [[0, 0, 8], [0, 14, 8]]}
    assert not told(bare)
    assert not told(
        bare | {"fittings": [{"type": "abrupt-change", "upstream_diameter": 5, "downstream_diameter": 6}]}
    )  # takes no length


def test_rules_tell_where_they_come_from():
    answer = ask(shop(stock=stock(), rules={"least_screws": 4}, kerf=2))
    told = {rule.rule: rule for rule in answer.rules}
    assert (told["least_screws"].source, told["least_screws"].number) == ("caller", 4)
    assert (told["kerf"].source, told["kerf"].length) == ("caller", pytest.approx(2))
    # Standard Work Specifications 2020, 6.0101.1g: metal duct every 10 ft or less, flexible every 4 ft or less.
    assert told["hanger_spacing"].length == pytest.approx(3048)
    assert told["hose_hanger_spacing"].length == pytest.approx(1219.2)
    assert {source.id for source in answer.sources} >= {rule.source for rule in answer.rules} - {"caller"}


def test_numbers_are_the_same_in_both_presets():
    metric = ask(shop(stock=stock()))
    inches = copy.deepcopy(shop(stock=stock()))
    inches["units"] = "us"
    sold = [thing for name in ("ducts", "fittings", "gates", "supplies") for thing in inches["stock"][name]]
    small = [*inches["stock"]["fittings"], *inches["stock"]["gates"]]
    for thing in (*inches["runs"], *sold, *(run.get("hood", {}) for run in inches["runs"])):
        for name in ("diameter", "branch_diameter", "downstream_diameter", "port_diameter"):
            if name in thing:
                thing[name] = f"{thing[name]}mm"
        for name in ("length", "piece_length"):
            if name in thing:
                thing[name] = f"{thing[name]}{'mm' if thing in small else 'm'}"
        if "flow" in thing:
            thing["flow"] = f"{thing['flow']}m3/h"
    inches["runs"][1]["join"]["taper_length"] = "150mm"
    us = ask(inches)
    assert us.system.duct_length * 0.3048 == pytest.approx(metric.system.duct_length)
    assert us.system.price == metric.system.price
    assert us.units["length"] == "ft"


def wrong(change):
    document = shop(stock=stock())
    change(document)
    return refused(document)


def test_a_duplicate_item_is_refused():
    def twice(document):
        document["stock"]["gates"][1].update(item="pipe 180")

    assert wrong(twice) == {("stock.gates[1].item", "duplicate-item")}


def sold(name, number, **fields):
    return lambda document: document["stock"][name][number].update(fields)


def main_in(*lengths):
    return [{"run": "main", "lengths": list(lengths)}]


@pytest.mark.parametrize(
    ("change", "fault"),
    [
        (sold("ducts", 0, duct="spirol"), ("stock.ducts[0].duct", "unknown-word")),
        (sold("ducts", 0, cut_end="flange"), ("stock.ducts[0].cut_end", "cut-end-flange")),
        (sold("ducts", 0, price_per_length=1), ("stock.ducts[0].price", "given-twice")),
        (sold("ducts", 0, piece_length=None), ("stock.ducts[0].price", "parameter-unused")),
        (sold("ducts", 0, substitutes=["pipe"]), ("stock.ducts[0].substitutes[0]", "unknown-id")),
        (sold("fittings", 0, angle=None), ("stock.fittings[0].angle", "parameter-missing")),
        (sold("fittings", 1, turnable=True), ("stock.fittings[1].turnable", "junction-turnable")),
        (sold("supplies", 3, length=None), ("stock.supplies[3].length", "parameter-missing")),
        (sold("supplies", 0, length=2), ("stock.supplies[0].length", "parameter-unused")),
        (sold("supplies", 0, use="inner-sleeve"), ("stock.supplies[0].diameter", "parameter-missing")),
        (lambda d: d["stock"].update(expires="2027-02-30"), ("stock.expires", "outside-range")),
        (lambda d: d.update(rules={"lap": 2000}), ("rules.lap", "laps-take-all")),
        (lambda d: d.update(stretches=[{"run": "none", "lengths": [1]}]), ("stretches[0].run", "dangling-run")),
        (lambda d: d.update(stretches=main_in(4.3, 0, 0)), ("stretches[0].lengths", "stretches-do-not-fit")),
        (lambda d: d.update(stretches=main_in(1, 1)), ("stretches[0].lengths", "stretches-do-not-fit")),
        (lambda d: d.update(explain=True), ("explain", "not-for-this-question")),
        (lambda d: d["runs"][0].update(into="main"), ("runs", "no-root")),
    ],
)  # fmt: skip
def test_bad_input_is_refused_with_its_path(change, fault):
    assert fault in wrong(change)


def test_spacers_longer_than_the_run_are_refused():
    document = one_run(0.1)
    document["runs"][0]["fittings"] = [{"type": "offset", "angle": 30, "radius_ratio": 1.5, "spacer_ratio": 2.0}]
    assert refused(document) == {("runs[0].length", "shorter-than-fittings")}


def test_a_wide_tree_is_answered_soon():
    """Two hundred runs of an invented shed, every one cut from the same stock."""
    runs = [{"id": "r0", "into": None, "diameter": 150, "length": 1.27, "duct": SPIRAL}]
    for number in range(1, 100):
        run = {"into": f"r{number - 1}", "diameter": 150, "duct": SPIRAL}
        on = {**run, "id": f"r{number}", "length": 0.9 + 0.013 * number, "join": {"type": "straight"}}
        side = {**run, "id": f"b{number}", "length": 0.4 + 0.007 * number, "join": {"type": "branch", "angle": 45}}
        runs += [on, {**side, "hood": {"entry": ENTRY}}]
    runs[-2]["hood"] = {"entry": ENTRY}
    answer = ask({"units": "metric", "runs": runs, "stock": stock()})
    assert laid(answer) == pytest.approx({run["id"]: run["length"] for run in runs}, rel=1e-9)
    plan = answer.cutting[0]
    assert float(plan.bound_price) <= sum(18.25 for _ in plan.lengths_bought)
    assert ("cutting-not-proved" in codes(answer)) == (plan.proof == "gap")


def test_an_end_of_which_the_stock_says_nothing_is_told_as_not_known():
    pipe = {"diameter": 150, "duct": SPIRAL, "piece_length": 3, "price": 20}
    answer = ask(one_run(2.0, stock={"ducts": [pipe]}))
    ends_told = {end for plan in answer.cutting for bought in plan.lengths_bought for cut in bought.cuts
                 for end in (cut.upstream_end, cut.downstream_end)}  # fmt: skip
    assert "not-known" in ends_told
    assert ends_told <= {"not-known", "enters", "receives"}


def test_a_line_tells_every_end_of_a_fitting_whose_ends_are_unlike():
    """A wye of 180 by 100 mm and its taper cannot be ordered by one diameter."""
    answer = ask(shop(csv=True, stock={"ducts": [{"diameter": 180, "price_per_length": 9}]}))
    told = {line.what.split(",")[0]: line.diameters for line in answer.lines}
    assert told["wye"] == pytest.approx((180, 100, 180))
    assert told["taper"] == pytest.approx((150, 180))
    assert told["gate"] is None
    words = {row["what"] for row in csv.DictReader(io.StringIO(answer.csv)) if row["list"] in ("needed", "buy")}
    assert "taper, 150 mm x 180 mm" in words
    assert any(one.startswith("wye") and one.endswith("180 mm x 100 mm x 180 mm") for one in words)


def test_runs_of_one_line_are_told_apart_in_the_table():
    """Ids may hold spaces: `band saw` and `saw` are two runs, not three."""
    document = shop(csv=True)
    document["runs"][0]["id"], document["runs"][1]["id"] = "band saw", "long main"
    for run in document["runs"][1:]:
        run["into"] = {"main": "band saw", "east": "long main"}[run["into"]]
    document["runs"][3]["diameter"] = document["runs"][1]["diameter"] = 150
    rows = csv.DictReader(io.StringIO(ask(document).csv))
    ducts = [row["runs"] for row in rows if row["what"].startswith("duct")]
    assert "long main, planer" in ducts

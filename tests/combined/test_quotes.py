"""Quotes of invented shops from invented stocks: what is bought, what it costs, and what ties a quote to its stock."""

import base64
import datetime
import hashlib
import json
from decimal import Decimal

import msgspec
import pytest
from hypothesis import HealthCheck, Phase, given, settings
from litestar.testing import TestClient

import airbough
from airbough.signatures import stock_digest
from airbough_service.api.app import create_app
from airbough_service.api.document import examples
from airbough_service.combined.quotes import question as quotes
from random_outlines import outlines
from sizing_garage import stock as garage_stock
from sizing_garage import tree as garage

CLIENT = airbough.local()
PHASES = (Phase.explicit, Phase.generate)
SIZES = (2.5, 3, 4, 5, 6, 7, 8, 9, 10, 12, 14)


def asked(**more):
    return examples.request("quote") | more


def refused(document):
    with pytest.raises(airbough.AirboughError) as caught:
        CLIENT.quote(document)
    return {(fault.path, fault.code) for fault in caught.value.problem.errors}


def numbered(stock):
    return {name: [{"item": f"{name} {number}"} | one for number, one in enumerate(list_)]
            for name, list_ in stock.items()}  # fmt: skip


def everything():
    """Return a stock of every piece in every bore, in., without wyes and elbows of unlike make."""
    fittings = [{"type": "cap", "diameter": one, "price": one} for one in SIZES]
    for one in SIZES:
        bend = {"type": "elbow", "diameter": one, "price": f"{2.5 * one:.2f}"}
        fittings += [bend | {"angle": angle} for angle in (15, 30, 45, 60, 90, 105, 120, 135)]
        for other in (size for size in SIZES if size < one):
            change = {"diameter": other, "downstream_diameter": one, "price": f"{1.5 * one:.2f}"}
            fittings += [change | {"type": word} for word in ("taper", "abrupt-change")]
        for branch in (size for size in SIZES if size <= one):
            wye = {"type": "wye", "branch_diameter": branch, "angle": 45, "price": f"{4 * one + branch:.2f}"}
            fittings += [wye | {"diameter": one}, wye | {"diameter": one, "angle": 90}]
            double = wye | {"type": "double-wye", "diameter": one}
            even = wye | {"type": "symmetrical-wye", "diameter": branch, "downstream_diameter": one}
            for second in (size for size in SIZES if size <= branch):
                fittings += [double | {"second_branch_diameter": second}, even | {"branch_diameter": second}]
    ducts = [{"diameter": one, "price_per_length": f"{0.8 * one:.2f}"} for one in SIZES]
    gates = [{"diameter": one, "price": 3 * one} for one in SIZES]
    uses = ("screw", "bolt", "clamp", "hanger", "bonding-jumper")
    lengths = ("gasket", "sealant", "tape", "bonding-wire")
    supplies = [{"use": use, "pack": 50, "price": 5} for use in uses]
    supplies += [{"use": use, "length": 30, "price": 9} for use in lengths]
    return numbered({"ducts": ducts, "fittings": fittings, "gates": gates, "supplies": supplies})


EVERYTHING = everything()


def test_the_example_is_quoted_whole():
    answer = CLIENT.quote(asked())
    assert (answer.outcome, answer.price_complete, answer.parts.not_stocked) == ("sized", True, ())
    assert answer.price == answer.parts.system.price == sum(line.price for line in answer.parts.lines)
    assert {state.name for state in answer.states} == {"planer", "saw", "sander"}
    for state in answer.states:
        served = [hood for hood in state.hoods if hood.open]
        assert {hood.machine_id for hood in served} == {state.name}
        assert all(hood.flow >= hood.design_flow for hood in served)
        assert state.holds
    assert set(answer.drawings) == {"plan", "tree"}
    assert all(svg.startswith("<svg") for svg in answer.drawings.values())
    assert (answer.currency, answer.expires) == ("invented money", "2031-12-31")
    assert answer.rows["planer-hose"] == "planer"
    assert CLIENT.operating_point(answer.tree, state={"open": ["planer"]}).system.flow == pytest.approx(
        next(state.flow for state in answer.states if state.name == "planer")
    )


def test_the_price_is_that_of_the_parts_list_of_the_sized_tree():
    answer = CLIENT.quote(asked())
    listed = CLIENT.parts_list(answer.tree, stock=asked()["stock"])
    assert listed.system.price == answer.price
    assert listed.lines == answer.parts.lines


def test_the_price_is_sizings_own_where_duct_is_sold_by_length_and_nothing_small_is_sold():
    tree = garage(stock=None)
    del tree["stock"], tree["runs"][3]["hood"]["port_diameter"]
    body = {"units": "metric", "tree": tree, "stock": numbered(garage_stock())}
    answer = CLIENT.quote(body)
    alone = CLIENT.sizing(tree | {"stock": body["stock"]})
    assert alone.price_complete
    assert answer.price == alone.price
    assert [run["diameter"] for run in alone.document["runs"]] == [run.diameter for run in answer.tree.runs]
    assert answer.rows == {}


def pieces(tree):
    """Return how many gates a tree has, and the lengths of its duct by bore where it has one bore."""
    return sum(run.gate is not None for run in tree.runs), {run.id: run.length for run in tree.runs if run.length}


@given(outlines())
@settings(max_examples=8, deadline=None, suppress_health_check=list(HealthCheck), derandomize=True, phases=PHASES)
def test_any_outline_is_quoted_and_its_parts_buy_every_piece_of_the_tree(document):
    try:
        answer = CLIENT.quote({"units": "us", "outline": document, "stock": EVERYTHING})
    except airbough.NotComputable as refusal:
        if not {fault.code for fault in refusal.problem.errors} <= {"suction-too-deep", "no-distribution-of-flow"}:
            raise
        return
    assert answer.outcome == "sized", [item.suggestion for item in answer.findings if item.code == "no-size-fits"]
    gates, lengths = pieces(answer.tree)
    parts = answer.parts
    assert parts.not_stocked == ()
    needed = [need for need in parts.requirement if need.type == "gate"]
    assert sum(need.quantity for need in needed) == gates
    assert sum(need.length for need in parts.requirement if need.length) == pytest.approx(sum(lengths.values()))
    assert all(need.at is not None for need in parts.requirement)
    bought = {}
    for line in parts.lines:
        bought[line.at] = bought.get(line.at, 0) + (line.needed or line.quantity or line.length)
    for at in {need.at for need in parts.requirement}:
        wanted = sum(need.quantity or need.length for need in parts.requirement if need.at == at)
        assert bought[at] == pytest.approx(wanted)
    priced = [line.price for line in parts.lines if line.price is not None]
    assert answer.price == sum(priced)


def test_a_tree_and_an_outline_are_read_in_their_own_units():
    body = asked(drawings=[])
    del body["outline"]["collector"]  # the exact search at design flows has no ties to break
    answer = CLIENT.quote(body)
    body["units"] = "metric"
    for list_ in ("ducts", "fittings", "gates", "supplies"):
        for one in body["stock"][list_]:
            for name in ("diameter", "branch_diameter", "downstream_diameter"):
                if name in one:
                    one[name] = f"{one[name]} in"
            if "length" in one:
                one["length"] = f"{one['length']} ft"
            if "price_per_length" in one:
                one["price_per_length"] = float(one["price_per_length"]) / 0.3048
            one.pop("quantity", None)
    metric = CLIENT.quote(body)
    assert metric.tree.units == "metric"
    assert [run.diameter for run in metric.tree.runs] == pytest.approx(
        [25.4 * run.diameter for run in answer.tree.runs]
    )
    assert abs(metric.price - answer.price) <= Decimal("0.02")


def test_without_a_fan_the_states_are_at_design_flows():
    body = asked()
    del body["outline"]["collector"]
    answer = CLIENT.quote(body | {"drawings": []})
    for state in answer.states:
        assert state.outcome is None
        assert {hood.machine_id for hood in state.hoods if hood.open} == {state.name}
        assert sum(hood.flow for hood in state.hoods if hood.open) == pytest.approx(state.flow)
    assert answer.drawings == {}


def test_a_collector_known_by_two_figures_is_quoted_and_its_tree_can_be_sent_back():
    body = asked(drawings=[])
    body["outline"]["collector"] = {"known_by": {"greatest_flow": 1600, "greatest_suction": 12}}
    answer = CLIENT.quote(body)
    assert "fan-guessed" in [item.code for item in answer.findings]
    assert answer.tree.collector.fan is None
    again = CLIENT.operating_point(answer.tree, state={"open": ["saw"]})
    assert again.system.flow == pytest.approx(next(one.flow for one in answer.states if one.name == "saw"))


@pytest.mark.parametrize(("days", "told"), [(-1, True), (0, False), (1, False)])
def test_an_expired_stock_is_told(monkeypatch, days, told):
    today = datetime.date(2027, 3, 31)
    monkeypatch.setattr(quotes, "today", lambda: today)
    body = asked(drawings=[])
    body["stock"]["expires"] = (today + datetime.timedelta(days)).isoformat()
    found = [item for item in CLIENT.quote(body).findings if item.code == "stock-expired"]
    assert [item.severity for item in found] == ["warning"] * told


def test_a_stock_that_cannot_serve_is_a_quote_without_price():
    body = asked(rules={"upper_velocity": "must", "transport_velocity": "must"}, limits={"upper_velocity": 4000})
    answer = CLIENT.quote(body)
    assert (answer.outcome, answer.price, answer.tree, answer.parts) == ("no-solution", None, None, None)
    assert "no-size-fits" in [item.code for item in answer.findings]


# RFC 8785, section 3.2.3 and Appendix B, from memory: keys in the order of UTF-16 code units, numbers as ECMAScript
# writes them; the stock below is written by hand in that form.
SENT = '{"gates": [], "ducts": [{"price_per_length": 3.50, "diameter": 5.0, "duct": null, "item": "pip\\u00e9"}]}'
CANONICAL = '{"ducts":[{"diameter":5,"duct":null,"item":"pipé","price_per_length":3.5}],"gates":[]}'


def by_hand(text):
    return base64.urlsafe_b64encode(hashlib.sha256(text.encode()).digest()).rstrip(b"=").decode()


def test_the_digest_is_of_the_stock_as_it_was_sent():
    """What is null, empty or at its default is in it, and neither order nor spelling of numbers is."""
    assert stock_digest(json.loads(SENT)) == by_hand(CANONICAL)
    body = {"units": "us", "outline": asked()["outline"]}
    text = json.dumps(body)[:-1] + f', "stock": {SENT}}}'
    with TestClient(create_app()) as service:
        answer = service.post("/v1/quotes", content=text, headers={"content-type": "application/json"})
        assert answer.status_code == 200, answer.text
        assert answer.json()["stock_digest"] == by_hand(CANONICAL)
        line = json.dumps({"id": "1", "question": "quote"})[:-1] + f', "request": {text}}}'
        batch = service.post("/v1/batches", content=line, headers={"content-type": "application/x-ndjson"})
        assert json.loads(batch.text.splitlines()[0])["answer"]["stock_digest"] == by_hand(CANONICAL)


def test_the_digest_of_a_client_is_that_of_what_it_sends():
    plain = asked()["stock"]
    stock = msgspec.convert(plain, airbough.Stock)
    assert CLIENT.quote(asked(drawings=[])).stock_digest == stock_digest(stock) == stock_digest(plain)
    plain["ducts"][0]["price_per_length"] = "0.01"
    assert CLIENT.quote(asked(drawings=[], stock=plain)).stock_digest != stock_digest(stock)


ONE_RUN = {"units": "us", "runs": [{"id": "a", "into": None, "diameter": 4, "length": 1}]}


def another_duct(document):
    document["outline"]["lines"][0]["duct"] = "black-iron"


@pytest.mark.parametrize(
    ("change", "fault"),
    [
        (lambda d: d.pop("outline"), ("outline", "missing-field")),
        (lambda d: d.update(tree=ONE_RUN), ("outline", "given-twice")),
        (lambda d: d["outline"]["machines"][0].update(line="none"), ("outline.machines[0].line", "unknown-row")),
        (lambda d: d["stock"].update(ducts=[]), ("stock.ducts", "stock-empty")),
        (lambda d: d["stock"]["gates"][1].update(item="pipe-4"), ("stock.gates[1].item", "duplicate-item")),
        (lambda d: d.update(states=[{"name": "one", "open": ["nobody"]}]), ("states[0].open[0]", "unknown-machine")),
        (lambda d: d.update(fixed=["nobody"]), ("fixed[0]", "unknown-id")),
        (lambda d: d["outline"].update(collector=None) or d.update(drawings=["fan"]), ("drawings[0]", "fan-missing")),
        (another_duct, ("outline", "duct-not-stocked")),
    ],
)  # fmt: skip
def test_faults_bear_their_place_in_the_quotes_own_request(change, fault):
    document = asked()
    change(document)
    assert fault in refused(document)


def test_a_fault_of_a_tree_stands_under_tree():
    body = {"units": "us", "tree": examples.request("operating-point"), "stock": asked()["stock"]}
    body["tree"]["runs"][0]["into"] = "nowhere"
    body["tree"] = {name: body["tree"][name] for name in ("units", "runs", "collector", "dust")}
    assert ("tree.runs[0].into", "dangling-into") in refused(body)
    body["tree"] |= {"explain": True}
    assert refused(body) == {("tree.explain", "not-for-this-question")}


def test_the_same_request_gives_the_same_bytes():
    body = json.dumps(asked()).encode()
    with TestClient(create_app()) as service:
        one, two = (
            service.post("/v1/quotes", content=body, headers={"content-type": "application/json"}) for _ in "12"
        )
    assert one.content == two.content


def test_findings_are_told_once_each():
    answer = CLIENT.quote(asked())
    keys = [(item.code, item.at, item.state) for item in answer.findings]
    assert len(keys) == len(set(keys))
    assert not {"all-gates-shut", "end-not-judged", "too-wide-for-smallest"} & {item.code for item in answer.findings}
    assert all(
        (item.at or "tree").startswith(("tree", "outline", "stock", "rules", "states")) for item in answer.findings
    )


def test_states_left_out_are_those_that_were_sized_for():
    """A machine without a gate stands open in every state, and alone with itself it is a state of its own."""
    tree = garage()
    stock = tree.pop("stock")
    curve = [{"flow": 0, "pressure": 3000}, {"flow": 3000, "pressure": 900}]
    tree["collector"] = {"fan": {"curve": curve, "rated_as": "fan-static"}}
    tree["runs"][3].pop("gate")
    quoted = CLIENT.quote({"units": "metric", "tree": tree, "stock": stock})
    sized = CLIENT.sizing(tree | {"stock": stock})
    assert [state.name for state in quoted.states] == [state.state for state in sized.states]
    assert {state.name for state in quoted.states} == {"saw", "planer"}

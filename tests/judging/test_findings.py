"""Findings that a user can act on: each of the main ones has value, limit, source and something to do."""

import copy
import json
import math
from pathlib import Path
from typing import Any

import pytest

import airbough
from airbough_service import catalogue
from airbough_service.terms.codes import CODES

CLIENT = airbough.local()
SHOP = json.loads((Path(__file__).parents[1] / "data" / "eight_machines.json").read_text())


def found(document: dict[str, Any], code: str) -> Any:
    """Return the first finding of a code; the test fails where there is none."""
    items = [item for item in CLIENT.operating_point(document).findings if item.code == code]
    assert items, f"no finding {code}"
    return items[0]


def changed(**changes: Any) -> dict[str, Any]:
    """Return the shop with runs (by id) or fields of the whole changed."""
    document = copy.deepcopy(SHOP)
    for name, value in changes.items():
        run = next((run for run in document["runs"] if run["id"] == name.replace("_", "-")), None)
        (document if run is None else run).update(value)
    return document


def shut() -> dict[str, Any]:
    """Return the shop with every gate shut tight."""
    document = copy.deepcopy(SHOP)
    for run in document["runs"]:
        if "gate" in run:
            run["gate"] = {"opening": 0.0}
    return document


SHORT = {**SHOP["collector"]["fan"], "curve": SHOP["collector"]["fan"]["curve"][:3]}
CASES: dict[str, dict[str, Any]] = {
    "below-transport-velocity": SHOP,
    "needlessly-fast": changed(main={"diameter": 4}, south={"diameter": 4}),
    "hood-starved": changed(planer={"hood": {**SHOP["runs"][7]["hood"], "flow": 1400}}),
    "abrupt-change": SHOP,
    "narrower-than-upstream": changed(south={"diameter": 5}),
    "machine-port-bottleneck": changed(planer={"hood": {**SHOP["runs"][7]["hood"], "port_diameter": 3}}),
    "sharp-turn": SHOP,
    "square-tee": SHOP,
    "all-gates-shut": shut(),
    "fan-beyond-curve": changed(collector={"collector": {**SHOP["collector"], "fan": SHORT}}),
    "outside-correlation-range": SHOP,
}


@pytest.mark.parametrize("code", CASES)
def test_a_finding_can_be_acted_on(code: str) -> None:
    """It has value and limit with a bound, a source that the bibliography knows, a run or place, and advice."""
    item = found(CASES[code], code)
    assert item.value is not None
    assert item.limit is not None
    assert item.bound in ("minimum", "maximum")
    assert (item.value < item.limit) == (item.bound == "minimum")
    assert item.suggestion is not None
    assert item.source == "caller" or catalogue.source(item.source).title
    assert item.severity == CODES[code].severity


def test_findings_are_in_order() -> None:
    """Severity first, then the document, then the code."""
    rank = {"danger": 0, "warning": 1, "note": 2}
    items = CLIENT.operating_point(SHOP).findings
    assert [rank[item.severity] for item in items] == sorted(rank[item.severity] for item in items)


def test_no_words_of_approval() -> None:
    """No message, suggestion or caution says safe, OK or approved (contract, words of safety)."""
    answer = CLIENT.operating_point(SHOP)
    texts = [item.message for item in answer.findings] + list(answer.cautions)
    texts += [item.suggestion.text for item in answer.findings if item.suggestion]
    texts += [code.meaning for code in CODES.values()]
    for text in texts:
        words = {word.strip(".,;:()").lower() for word in text.split()}
        assert not words & {"safe", "ok", "approved", "compliant", "certified"}, text


def test_advice_never_starves_an_open_hood() -> None:
    """A change that would take an open hood below its design flow is not proposed."""
    document = copy.deepcopy(SHOP)
    saw = next(run for run in document["runs"] if run["id"] == "band-saw")
    flows = {hood.run: hood.flow for hood in CLIENT.operating_point(document).hoods}
    saw["hood"]["flow"] = flows["band-saw"] * 0.9999  # just served: any gain of the planer's would starve it
    item = next(i for i in CLIENT.operating_point(document).findings if i.code == "sharp-turn" and i.run == "planer")
    assert item.suggestion.changes is None
    assert "band-saw" in item.suggestion.text


@pytest.mark.parametrize(("share", "slow"), [(1.0, False), (1.0 - 5e-7, False), (1.0 - 2e-6, True)])
def test_air_within_a_millionth_of_its_transport_velocity_carries(share: float, slow: bool) -> None:
    """A comparison within 1e-6 of its limit holds (contract 2, Dust): a balance at a flow reckoned from the limit."""
    limit = next(dust for dust in CLIENT.dusts({"units": "metric"}).dusts if dust.id == "shavings").transport_velocity
    flow = limit * share * math.pi / 4.0 * 0.15**2 * 3600.0
    hood = {"flow": flow, "entry": {"type": "known-coefficient", "coefficient": 0.5}}
    run = {"id": "run", "into": None, "diameter": 150, "length": 10, "duct": "spiral-galvanized", "hood": hood}
    asked = {"units": "metric", "dust": "shavings", "runs": [run]}
    assert ("below-transport-velocity" in {item.code for item in CLIENT.balance(asked).findings}) == slow
    check = {"units": "metric", "dust": "shavings", "flow": flow, "diameter": 150}
    assert CLIENT.velocity_check(check).holds == (not slow)


def test_what_a_machine_is_to_be_warned_of_goes_with_every_answer_about_its_tree() -> None:
    """A grinder throws sparks: the catalogue's caution of the machine, beside the guards of every machine."""
    grinder = copy.deepcopy(SHOP)
    grinder["runs"][7]["hood"]["machine"] = "bench-grinder"
    own, guards = (catalogue.caution(word).text for word in ("sparks", "guards"))
    assert "sparks" in own
    for ask in (CLIENT.operating_point, CLIENT.balance, CLIENT.strength):
        assert {own, guards} <= set(ask(grinder).cautions)
        assert own not in ask(SHOP).cautions


def test_where_the_taper_to_advise_would_be_longer_than_any_the_longest_is_advised() -> None:
    """3000 mm into 100 mm asks for 14.5 m; a taper is at most 10 m long. Found by a random document."""
    pipe = {"length": 1, "duct": "spiral-galvanized"}
    hood = {"flow": 100, "entry": {"type": "plain-opening"}}
    wide = {"id": "wide", "into": "main", "join": {"type": "straight"}, "diameter": 3000, "hood": hood, **pipe}
    asked = {"units": "metric", "runs": [{"id": "main", "into": None, "diameter": 100, **pipe}, wide]}
    (found,) = (item for item in CLIENT.balance(asked).findings if item.code == "abrupt-change")
    assert "a taper 10000 mm long" in found.suggestion.text


def bent(*fittings: dict[str, Any], diameter: float = 4) -> dict[str, Any]:
    """Return one run with these fittings behind a fan."""
    curve = [{"flow": 0, "pressure": 12}, {"flow": 1500, "pressure": 1}]
    run = {"id": "r", "into": None, "diameter": diameter, "length": 20, "duct": "spiral-galvanized"}
    run |= {"fittings": list(fittings), "hood": {"entry": {"type": "plain-opening"}}}
    return {"units": "us", "runs": [run], "collector": {"fan": {"curve": curve, "rated_as": "fan-static"}}}


def turn(construction: str, **more: Any) -> dict[str, Any]:
    return {"type": "elbow", "angle": 90, "construction": construction, **more}


@pytest.mark.parametrize("construction", ["smooth", "three-piece", "four-piece", "five-piece", "adjustable"])
def test_two_elbows_of_a_kind_are_not_advised_where_they_lose_more(construction: str) -> None:
    """Two 45s of one construction lose 1.2 times one 90 (SMACNA Table A-7 A, note 1: 0.60 each), but for mitred."""
    codes = {item.code for item in CLIENT.operating_point(bent(turn(construction))).findings}
    assert "sharp-turn" not in codes


def test_like_is_advised_with_like_and_another_kind_by_its_own_name() -> None:
    """A mitred turn (1.20) is two mitred ones of 45 deg (0.34 each, SMACNA Table A-7 C), or a gored one by name."""
    document = bent(turn("mitered"))
    like, other = found(document, "sharp-turn"), found(document, "smoother-elbow")
    assert like.limit == pytest.approx(0.68)
    assert like.suggestion.changes[0].value["construction"] == "mitered"
    assert "two mitered elbows of 45 deg" in like.suggestion.text
    assert like.suggestion.gain["pressure_saved"] > 0.0
    assert other.suggestion.changes[0].value["type"] == "elbow"
    assert other.suggestion.changes[0].value["construction"] == "five-piece"
    assert "one five-piece elbow of 90 deg" in other.suggestion.text


def test_a_pleated_elbow_is_not_told_to_gain_by_parting_it() -> None:
    """At 4 in. (0.57, ASHRAE CD3-5) two pleated 45s lose 0.68; only a stamped elbow, named, helps (0.21, CD3-1)."""
    item = found(bent(turn("adjustable")), "smoother-elbow")
    assert (item.value, item.limit) == pytest.approx((0.57, 0.21), abs=0.005)
    assert "one smooth elbow" in item.suggestion.text


def test_a_tight_elbow_is_advised_a_wider_radius_of_its_own_construction() -> None:
    item = found(bent(turn("five-piece", radius_ratio=0.75)), "smoother-elbow")
    assert item.suggestion.changes[0].value["construction"] == "five-piece"
    assert item.suggestion.changes[0].value["radius_ratio"] == 1.5


def test_advice_on_turns_is_what_the_engine_makes_of_it() -> None:
    """The document with the change made gives the gain that was told."""
    document = bent(turn("mitered"))
    before = CLIENT.operating_point(document).runs[0].flow
    for code in ("sharp-turn", "smoother-elbow"):
        item = found(document, code)
        changed = bent(item.suggestion.changes[0].value)
        gained = CLIENT.operating_point(changed).runs[0].flow - before
        assert gained == pytest.approx(item.suggestion.gain["flow_gained"], rel=1e-6)


def test_elbows_without_a_construction_are_noted_once() -> None:
    document = bent({"type": "elbow", "angle": 90}, {"type": "offset", "angle": 30, "spacer_ratio": 8})
    items = [item for item in CLIENT.operating_point(document).findings if item.code == "construction-assumed"]
    assert [item.at for item in items] == ["runs[0].fittings[0].construction"]
    assert "2 turns" in items[0].message
    assert not [i for i in CLIENT.operating_point(bent(turn("smooth"))).findings if i.code == "construction-assumed"]


@pytest.mark.parametrize(("upstream", "downstream"), [(4.0, 6.0), (6.0, 4.0)])
def test_an_abrupt_change_among_fittings_is_advised_its_own_taper_at_its_place(
    upstream: float, downstream: float
) -> None:
    """What is advised has its diameters, stands in its place, and gains what the tree with it really gains."""
    step = {"type": "abrupt-change", "upstream_diameter": upstream, "downstream_diameter": downstream}
    elbow = turn("five-piece", radius_ratio=1.5)
    document = bent(*([elbow, step] if upstream < downstream else [step, elbow]), diameter=upstream)
    place = f"runs[0].fittings[{document['runs'][0]['fittings'].index(step)}]"
    if upstream < downstream:  # from the hood to the step, and a run of the wider bore below it
        document["runs"][0]["into"] = "below"
        below = {"id": "below", "into": None, "diameter": downstream, "length": 1, "duct": "spiral-galvanized"}
        document["runs"].append(below)
    before = CLIENT.operating_point(document)
    item = next(one for one in before.findings if one.code == "abrupt-change" and one.at == place)
    assert item.suggestion is not None
    assert item.suggestion.changes is not None
    assert item.suggestion.gain is not None
    (change,) = item.suggestion.changes
    assert change.path == place
    assert (change.value["upstream_diameter"], change.value["downstream_diameter"]) == (upstream, downstream)
    number = int(place[-2])
    document["runs"][0]["fittings"][number] = change.value
    after = CLIENT.operating_point(document)
    assert not [one for one in after.findings if one.code == "abrupt-change" and one.at == place]
    gained = after.system.flow - before.system.flow
    assert gained > 0.0
    assert gained == pytest.approx(item.suggestion.gain["flow_gained"], rel=1e-4)
    # At the flow of before both coefficients lose in proportion; friction goes not quite with the square.
    narrow = min(upstream, downstream) / 12.0
    pressure = (before.system.flow / (math.pi / 4.0 * narrow**2) / 4005.0) ** 2
    assert item.value is not None
    assert item.limit is not None
    assert item.suggestion.gain["pressure_saved"] == pytest.approx((item.value - item.limit) * pressure, rel=0.05)


@pytest.mark.parametrize(("reynolds", "said"), [(1_900.0, False), (2_100.0, True), (3_900.0, True), (4_100.0, False)])
def test_a_run_between_laminar_and_turbulent_flow_is_told(reynolds: float, said: bool) -> None:
    """Friction there is bridged: Re = V D / nu of 2,000 to 4,000, by hand for 100 mm and nu 1.5e-5 m2/s."""
    flow = 3600.0 * reynolds * 1.5e-5 / 0.1 * math.pi / 4.0 * 0.1**2
    run = {"id": "r", "into": None, "diameter": 100, "length": 1, "duct": "spiral-galvanized"}
    run |= {"hood": {"flow": flow, "entry": {"type": "plain-opening"}}}
    told = CLIENT.balance({"units": "metric", "air": {"density": 1.2, "viscosity": 1.8e-5}, "runs": [run]})
    found = [item for item in told.findings if item.code == "transitional-flow"]
    assert [item.run for item in found] == (["r"] if said else [])
    assert all(item.value == pytest.approx(reynolds, rel=1e-6) and item.limit == 4000.0 for item in found)


def test_a_suggested_taper_is_never_longer_than_tapers_are_answered() -> None:
    """A 4 in. main under a bore of 3 m would have asked for one of 14.5 m; 10 m is the longest."""
    document = bent()
    wide = document["runs"][0] | {"id": "wide", "into": "r", "diameter": "3 m"}
    del document["runs"][0]["hood"]
    document["runs"].append(wide)
    item = found(document, "abrupt-change")
    assert item.suggestion.changes[0].value["taper_length"] == pytest.approx(10 / 0.0254)


def test_a_hose_tells_its_range_once_and_what_was_taken() -> None:
    document = bent()
    document["runs"][0]["duct"] = "flexible-hose-ribbed"
    codes = [item.code for item in CLIENT.operating_point(document).findings]
    assert codes.count("hose-range") == codes.count("stretch-assumed") == 1
    assert found(document, "stretch-assumed").value == 1.0
    straight = CLIENT.operating_point(bent()).runs[0]
    hose = CLIENT.operating_point(document).runs[0]
    # 4 in.: 1.7 to 1.75 times spiral duct (own evaluation of Colebrook at 20 m/s, 0.9 against 0.09 mm), was 4.8 times.
    ratio = hose.friction_loss / hose.flow**2 / (straight.friction_loss / straight.flow**2)
    assert ratio == pytest.approx(1.73, abs=0.08)


def test_a_machines_share_is_of_the_pressure_at_its_own_inlet() -> None:
    """Two runs enter the collector apart, where each loses its own velocity pressure: their pressures differ."""
    entry = {"type": "plain-opening"}
    easy = {"id": "easy", "into": None, "diameter": 8, "length": 2, "duct": "spiral-galvanized"}
    tight = {"id": "tight", "into": None, "diameter": 5, "length": 2, "duct": "spiral-galvanized"}
    body = {
        "units": "us",
        "runs": [
            easy | {"hood": {"flow": 700, "entry": entry}},
            tight | {"hood": {"flow": 300, "entry": entry, "port_diameter": 2.5}},
        ],
        "collector": {
            "fan": {"curve": [{"flow": 0, "pressure": 8}, {"flow": 2500, "pressure": 2}], "rated_as": "fan-static"}
        },
    }
    answer = CLIENT.operating_point(body)
    items = [one for one in answer.findings if one.code == "machine-port-bottleneck"]
    item = next(one for one in items if one.run == "tight")
    run = answer.run("tight")
    assert run.total_pressure != pytest.approx(answer.run("easy").total_pressure, rel=0.01)
    assert item.value == pytest.approx((run.entry_loss + run.port_loss) / -run.total_pressure, rel=1e-9)

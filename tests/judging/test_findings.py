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
SHOP = json.loads((Path(__file__).parents[2] / "deploy" / "shop.json").read_text())


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

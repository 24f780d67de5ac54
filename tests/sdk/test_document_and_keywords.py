"""A document with keywords: they add to it, and go before what it says."""

import json
from pathlib import Path

import airbough

SHOP = json.loads((Path(__file__).parents[2] / "deploy" / "shop.json").read_text())


def test_keywords_add_to_a_document_and_go_before_what_it_says():
    client, air = airbough.local(), {"altitude": "1500 m"}
    machine = next(run["hood"]["machine_id"] for run in SHOP["runs"] if run.get("hood", {}).get("machine_id"))
    states = [{"name": "alone", "open": [machine]}]
    alike = client.gate_states({**SHOP, "states": states, "air": air})
    assert client.gate_states(SHOP, states=states, air=air) == alike
    assert client.gate_states(SHOP, states=states) != alike
    assert "states" not in SHOP

"""Two shops written by hand as trees, and as outlines: the same flows to a thousand-millionth.

The trees are written as somebody would who draws the ducts: each run with its length, its elbows and its wye. What an
outline takes where nothing is said (45 deg wyes, elbows of radius ratio 1.5, tapers five times as long as the diameters
differ) is common practice, no source.
"""

from typing import Any

import pytest

import airbough

CLIENT = airbough.local()
ELBOW = {"type": "elbow", "angle": 90, "radius_ratio": 1.5}
HALF = {"type": "elbow", "angle": 45, "radius_ratio": 1.5}
BEND = {"type": "hose-bend", "angle": 90, "radius_ratio": 1.5}
HALF_BEND = {"type": "hose-bend", "angle": 45, "radius_ratio": 1.5}
STRAIGHT = {"type": "straight"}
WYE = {"type": "branch", "angle": 45}
FAN = {
    "curve": [
        {"flow": flow, "pressure": pressure} for flow, pressure in ((0, 11), (600, 10.5), (1200, 8), (1600, 4.5))
    ],
    "rated_as": "fan-static",
    "includes": [],
}
LOSSES = [
    {"name": "cyclone", "flow": 1000, "pressure": 1.8},
    {"name": "filter", "flow": 1000, "pressure": 0.6, "exponent": 1},
]


def run(name: str, into: str | None, diameter: float, length: float, **more: Any) -> dict[str, Any]:
    return {"id": name, "into": into, "diameter": diameter, "length": length, "duct": "spiral-galvanized"} | more


def hose(name: str, into: str, diameter: float, length: float, flow: float, **more: Any) -> dict[str, Any]:
    hood = {"entry": {"type": "plain-opening"}, "flow": flow, "port_diameter": diameter}
    bend = {"fittings": [BEND], "stretch": 1.0, "hood": hood}
    return run(name, into, diameter, length) | {"duct": "flexible-hose-ribbed"} | bend | more


def garage() -> tuple[dict[str, Any], dict[str, Any]]:
    """Return a shop of three machines on one line and a second one, by hand and as an outline."""
    gate = {"opening": 1}
    by_hand = [
        run("main", None, 7, 10, fittings=[ELBOW]),
        run("main-2", "main", 7, 8, join=STRAIGHT),
        run("main-3", "main-2", 7, 4, join=STRAIGHT),
        run("north", "main-3", 6, 14, join={"type": "straight", "taper_length": 5}),
        run("planer", "main", 5, 10, rise=6, fittings=[ELBOW, HALF], join=WYE, gate=gate),
        hose("planer-hose", "planer", 5, 4, 600),
        run("saw", "main-2", 4, 7, rise=5, fittings=[ELBOW, HALF], join=WYE, gate=gate),
        hose("saw-hose", "saw", 4, 5, 400 * 16 / 22.25, join=STRAIGHT),
        hose("saw-hose-2", "saw", 2.5, 8, 400 * 6.25 / 22.25, join=WYE, fittings=[HALF_BEND]),
        run(
            "sander", "north", 4, 6, rise=6, fittings=[ELBOW], join={"type": "straight", "taper_length": 10}, gate=gate
        ),
        hose("sander-hose", "sander", 4, 3, 350),
    ]
    lines = [
        {"id": "main", "diameter": 7, "length": 22, "turns": [{"at": 3}]},
        {"id": "north", "into": "main", "at": 22, "diameter": 6, "length": 14},
    ]
    saw_ports = [{"port": 4, "hose": 5}, {"port": 2.5, "hose": 8}]
    machines = [
        {"id": "planer", "line": "main", "at": 10, "off": 4, "drop": 6, "port": 5, "hose": 4, "flow": 600},
        {"id": "saw", "line": "main", "at": 18, "off": 2, "drop": 5, "flow": 400, "ports": saw_ports},
        {"id": "sander", "line": "north", "at": 14, "drop": 6, "port": 4, "hose": 3, "flow": 350},
    ]
    shared = {"units": "us", "dust": "shavings", "collector": {"fan": FAN, "losses": LOSSES}}
    return shared | {"runs": by_hand}, shared | {"lines": lines, "machines": machines}


def long_shop() -> tuple[dict[str, Any], dict[str, Any]]:
    """Return a metric shop whose line ends in two, one machine sharing another's drop, and a line of its own."""
    gate = {"opening": 1}
    plain = {"type": "plain-opening"}

    def leaf(flow: float, port: float) -> dict[str, Any]:
        return {"entry": plain, "flow": flow, "port_diameter": port}

    by_hand = [
        run("trunk", None, 200, 5, rise=-3, fittings=[ELBOW]),
        run("trunk-2", "trunk", 200, 3, join=STRAIGHT),
        run("west", "trunk-2", 160, 4, fittings=[HALF], join=WYE),
        run("east", "trunk-2", 160, 6, fittings=[HALF], join=WYE),
        run("lathe", "trunk", 125, 2.4, rise=1.4, fittings=[ELBOW, HALF], join=WYE),
        run("lathe-2", "lathe", 125, 0, join=STRAIGHT, gate=gate, hood=leaf(900, 120)),
        run("drill", "lathe", 100, 0, join=WYE, gate=gate),
        hose("drill-hose", "drill", 100, 2, 600, fittings=[]),
        run("saw", "west", 125, 2.5, rise=2, fittings=[ELBOW, ELBOW], join={"type": "straight", "taper_length": 175}),
        run("planer", "east", 150, 2.5, rise=2, fittings=[ELBOW, ELBOW], join={"type": "straight", "taper_length": 50}),
    ]
    by_hand[8] |= {"hood": leaf(900, 120), "gate": gate}
    by_hand[9] |= {"hood": leaf(1300, 140), "gate": gate}
    lines = [
        {"id": "trunk", "diameter": 200, "length": 8, "start": "up", "turns": [{"at": 3, "to": "ahead"}]},
        {"id": "west", "into": "trunk", "at": 8, "diameter": 160, "length": 4},
        {"id": "east", "into": "trunk", "at": 8, "diameter": 160, "length": 6},
    ]
    shop = {"off": 0.5, "drop": 2, "hose": 0}
    machines = [
        {"id": "lathe", "line": "trunk", "at": 5, "off": 1, "drop": 1.4, "port": 120, "flow": 900},
        {"id": "drill", "line": "lathe", "off": 0, "drop": 0, "port": 100, "hose": 2, "flow": 600},
        shop | {"id": "saw", "line": "west", "at": 4, "port": 120, "flow": 900, "diameter": 125},
        shop | {"id": "planer", "line": "east", "at": 6, "port": 140, "flow": 1300, "diameter": 150},
    ]
    curve = [
        {"flow": flow, "pressure": pressure} for flow, pressure in ((0, 2800), (1500, 2500), (3000, 1500), (5000, 0))
    ]
    fan = {"curve": curve, "rated_as": "fan-static"}
    shared = {"units": "metric", "dust": "chips", "collector": {"fan": fan}}
    return shared | {"runs": by_hand}, shared | {"lines": lines, "machines": machines}


@pytest.mark.parametrize("shop", [garage, long_shop])
def test_an_outline_gives_the_flows_of_its_tree_written_by_hand(shop):
    by_hand, outline = shop()
    tree = CLIENT.outline(outline).tree
    expected = {made.id: made.flow for made in CLIENT.operating_point(by_hand).runs}
    found = {made.id: made.flow for made in CLIENT.operating_point(tree).runs}
    assert len(found) == len(by_hand["runs"])
    assert found == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize("shop", [garage, long_shop])
def test_an_outline_balances_as_its_tree_written_by_hand(shop):
    by_hand, outline = shop()
    expected = CLIENT.balance(by_hand)
    found = CLIENT.balance(CLIENT.outline(outline).tree)
    pressures = [{made.id: made.total_loss for made in answer.runs} for answer in (found, expected)]
    assert pressures[0] == pytest.approx(pressures[1], rel=1e-9)

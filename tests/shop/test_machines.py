"""Who is a machine and which gates are its own, by the contract's gate paragraph; no published source."""

import copy

import msgspec
import pytest

from airbough.wire.operating_point import OperatingPointRequest
from airbough.wire.state import GateSetting
from airbough_service.shop import gates
from airbough_service.shop.shop import build
from airbough_service.terms import units
from airbough_service.terms.refusal import Refusal

GALVANIZED = "spiral-galvanized"


def run(id_, into, **more):
    """Return a run of 100 mm."""
    return {"id": id_, "into": into, "diameter": 100, "length": 2, "duct": GALVANIZED} | more


def leaf(id_, into, machine_id=None, gate=None, **more):
    """Return a run with a hood, and a gate where one is asked for."""
    hood = {"entry": {"type": "plain-opening"}, "flow": 400} | (
        {} if machine_id is None else {"machine_id": machine_id}
    )
    return run(id_, into, hood=hood, **({} if gate is None else {"gate": gate}), **more)


PLANER = {"machine_id": "planer"}
BRANCH, STRAIGHT = {"type": "branch", "angle": 45}, {"type": "straight"}


def shop(*runs):
    """Return the shop of these runs, made ready."""
    body = {"units": "metric", "runs": copy.deepcopy(list(runs))}
    return build(units.to_si(msgspec.convert(body, OperatingPointRequest)))


def told(*runs):
    """Return machine name -> (hoods, gates), and the zone gates, all by run id."""
    made = shop(*runs)
    name = [one.id for one in made.runs]
    machines = {
        machine.name: ({name[hood] for hood in machine.hoods}, {name[gate] for gate in machine.gates})
        for machine in made.machines.each
    }
    return machines, {name[gate] for gate in made.machines.zones}


def test_a_gate_on_the_drop_belongs_to_the_machine_at_the_hose():
    machines, zones = told(
        run("main", None),
        run("drop", "main", join=BRANCH, gate={"opening": 1}),
        leaf("hose", "drop"),
        leaf("planer", "main", gate={"opening": 1}, join=STRAIGHT),
    )
    assert machines == {"hose": ({"hose"}, {"drop"}), "planer": ({"planer"}, {"planer"})}
    assert zones == set()


def test_an_id_on_hood_or_gate_alone_means_the_same():
    for hood_id, gate_id in (("saw", None), (None, "saw"), ("saw", "saw")):
        gate = {"opening": 1} | ({} if gate_id is None else {"machine_id": gate_id})
        machines, _ = told(
            run("main", None),
            run("drop", "main", join=BRANCH, gate=gate),
            leaf("hose", "drop", hood_id),
            leaf("other", "main", join=STRAIGHT),
        )
        assert machines["saw"] == ({"hose"}, {"drop"})


def test_a_gate_below_two_ports_ties_them_to_its_machine():
    machines, zones = told(
        run("drop", None, gate={"opening": 1, "machine_id": "saw"}),
        leaf("above", "drop", join=BRANCH),
        leaf("below", "drop", join=STRAIGHT),
    )
    assert machines == {"saw": ({"above", "below"}, {"drop"})}
    assert zones == set()


def test_a_gate_below_two_machines_is_a_zone_gate_unless_one_takes_its_id():
    hoods = leaf("a", "main", join=BRANCH), leaf("b", "main", "saw", join=STRAIGHT)
    machines, zones = told(run("main", None, gate={"opening": 1}), *hoods)
    assert zones == {"main"}
    assert machines == {"a": ({"a"}, set()), "saw": ({"b"}, set())}
    gate = {"opening": 1, "machine_id": "saw"}
    machines, zones = told(run("main", None, gate=gate), *hoods)
    assert machines == {"saw": ({"a", "b"}, {"main"})}  # the first gate on the way of `a` says whose it is


def disagreeing(*runs):
    """Return where the ids of these runs disagree."""
    with pytest.raises(Refusal) as caught:
        shop(*runs)
    return [(fault.path, fault.code) for fault in caught.value.faults]


SAWS = run("main", None, gate={"opening": 1, "machine_id": "saw"}), leaf("b", "main", "saw", join=STRAIGHT)


@pytest.mark.parametrize(
    "other",
    [
        leaf("a", "main", "planer", join=BRANCH),
        leaf("a", "main", "planer", gate={"opening": 1}, join=BRANCH),
        leaf("a", "main", gate={"opening": 1, "machine_id": "planer"}, join=BRANCH),
        leaf("a", "main", gate={"opening": 1}, join=BRANCH),
    ],
    ids=("hood of another id", "gated hood of another id", "gate of another id", "gate of its own without id"),
)
def test_a_gate_with_an_id_over_another_machines_hood_is_refused(other):
    assert disagreeing(SAWS[0], other, SAWS[1]) == [("runs[0].gate.machine_id", "machine-ids-disagree")]
    far = run("far", "main", join=BRANCH), other | {"into": "far", "join": None}
    assert disagreeing(*SAWS, *far) == [("runs[0].gate.machine_id", "machine-ids-disagree")]


@pytest.mark.parametrize(
    "other",
    [
        leaf("a", "main", join=BRANCH),
        leaf("a", "main", "saw", join=BRANCH),
        leaf("a", "main", "saw", gate={"opening": 1}, join=BRANCH),
        leaf("a", "main", gate={"opening": 1, "machine_id": "saw"}, join=BRANCH),
    ],
    ids=("no id and no gate", "hood of the id", "gated hood of the id", "gate of the id"),
)
def test_a_gate_with_an_id_over_its_own_machines_hoods_is_that_machines(other):
    machines, zones = told(*SAWS, other)
    assert machines == {"saw": ({"a", "b"}, {"main"} | ({"a"} if "gate" in other else set()))}
    assert zones == set()


def test_gates_of_two_ids_on_one_line_are_refused():
    line = run("main", None, gate={"opening": 1, "machine_id": "saw"}), leaf("a", "main", gate={"opening": 1} | PLANER)
    assert disagreeing(*line) == [("runs[0].gate.machine_id", "machine-ids-disagree")]


def test_a_gate_with_an_id_on_a_leaf_without_hood_is_a_fault_of_the_hood():
    assert disagreeing(run("main", None, gate={"opening": 1, "machine_id": "saw"})) == [
        ("runs[0].hood", "leaf-without-hood")
    ]


@pytest.mark.parametrize(
    ("runs", "path", "code"),
    [
        ((leaf("a", None, "saw", {"opening": 1, "machine_id": "planer"}),), "runs[0].gate.machine_id", None),
        (
            (
                run("main", None, gate={"opening": 1, "machine_id": "x"}),
                leaf("a", "main", "saw", join=BRANCH),
                leaf("b", "main", "planer", join=STRAIGHT),
            ),
            "runs[0].gate.machine_id",
            None,
        ),
        (
            (run("main", None), leaf("saw", "main", join=BRANCH), leaf("b", "main", "saw", join=STRAIGHT)),
            "runs[1].id",
            "ambiguous-machine",
        ),
    ],
)
def test_ids_that_disagree_are_refused(runs, path, code):
    with pytest.raises(Refusal) as caught:
        shop(*runs)
    assert [(fault.path, fault.code) for fault in caught.value.faults] == [(path, code or "machine-ids-disagree")]


ZONED = (
    run("main", None),
    run("east", "main", join=STRAIGHT, gate={"opening": 0.5}),
    leaf("planer", "east", gate={"opening": 0.3}, join=STRAIGHT),
    leaf("lathe", "east", gate={"opening": 0}, join=BRANCH),
    leaf("sweep", "main", join=BRANCH),
)


def openings(**asked):
    """Return run id -> opening in a setting, and the faults of it."""
    made, faults = shop(*ZONED), []
    found = gates.setting(made, GateSetting(**asked), "state", faults)
    return {made.runs[index].id: share for index, share in found.openings.items()}, faults


def test_a_setting_opens_as_the_document_says_and_leaves_zones_alone():
    assert openings() == ({"east": 0.5, "planer": 0.3, "lathe": 0.0}, [])
    assert openings(open=())[0] == {"east": 0.5, "planer": 0.0, "lathe": 0.0}
    assert openings(open=("planer", "sweep"))[0] == {"east": 0.5, "planer": 0.3, "lathe": 0.0}
    assert openings(open=("lathe",))[0] == {"east": 0.5, "planer": 0.0, "lathe": 1.0}
    assert openings(open=("lathe",), openings={"east": 0.0, "lathe": 0.2})[0] == {
        "east": 0.0,
        "planer": 0.0,
        "lathe": 0.2,
    }


def test_a_setting_that_names_nothing_is_a_fault_with_its_place():
    _, faults = openings(open=("plane", "main"), openings={"main": 1.0, "nowhere": 1.0, "east": 1e-5})
    assert [(fault.path, fault.code) for fault in faults] == [
        ("state.open[0]", "unknown-machine"),
        ("state.open[1]", "unknown-machine"),
        ("state.openings.main", "no-gate"),
        ("state.openings.nowhere", "unknown-run"),
        ("state.openings.east", "outside-range"),
    ]


def test_a_hood_is_open_when_no_gate_down_to_the_collector_is_shut():
    made = shop(*ZONED)
    names = [one.id for one in made.runs]

    def open_and_active(**shares):
        state = {names.index(name): share for name, share in shares.items()}
        return (
            {name for name, flag in zip(names, gates.open_hoods(made, state), strict=True) if flag},
            {name for name, flag in zip(names, gates.active(made, state), strict=True) if flag},
        )

    assert open_and_active() == ({"planer", "sweep"}, {"planer", "east", "sweep", "main"})
    assert open_and_active(east=0.0) == ({"sweep"}, {"sweep", "main"})
    assert open_and_active(planer=0.00009)[0] == {"sweep"}
    assert open_and_active(planer=0.0001, lathe=1.0)[0] == {"planer", "lathe", "sweep"}


def test_a_machine_behind_a_shut_zone_gate_is_cut_off():
    made = shop(*ZONED)
    east = [one.id for one in made.runs].index("east")
    assert [machine.name for machine in gates.shut_off(made, {east: 0.0})] == ["planer"]
    assert gates.shut_off(made, {}) == ()


def test_a_zone_gate_is_no_machine_and_says_so():
    made, faults = shop(*ZONED), []
    assert made.machines.named("east", "held_gate", faults) is None
    assert [(fault.code, "nearest" in fault.detail) for fault in faults] == [("unknown-machine", False)]


def test_a_machine_id_that_is_the_run_of_another_gate_is_refused():
    with pytest.raises(Refusal) as caught:
        shop(
            run("main", None, gate={"opening": 1}),
            leaf("a", "main", "main", join=BRANCH),
            leaf("b", "main", join=STRAIGHT),
        )
    assert [(fault.path, fault.code) for fault in caught.value.faults] == [("runs[0].id", "ambiguous-machine")]

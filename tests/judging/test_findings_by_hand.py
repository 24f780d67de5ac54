"""Where a finding stands, what it compares with what, and in which words, on trees small enough to see it."""

import pytest

import airbough

CLIENT = airbough.local()
SPIRAL = "spiral-galvanized"
ELBOW = {"type": "elbow", "angle": 90, "radius_ratio": 1.5, "construction": "five-piece"}
FAN = {"curve": [{"flow": 0, "pressure": 2500}, {"flow": 6000, "pressure": 0}], "rated_as": "fan-static"}


def told(run, **more):
    """Return the findings of one run with a hood under a fan."""
    hood = {"flow": 600, "entry": {"type": "plain-opening"}}
    plain = {"id": "a", "into": None, "diameter": 150, "length": 6, "duct": SPIRAL, "hood": hood}
    document = {"units": "metric", "runs": [plain | run], "collector": {"fan": FAN}} | more
    return CLIENT.operating_point(document).findings


def of(findings, code):
    """Return the findings of a code."""
    return [item for item in findings if item.code == code]


@pytest.mark.parametrize("before", [0, 1, 10, 12])
def test_an_abrupt_change_is_advised_by_its_own_diameters_wherever_it_stands(before):
    change = {"type": "abrupt-change", "upstream_diameter": 150, "downstream_diameter": 200, "at": 3}
    (item,) = of(told({"fittings": [ELBOW] * before + [change]}), "abrupt-change")
    assert item.at == f"runs[0].fittings[{before}]"
    assert "from 150 mm to 200 mm" in item.message
    (change,) = item.suggestion.changes
    assert (change.value["upstream_diameter"], change.value["downstream_diameter"]) == (150.0, 200.0)
    # common practice (checks.toml, taper-length): five times the difference of the diameters
    assert change.value["length"] == pytest.approx(250.0)


@pytest.mark.parametrize(("angle", "looked_at"), [(60, True), (59.9, False)])
def test_a_turn_is_looked_at_from_sixty_degrees_on(angle, looked_at):
    # common practice (checks.toml, sharp-turn)
    elbow = {"type": "elbow", "angle": angle, "construction": "mitered"}
    assert bool(of(told({"fittings": [elbow]}), "smoother-elbow")) is looked_at


def test_a_run_of_one_diameter_is_told_by_its_name_and_its_parts_by_theirs():
    narrow = {"flow": 600, "entry": {"type": "known-coefficient", "coefficient": 30}}  # 11.6 m/s take all of 2.5 kPa
    (one,) = of(told({"diameter": 300, "hood": narrow}, dust="shavings"), "below-transport-velocity")
    assert one.message.startswith("air in a moves at")
    taper = {"type": "taper", "upstream_diameter": 150, "downstream_diameter": 300, "length": 750, "at": 3}
    (part,) = of(told({"fittings": [taper]}, dust="shavings"), "below-transport-velocity")
    assert part.message.startswith("air in the 300 mm part of a moves at")


def test_several_crossings_are_told_against_the_one_that_there_should_be():
    # By hand: straight lines 100 Pa to .5 m3/s, up to 2000 Pa at 1 m3/s, down to 0 at 2 m3/s cross 1900 q^2 at .229,
    # .771 and 1.017 m3/s: 1900 q^2 = 100; = 3800 q - 1800; = 4000 - 2000 q.
    points = [(0, 100), (0.5, 100), (1, 2000), (2, 0)]
    fan = {"curve": [{"flow": f"{flow} m3/s", "pressure": pressure} for flow, pressure in points],
           "rated_as": "fan-static", "interpolation": "linear"}  # fmt: skip
    at_bore = 0.6 / (3.141592653589793 * 0.2**2 / 4) ** 2
    # free discharge into the collector's chamber loses the velocity pressure once; the rest is the entry's
    entry = {"type": "known-coefficient", "coefficient": 1900.0 / at_bore}
    run = {"id": "a", "into": None, "diameter": 200, "length": 0, "duct": SPIRAL, "hood": {"flow": 600, "entry": entry}}
    answer = CLIENT.operating_point({"units": "metric", "runs": [run], "collector": {"fan": fan}})
    assert answer.outcome == "several-operating-points"
    flows = [one.flow / 3600 for one in answer.system.crossings]
    assert flows == pytest.approx([0.2294157, 0.7706, 1.01717], rel=1e-3)
    assert [one.stable for one in answer.system.crossings] == [True, False, True]
    (item,) = of(answer.findings, "several-operating-points")
    assert (item.value, item.limit, item.bound) == (3.0, 1.0, "maximum")


def test_at_a_symmetrical_tee_no_branch_is_turned_by_itself():
    # The other branch would have to turn with it: advice is told, no change is offered.
    hood = {"flow": 600, "entry": {"type": "plain-opening"}}
    arm = {"into": "main", "diameter": 150, "length": 3, "duct": SPIRAL, "hood": hood}
    sides = [arm | {"id": name, "join": {"type": "branch", "angle": 90}} for name in ("a", "b")]
    main = {"id": "main", "into": None, "diameter": 200, "length": 3, "duct": SPIRAL}
    document = {"units": "metric", "runs": [main, *sides], "collector": {"fan": FAN}}
    both = of(CLIENT.operating_point(document).findings, "square-tee")
    assert both
    for item in both:
        assert not item.suggestion.changes
        assert "45" in item.suggestion.text
    straight = sides[0] | {"join": {"type": "straight"}}
    (item,) = of(CLIENT.operating_point(document | {"runs": [main, straight, sides[1]]}).findings, "square-tee")
    assert [(change.path, change.value) for change in item.suggestion.changes] == [("runs[2].join.angle", 45.0)]


@pytest.mark.parametrize("arms", [("straight", "branch"), ("straight", "branch", "branch")])
def test_what_an_eased_branch_gains_is_what_the_changed_document_answers(arms):
    """A suggestion with changes has been tried by the engine and its gain is the result (contract)."""
    hood = {"flow": 600, "entry": {"type": "plain-opening"}}
    arm = {"into": "main", "diameter": 150, "length": 3, "duct": SPIRAL, "hood": hood}
    joins = [{"type": kind} | ({"angle": 90} if kind == "branch" else {}) for kind in arms]
    runs = [arm | {"id": f"arm-{number}", "join": join} for number, join in enumerate(joins)]
    runs.insert(0, {"id": "main", "into": None, "diameter": 200, "length": 3, "duct": SPIRAL})
    document = {"units": "metric", "runs": runs, "collector": {"fan": FAN}}
    answer = CLIENT.operating_point(document)
    for item in of(answer.findings, "square-tee"):
        number = next(number for number, run in enumerate(runs) if run["id"] == item.run)
        assert [(change.path, change.value) for change in item.suggestion.changes] == [
            (f"runs[{number}].join.angle", 45)
        ]
        eased = [run | {"join": {"type": "branch", "angle": 45}} if run is runs[number] else run for run in runs]
        after = CLIENT.operating_point(document | {"runs": eased})
        own = [next(run.flow for run in one.runs if run.id == item.run) for one in (answer, after)]
        assert item.suggestion.gain["flow_gained"] == pytest.approx(own[1] - own[0], rel=1e-4)
        assert abs(item.suggestion.gain["flow_gained"]) > 1.0  # air of the branch; more may come by the others


@pytest.mark.parametrize(("entry", "told_of"), [(0.9, False), (1.1, True)])
def test_a_machine_is_the_bottleneck_from_half_of_what_its_path_has(entry, told_of):
    """By hand: an entry of c velocity pressures before a fitting of one takes c / (c + 1) (common practice: half)."""
    hood = {"flow": 600, "entry": {"type": "known-coefficient", "coefficient": entry}}
    fittings = [{"type": "known-coefficient", "coefficient": 1.0}]
    found = of(told({"length": 0, "hood": hood, "fittings": fittings}), "machine-port-bottleneck")
    assert [item.value for item in found] == ([pytest.approx(1.1 / 2.1, rel=1e-9)] if told_of else [])


def zoned(*openings):
    """Return a hood behind runs, one into the other, each with a gate of this opening."""
    runs = []
    for number, opening in enumerate(openings):
        into = f"zone-{number - 1}" if number else None
        plain = {"into": into, "diameter": 150, "length": 2, "duct": SPIRAL}
        runs.append(plain | {"id": f"zone-{number}", "gate": {"opening": opening}})
    last = f"zone-{len(openings) - 1}"
    for name, join in (("a", {"type": "straight"}), ("b", {"type": "branch", "angle": 45})):
        hood = {"machine": name, "flow": 600, "entry": {"type": "plain-opening"}}
        runs.append({"id": name, "into": last, "join": join, "diameter": 100, "length": 2, "duct": SPIRAL, "hood": hood,
                     "gate": {"opening": 1.0}})  # fmt: skip
    return {"units": "metric", "runs": runs, "collector": {"fan": FAN}}


def test_a_hood_cut_off_by_one_gate_or_one_of_several_is_told_which():
    one = of(CLIENT.operating_point(zoned(0.0)).findings, "shut-off-downstream")
    assert one
    assert all("the shut gate of zone-0 " in item.message for item in one)
    two = of(CLIENT.operating_point(zoned(0.0, 0.0)).findings, "shut-off-downstream")
    assert two
    assert all("one of the shut gates of zone-0, zone-1 " in item.message for item in two)


@pytest.mark.parametrize(
    ("gate", "name"), [({"opening": 5e-5}, "opening"), ({"opening": 1.0, "leakage": 5e-5}, "leakage")]
)
def test_a_share_too_small_to_be_told_from_shut_is_refused(gate, name):
    """The contract: shut is an opening below 1e-4."""
    document = zoned(1.0)
    document["runs"][0]["gate"] = gate
    with pytest.raises(airbough.NotADuctTree) as refused:
        CLIENT.operating_point(document)
    assert [(fault.path, fault.code) for fault in refused.value.problem.errors] == [
        (f"runs[0].gate.{name}", "outside-range")
    ]

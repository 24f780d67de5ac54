"""Make-up air: flows, openings, appliances, dust led back."""

import pytest

import airbough
from airbough import report
from airbough_service.terms.refusal import Refusal
from site_shop import apply, ask, codes, faults, shop

ROOM = {"volume": 6000, "openings_area": 1.0}


def outdoors(**room):
    return shop(collector_stands="outdoors", room=ROOM | room)


def test_the_exhaust_is_the_operating_point():
    room, point = ask("make-up-air", outdoors()), ask("operating-point", shop())
    assert room.room.exhaust_flow == pytest.approx(point.system.flow, rel=1e-12)
    assert room.room.flow_from == "operating-point"
    assert room.room.air_changes == pytest.approx(point.system.flow * 60 / 6000, rel=1e-12)


def test_without_a_fan_the_design_flows_count_and_shut_hoods_do_not():
    body = outdoors()
    del body["collector"]
    assert ask("make-up-air", body).room.exhaust_flow == pytest.approx(400 + 785)
    body["runs"][1]["gate"]["opening"] = 0
    assert ask("make-up-air", body).room.exhaust_flow == pytest.approx(785)


def test_the_grille_passes_the_air_at_the_pressure_allowed():
    body = outdoors(allowed_depressurization="10 Pa")
    told = ask("make-up-air", body).room
    there = ask("make-up-air", apply(body, "room.openings_area", told.grille_free_area)).room
    assert there.depressurization == pytest.approx(told.allowed_depressurization, rel=1e-9)
    assert there.further_free_area == pytest.approx(0.0, abs=1e-9)
    # By hand: Q = 0.61 A sqrt(2 dp / rho)
    flow = told.make_up_flow * 0.3048**3 / 60
    assert told.grille_free_area * 0.3048**2 == pytest.approx(flow / (0.61 * (2 * 10 / 1.2) ** 0.5), rel=1e-9)


def test_cracks_and_openings_stand_side_by_side():
    body = outdoors(tightness={"flow": 1500, "pressure": "50 Pa", "exponent": 0.65}, allowed_depressurization="10 Pa")
    told = ask("make-up-air", body).room
    cracks = 1500 * (10 / 50) ** 0.65
    beside = told.make_up_flow - cracks
    opening = 0.61 * (2 * 10 / 1.2) ** 0.5 / (0.3048**3 / 60) * 0.3048**2  # ft3/min for each ft2
    assert told.further_free_area == pytest.approx(beside / opening - 1.0, rel=1e-9)


def test_an_appliance_is_a_danger_and_the_openings_suggested_hold():
    body = outdoors(combustion_appliances=["natural-draft-boiler", "solid-fuel-stove"])
    answer = ask("make-up-air", body)
    assert answer.room.allowed_by == "combustion-appliance"
    assert answer.room.allowed_depressurization == pytest.approx(2.0 / 249.08891)
    assert codes(answer)[:2] == ["combustion-appliance-backdraft"] * 2
    finding = answer.findings[0]
    assert finding.severity == "danger"
    change = finding.suggestion.changes[0]
    fixed = ask("make-up-air", apply(body, change.path, change.value))
    assert "combustion-appliance-backdraft" not in codes(fixed)
    assert fixed.room.depressurization == pytest.approx(finding.suggestion.gain["depressurization"], rel=1e-9)


def test_the_caller_may_be_stricter_than_the_appliance():
    body = outdoors(combustion_appliances=["natural-draft-boiler"], allowed_depressurization="1 Pa")
    assert ask("make-up-air", body).room.allowed_by == "caller"
    body["room"]["allowed_depressurization"] = "20 Pa"
    assert ask("make-up-air", body).room.allowed_by == "combustion-appliance"


def test_an_appliance_without_openings_is_not_judged_and_says_so():
    answer = ask("make-up-air", outdoors(combustion_appliances=["solid-fuel-stove"], openings_area=None))
    assert "depressurization-not-known" in codes(answer)
    assert answer.room.depressurization is None


def test_small_openings_are_a_warning():
    answer = ask("make-up-air", outdoors())
    assert codes(answer) == ["make-up-air-short", "exhaust-falls"]
    assert answer.room.allowed_by == "catalogue"
    assert any("stove" in caution for caution in answer.cautions)


@pytest.mark.parametrize(("stands", "share"), [("same-room", 1.0), ("another-room", 0.0), ("outdoors", 0.0)])
def test_where_the_collector_stands_says_what_comes_back(stands, share):
    answer = ask("make-up-air", shop(collector_stands=stands, room=ROOM))
    assert answer.room.returned_share == share
    assert answer.room.make_up_flow == pytest.approx(answer.room.exhaust_flow * (1.0 - share))
    assert ("fine-dust-returned-to-room" in codes(answer)) == (share > 0.0)


def test_a_part_may_come_back():
    answer = ask("make-up-air", shop(collector_stands="outdoors", returned_share="25 %", room=ROOM))
    assert answer.room.make_up_flow == pytest.approx(0.75 * answer.room.exhaust_flow)
    finding = next(f for f in answer.findings if f.code == "fine-dust-returned-to-room")
    assert (finding.at, finding.value, finding.severity) == ("returned_share", 0.25, "warning")


def test_heat_lost_by_hand():
    room = {"indoor_temperature": "20 degC", "outdoor_temperature": "-5 degC", "hours": 3}
    told = ask("make-up-air", outdoors(**room)).room
    watts = told.make_up_flow * 0.3048**3 / 60 * 1.2 * 1006 * 25
    assert told.heat_lost == pytest.approx(watts * 3600 / 1055.05585262, rel=1e-9)  # BTU/h
    answer = ask("make-up-air", outdoors(**room))
    assert (answer.units["heat"], "power" in answer.units) == ("BTU/h", False)
    assert told.heat_energy == pytest.approx(watts * 3 / 1000, rel=1e-9)


def test_the_exhaust_falls_as_with_the_openings_as_one_more_loss():
    # By hand: openings alone lose 0.5 rho (Q / (0.61 A))^2, a loss with the square of the flow at the collector.
    body = outdoors(openings_area="0.1 m^2")
    told = ask("make-up-air", body).room
    loss = 0.5 * 1.2 * (0.5 / (0.61 * 0.1)) ** 2
    fan = shop()
    fan["collector"]["losses"] = [
        *fan["collector"].get("losses", ()), {"name": "room", "flow": "0.5 m3/s", "pressure": f"{loss} Pa"}
    ]  # fmt: skip
    fan["collector"]["fan"].setdefault("includes", [])
    point = ask("operating-point", fan).system
    assert told.settled_exhaust_flow == pytest.approx(point.flow, rel=1e-9)
    assert told.settled_exhaust_flow < told.exhaust_flow
    assert told.settled_depressurization < told.depressurization
    found = next(item for item in ask("make-up-air", body).findings if item.code == "exhaust-falls")
    assert (found.value, found.limit) == (told.settled_exhaust_flow, told.exhaust_flow)


def test_cracks_draw_down_too_and_flow_and_pressure_belong_together():
    body = outdoors(tightness={"flow": 1500, "pressure": "50 Pa", "exponent": 0.65}, openings_area="0.05 m^2")
    told = ask("make-up-air", body).room
    pa = told.settled_depressurization * 249.08891
    through = 0.61 * 0.05 * (2 * pa / 1.2) ** 0.5 / (0.3048**3 / 60) + 1500 * (pa / 50) ** 0.65
    assert through == pytest.approx(told.settled_exhaust_flow, rel=1e-9)


def test_wide_openings_hardly_lower_the_exhaust_and_nothing_is_said():
    answer = ask("make-up-air", outdoors(openings_area=50))
    assert "exhaust-falls" not in codes(answer)
    assert 0.99 * answer.room.exhaust_flow < answer.room.settled_exhaust_flow < answer.room.exhaust_flow


def test_without_a_fan_nothing_is_known_of_how_the_exhaust_falls():
    body = outdoors()
    del body["collector"]
    assert ask("make-up-air", body).room.settled_exhaust_flow is None


def test_another_room_gives_back_what_its_way_back_lets_through():
    body = shop(
        collector_stands="another-room", return_path_area="0.2 m^2", room={"volume": 6000, "openings_area": 1.0}
    )
    body["room"] |= {"indoor_temperature": "20 degC", "outdoor_temperature": "0 degC"}
    told = ask("make-up-air", body).room
    pa, to_flow = told.depressurization * 249.08891, 0.3048**3 / 60
    # By hand, Q = 0.61 A sqrt(2 dp / rho): both ways side by side pass all of the exhaust.
    speed = 0.61 * (2 * pa / 1.2) ** 0.5 / to_flow
    assert speed * 0.2 + speed * 0.3048**2 == pytest.approx(told.exhaust_flow, rel=1e-9)
    assert told.make_up_flow == pytest.approx(speed * 0.3048**2, rel=1e-9)
    assert told.returned_share == pytest.approx(0.2 / (0.2 + 0.3048**2), rel=1e-9)
    assert told.heat_lost == pytest.approx(
        told.make_up_flow * to_flow * 1.2 * 1006 * 20 * 3600 / 1055.05585262, rel=1e-9
    )
    answer = ask("make-up-air", body)
    found = next(item for item in answer.findings if item.code == "fine-dust-returned-to-room")
    assert found.at == "return_path_area"
    assert "return-path-not-given" not in codes(answer)


def test_all_of_it_comes_back_where_the_way_back_is_the_only_opening():
    body = shop(collector_stands="another-room", return_path_area="0.2 m^2", room={"volume": 6000})
    told = ask("make-up-air", body).room
    assert told.returned_share == pytest.approx(1.0, rel=1e-9)
    assert told.make_up_flow == pytest.approx(0.0, abs=1e-6)


def test_a_way_back_and_the_openings_suggested_hold_together():
    body = shop(
        collector_stands="another-room", return_path_area="0.05 m^2", room={"volume": 6000, "openings_area": 1.0}
    )
    finding = next(item for item in ask("make-up-air", body).findings if item.code == "make-up-air-short")
    change = finding.suggestion.changes[0]
    fixed = ask("make-up-air", apply(body, change.path, change.value))
    assert "make-up-air-short" not in codes(fixed)
    assert fixed.room.depressurization == pytest.approx(finding.suggestion.gain["depressurization"], rel=1e-9)


def test_another_room_without_a_way_back_is_said():
    answer = ask("make-up-air", shop(collector_stands="another-room", room=ROOM))
    assert "return-path-not-given" in codes(answer)
    assert "return-path-not-given" not in codes(
        ask("make-up-air", shop(collector_stands="another-room", returned_share=0, room=ROOM))
    )


@pytest.mark.parametrize(
    ("more", "code"),
    [
        ({"collector_stands": "outdoors", "return_path_area": 2}, "parameter-unused"),
        ({"collector_stands": "another-room", "return_path_area": 2, "returned_share": 0.5}, "given-twice"),
        ({"collector_stands": "another-room", "return_path_area": 1e-9}, "outside-range"),
    ],
)
def test_a_way_back_that_does_not_fit_is_refused(more, code):
    with pytest.raises(Refusal) as caught:
        ask("make-up-air", shop(room=ROOM, **more))
    assert faults(caught.value) == {"return_path_area": code}


def test_all_gates_shut_needs_no_make_up_air():
    body = outdoors(combustion_appliances=["solid-fuel-stove"])
    for run in body["runs"][1:]:
        run["gate"]["opening"] = 0
    answer = ask("make-up-air", body)
    assert answer.room.make_up_flow == answer.room.depressurization == 0.0
    assert codes(answer) == ["all-gates-shut"]


@pytest.mark.parametrize(
    ("room", "path", "code"),
    [
        ({"volume": 0}, "room.volume", "outside-range"),
        ({"openings_area": 1e-300}, "room.openings_area", "outside-range"),
        ({"allowed_depressurization": -1}, "room.allowed_depressurization", "outside-range"),
        ({"tightness": {"flow": 100, "pressure": 0}}, "room.tightness.pressure", "outside-range"),
        ({"indoor_temperature": 70}, "room.outdoor_temperature", "parameter-missing"),
        ({"hours": 2}, "room.hours", "parameter-missing"),
        ({"combustion_appliances": ["stove"]}, "room.combustion_appliances[0]", "unknown-word"),
    ],
)
def test_bad_rooms_are_refused_with_their_path(room, path, code):
    with pytest.raises(Refusal) as caught:
        ask("make-up-air", outdoors(**room))
    assert faults(caught.value) == {path: code}


def test_without_fan_and_design_flow_there_is_no_exhaust():
    body = outdoors()
    del body["collector"]
    del body["runs"][1]["hood"]["flow"]
    with pytest.raises(Refusal) as caught:
        ask("make-up-air", body)
    assert faults(caught.value) == {"runs[1].hood.flow": "design-flow-missing"}


def test_beyond_the_curve_the_exhaust_is_not_known():
    body = outdoors()
    body["collector"]["fan"]["curve"] = body["collector"]["fan"]["curve"][:2]
    with pytest.raises(Refusal) as caught:
        ask("make-up-air", body)
    assert faults(caught.value) == {"collector.fan.curve": "fan-beyond-curve"}


def test_at_design_flows_what_leaks_in_is_exhausted_too():
    """The contract: leaks enter every question about the tree; balance tells the same flow at the collector."""
    hood = {"flow": 800, "entry": {"type": "plain-opening"}}
    run = {"id": "a", "into": None, "diameter": 150, "length": 20, "duct": "spiral-galvanized", "hood": hood}
    tree = {"units": "metric", "runs": [run | {"leakage_class": "round-unsealed"}]}
    client = airbough.local()
    told = client.make_up_air(tree | {"room": {"volume": "100 m3"}, "collector_stands": "outdoors"}).room
    assert told.flow_from == "design-flows"
    assert told.exhaust_flow > 801
    assert told.exhaust_flow == pytest.approx(client.balance(tree).system.flow, rel=1e-9)


def test_what_comes_from_outdoors_and_what_comes_back_do_not_contradict():
    """The finding counts the way back too and says so; the report tells how much of the exhaust comes back."""
    answer = airbough.local().make_up_air(shop(collector_stands="another-room", return_path_area="0.05 m^2", room=ROOM))
    (short,) = [one for one in answer.findings if one.code == "make-up-air-short"]
    assert "must come in, from outdoors and by the way back together" in short.message
    told = " ".join(report.report(answer).split())
    assert f"exhausted {round(100 * answer.room.returned_share)} % come back" in told
    (alone,) = [one for one in ask("make-up-air", outdoors()).findings if one.code == "make-up-air-short"]
    assert "must come in; the openings" in alone.message

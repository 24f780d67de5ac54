"""A tree in a sheet, its collector known by its motor and inlet, and what its refusals list."""

import pytest

import airbough

RUNS = "id,into,diameter (in),length (ft),duct,machine,flow (cfm),gate\nmain,,7,14,spiral-galvanized,planer,785,open\n"


def loaded(tmp_path, settings):
    (tmp_path / "runs.csv").write_text(f"units,us\ndust,shavings\n{settings}{RUNS}", "utf-8")
    return airbough.load(tmp_path / "runs.csv", airbough.OperatingPointRequest)


def test_a_motor_and_its_inlet_are_a_collectors_figures(tmp_path):
    """`inlet_diameter` is a fan's too, where a curve says of what."""
    request = loaded(tmp_path, "power (hp),5\ninlet_diameter (in),7\n")
    figures = {"power": 5, "inlet_diameter": 7}
    whole = {"units": "us", "dust": "shavings", "runs": request.runs, "collector": {"known_by": figures}}
    client = airbough.local()
    assert client.operating_point(request).system == client.operating_point(whole).system


def test_the_inlet_of_a_curve_stays_the_fans(tmp_path):
    curve = "fan_flow (cfm),0,1000,2000\nfan_pressure (inH2O),11,9,2\nrated_as,inlet-static\ninlet_diameter (in),7\n"
    fan = loaded(tmp_path, curve).collector.fan
    assert (fan.rated_as, fan.inlet_diameter) == ("inlet-static", "7 in")


def test_a_heading_that_nobody_knows_lists_each_known_one_once(tmp_path):
    with pytest.raises(airbough.AirboughError) as refused:
        loaded(tmp_path, "zzz,1\n")
    listed = str(refused.value).split("known are ", 1)[1].split(";")[0].replace("\n", " ").split(", ")
    assert len(listed) == len(set(listed)) > 10

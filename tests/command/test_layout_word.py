"""The command's word for layouts."""

import json
import re

import airbough
import layout_shops
from airbough.report.buying import broken_in_words
from airbough.wire.sizing import BrokenRule
from commanding import run


def test_a_shop_is_laid_out_told_and_written(tmp_path):
    collector = layout_shops.shop()["collector"] | layout_shops.fan()
    (tmp_path / "shop.json").write_text(json.dumps(layout_shops.shop(collector=collector, alternatives=2)))
    told = run("layout", tmp_path / "shop.json")
    assert told.returncode == 0, told.stderr
    assert re.search(r"layout 1: \d+\.\d\d, holds", told.stdout)
    assert "a duct along wall 2:" in told.stdout
    assert "is cheaper" in told.stdout
    run("layout", tmp_path / "shop.json", "--into", tmp_path / "made")
    made = {path.name: path.read_text("utf-8") for path in (tmp_path / "made").iterdir()}
    assert {"layouts.txt", "layout-1-outline.json", "layout-1-tree.json", "layout-1-plan.svg", "plans.svg"} <= set(made)
    tree = airbough.load(tmp_path / "made" / "layout-1-tree.json", airbough.OperatingPointRequest)
    assert airbough.local().operating_point(tree).outcome == "operating-point"


def test_a_shop_without_a_layout_ends_with_one(tmp_path):
    machines = [("slow", 3.0, 3.0, 600), ("fast", 6.0, 5.0, 3000)]
    (tmp_path / "shop.json").write_text(json.dumps(layout_shops.shop(machines, rules={"upper_velocity": "must"})))
    told = run("layout", tmp_path / "shop.json")
    assert told.returncode == 1
    assert "no duct serves" in told.stdout


def test_a_rule_that_does_not_hold_is_told_once_with_its_runs_and_their_states():
    fast = [("upper_velocity", *where) for where in (("main", "saw"), ("main", "saw + planer"), ("saw", None))]
    rules = [*fast, ("pressure_available", None, "saw")]
    items = [BrokenRule(rule=rule, weight="trade", share=0.1, run=run, state=state) for rule, run, state in rules]
    assert broken_in_words(items) == [
        "upper velocity does not hold: main (saw, saw + planer), saw",
        "pressure available does not hold: the whole (saw)",
    ]


def test_a_layout_whose_price_is_not_complete_says_so(tmp_path):
    """The stock has duct for one construction and no hose of the usual one."""
    shop = layout_shops.shop()
    for duct in shop["stock"]["ducts"]:
        duct["duct"] = "spiral-galvanized"
    for machine in shop["machines"]:
        machine["hose"] = 1.0
    (tmp_path / "shop.json").write_text(json.dumps(shop))
    told = run("layout", tmp_path / "shop.json")
    assert told.returncode == 0, told.stderr
    assert "some pieces have no price or are not in the stock" in told.stdout

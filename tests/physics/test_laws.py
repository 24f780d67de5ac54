"""Facts of physics that every answer must keep, on random shops; asked through the SDK's in-process client."""

import copy
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import airbough
import shops

CLIENT = airbough.local()
SEEDS = st.integers(0, 10_000)
HOODS = st.integers(1, 12)
LAWS = st.sampled_from(("flow-ratio", "flow-ratio-third-edition", "entry-angle", "none"))
quick = settings(max_examples=60, deadline=None, derandomize=True)
FOOT, INCH, FLOW, PRESSURE = 0.3048, 25.4, 1.699010795520, 249.08891  # to m, mm, m3/h, Pa (exact definitions)


def asked(document: dict[str, Any]) -> Any:
    return CLIENT.operating_point(document)


@quick
@given(SEEDS, HOODS, LAWS)
def test_mass_and_energy_are_kept(seed: int, hoods: int, law: str) -> None:
    """Flows meet at every junction and every path loses what the fan gives (contract, section 6)."""
    answer = asked(shops.shop(seed, hoods, law))
    assert answer.outcome == "operating-point"
    assert answer.system.mass_residual < 1.0e-9
    assert answer.system.energy_residual < 1.0e-9
    arriving: dict[str, float] = {}
    document = shops.shop(seed, hoods, law)
    for asked_run, run in zip(document["runs"], answer.runs, strict=True):
        if asked_run["into"] is not None:
            arriving[asked_run["into"]] = arriving.get(asked_run["into"], 0.0) + run.flow
    for run in answer.runs:
        if run.id in arriving and run.flow > 0.0:
            assert arriving[run.id] == pytest.approx(run.flow, rel=1.0e-9)


@quick
@given(SEEDS, HOODS, LAWS)
def test_losses_sum_along_every_path(seed: int, hoods: int, law: str) -> None:
    """A run's parts sum to its total, and totals from a hood with flow to the fan sum to the inlet's pressure."""
    document = shops.shop(seed, hoods, law)
    answer = asked(document)
    told = {run.id: run for run in answer.runs}
    into = {run["id"]: run["into"] for run in document["runs"]}
    for run in answer.runs:
        parts = (
            run.entry_loss
            + run.port_loss
            + run.resistance_loss
            + run.gate_loss
            + run.friction_loss
            + run.fitting_loss
            + run.join_loss
        )
        assert parts == pytest.approx(run.total_loss, rel=1.0e-9, abs=1.0e-9)
    for hood in answer.hoods:
        here, lost = hood.run, 0.0
        while here is not None:
            lost += told[here].total_loss
            here = into[here]
        if hood.flow > 0.0:
            assert lost == pytest.approx(-told["main-0"].total_pressure, rel=1.0e-9)


@quick
@given(SEEDS, st.integers(2, 10), LAWS, st.floats(0.5, 0.99))
def test_flow_rises_with_fan_speed(seed: int, hoods: int, law: str, speed: float) -> None:
    """A slower fan moves less air, in total and at every hood that has air."""
    document = shops.shop(seed, hoods, law)
    fast = asked(document)
    document["collector"]["fan"]["speed_ratio"] = speed
    slow = asked(document)
    assert slow.system.flow < fast.system.flow
    for less, more in zip(slow.hoods, fast.hoods, strict=True):
        assert less.flow <= more.flow * (1.0 + 1.0e-9)


@quick
@given(SEEDS, st.integers(2, 10), LAWS, st.floats(0.02, 0.9))
def test_flow_rises_with_a_gates_opening(seed: int, hoods: int, law: str, opening: float) -> None:
    """Opening any one hood's gate further never lowers the air at that hood, nor the fan's flow.

    Under flow-ratio the fan's flow may fall a little: a weak side stream costs the main stream mixing loss (Idelchik's
    straight coefficient grows as 2 q at small flow ratio), which in a tree with little other loss outweighs the air
    that it brings. Half a percent is allowed for that there; the other laws have no such loss.
    """
    document = shops.shop(seed, hoods, law)
    chosen = next(run for run in document["runs"] if "gate" in run)
    chosen["gate"] = {"opening": opening}
    less = asked(document)
    chosen["gate"] = {"opening": min(1.0, opening * 1.1)}
    more = asked(document)
    number = document["runs"].index(chosen)
    assert more.runs[number].flow >= less.runs[number].flow * (1.0 - 1.0e-12)
    allowed = 5.0e-3 if law.startswith("flow-ratio") else 1.0e-12
    assert more.system.flow >= less.system.flow * (1.0 - allowed)


def metric(document: dict[str, Any]) -> dict[str, Any]:
    """Return the same shop in the metric preset."""
    out = copy.deepcopy(document)
    out["units"] = "metric"
    for run in out["runs"]:
        run["diameter"] *= INCH
        run["length"] *= FOOT
        if "taper_length" in run.get("join", {}):
            run["join"]["taper_length"] *= INCH
        if "hood" in run:
            run["hood"]["flow"] *= FLOW
    for point in [*out["collector"]["fan"]["curve"], *out["collector"]["losses"]]:
        point["flow"] *= FLOW
        point["pressure"] *= PRESSURE
    return out


@quick
@given(SEEDS, HOODS, LAWS)
def test_units_do_not_matter(seed: int, hoods: int, law: str) -> None:
    """The metric document of the same shop gives the same flows and pressures."""
    document = shops.shop(seed, hoods, law)
    ours, theirs = asked(document), asked(metric(document))
    assert theirs.system.flow == pytest.approx(ours.system.flow * FLOW, rel=1.0e-9)
    for one, other in zip(ours.runs, theirs.runs, strict=True):
        assert other.flow == pytest.approx(one.flow * FLOW, rel=1.0e-8)
        assert other.static_pressure == pytest.approx(one.static_pressure * PRESSURE, rel=1.0e-8, abs=1.0e-7)


@quick
@given(SEEDS, HOODS, LAWS, st.randoms(use_true_random=False))
def test_order_and_names_do_not_matter(seed: int, hoods: int, law: str, draw: Any) -> None:
    """Shuffled rows with other ids give the same runs."""
    document = shops.shop(seed, hoods, law)
    ours = {run.id: run for run in asked(document).runs}
    other = copy.deepcopy(document)
    draw.shuffle(other["runs"])
    names = {run["id"]: f"x{number}" for number, run in enumerate(other["runs"])}
    for run in other["runs"]:
        run["id"], run["into"] = names[run["id"]], names.get(run["into"])
    theirs = {run.id: run for run in asked(other).runs}
    for name, run in ours.items():
        assert theirs[names[name]].flow == pytest.approx(run.flow, rel=1.0e-9, abs=1.0e-12)
        assert theirs[names[name]].static_pressure == pytest.approx(run.static_pressure, rel=1.0e-9, abs=1.0e-9)


@quick
@given(SEEDS, HOODS, LAWS, st.floats(0.7, 1.15))
def test_density_scales_pressures_and_leaves_flows(seed: int, hoods: int, law: str, ratio: float) -> None:
    """With the same kinematic viscosity, denser air flows alike; every pressure grows with density (similarity)."""
    document = shops.shop(seed, hoods, law)
    document["air"] = {"density": "1.2 kg/m3", "viscosity": "0.0000182 Pa*s"}
    ours = asked(document)
    document["air"] = {"density": f"{1.2 * ratio:.12f} kg/m3", "viscosity": f"{1.82e-5 * ratio:.15f} Pa*s"}
    theirs = asked(document)
    assert theirs.system.flow == pytest.approx(ours.system.flow, rel=1.0e-6)
    for one, other in zip(ours.runs, theirs.runs, strict=True):
        assert other.total_pressure == pytest.approx(one.total_pressure * ratio, rel=1.0e-6, abs=1.0e-9)


@quick
@given(LAWS, st.sampled_from((30.0, 45.0, 60.0)), st.integers(1, 4), st.floats(3.0, 6.0))
def test_symmetric_trees_split_evenly(law: str, angle: float, depth: int, bore: float) -> None:
    """A tree of equal wyes gives every hood the same air."""
    document = shops.shop(1, 1, law, gates=False)
    (root,) = document["runs"]
    entry = root.pop("hood")
    root["diameter"] = bore * 1.3**depth
    level = [root]
    for _ in range(depth):
        below = []
        for run in level:
            for side in "ab":
                made = {**root, "id": run["id"] + side, "into": run["id"], "join": {"type": "branch", "angle": angle}}
                made["diameter"] = run["diameter"] / 1.3
                below.append(made)
        document["runs"] += below
        level = below
    for run in level:
        run["hood"] = entry
    flows = [hood.flow for hood in asked(document).hoods]
    assert max(flows) == pytest.approx(min(flows), rel=1.0e-9)
    assert len(flows) == 2**depth


@quick
@given(SEEDS, st.integers(2, 10), LAWS)
def test_a_tried_suggestion_keeps_its_word(seed: int, hoods: int, law: str) -> None:
    """Where a finding gives changes and a gain, the changed document really gains that flow."""
    document = shops.shop(seed, hoods, law)
    answer = asked(document)
    tried = [item for item in answer.findings if item.suggestion and item.suggestion.changes]
    for item in tried[:2]:
        changed = copy.deepcopy(document)
        for change in item.suggestion.changes:
            apply(changed, change.path, change.value)
        before = next(run for run in answer.runs if run.id == item.run)
        after = next(run for run in asked(changed).runs if run.id == item.run)
        assert after.flow - before.flow == pytest.approx(
            item.suggestion.gain["flow_gained"], abs=1.0e-6 + 1e-6 * after.flow
        )


def apply(document: dict[str, Any], path: str, value: Any) -> None:
    """Set a path such as `runs[3].fittings[0]` of a document."""
    words = path.replace("[", ".").replace("]", "").split(".")
    here: Any = document
    for word in words[:-1]:
        here = here[int(word)] if word.isdigit() else here[word]
    here[int(words[-1]) if words[-1].isdigit() else words[-1]] = value

"""Any valid outline makes a tree that every question answers, and every length of it adds up to the sheet."""

import pytest
from hypothesis import HealthCheck, Phase, given, settings

import airbough
from random_outlines import outlines

CLIENT = airbough.local()
QUESTIONS = ("operating_point", "balance", "gate_states", "sizing", "parts_list", "strength")
PHASES = (
    Phase.explicit,
    Phase.generate,
)  # a failing shop is small enough to read, and shrinking asks each question anew


def answered(question: str, tree: airbough.Tree) -> set[str]:
    """Return the codes of the faults for which a question has no answer; none where it has one."""
    try:
        getattr(CLIENT, question)(tree)
    except airbough.NotComputable as refused:
        return {fault.code for fault in refused.problem.errors}
    return set()


@given(outlines())
@settings(max_examples=25, deadline=None, suppress_health_check=list(HealthCheck), derandomize=True, phases=PHASES)
def test_any_outline_makes_a_tree_that_every_question_answers(document):
    tree = CLIENT.outline(document).tree
    for question in QUESTIONS:
        assert answered(question, tree) <= {"suction-too-deep"}  # of narrow ducts that all machines are balanced on
    for of in ("tree", "plan", "side"):
        assert CLIENT.drawing(tree, of=of).svg.startswith("<svg")


@given(outlines())
@settings(max_examples=100, deadline=None, suppress_health_check=list(HealthCheck), derandomize=True, phases=PHASES)
def test_every_length_adds_up_to_the_sheet(document):
    answer = CLIENT.outline(document)
    lengths: dict[str, float] = {}
    for run in answer.tree.runs:
        row = answer.rows[run.id]
        lengths[row] = lengths.get(row, 0.0) + run.length
    joined: dict[str, list[float]] = {}
    used = {*lengths}
    for row in (*document["lines"], *document["machines"]):
        if row["id"] in used:
            joined.setdefault(row.get("into", row.get("line", "")), []).append(row.get("at", 0.0))
    for line in document["lines"]:
        if line["id"] in used:
            assert lengths[line["id"]] == pytest.approx(max(joined[line["id"]]), abs=1e-9)
    for row in document["machines"]:
        hoses = sum(port.get("hose", 0) for port in row.get("ports", (row,)))
        assert lengths[row["id"]] == pytest.approx(row["off"] + abs(row["drop"]) + hoses, abs=1e-9)
    assert sum(lengths.values()) > 0

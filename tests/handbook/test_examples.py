"""Complete worked examples of manuals, courses and papers, solved through the SDK's own in-process client.

Each case is a file of tests/handbook/cases: its source, the tree as posed, and every printed value with the tolerance
that its printed rounding gives. Where a printed value departs from its own method (`departs`), the value that the
method really gives is asked for, and the printed one must lie outside the tolerance: else the note is wrong.
"""

import pytest

from handbook.examples import DOCUMENTS, VALUES, computed


@pytest.mark.parametrize(("name", "number"), VALUES)
def test_printed_value(name: str, number: int) -> None:
    """A printed value comes out within the tolerance of its printed rounding."""
    expect = DOCUMENTS[name]["expect"][number]
    value = computed(name, expect)
    if expect.get("departs"):
        assert value == pytest.approx(expect["method_value"], abs=expect["tolerance"])
        assert abs(value - expect["value"]) > expect["tolerance"]
    else:
        assert value == pytest.approx(expect["value"], abs=expect["tolerance"])


def test_there_are_examples_enough() -> None:
    """At least five complete worked examples, each with its source, place and how it was read."""
    complete = [case for case in DOCUMENTS.values() if case.get("complete")]
    assert len(complete) >= 5
    for case in DOCUMENTS.values():
        assert case["source"]
        assert case["place"]
        assert case["how"] in ("read", "memory")

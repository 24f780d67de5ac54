"""From one answer to the next question: what of it another takes as it is, as links of OpenAPI (3.1.0, 4.8.20)."""

from __future__ import annotations

from typing import Any, Final

Node = dict[str, Any]

_TREES: Final = {
    "outline": ("tree", "The tree made of the outline"),
    "sizing": ("document", "The tree with the diameters chosen, where there is a choice"),
    "layout": ("layouts/0/tree", "The tree of the cheapest layout, where there is one"),
    "quote": ("tree", "The tree that the quote is of, where there is one"),
}
"""Question -> where its answer has a document of runs, and what that is."""

_OF_TREES: Final = {
    "operating-point": "what really flows in it with this fan",
    "balance": "what each gate of it must absorb at the design flows",
    "parts-list": "what to buy for it; add a `stock` for prices and cuts",
}
"""Question -> what it tells of such a document."""

_OUTLINES: Final = {
    "outline-template": ("outline", "The invented shop of a template in JSON", "the tree made of it"),
    "layout": ("layouts/0/outline", "The outline of the cheapest layout, where there is one", "the tree made of it"),
}
"""Question -> where its answer has an outline, what that is, and what `outline` tells of it."""

_WORDS: Final[dict[str, tuple[str, dict[str, str], str]]] = {
    "fittings": (
        "fitting",
        {"type": "$response.body#/fittings/0/type"},
        "The first fitting of a list in JSON: what it is asked with, and its sources.",
    ),
    "fitting": (
        "fitting-loss",
        {"type": "$request.path.type"},
        "The loss of this fitting; add its flow, its diameter and what else it is asked with.",
    ),
    "ducts": (
        "friction-loss",
        {"duct": "$response.body#/ducts/0/id"},
        "Friction in the first duct of a list in JSON; add flow, diameter and length.",
    ),
    "dusts": (
        "velocity-check",
        {"dust": "$response.body#/dusts/0/id"},
        "Whether air is fast enough for the first dust of a list in JSON; add flow and diameter.",
    ),
}
"""Question -> the question that takes a word of its answer or path, as which parameters, and what that tells."""

_UNITS: Final = {"units": "$request.query.units"}


def of(question: str) -> Node:
    """Return the links of a question's answer (status 200) by their names; none where nothing follows from it.

    An expression of a body is one pointer into the answer's JSON, so that whoever follows a link need not build
    anything. Where the answer has nothing there, there is no next question.
    """
    links: Node = {}
    if question in _TREES:
        place, what = _TREES[question]
        for asked, told in _OF_TREES.items():
            links[asked] = _link(f"{what}: {told}.", asked, requestBody=f"$response.body#/{place}")
    if question in _OUTLINES:
        place, what, told = _OUTLINES[question]
        links["outline"] = _link(f"{what}: {told}.", "outline", requestBody=f"$response.body#/{place}")
    if question in _WORDS:
        asked, parameters, told = _WORDS[question]
        links[asked] = _link(told, asked, parameters=parameters | _UNITS)
    return links


def _link(description: str, operation: str, **how: Any) -> Node:
    return {"operationId": operation, **how, "description": description}

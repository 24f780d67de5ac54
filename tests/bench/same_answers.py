"""Whether a change left every answer as it was: python tests/bench/same_answers.py record FILE, later compare FILE.

Answers of the bench's shops, of random trees of every kind, of shops with named states and of the document's own
examples, refusals included. Numbers are the same within 1e-12, of what they are told from where they are differences
(`NOISE`); everything else is the same to the letter. The file is of one machine and is not checked in.
"""

from __future__ import annotations

import argparse
import math
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import msgspec

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

import sixteen_runs

import random_documents
import shops
from agreement.shops import draw
from airbough.calls import CALLS
from airbough_service.api.document import examples
from airbough_service.api.http.body import decode
from airbough_service.combined import registry
from airbough_service.terms.refusal import Refusal

ALIKE = 1.0e-12
NOISE = {"flow_gained": 1.0e-8, "pressure_saved": 1.0e-9, "mass_residual": 1.0e-9, "energy_residual": 1.0e-9}
"""What is the difference of two numbers that each bear their rounding: how far it may lie off."""
BY_NAME = {call.name: call for call in CALLS}
BALANCES = ({"by": "gates"}, {"by": "flow"}, {"by": "flow", "correction": "exact"})


def asked(count: int) -> Iterator[tuple[str, str, Any]]:
    """Yield a name, a question and a document for each answer."""
    for seed in range(count):
        yield from _every(f"bench {seed}", sixteen_runs.shop(seed))
    for seed in range(count // 2):
        yield from _every(f"random {seed}", random_documents.document(seed))
        law = ("flow-ratio", "entry-angle", "none")[seed % 3]
        yield from _every(f"shop {seed}", shops.shop(seed, 2 + seed % 9, law))
    for seed in range(count // 5):
        shop = draw(seed)
        for document in (shop.document, shop.other):
            yield from _every(f"drawn {seed} {document['units']}", document)
            for question in ("gate-states", "strength"):
                yield f"drawn {seed} {document['units']}", question, document | {"states": shop.states}
            yield f"drawn {seed} {document['units']} up to 2", "gate-states", document | {"up_to": 2}
            yield f"drawn {seed} {document['units']}", "make-up-air", document
    for path in sorted(Path(examples.__path__[0]).glob("*.json")):
        if path.stem in BY_NAME and not BY_NAME[path.stem].path_words and BY_NAME[path.stem].method == "POST":
            yield "example", path.stem, msgspec.json.decode(path.read_bytes())


def _every(name: str, document: Any) -> Iterator[tuple[str, str, Any]]:
    yield name, "operating-point", document
    for more in BALANCES:
        yield f"{name} {' '.join(more.values())}", "balance", document | more


def answers(count: int) -> dict[str, Any]:
    """Return the answer, or the faults, to each question."""
    out: dict[str, Any] = {}
    for name, question, document in asked(count):
        try:
            request = decode(msgspec.json.encode(document), BY_NAME[question].request)
            told: Any = msgspec.json.encode(registry.answer(question, request))
        except Refusal as refusal:
            told = msgspec.json.encode([refusal.kind, refusal.faults])
        out[f"{question}: {name}"] = msgspec.json.decode(told)
    return out


def unlike(one: Any, two: Any, path: str = "") -> Iterator[tuple[str, Any, Any]]:
    """Yield each place where two answers differ."""
    if isinstance(one, dict) and isinstance(two, dict) and one.keys() == two.keys():
        for key in one:
            yield from unlike(one[key], two[key], f"{path}.{key}")
    elif isinstance(one, list) and isinstance(two, list) and len(one) == len(two):
        for place, (here, there) in enumerate(zip(one, two, strict=True)):
            yield from unlike(here, there, f"{path}[{place}]")
    elif isinstance(one, float) and isinstance(two, float):
        if not math.isclose(one, two, rel_tol=ALIKE, abs_tol=NOISE.get(path.rsplit(".", 1)[-1], 0.0)):
            yield path, one, two
    elif one != two:
        yield path, one, two


def main() -> None:
    """Record, or compare and exit with 1 where anything differs."""
    arguments = argparse.ArgumentParser(description=__doc__)
    arguments.add_argument("do", choices=("record", "compare"))
    arguments.add_argument("file", type=Path)
    arguments.add_argument("--shops", type=int, default=500)
    given = arguments.parse_args()
    found = answers(given.shops)
    if given.do == "record":
        given.file.write_bytes(msgspec.json.encode(found))
        print(f"{len(found)} answers recorded")
        return
    before = msgspec.json.decode(given.file.read_bytes())
    before = {name: told for name, told in before.items() if name in found}
    same, differing = 0, 0
    for name, told in before.items():
        off = list(unlike(told, found[name]))
        same += msgspec.json.encode(told) == msgspec.json.encode(found[name])
        differing += bool(off)
        if off and differing <= 20:
            print(name, *off[:4], sep="\n    ")
    print(f"{len(before)} answers: {same} the same to the last bit, {differing} differ by more than allowed")
    sys.exit(1 if differing else 0)


if __name__ == "__main__":
    main()

"""What stands once in the document and is named elsewhere: quantities, catalogue words, codes, headers."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Annotated, Any, Final, get_origin

import msgspec

from airbough.wire import quantity
from airbough.wire.base import Told, no, nothing, yes
from airbough_service import catalogue
from airbough_service.api.document import wording
from airbough_service.api.document.fault_codes import FAULT_CODES
from airbough_service.api.document.schemas import Node, finished
from airbough_service.api.problems import PROBLEMS
from airbough_service.catalogue import reading
from airbough_service.terms.codes import CODES

SCHEMA: Final = "#/components/schemas/{name}"
_HEADER: Final = "#/components/headers/{name}"
_WORD: Final = "A word of the catalogue."
_ALL_HEADERS: Final[Node] = (
    wording.HEADERS
    | wording.RATES
    | wording.SIGNATURE
    | wording.ETAG
    | wording.FINDINGS_HEADER
    | wording.MOVED
    | wording.REFUSAL
)


def _constructions() -> set[str]:
    return {
        word
        for family in catalogue.families().values()
        for parameter in family.parameters.values()
        if parameter.name == "construction"
        for word in parameter.words
    }


_WORDS: Final[dict[str, tuple[str, Callable[[], Any]]]] = {
    "dust": ("DustWord", lambda: [dust.id for dust in catalogue.all_dusts()]),
    "duct": ("DuctWord", lambda: [duct.id for duct in catalogue.all_ducts()]),
    "hose_duct": ("DuctWord", lambda: [duct.id for duct in catalogue.all_ducts()]),
    "machine": ("MachineWord", lambda: [machine.id for machine in catalogue.all_machines()]),
    "construction": ("ConstructionWord", _constructions),
    "leakage_class": ("LeakageClassWord", lambda: [block["id"] for block in reading.read("leakage")["class"]]),
    "material": ("MaterialWord", lambda: [block["id"] for block in reading.read("gauges")["material"]]),
    "combustion_appliances": (
        "ApplianceWord",
        lambda: [block["id"] for block in reading.read("make_up_air")["appliance"]],
    ),
}
"""Name of a request's field -> the schema of its words, and the words. They may grow, so any word passes the schema."""


def schemas() -> Node:
    """Return the shared schemas."""
    words = {
        name: _open(found(), "A word of the catalogue; a later one may have more.") for name, found in _WORDS.values()
    }
    codes = {
        "FindingCode": _open(
            CODES, "Code of a finding; `x-findings` says what each means. A later version may have more."
        ),
        "FaultCode": _open(FAULT_CODES, "Code of a fault of a request. There may come more."),
        "ProblemType": _open(
            (f"/problems/{kind}" for kind in PROBLEMS), "A type of problem; `x-problems` says what each means."
        ),
    }
    return words | codes | dict(_quantities())


def _open(words: Any, description: str) -> Node:
    """Return the schema of words of which more may come: those known now, or any text."""
    known = {"type": "string", "enum": sorted(words)}
    rest = {"type": "string", "minLength": 1, "maxLength": 64}
    return {"description": description, "anyOf": [known, rest], "x-extensible": True}


def _quantities() -> Iterator[tuple[str, Node]]:
    seen = []
    for name, alias in vars(quantity).items():
        if get_origin(alias) is Annotated:
            node = finished(msgspec.json.schema(alias))
            if "x-range-si" in node and node not in seen:
                seen.append(node)
                yield f"{name}Quantity", node


def named(node: Any, quantities: Node, field: str = "") -> Any:
    """Return a schema in which shared parts are named.

    Args:
        node: the schema, finished.
        quantities: the shared schemas of quantities.
        field: the name of the field that it is of.
    """
    if isinstance(node, list):
        return [named(item, quantities, field) for item in node]
    if not isinstance(node, dict):
        return node
    if "x-range-si" in node:
        for name, shared in quantities.items():
            if {**node, "description": ""} == {**shared, "description": ""}:
                own = node["description"].removesuffix(shared["description"]).strip()
                return {"$ref": SCHEMA.format(name=name)} | ({"description": own} if own else {})
    if node.get("description") == _WORD and field in _WORDS:
        return {"$ref": SCHEMA.format(name=_WORDS[field][0])}
    properties = {name: named(item, quantities, name) for name, item in node.get("properties", {}).items()}
    done = {key: item if key == "properties" else named(item, quantities, field) for key, item in node.items()}
    return done | ({"properties": properties} if properties else {})


def promised() -> dict[str, list[str]]:
    """Return the lists and booleans of each struct of an answer, which are always there."""
    return {struct.__name__: _always(struct) for struct in _below(Told)}


def _always(struct: type[msgspec.Struct]) -> list[str]:
    fields = msgspec.structs.fields(struct)
    return [field.encode_name for field in fields if field.default_factory in (nothing, no, yes)]


def _below(struct: type[msgspec.Struct]) -> Iterator[type[msgspec.Struct]]:
    for inner in struct.__subclasses__():
        yield inner
        yield from _below(inner)


def headers(*groups: Node) -> Node:
    """Return headers of an answer by their names alone."""
    return {name: {"$ref": _HEADER.format(name=name)} for group in groups for name in group}


def all_headers() -> Node:
    """Return the headers themselves."""
    return _ALL_HEADERS

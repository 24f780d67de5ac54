"""No change of the document may break a caller of the last release; first that the comparison sees each kind."""

import copy
import importlib.util
import json
from pathlib import Path

import pytest

from airbough_service.api.document import build

HERE = Path(__file__).parent
RELEASED = HERE.parents[1] / "openapi" / "released"
_SPEC = importlib.util.spec_from_file_location("breaking", HERE / "breaking.py")
breaking = importlib.util.module_from_spec(_SPEC)
_SPEC.loader.exec_module(breaking)
WHOLE = build.build()
BUILT = WHOLE | {"paths": {path: WHOLE["paths"][path] for path in ("/v1/air", "/v1/trees/balance")}}
"""Two paths, since each of the many changes below is compared anew."""


def test_nothing_breaks_the_callers_of_the_last_release():
    """Nothing is released yet: the folder holds no document, and from the first release on it holds that one."""
    for document_of_release in RELEASED.glob("*.json"):
        assert breaking.breaking(json.loads(document_of_release.read_text("utf-8")), WHOLE) == []


def test_a_document_does_not_break_itself():
    assert breaking.breaking(WHOLE, copy.deepcopy(WHOLE)) == []


def at(document, path):
    for step in path:
        document = document[step]
    return document


def field(schema, name, *rest):
    return ("components", "schemas", schema, "properties", name, *rest)


QUANTITY = ("components", "schemas", "DiameterQuantity")


def parameter(path, name):
    listed = BUILT["paths"][path]["get"]["parameters"]
    index = next(index for index, item in enumerate(listed) if item["name"] == name)
    return ("paths", path, "get", "parameters", index)


def put(path, key, value):
    return lambda changed: at(changed, path).__setitem__(key, value)


def drop(path, key):
    return lambda changed: at(changed, path).__delitem__(key)


def take(path, value):
    return lambda changed: at(changed, path).remove(value)


def add(path, value):
    return lambda changed: at(changed, path).append(value)


BALANCE = ("paths", "/v1/trees/balance", "post")
RUN, TOLD = ("components", "schemas", "Run"), ("components", "schemas", "RunResult")

BREAKING = {
    "path removed": drop(("paths",), "/v1/air"),
    "method removed": drop(("paths", "/v1/air"), "get"),
    "operation renamed": put(BALANCE, "operationId", "other"),
    "parameter removed": lambda changed: at(changed, ("paths", "/v1/air", "get", "parameters")).pop(),
    "parameter required": put(parameter("/v1/air", "temperature"), "required", True),
    "required parameter added": add(
        ("paths", "/v1/air", "get", "parameters"), {"name": "x", "in": "query", "required": True, "schema": {}}
    ),
    "answer's status removed": drop((*BALANCE, "responses"), "422"),
    "answer's media type removed": drop((*BALANCE, "responses", "200", "content"), "application/json"),
    "answer's header removed": drop((*BALANCE, "responses", "200", "headers"), "X-Request-Id"),
    "request's media type removed": drop((*BALANCE, "requestBody", "content"), "application/json"),
    "request's field removed": drop((*RUN, "properties"), "rise"),
    "request's field required": add((*RUN, "required"), "rise"),
    "request's new field required": lambda changed: (
        at(changed, (*RUN, "properties")).update(x={"type": "string"}),
        at(changed, (*RUN, "required")).append("x"),
    ),
    "request's maximum lowered": put(field("Elbow", "count"), "maximum", 50),
    "request's minimum raised": put(field("Elbow", "count"), "minimum", 2),
    "request's quantity narrowed": put((*QUANTITY, "anyOf", 0), "minimum", 1.0),
    "request's range narrowed": put(QUANTITY, "x-range-si", [0.02, 3.0]),
    "request's kind changed": put(QUANTITY, "x-kind", "length"),
    "request's length narrowed": put(field("Run", "id"), "maxLength", 32),
    "request's list narrowed": put(field("BalanceRequest", "runs"), "maxItems", 10),
    "request's pattern changed": put((*QUANTITY, "anyOf", 1), "pattern", "^x$"),
    "request's word removed": take(field("Model", "junctions", "enum"), "none"),
    "request's default changed": put(field("Model", "junctions"), "x-default", "none"),
    "request's type changed": put(field("Elbow", "count"), "type", "string"),
    "request's variant removed": lambda changed: at(changed, field("Run", "fittings", "items", "oneOf")).pop(0),
    "request's null removed": lambda changed: at(changed, field("Run", "into", "anyOf")).pop(),
    "request's tag renamed": put(field("Run", "fittings", "items", "discriminator"), "propertyName", "kind"),
    "request's field emptied": put((*RUN, "properties", "hood"), "anyOf", [{"type": "null"}]),
    "answer's field removed": drop((*TOLD, "properties"), "reynolds"),
    "answer's field no longer promised": take((*TOLD, "required"), "reynolds"),
    "answer's type changed": put((*TOLD, "properties", "idle"), "type", "string"),
    "answer's kind changed": put((*TOLD, "properties", "flow"), "x-kind", "velocity"),
    "answer's word added": add(field("Finding", "severity", "enum"), "alarm"),
    "answer may be null": put((*TOLD, "properties"), "idle", {"anyOf": [{"type": "boolean"}, {"type": "null"}]}),
    "problem's field removed": drop(("components", "schemas", "Fault", "properties"), "path"),
    "type of problem removed": drop(("x-problems",), "/problems/not-json"),
    "meaning of a finding changed": put(("x-findings", "hood-starved"), "meaning", "something else"),
    "finding removed": drop(("x-findings",), "hood-starved"),
    "catalogue's words closed": drop(("components", "schemas", "DuctWord", "anyOf"), 1),
    "unknown word of JSON Schema": put(field("Elbow", "count"), "multipleOf", 2),
}

HARMLESS = {
    "path added": put(("paths",), "/v1/more", {"get": {"responses": {}}}),
    "optional parameter added": add(
        ("paths", "/v1/air", "get", "parameters"), {"name": "x", "in": "query", "schema": {"type": "string"}}
    ),
    "parameter no longer required": put(parameter("/v1/air", "units"), "required", False),
    "request's field added": put((*RUN, "properties"), "x", {"type": "string", "x-default": "a"}),
    "request's field no longer required": take((*RUN, "required"), "diameter"),
    "request's maximum raised": put(field("Elbow", "count"), "maximum", 200),
    "request's word added": add(field("Model", "junctions", "enum"), "more"),
    "request's variant added": add(
        field("Run", "fittings", "items", "oneOf"), {"$ref": "#/components/schemas/WeatherCap"}
    ),
    "request's range widened": put(QUANTITY, "x-range-si", [0.005, 4.0]),
    "answer's field added": put((*TOLD, "properties"), "x", {"type": "string"}),
    "answer's field promised": add((*TOLD, "required"), "flow_upstream"),
    "answer's header added": put((*BALANCE, "responses", "200", "headers"), "X-More", {"schema": {}}),
    "answer's media type added": put((*BALANCE, "responses", "200", "content"), "text/more", {}),
    "answer's word removed": take(field("Finding", "severity", "enum"), "note"),
    "description changed": put(RUN, "description", "Something better said."),
    "answer's code added": add(("components", "schemas", "FindingCode", "anyOf", 0, "enum"), "more"),
    "catalogue's word removed": drop(("components", "schemas", "DuctWord", "anyOf", 0, "enum"), 0),
    "finding added": put(("x-findings",), "new-finding", {"severity": "note", "meaning": "new"}),
}


@pytest.mark.parametrize("change", BREAKING.values(), ids=BREAKING.keys())
def test_each_kind_of_breaking_change_is_seen(change):
    changed = copy.deepcopy(BUILT)
    change(changed)
    assert breaking.breaking(BUILT, changed)


@pytest.mark.parametrize("change", HARMLESS.values(), ids=HARMLESS.keys())
def test_each_kind_of_harmless_change_passes(change):
    changed = copy.deepcopy(BUILT)
    change(changed)
    assert breaking.breaking(BUILT, changed) == []

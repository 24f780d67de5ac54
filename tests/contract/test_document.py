import json
from pathlib import Path

import msgspec
import pytest
from openapi_spec_validator import OpenAPIV31SpecValidator

from airbough.calls import CALLS
from airbough_service.api.document import (
    build,
    examples,
)
from airbough_service.api.problems import PROBLEMS

OPENAPI = Path(__file__).parents[2] / "openapi"
BUILT = build.build()


def test_the_served_document_is_the_checked_in_one(client):
    answer = client.get("/openapi.json")
    assert answer.content == (OPENAPI / "v1.json").read_bytes()
    assert answer.headers["content-type"].startswith("application/vnd.oai.openapi+json")


def test_the_document_follows_openapi():
    assert list(OpenAPIV31SpecValidator(BUILT).iter_errors()) == []


def test_every_route_is_documented_and_every_documented_path_is_a_route(client):
    unsaid = {"/openapi.json", "/docs", "/docs/{name}", "/problems/{kind}", "/.well-known/jwks.json"}
    served = {
        (route.path_format, method)
        for route in client.app.routes
        for method in route.methods
        if method != "OPTIONS" and route.path_format not in unsaid
    }
    said = {(path, method.upper()) for path, methods in BUILT["paths"].items() for method in methods}
    assert served == said


def test_the_schemas_of_the_wire_stand_in_the_document_unchanged_but_for_printed_ranges():
    types = [call.answer for call in CALLS] + [call.request for call in CALLS if call.method == "POST"]
    _, ours = msgspec.json.schema_components(types, ref_template="#/components/schemas/{name}")
    said = BUILT["components"]["schemas"]
    for name, schema in ours.items():
        assert without_ranges(said[name]) == without_ranges(schema), name


def without_ranges(node):
    if isinstance(node, list | tuple):
        return [without_ranges(item) for item in node]
    if not isinstance(node, dict):
        return node
    kept = {key: without_ranges(item) for key, item in node.items()}
    if "x-kind" in kept:
        kept.pop("description", None)
        kept["anyOf"] = [
            {key: item for key, item in part.items() if key not in ("minimum", "maximum")}
            for part in kept.get("anyOf", ())
        ]
    return kept


def test_requests_are_closed_and_answers_are_open():
    schemas = BUILT["components"]["schemas"]
    assert schemas["Run"]["additionalProperties"] is False
    assert schemas["BalanceRequest"]["additionalProperties"] is False
    assert "additionalProperties" not in schemas["RunResult"]


def test_tagged_unions_say_how_to_tell_them_apart():
    items = BUILT["components"]["schemas"]["Run"]["properties"]["fittings"]["items"]
    assert items["discriminator"]["propertyName"] == "type"
    assert items["discriminator"]["mapping"]["elbow"] == "#/components/schemas/Elbow"


def test_a_quantity_prints_its_range_and_bounds_bare_numbers_by_the_looser_preset():
    diameter = BUILT["components"]["schemas"]["Run"]["properties"]["diameter"]
    assert "0.393701 to 118.11 in (us), 10 to 3000 mm (metric)" in diameter["description"]
    number = diameter["anyOf"][0]
    assert number["minimum"] == pytest.approx(0.3937008, rel=1e-6)
    assert number["minimum"] <= 0.01 / 0.0254
    assert number["maximum"] == 3000.0


def test_a_post_answers_200_and_every_refusal_is_a_problem():
    for methods in BUILT["paths"].values():
        for operation in methods.values():
            assert "201" not in operation["responses"]
            for status, answer in operation["responses"].items():
                if status >= "400":
                    assert answer == {"$ref": f"#/components/responses/{status}"}
    for answer in BUILT["components"]["responses"].values():
        assert list(answer["content"]) == ["application/problem+json"]


def test_every_type_of_problem_is_listed_and_explained(client):
    assert set(BUILT["x-problems"]) == {f"/problems/{kind}" for kind in PROBLEMS}
    for path, said in BUILT["x-problems"].items():
        page = client.get(path)
        assert page.status_code == 200
        assert said["title"] in page.text


def test_parameters_of_a_get_are_the_fields_of_its_request():
    for call in CALLS:
        if call.method != "GET":
            continue
        parameters = BUILT["paths"][call.path]["get"]["parameters"]
        said = {parameter["name"] for parameter in parameters if parameter["in"] == "query"}
        assert said == set(call.request.__struct_fields__) | {"format", "value", "errors", "decimal"}
        assert "null" not in json.dumps(parameters)


@pytest.mark.parametrize("call", CALLS, ids=lambda call: call.name)
def test_the_example_of_every_call_is_answered(client, call):
    example = examples.request(call.name)
    assert example is not None, f"no example of {call.name}"
    answer = ask(client, call, example)
    assert answer.status_code == 200, answer.text
    msgspec.json.decode(answer.content, type=call.answer)


@pytest.mark.parametrize("call", CALLS, ids=lambda call: call.name)
def test_the_checked_in_example_is_not_stale(client, call):
    """The document shows what this version answers. No reference: that the numbers are right is shown elsewhere."""
    stored = json.loads((OPENAPI / "examples" / f"{call.name}.json").read_text("utf-8"))
    assert stored["request"] == examples.request(call.name)
    assert same(json.loads(ask(client, call, stored["request"]).content), stored["answer"])


def same(left, right):
    """Equal but for the last digits, which another machine's floating point may turn out otherwise."""
    if isinstance(left, dict) and isinstance(right, dict):
        return left.keys() == right.keys() and all(same(left[key], right[key]) for key in left)
    if isinstance(left, list) and isinstance(right, list):
        return len(left) == len(right) and all(map(same, left, right))
    if isinstance(left, float) or isinstance(right, float):
        return left == pytest.approx(right, rel=1e-6, abs=1e-9)
    return left == right


def ask(client, call, example):
    if call.method == "POST":
        return client.post(call.path, json=example)
    inside = {name: word for name, word in example.items() if "{" + name + "}" in call.path}
    return client.get(
        call.path.format(**inside), params={name: word for name, word in example.items() if name not in inside}
    )

import json
import re
from pathlib import Path

import msgspec
import pytest
from jsonschema import Draft202012Validator
from openapi_spec_validator import OpenAPIV31SpecValidator

from airbough.calls import CALLS
from airbough_service.api.document import (
    build,
    examples,
)
from airbough_service.api.document.fault_codes import FAULT_CODES
from airbough_service.api.problems import PROBLEMS
from airbough_service.terms.codes import CODES

OPENAPI = Path(__file__).parents[2] / "openapi"
BUILT = build.build()


def test_the_served_document_is_the_checked_in_one(client):
    answer = client.get("/openapi.json")
    assert answer.content == (OPENAPI / "v1.json").read_bytes()
    assert answer.headers["content-type"].startswith("application/vnd.oai.openapi+json")


def test_the_document_follows_openapi():
    assert list(OpenAPIV31SpecValidator(BUILT).iter_errors()) == []


def test_every_route_is_documented_and_every_documented_path_is_a_route(client):
    served = {
        (route.path_format, method) for route in client.app.routes for method in route.methods if method != "OPTIONS"
    }
    said = {(path, method.upper()) for path, methods in BUILT["paths"].items() for method in methods}
    assert served == said


def test_the_schemas_of_the_wire_stand_in_the_document_with_the_same_fields():
    """What the document makes of a field is tested below; here, that none is lost and none made up."""
    types = [call.answer for call in CALLS] + [call.request for call in CALLS if call.method == "POST"]
    _, ours = msgspec.json.schema_components(types, ref_template="#/components/schemas/{name}")
    said = BUILT["components"]["schemas"]
    for name, schema in ours.items():
        assert said[name]["properties"].keys() == schema["properties"].keys(), name
        assert set(said[name].get("required", ())) >= set(schema.get("required", ())), name
        assert said[name].get("additionalProperties") == schema.get("additionalProperties"), name


def nodes(node):
    """Yield every object of the document but for its examples."""
    if isinstance(node, list):
        for item in node:
            yield from nodes(item)
    if isinstance(node, dict):
        yield node
        for key, item in node.items():
            if key != "example":
                yield from nodes(item)


def test_no_default_makes_a_field_look_needed_and_every_enum_has_a_type():
    """Makers of code take a field with a default for one that is always there, and a bare enum for anything."""
    for node in nodes(BUILT["paths"] | BUILT["components"]):
        assert "default" not in node or "type" not in node, node
        if "enum" in node or ("const" in node and len(node) < 5):
            assert node["type"] in ("string", "integer", "boolean", "number"), node
        assert "anyOf" not in node or "discriminator" not in node, node
    assert BUILT["components"]["schemas"]["BalanceRequest"]["properties"]["by"]["x-default"] == "gates"


def test_answers_carry_every_list_and_boolean():
    """Nothing left out may mean "not looked for": the lists and booleans of an answer are required, and there.

    But for documents that an answer carries for the next question: what a caller may leave out there is not needed.
    """
    asked = reached([call.request.__name__ for call in CALLS if call.method == "POST"])
    answers = reached([call.answer.__name__ for call in CALLS] + ["Problem"]) - asked
    assert {call.answer.__name__ for call in CALLS} <= answers
    for name in answers:
        schema = BUILT["components"]["schemas"][name]
        for field, part in schema.get("properties", {}).items():
            if part.get("type") in ("array", "boolean"):
                assert field in schema["required"], (name, field)
    for call in CALLS:
        assert conforms(examples.answer(call.name), call.answer.__name__) == [], call.name


def reached(names):
    """Return the names of all schemas that lie below some."""
    found, waiting = set(), list(names)
    while waiting:
        name = waiting.pop()
        if name not in found:
            found.add(name)
            below = nodes(BUILT["components"]["schemas"][name])
            waiting += [node["$ref"].rpartition("/")[2] for node in below if "$ref" in node]
    return found


def conforms(instance, name):
    """Return what an independent validator has against an instance."""
    root = {"$ref": f"#/components/schemas/{name}", "components": BUILT["components"]}
    return [error.message for error in Draft202012Validator(root).iter_errors(instance)]


def test_every_answer_of_a_question_has_its_example_in_the_document():
    for path, methods in BUILT["paths"].items():
        for operation in methods.values():
            for media_type, content in operation["responses"]["200"]["content"].items():
                if path.startswith("/v1/") and "json" in media_type:
                    assert content["example"], path
                    assert examples_hold(content), path


def examples_hold(content):
    root = {"schema": content["schema"], "components": BUILT["components"], "$ref": "#/schema"}
    return Draft202012Validator(root).is_valid(content["example"])


def test_words_that_may_grow_are_open():
    """A code or a catalogue word of a later version passes the schema of today, and those of today can be seen."""
    schemas = BUILT["components"]["schemas"]
    for name in ("FindingCode", "FaultCode", "ProblemType", "DuctWord", "DustWord", "MachineWord"):
        known, rest = schemas[name]["anyOf"]
        assert schemas[name]["x-extensible"] is True
        assert len(known["enum"]) > 5
        assert "enum" not in rest
        assert Draft202012Validator(schemas[name]).is_valid("of-a-later-version")
    assert schemas["Run"]["properties"]["duct"]["anyOf"][0]["$ref"].endswith("/DuctWord")
    assert schemas["Finding"]["properties"]["code"]["$ref"].endswith("/FindingCode")


def test_every_code_of_a_fault_in_the_sources_is_in_the_document():
    """Literals after `code=`; a finding's codes have a table of their own."""
    root = Path(__file__).resolve().parents[2]
    files = [*(root / "service" / "airbough_service").rglob("*.py"), *(root / "sdk" / "airbough").rglob("*.py")]
    raised = {code for file in files for code in re.findall(r'\bcode="([a-z]+(?:-[a-z]+)*)"', file.read_text("utf-8"))}
    assert len(raised) > 50
    assert raised - set(CODES) <= FAULT_CODES


def test_what_many_answers_share_stands_once():
    text = json.dumps(BUILT["paths"]) + json.dumps(BUILT["components"]["responses"])
    assert "Id of this request" not in text
    assert '"x-range-si"' not in text.replace(json.dumps(BUILT["components"]["schemas"]), "")
    assert BUILT["components"]["headers"]["ETag"]


def test_the_document_is_served_packed_and_its_tag_is_kept(client):
    plain = client.get("/openapi.json", headers={"accept-encoding": "identity"})
    packed = client.get("/openapi.json", headers={"accept-encoding": "br, gzip;q=0.5"})
    assert "content-encoding" not in plain.headers
    assert packed.headers["content-encoding"] == "gzip"
    assert int(packed.headers["content-length"]) < len(plain.content) / 5
    assert packed.content == plain.content
    assert packed.headers["etag"] == "W/" + plain.headers["etag"]
    assert "Accept-Encoding" in packed.headers["vary"]
    for tag in (plain.headers["etag"], packed.headers["etag"], "*"):
        assert client.get("/openapi.json", headers={"if-none-match": tag}).status_code == 304
    for refused in ("gzip;q=0", "identity", "br", ""):
        told = client.get("/openapi.json", headers={"accept-encoding": refused})
        assert "content-encoding" not in told.headers


def test_requests_are_closed_and_answers_are_open():
    schemas = BUILT["components"]["schemas"]
    assert schemas["Run"]["additionalProperties"] is False
    assert schemas["BalanceRequest"]["additionalProperties"] is False
    assert "additionalProperties" not in schemas["RunResult"]


def test_tagged_unions_say_how_to_tell_them_apart():
    items = BUILT["components"]["schemas"]["Run"]["properties"]["fittings"]["items"]
    assert {"$ref": "#/components/schemas/Elbow"} in items["oneOf"]
    assert items["discriminator"]["propertyName"] == "type"
    assert items["discriminator"]["mapping"]["elbow"] == "#/components/schemas/Elbow"


def test_a_quantity_prints_its_range_and_bounds_bare_numbers_by_the_looser_preset():
    schemas = BUILT["components"]["schemas"]
    assert schemas["Run"]["properties"]["diameter"]["$ref"].endswith("/DiameterQuantity")
    diameter = schemas["DiameterQuantity"]
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


LINKS = [
    pytest.param(call, link, id=f"{call.name} to {link['operationId']}")
    for call in CALLS
    for link in BUILT["paths"][call.path][call.method.lower()]["responses"]["200"].get("links", {}).values()
]


def pointed(expression, request, answer):
    """Return what a runtime expression names (OpenAPI 3.1.0, 4.8.20.4; its pointers are those of RFC 6901)."""
    source, _, place = expression.partition("#")
    if source in ("$response.body", "$request.body"):
        here = answer if source == "$response.body" else request
        for step in place.strip("/").split("/"):
            here = here[int(step)] if isinstance(here, list) else here[step]
        return here
    assert re.fullmatch(r"\$request\.(query|path)\.\w+", source)
    return request[source.rpartition(".")[2]]


@pytest.mark.parametrize(("call", "link"), LINKS)
def test_what_a_link_takes_over_is_answered_as_it_is(client, call, link):
    """Of a link with parameters the rest is the other question's example; a body is sent as it came."""
    request, answer = examples.request(call.name), examples.answer(call.name)
    follows = next(other for other in CALLS if other.name == link["operationId"])
    if "requestBody" in link:
        body = pointed(link["requestBody"], request, answer)
        told = client.post(follows.path, json=body)
    else:
        own = {name: pointed(place, request, answer) for name, place in link["parameters"].items()}
        words = examples.request(follows.name) | own
        path = follows.path.format(**{name: words.pop(name) for name in follows.path_words})
        told = client.get(path, params=words)
    assert told.status_code == 200, told.text


def test_there_are_links_from_shops_to_what_flows_in_them():
    found = {(parameter.values[0].name, parameter.values[1]["operationId"]) for parameter in LINKS}
    assert {("outline", "operating-point"), ("sizing", "operating-point"), ("layout", "outline")} <= found


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

"""Requests that no generator thinks of: each was once answered wrongly by a first attempt at such a service."""

import json

import pytest

BALANCE = "/v1/trees/balance"
RUN = {"id": "a", "into": None, "diameter": 6, "length": 10, "duct": "spiral-galvanized"}
HOOD = {"flow": 400, "entry": {"type": "plain-opening"}}


def tree(**run):
    return {"units": "us", "runs": [RUN | {"hood": HOOD} | run]}


def send(client, body, content_type="application/json", path=BALANCE, **headers):
    content = body if isinstance(body, bytes) else json.dumps(body).encode()
    return client.post(path, content=content, headers={"content-type": content_type, **headers})


def refused(answer, status, kind):
    assert answer.status_code == status, answer.text
    assert answer.headers["content-type"] == "application/problem+json"
    problem = answer.json()
    assert problem["status"] == status
    assert problem["type"] == f"/problems/{kind}"
    assert problem["instance"] == answer.headers["x-request-id"]
    return {fault["path"]: fault["code"] for fault in problem.get("errors", ())}


def test_the_tree_that_the_probes_change_is_answered(client):
    assert send(client, tree()).status_code == 200


@pytest.mark.parametrize(
    ("body", "code"),
    [
        (b"", "empty-body"),
        (b"  \n", "empty-body"),
        (b"{", "malformed-json"),
        (b'{"units": "us",}', "malformed-json"),
        (b'{"units": NaN', "malformed-json"),
        (b'{"units": nan}', "malformed-json"),
        (b'{"name": "\\ud800", "units": NaN}', "malformed-json"),
        (b"{'units': 'us'}", "malformed-json"),
        (b'{"units": "us"} {}', "malformed-json"),
        (b'{"name": "\xff"}', "not-utf-8"),
        (b'{"units": "us", "unknown": "\xc3\x28"}', "not-utf-8"),
        (b'{"name": "\xed\xa0\x80"}', "not-utf-8"),
        (b"[" * 100_000, "nested-too-deep"),
        (b'{"a":' * 100_000, "nested-too-deep"),
        (b"[" * 600 + b"]" * 600, "nested-too-deep"),
        (b'{"runs": ' + b'{"a":' * 450 + b"1" + b"}" * 451, "nested-too-deep"),
        (b'{"units": "us", "units": "metric", "runs": []}', "duplicate-key"),
        (b'{"units": "us", "runs": [{"id": "a", "id": "b"}]}', "duplicate-key"),
        (b'{"units": "us", "runs": [{"id": "a", "\\u0069d": "b"}]}', "duplicate-key"),
    ],
)
def test_what_is_no_json_is_refused_as_such(client, body, code):
    assert refused(send(client, body), 400, "not-json") == {"": code}


def test_a_key_given_twice_is_refused_in_a_document_that_is_right_otherwise(client):
    text = json.dumps(tree()).replace('"length": 10', '"length": 10, "length": 12').encode()
    assert refused(send(client, text), 400, "not-json") == {"": "duplicate-key"}


@pytest.mark.parametrize("body", [b"null", b"[]", b"3", b'"text"', b"true"])
def test_json_that_is_no_object_is_against_the_schema(client, body):
    assert refused(send(client, body), 400, "against-schema") == {"": "wrong-type"}


@pytest.mark.parametrize(
    ("run", "path", "code"),
    [
        ({"diamter": 6}, "runs[0].diamter", "unknown-field"),
        ({"length": True}, "runs[0].length", "wrong-type"),
        ({"diameter": None}, "runs[0].diameter", "wrong-type"),
        ({"length": [1]}, "runs[0].length", "wrong-type"),
        ({"length": "12"}, "runs[0].length", "quantity-grammar"),
        ({"length": "12 ft\n"}, "runs[0].length", "quantity-grammar"),
        ({"length": "12 parsec"}, "runs[0].length", "unknown-unit"),
        ({"length": "12 cfm"}, "runs[0].length", "wrong-kind"),
        ({"hood": HOOD | {"flow": "400 scfm"}}, "runs[0].hood.flow", "standard-flow"),
        ({"id": ""}, "runs[0].id", "length"),
        ({"id": "x" * 65}, "runs[0].id", "length"),
        ({"id": 7}, "runs[0].id", "wrong-type"),
        ({"fittings": {}}, "runs[0].fittings", "wrong-type"),
        ({"fittings": [{"angle": 90}]}, "runs[0].fittings[0].type", "missing-field"),
        ({"fittings": [{"type": "bend"}]}, "runs[0].fittings[0].type", "unknown-type"),
        ({"fittings": [{"type": 7}]}, "runs[0].fittings[0].type", "unknown-type"),
        ({"fittings": [{"type": "elbow"}]}, "runs[0].fittings[0].angle", "missing-field"),
        ({"fittings": [{"type": "tee-as-elbow"}] * 51}, "runs[0].fittings", "length"),
        ({"fittings": [{"type": "tee-as-elbow", "count": 2.5}]}, "runs[0].fittings[0].count", "wrong-type"),
        ({"fittings": [{"type": "tee-as-elbow", "count": 0}]}, "runs[0].fittings[0].count", "too-small"),
        ({"fittings": [{"type": "tee-as-elbow", "count": 10**30}]}, "runs[0].fittings[0].count", "too-big"),
        ({"hood": {"flow": 400, "entry": {}}}, "runs[0].hood.entry.type", "missing-field"),
        ({"join": {"type": "straight", "angle": 45}}, "runs[0].join.angle", "unknown-field"),
    ],
)
def test_what_is_against_the_schema_is_told_with_its_path(client, run, path, code):
    assert refused(send(client, tree(**run)), 400, "against-schema") == {path: code}


@pytest.mark.parametrize(
    ("run", "path"),
    [
        ({"diameter": 5e-324}, "runs[0].diameter"),
        ({"diameter": 1e-160}, "runs[0].diameter"),
        ({"diameter": 0}, "runs[0].diameter"),
        ({"diameter": -0.0}, "runs[0].diameter"),
        ({"diameter": -6}, "runs[0].diameter"),
        ({"length": 1e300}, "runs[0].length"),
        ({"length": 10**400}, "runs[0].length"),
        ({"gate": {"opening": 1.5}}, "runs[0].gate.opening"),
        ({"gate": {"opening": "150 %"}}, "runs[0].gate.opening"),
    ],
)
def test_what_is_out_of_range_is_told_with_its_path(client, run, path):
    answer = send(client, tree(**run))
    assert answer.status_code == 400
    told = {fault["path"]: fault["code"] for fault in answer.json()["errors"]}
    assert told in ({path: "out-of-range"}, {path: "number-too-big"}, {"": "malformed-json"})


def test_all_faults_of_a_document_are_told_at_once(client):
    body = tree(length="x", colour="red") | {"mame": "shop", "by": "luck"}
    del body["runs"][0]["id"]
    assert refused(send(client, body), 400, "against-schema") == {
        "mame": "unknown-field",
        "by": "unknown-word",
        "runs[0].colour": "unknown-field",
        "runs[0].id": "missing-field",
        "runs[0].length": "quantity-grammar",
    }


def test_thousands_of_faults_are_not_all_told(client):
    body = {"units": "us", "runs": [RUN | {"colour": "red", "id": str(index)} for index in range(3000)]}
    answer = send(client, body)
    assert answer.status_code == 400
    (fault,) = answer.json()["errors"]
    assert len(fault["also"]) == 999
    body = {"units": "us", "runs": [RUN | {f"colour{index}": "red"} for index in range(1000)]}
    assert len(send(client, body).json()["errors"]) == 100


def test_a_whole_number_may_be_written_with_a_point(client):
    assert send(client, tree(fittings=[{"type": "tee-as-elbow", "count": 2.0}])).status_code == 200


def test_a_word_in_unknown_letters_comes_back_as_it_went(client):
    name = "Wärkstatt 🪚 \u202e<script>"
    answer = send(client, tree() | {"name": name})
    assert answer.status_code == 200
    assert answer.json()["name"] == name


@pytest.mark.parametrize(
    "content_type",
    ["", "text/plain", "application/msgpack", "application/x-www-form-urlencoded", "multipart/form-data; boundary=x",
     "application/xml", "garbage", "application/json; charset=latin-1",
     "application/json; x=1; charset=utf-16", "application/jsonx", "text/json"],
)  # fmt: skip
def test_a_body_that_says_no_type_that_is_taken_is_refused(client, content_type):
    answer = send(client, tree(), content_type)
    refused(answer, 415, "unsupported-media-type")
    assert answer.headers["accept"] == "application/json, text/csv"  # rows of a sheet too


def test_a_body_without_a_content_type_is_refused(client):
    answer = client.post(BALANCE, content=b"{}")
    refused(answer, 415, "unsupported-media-type")


@pytest.mark.parametrize(
    "content_type",
    [
        "application/json; charset=utf-8",
        "Application/JSON",
        'application/json; charset="UTF-8"',
        "application/json; charset=utf-8; profile=x",
        "application/json;version=1",
    ],
)
def test_json_may_be_spelt_in_any_way_that_means_json(client, content_type):
    assert send(client, tree(), content_type).status_code == 200


@pytest.mark.parametrize("encoding", ["gzip", "br", "deflate", "zstd"])
def test_a_compressed_body_is_refused(client, encoding):
    refused(send(client, tree(), **{"content-encoding": encoding}), 415, "unsupported-media-type")


def test_a_body_over_the_limit_is_refused_with_and_without_a_length(client):
    refused(send(client, b" " * 5_000_000), 413, "too-large")

    def pieces():
        for _ in range(50):
            yield b" " * 100_000

    answer = client.post(BALANCE, content=pieces(), headers={"content-type": "application/json"})
    refused(answer, 413, "too-large")


def test_a_parameter_of_a_post_is_refused(client):
    assert refused(send(client, tree(), path=BALANCE + "?units=us"), 400, "against-schema") == {
        "units": "unknown-field"
    }


@pytest.mark.parametrize(
    "path", ["/v1", "/v1/trees", "/v2/air", "//v1/air", "/v1/air/x", "/v1/fittings/a/b/c", "/..%2fx"]
)
def test_what_answers_nowhere_is_a_problem_too(client, path):
    refused(client.get(path), 404, "not-found")


@pytest.mark.parametrize(("method", "path", "allowed"), [
    ("POST", "/v1/air", {"GET", "HEAD", "OPTIONS"}),
    ("DELETE", "/v1/fittings/elbow", {"GET", "HEAD", "OPTIONS"}),
    ("GET", BALANCE, {"POST", "OPTIONS"}),
    ("HEAD", BALANCE, {"POST", "OPTIONS"}),
    ("PUT", BALANCE, {"POST", "OPTIONS"}),
    ("BREW", "/v1/air", {"GET", "HEAD", "OPTIONS"}),
])  # fmt: skip
def test_a_method_that_is_not_served_is_refused_with_those_that_are(client, method, path, allowed):
    answer = client.request(method, path)
    assert answer.status_code == 405
    assert {word.strip() for word in answer.headers["allow"].split(",")} == allowed
    if method != "HEAD":
        refused(answer, 405, "method-not-allowed")
    else:
        assert answer.content == b""


@pytest.mark.parametrize(("query", "path", "code"), [
    ("", "units", "missing-field"),
    ("units=uk", "units", "unknown-word"),
    ("units=us&units=us", "units", "repeated-parameter"),
    ("units=us&colour=red", "colour", "unknown-field"),
    ("units=us&Units=us", "Units", "unknown-field"),
    ("units=us&temperature", "temperature", "missing-value"),
    ("units=us&temperature=", "temperature", "quantity-grammar"),
    ("units=us&temperature=nan", "temperature", "quantity-grammar"),
    ("units=us&temperature=inf", "temperature", "quantity-grammar"),
    ("units=us&temperature=1_0", "temperature", "quantity-grammar"),
    ("units=us&temperature=%2070", "temperature", "quantity-grammar"),
    ("units=us&temperature=.5", "temperature", "quantity-grammar"),
    ("units=us&temperature=1,000.5", "temperature", "digit-grouping"),
    ("units=us&temperature=1,000,5", "temperature", "digit-grouping"),
    ("units=us&altitude=1,000", "altitude", "ambiguous-decimal"),
    ("units=us&altitude=1,000%20ft", "altitude", "ambiguous-decimal"),
    ("units=us&altitude=1.000&decimal=comma", "altitude", "ambiguous-decimal"),
    ("units=us&altitude=1.000%20ft&decimal=comma", "altitude", "ambiguous-decimal"),
    ("units=us&altitude=1,000&decimal=point", "altitude", "ambiguous-decimal"),
    ("units=us&decimal=dot", "decimal", "unknown-word"),
    ("units=us&altitude=400%20cfm", "altitude", "wrong-kind"),
    ("units=us&altitude=400%20parsec", "altitude", "unknown-unit"),
    ("units=us&temperature=%EF%BC%97%EF%BC%90", "temperature", "quantity-grammar"),
    ("units=us&temperature=%FF", "", "not-utf-8"),
    ("units=us&temperature=70&temperature=70", "temperature", "repeated-parameter"),
    ("units=us&format=html", "format", "unknown-word"),
    ("units=us&errors=none", "errors", "unknown-word"),
    ("units=us&value=", "value", "length"),
])  # fmt: skip
def test_a_query_is_read_as_strictly_as_a_body(client, query, path, code):
    assert refused(client.get("/v1/air?" + query), 400, "against-schema") == {path: code}


@pytest.mark.parametrize("text", ["70.5", "70,5", "70.5 degF", "70,5 degF", "70,5degF", "70.5%20degF", "7.05e1"])
def test_one_decimal_comma_is_a_point(client, text):
    plain = client.get("/v1/air?units=us&temperature=70.5&value=air.density")
    assert plain.status_code == 200
    assert client.get(f"/v1/air?units=us&value=air.density&temperature={text}").text == plain.text


@pytest.mark.parametrize(
    ("query", "metres"),
    [
        ("altitude=1,000&decimal=comma", 0.3048),
        ("altitude=1.000&decimal=point", 0.3048),
        ("altitude=1.000", 0.3048),
        ("altitude=1,000%20m&decimal=comma", 1.0),
        ("altitude=0,125%20m", 0.125),
        ("altitude=4%201/2", 4.5 * 0.3048),
        ("altitude=600%20Feet", 182.88),
        ("altitude=6%20ft%204%20in", 76 * 0.0254),
        ("altitude=12%27-6%22", 3.81),
        ("altitude=%C2%BD%20m", 0.5),
        ("altitude=1e3", 304.8),
    ],
)
def test_a_query_is_read_by_the_grammar_of_bodies(client, query, metres):
    plain = client.get(f"/v1/air?units=metric&altitude={metres!r}&value=air.density")
    units = "metric" if "%20m" in query else "us"
    told = float(client.get(f"/v1/air?units={units}&{query}").json()["air"]["density"])
    factor = 1.0 if units == "metric" else 0.45359237 / 0.3048**3
    assert told * factor == pytest.approx(float(plain.text), rel=1e-12)


def test_all_faults_of_a_query_are_told_at_once(client):
    asked = "/v1/air?units=us&altitude=1,000&temperature=9999&humidity=wet&colour=red&format=html"
    assert refused(client.get(asked), 400, "against-schema") == {
        "altitude": "ambiguous-decimal",
        "temperature": "out-of-range",
        "humidity": "quantity-grammar",
        "colour": "unknown-field",
        "format": "unknown-word",
    }


@pytest.mark.parametrize("body", [b'{"units": NaN}', b'{"units": Infinity}', b'{"units": 1e999}', b'{"units": -1e999}'])
def test_a_number_that_is_not_finite_is_told_with_its_path(client, body):
    assert refused(send(client, body), 400, "against-schema") == {"units": "not-finite", "runs": "missing-field"}


@pytest.mark.parametrize("character", ["\x00", "\x1b", "\n", "\x7f", "\x85", "\u2028", "\u2029"])
@pytest.mark.parametrize("where", ["{}", "a{}b", "a{}"])
def test_ids_and_names_hold_no_control_characters(client, character, where):
    word = where.format(character)
    body = tree(id=word) | {"name": word}
    assert refused(send(client, body), 400, "against-schema") == {"runs[0].id": "pattern", "name": "pattern"}


def test_ids_and_names_hold_any_other_character(client):
    word = "säge 🪚 <b> №1 \u200f"
    assert send(client, tree(id=word) | {"name": word}).status_code == 200


def test_the_order_of_parameters_changes_nothing(client):
    left = client.get("/v1/air?units=us&temperature=70&altitude=600")
    right = client.get("/v1/air?altitude=600&temperature=70&units=us")
    assert left.content == right.content
    assert left.headers["etag"] == right.headers["etag"]


def test_a_byte_order_mark_before_the_body_is_nothing(client):
    """RFC 8259, section 8.1: a parser may ignore it (from memory)."""
    headers = {"content-type": "application/json"}
    body = json.dumps({"units": "us", "runs": [RUN]}).encode()
    with_mark, without = (
        client.post("/v1/trees/balance", content=mark + body, headers=headers).json() for mark in (b"\xef\xbb\xbf", b"")
    )
    assert with_mark | {"instance": ""} == without | {"instance": ""}
    line = json.dumps({"id": "a", "question": "balance", "request": {"units": "us", "runs": [RUN]}}).encode()
    told = client.post("/v1/batches", content=b"\xef\xbb\xbf" + line, headers={"content-type": "application/x-ndjson"})
    assert json.loads(told.content.splitlines()[0])["id"] == "a"

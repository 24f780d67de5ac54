import csv
import io
import re
from xml.etree import ElementTree

import msgspec
import pytest

from airbough_service.api import problems
from airbough_service.api.document import examples
from airbough_service.api.http import negotiation, respond
from airbough_service.api.problems import HttpRefusal
from airbough_service.combined import registry
from airbough_service.core.deadline import OutOfTimeError
from airbough_service.terms.refusal import NotFiniteError

AIR = "/v1/air?units=us&temperature=70&altitude=600"
DUCTS = "/v1/ducts?units=us"

FIGURES = 1.0e-14
"""Sheets show fifteen figures of a number (common practice, no source); JSON has all."""


def test_without_a_wish_the_answer_is_json(client):
    answer = client.get(AIR)
    assert answer.headers["content-type"] == "application/json"
    assert answer.json()["preset"] == "us"


@pytest.mark.parametrize(("accept", "media_type"), [
    ("*/*", "application/json"),
    ("text/csv", "text/csv; charset=utf-8"),
    ("text/plain;q=0.5, text/csv;q=0.8", "text/csv; charset=utf-8"),
    ("application/xml", "application/xml; charset=utf-8"),
    ("text/csv;q=nonsense", "application/json"),
    ("text/csv;q=inf", "application/json"),
    ("application/json;q=0.2, text/csv;q=0.3", "text/csv; charset=utf-8"),
    ("application/json;q=0, */*", "text/csv; charset=utf-8"),
    ("text/csv;q=0, application/json;q=0.001", "application/json"),
    ("", "application/json"),
    # What browsers send, from memory: a person at the address bar is shown JSON.
    ("text/html,application/xhtml+xml,application/xml;q=0.9,*/*;q=0.8", "application/json"),
])  # fmt: skip
def test_accept_chooses_the_format(client, accept, media_type):
    answer = client.get(AIR, headers={"accept": accept})
    assert answer.headers["content-type"] == media_type
    assert answer.headers["vary"] == "Accept"


def test_the_parameter_wins_over_accept(client):
    answer = client.get(AIR + "&format=xml", headers={"accept": "text/csv"})
    assert answer.headers["content-type"].startswith("application/xml")


def test_one_value_is_one_number_with_a_point_and_nothing_else(client):
    answer = client.get(AIR + "&value=air.viscosity")
    assert answer.headers["content-type"] == "text/plain; charset=utf-8"
    assert re.fullmatch(r"0\.[0-9]+", answer.text)
    assert float(answer.text) == pytest.approx(client.get(AIR).json()["air"]["viscosity"], rel=FIGURES)


def test_an_item_of_a_list_is_found_by_its_place_or_its_id(client):
    ducts = client.get(DUCTS).json()["ducts"]
    told = str(ducts[1]["id"])
    for path in ("ducts.1.id", "ducts[1].id", f"ducts.{told}.id"):
        assert client.get(DUCTS, params={"units": "us", "value": path}).text == told


@pytest.mark.parametrize("path", ["air.colour", "air", "air.density.x", "runs", "...", "air[9]", "__class__"])
def test_a_value_that_is_not_there_is_refused(client, path):
    answer = client.get("/v1/air", params={"units": "us", "value": path})
    assert answer.status_code == 422
    assert answer.json()["errors"][0]["path"] == "value"


@pytest.mark.parametrize("wanted", ["json", "csv", "xml"])
def test_one_value_is_text_and_no_other_format(client, wanted):
    answer = client.get(AIR + f"&value=air.density&format={wanted}")
    assert answer.status_code == 400
    assert [(fault["path"], fault["code"]) for fault in answer.json()["errors"]] == [("format", "contradiction")]


def test_a_whole_number_of_a_query_is_one_beside_other_faults_too(client):
    # Texts of a query are read as floats, of which the schema's whole numbers are made.
    asked = "/v1/fittings/elbow/loss?units=metric&diameter=100&angle=90"
    assert client.get(f"{asked}&count=2").status_code == 200
    answer = client.get(f"{asked}&count=2&value=coefficient&format=json")
    assert [(fault["path"], fault["code"]) for fault in answer.json()["errors"]] == [("format", "contradiction")]
    answer = client.get(f"{asked}&count=2.5&value=coefficient&format=json")
    assert [fault["path"] for fault in answer.json()["errors"]] == ["count", "format"]
    assert client.get(AIR + "&value=air.density&format=text").text == client.get(AIR + "&value=air.density").text


def test_csv_is_a_table_with_a_row_for_each_item(client):
    answer = client.get(DUCTS + "&format=csv")
    assert answer.text.count("\r\n") == answer.text.count("\n")
    rows = list(csv.DictReader(io.StringIO(answer.text)))
    told = client.get(DUCTS).json()["ducts"]
    assert [row["id"] for row in rows] == [duct["id"] for duct in told]
    assert float(rows[0]["roughness"]) == pytest.approx(told[0]["roughness"], rel=FIGURES)


def test_csv_of_a_single_answer_is_one_row(client):
    (row,) = csv.DictReader(io.StringIO(client.get(AIR + "&format=csv").text))
    assert float(row["air.density"]) == pytest.approx(client.get(AIR).json()["air"]["density"], rel=FIGURES)


def test_xml_is_flat_enough_for_a_path(client):
    answer = client.get(DUCTS + "&format=xml")
    root = ElementTree.fromstring(answer.text)
    assert [item.text for item in root.findall("./ducts/item/id")] == [
        duct["id"] for duct in client.get(DUCTS).json()["ducts"]
    ]


def test_text_without_a_value_is_a_line_for_each_number(client):
    lines = dict(line.split("\t") for line in client.get(AIR + "&format=text").text.splitlines())
    assert float(lines["air.density"]) == pytest.approx(client.get(AIR).json()["air"]["density"], rel=FIGURES)


def test_a_refusal_can_be_told_in_a_cell(client):
    answer = client.get("/v1/air?units=us&temperature=9999&errors=cell&value=air.density")
    assert answer.status_code == 200
    assert answer.headers["content-type"] == "text/plain; charset=utf-8"
    assert answer.headers["cache-control"] == "no-store"
    assert answer.text == "#ERR temperature: must be -40 to 302 degF; read 9999; for example 68"


@pytest.mark.parametrize(
    ("error", "status"),
    [(ZeroDivisionError(), 500), (NotFiniteError("air.density: nan"), 500), (OutOfTimeError(), 503)],
)
def test_a_fault_of_the_service_never_looks_like_an_answer_in_a_cell(client, monkeypatch, error, status):
    """A sheet's own error shows then; a cell that says `#ERR` would hide that nothing was computed (contract 3)."""

    def fail(*_, **__):
        raise error

    monkeypatch.setattr(registry, "answer", fail)
    answer = client.get(AIR + "&errors=cell")
    assert answer.status_code == status
    assert answer.headers["content-type"] == "application/problem+json"


def test_an_answer_is_the_same_with_and_without_errors_in_a_cell(client):
    assert client.get(AIR + "&errors=cell").content == client.get(AIR).content


def test_head_answers_as_get_without_the_body(client):
    head, get = client.head(AIR), client.get(AIR)
    assert head.status_code == 200
    assert head.content == b""
    for name in ("etag", "content-length", "content-type", "cache-control"):
        assert head.headers[name] == get.headers[name]


def test_an_answer_that_still_stands_is_not_sent_again(client):
    tag = client.get(AIR).headers["etag"]
    again = client.get(AIR, headers={"if-none-match": f'"other", {tag}'})
    assert (again.status_code, again.content) == (304, b"")
    assert again.headers["etag"] == tag
    for given in (f"W/{tag}", "*", f'W/"other", W/{tag}', f'"a,b",{tag}'):
        assert client.get(AIR, headers={"if-none-match": given}).status_code == 304, given
    longer = f'"{tag.strip(chr(34))}-more"'
    between = f'"a{tag}b"'  # two tags and a word between them, which is none
    for given in ('"other"', 'W/"other"', tag.strip('"'), f'"{tag[1:5]}"', "**", "", longer, between):
        assert client.get(AIR, headers={"if-none-match": given}).status_code == 200, given


def test_findings_are_told_beside_text(client):
    asked = "/v1/friction-loss?units=us&flow=400&diameter=4&length=10&duct=flexible-hose-ribbed"
    codes = [finding["code"] for finding in client.get(asked).json()["findings"]]
    assert "stretch-assumed" in codes
    assert client.get(asked + "&value=friction_loss").headers["findings"] == ", ".join(codes)
    assert client.get(asked + "&value=findings").text == ", ".join(codes)
    assert "findings" not in client.get(asked + "&format=csv").headers


def test_a_drawing_can_be_asked_for_as_a_picture(client):
    asked = examples.request("drawing")
    whole = client.post("/v1/trees/drawing", json=asked)
    picture = client.post("/v1/trees/drawing", json=asked, headers={"accept": "image/svg+xml"})
    assert whole.headers["content-type"] == "application/json"
    assert picture.headers["content-type"] == "image/svg+xml; charset=utf-8"
    assert picture.headers["vary"] == "Accept"
    assert picture.text == whole.json()["svg"]
    assert ElementTree.fromstring(picture.content).tag.endswith("svg")


def test_a_parts_list_can_be_asked_for_as_a_table(client):
    asked = examples.request("parts-list")
    answer = client.post("/v1/trees/parts-list", json=asked | {"csv": True}, headers={"accept": "text/csv"})
    assert answer.headers["content-type"] == "text/csv; charset=utf-8"
    plain = client.post("/v1/trees/parts-list", json=asked, headers={"accept": "text/csv, application/json;q=0.1"})
    assert plain.headers["content-type"] == "application/json"
    assert client.post("/v1/trees/parts-list", json=asked, headers={"accept": "text/csv"}).status_code == 406


@pytest.mark.parametrize(("accept", "media_type"), [
    ("application/json, image/svg+xml;q=0.1", "application/json"),
    ("image/svg+xml;q=0, */*", "application/json"),
    ("image/svg+xml;q=0.5, application/json;q=0.4", "image/svg+xml; charset=utf-8"),
])  # fmt: skip
def test_a_picture_is_weighed_as_any_other_type(client, accept, media_type):
    answer = client.post("/v1/trees/drawing", json=examples.request("drawing"), headers={"accept": accept})
    assert answer.headers["content-type"] == media_type


@pytest.mark.parametrize("accept", ["image/png", "application/json;q=0", "text/*;q=0, image/png", "*/*;q=0"])
def test_where_nothing_can_be_accepted_nothing_is_answered(client, accept):
    answers = [
        client.get(AIR, headers={"accept": accept}),
        client.post("/v1/trees/drawing", json=examples.request("drawing"), headers={"accept": accept}),
        client.post("/v1/batches", content=b"", headers={"accept": accept, "content-type": "application/x-ndjson"}),
    ]
    assert [answer.status_code for answer in answers] == [406] * 3
    assert {answer.json()["type"] for answer in answers} == {"/problems/not-acceptable"}


class Told(msgspec.Struct):
    word: str
    number: float


@pytest.mark.parametrize("mark", ["=", "+", "-", "@", "\t", "\r"])
def test_no_word_of_a_table_is_a_formula_and_a_number_stays_one(mark):
    """No caller's word reaches a GET's table today; a sheet opens it all the same, so none may ever do harm there."""
    rows = list(csv.DictReader(io.StringIO(negotiation.render(Told(f"{mark}1+1", -1.5), "csv").decode(), newline="")))
    assert rows == [{"word": f"'{mark}1+1", "number": "-1.5"}]


def test_a_parameter_that_is_wrong_is_taught(client):
    answer = client.get("/v1/friction-loss?units=us&flow=1,400&diam=4&length=10&duct=spiral-galvanized&format=yaml")
    told = {fault["path"]: fault for fault in answer.json()["errors"]}
    assert (told["flow"]["read"], told["flow"]["example"]) == ('"1,400"', "1400")
    assert "did you mean `diameter`" in told["diam"]["detail"]
    assert told["diameter"]["example"] == 6
    assert told["format"]["read"] == '"yaml"'


@pytest.mark.parametrize("status", [401, 405, 406, 413, 415, 429, 500, 503])
def test_only_refusals_of_the_question_itself_are_told_in_a_cell(client, monkeypatch, status):
    """A program must see all others as what they are (contract, section 3)."""
    kind = next(kind for kind, of_type in problems.PROBLEMS.items() if of_type.status == status)

    def refusing(*_):
        raise HttpRefusal(kind, "no")

    monkeypatch.setattr(respond, "answer_get", refusing)
    answer = client.get(AIR + "&errors=cell")
    assert answer.status_code == status
    assert answer.headers["content-type"] == "application/problem+json"

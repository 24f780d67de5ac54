"""What a caller writes never comes out raw where it would be obeyed: terminal, log, picture, table, page."""

import json
import logging
import unicodedata
from urllib.parse import quote
from xml.etree import ElementTree

import pytest
from litestar.testing import TestClient

import airbough
from airbough import report
from airbough_service.api.app import create_app
from airbough_service.api.document import examples
from airbough_service.api.settings import Settings

OBEYED = "\x1b]0;owned\x07\x1b[2J\u202e\u2028\n\r\x9b31m"
"""A terminal's title, its screen cleared, text turned round, a line ended in four ways, colour by one character."""

SHOP = examples.request("operating-point")


@pytest.fixture(scope="module")
def http():
    with TestClient(create_app(Settings())) as started:
        yield started


def obeyed(text):
    """Return what a terminal obeys or does not show (Unicode's categories Cc, Cf, Zl, Zp), but for our own lines."""
    return [sign for sign in text if sign not in "\n\t" and unicodedata.category(sign) in ("Cc", "Cf", "Zl", "Zp")]


@pytest.mark.parametrize(
    "path",
    [
        "/v1/fittings/{}?units=us&errors=cell", "/v1/air?units=us&errors=cell&{}=1", "/v1/air?units={}&errors=cell",
        "/v1/air?units=us&errors=cell&temperature={}", "/v1/air?units=us&errors=cell&value={}",
        "/v1/friction-loss?units=us&flow=400&diameter=4&length=10&duct={}&errors=cell",
        "/v1/velocity-check?units=us&flow=400&diameter=4&dust={}&errors=cell", "/v1/air?units=us&format={}&errors=cell",
    ],
)  # fmt: skip
def test_a_refusal_in_a_cell_shows_it_as_escapes(http, path):
    told = http.get(path.format(quote(OBEYED))).text
    assert told.startswith("#ERR ")
    assert obeyed(told) == []
    assert "\n" not in told


@pytest.mark.parametrize("field", ["name", "id", "into"])
@pytest.mark.parametrize("sign", ["\n", "\t", "\x1b", "\x7f", "\x9b", "\u2028", "\u2029", "\0"])
def test_ids_and_names_hold_no_control_characters(http, field, sign):
    shop = json.loads(json.dumps(SHOP))
    (shop if field == "name" else shop["runs"][1])[field] = f"a{sign}b"
    told = http.post("/v1/trees/operating-point", json=shop)
    assert told.status_code == 400
    assert {fault["code"] for fault in told.json()["errors"]} == {"pattern"}


def test_errors_of_the_client_can_be_printed():
    unknown, against = json.loads(json.dumps(SHOP)), json.loads(json.dumps(SHOP))
    unknown["runs"][0]["duct"] = unknown["dust"] = OBEYED
    against["runs"][0][OBEYED], against["runs"][1]["id"] = 1, OBEYED
    client = airbough.local()
    for shop, kind in ((unknown, airbough.UnknownWord), (against, airbough.InvalidRequest)):
        with pytest.raises(kind) as caught:
            client.operating_point(shop)
        assert obeyed(str(caught.value)) == []
        assert len(str(caught.value).splitlines()) == len(caught.value.problem.errors) + 1


def test_a_report_can_be_printed():
    """A name may hold what turns text round (Cf): no control character, and still not for a terminal."""
    shop = json.loads(json.dumps(SHOP)) | {"name": "a\u202eb\u200bc"}
    told = report.text(report.whole(airbough.local().operating_point(shop)))
    assert obeyed(told) == []
    assert told.startswith("abc\n")


def test_pictures_and_tables_hold_names_as_text():
    """Markup in a name is text in the picture; a formula in an id is text in the table."""
    name = "</text><script>alert(1)</script>"
    drawing = json.loads(json.dumps(examples.request("drawing"))) | {"name": name}
    picture = ElementTree.fromstring(airbough.local().drawing(drawing).svg)
    assert not [node for node in picture.iter() if node.tag.rpartition("}")[2] == "script"]
    assert name in "".join(picture.itertext())


def test_nothing_of_a_caller_is_logged(http):
    handler = logging.getLogger("airbough").handlers[0]
    lines = []
    handler.emit = lambda record: lines.append(handler.format(record))
    try:
        word = "Zaubernuss"
        http.get(f"/v1/fittings/{word}?units=us&{word}=1", headers={"user-agent": word, "referer": word})
        http.post("/v1/trees/operating-point", json=SHOP | {"name": word, "dust": word})
        http.request(word, "/v1/air")
    finally:
        del handler.emit
    assert len(lines) == 3
    assert word not in "".join(lines)

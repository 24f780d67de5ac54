"""The pages under `/docs`: all of the document, readable without scripts, and nothing from elsewhere."""

import functools
import html
import importlib.util
import json
import re
from html.parser import HTMLParser
from pathlib import Path

import pytest

from airbough_service.api.document import build, page
from airbough_service.api.document.pages import contents, schema_words
from airbough_service.api.document.pages.literals import JAVASCRIPT, JSON, PYTHON, written

ROOT = Path(__file__).resolve().parents[2]
DOCUMENT = build.build()
OPERATIONS = contents.operations(DOCUMENT)
PAGES = sorted(name for name in page.names() - set(page.FILES) if "measuring-sheet" not in name)


class Reader(HTMLParser):
    """What a page holds: ids, the places it links to, elements left open."""

    VOID = frozenset({"meta", "link", "input", "br", "img"})

    def __init__(self, text):
        super().__init__()
        self.ids, self.links, self.open, self.attributes = [], [], [], []
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        given = dict(attrs)
        self.attributes += given
        if "id" in given:
            self.ids.append(given["id"])
        self.links += [given[name] for name in ("href", "src") if name in given]
        if tag not in self.VOID:
            self.open.append(tag)

    def handle_endtag(self, tag):
        assert self.open.pop() == tag


@functools.cache
def read(name):
    return Reader(page.content(name).decode())


def text_of(client, name):
    answer = client.get(f"/docs/{name}" if name else "/docs")
    assert answer.status_code == 200
    assert answer.headers["content-type"] == page.HTML
    assert answer.content == page.content(name)
    return answer.text


@pytest.mark.parametrize("name", PAGES)
def test_a_page_is_whole_and_needs_nothing_from_elsewhere(client, name):
    text, found = text_of(client, name), read(name)
    assert found.open == []
    assert len(found.ids) == len(set(found.ids))
    assert "style" not in found.attributes
    assert not [word for word in found.attributes if word.startswith("on")]
    assert re.findall(r"<script(?! src=\"/docs/docs\.js\" defer></script>)", text) == []
    for link in found.links:
        place, _, anchor = link.partition("#")
        if place.startswith("/docs"):
            target = place.removeprefix("/docs").removeprefix("/")
            assert target in page.names(), link
            assert not anchor or anchor in read(target).ids, link
        elif not place:
            assert anchor in found.ids, link
        else:
            assert place == "data:," or place == "/openapi.json" or place.startswith("/problems/"), link


def test_every_page_leads_to_every_other():
    for name in PAGES:
        assert {f"/docs/{other}" for other in page.names() - {"", *page.FILES}} <= set(read(name).links)
        assert read(name).attributes.count("aria-current") == 1


def test_files_are_served_as_what_they_are_and_nothing_else_is(client):
    for name, media_type in page.FILES.items():
        assert client.get(f"/docs/{name}").headers["content-type"] == media_type
    for name in ("settings.py", "../settings.py", "validation.html", "guide-embed.html"):
        assert client.get(f"/docs/{name}").status_code == 404


def test_pages_are_served_packed_and_keep_their_tags(client):
    for name in ("sizing", "docs.js", "guide-embed"):
        plain = client.get(f"/docs/{name}", headers={"accept-encoding": "identity"})
        packed = client.get(f"/docs/{name}", headers={"accept-encoding": "gzip"})
        assert packed.headers["content-encoding"] == "gzip"
        assert packed.content == plain.content
        assert client.get(f"/docs/{name}", headers={"if-none-match": packed.headers["etag"]}).status_code == 304


BROWSER = "text/html,application/xhtml+xml,application/xml;q=0.9,*/*;q=0.8"


def test_a_browser_at_the_root_is_led_to_the_pages_and_a_program_is_told_where_everything_is(client):
    led = client.get("/", headers={"accept": BROWSER}, follow_redirects=False)
    assert (led.status_code, led.headers["location"]) == (302, "/docs")
    for accept in ("application/json", "*/*", "application/*;q=0.2"):
        told = client.get("/", headers={"accept": accept}, follow_redirects=False)
        assert told.status_code == 200
        assert told.headers["content-type"] == "application/json"
        assert told.json() == build.ROOT
        for place in ("docs", "openapi", "ready"):
            assert client.get(told.json()[place]).status_code == 200
    assert "Accept" in led.headers["vary"]
    assert "Accept" in told.headers["vary"]
    assert client.get("/", headers={"if-none-match": told.headers["etag"]}).status_code == 304
    assert client.head("/", headers={"accept": "application/json"}).content == b""
    refused = client.get("/", headers={"accept": "image/png"})
    assert (refused.status_code, refused.json()["type"]) == (406, "/problems/not-acceptable")


@pytest.mark.parametrize("operation", OPERATIONS, ids=lambda one: one.name)
def test_the_page_of_an_operation_tells_all_of_it(client, operation):
    text = text_of(client, operation.name)
    assert f"<code>{html.escape(operation.path)}</code>" in text
    for parameter in operation.node.get("parameters", ()):
        assert f'name="{parameter["name"]}"' in text
    for status, response in operation.node["responses"].items():
        assert f"<summary><b>{status}</b>" in text
        told = response
        if "$ref" in response:
            told = DOCUMENT["components"]["responses"][response["$ref"].rpartition("/")[2]]
        for name in told.get("headers", ()):
            assert f"<code>{name}</code>" in text
    for link in operation.node["responses"]["200"].get("links", {}).values():
        assert f'<a href="/docs/{link["operationId"]}">' in text.partition('id="next"')[2]
        assert html.escape(link["description"].partition("`")[0]) in text
    roots = [operation.node["responses"]["200"], operation.node.get("requestBody", {})]
    for name in schema_words.reached(DOCUMENT["components"]["schemas"], *roots):
        assert f'<div id="{name}">' in text


def test_the_body_is_filled_in_with_the_example(client):
    for operation in OPERATIONS:
        content = operation.node.get("requestBody", {}).get("content")
        if content:
            shown = html.unescape(
                re.search(r"<textarea [^>]*>(.*?)</textarea>", text_of(client, operation.name), re.S)[1]
            )
            media, told = next(iter(content.items()))
            as_json = [json.loads(line) for line in shown.splitlines()] if "ndjson" in media else json.loads(shown)
            assert as_json == told["example"]


def test_every_schema_problem_finding_fault_and_unit_is_on_some_page(client):
    texts = {name: text_of(client, name) for name in PAGES}
    for name in DOCUMENT["components"]["schemas"]:
        assert any(f'id="{name}"' in text for text in texts.values()), name
    for word in (*DOCUMENT["x-problems"], *DOCUMENT["x-findings"]):
        assert f"<code>{word}</code>" in texts["codes"]
    for units in DOCUMENT["x-units"]["kinds"].values():
        assert all(f"<code>{html.escape(unit)}</code>" in texts["units"] for unit in units)


def fields(schemas):
    """Yield every field of the shared schemas."""
    for name, schema in schemas.items():
        for field, part in schema.get("properties", {}).items():
            yield f"{name}.{field}", part


def test_what_stands_at_a_field_or_inside_an_alternative_of_it_is_said():
    schemas = DOCUMENT["components"]["schemas"]
    deeper = 0
    for place, part in fields(schemas):
        said = re.sub(r"<[^>]*>", "", schema_words.said(schemas, part))
        for alternative in (part, *part.get("anyOf", ()), *part.get("oneOf", ())):
            words = alternative.get("description", "")
            deeper += bool(words) and alternative is not part
            assert html.escape(words).replace("`", "") in said, place
            if "x-default" in alternative:
                default = alternative["x-default"]
                wanted = "none." if default in ([], {}) else f"{html.escape(json.dumps(default))}."
                assert f"Left out: {wanted}" in said, place
    assert deeper > 50


@pytest.mark.parametrize("path", sorted(DOCUMENT["x-problems"]))
def test_the_page_of_a_type_of_problem_stands_in_the_frame_of_all(client, path):
    told = DOCUMENT["x-problems"][path]
    found = Reader(client.get(path).text)
    assert {"/docs", "/docs/codes", "/docs/docs.css"} <= set(found.links)
    assert f"status {told['status']} " in client.get(path).text


@pytest.mark.parametrize(
    ("schema", "words"),
    [
        ({"type": "string", "minLength": 1, "maxLength": 64}, "text, 1 to 64 characters"),
        ({"type": "string", "minLength": 1}, "text"),
        ({"type": "number", "minimum": 0, "maximum": 100.0}, "number, 0 to 100"),
        ({"type": "number", "exclusiveMinimum": 0.0}, "number, above 0"),
        ({"type": "integer", "minimum": 0}, "whole number, at least 0"),
        ({"type": "array", "items": {"type": "number"}, "minItems": 3, "maxItems": 3}, "list of number, 3 entries"),
        ({"anyOf": [{"type": "null"}, {"type": "string"}]}, "text or null"),
    ],
)
def test_kinds_and_bounds_are_told_in_words(schema, words):
    assert schema_words.kind({}, schema) == words


def test_names_of_pages_do_not_collide():
    names = [one.name for one in OPERATIONS]
    assert len({*names, *contents.GUIDES, *contents.REFERENCE, *page.FILES}) == len(names) + len(contents.GUIDES) + len(
        contents.REFERENCE
    ) + len(page.FILES)


def test_the_guides_are_made_of_what_the_tests_of_guides_follow():
    spec = importlib.util.spec_from_file_location("guides", ROOT / "deploy" / "guides.py")
    guides = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(guides)
    assert set(guides.CHAPTERS) == set(contents.GUIDES)
    for name in guides.CHAPTERS:
        kept = (guides.FOLDER / f"{name}.html").read_text("utf-8")
        assert kept == guides.html(name), "`.venv/bin/python deploy/guides.py` writes it anew"


VALUE = {"a": [1, 2.5, "x\"y'ü", None, True, False, [], {}], "b c": {"d": "e" * 90, "f": [{"g": 1}]}, "e": {}}


@pytest.mark.parametrize("width", [10, 40, 88, 1000])
def test_values_are_written_as_each_language_reads_them(width):
    assert json.loads(written(VALUE, JSON, width=width)) == VALUE
    assert eval(written(VALUE, PYTHON, width=width)) == VALUE
    script = written(VALUE, JAVASCRIPT, width=width)
    assert json.loads(re.sub(r"(?m)(?<=[\s{])([a-z]+):", r'"\1":', script)) == VALUE
    assert max(map(len, written([1] * 40, JSON, width=40).splitlines())) <= 40

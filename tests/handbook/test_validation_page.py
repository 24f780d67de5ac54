"""The checked-in page tells what the code computes, and is served beside the document."""

import re

import pytest
from litestar.testing import TestClient

from airbough_service.api.app import create_app
from airbough_service.api.settings import Settings
from handbook import validation, validation_html

NUMBER = re.compile(r"(?<![\w.#])[+-]?\d[\d,]*(?:\.\d+)?(?:e[+-]?\d+)?(?!\w)")
PERCENT = re.compile(r"[+-]?\d+(?:\.\d+)? %")


@pytest.fixture(scope="module")
def client():
    return TestClient(create_app(Settings()))


def numbers(page):
    return [float(one.replace(",", "")) for one in NUMBER.findall(page)]


def test_the_checked_in_page_is_what_the_command_writes():
    """`.venv/bin/python tests/handbook/validation.py` writes it anew. Numbers agree to three digits, words wholly."""
    kept, made = (
        PERCENT.sub("", page)  # follow from the numbers beside them
        for page in (validation.PAGE.read_text("utf-8"), validation_html.page(validation.gathered()))
    )
    assert NUMBER.sub("0", kept) == NUMBER.sub("0", made)
    assert numbers(made) == pytest.approx(numbers(kept), rel=1.0e-3)


def test_every_value_of_the_page_is_within_what_it_says_is_allowed():
    """Its own check of what it tells: ours within the printed tolerance, but for what contradicts its own method."""
    found = validation.gathered()
    lines = [line for part in (*found.sources, *found.examples) for line in part.lines]
    assert len(lines) > 300
    for line in lines:
        if line.method is None:
            assert line.ours == pytest.approx(line.printed, abs=line.tolerance), line
        else:
            assert abs(line.ours - line.printed) > line.tolerance, line


def test_the_page_is_served_as_the_other_documents_are(client):
    docs, answer = client.get("/docs"), client.get("/docs/validation")
    assert answer.status_code == 200
    assert validation.PAGE.read_bytes() in answer.content
    same = [name for name in docs.headers if name not in ("etag", "content-length", "x-request-id")]
    assert {name: answer.headers[name] for name in same} == {name: docs.headers[name] for name in same}
    assert 'href="/docs/validation"' in docs.text
    assert client.get("/docs/validation.html").status_code == 404


def test_the_page_runs_nothing_of_its_own_and_asks_nobody(client):
    page = client.get("/docs/validation").text
    assert "<script" not in validation.PAGE.read_text("utf-8")
    assert " style=" not in page  # the policy allows the service's own sheet alone
    assert re.findall(r'(?:src|href)="(?!#|/docs|data:,)[^"]*"', page) == []

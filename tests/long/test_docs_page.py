"""The page at /docs in a real browser that reaches loopback and nothing else."""

import json
import os
import re
from pathlib import Path

import httpx
import pytest

from browsing import chromium, opened
from serving import Served

pytestmark = pytest.mark.long
SHOWN = """JSON.stringify([...document.querySelectorAll('section')].map(section => ({
  method: section.querySelector('h3 b').textContent,
  path: section.querySelector('h3 code').textContent,
  visible: section.getBoundingClientRect().height > 40,
  button: section.querySelector('.send button').getBoundingClientRect().height > 10,
})))"""


@pytest.fixture(scope="module")
def address():
    with Served() as served:
        yield served.address


@pytest.fixture(scope="module")
def page(address):
    with chromium() as browser, opened(browser, f"{address}/docs") as page:
        yield page
        kept = os.environ.get("DOCS_PICTURES")
        if kept:
            page.screenshot(path=Path(kept) / "docs-answer.png")


def tried(page, operation, **values):
    """Fill in a form, press its button, and return what it shows."""
    from playwright.sync_api import expect

    form, shown = page.locator(f"#{operation} form"), page.locator(f"#{operation} .answer")
    for name, value in values.items():
        form.locator("textarea" if name == "body" else f'input[name="{name}"]').fill(value)
    form.locator(".send button").click()
    expect(shown).to_have_text(re.compile(r"^\d{3} "))
    head, _, body = shown.text_content().partition("\n\n")
    return head, body


def test_the_page_shows_every_operation_of_the_document(page, address):
    paths = httpx.get(f"{address}/openapi.json").json()["paths"]
    documented = {(method.upper(), path) for path, methods in paths.items() for method in methods}
    shown = json.loads(page.evaluate(SHOWN))
    assert {(told["method"], told["path"]) for told in shown} == documented
    assert all(told["visible"] and told["button"] for told in shown)


def test_a_get_is_sent_and_its_answer_shown(page, address):
    head, body = tried(page, "friction-loss", flow="401", diameter="4.5", length="10", units="us")
    path = "/v1/friction-loss?units=us&flow=401&diameter=4.5&length=10&duct=spiral-galvanized"
    assert head.split("\n") == ["200 application/json", path]
    assert json.loads(body) == httpx.get(address + path).json()


def test_a_refusal_is_shown_too(page):
    head, body = tried(page, "velocity-check", diameter="0")
    assert head.startswith("400 application/problem+json\n")
    assert json.loads(body)["errors"][0]["path"] == "diameter"


def test_a_post_sends_the_example_that_the_page_shows(page, address):
    head, body = tried(page, "operating-point")
    example = json.loads(page.locator("#operating-point textarea").input_value())
    assert head.startswith("200 application/json\n")
    assert json.loads(body) == httpx.post(f"{address}/v1/trees/operating-point", json=example).json()


def test_nothing_but_the_service_was_asked_and_the_console_is_quiet(page, address):
    tried(page, "air")
    assert len(page.asked) >= 5
    assert [url for url in page.asked if not url.startswith((address, "data:"))] == []
    # The refusal above is logged by the browser as a failed resource, which it is.
    assert [text for text in page.complaints if "status of 400" not in text] == []

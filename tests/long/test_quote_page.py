"""The invented seller's page in a real browser: load, edit, refused input, an altered quote, service away, narrow."""

import json
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

from browsing import chromium, opened
from programs import needed
from serving import Served, free_port

pytestmark = pytest.mark.long
SELLER = Path(__file__).resolve().parents[2] / "deploy" / "quote" / "server.py"
VIOLATIONS = """() => axe.run().then(found =>
  found.violations.map(one => [one.id, one.nodes.length, one.nodes[0].html]))"""
READY = re.compile(r"^(Quote updated\.|Angebot erneuert\.)$")


@pytest.fixture(scope="module")
def service(tmp_path_factory):
    key = tmp_path_factory.mktemp("keys") / "key.json"
    made = subprocess.run([sys.executable, "-m", "airbough_service.api.signing"], capture_output=True, check=True)
    key.write_bytes(made.stdout)
    with Served(signing_key_file=str(key)) as served:
        yield served


@pytest.fixture(scope="module")
def seller(service):
    port = free_port()
    command = [sys.executable, str(SELLER), "--service", service.address, "--port", str(port)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as process:
        assert "ready" in process.stdout.readline()
        yield f"http://127.0.0.1:{port}/"
        process.terminate()


@pytest.fixture(scope="module")
def browser():
    with chromium() as started:
        yield started


@pytest.fixture
def page(browser, seller):
    with opened(browser, seller) as page:
        quoted(page)
        yield page


@pytest.fixture(scope="module")
def axe(tmp_path_factory):
    folder = tmp_path_factory.mktemp("axe")
    command = [needed("npm"), "install", "--no-audit", "--no-fund", "axe-core@4"]
    subprocess.run(command, cwd=folder, check=True, capture_output=True, timeout=180)
    return (folder / "node_modules" / "axe-core" / "axe.min.js").read_text("utf-8")


def quoted(page):
    """Wait for a quote and return its price."""
    from playwright.sync_api import expect

    expect(page.locator("#status")).to_have_text(READY, timeout=20_000)
    return page.locator("#price").text_content()


def edited(page, name, value):
    """Type into a field, or choose in a list, and wait for the quote that follows."""
    page.evaluate("document.getElementById('status').textContent = ''")
    field = page.locator(f'[name="{name}"]')
    if field.evaluate("node => node.tagName") == "SELECT":
        field.select_option(value)
    else:
        field.fill(value)


def ordered(page):
    """Order, and return what is said of it."""
    from playwright.sync_api import expect

    page.locator("#order").click()
    expect(page.locator("#ordered")).not_to_be_empty(timeout=20_000)
    return page.locator("#ordered").text_content()


def keep(page, name):
    """Keep a picture of the whole page where a folder for them is named."""
    if folder := os.environ.get("QUOTE_PICTURES"):
        page.screenshot(path=Path(folder) / f"quote-{name}.png", full_page=True)


def changed_on_the_way(page, path, change):
    """Change what the page sends to a path of the seller's."""

    def handle(route):
        body = json.loads(route.request.post_data)
        change(body)
        route.continue_(post_data=json.dumps(body))

    page.route(f"**{path}", handle)


def test_it_loads_without_a_complaint_and_reaches_nothing_but_the_seller(page, seller):
    assert page.complaints == []
    assert {address.startswith((seller, "data:")) for address in page.asked} == {True}
    assert page.locator("#plan svg, #tree svg").count() == 2
    assert page.locator(".bar").count() == 3


def test_a_longer_line_costs_more_and_a_further_machine_has_a_bar(page):
    before = float(quoted(page).split()[0])
    edited(page, "length", "40")
    edited(page, "at-2", "40")
    assert float(quoted(page).split()[0]) > before
    page.evaluate("document.getElementById('status').textContent = ''")
    page.locator("#more").click()
    quoted(page)
    assert page.locator(".bar").count() == 4
    assert page.evaluate("document.activeElement.name") == "id-3"


def test_what_cannot_be_read_is_marked_where_it_stands(page):
    edited(page, "at-1", "somewhere")
    marked = page.locator("[aria-invalid]")
    marked.wait_for()
    assert marked.get_attribute("name") == "at-1"
    assert len(page.locator(f"#{marked.get_attribute('aria-describedby')}").text_content()) > 10
    edited(page, "at-1", "18 ft 6 in")
    quoted(page)
    assert marked.count() == 0


def test_an_order_is_taken_at_the_price_shown(page):
    price = quoted(page)
    assert price in ordered(page)


@pytest.mark.parametrize(("old", "new"), [('"price":"', '"price":"0'), ("P-6", "P-7"), ("}", "} ")])
def test_an_altered_quote_is_not_taken(page, old, new):
    def change(body):
        altered = body["answer"].replace(old, new)
        assert altered != body["answer"]
        body["answer"] = altered

    changed_on_the_way(page, "/order", change)
    assert "not ordered" in ordered(page)


def test_an_order_for_another_shop_than_was_quoted_is_not_taken(page):
    changed_on_the_way(page, "/order", lambda body: body["outline"]["machines"][0].update(drop=50))
    assert "not ordered" in ordered(page)


def test_german_and_metric_speak_so_and_the_page_keeps_what_was_typed(page, seller):
    edited(page, "language", "de")
    quoted(page)
    edited(page, "units", "metric")
    quoted(page)
    assert page.evaluate("document.documentElement.lang") == "de"
    assert page.locator("[name=length]").input_value() == "8.53"
    edited(page, "at-0", "3,5")
    assert "," in quoted(page)
    page.goto(seller)
    quoted(page)
    assert page.locator("[name=at-0]").input_value() == "3,5"


@pytest.mark.parametrize("width", [320, 380, 1280])
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_nothing_and_nothing_scrolls_sideways(page, axe, width, scheme):
    page.set_viewport_size({"width": width, "height": 900})
    page.emulate_media(color_scheme=scheme)
    page.evaluate(axe)
    assert page.evaluate(VIOLATIONS) == []
    assert page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth") <= 0
    keep(page, f"{width}-{scheme}")


def test_while_the_service_is_away_it_says_so_and_keeps_what_was_typed(page, service):
    price = quoted(page)
    service.stop()
    try:
        edited(page, "length", "33")
        page.locator("#status.away").wait_for()
        assert page.locator("[name=length]").input_value() == "33"
        assert page.locator("#price").text_content() == price
        assert page.locator("#result.stale").count() == 1
    finally:
        service.start()
    edited(page, "length", "34")
    quoted(page)

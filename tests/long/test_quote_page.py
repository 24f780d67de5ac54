"""The invented seller's page in a real browser: load, edit, refused input, an altered quote, service away, narrow."""

import importlib.util
import json
import os
import subprocess
import sys
import time
from pathlib import Path

import pytest

from programs import needed
from serving import Served, free_port

pytestmark = pytest.mark.long
HERE = Path(__file__).resolve().parent
SELLER = HERE.parents[1] / "deploy" / "quote" / "server.py"


VIOLATIONS = """axe.run().then(found =>
  JSON.stringify(found.violations.map(one => [one.id, one.nodes.length, one.nodes[0].html])))"""


def browser_module():
    spec = importlib.util.spec_from_file_location("browser", HERE / "browser.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


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


@pytest.fixture
def page(seller, tmp_path):
    with browser_module().Browser(needed("chromium"), tmp_path, 180.0) as opened:
        opened.open(seller)
        quoted(opened)
        yield opened


def quoted(page):
    """Wait for a quote and return its price."""
    page.wait_for("['Quote updated.', 'Angebot erneuert.'].includes(document.getElementById('status').textContent)")
    return page.evaluate("document.getElementById('price').textContent")


def typed(page, name, value):
    page.evaluate(f"""(() => {{
      document.getElementById('status').textContent = '';
      const field = document.querySelector('[name="{name}"]');
      field.value = {json.dumps(value)};
      field.dispatchEvent(new Event(field.tagName === 'SELECT' ? 'change' : 'input', {{bubbles: true}}));
    }})()""")


def ordered(page):
    page.evaluate("document.getElementById('order').click()")
    return page.wait_for("document.getElementById('ordered').textContent")


@pytest.fixture(scope="module")
def axe(tmp_path_factory):
    folder = tmp_path_factory.mktemp("axe")
    command = [needed("npm"), "install", "--no-audit", "--no-fund", "axe-core@4"]
    subprocess.run(command, cwd=folder, check=True, capture_output=True, timeout=180)
    return (folder / "node_modules" / "axe-core" / "axe.min.js").read_text("utf-8")


def shown(page, width, scheme="light"):
    page.ask("Emulation.setDeviceMetricsOverride", width=width, height=900, deviceScaleFactor=1, mobile=width < 500)
    page.ask("Emulation.setEmulatedMedia", features=[{"name": "prefers-color-scheme", "value": scheme}])


def test_it_loads_without_a_complaint_and_reaches_nothing_but_the_seller(page, seller):
    assert page.complaints == []
    assert {address.startswith((seller, "data:")) for address in page.requests} == {True}
    assert page.evaluate("document.querySelectorAll('#plan svg, #tree svg').length") == 2
    assert page.evaluate("document.querySelectorAll('.bar').length") == 3


def test_a_longer_line_costs_more_and_a_further_machine_has_a_bar(page):
    before = float(quoted(page).split()[0])
    typed(page, "length", "40")
    typed(page, "at-2", "40")
    assert float(quoted(page).split()[0]) > before
    page.evaluate("document.getElementById('status').textContent = ''; document.getElementById('more').click()")
    quoted(page)
    assert page.evaluate("document.querySelectorAll('.bar').length") == 4
    assert page.evaluate("document.activeElement.name") == "id-3"


def test_what_cannot_be_read_is_marked_where_it_stands(page):
    typed(page, "at-1", "somewhere")
    page.wait_for("document.querySelector('[aria-invalid]')?.name === 'at-1'")
    described = "document.getElementById(document.querySelector('[aria-invalid]').getAttribute('aria-describedby'))"
    assert page.evaluate(f"{described}.textContent.length") > 10
    typed(page, "at-1", "18 ft 6 in")
    quoted(page)
    assert page.evaluate("document.querySelector('[aria-invalid]')") is None


def test_an_order_is_taken_at_the_price_shown(page):
    price = quoted(page)
    assert price in ordered(page)


@pytest.mark.parametrize(
    "change", ['text.replace(/"price":"/, \'"price":"0\')', "text.replace('P-6', 'P-7')", "text + ' '"]
)
def test_an_altered_quote_is_not_taken(page, change):
    page.evaluate(f"""(() => {{
      const real = window.fetch;
      window.fetch = (path, asked) => {{
        if (path !== '/order') return real(path, asked);
        const body = JSON.parse(asked.body), text = body.answer;
        return real(path, {{...asked, body: JSON.stringify({{...body, answer: {change}}})}});
      }};
    }})()""")
    assert "not ordered" in ordered(page)


def test_an_order_for_another_shop_than_was_quoted_is_not_taken(page):
    page.evaluate("""(() => {
      const real = window.fetch;
      window.fetch = (path, asked) => {
        const body = JSON.parse(asked.body);
        if (path === '/order') body.outline.machines[0].drop = 50;
        return real(path, {...asked, body: JSON.stringify(body)});
      };
    })()""")
    assert "not ordered" in ordered(page)


def test_german_and_metric_speak_so_and_the_page_keeps_what_was_typed(page, seller):
    typed(page, "language", "de")
    quoted(page)
    typed(page, "units", "metric")
    quoted(page)
    assert page.evaluate("document.documentElement.lang") == "de"
    assert page.evaluate("document.querySelector('[name=length]').value") == "8.53"
    typed(page, "at-0", "3,5")
    assert "," in quoted(page)
    page.open(f"{seller}?")
    quoted(page)
    assert page.evaluate("document.querySelector('[name=at-0]').value") == "3,5"


@pytest.mark.parametrize("width", [320, 380, 1280])
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_nothing_and_nothing_scrolls_sideways(page, axe, width, scheme):
    shown(page, width, scheme)
    page.evaluate(axe)
    told = page.evaluate(VIOLATIONS)
    assert json.loads(told) == []
    assert page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth") <= 0
    kept = os.environ.get("QUOTE_PICTURES")
    if kept:
        page.picture(Path(kept) / f"quote-{width}-{scheme}.png")


def test_while_the_service_is_away_it_says_so_and_keeps_what_was_typed(page, service):
    price = quoted(page)
    service.stop()
    try:
        typed(page, "length", "33")
        page.wait_for("document.getElementById('status').className === 'away'")
        assert page.evaluate("document.querySelector('[name=length]').value") == "33"
        assert page.evaluate("document.getElementById('price').textContent") == price
        assert "stale" in page.evaluate("document.getElementById('result').className")
    finally:
        service.start()
    time.sleep(0.1)
    typed(page, "length", "34")
    quoted(page)

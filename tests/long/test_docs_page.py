"""The pages under /docs in a real browser that reaches loopback and nothing else: tried, by keys, narrow, dark."""

import importlib.util
import json
import os
from pathlib import Path

import httpx
import pytest

from airbough_service.api.admission.keys import digest
from airbough_service.api.document import page as pages
from programs import needed
from serving import Served, free_port

pytestmark = pytest.mark.long
HERE = Path(__file__).resolve().parent


def module(name):
    spec = importlib.util.spec_from_file_location(name, HERE / f"{name}.py")
    found = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(found)
    return found


AXE = module("axe")


@pytest.fixture(scope="module")
def address():
    with Served() as served:
        yield served.address


@pytest.fixture(scope="module")
def keyed(tmp_path_factory):
    """A service with a secret key, and a publishable one for its own pages."""
    port = free_port()
    origin = f"http://127.0.0.1:{port}"
    file = tmp_path_factory.mktemp("keys") / "keys"
    file.write_text(f"server {digest('secret-key')}\npage {digest('open-key')} origins={origin} questions=traverse\n")
    with Served(port, keys_file=str(file), allowed_origins=origin) as served:
        yield served.address


@pytest.fixture(scope="module")
def browser(tmp_path_factory):
    with module("browser").Browser(needed("chromium"), tmp_path_factory.mktemp("browser"), 600.0) as opened:
        yield opened


@pytest.fixture
def page(browser):
    browser.requests.clear()
    browser.complaints.clear()
    shown(browser, 1280)
    browser.open("about:blank")
    return browser


def shown(page, width, scheme="light"):
    page.ask("Emulation.setDeviceMetricsOverride", width=width, height=1000, deviceScaleFactor=1, mobile=width < 500)
    page.ask("Emulation.setEmulatedMedia", features=[{"name": "prefers-color-scheme", "value": scheme}])


def opened(page, address, name):
    page.open(f"{address}/docs{'/' if name else ''}{name}")


def filled(page, **values):
    page.evaluate(f"""(() => {{
      const form = document.querySelector('form.try');
      for (const [name, value] of Object.entries({json.dumps(values)}))
        form.querySelector(name === 'body' ? 'textarea' : `[name="${{name}}"]`).value = value;
    }})()""")


ANSWER = """(() => {
  const place = document.querySelector('.answer'), line = place.querySelector('.line').textContent;
  if (place.hidden || !line || document.querySelector('.send button').disabled) return '';
  const rows = [...place.querySelectorAll('dl > div')].map(row => [...row.children].map(part => part.textContent));
  return JSON.stringify({line, headers: Object.fromEntries(rows), body: place.querySelector('pre').textContent,
    hint: place.querySelector('.hint').hidden ? '' : place.querySelector('.hint').textContent,
    faults: [...place.querySelectorAll('.faults li')].map(fault => fault.textContent),
    pictures: [...place.querySelectorAll('img')].filter(one => one.complete && one.naturalWidth > 0).length});
})()"""


def sent(page):
    """Press the button of the form and return what is shown."""
    page.evaluate("""(() => {
      document.querySelector('.answer .line').textContent = '';
      document.querySelector('.send button').click();
    })()""")
    return json.loads(page.wait_for(ANSWER))


def press(page, key, code=0):
    for kind in ("keyDown", "keyUp"):
        text = {"text": "\r"} if key == "Enter" and kind == "keyDown" else {}
        page.ask("Input.dispatchKeyEvent", type=kind, key=key, code=key, windowsVirtualKeyCode=code, **text)


def test_a_get_is_sent_and_status_headers_and_body_are_shown(page, address):
    opened(page, address, "friction-loss")
    filled(page, flow="401", diameter="4.5")
    told = sent(page)
    path = "/v1/friction-loss?units=us&flow=401&diameter=4.5&length=10&duct=spiral-galvanized"
    real = httpx.get(address + path)
    assert told["line"].startswith("200")
    assert json.loads(told["body"]) == real.json()
    assert told["headers"]["etag"] == real.headers["etag"]
    assert "x-request-id" in told["headers"]
    assert told["faults"] == []


def test_a_post_sends_the_example_that_the_page_shows(page, address):
    opened(page, address, "operating-point")
    told = sent(page)
    example = json.loads(page.evaluate("document.querySelector('textarea').value"))
    assert json.loads(told["body"]) == httpx.post(f"{address}/v1/trees/operating-point", json=example).json()


def test_every_question_answers_its_example(page, address):
    paths = httpx.get(f"{address}/openapi.json").json()["paths"]
    for operation in (one for path, verbs in paths.items() if path.startswith("/v1/") for one in verbs.values()):
        opened(page, address, operation["operationId"])
        assert sent(page)["line"].startswith("200"), operation["operationId"]


def test_a_drawing_is_shown_as_a_picture(page, address):
    opened(page, address, "drawing")
    assert sent(page)["pictures"] == 1
    page.evaluate("document.querySelector('#accept').value = 'image/svg+xml'")
    told = sent(page)
    assert told["body"].startswith("<svg")
    assert told["pictures"] == 1


def test_faults_are_shown_with_their_paths_and_lead_to_what_was_typed(page, address):
    opened(page, address, "velocity-check")
    filled(page, diameter="0")
    told = sent(page)
    assert told["line"].startswith("400")
    assert told["faults"][0].startswith("diameter ")
    page.evaluate("document.querySelector('.faults button').click()")
    assert page.evaluate("document.activeElement.name") == "diameter"
    assert page.evaluate("document.activeElement.getAttribute('aria-invalid')") == "true"

    opened(page, address, "operating-point")
    shop = json.loads(page.evaluate("document.querySelector('textarea').value"))
    shop["runs"][1]["diameter"] = -6
    shop["runs"][3]["lenght"] = 8
    filled(page, body=json.dumps(shop, indent=1))
    told = sent(page)
    paths = [fault.split(" ")[0] for fault in told["faults"]]
    assert paths == ["runs[1].diameter", "runs[3].lenght"]
    chosen = """(() => {{
      document.querySelectorAll('.faults button')[{number}].click();
      const body = document.activeElement;
      return body.value.slice(body.selectionStart, body.selectionEnd);
    }})()"""
    assert page.evaluate(chosen.format(number=0)) == "-6"
    assert page.evaluate(chosen.format(number=1)) == "8"


@pytest.mark.parametrize("body", ["", "{", "[", '{"runs": [', '{"runs": [}', '{"runs" 1, 2', "]", '"', "{]}", "\\"])
def test_a_body_that_is_no_json_is_told_and_stops_nothing(page, address, body):
    opened(page, address, "operating-point")
    filled(page, body=body)
    told = sent(page)
    assert told["line"].startswith("400")
    assert told["faults"] or json.loads(told["body"])["detail"]
    for path in ("runs[0].diameter", "runs", "units.x[3]"):
        page.evaluate(f"nearest({json.dumps(body)}, {json.dumps(path)}.match(/[^.[\\]]+/g))")


def test_while_the_service_is_away_the_page_says_so(page):
    with Served() as served:
        opened(page, served.address, "air")
        served.stop()
        assert sent(page)["line"].startswith("Nobody answered")


def test_a_key_is_sent_kept_from_page_to_page_and_stored_nowhere(page, keyed):
    opened(page, keyed, "air")
    refused = sent(page)
    assert refused["line"].startswith("401")
    assert "field at the top" in refused["hint"]
    page.evaluate("document.querySelector('#key').value = 'secret-key'")
    assert sent(page)["line"].startswith("200")
    page.evaluate("document.querySelector('nav a[href=\"/docs/traverse\"]').click()")
    page.wait_for("document.querySelector('h1').textContent === 'Traverse'")
    assert page.evaluate("location.pathname") == "/docs/traverse"
    assert sent(page)["line"].startswith("200")
    page.evaluate("history.back()")
    page.wait_for("document.querySelector('h1').textContent === 'Air'")
    assert sent(page)["line"].startswith("200")
    stored = "JSON.stringify([localStorage.length, sessionStorage.length, document.cookie, location.href])"
    assert json.loads(page.evaluate(stored)) == [0, 0, "", f"{keyed}/docs/air"]
    opened(page, keyed, "balance")
    assert page.evaluate("document.querySelector('#key').value") == ""
    assert not any("secret-key" in url for url in page.requests)


def test_a_publishable_key_opens_what_it_names_and_a_refusal_says_why(page, keyed):
    opened(page, keyed, "traverse")
    page.evaluate("document.querySelector('#key').value = 'open-key'")
    assert sent(page)["line"].startswith("200")
    page.evaluate("document.querySelector('nav a[href=\"/docs/balance\"]').click()")
    page.wait_for("document.querySelector('h1').textContent === 'Balance'")
    told = sent(page)
    assert told["line"].startswith("403")
    assert keyed in told["hint"]


def test_samples_bear_this_servers_address_and_a_language_stays_chosen(page, address):
    opened(page, address, "sizing")
    code = "document.querySelector('details.sample[open] code').textContent"
    assert page.evaluate(code).startswith(f'curl "{address}/v1/trees/sizing"')
    page.evaluate("document.querySelector('[data-language=JavaScript]').open = true")
    page.wait_for(f"{code}.startsWith('import')")
    page.evaluate("document.querySelector('nav a[href=\"/docs/quote\"]').click()")
    page.wait_for("document.querySelector('h1').textContent === 'Quote'")
    assert f'url: "{address}"' in page.evaluate(code)


def test_a_link_to_a_schema_opens_it(page, address):
    opened(page, address, "operating-point")
    inside = "document.querySelector('#takes details:has(> #Hood)')"
    assert page.evaluate(f"{inside}.open") is False
    page.evaluate("[...document.querySelectorAll('a[href=\"#Hood\"]')][0].click()")
    page.wait_for(f"{inside}.open")


def test_the_pages_are_used_by_keys_alone(page, address):
    opened(page, address, "air")
    press(page, "Tab", 9)
    assert page.evaluate("document.activeElement.className") == "skip"
    press(page, "Enter", 13)
    page.wait_for("location.hash === '#main'")
    for _ in range(40):
        press(page, "Tab", 9)
        if page.evaluate("document.activeElement.closest('.send') !== null"):
            break
        assert page.evaluate("document.activeElement.closest('main') !== null")
        outline = page.evaluate("getComputedStyle(document.activeElement).outlineStyle")
        assert outline != "none"
    press(page, "Enter", 13)
    assert json.loads(page.wait_for(ANSWER))["line"].startswith("200")


@pytest.mark.parametrize("name", ["", "friction-loss", "quote", "codes", "validation", "guide-embed"])
@pytest.mark.parametrize(("width", "scheme"), [(360, "light"), (360, "dark"), (1280, "light"), (1280, "dark")])
def test_axe_finds_nothing_and_nothing_scrolls_sideways(page, address, name, width, scheme):
    shown(page, width, scheme)
    opened(page, address, name)
    page.evaluate("document.querySelectorAll('details').forEach(one => { one.name = ''; one.open = true; })")
    if page.evaluate("document.querySelector('form.try') !== null"):
        sent(page)
    assert AXE.violations(page) == []
    assert page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth") <= 0
    kept = os.environ.get("DOCS_PICTURES")
    if kept:
        page.picture(Path(kept) / f"docs-{name or 'start'}-{width}-{scheme}.png")


def test_axe_finds_nothing_in_a_refusal(page, address):
    opened(page, address, "balance")
    filled(page, body='{"units": "us", "runs": []}')
    assert sent(page)["faults"]
    assert AXE.violations(page) == []


def test_no_page_scrolls_sideways_complains_or_asks_anybody_else(page, address):
    shown(page, 360)
    for name in sorted(pages.names() - set(pages.FILES)):
        opened(page, address, name)
        wide = "document.documentElement.scrollWidth - document.documentElement.clientWidth"
        assert page.evaluate(wide) <= 0, name
    assert [url for url in page.requests if not url.startswith((address, "data:", "about:"))] == []
    assert page.complaints == []


def test_without_scripts_all_is_there_to_read(page, address):
    page.ask("Emulation.setScriptExecutionDisabled", value=True)
    try:
        opened(page, address, "sizing")
        assert page.evaluate("document.querySelector('.send').hidden && document.querySelector('.key').hidden")
        assert page.evaluate("document.querySelector('nav details').open")
        assert page.evaluate("document.querySelector('#samples pre').getBoundingClientRect().height") > 50
    finally:
        page.ask("Emulation.setScriptExecutionDisabled", value=False)

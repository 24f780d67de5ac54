"""The pages under /docs in a real browser that reaches loopback and nothing else: tried, by keys, narrow, dark."""

import json
import os
import re
from pathlib import Path

import httpx
import pytest

from airbough_service.api.admission.keys import digest
from airbough_service.api.document import page as pages
from browsing import chromium, opened, violations
from serving import Served, free_port

pytestmark = pytest.mark.long
SIDEWAYS = "() => document.documentElement.scrollWidth - document.documentElement.clientWidth"


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
def browser():
    with chromium() as started:
        yield started


def at(browser, address, name, **context):
    """Open a page of the docs by its name."""
    return opened(browser, f"{address}/docs{'/' if name else ''}{name}", **context)


def sent(page):
    """Press the button of the form; return status line, headers, body, hint and faults as they are shown."""
    from playwright.sync_api import expect

    page.evaluate("document.querySelector('.answer .line').textContent = ''")
    page.locator(".send button").first.click()
    expect(page.locator(".answer .line")).not_to_be_empty(timeout=30_000)
    expect(page.locator(".send button").first).to_be_enabled()
    return page.evaluate("""() => {
      const place = document.querySelector('.answer'), hint = place.querySelector('.hint');
      const rows = [...place.querySelectorAll('dl > div')].map(row => [...row.children].map(part => part.textContent));
      return {line: place.querySelector('.line').textContent, headers: Object.fromEntries(rows),
        body: place.querySelector('pre').textContent, hint: hint.hidden ? '' : hint.textContent,
        faults: [...place.querySelectorAll('.faults li')].map(fault => fault.textContent)};
    }""")


def turned(page, name, title):
    """Go on to another page by its link."""
    from playwright.sync_api import expect

    page.locator(f'nav a[href="/docs/{name}"]').click()
    expect(page.locator("h1")).to_have_text(title)


def test_a_get_is_sent_and_status_headers_and_body_are_shown(browser, address):
    with at(browser, address, "friction-loss") as page:
        page.locator("[name=flow]").fill("401")
        page.locator("[name=diameter]").fill("4.5")
        told = sent(page)
        real = httpx.get(f"{address}/v1/friction-loss?units=us&flow=401&diameter=4.5&length=10&duct=spiral-galvanized")
        assert told["line"].startswith("200")
        assert json.loads(told["body"]) == real.json()
        assert told["headers"]["etag"] == real.headers["etag"]
        assert "x-request-id" in told["headers"]
        assert told["faults"] == []


def test_a_post_sends_the_example_that_the_page_shows(browser, address):
    with at(browser, address, "operating-point") as page:
        told = sent(page)
        example = json.loads(page.locator("textarea").input_value())
        assert json.loads(told["body"]) == httpx.post(f"{address}/v1/trees/operating-point", json=example).json()


def test_every_question_answers_its_example(browser, address):
    paths = httpx.get(f"{address}/openapi.json").json()["paths"]
    for operation in (one for path, verbs in paths.items() if path.startswith("/v1/") for one in verbs.values()):
        with at(browser, address, operation["operationId"]) as page:
            assert sent(page)["line"].startswith("200"), operation["operationId"]


def test_an_edited_body_is_put_back_to_the_example(browser, address):
    with at(browser, address, "balance") as page:
        example = page.locator("textarea").input_value()
        page.locator("textarea").fill("{}")
        assert sent(page)["line"].startswith("400")
        page.get_by_role("button", name="Put the example back").click()
        assert page.locator("textarea").input_value() == example
        assert page.locator(".answer").is_hidden()


def test_a_drawing_is_shown_as_a_picture(browser, address):
    from playwright.sync_api import expect

    with at(browser, address, "drawing") as page:
        for accept, start in (("application/json", "{"), ("image/svg+xml", "<svg")):
            page.locator("#accept").select_option(accept)
            assert sent(page)["body"].startswith(start)
            expect(page.locator(".pictures img")).to_have_js_property("complete", True)
            assert page.locator(".pictures img").evaluate("image => image.naturalWidth") > 100


def test_a_fault_of_a_parameter_leads_to_its_field(browser, address):
    with at(browser, address, "velocity-check") as page:
        page.locator("[name=diameter]").fill("0")
        told = sent(page)
        assert told["line"].startswith("400")
        assert told["faults"][0].startswith("diameter ")
        page.locator(".faults button").click()
        assert page.evaluate("document.activeElement.name") == "diameter"
        assert page.locator("[name=diameter]").get_attribute("aria-invalid") == "true"


def test_faults_of_a_body_lead_to_their_places(browser, address):
    with at(browser, address, "operating-point") as page:
        shop = json.loads(page.locator("textarea").input_value())
        shop["runs"][1]["diameter"] = -6
        shop["runs"][3]["lenght"] = 8
        page.locator("textarea").fill(json.dumps(shop, indent=1))
        paths = [fault.split(" ")[0] for fault in sent(page)["faults"]]
        assert paths == ["runs[1].diameter", "runs[3].lenght"]
        for number, chosen in enumerate(("-6", "8")):
            page.locator(".faults button").nth(number).click()
            assert page.evaluate("getSelection().toString()") == chosen


@pytest.mark.parametrize("body", ["", "{", "[", '{"runs": [', '{"runs": [}', '{"runs" 1, 2', "]", '"', "{]}", "\\"])
def test_a_body_that_is_no_json_is_told_and_stops_nothing(browser, address, body):
    with at(browser, address, "operating-point") as page:
        page.locator("textarea").fill(body)
        told = sent(page)
        assert told["line"].startswith("400")
        assert told["faults"] or json.loads(told["body"])["detail"]
        for path in (["runs", "0", "diameter"], ["runs"], ["units", "x", "3"]):
            page.evaluate("([body, path]) => nearest(body, path)", [body, path])


def test_while_the_service_is_away_the_page_says_so(browser):
    with Served() as served, at(browser, served.address, "air") as page:
        served.stop()
        assert sent(page)["line"].startswith("Nobody answered")


def test_a_key_is_sent_kept_from_page_to_page_and_stored_nowhere(browser, keyed):
    from playwright.sync_api import expect

    with at(browser, keyed, "air") as page:
        refused = sent(page)
        assert refused["line"].startswith("401")
        assert "field at the top" in refused["hint"]
        page.get_by_label("Key").fill("secret-key")
        assert sent(page)["line"].startswith("200")
        turned(page, "traverse", "Traverse")
        assert page.url == f"{keyed}/docs/traverse"
        assert sent(page)["line"].startswith("200")
        page.go_back()
        expect(page.locator("h1")).to_have_text("Air")
        assert sent(page)["line"].startswith("200")
        assert page.evaluate("[localStorage.length, sessionStorage.length, document.cookie]") == [0, 0, ""]
        assert not any("secret-key" in url for url in page.asked)
        page.reload()
        assert page.get_by_label("Key").input_value() == ""


def test_a_publishable_key_opens_what_it_names_and_a_refusal_says_why(browser, keyed):
    from playwright.sync_api import expect

    with at(browser, keyed, "traverse") as page:
        page.get_by_label("Key").fill("open-key")
        assert sent(page)["line"].startswith("200")
        turned(page, "balance", "Balance")
        told = sent(page)
        assert told["line"].startswith("403")
        assert keyed in told["hint"]
        turned(page, "codes", "Refusals and findings")
        page.locator('a[href="/problems/key-not-for-this"]').click()
        expect(page.locator("h1")).to_have_text("The key does not open this")
        assert page.get_by_label("Key").input_value() == "open-key"


def test_samples_bear_this_servers_address_and_a_language_stays_chosen(browser, address):
    from playwright.sync_api import expect

    with at(browser, address, "sizing") as page:
        code = page.locator("details.sample[open] code")
        expect(code).to_have_text(re.compile(rf'^curl "{address}/v1/trees/sizing"'))
        page.locator("[data-language=JavaScript] summary").click()
        expect(code).to_have_text(re.compile("^import"))
        turned(page, "quote", "Quote")
        expect(code).to_have_text(re.compile(f'url: "{address}"'))


def test_a_link_to_a_schema_opens_it(browser, address):
    with at(browser, address, "operating-point") as page:
        assert page.locator("#Hood").is_hidden()
        page.locator('details[open] a[href="#Run"]').first.click()
        page.locator('#Run a[href="#Hood"]').click()
        page.locator("#Hood").wait_for(state="visible", timeout=5_000)


def test_the_pages_are_used_by_keys_alone(browser, address):
    from playwright.sync_api import expect

    with at(browser, address, "air") as page:
        page.keyboard.press("Tab")
        expect(page.get_by_text("To the content")).to_be_focused()
        page.keyboard.press("Enter")
        for _ in range(40):
            page.keyboard.press("Tab")
            assert page.evaluate("document.activeElement.closest('main') !== null")
            assert page.evaluate("getComputedStyle(document.activeElement).outlineStyle") != "none"
            if page.evaluate("document.activeElement.closest('.send') !== null"):
                break
        page.keyboard.press("Enter")
        expect(page.locator(".answer .line")).to_have_text(re.compile("^200"), timeout=30_000)


@pytest.mark.parametrize("name", ["", "friction-loss", "quote", "codes", "validation", "guide-embed"])
@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [360, 1280])
def test_axe_finds_nothing_and_nothing_scrolls_sideways(browser, address, name, width, scheme):
    viewport = {"width": width, "height": 900}
    with at(browser, address, name, viewport=viewport, color_scheme=scheme) as page:
        kept = os.environ.get("DOCS_PICTURES")
        if kept:
            page.screenshot(path=Path(kept) / f"docs-{name or 'start'}-{width}-{scheme}.png")
        page.evaluate("document.querySelectorAll('details').forEach(one => { one.name = ''; one.open = true; })")
        if page.locator("form.try").count():
            sent(page)
        assert violations(page) == []
        assert page.evaluate(SIDEWAYS) <= 0


def test_axe_finds_nothing_in_a_refusal(browser, address):
    with at(browser, address, "balance") as page:
        page.locator("textarea").fill('{"units": "us", "runs": []}')
        assert sent(page)["faults"]
        assert violations(page) == []


def test_no_page_scrolls_sideways_complains_or_asks_anybody_else(browser, address):
    with at(browser, address, "", viewport={"width": 360, "height": 800}) as page:
        for name in sorted(pages.names() - set(pages.FILES)):
            page.goto(f"{address}/docs{'/' if name else ''}{name}")
            assert page.evaluate(SIDEWAYS) <= 0, name
        assert [url for url in page.asked if not url.startswith((address, "data:"))] == []
        assert page.complaints == []


def test_a_person_who_opens_the_root_is_led_to_the_pages(browser, address):
    with opened(browser, f"{address}/") as page:
        assert page.url == f"{address}/docs"


def test_without_scripts_all_is_there_to_read(browser, address):
    with at(browser, address, "sizing", java_script_enabled=False) as page:
        assert page.locator(".send").is_hidden()
        assert page.locator(".key").is_hidden()
        assert page.locator('nav a[href="/docs/quote"]').is_visible()
        assert page.locator("#samples pre").first.is_visible()

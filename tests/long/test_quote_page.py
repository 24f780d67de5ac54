"""The invented seller's page in a real browser: rows and plan, layouts, two languages, refusals, orders, narrow."""

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
    with Served(signing_key_file=str(key), compute_timeout=60) as served:
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

    expect(page.locator("#status")).to_have_text(READY, timeout=60_000)
    return page.locator("#price").text_content()


def edited(page, name, value):
    """Type into a field, or choose in a list; the quote that follows is yet to come."""
    forget(page)
    field = page.locator(f'[name="{name}"]')
    if field.evaluate("node => node.tagName") == "SELECT":
        field.select_option(value)
    else:
        field.fill(value)


def forget(page):
    page.evaluate("document.getElementById('status').textContent = ''")


def values(page, *names):
    return [page.locator(f'[name="{name}"]').input_value() for name in names]


def ordered(page):
    """Order, and return what is said of it."""
    from playwright.sync_api import expect

    page.locator("#order").click()
    expect(page.locator("#ordered")).not_to_be_empty(timeout=60_000)
    return page.locator("#ordered").text_content()


def laid_out(page):
    """Ask for layouts; return the cards, the first of them the visitor's own lines."""
    page.locator("#suggest").click()
    page.locator("#cards article").nth(1).wait_for(timeout=60_000)
    return page.locator("#cards article")


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


def answered(page, path, status, body=None, **headers):
    """Answer a path of the seller's with this in the service's place."""
    page.route(f"**{path}", lambda route: route.fulfill(status=status, json=body or {}, headers=headers))


def centre(page, machine):
    box = page.locator(f'#plan [data-machine="{machine}"] .machine').bounding_box()
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


def places(page):
    """Return where every machine stands on the plan, px from the corner of its wall, in turn x and y."""
    wall = page.locator("#plan .wall").bounding_box()
    found = [centre(page, number) for number in range(page.locator("#plan .movable").count())]
    return [one for x, y in found for one in (x - wall["x"], y - wall["y"])]


def foot(page):
    """Return how many px are one foot on the plan."""
    return page.locator("#plan .wall").bounding_box()["width"] / 32.0


def test_it_loads_without_a_complaint_and_reaches_nothing_but_the_seller(page, seller):
    assert page.complaints == []
    assert {address.startswith((seller, "data:")) for address in page.asked} == {True}
    assert page.locator("#plan svg").count() == page.locator("#tree svg").count() == 1
    assert page.locator("#bars .bar").count() == 4


def test_a_longer_line_costs_more_and_a_further_machine_has_a_bar(page):
    before = float(quoted(page).split()[0].replace(",", ""))
    edited(page, "line-length-0", "31")
    edited(page, "at-2", "31")
    assert float(quoted(page).split()[0].replace(",", "")) > before
    forget(page)
    page.locator("#more").click()
    quoted(page)
    assert page.locator("#bars .bar").count() == 5
    assert page.evaluate("document.activeElement.name") == "id-4"


def test_requests_are_held_back_while_typing_and_the_last_one_wins(page):
    asked = []
    page.on("request", lambda request: asked.append(json.loads(request.post_data)) if "/quote" in request.url else None)
    forget(page)
    field = page.locator("[name=at-0]")
    field.fill("")
    field.press_sequentially("11.25", delay=30)
    quoted(page)
    assert [body["outline"]["machines"][0]["at"] for body in asked][-1] == 11.25
    assert len(asked) < 4


def test_a_machine_dragged_by_the_mouse_changes_its_row_and_the_quote(page):
    before, (x, y), scale = quoted(page), centre(page, 0), foot(page)
    forget(page)
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + 2 * scale, y - 1 * scale, steps=4)
    page.mouse.up()
    assert values(page, "at-0", "off-0", "side-0") == ["12", "4", "left"]
    assert quoted(page) != before
    assert "planer: 12 ft" in page.locator("#moved").text_content()
    x, y = centre(page, 0)
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x, y + 10 * scale, steps=4)
    page.mouse.up()
    assert values(page, "at-0", "off-0", "side-0") == ["12", "6", "right"]


def test_a_machine_dragged_past_the_end_of_its_line_makes_it_longer(page):
    (x, y), scale = centre(page, 2), foot(page)
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + 2 * scale, y, steps=3)
    page.mouse.up()
    assert values(page, "at-2", "line-length-0") == ["30", "30"]
    assert "longer" in page.locator("#moved").text_content()
    page.mouse.down()
    page.mouse.move(x + 100 * scale, y, steps=3)
    page.mouse.up()
    assert values(page, "at-2") == ["32"]  # not through the wall


def test_a_machine_is_dragged_by_touch(browser, seller):
    with opened(browser, seller, has_touch=True, is_mobile=True, viewport={"width": 360, "height": 800}) as page:
        quoted(page)
        page.locator("#plan").scroll_into_view_if_needed()
        (x, y), scale = centre(page, 1), foot(page)
        touch = page.context.new_cdp_session(page)
        for kind, along in (
            ("touchStart", 0),
            ("touchMove", 1),
            ("touchMove", 2),
            ("touchMove", 3),
            ("touchEnd", None),
        ):
            points = [] if along is None else [{"x": x + along * scale, "y": y}]
            touch.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})
        assert values(page, "at-1", "off-1") == ["21", "4"]


def test_a_machine_is_moved_by_arrow_keys_and_it_is_told(page):
    page.locator('#plan [data-machine="3"]').focus()
    page.keyboard.press("ArrowRight")
    page.keyboard.press("ArrowRight")
    page.keyboard.press("Shift+ArrowUp")
    assert values(page, "at-3", "off-3", "side-3") == ["15", "3.5", "right"]
    assert page.evaluate("document.activeElement.dataset.machine") == "3"
    assert page.locator("#moved").text_content() == "lathe: 15 ft along main, 3.5 ft to the right"
    assert "15 ft along main" in page.locator('#plan [data-machine="3"]').get_attribute("aria-label")


def test_the_plan_follows_the_rows_and_shows_what_the_service_lays_out(page):
    """Where pipes come down on the plan is where the answered tree has them."""
    forget(page)
    page.locator("#more-lines").click()
    edited(page, "line-at-1", "22 ft")
    edited(page, "line-length-1", "7")
    edited(page, "line-of-2", "Line 2")
    edited(page, "at-2", "6")
    edited(page, "off-2", "1 ft 6 in")
    edited(page, "side-2", "right")
    with page.expect_response("**/quote") as told:
        edited(page, "drop-2", "5.5")
    quoted(page)
    answer = json.loads(told.value.body())
    runs = {run["id"]: run for run in answer["tree"]["runs"]}
    assert answer["rows"]["Line 2"] == "Line 2"
    scale, wall = foot(page), page.locator("#plan .wall").bounding_box()
    for number, name in enumerate(["planer", "table saw", "jointer", "lathe"]):
        x, y, _ = runs[name]["path"][-1]
        there = (wall["x"] + x * scale, wall["y"] + wall["height"] - (10.0 + y) * scale)
        assert centre(page, number) == pytest.approx(there, abs=2.0), name


def test_a_machine_that_changes_its_line_stays_where_it_stands(page):
    page.locator("#more-lines").click()
    edited(page, "line-at-1", "22")
    before = centre(page, 2)
    edited(page, "line-of-2", "Line 2")
    assert values(page, "at-2") != ["28"]
    assert centre(page, 2) == pytest.approx(before, abs=1.0)


def test_what_cannot_be_read_is_marked_where_it_stands(page):
    edited(page, "at-1", "somewhere")
    marked = page.locator("[aria-invalid]")
    marked.wait_for(timeout=60_000)
    assert marked.get_attribute("name") == "at-1"
    assert len(page.locator(f"#{marked.get_attribute('aria-describedby')}").text_content()) > 10
    edited(page, "at-1", "18 ft 6 in")
    quoted(page)
    assert marked.count() == 0


def test_layouts_stand_side_by_side_and_one_press_takes_one(page):
    own = quoted(page)
    cards = laid_out(page)
    assert own in cards.nth(0).text_content()
    price = cards.nth(1).locator(".price").text_content()
    amounts = [float(re.sub(r"[^0-9.]", "", one)) for one in cards.locator(".price").all_text_contents()]
    otherwise = "A quote may still come out lower for another one" in page.locator("#proof").text_content()
    assert otherwise == (min(amounts) < amounts[1])
    assert cards.nth(1).locator(".bar").count() == 4
    forget(page)
    cards.nth(1).locator("button").click()
    assert quoted(page) == price
    assert page.locator("[name^=line-id-]").count() > 1
    there = places(page)
    forget(page)
    page.locator("#back").click()
    assert quoted(page) == own
    assert page.locator("[name^=line-id-]").count() == 1
    assert places(page) == pytest.approx(there, abs=1.0)


@pytest.mark.parametrize(
    ("status", "body", "words"),
    [
        (503, {"type": "/problems/busy"}, "busy. Try again in 7 s"),
        (503, {"type": "/problems/took-too-long"}, "too long"),
        (502, {}, "cannot be reached"),
        (
            422,
            {"errors": [{"path": "machines[1].place", "code": "same-place", "detail": "lies there"}]},
            "cannot be used",
        ),
        (200, {"layouts": [], "clashes": [{"machines": ["saw"], "states": ["saw"], "alone": True}]}, "saw: no pipe"),
    ],
)
def test_layouts_that_do_not_come_are_told_in_words(page, status, body, words):
    from playwright.sync_api import expect

    answered(page, "/layout", status, body, **{"retry-after": "7"})
    page.locator("#suggest").click()
    expect(page.locator("#laying")).to_contain_text(words, timeout=60_000)
    assert page.locator("#layouts").is_hidden()
    assert page.locator("[aria-invalid]").count() == (status == 422)


def test_a_busy_service_is_asked_again_by_itself(page):
    from playwright.sync_api import expect

    answered(page, "/quote", 503, {"type": "/problems/busy"}, **{"retry-after": "2"})
    edited(page, "at-0", "11")
    expect(page.locator("#status")).to_contain_text("asked again in 2 s", timeout=60_000)
    page.unroute_all()
    quoted(page)


def test_two_machines_at_once_do_not_hold_until_pipes_are_chosen_for_both(page):
    assert page.locator("#pairs .bad").count() == 6
    forget(page)
    page.get_by_role("button", name="What if both run? planer + table saw").click()
    quoted(page)
    assert page.locator("#pairs .good").count() == 1
    assert page.locator("#bars .bar").count() == 5
    assert page.locator("#price").text_content() in ordered(page)


def test_an_order_is_taken_at_the_price_shown(page):
    price = quoted(page)
    page.evaluate("document.getElementById('price').textContent = '1.00 EUR'")
    assert price in ordered(page)


@pytest.mark.parametrize(("old", "new"), [('"price":"', '"price":"0'), ("P-6", "P-5"), ("}", "} ")])
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
    assert values(page, "line-length-0", "port-0") == ["8,53", "127"]
    edited(page, "at-0", "3,5")
    assert "," in quoted(page)
    page.goto(seller)
    quoted(page)
    assert values(page, "at-0") == ["3,5"]
    edited(page, "units", "us")
    quoted(page)
    assert values(page, "at-0", "line-length-0") == ["11,48", "27,99"]


SAID = """() => {
  const seen = new Set();
  const add = (words) => words && /[a-zA-Z]{3}/.test(words) && seen.add(words.trim().replace(/\\s+/g, ' '));
  const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  for (let node = walk.nextNode(); node; node = walk.nextNode())
    if (!['SCRIPT', 'STYLE'].includes(node.parentElement.localName) && node.parentElement.lang !== 'en') add(node.data);
  for (const node of document.querySelectorAll('[aria-label], [aria-roledescription], [title], [placeholder]'))
    for (const name of ['aria-label', 'aria-roledescription', 'title', 'placeholder']) add(node.getAttribute(name));
  add(document.title);
  return [...seen];
}"""
ENGLISH = re.compile(
    r"\b(the|of|and|with|is|are|from|by|not|this|that|too|at|into|warning|note|danger|duct|hood|machine|hose|pipe|air|gate|"
    r"line|length|price|collector|flow|dust|saw|layout|your)\b",
    re.IGNORECASE,
)


def english_left(page):
    """Return what a German page still says in English; names, items and the brand are nobody's words."""
    told = [words for words in page.evaluate(SAID) if not words.startswith("Example Duct Shop")]
    return [words for words in told if ENGLISH.search(words)]


def test_nothing_that_a_german_page_shows_is_english(browser, seller):
    with opened(browser, seller, locale="de-DE") as page:
        quoted(page)
        assert english_left(page) == []
        cards = laid_out(page)
        assert english_left(page) == []
        forget(page)
        cards.nth(1).locator("button").click()
        quoted(page)
        forget(page)
        page.locator("#pairs button").first.click()
        quoted(page)
        page.locator("#more").click()
        page.locator("#more-lines").click()
        edited(page, "at-0", "irgendwo")
        page.locator("[aria-invalid]").first.wait_for(timeout=60_000)
        assert english_left(page) == []
        for path, status, body in (("/quote", 503, {}), ("/layout", 503, {"type": "/problems/took-too-long"})):
            answered(page, path, status, body)
        edited(page, "at-0", "3")
        page.locator("#status.away").wait_for(timeout=60_000)
        page.locator("#suggest").click()
        page.locator("#laying.away").wait_for(timeout=60_000)
        assert english_left(page) == []


def test_the_search_for_english_finds_it(page):
    assert len(english_left(page)) > 50


@pytest.mark.parametrize("width", [320, 360, 1280])
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_nothing_and_nothing_scrolls_sideways(page, axe, width, scheme):
    page.set_viewport_size({"width": width, "height": 900})
    page.emulate_media(color_scheme=scheme)
    page.evaluate(axe)
    states = [("answered", quoted), ("layouts", laid_out), ("refused", refused), ("away", away)]
    for name, reach in states:
        reach(page)
        assert page.evaluate(VIOLATIONS) == [], name
        wide = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
        assert wide <= 0, name
        keep(page, f"{name}-{width}-{scheme}")


def refused(page):
    edited(page, "at-1", "somewhere")
    page.locator("[aria-invalid]").wait_for(timeout=60_000)


def away(page):
    answered(page, "/quote", 502)
    edited(page, "at-1", "18")
    page.locator("#status.away").wait_for(timeout=60_000)


def test_axe_finds_nothing_before_the_first_answer(browser, seller, axe):
    with opened(browser, seller, offline=False) as page:
        answered(page, "/quote", 502)
        page.evaluate("localStorage.clear()")
        page.reload()
        page.locator("#status.away").wait_for(timeout=60_000)
        assert page.locator("#result").is_hidden()
        page.evaluate(axe)
        assert page.evaluate(VIOLATIONS) == []
        keep(page, "empty")


def test_a_print_shows_the_quote_and_nothing_to_press(page):
    page.set_viewport_size({"width": 720, "height": 1000})
    page.emulate_media(media="print")
    shown = {
        name: page.locator(name).is_visible() for name in ("#price", "#plan svg", "#parts", "#tree svg", "#cautions")
    }
    assert set(shown.values()) == {True}, shown
    assert [node for node in page.locator("button, input, select").all() if node.is_visible()] == []
    keep(page, "print")


def test_while_the_service_is_away_it_says_so_and_keeps_what_was_typed(page, service):
    price = quoted(page)
    service.stop()
    try:
        edited(page, "line-length-0", "30")
        page.locator("#status.away").wait_for(timeout=60_000)
        assert values(page, "line-length-0") == ["30"]
        assert page.locator("#price").text_content() == price
        assert page.locator("#result.stale").count() == 1
    finally:
        service.start()
    forget(page)
    page.locator("#retry button").click()
    quoted(page)

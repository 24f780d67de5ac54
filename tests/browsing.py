"""Pages in Debian's Chromium, driven by Playwright; they reach loopback and nothing else."""

import functools
import subprocess
import tempfile
from contextlib import contextmanager
from pathlib import Path

from programs import needed

FLAGS = ["--disable-gpu", "--disable-quic", "--host-resolver-rules=MAP * ~NOTFOUND, EXCLUDE 127.0.0.1"]


@contextmanager
def chromium():
    """Yield a browser."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=needed("chromium"), args=FLAGS, chromium_sandbox=False)
        yield browser
        browser.close()


@contextmanager
def opened(browser, address, **context):
    """Yield a page that keeps nothing of others; keyword arguments are those of Playwright's `new_context`.

    `page.asked` lists every address that it asked for, `page.complaints` what its console said.
    """
    kept = browser.new_context(**{"viewport": {"width": 1280, "height": 900}, "locale": "en-US", **context})
    page = kept.new_page()
    page.asked, page.complaints = [], []
    page.on("request", lambda request: page.asked.append(request.url))
    page.on("console", lambda said: page.complaints.append(said.text) if said.type == "error" else None)
    page.on("pageerror", lambda error: page.complaints.append(str(error)))
    page.goto(address)
    yield page
    kept.close()


@functools.cache
def _axe():
    with tempfile.TemporaryDirectory() as folder:
        command = [needed("npm"), "install", "--no-audit", "--no-fund", "axe-core@4"]
        subprocess.run(command, cwd=folder, check=True, capture_output=True, timeout=180)
        return (Path(folder) / "node_modules" / "axe-core" / "axe.min.js").read_text("utf-8")


def violations(page):
    """Return what axe-core has against a page: rule, how often, the first place."""
    page.evaluate(_axe())
    return page.evaluate("""() => axe.run().then(found =>
      found.violations.map(one => [one.id, one.nodes.length, one.nodes[0].html]))""")

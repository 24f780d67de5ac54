"""The JavaScript module: in node and in Chromium against real services, its types by tsc in strict mode."""

import functools
import http.server
import json
import os
import subprocess
import sys
import threading
from pathlib import Path

import pytest

from browsing import chromium, opened
from programs import needed
from serving import Served

pytestmark = pytest.mark.long
HERE = Path(__file__).resolve().parent
ROOT = HERE.parents[1]
MODULE = ROOT / "sdk" / "js"
CODE = ("airbough.js", "calls.js")


def run(*words, into=None, **environment):
    told = subprocess.run(
        words, cwd=into, env=os.environ | environment, capture_output=True, text=True, timeout=240, check=False
    )
    assert told.returncode == 0, told.stdout + told.stderr
    return told.stdout


@pytest.fixture(scope="module")
def keys(tmp_path_factory):
    """A private key that signs answers."""
    file = tmp_path_factory.mktemp("keys") / "private.json"
    file.write_text(run(sys.executable, "-m", "airbough_service.api.signing"))
    return file


def test_the_module_is_small():
    assert sum((MODULE / name).stat().st_size for name in CODE) < 12_000


def test_the_module_asks_a_real_service_from_node(keys):
    with Served(signing_key_file=keys) as served:
        run(needed("node"), "--test", str(HERE / "javascript" / "client.test.mjs"),
            AIRBOUGH_URL=served.address, AIRBOUGH_KEYS="/.well-known/jwks.json")  # fmt: skip


def test_the_types_fit_the_document_in_strict_mode(tmp_path):
    """The types are made anew from the document, with the default options of the generator."""
    package = json.loads((MODULE / "package.json").read_text())
    tools = [f"{name}@{version}" for name, version in package["devDependencies"].items()]
    run(needed("npm"), "install", "--no-audit", "--no-fund", "--no-save", "--prefix", str(tmp_path), *tools)
    inside = tmp_path / "node_modules" / "airbough"
    inside.mkdir()
    for name in (*CODE, "airbough.d.ts", "package.json"):
        (inside / name).write_bytes((MODULE / name).read_bytes())
    (tmp_path / "sdk" / "js").mkdir(parents=True)
    (tmp_path / "sdk" / "js" / "build.mjs").write_bytes((MODULE / "build.mjs").read_bytes())
    (tmp_path / "openapi").mkdir()
    (tmp_path / "openapi" / "v1.json").write_bytes((ROOT / "openapi" / "v1.json").read_bytes())
    run(needed("node"), "sdk/js/build.mjs", str(inside), into=tmp_path)
    (tmp_path / "package.json").write_text('{"type": "module"}')
    (tmp_path / "use.ts").write_bytes((HERE / "javascript" / "use.ts").read_bytes())
    options = ["--strict", "--noEmit", "--target", "es2022", "--module", "nodenext", "--lib", "es2022,dom,dom.iterable"]
    run(needed("node"), "node_modules/typescript/bin/tsc", *options, "use.ts", into=tmp_path)


class _Quiet(http.server.SimpleHTTPRequestHandler):
    def log_message(self, *_):
        pass


PAGE = """<!doctype html><meta charset="utf-8"><title>invented page</title><script type="module">
import { Client } from "./airbough.js";
const client = new Client({ url: "ADDRESS", keys: await (await fetch("ADDRESS/.well-known/jwks.json")).json() });
const straight = { units: "us", flow: 800, diameter: 6, length: 10, duct: "spiral-galvanized" };
const loss = await client.ask("friction-loss", straight);
document.title = "lost " + loss.friction_loss.toFixed(3);
</script>"""


def test_a_page_of_another_origin_asks_and_checks_the_signature(keys, tmp_path):
    for name in CODE:
        (tmp_path / name).write_bytes((MODULE / name).read_bytes())
    handler = functools.partial(_Quiet, directory=str(tmp_path))
    with http.server.ThreadingHTTPServer(("127.0.0.1", 0), handler) as site:
        threading.Thread(target=site.serve_forever, daemon=True).start()
        origin = f"http://127.0.0.1:{site.server_port}"
        with Served(signing_key_file=keys, allowed_origins=origin) as served:
            (tmp_path / "index.html").write_text(PAGE.replace("ADDRESS", served.address))
            with chromium() as browser, opened(browser, f"{origin}/index.html") as page:
                page.wait_for_function("document.title.startsWith('lost 0.')")
        site.shutdown()

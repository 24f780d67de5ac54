"""The checks of accessibility that run in a page: axe-core, got by npm."""

import functools
import json
import subprocess
import tempfile
from pathlib import Path

from programs import needed

VIOLATIONS = """axe.run().then(found =>
  JSON.stringify(found.violations.map(one => [one.id, one.nodes.length, one.nodes[0].html])))"""


@functools.cache
def script():
    """Return the library's text."""
    with tempfile.TemporaryDirectory() as folder:
        command = [needed("npm"), "install", "--no-audit", "--no-fund", "axe-core@4"]
        subprocess.run(command, cwd=folder, check=True, capture_output=True, timeout=180)
        return (Path(folder) / "node_modules" / "axe-core" / "axe.min.js").read_text("utf-8")


def violations(page):
    """Return what is wrong with a page: rule, how often, the first place."""
    page.evaluate(script())
    return json.loads(page.evaluate(VIOLATIONS))

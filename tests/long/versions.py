"""The SDK with its oldest and newest supported dependencies: `python tests/long/versions.py`.

For each set a virtual environment of its own, in which all of tests/sdk runs and a few questions are put to a service
outside of it. The oldest are the lower bounds of sdk/pyproject.toml. `--pin httpx==0.26.0` (again for others) tries a
set by hand, whatever the bounds say. Some tests need the service in the same process: it is put in with whatever
msgspec the set has, though it asks for one exact release. Last figures: README.md here.
"""

import argparse
import subprocess
import sys
import tempfile
import tomllib
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT / "tests"))

from serving import Served  # noqa: E402  # after its folder is known

ASKED = """
import asyncio, sys
import airbough
from airbough.units import pint_units
address = sys.argv[1]
registry = pint_units.registry()
shop = airbough.load("deploy/shop.json", airbough.OperatingPointRequest)
with airbough.Client(address) as client:
    point = client.operating_point(shop)
    assert point.outcome == "operating-point", point.outcome
    loss = client.friction_loss(units="us", flow=400, diameter="4 1/2 in", length=10, duct="spiral-galvanized")
    assert loss.friction_loss > 0
    with_units = client.friction_loss(
        units="us", flow=registry.Quantity(400, "foot**3/minute"), diameter=4.5, length=10, duct="spiral-galvanized"
    )
    assert abs(with_units.friction_loss / loss.friction_loss - 1) < 1e-12, with_units
    lines = [(str(index), "operating-point", shop) for index in range(20)]
    assert [result.answer for result in client.batch(lines)] == [point] * 20
    try:
        client.friction_loss(units="us", flow=400, diameter=0, length=10, duct="spiral-galvanized")
    except airbough.Refused as refused:
        assert [fault.path for fault in refused.faults] == ["diameter"], refused.faults
    else:
        raise AssertionError("not refused")
async def ask():
    async with airbough.AsyncClient(address) as client:
        return await client.operating_point(shop)
assert asyncio.run(ask()) == point
print("a real service answered")
"""


def bounds():
    """Return the lower bound of each dependency, optional ones too."""
    project = tomllib.loads((ROOT / "sdk/pyproject.toml").read_text(encoding="utf-8"))["project"]
    listed = sum(project["optional-dependencies"].values(), project["dependencies"])
    return dict(text.split(">=") for text in listed)


def service():
    """Return what the service needs beside msgspec."""
    project = tomllib.loads((ROOT / "service/pyproject.toml").read_text(encoding="utf-8"))["project"]
    return [text for text in project["dependencies"] if not text.startswith(("airbough", "msgspec"))]


def run(command, **options):
    return subprocess.run(command, cwd=ROOT, check=False, **options).returncode


def tried(title, pins, address, obey):
    """Install and test one set; return whether everything passed."""
    with tempfile.TemporaryDirectory(prefix="versions-") as folder:
        python = f"{folder}/bin/python"
        install = [python, "-m", "pip", "install", "--quiet", "--disable-pip-version-check"]
        wanted = [f"{name}{f'=={version}' if version else ''}" for name, version in pins.items()]
        wanted += [*service(), "hypothesis", "pytest>=9.2", *(["--editable", "./sdk"] if obey else [])]
        packages = ["--editable", "./service", *([] if obey else ["--editable", "./sdk"])]
        failed = run([sys.executable, "-m", "venv", folder])
        failed = failed or run([*install, *wanted]) or run([*install, "--no-deps", *packages])
        if failed:
            print(f"{title}: cannot be installed", flush=True)
            return False
        listed = [python, "-m", "pip", "list", "--format=freeze"]
        told = subprocess.run(listed, capture_output=True, text=True, check=True)
        have = sorted(line for line in told.stdout.lower().splitlines() if line.split("==")[0] in pins)
        failed = run([python, "-m", "pytest", "-q", "-p", "no:cacheprovider", "tests/sdk"])
        failed = run([python, "-W", "error", "-c", ASKED, address]) or failed
        print(f"{title}: {', '.join(have)}: {'FAILED' if failed else 'passed'}", flush=True)
        return not failed


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("--pin", action="append", default=[], help="name==version")
    chosen = parser.parse_args().pin
    oldest = bounds()
    with Served() as served:
        if chosen:
            pins = dict.fromkeys(oldest) | dict(pin.split("==") for pin in chosen)
            return not tried("chosen", pins, served.address, obey=False)
        passed = [
            tried("oldest", oldest, served.address, obey=True),
            tried("newest", dict.fromkeys(oldest), served.address, obey=True),
        ]
    return not all(passed)


if __name__ == "__main__":
    sys.exit(main())

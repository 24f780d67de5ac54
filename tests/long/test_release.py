"""The release's command: what it writes is the same a second time, and is what a person installs; nothing is against
it but what only a release must have.
"""

import hashlib
import importlib.util
import json
import subprocess
import sys
import venv
from pathlib import Path

import pytest

from programs import needed

pytestmark = pytest.mark.long
ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture(scope="module")
def release():
    spec = importlib.util.spec_from_file_location("release", ROOT / "deploy" / "release.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="module")
def dist(tmp_path_factory):
    needed("npm")
    into = tmp_path_factory.mktemp("dist")
    done = subprocess.run(
        [sys.executable, str(ROOT / "deploy" / "release.py"), "--into", str(into), "--rehearse"],
        capture_output=True, text=True, timeout=600, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    return into


def test_the_digests_are_those_of_the_files(dist):
    for line in (dist / "SHA256SUMS").read_text().splitlines():
        digest, name = line.split()
        assert hashlib.sha256((dist / name).read_bytes()).hexdigest() == digest


def test_what_is_built_answers_in_a_fresh_environment(dist, tmp_path):
    venv.create(tmp_path / "fresh", with_pip=True)
    python = str(tmp_path / "fresh" / "bin" / "python")
    pip = [python, "-m", "pip", "--quiet", "--disable-pip-version-check", "install"]
    subprocess.run([*pip, "--require-hashes", "-r", str(ROOT / "deploy" / "requirements.txt")], check=True)
    subprocess.run([*pip, "--no-deps", *map(str, dist.glob("*.whl"))], check=True)
    asked = "import airbough; print(airbough.local().air(units='us').air.density)"
    done = subprocess.run([python, "-c", asked], cwd=tmp_path, capture_output=True, text=True, timeout=300, check=False)
    assert done.returncode == 0, done.stderr
    assert 0.06 < float(done.stdout) < 0.08  # lb/ft3; ISO 5801 (from memory): 0.0749 for standard air


def test_the_bill_names_every_pinned_package(dist, release):
    (file,) = dist.glob("*.cdx.json")
    told = {part["name"] for part in json.loads(file.read_text())["components"]}
    assert set(release.pinned(ROOT / "deploy" / "requirements.txt")) <= told


def test_what_stands_against_a_release_is_told(release):
    told = {"sdk/pyproject.toml": "0.1.0", "deploy/compose.yaml": "0.0.9"}
    assert release.unequal_versions(told) == ["deploy/compose.yaml names version 0.0.9, not 0.1.0"]
    (line,) = release.licences(["msgspec", "no-such-package-anywhere"], sys.path)
    assert "no-such-package-anywhere" in line
    assert len(release.not_ready("99.0.0")) >= 1

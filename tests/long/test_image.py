"""The image without a container engine: its file's steps are done in a folder, what they made is moved as layers are
(times in whole seconds), and its command is run with its variables. hadolint reads the file too."""

import json
import os
import re
import shlex
import shutil
import signal
import subprocess
import sys
import tarfile
import time
import urllib.request
from pathlib import Path

import pytest

from serving import free_port

pytestmark = pytest.mark.long
ROOT = Path(__file__).resolve().parents[2]
FILE = ROOT / "deploy" / "Dockerfile"
PREPARED = "/opt/airbough"


def instructions():
    """Return the stages of the file: lists of (instruction, rest), continued lines joined."""
    text = "\n".join(line for line in FILE.read_text("utf-8").splitlines() if not line.startswith("#"))
    stages = []
    for line in re.sub(r"\\\n\s*", " ", text).splitlines():
        word, _, rest = line.strip().partition(" ")
        if word == "FROM":
            stages.append([])
        elif word:
            stages[-1].append((word, rest))
    return stages


class Replay:
    """The steps of the file in a folder that stands for the root of an image."""

    def __init__(self, root):
        self.root, self.folder = root, root
        self.variables = {
            name: text for name, text in os.environ.items() if not name.startswith(("AIRBOUGH_", "NUMBA_"))
        }

    def inside(self, text):
        """Return a text with the image's paths as those of the folder."""
        return re.sub(
            r"(?<![\w.])/(opt/airbough|opt/build|source|tmp/numba)\b", lambda path: f"{self.root}{path[0]}", text
        )

    def do(self, word, rest):
        if word == "ENV":
            for pair in shlex.split(self.inside(rest)):
                name, _, value = pair.partition("=")
                self.variables[name] = value.replace("$PATH", os.environ["PATH"])
        elif word == "WORKDIR":
            self.folder = Path(self.inside(rest))
            self.folder.mkdir(parents=True, exist_ok=True)
        elif word == "COPY" and not rest.startswith("--from"):
            *sources, target = rest.split()
            for source in sources:
                self._copy(ROOT / source, self.folder / (Path(source).name if target == "./" else target))
        elif word == "RUN":
            done = subprocess.run(
                ["sh", "-ec", self.inside(rest).replace("python -m venv", f"{sys.executable} -m venv")],
                cwd=self.folder, env=self.variables, capture_output=True, text=True, timeout=900, check=False,
            )  # fmt: skip
            assert done.returncode == 0, done.stdout[-2000:] + done.stderr[-2000:]

    def _copy(self, source, target):
        target.parent.mkdir(parents=True, exist_ok=True)
        if source.is_dir():
            shutil.copytree(source, target, ignore=shutil.ignore_patterns("__pycache__", "node_modules"))
        else:
            shutil.copy2(source, target)


@pytest.fixture(scope="module")
def image(tmp_path_factory):
    """The second stage, moved there by an archive that knows whole seconds only."""
    root = tmp_path_factory.mktemp("image")
    build, final = instructions()
    first = Replay(root)
    for step in build:
        first.do(*step)
    prepared = Path(first.inside(PREPARED))
    moved = root / "layer.tar"
    with tarfile.open(moved, "w", format=tarfile.USTAR_FORMAT) as archive:
        archive.add(prepared, PREPARED.lstrip("/"))
    shutil.rmtree(prepared)
    with tarfile.open(moved) as archive:
        archive.extractall(root, filter="fully_trusted")
    second = Replay(root)
    for word, rest in final:
        if word == "ENV":
            second.do(word, rest)
    second.command = json.loads(second.inside(dict(final)["CMD"]))
    return second


def contents(folder):
    return {path.relative_to(folder): path.stat().st_mtime_ns for path in folder.rglob("*") if path.is_file()}


def test_the_image_loads_its_compiled_loops_and_writes_nothing_beside_them(image):
    """Twice, as a container that is started again with an empty /tmp."""
    prepared, scratch = Path(image.inside(PREPARED)), Path(image.inside("/tmp/numba"))
    before = contents(prepared)
    carried = {name.relative_to("compiled") for name in before if name.parts[0] == "compiled"}
    assert len(carried) > 50
    for _ in range(2):
        shutil.rmtree(scratch, ignore_errors=True)
        seconds = started(image)
        print(f"ready after {seconds:.1f} s")
        assert set(contents(scratch)) == carried, "something was compiled anew"
        assert seconds < 60.0, "compiling takes minutes on a busy machine, loading seconds"
    assert contents(prepared) == before, "the image's own files are read only"


def started(image):
    """Start as the image does, ask one question, stop; return the seconds until it was ready."""
    port = free_port()
    # Loopback in place of every address; so no keys are asked for.
    words = [word.replace("0.0.0.0", "127.0.0.1").replace("8000", str(port)) for word in image.command]
    began = time.monotonic()
    process = subprocess.Popen(
        words, env=image.variables, cwd=image.root, stdout=subprocess.PIPE, text=True, start_new_session=True
    )
    try:
        assert process.stdout.readline().startswith("Airbough is ready")
        seconds = time.monotonic() - began
        with urllib.request.urlopen(f"http://127.0.0.1:{port}/v1/air?units=us&value=air.density", timeout=10) as told:
            assert 0.06 < float(told.read()) < 0.08  # lb/ft3; ISO 5801 (from memory): 0.0749 for standard air
        process.send_signal(signal.SIGTERM)
        assert process.wait(40) == 0
    finally:
        if process.poll() is None:
            os.killpg(process.pid, signal.SIGKILL)
        process.stdout.close()
    return seconds


def test_the_image_on_every_address_does_not_start_open(image):
    process = subprocess.run(
        [word.replace("8000", "0") for word in image.command], env=image.variables, cwd=image.root,
        capture_output=True, text=True, timeout=60, check=False,
    )  # fmt: skip
    assert process.returncode == 2
    assert "AIRBOUGH_KEYS_FILE" in process.stderr


def test_nothing_is_installed_without_its_digest(image):
    text = (ROOT / "deploy" / "requirements.txt").read_text("utf-8")
    names = [re.sub(r"[-_.]+", "-", name) for name in re.findall(r"^([a-z0-9_.-]+)==", text, re.MULTILINE)]
    assert {"litestar", "redis", "joserfc", "opentelemetry-sdk"} <= set(names)
    installed = subprocess.run(
        [f"{image.inside(PREPARED)}/bin/python", "-m", "pip", "list", "--format=json"],
        capture_output=True, text=True, check=True,
    )  # fmt: skip
    told = {re.sub(r"[-_.]+", "-", item["name"].lower()) for item in json.loads(installed.stdout)}
    assert told - set(names) <= {"airbough", "airbough-service", "pip", "setuptools"}


def test_hadolint_finds_nothing():
    program = Path(sys.executable).with_name("hadolint")  # by `deploy/setup cluster`
    done = subprocess.run([program, str(FILE)], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout

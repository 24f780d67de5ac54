"""The repository itself: versions agree, the README's words are true, no module of the core loads the web."""

import re
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest
from litestar.testing import TestClient

import airbough
import airbough_service
from airbough.calls import CALLS
from airbough_service.api.app import create_app
from airbough_service.api.settings import Settings

ROOT = Path(__file__).resolve().parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")


def blocks(language: str) -> list[str]:
    """Return the README's code blocks of a language."""
    fenced = re.findall(r"^```(\w*)\n(.*?)^```$", README, re.DOTALL | re.MULTILINE)
    return [block for named, block in fenced if named == language]


def test_versions_agree() -> None:
    """Both distributions and both packages carry one version, and the service asks for just that SDK."""
    sdk = tomllib.loads((ROOT / "sdk" / "pyproject.toml").read_text())["project"]
    service = tomllib.loads((ROOT / "service" / "pyproject.toml").read_text())["project"]
    versions = {sdk["version"], service["version"], airbough.__version__, airbough_service.__version__}
    assert len(versions) == 1
    assert f"airbough=={sdk['version']}" in service["dependencies"]


def test_ci_runs_the_readmes_test_command() -> None:
    """.ci/run calls exactly the second command of the README."""
    commands = [line.split("#")[0].strip() for line in blocks("sh")[0].splitlines()]
    assert commands == ["sh deploy/demo", "sh deploy/check"]
    lines = [line.strip() for line in (ROOT / ".ci" / "run").read_text().splitlines()]
    called = [line for line in lines if line and not line.startswith(("#", "set ", "cd "))]
    assert [line.removeprefix("exec ") for line in called] == ["sh deploy/check"]


def test_the_readmes_python_runs(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    """The README's example prints a flow, its unit and a hood."""
    monkeypatch.chdir(ROOT)
    exec(blocks("python")[0], {})
    flow, unit, hood = capsys.readouterr().out.split()
    assert float(flow) > 100.0
    assert unit == "ft^3/min"
    assert hood


def test_the_readmes_curl_is_answered() -> None:
    """The README's address answers one number as text."""
    address = re.search(r'curl "http://127.0.0.1:8000([^"]+)"', README)
    assert address is not None
    with TestClient(create_app(Settings())) as client:
        reply = client.get(address[1])
    assert reply.status_code == 200
    assert float(reply.text) == pytest.approx(0.82, abs=0.02)


def test_the_readmes_own_shop_is_answered(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The table of the README is an outline; its program says what was assumed, each machine's state, and draws."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "shop.csv").write_text(blocks("")[0], encoding="utf-8")
    exec(blocks("python")[1], {})
    lines = capsys.readouterr().out.splitlines()
    assert any(line.startswith("- flow of saw: 483 cfm") for line in lines)
    flows = {name: line for line in lines for name in ("planer", "saw", "band saw") if line.startswith(f"{name} ")}
    assert set(flows) == {"planer", "saw", "band saw"}
    assert (tmp_path / "plan.svg").read_text(encoding="utf-8").startswith("<svg")


def test_the_readmes_template_is_served() -> None:
    """The address of the template in the README answers a table with the headings that the README shows."""
    address = re.search(r'curl -o shop.csv "http://127.0.0.1:8000([^"]+)"', README)
    assert address is not None
    shown = blocks("")[0]
    with TestClient(create_app(Settings())) as client:
        served = client.get(address[1]).text
        sheet = client.get("/docs/measuring-sheet-us").text
    headings = {cell for line in served.splitlines() for cell in line.split(",")}
    assert set(shown.splitlines()[5].split(",")) <= headings
    assert {line.split(",")[0] for line in shown.splitlines()[:4]} <= headings
    assert "Measuring sheet" in sheet


def test_core_needs_numpy_and_numba_alone() -> None:
    """Importing the core loads no web framework, no wire and no HTTP client."""
    program = (
        "import sys; import airbough_service.core.network.operating, airbough_service.core.network.governing; "
        "print([name for name in ('litestar', 'msgspec', 'httpx', 'airbough', 'pint') if name in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True, timeout=120)
    assert done.stdout.strip() == "[]"


def test_the_map_from_an_answer_to_its_reason_is_true() -> None:
    """Each row names at most three files, every one there, with the names that it is said to hold."""
    rows = reasons()
    for _, steps in rows:
        files = [re.fullmatch(r"`([\w/.]+)`(?: \((.+)\))?", step) for step in steps.split("; ")]
        assert len(files) <= 3, "with the map itself a reader opens four"
        for file in files:
            assert file is not None
            source = (ROOT / "service" / "airbough_service" / file[1]).read_text(encoding="utf-8")
            for name in re.findall(r"`(\w+)`", file[2] or ""):
                assert re.search(rf"\b(?:def|class) {name}\b", source), (file[1], name)


def test_every_question_has_a_row_in_the_map() -> None:
    """Whoever adds a question tells in DEVELOPERS.md where its reasons stand."""
    told = {name for questions, _ in reasons() for name in questions.split(", ")}
    assert {call.name for call in CALLS} - told == set()


def reasons() -> list[tuple[str, str]]:
    """Return the questions and the files of each row of the map from an answer to its reason."""
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    table = text.split("| question | why | open, in this order |")[1].split("\n\n")[0]
    rows = re.findall(r"^\| (.+) \| (.+) \| (.+) \|$", table, re.MULTILINE)
    return [(questions, files) for questions, _, files in rows]

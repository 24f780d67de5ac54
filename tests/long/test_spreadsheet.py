"""LibreOffice recalculates the demonstration workbook against a running service, as an English and a German sheet."""

import importlib.util
import json
import subprocess
from pathlib import Path
from xml.sax.saxutils import escape

import pytest

import airbough
from programs import needed
from serving import Served, free_port

pytestmark = pytest.mark.long
ROOT = Path(__file__).resolve().parents[2]
MISTAKES = 2
VALUE_ERROR = 519  # LibreOffice's own number for #VALUE!
COMMAS = {"en-US": ".", "de-DE": ","}


def generator():
    spec = importlib.util.spec_from_file_location("make_workbook", ROOT / "deploy/spreadsheet/make_workbook.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


MAKE = generator()


def profile(folder, locale, trusted):
    """Make a profile that speaks a language and lets the workbooks of one folder ask; return its address."""
    items = {
        ("org.openoffice.Setup/L10N", "ooSetupSystemLocale"): locale,
        ("org.openoffice.Office.Common/Security/Scripting", "SecureURL"): f"<it>{escape(trusted.as_uri())}</it>",
    }
    text = "".join(
        f'<item oor:path="/{path}"><prop oor:name="{name}" oor:op="fuse"><value>{value}</value></prop></item>'
        for (path, name), value in items.items()
    )
    (folder / "user").mkdir(parents=True)
    (folder / "user/registrymodifications.xcu").write_text(
        '<?xml version="1.0" encoding="UTF-8"?>\n<oor:items xmlns:oor="http://openoffice.org/2001/registry" '
        'xmlns:xs="http://www.w3.org/2001/XMLSchema" xmlns:xsi="http://www.w3.org/2001/XMLSchema-instance">'
        f"{text}</oor:items>\n"
    )
    return folder.as_uri()


def python_with_uno():
    """Return the Python that LibreOffice's bridge belongs to: the distribution's, not the environment's."""
    python = "/usr/bin/python3"
    if subprocess.run([python, "-c", "import uno"], capture_output=True, check=False).returncode:
        pytest.fail("`python3-uno` is missing; on Debian: apt-get install --no-install-recommends python3-uno")
    return python


def recalculated(path, locale, folder):
    """Return the cells of the first sheet after LibreOffice asked for them."""
    office, python, port = needed("soffice"), python_with_uno(), free_port()
    user = profile(folder / f"profile-{locale}", locale, path.parent)
    accept = f"--accept=socket,host=127.0.0.1,port={port};urp;"
    process = subprocess.Popen(
        [office, "--headless", "--norestore", "--nologo", f"-env:UserInstallation={user}", accept],
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    try:
        script = [python, str(Path(__file__).with_name("recalculate.py")), str(port), str(path)]
        told = subprocess.run(script, capture_output=True, text=True, timeout=150, check=False)
        assert told.returncode == 0, told.stderr
        return json.loads(told.stdout)
    finally:
        try:
            process.wait(15)
        except subprocess.TimeoutExpired:
            process.terminate()
            process.wait(15)


@pytest.fixture(scope="module")
def client():
    with Served() as served, airbough.Client(served.address) as opened:
        yield served, opened


@pytest.fixture(scope="module", params=["en-US fods", "de-DE fods", "en-US xlsx", "de-DE xlsx"])
def cells(request, client, tmp_path_factory):
    locale, ending = request.param.split()
    folder = tmp_path_factory.mktemp(f"{locale}-{ending}")
    paths = MAKE.write(client[0].address, folder)
    path = next(path for path in paths if path.suffix == f".{ending}")
    return locale, recalculated(path, locale, folder)


def expected(asking, given):
    """Return what the SDK answers about a row, by the sheet's columns."""
    flow, diameter, length, duct, elbows, dust = given[1:]
    where = {"units": "us", "flow": flow, "diameter": diameter}
    friction = asking.friction_loss(where | {"length": length, "duct": duct})
    elbow = asking.fitting_loss("elbow", where | {"angle": 90, "radius_ratio": 1.5, "count": elbows})
    check = asking.velocity_check(where | {"dust": dust})
    numbers = {
        9: friction.friction_loss,
        10: friction.velocity,
        12: elbow.loss,
        14: check.largest_diameter,
        15: friction.friction_loss + elbow.loss,
    }
    return numbers, str(check.holds).lower()


def test_each_cell_is_the_answer_that_the_sdk_gets(cells, client):
    locale, sheet = cells
    rows = sheet[MAKE.FIRST - 1 :]
    assert len(rows) == len(MAKE.RUNS)
    for given, row in zip(MAKE.RUNS[:-MISTAKES], rows, strict=False):
        numbers, holds = expected(client[1], given)
        for column, number in numbers.items():
            assert row[column]["error"] == 0, (locale, given[0], row)
            assert row[column]["value"] == pytest.approx(number, rel=1e-9, abs=0), (locale, given[0], column)
        assert row[13]["text"] == holds


def test_the_air_of_the_sheet_is_that_of_the_sdk(cells, client):
    air = client[1].air({"units": "us", "altitude": 812.5})
    assert cells[1][2][3]["value"] == pytest.approx(air.air.density, rel=1e-9, abs=0)


def test_the_sheet_really_spoke_its_language(cells):
    locale, sheet = cells
    row = sheet[MAKE.FIRST - 1]
    assert f"flow=350{COMMAS[locale]}5&" in row[7]["text"]
    assert COMMAS[locale] in row[9]["text"]


@pytest.mark.parametrize(("row", "path"), [(-2, "diameter"), (-1, "duct")])
def test_a_mistake_says_what_is_wrong_and_no_number_comes_of_it(cells, row, path):
    told = cells[1][row]
    assert told[8]["text"].startswith(f"#ERR {path}: ")
    for column in (9, 10, 15):
        assert told[column]["error"] == VALUE_ERROR

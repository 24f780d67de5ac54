"""The recipes that post a whole tree from a sheet: their syntax, and what the script sends and reads."""

import json
import subprocess
from pathlib import Path

import pytest

import airbough
from programs import needed
from serving import Served

pytestmark = pytest.mark.long
FOLDER = Path(__file__).parents[2] / "deploy" / "spreadsheet"
SHEET = [
    ["units", "us"], ["dust", "shavings"], ["fan_flow (cfm)", 0, 600, 1200, 2000],
    ["fan_pressure (inH2O)", 11.5, 11, 8.5, 2.0000000000000004], ["open", "planer"], [""],
    ["id", "into", "diameter (in)", "length (ft)", "duct", "join", "angle", "machine", "flow (cfm)", "entry", "gate"],
    ["main", "", 7, 29.999999999999993, "spiral-galvanized", "", "", "", "", "", ""],
    ["saw", "main", 4, 6, "spiral-galvanized", "", 45, "table-saw", 400, "plain-opening", 1],
    ["planer", "main", 6, 8, "spiral-galvanized", "straight", "", "planer", 785, "flanged-opening", 1],
]  # fmt: skip
HARNESS = """
const { execFileSync } = require('child_process');
const [script, address, sheet] = process.argv.slice(2);
global.UrlFetchApp = { fetch: (url, options) => {
  const target = address + url.slice('https://airbough.example'.length);
  const told = execFileSync('curl', ['-s', '-w', '\\n%{http_code}', '-H', 'content-type: ' + options.contentType,
    '--data-binary', options.payload, target]).toString();
  const cut = told.lastIndexOf('\\n');
  return { getResponseCode: () => Number(told.slice(cut + 1)), getContentText: () => told.slice(0, cut) };
} };
global.Utilities = { parseCsv: (text) => text.trim().split(/\\r?\\n/).map((line) => line.split(',')) };
const { AIRBOUGH_TREE } = require(script);
try { console.log(JSON.stringify(AIRBOUGH_TREE(JSON.parse(sheet), 'runs'))); }
catch (error) { console.log(JSON.stringify({ error: error.message })); }
"""


def test_the_script_posts_a_range_and_reads_numbers(tmp_path):
    script, harness = tmp_path / "tree.js", tmp_path / "harness.js"
    script.write_text((FOLDER / "tree.gs").read_text("utf-8"))
    harness.write_text(HARNESS)
    needed("node")

    def ask(address, sheet):
        words = ["node", str(harness), str(script), address, json.dumps(sheet)]
        return json.loads(subprocess.run(words, capture_output=True, text=True, check=True, timeout=60).stdout)

    with Served() as served, airbough.Client(served.address) as client:
        rows = ask(served.address, SHEET)
        headings, *told = rows
        assert [row[0] for row in told] == ["main", "saw", "planer"]
        document = tmp_path / "shop.csv"
        document.write_text("\n".join(",".join(map(str, row)) for row in SHEET))
        alone = client.operating_point(airbough.load(document, airbough.OperatingPointRequest))
        assert told[0][headings.index("flow [ft^3/min]")] == pytest.approx(alone.runs[0].flow, rel=1e-13)
        wrong = [*SHEET[:-1], [*SHEET[-1][:4], "spiral", *SHEET[-1][5:]]]
        assert "runs[2].duct" in ask(served.address, wrong)["error"]


def test_the_query_is_written_in_its_language(tmp_path):
    npm = needed("npm")
    subprocess.run([npm, "install", "--silent", "--prefix", str(tmp_path), "@microsoft/powerquery-parser@0.18.4"],
                   check=True, capture_output=True, timeout=300)  # fmt: skip
    code = """
const PQP = require('@microsoft/powerquery-parser');
const text = require('fs').readFileSync(process.argv[2], 'utf8');
PQP.TaskUtils.tryLexParse(PQP.DefaultSettings, text).then((task) => {
  console.log(PQP.TaskUtils.isParseStageOk(task) ? 'parsed' : String(task.error && task.error.message));
});
"""
    (tmp_path / "parse.js").write_text(code)

    def parsed(text):
        (tmp_path / "text.pq").write_text(text)
        words = ["node", str(tmp_path / "parse.js"), str(tmp_path / "text.pq")]
        return subprocess.run(
            words, capture_output=True, text=True, check=True, timeout=60, cwd=tmp_path
        ).stdout.strip()

    text = (FOLDER / "tree.pq").read_text("utf-8")
    assert parsed(text) == "parsed"
    assert parsed(text.replace("in\n    Numbers", "Numbers")) != "parsed"

"""The guides of the README, each by its own steps in a folder of its own."""

from __future__ import annotations

import csv
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest
from openpyxl import load_workbook

ROOT = Path(__file__).resolve().parents[1]
BLOCK = re.compile(r"^```(sh|python)\n(.*?)^```$", re.DOTALL | re.MULTILINE)


@pytest.fixture
def folder(tmp_path):
    """A folder with what the guides name: the environment, the demonstration, the contract's examples."""
    (tmp_path / ".venv" / "bin").mkdir(parents=True)
    run = "-c 'from airbough.command import run; run()'"
    for name, words in (("airbough", f"{sys.executable} {run}"), ("python", sys.executable)):
        command = tmp_path / ".venv" / "bin" / name
        command.write_text(f'#!/bin/sh\nexec {words} "$@"\n')
        command.chmod(0o755)
    for name in ("deploy", "openapi"):
        (tmp_path / name).symlink_to(ROOT / name)
    return tmp_path


def followed(title: str, folder: Path, few: int | None = None) -> str:
    """Run every block under a heading; return what was printed."""
    text = (ROOT / "README.md").read_text("utf-8")
    chapter = text.split(f"## {title}\n", 1)[1].split("\n## ", 1)[0]
    home = {name: value for name, value in os.environ.items() if not name.startswith("AIRBOUGH_")}
    said = ""
    for kind, block in BLOCK.findall(chapter):
        if few is not None:
            assert "range(1000)" in chapter
            block = block.replace("range(1000)", f"range({few})")
        words = ["sh", "-e", "-c", block] if kind == "sh" else [sys.executable, "-c", block]
        done = subprocess.run(words, capture_output=True, text=True, cwd=folder, env=home, timeout=300, check=False)
        assert done.returncode == 0, done.stdout + done.stderr
        said += done.stdout
    return said


def test_a_quoting_page_is_answered(folder) -> None:
    said = followed("Answer a quoting page", folder)
    assert re.match(r"[0-9.]+ .* items; proof: (exact|gap)\n", said)
    assert re.search(r"^key, for the page: \S+\nline, for the file: my-page [0-9a-f]{64} origins=", said, re.MULTILINE)
    assert (folder / "plan.svg").read_text("utf-8").startswith("<svg")


def test_a_shop_is_laid_out(folder) -> None:
    said = followed("Which way should the duct run", folder)
    assert re.search(r"layout 1: [0-9.]+.*, holds\n", said)
    assert re.search(r"a duct along wall 1: [0-9.]+ more at least", said)
    assert (folder / "layouts" / "plans.svg").read_text("utf-8").startswith("<svg")


def test_a_sheet_is_filled(folder) -> None:
    followed("Fill a sheet", folder)
    names = load_workbook(folder / "shop.xlsx").sheetnames
    assert names[:2] == ["shop", "words"]
    assert {"airbough flows", "airbough findings", "airbough parts", "airbough cuts"} <= set(names)


def test_many_designs_are_checked(folder) -> None:
    followed("Many designs from a terminal", folder, few=30)
    verdicts = list(csv.DictReader((folder / "verdicts.csv").read_text("utf-8").splitlines()))
    assert len(verdicts) == 30
    assert {row["verdict"] for row in verdicts} == {"holds"}
    variants = list(csv.DictReader((folder / "variants.csv").read_text("utf-8").splitlines()))
    assert len(variants) == 4


@pytest.mark.long
def test_a_thousand_designs_are_checked(folder) -> None:
    followed("Many designs from a terminal", folder)
    assert len((folder / "verdicts.csv").read_text("utf-8").splitlines()) == 1001

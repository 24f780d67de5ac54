"""What a release dates and copies; the building itself: tests/long/test_release.py."""

import importlib.util
import json
import re
import shutil
import subprocess
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]


def module(path):
    spec = importlib.util.spec_from_file_location(path.stem, path)
    made = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(made)
    return made


release = module(ROOT / "deploy" / "release.py")
breaking = module(ROOT / "tests" / "contract" / "breaking.py")


@pytest.fixture
def copy(tmp_path):
    """A copy of what a release changes, before it, at version 7.8.9."""
    (tmp_path / "openapi").mkdir()
    shutil.copy(ROOT / "openapi" / "v1.json", tmp_path / "openapi")
    (tmp_path / "CHANGELOG.md").write_text("# Changelog\n\n## 7.8.9 (not released yet)\n\n## 7.8.8 (2020-01-01)\n")
    return tmp_path


def test_a_release_dates_its_own_heading_and_keeps_the_document(copy, monkeypatch):
    release.prepare(copy, "7.8.9", "2026-01-31")
    heads = re.findall("^## .*", (copy / "CHANGELOG.md").read_text(), re.MULTILINE)
    assert heads == ["## 7.8.9 (2026-01-31)", "## 7.8.8 (2020-01-01)"]
    assert (copy / "openapi/released/v1.json").read_bytes() == (copy / "openapi/v1.json").read_bytes()
    monkeypatch.setattr(release, "ROOT", copy)
    assert release.not_ready("7.8.9") == []


def test_from_the_released_document_on_additions_pass_and_removals_do_not(copy):
    release.prepare(copy, "7.8.9", "2026-01-31")
    before = json.loads((copy / "openapi/released/v1.json").read_text())
    after = json.loads((copy / "openapi/v1.json").read_text())
    after["components"]["schemas"]["Run"]["properties"]["more"] = {"type": "string", "x-default": "a"}
    after["paths"]["/v1/more"] = {"get": {"responses": {}}}
    assert breaking.breaking(before, after) == []
    del after["components"]["schemas"]["RunResult"]["properties"]["reynolds"]
    assert breaking.breaking(before, after)


@pytest.mark.parametrize(("version", "day"), [("7.8.9", "tomorrow"), ("7.9.0", "2026-01-31")])
def test_no_day_and_no_heading_for_the_version_change_nothing(copy, version, day):
    before = (copy / "CHANGELOG.md").read_text()
    with pytest.raises(SystemExit):
        release.prepare(copy, version, day)
    assert (copy / "CHANGELOG.md").read_text() == before
    assert not (copy / "openapi/released").exists()


def test_what_is_released_is_not_released_again(copy):
    release.prepare(copy, "7.8.9", "2026-01-31")
    with pytest.raises(SystemExit):
        release.prepare(copy, "7.8.9", "2026-02-01")


@pytest.fixture
def repository(copy, monkeypatch):
    """The copy as a repository of its own, which the command takes for the project's."""
    for kind in ("AUTHOR", "COMMITTER"):
        monkeypatch.setenv(f"GIT_{kind}_NAME", "a")
        monkeypatch.setenv(f"GIT_{kind}_EMAIL", "a@b.invalid")
    for words in ("init --initial-branch master", "add .", "commit --message one"):
        subprocess.run(["git", *words.split()], cwd=copy, check=True, capture_output=True)
    monkeypatch.setattr(release, "ROOT", copy)
    return copy


def told(repository, *words):
    done = subprocess.run(["git", *words], cwd=repository, check=True, capture_output=True, text=True)
    return done.stdout.split("\n")[:-1]


def test_what_is_not_committed_stands_against_a_release(repository, capsys):
    assert release._changed() == []
    (repository / "CHANGELOG.md").write_text("another")
    (line,) = release._changed()
    with pytest.raises(SystemExit) as ended:
        release._refuse([line])
    assert ended.value.code == 1
    assert "against it:  M CHANGELOG.md" in capsys.readouterr().err


@pytest.mark.parametrize("builds", [True, False])
def test_what_cannot_be_built_leaves_no_commit_of_a_release(repository, monkeypatch, builds):
    def build(*_, strict):
        assert strict
        assert release.not_ready("7.8.9") == []
        if not builds:
            release._refuse(["a licence"])

    monkeypatch.setattr("sys.argv", ["release.py", "--dated", "2026-01-31"])
    monkeypatch.setattr(release, "_versions", lambda: {"sdk/pyproject.toml": "7.8.9"})
    monkeypatch.setattr(release, "pinned_licences", lambda _: [])
    monkeypatch.setattr(release, "_build", build)
    if builds:
        release.main()
        assert told(repository, "log", "--format=%s %D") == ["Release 7.8.9 HEAD -> master, tag: v7.8.9", "one "]
    else:
        with pytest.raises(SystemExit):
            release.main()
        assert told(repository, "log", "--format=%s") == ["one"]
        assert told(repository, "tag", "--list") == []
        assert told(repository, "status", "--porcelain") == []


def test_a_rehearsal_has_no_day_and_so_neither_commits_nor_tags(monkeypatch, capsys):
    monkeypatch.setattr("sys.argv", ["release.py", "--rehearse", "--dated", "2026-01-31"])
    monkeypatch.setattr(release, "pinned_licences", lambda _: ["reached"])
    with pytest.raises(SystemExit) as ended:
        release.main()
    assert ended.value.code == 2
    assert "not allowed with" in capsys.readouterr().err

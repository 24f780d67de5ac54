"""`python deploy/release.py`: build what is released, twice, and tell everything that stands against releasing it.

Into `dist`: the two wheels, the JavaScript module, a bill of materials of the service (CycloneDX) and digests. It
builds from a copy of HEAD, so a dirty tree cannot slip in. Needs `deploy/setup release` and npm. Status 1 where
something stands against it; with `--rehearse`, what only a release must have (a dated changelog, the released
document) is told and passes. With `--dated YYYY-MM-DD` the changelog's first heading is dated first, the document
copied to where the check for breaking changes finds it, both committed, and the commit tagged where nothing stands
against it, or else taken back: the one command of a release.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import os
import re
import subprocess
import sys
import tempfile
import tomllib
import venv
from datetime import date
from importlib import metadata
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
PREPARED = ("CHANGELOG.md", "openapi/released/v1.json")
FREE = (
    "MIT",
    "BSD",
    "APACHE",
    "ISC",
    "PSF",
    "PYTHON-2.0",
    "PYTHON SOFTWARE FOUNDATION",
    "MPL-2.0",
    "MOZILLA PUBLIC LICENSE 2.0",
    "UNLICENSE",
    "ZLIB",
    "0BSD",
)
"""Licences whose works may be installed beside this one, and named in any combination."""


def main() -> None:
    """Build, check, write; end with status 1 where something stands against a release."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--into", type=Path, default=ROOT / "dist")
    which = parser.add_mutually_exclusive_group()
    which.add_argument("--rehearse", action="store_true", help="let pass what only a release must have")
    which.add_argument("--dated", metavar="YYYY-MM-DD", help="the day of the release; dates, copies, commits and tags")
    chosen = parser.parse_args()
    version = _versions()["sdk/pyproject.toml"]
    against = unequal_versions(_versions()) + pinned_licences(ROOT / "deploy" / "requirements.txt")
    if not chosen.dated:
        _build(chosen.into, version, against, not chosen.rehearse)
        return
    _refuse([*against, *(f"not committed: {line}" for line in _changed())])
    prepare(ROOT, version, chosen.dated)
    _run(["git", "add", *PREPARED], ROOT)
    _run(["git", "commit", "--message", f"Release {version}", "--", *PREPARED], ROOT)
    try:
        _build(chosen.into, version, against, strict=True)
    except BaseException:
        _run(["git", "reset", "--hard", "HEAD~1"], ROOT)  # nothing else was changed: it was looked at above
        raise
    _run(["git", "tag", "--annotate", f"v{version}", "--message", f"Release {version}"], ROOT)


def _build(into: Path, version: str, against: list[str], strict: bool) -> None:
    """Build twice and write; end with status 1 where something stands against it, a release if strict."""
    first, second = built(), built()
    against += [f"{name}: built twice, not the same bytes" for name in sorted(first) if first[name] != second.get(name)]
    into.mkdir(parents=True, exist_ok=True)
    for name, content in first.items():
        (into / name).write_bytes(content)
    against += metadata_faults([into / name for name in first if name.endswith(".whl")])
    bill = into / f"airbough-service-{version}.cdx.json"
    bill.write_text(bill_of_materials())
    written = [*sorted(first), bill.name]
    digests = "".join(f"{hashlib.sha256((into / name).read_bytes()).hexdigest()}  {name}\n" for name in written)
    (into / "SHA256SUMS").write_text(digests)
    sys.stdout.write(digests)
    unready = not_ready(version)
    for line in () if strict else unready:
        sys.stderr.write(f"a release must have: {line}\n")
    _refuse([*against, *unready] if strict else against)


def _refuse(against: list[str]) -> None:
    """End with status 1 where something stands against a release."""
    for line in against:
        sys.stderr.write(f"against it: {line}\n")
    if against:
        sys.exit(1)


def _changed() -> list[str]:
    """Return what differs from HEAD here, which a release would leave out."""
    return _run(["git", "status", "--porcelain", "--untracked-files=no"], ROOT).decode().splitlines()


def prepare(root: Path, version: str, day: str) -> None:
    """Date the changelog's first heading and make the document that of the release.

    Raises:
        SystemExit: where the day is none, or the changelog begins with another version or with one that is released.
    """
    try:
        date.fromisoformat(day)
    except ValueError:
        sys.exit(f"--dated {day}: no day, such as 2026-01-31")
    changelog, document = (root / name for name in PREPARED)
    text = changelog.read_text("utf-8")
    head = re.search(r"^## .*$", text, re.MULTILINE)
    if head is None or head[0] != f"## {version} (not released yet)":
        sys.exit(f"CHANGELOG.md: its first heading is not `## {version} (not released yet)`")
    changelog.write_text(text[: head.start()] + f"## {version} ({day})" + text[head.end() :], "utf-8")
    document.parent.mkdir(exist_ok=True)
    document.write_bytes((root / "openapi" / "v1.json").read_bytes())


def _versions() -> dict[str, str]:
    """Return the version that each place names."""

    def found(place: str, pattern: str) -> str:
        match = re.search(pattern, (ROOT / place).read_text("utf-8"), re.MULTILINE)
        return match[1] if match else "none"

    places = {
        "sdk/airbough/version.py": r'__version__.*= "([^"]+)"',
        "service/airbough_service/__init__.py": r'__version__.*= "([^"]+)"',
        "sdk/js/package.json": r'"version": "([^"]+)"',
        "deploy/compose.yaml": r"image: airbough:(\S+)",
        "deploy/kubernetes/base/deployment.yaml": r"image: airbough:(\S+)",
        "deploy/kubernetes/example/kustomization.yaml": r"newTag: (\S+)",
    }
    told = {place: found(place, pattern) for place, pattern in places.items()}
    for part in ("sdk", "service"):
        told[f"{part}/pyproject.toml"] = tomllib.loads((ROOT / part / "pyproject.toml").read_text("utf-8"))["project"][
            "version"
        ]
    told["openapi/v1.json"] = json.loads((ROOT / "openapi" / "v1.json").read_text("utf-8"))["info"]["version"]
    asked = found("service/pyproject.toml", r'"airbough==([^"]+)"')
    return told | {"service/pyproject.toml, of the SDK": asked}


def unequal_versions(told: dict[str, str]) -> list[str]:
    """Return what names another version than the SDK does."""
    own = told["sdk/pyproject.toml"]
    return [f"{place} names version {version}, not {own}" for place, version in told.items() if version != own]


def not_ready(version: str) -> list[str]:
    """Return what a release must have and a rehearsal need not."""
    head = re.search(r"^## (\S+) \((.+)\)$", (ROOT / "CHANGELOG.md").read_text("utf-8"), re.MULTILINE)
    wrong = []
    if head is None or head[1] != version or not re.fullmatch(r"\d{4}-\d\d-\d\d", head[2]):
        wrong.append(f"CHANGELOG.md: its first heading is not `## {version} (YYYY-MM-DD)`")
    released = ROOT / "openapi" / "released" / "v1.json"
    if not released.exists() or released.read_bytes() != (ROOT / "openapi" / "v1.json").read_bytes():
        wrong.append("openapi/released/v1.json is not openapi/v1.json: copy it there")
    return wrong


def built() -> dict[str, bytes]:
    """Return the files built from a fresh copy of HEAD, in a fresh environment, by name."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        copy, out, tools = folder / "copy", folder / "out", folder / "tools"
        copy.mkdir()
        out.mkdir()
        archive = _run(["git", "archive", "HEAD"], ROOT)
        subprocess.run(["tar", "-x"], cwd=copy, input=archive, check=True)
        moment = _run(["git", "log", "-1", "--format=%ct"], ROOT).decode().strip()
        venv.create(tools, with_pip=True)
        python = str(tools / "bin" / "python")
        pip = [python, "-m", "pip", "--quiet", "--disable-pip-version-check"]
        _run([*pip, "install", "--require-hashes", "--requirement", "deploy/build-requirements.txt"], copy)
        _run(
            [*pip, "wheel", "--no-deps", "--no-build-isolation", "--wheel-dir", str(out), "./sdk", "./service"],
            copy,
            moment,
        )
        script = copy / "sdk" / "js"
        _run(["npm", "install", "--silent", "--no-audit", "--no-fund", "--no-package-lock"], script)
        _run(["node", "build.mjs"], script)
        _run(["npm", "pack", "--silent", "--pack-destination", str(out)], script, moment)
        return {path.name: path.read_bytes() for path in out.iterdir()}


def _run(words: list[str], folder: Path, moment: str = "") -> bytes:
    environment = os.environ | ({"SOURCE_DATE_EPOCH": moment} if moment else {})
    done = subprocess.run(words, cwd=folder, env=environment, capture_output=True, check=False)
    if done.returncode:
        sys.exit(f"{' '.join(words)}\n{done.stdout.decode()}{done.stderr.decode()}")
    return done.stdout


def pinned(file: Path) -> list[str]:
    """Return the names that a file of requirements pins."""
    return re.findall(r"^([A-Za-z0-9_.-]+)==", file.read_text("utf-8"), re.MULTILINE)


def pinned_licences(file: Path) -> list[str]:
    """Return what stands against the licences of what a file of requirements pins, each read in the pinned version."""
    with tempfile.TemporaryDirectory() as folder:
        pip = [sys.executable, "-m", "pip", "--quiet", "--disable-pip-version-check", "install", "--require-hashes"]
        _run([*pip, "--no-deps", "--target", folder, "--requirement", str(file)], ROOT)
        return licences(pinned(file), [folder])


def licences(names: list[str], folders: list[str]) -> list[str]:
    """Return the packages in folders whose licence is unknown or none of those that let works stand side by side."""
    found = {_plain(one.metadata["Name"]): one.metadata for one in metadata.distributions(path=folders)}
    wrong = []
    for name in names:
        told = found.get(_plain(name))
        if told is None:
            if name not in ("async-timeout",):  # asked for by Python older than 3.11.3 only
                wrong.append(f"{name}: not among what was installed, so its licence is not known")
            continue
        kinds = [kind.rpartition("::")[2] for kind in told.get_all("Classifier") or [] if kind.startswith("License")]
        stated = told.get("License-Expression") or " ".join(kinds) or (told.get("License") or "").partition("\n")[0]
        if not any(free in stated.upper() for free in FREE):
            wrong.append(f"{name}: licence `{stated.strip()[:60]}`")
    return wrong


def _plain(name: str) -> str:
    """Return a distribution's name as indexes compare it."""
    return re.sub(r"[-_.]+", "-", name).lower()


def metadata_faults(wheels: list[Path]) -> list[str]:
    """Return what a package index would refuse of the wheels' descriptions."""
    told = subprocess.run(
        [sys.executable, "-m", "twine", "check", "--strict", *map(str, wheels)],
        capture_output=True,
        text=True,
        check=False,
    )
    return (
        [f"twine: {line}" for line in (told.stdout + told.stderr).splitlines() if line.strip()]
        if told.returncode
        else []
    )


def bill_of_materials() -> str:
    """Return what an installed service consists of, as CycloneDX JSON; the same for the same requirements."""
    file = str(ROOT / "deploy" / "requirements.txt")
    words = ["requirements", file, "--pyproject", str(ROOT / "service" / "pyproject.toml"), "--output-reproducible"]
    return _run([sys.executable, "-m", "cyclonedx_py", *words, "--of", "JSON"], ROOT).decode()


if __name__ == "__main__":
    main()

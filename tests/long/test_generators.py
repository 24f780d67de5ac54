"""Makers of code read the document: what they make of it compiles under TypeScript's strict rules, by their defaults.

openapi-typescript makes types, openapi-generator (its jar comes in a Python package) a client for fetch. Both come
by name from their registries, in the versions given.
"""

import importlib.metadata
import importlib.util
import shutil
import subprocess
from pathlib import Path

import pytest

from programs import needed

pytestmark = pytest.mark.long
HERE = Path(__file__).parent
DOCUMENT = HERE.parents[1] / "openapi" / "v1.json"
PACKAGES = ["openapi-typescript@7.13.0", "typescript@5.9.3"]
STRICT = ["--strict", "--noEmit", "--skipLibCheck", "--target", "es2022", "--lib", "es2022,dom",
          "--module", "esnext", "--moduleResolution", "bundler"]  # fmt: skip


def run(folder, *command):
    """Run a program in a folder; return what it said, or fail with it."""
    done = subprocess.run(command, cwd=folder, capture_output=True, text=True, timeout=600, check=False)
    assert done.returncode == 0, (command, done.stdout[-3000:], done.stderr[-3000:])
    return done.stdout


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    made = tmp_path_factory.mktemp("generators")
    needed("node")
    (made / "package.json").write_text('{"private": true}')
    run(made, needed("npm"), "install", "--silent", "--no-audit", "--no-fund", *PACKAGES)
    shutil.copy(DOCUMENT, made / "v1.json")
    return made


def compiled(folder, *files):
    run(folder, str(folder / "node_modules" / ".bin" / "tsc"), *STRICT, *files)


def test_types_made_by_default_take_the_smallest_real_request(folder):
    run(folder, str(folder / "node_modules" / ".bin" / "openapi-typescript"), "v1.json", "-o", "types.d.ts")
    shutil.copy(HERE / "generators" / "use.ts", folder)
    compiled(folder, "use.ts")


def test_types_made_by_default_refuse_a_wrong_request(folder):
    """What takes the right request must not take any: a misspelt field does not compile."""
    run(folder, str(folder / "node_modules" / ".bin" / "openapi-typescript"), "v1.json", "-o", "types.d.ts")
    text = (HERE / "generators" / "use.ts").read_text("utf-8")
    (folder / "wrong.ts").write_text(text.replace("radius_ratio", "radius_ration"))
    with pytest.raises(AssertionError, match="Did you mean to write"):
        compiled(folder, "wrong.ts")


def test_a_client_made_for_fetch_compiles(folder):
    assert importlib.metadata.version("openapi-generator-cli")
    found = importlib.util.find_spec("openapi_generator_cli")
    jar = Path(found.origin).parent / "openapi-generator.jar"
    run(folder, needed("java"), "-jar", str(jar), "generate", "-g", "typescript-fetch", "-i", "v1.json", "-o", "client")
    compiled(folder, "client/index.ts")

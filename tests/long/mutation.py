"""`python tests/long/mutation.py --count 400 --seed 1 --resume FILE`: which changes of the code does no test notice?

Mutants of shop, solving, judging, core/laws and core/network, drawn at random, each tried in a copy of the repository
against the tests chosen for its folder. Core runs uncompiled. A run that was broken off goes on where it stopped.
"""

import argparse
import collections
import datetime
import hashlib
import json
import os
import random
import re
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from cosmic_ray.ast import ast_nodes, get_ast_from_path
from cosmic_ray.mutating import mutate_code
from cosmic_ray.plugins import get_operator

ROOT = Path(__file__).parents[2]
PACKAGE = "service/airbough_service"
COPIED = ("service", "sdk", "tests", "openapi", "deploy", "pyproject.toml", "README.md")
SECONDS = 60.0
OPERATORS = [
    *(f"core/ReplaceBinaryOperator_{pair}" for pair in ("Add_Sub", "Sub_Add", "Mul_Div", "Div_Mul", "Pow_Mul")),
    *(f"core/ReplaceComparisonOperator_{pair}" for pair in (
        "Eq_NotEq", "NotEq_Eq", "Lt_LtE", "LtE_Lt", "Gt_GtE", "GtE_Gt", "Lt_Gt", "Gt_Lt", "LtE_GtE", "GtE_LtE",
        "Is_IsNot", "IsNot_Is")),
    "core/ReplaceUnaryOperator_USub_UAdd", "core/ReplaceUnaryOperator_Delete_Not", "core/AddNot",
    "core/ReplaceTrueWithFalse", "core/ReplaceFalseWithTrue", "core/ReplaceAndWithOr", "core/ReplaceOrWithAnd",
    "core/ReplaceBreakWithContinue", "core/ReplaceContinueWithBreak", "core/NumberReplacer",
    "core/ZeroIterationForLoop",
]  # fmt: skip

WHOLE = ("tests/handbook/test_examples.py", "tests/solving", "tests/shop", "tests/judging")
SENTENCES = "tests/contract/test_contract_sentences.py"
QUESTIONS = tuple(
    f"tests/questions/test_{name}.py"
    for name in ("gate_states", "gate_states_refusals", "strength", "drawing_tree", "make_up_air", "working_day")
)
TESTS = {
    "core/laws": (
        "tests/handbook/test_values.py", "tests/handbook/test_site_values.py",
        "tests/core/test_crossing_once.py::test_by_hand", *WHOLE,
    ),
    "core/network": (
        "tests/core/test_own_loss.py", "tests/core/test_operating.py", "tests/core/test_leakage.py",
        "tests/core/test_gate_states.py", *WHOLE[:3],
    ),
    "shop": ("tests/shop", *WHOLE, SENTENCES, *QUESTIONS),
    "solving": ("tests/solving", *WHOLE, SENTENCES, *QUESTIONS),
    "judging": ("tests/judging", *WHOLE, SENTENCES, *QUESTIONS),
}  # fmt: skip
"""What is asked first stands first: the run of a mutant ends with the first test that fails."""

MORE = ("tests/combined/test_uncertainty.py", "tests/physics/test_balance.py", "tests/drafting")
LAST = {"shop": MORE, "solving": MORE, "judging": MORE}
"""Asked of what is left; the baseline is timed without them."""

MOST_OWN = 6
"""Files of tests that name a module; one named everywhere has no tests of its own."""


def main():
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=400)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--resume", type=Path, required=True, help="results, a JSON line each; made where it is not")
    parser.add_argument("--survivors", action="store_true", help="try again what survived before")
    chosen = parser.parse_args()
    done: dict[str, dict] = {}
    if chosen.resume.exists():
        done = {one["mutant"]: one for one in map(json.loads, chosen.resume.read_text().splitlines())}
    again = {mutant for mutant, one in done.items() if chosen.survivors and one["verdict"] == "SURVIVED"}
    with tempfile.TemporaryDirectory(prefix="mutation-") as folder:
        copy = copied(Path(folder))
        sample = drawn(copy, chosen.count, chosen.seed)
        asked = [item for item in sample if item["mutant"] not in done or item["mutant"] in again]
        limits = baselines(copy, {folder_of(item["path"]) for item in asked})
        for number, item in enumerate(sample, 1):
            if item in asked:
                done[item["mutant"]] = result = item | tried(copy, item, limits[folder_of(item["path"])])
                with chosen.resume.open("a") as kept:
                    kept.write(json.dumps(result) + "\n")
                print(
                    f"{number}/{len(sample)} {result['verdict']:9} {result['seconds']:5.1f} s  {told(result)}",
                    flush=True,
                )
    summarise([done[item["mutant"]] for item in sample])


def copied(folder):
    """Copy what is needed, so that the work at hand is never mutated."""
    for name in COPIED:
        source = ROOT / name
        if source.is_dir():
            shutil.copytree(source, folder / name, ignore=shutil.ignore_patterns("__pycache__", "*.egg-info"))
        else:
            shutil.copy(source, folder / name)
    return folder


def drawn(copy, count, seed):
    """Return a random sample of all mutants, the same for the same sources and seed."""
    paths = [path for folder in TESTS for path in sorted((copy / PACKAGE / folder).glob("*.py")) if path.stat().st_size]
    items = []
    for path in paths:
        nodes = list(ast_nodes(get_ast_from_path(path)))
        text = path.read_text().splitlines()
        digest = hashlib.sha256(path.read_bytes()).hexdigest()[:8]  # a module that changed is tried anew
        name = str(path.relative_to(copy))
        for operator in OPERATORS:
            made = get_operator(operator)()
            places = [start for node in nodes for start, _ in made.mutation_positions(node)]
            for occurrence, (line, column) in enumerate(places):
                if text[line - 1].startswith("@dataclass"):  # frozen and slots: no answer tells them
                    continue
                mutant = f"{name} {digest} {operator} {occurrence}"
                place = {"path": name, "line": line, "column": column, "operator": operator}
                items.append({"mutant": mutant, "occurrence": occurrence, **place})
    items.sort(key=lambda item: item["mutant"])
    print(f"{len(items)} mutants of {len(paths)} modules", flush=True)
    return random.Random(seed).sample(items, min(count, len(items)))


def folder_of(path):
    """Return the key of `TESTS` for a module."""
    inside = path.removeprefix(f"{PACKAGE}/")
    return next(folder for folder in TESTS if inside.startswith(f"{folder}/"))


def tests_of(copy, path):
    """Return the tests of a module, those of its own name, or that import it, before all others."""
    stem = Path(path).stem
    names = re.compile(rf"\b{stem} import\b|import .*\b{stem}\b|^    {stem},$", re.MULTILINE)
    tests = [test for test in sorted((copy / "tests").rglob("test_*.py")) if "/long/" not in str(test)]
    own = [test for test in tests if test.stem.startswith(f"test_{stem.rstrip('s')}")]
    if "/core/" not in path:  # uncompiled, what imports a module of core may take minutes
        own += [test for test in tests if names.search(test.read_text())]
    own = [str(test.relative_to(copy)) for test in own]
    return list(dict.fromkeys([*own[:MOST_OWN], *TESTS[folder_of(path)], *LAST.get(folder_of(path), ())]))


def run(copy, tests, uncompiled, limit):
    """Return whether the tests pass (None: out of time), and the seconds taken."""
    paths = os.pathsep.join(str(copy / name) for name in ("sdk", "service"))
    cache = {"NUMBA_DISABLE_JIT": "1"} if uncompiled else {}
    command = [sys.executable, "-m", "pytest", "-q", "-x", "-p", "no:cacheprovider", "-p", "no:xdist", *tests]
    if uncompiled:  # numpy warns of what machine code does silently
        command += ["-W", "ignore::RuntimeWarning"]
    start = time.monotonic()
    process = subprocess.Popen(
        command, cwd=copy, env=os.environ | {"PYTHONPATH": paths, "PYTHONDONTWRITEBYTECODE": "1"} | cache,
        stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, start_new_session=True,
    )  # fmt: skip
    try:
        said, _ = process.communicate(timeout=limit)
    except subprocess.TimeoutExpired:
        os.killpg(process.pid, 9)
        process.communicate()
        return None, limit, ""
    except BaseException:  # broken off by hand: leave nothing behind
        os.killpg(process.pid, 9)
        raise
    return process.returncode == 0, time.monotonic() - start, said


def baselines(copy, folders):
    """Return the seconds that a mutant gets, by folder; stop where the tests do not pass without any mutant.

    A busy machine must not kill: three times the tests' own time, where that is more than the limit.
    """
    limits = {}
    for folder in sorted(folders):
        passed, seconds, said = run(copy, TESTS[folder], folder.startswith("core/"), 10 * SECONDS)
        print(f"baseline of {folder}: {'passes' if passed else 'FAILS'} in {seconds:.0f} s", flush=True)
        if not passed:
            sys.exit(said[-3000:])
        limits[folder] = max(SECONDS, 3.0 * seconds)
    return limits


def tried(copy, item, limit):
    """Return verdict and seconds of one mutant; the module is put back."""
    path = copy / item["path"]
    original = path.read_text()
    mutated = mutate_code(original, get_operator(item["operator"])(), item["occurrence"])
    if mutated is None or mutated == original:
        return {"verdict": "no-change", "seconds": 0.0, "change": ""}
    before, after = original.splitlines(), mutated.splitlines()
    change = next((f"{a.strip()}  ->  {b.strip()}" for a, b in zip(before, after, strict=False) if a != b), "")
    try:
        path.write_text(mutated)
        tests = tests_of(copy, item["path"])
        passed, seconds, _ = run(copy, tests, item["path"].startswith(f"{PACKAGE}/core/"), limit)
    finally:
        path.write_text(original)
    return {
        "verdict": {True: "SURVIVED", False: "killed", None: "timeout"}[passed],
        "seconds": seconds,
        "change": change,
    }


def told(result):
    return f"{result['path'].removeprefix(PACKAGE + '/')}:{result['line']}  {result['change']}"


def summarise(results):
    counts = collections.Counter(result["verdict"] for result in results)
    judged = sum(counts.values()) - counts["no-change"]
    dead = counts["killed"] + counts["timeout"]
    print(f"{datetime.date.today()}: {dead} of {judged} killed ({100.0 * dead / max(judged, 1):.0f} %), "
          f"{counts['timeout']} of them by the limit of time")  # fmt: skip
    for result in results:
        if result["verdict"] == "SURVIVED":
            print(f"survived: {told(result)}")


if __name__ == "__main__":
    main()

"""`python tests/long/mutation.py --count 400 --seed 1 --work FOLDER`: which changes of the code does no test notice?

Mutants of shop, solving, judging, core/laws and core/network, drawn at random, each tried in a copy of the repository
against the tests that reach its line, in a fork of a process that has imported what does not change. Core runs
uncompiled. FOLDER keeps the copy, which test reaches which line, and the results; given again, it goes on.
"""

import argparse
import ast
import collections
import datetime
import hashlib
import json
import pickle
import random
import re
import shutil
import sys
import time
from pathlib import Path

from cosmic_ray.ast import ast_nodes, get_ast_from_path
from cosmic_ray.mutating import mutate_code
from cosmic_ray.plugins import get_operator

sys.path.insert(0, str(Path(__file__).parent))
import mutation_forked as forked
from mutation_reach import Reach
from mutation_warm import Warm

ROOT = Path(__file__).parents[2]
PACKAGE = "service/airbough_service"
COPIED = (
    "service",
    "sdk",
    "tests",
    "openapi",
    "deploy",
    "pyproject.toml",
    "README.md",
    "DEVELOPERS.md",
    "CHANGELOG.md",
)
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
FOLDERS = (
    "core/laws",
    "core/network",
    "shop",
    "solving",
    "judging",
)  # core first: what lies below it is imported later
SENTENCES = "contract/test_contract_sentences.py"
QUESTIONS = tuple(
    f"questions/test_{name}.py"
    for name in ("diagnosis", "drawing_fan", "drawing_sheet", "drawing_tree", "gate_states", "gate_states_fixes",
                 "gate_states_refusals", "junction_models", "make_up_air", "parts_list", "stock",
                 "strength", "working_day")
)  # fmt: skip
ASKED = {
    "core": ("core", "physics", "handbook", "shop", "solving", "judging",
             "combined/test_uncertainty.py", "combined/test_variants.py", "questions/test_gate_states.py",
             "questions/test_strength.py"),
    "above": ("shop", "solving", "judging", "drafting", "physics", "handbook/test_examples.py",
              *(f"combined/test_{name}.py" for name in ("advice", "compare", "explain", "resolved", "uncertainty")),
              *QUESTIONS, SENTENCES),
}  # fmt: skip
NOT_ASKED = {
    "test_validation_page",  # compares with the project's own past output
    "test_uncompiled", "test_warm", "test_compiled_sources", "test_deadline",  # start processes, or do not tell answers
    "test_compiling", "test_placing", "test_placing_witness",  # nor of choosing, which is not mutated
    "test_cutting", "test_laying", "test_searching", "test_sizing", "test_random_trees",  # minutes, uncompiled
}  # fmt: skip
SECONDS = 20.0
BUDGET = 15.0
"""Seconds of tests, as they took while watched, that a mutant is asked; the quickest are taken."""


def main():
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=400)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--work", type=Path, required=True, help="folder that is kept; made where it is not")
    parser.add_argument("--survivors", action="store_true", help="try again what survived before")
    parser.add_argument("--tests-alone", action="store_true", help="take new tests into the copy, not what they test")
    parser.add_argument("--only", default="", help="try only mutants whose `path:line` this regular expression finds")
    chosen = parser.parse_args()
    chosen.work.mkdir(parents=True, exist_ok=True)
    copy = copied(chosen.work.resolve() / "copy", ("tests",) if chosen.tests_alone else COPIED)
    results = chosen.work / "results.jsonl"
    done = {}
    if results.exists():
        done = {one["mutant"]: one for one in map(json.loads, results.read_text().splitlines())}
    sample = drawn(copy, chosen.count, chosen.seed)
    asked = [
        item for item in sample
        if re.search(chosen.only, f"{item['path']}:{item['line']}")
        and (item["mutant"] not in done or (chosen.survivors and done[item["mutant"]]["verdict"] == "SURVIVED"))
    ]  # fmt: skip
    forked.prepare(copy)
    reach, below, warm = None, None, None
    for number, item in enumerate(asked, 1):
        core = "/core/" in item["path"]
        if core != below:  # what was imported below stays imported, so core is tried first
            if not core:
                forked.import_below()
            reach, below = reached(copy, chosen.work, core), core
            if warm is not None:
                warm.close()
            warm = Warm(copy, sorted(name for name, of in reach.items() if of["tests"]), core)
        done[item["mutant"]] = result = item | tried(copy, item, reach, core, warm)
        with results.open("a") as kept:
            kept.write(json.dumps(result) + "\n")
        print(f"{number}/{len(asked)} {result['verdict']:9} {result['seconds']:5.1f} s  {told(result)}", flush=True)
    summarise([done[item["mutant"]] for item in sample if item["mutant"] in done], len(sample))


def copied(folder, names):
    """Copy what is needed and changed, so that the work at hand is never mutated."""
    for name in names:
        source = ROOT / name
        every = [path for path in source.rglob("*") if path.is_file()] if source.is_dir() else [source]
        kept = {folder / path.relative_to(ROOT) for path in every if "__pycache__" not in path.parts}
        for old in (folder / name).rglob("*") if source.is_dir() else ():
            if old.is_file() and "__pycache__" not in old.parts and old not in kept:
                old.unlink()
        for path in kept:
            origin = ROOT / path.relative_to(folder)
            if not path.exists() or path.read_bytes() != origin.read_bytes():
                path.parent.mkdir(parents=True, exist_ok=True)
                shutil.copy2(origin, path)
    return folder


def drawn(copy, count, seed):
    """Return a random sample of all mutants, by folder; a module that changes moves only its own mutants."""
    paths = [
        path for folder in FOLDERS for path in sorted((copy / PACKAGE / folder).glob("*.py")) if path.stat().st_size
    ]
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
                rank = hashlib.sha256(f"{seed} {name} {operator} {occurrence}".encode()).hexdigest()
                mutant = f"{name} {digest} {operator} {occurrence}"
                place = {"path": name, "line": line, "column": column, "operator": operator}
                items.append({"mutant": mutant, "occurrence": occurrence, **place, "rank": rank})
    print(f"{len(items)} mutants of {len(paths)} modules", flush=True)
    items = sorted(items, key=lambda item: item.pop("rank"))[:count]
    random.Random(seed).shuffle(items)
    return sorted(items, key=lambda item: "/core/" not in item["path"])


def reached(copy, work, core):
    """Return the seconds of each test and the lines that it reaches; only files that changed are watched anew."""
    side, folders = ("core", FOLDERS[:2]) if core else ("above", FOLDERS[2:])
    modules = [str(path.relative_to(copy)) for one in folders for path in sorted((copy / PACKAGE / one).glob("*.py"))]
    kept = work / f"reach-{side}.pickle"
    then, known = pickle.loads(kept.read_bytes()) if kept.exists() else ({}, {})
    now = {name: digest_of([copy / name]) for name in modules}
    blurred(known, {name for name in then if now.get(name) != then[name]})
    places = [copy / "tests" / name for name in ASKED[side]]
    found = [path for place in places for path in ([place] if place.is_file() else sorted(place.rglob("test_*.py")))]
    files = [path for path in found if not (path.stem in NOT_ASKED and (core or path.parent.name != "questions"))]
    digests = {str(path.relative_to(copy)): digest_of([path]) for path in files}
    stale = [name for name, digest in digests.items() if known.get(name, {}).get("digest") != digest]
    if stale:
        start = time.monotonic()
        flags = [flag for flag in forked.FLAGS if flag != "-x"] + ["--continue-on-collection-errors"]
        status, answer, said = forked.run(copy, stale, lambda: Reach(copy, modules), core, 3600.0, flags)
        if answer is None:
            sys.exit(f"watching ended with {status}: {said[-3000:]}")
        seconds, lines = answer
        missed = [name for name in stale if not any(test.startswith(f"{name}::") for test in seconds)]
        print(f"nothing seen of {missed}" if missed else "every file seen", flush=True)
        for name in stale:
            tests = {test: one for test, one in seconds.items() if test.split("::")[0] == name}
            contexts = {f"test {test}" for test in tests} | {f"setup {name}"}
            known[name] = {"digest": digests[name], "tests": tests,
                           "lines": {one: lines[one] for one in contexts if one in lines}}  # fmt: skip
        known = {name: known[name] for name in digests}
        kept.write_bytes(pickle.dumps((now, known)))
        print(f"{sum(len(one['tests']) for one in known.values())} tests watched, {len(stale)} files anew, "
              f"{time.monotonic() - start:.0f} s; last words: {said.splitlines()[-1:]}", flush=True)  # fmt: skip
    return known


def blurred(known, changed):
    """Take every line of a module that changed since for reached by what reached one; without the file all is exact."""
    for of in known.values():
        for lines in of["lines"].values():
            lines.update(dict.fromkeys(changed.intersection(lines), -1))


def digest_of(paths):
    """Return one digest of the contents of files."""
    together = hashlib.sha256()
    for path in sorted(paths):
        together.update(path.read_bytes())
    return together.hexdigest()[:12]


def chosen_tests(copy, item, reach):
    """Return the tests of a mutant in their order: of its module's name first, then the quickest, within the budget."""
    statement, inside = statement_of((copy / item["path"]).read_text(), item["line"])
    stem = Path(item["path"]).stem.rstrip("s")
    if inside:
        found = reaching(reach, {item["path"]: statement})
    else:  # what is computed while importing: whoever runs a function of the module, or of one that imports it
        places = [item["path"], *importers(copy, item["path"])]
        found = reaching(reach, {place: lines_of_functions((copy / place).read_text()) for place in places})
    budget, tests = BUDGET, []
    for seconds, test in sorted(
        (seconds if f"test_{stem}" not in test else seconds / 10.0, test) for test, seconds in found.items()
    ):
        if seconds < budget:
            budget -= found[test]
            tests.append(test)
    files = collections.defaultdict(float)  # together by files, whose fixtures are made once
    for test in tests:
        files[test.split("::")[0]] += found[test]
    return sorted(tests, key=lambda test: (files[test.split("::")[0]], test.split("::")[0], found[test])), sum(
        map(found.get, tests)
    )


def reaching(reach, wanted):
    """Return the tests, with their seconds, that reach a line of the modules."""
    found = {}
    for name, of in reach.items():
        shared = of["lines"].get(f"setup {name}", {})
        for test, seconds in of["tests"].items():
            own = of["lines"].get(f"test {test}", {})
            if any((own.get(module, 0) | shared.get(module, 0)) & lines for module, lines in wanted.items()):
                found[test] = seconds
    return found


def statement_of(text, line):
    """Return the lines of the smallest statement around a line, as bits, and whether it runs inside a function."""
    best, inside = None, False

    def walk(node, function):
        nonlocal best, inside
        for child in ast.iter_child_nodes(node):
            if isinstance(child, ast.stmt) and child.lineno <= line <= child.end_lineno:
                body = getattr(child, "body", None)
                last = child.end_lineno if not body else max(child.lineno, body[0].lineno - 1)
                best, inside = (child.lineno, last if line <= last else line), function
                walk(child, function or isinstance(child, ast.FunctionDef))
            elif isinstance(child, (ast.ExceptHandler, ast.match_case)):
                walk(child, function)

    walk(ast.parse(text), False)
    first, last = best or (line, line)
    return sum(1 << one for one in range(first, last + 1)), inside


def lines_of_functions(text):
    """Return the lines of the bodies of all functions, as bits."""
    found = 0
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.FunctionDef):
            found |= (1 << node.end_lineno + 1) - (1 << node.body[0].lineno)
    return found


def importers(copy, path):
    """Return the modules that import one."""
    stem = Path(path).stem
    names = re.compile(rf"\b{stem} import\b|import .*\b{stem}\b|^    {stem},$", re.MULTILINE)
    every = sorted((copy / PACKAGE).rglob("*.py"))
    return [str(one.relative_to(copy)) for one in every if names.search(one.read_text())]


def tried(copy, item, reach, core, warm):
    """Return verdict and seconds of one mutant; the module is put back."""
    path = copy / item["path"]
    original = path.read_text()
    stamp = path.stat()
    mutated = mutate_code(original, get_operator(item["operator"])(), item["occurrence"])
    if mutated is None or mutated == original or not compiles(mutated):
        return {"verdict": "no-change", "seconds": 0.0, "change": "", "tests": 0}
    before, after = original.splitlines(), mutated.splitlines()
    change = next((f"{a.strip()}  ->  {b.strip()}" for a, b in zip(before, after, strict=False) if a != b), "")
    tests, seconds = chosen_tests(copy, item, reach)
    result = {"change": change, "tests": len(tests), "killed_by": ""}
    if not tests:
        return result | {"verdict": "SURVIVED", "seconds": 0.0}
    start, limit = time.monotonic(), max(SECONDS, 4.0 * seconds)
    answer = warm.ask(str(path), original, mutated, tests, limit)
    if answer is not None:
        return result | verdict_of(item, *answer) | {"seconds": time.monotonic() - start}
    try:
        path.write_text(mutated)
        files = list(dict.fromkeys(test.split("::")[0] for test in tests))
        status, failed, said = forked.run(copy, files, lambda: forked.Chosen(tests), core, limit)
    finally:
        path.write_text(original)
        forked.os.utime(path, ns=(stamp.st_atime_ns, stamp.st_mtime_ns))
    return result | verdict_of(item, status, failed, said) | {"seconds": time.monotonic() - start}


def compiles(text):
    """Return whether a text is a program: some operators make none of `**` before a mapping."""
    try:
        ast.parse(text)
    except SyntaxError:
        return False
    return True


def verdict_of(item, status, failed, said=""):
    """Return what the end of the tests means."""
    if status == 99 or status == 5:
        sys.exit(f"{item['mutant']} ended with {status}: {said[-3000:]}")
    verdict = {0: "SURVIVED", None: "timeout"}.get(status, "killed")
    return {"verdict": verdict, "killed_by": failed or ""}


def told(result):
    return (
        f"{result['path'].removeprefix(PACKAGE + '/')}:{result['line']}  {result['change']}  ({result['tests']} tests)"
    )


def summarise(results, count):
    counts = collections.Counter(result["verdict"] for result in results)
    judged = sum(counts.values()) - counts["no-change"]
    dead = counts["killed"] + counts["timeout"]
    print(f"{datetime.date.today()}: {len(results)} of {count} tried, {dead} of {judged} killed "
          f"({100.0 * dead / max(judged, 1):.0f} %), {counts['timeout']} of them by the limit of time")  # fmt: skip
    for result in results:
        if result["verdict"] == "SURVIVED":
            print(f"survived: {told(result)}")


if __name__ == "__main__":
    main()

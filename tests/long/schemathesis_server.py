"""The published document against a real server process: `python tests/long/schemathesis_server.py --minutes 10`.

All of the generator's checks, in all its phases. First what follows the document's links, for a third of the time: a
body that a link names is sent as it is. A phase without a case is a failure. Two checks are replaced by the ones of
tests/contract/test_schema.py, which say why beside them. Last figures: README.md here.
"""

import argparse
import collections
import os
import subprocess
import sys
import tempfile
from pathlib import Path

TESTS = Path(__file__).resolve().parents[1]
sys.path[:0] = [str(TESTS), str(TESTS / "contract"), str(Path(__file__).parent)]

if os.environ.get("SCHEMATHESIS_HOOKS") == Path(__file__).stem:
    # Loaded by the generator: its checks, and how to write and read NDJSON, come with the suite's own module.
    import schemathesis
    import test_schema
    from schemathesis.specs.openapi.checks import negative_data_rejection

    schemathesis.check(test_schema.accepts_what_the_schema_allows)
    schemathesis.check(test_schema.refuses_in_a_cell)

    @schemathesis.hook
    def before_load_schema(ctx, raw_schema):
        raw_schema.update(test_schema.tightened(raw_schema))
        for operations in raw_schema["paths"].values():
            for operation in operations.values():
                for link in operation["responses"]["200"].get("links", {}).values():
                    link["x-schemathesis"] = {"merge_body": False}
                content = operation.get("requestBody", {}).get("content", {})
                if os.environ["SCHEMATHESIS_PHASES"] == "stateful" and "application/json" in content:
                    # The generator gives a body that a link names no media type where there are several.
                    operation["requestBody"]["content"] = {"application/json": content["application/json"]}

    @schemathesis.hook
    def after_call(ctx, case, response):
        with open(os.environ["SCHEMATHESIS_COUNTS"], "a") as counts:
            phase = "unknown" if case.meta is None else case.meta.phase.name.value
            counts.write(f"{phase}\t{case.operation.label}\t{response.status_code}\n")

    @schemathesis.check
    def refuses_what_the_schema_forbids(ctx, response, case):
        if test_schema.answers_all(case):
            return None
        return negative_data_rejection(ctx, response, case)


PHASES = {"stateful": 1 / 3, "examples,coverage,fuzzing": 2 / 3}
"""Phases of one run, and its share of the time."""


def main():
    from serving import Served

    parser = argparse.ArgumentParser()
    parser.add_argument("--minutes", type=float, default=10.0)
    parser.add_argument("--examples", type=int, default=200, help="most cases for each operation in a round")
    parser.add_argument("--seed", type=int, default=1)
    chosen = parser.parse_args()
    with Served(runs_limit=10_000) as served, tempfile.NamedTemporaryFile("r", prefix="phases-") as counts:
        before = served.memory()
        codes = [run(served, counts.name, chosen, phases, share) for phases, share in PHASES.items()]
        print(f"the server's memory: {before:.0f} MiB before, {served.memory():.0f} MiB after")
        seen = told(counts)
    missing = {phase for phases in PHASES for phase in phases.split(",")} - seen
    if missing:
        print(f"phases without a case: {', '.join(sorted(missing))}")
    return 1 if any(codes) or missing else 0


def run(served, counts, chosen, phases, share):
    """Run some phases; return the generator's status."""
    environment = os.environ | {
        "SCHEMATHESIS_HOOKS": Path(__file__).stem,
        "SCHEMATHESIS_COUNTS": counts,
        "SCHEMATHESIS_PHASES": phases,
        "PYTHONPATH": os.pathsep.join(sys.path[:3]),
    }
    seconds = 60 * chosen.minutes * share
    command = [
        sys.executable, "-m", "schemathesis.cli", "run", f"{served.address}/openapi.json",
        "--checks", "all", "--exclude-checks", "positive_data_acceptance,negative_data_rejection",
        "--phases", phases, "--max-response-time", "10",
        "--max-examples", str(chosen.examples), "--seed", str(chosen.seed), "--continue-on-failure",
        "--request-timeout", "30", "--suppress-health-check", "all", "--max-time", f"{seconds:.0f}",
    ]  # fmt: skip
    if phases == "stateful":  # a link writes over what was made wrong
        command += ["--mode", "positive"]
    running = subprocess.Popen(command, env=environment)
    try:
        return running.wait(seconds + 180)
    except subprocess.TimeoutExpired:
        running.terminate()
        running.wait(20)
        print("not done in time")
        return 1


def told(counts):
    """Print how many cases each phase had, and what those that may follow links were told; return the phases seen."""
    cases = [line.rstrip("\n").split("\t") for line in counts]
    for phase, count in collections.Counter(case[0] for case in cases).items():
        print(f"{phase}: {count} cases")
    followed = collections.Counter(tuple(case[1:]) for case in cases if case[0] == "stateful")
    for (operation, status), count in sorted(followed.items()):
        print(f"stateful, {operation}: {status} {count} times")
    return {case[0] for case in cases}


if __name__ == "__main__":
    sys.exit(main())

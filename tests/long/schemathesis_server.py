"""The published document against a real server process: `python tests/long/schemathesis_server.py --minutes 10`.

All of the generator's checks, in its phases examples, coverage, fuzzing and stateful (the last says that it does not
apply: the document has no links, since nothing is kept). Two checks are replaced by the ones of
tests/contract/test_schema.py, which say why beside them. Last figures: README.md here.
"""

import argparse
import os
import subprocess
import sys
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

    @schemathesis.check
    def refuses_what_the_schema_forbids(ctx, response, case):
        if test_schema.answers_all(case):
            return None
        return negative_data_rejection(ctx, response, case)


def main():
    from serving import Served

    parser = argparse.ArgumentParser()
    parser.add_argument("--minutes", type=float, default=10.0)
    parser.add_argument("--examples", type=int, default=200, help="most cases for each operation in a round")
    parser.add_argument("--seed", type=int, default=1)
    chosen = parser.parse_args()
    environment = os.environ | {
        "SCHEMATHESIS_HOOKS": Path(__file__).stem,
        "PYTHONPATH": os.pathsep.join(sys.path[:3]),
    }
    with Served(runs_limit=10_000) as served:
        before = served.memory()
        command = [
            sys.executable, "-m", "schemathesis.cli", "run", f"{served.address}/openapi.json",
            "--checks", "all", "--exclude-checks", "positive_data_acceptance,negative_data_rejection",
            "--phases", "examples,coverage,fuzzing,stateful", "--max-response-time", "10",
            "--max-examples", str(chosen.examples), "--seed", str(chosen.seed), "--continue-on-failure",
            "--request-timeout", "30", "--suppress-health-check", "all", "--max-time", f"{60 * chosen.minutes:.0f}",
        ]  # fmt: skip
        run = subprocess.Popen(command, env=environment)
        try:
            code = run.wait(chosen.minutes * 60 + 180)
        except subprocess.TimeoutExpired:
            run.terminate()
            run.wait(20)
            print("not done in time")
            code = 1
        print(f"the server's memory: {before:.0f} MiB before, {served.memory():.0f} MiB after")
    return code


if __name__ == "__main__":
    sys.exit(main())

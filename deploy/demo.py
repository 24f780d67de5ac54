"""The demonstration: a real server process on loopback, an invented shop asked through the SDK, a report and drawings.

    python deploy/demo.py [--port N] [--into FOLDER] [--stay]

With a person at the terminal the service goes on until Ctrl-C; otherwise it stops once the report is written,
unless --stay is given.
"""

from __future__ import annotations

import argparse
import json
import subprocess
import sys
from pathlib import Path
from typing import Any

from demo_questions import asked, bad_shop, beside

from airbough import Client, report

HERE = Path(__file__).resolve().parent


def start(port: int) -> tuple[subprocess.Popen[str], str]:
    """Start the service and return its process and its address once it says that it is ready."""
    command = [sys.executable, "-m", "airbough_service", "--host", "127.0.0.1", "--port", str(port)]
    process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True)
    assert process.stdout is not None
    line = process.stdout.readline()
    if "ready on" not in line:
        process.kill()
        raise SystemExit("the service did not start; is the port taken?")
    return process, line.split("ready on ", 1)[1].split()[0]


def answer(client: Client, into: Path) -> None:
    """Ask the service about the invented shop and one that settles; print the report, write what belongs in files."""
    document: dict[str, Any] = json.loads((HERE / "shop.json").read_text(encoding="utf-8"))
    bad: dict[str, Any] = json.loads((HERE / "bad-shop.json").read_text(encoding="utf-8"))
    into.mkdir(parents=True, exist_ok=True)
    answers = asked(client, document)
    drawings = {of: answers[of] for of in ("plan", "side", "pairs", "tree", "fan")}
    whole = report.whole(*answers.values())
    text = report.text(whole)
    print(text)
    written = {
        "report.txt": text,
        "report.md": report.markdown(whole),
        "report.html": report.html(whole),
        "bad-shop.html": report.html(report.whole(*bad_shop(client, document, bad))),
        "pairs.csv": report.pairs_csv(answers["states"]),
        "cut-list.csv": answers["parts"].csv or "",
        "hand-sheet.txt": report.explanation(beside(client, document), "planer"),
        **{f"{of}.svg": drawn.svg for of, drawn in drawings.items()},
    }
    for name, words in written.items():
        (into / name).write_text(words, encoding="utf-8", newline="")


def main() -> None:
    """Run the demonstration."""
    parser = argparse.ArgumentParser(description="Start Airbough and let it answer an invented shop.")
    parser.add_argument("--port", type=int, default=8000, help="0 chooses a free one")
    parser.add_argument("--into", type=Path, default=HERE.parent / "demo-output", help="folder for what is written")
    parser.add_argument("--stay", action="store_true", help="keep the service running without a terminal")
    arguments = parser.parse_args()
    process, address = start(arguments.port)
    try:
        with Client(address) as client:
            answer(client, arguments.into)
        print(f"Written to {arguments.into}; report.html opens in any browser. The service answers at {address} "
              f"(docs at {address}/docs).")  # fmt: skip
        if arguments.stay or sys.stdin.isatty():
            print("Ctrl-C stops it.")
            process.wait()
    except KeyboardInterrupt:
        pass
    finally:
        process.terminate()
        process.wait(timeout=20)


if __name__ == "__main__":
    main()
